//! Reads a unit as written: `kΩ`, `N·m`, `V/A`, `rev/min`, `m^2`, `Ω·mm²/m`. A unit that stands whole in the table is
//! taken from there, with its kind; any other is a product of powers of those that do.

use super::{
    Dimension, Kind, QuantityType, Unit,
    table::{UnitTable, is_temperature, table},
};

/// The unit a text names; `None` where a part of it is unknown or it does not read as a unit.
pub fn parse(text: &str) -> Option<Unit> {
    parse_with(table(), text)
}

/// The part of a unit's text that the table does not know, for a message: as it was written, and as the table would spell
/// it.
pub fn unknown_part(text: &str) -> Option<(String, String)> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let factors = split(&text)?.into_iter().map(|factor| (spelled(table(), &factor.symbol), factor.symbol));
    let mut unknown = factors.filter(|(spelt, _)| table().get(spelt).is_none());
    unknown.next().map(|(spelt, written)| (written, spelt))
}

pub(super) fn parse_with(table: &UnitTable, text: &str) -> Option<Unit> {
    // Most are written as the table writes them.
    if let Some(unit) = table.units.get(text) {
        return Some(unit.clone());
    }
    let text = spelled(table, text);
    table.get(&text).or_else(|| product(table, &text))
}

/// The unit that a text comes to when its factors are multiplied, though the table may list the whole; `None` where one
/// of them is unknown.
pub(super) fn product(table: &UnitTable, text: &str) -> Option<Unit> {
    let factors = split(text)?;
    let mut product = Unit { symbol: text.to_owned(), factor: 1.0, offset: 0.0, quantity: QuantityType::NUMBER };
    let mut kinds = Vec::new();
    for factor in &factors {
        let unit = if factor.symbol == "1" { Unit::one() } else { table.get(&factor.symbol)? };
        product.factor *= libm::pow(unit.factor, f64::from(factor.exponent));
        let power = unit.quantity.dimension.power(f64::from(factor.exponent))?;
        product.quantity.dimension = product.quantity.dimension.times(power);
        kinds.push((unit, factor.exponent));
    }
    product.quantity.kind = compound_kind(&kinds, product.quantity.dimension);
    Some(product)
}

/// The kind of a compound: an angle in a time is an angular velocity, a force at a length a torque, light on an area an illuminance; a power of one unit
/// alone keeps its kind where the power is one.
fn compound_kind(factors: &[(Unit, i8)], dimension: Dimension) -> Kind {
    const FORCE: Dimension = Dimension::new([1, 1, -2, 0, 0, 0, 0]);
    const LENGTH: Dimension = Dimension::new([1, 0, 0, 0, 0, 0, 0]);
    const ON_AN_AREA: Dimension = Dimension::new([-2, 0, 0, 0, 0, 0, 1]);
    match factors {
        [(unit, 1)] if !is_temperature(unit) => unit.quantity.kind,
        [(angle, 1), (time, -1)]
            if angle.quantity.kind == Kind::Angle && time.quantity.dimension == Dimension::TIME =>
        {
            Kind::AngularVelocity
        }
        [(force, 1), (length, 1)] if force.quantity.dimension == FORCE && length.quantity.dimension == LENGTH => {
            Kind::Torque
        }
        [(light, 1), (_, -2 | -1)] if dimension == ON_AN_AREA && light.quantity.kind == Kind::LuminousFlux => {
            Kind::Illuminance
        }
        [(light, 1), (_, -2 | -1)] if dimension == ON_AN_AREA && light.quantity.kind == Kind::LuminousIntensity => {
            Kind::Luminance
        }
        _ => Kind::of_product(dimension),
    }
}

struct Factor {
    symbol: String,
    exponent: i8,
}

fn split(text: &str) -> Option<Vec<Factor>> {
    let mut factors = Vec::new();
    let mut sign = 1;
    let mut depth_sign = None;
    for piece in pieces(text) {
        match piece {
            Piece::Times => {}
            Piece::Over => sign = -1,
            Piece::Open => depth_sign = Some(sign),
            Piece::Close => {
                depth_sign?;
                depth_sign = None;
                sign = 1;
            }
            Piece::Atom(atom) => {
                let (symbol, exponent) = powered(atom)?;
                factors.push(Factor { symbol: symbol.to_owned(), exponent: exponent.checked_mul(sign)? });
                sign = depth_sign.unwrap_or(1);
            }
        }
    }
    (depth_sign.is_none() && !factors.is_empty()).then_some(factors)
}

enum Piece<'a> {
    Atom(&'a str),
    Times,
    Over,
    Open,
    Close,
}

fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut pieces = Vec::new();
    let mut start = 0;
    for (i, c) in text.char_indices() {
        let piece = match c {
            '·' | '*' => Piece::Times,
            '/' => Piece::Over,
            '(' => Piece::Open,
            ')' => Piece::Close,
            _ => continue,
        };
        if start < i {
            pieces.push(Piece::Atom(&text[start..i]));
        }
        pieces.push(piece);
        start = i + c.len_utf8();
    }
    if start < text.len() {
        pieces.push(Piece::Atom(&text[start..]));
    }
    pieces
}

/// `m^2`, `m²`, `s^-1`, `s⁻¹`: symbol and exponent.
fn powered(atom: &str) -> Option<(&str, i8)> {
    if let Some((symbol, exponent)) = atom.split_once('^') {
        let exponent = exponent.trim_matches(|c| c == '(' || c == ')').replace('−', "-");
        return Some((symbol, exponent.parse().ok()?));
    }
    let raised = atom.find(|c| super::unraise(c).is_some());
    let Some(at) = raised else { return Some((atom, 1)) };
    let (symbol, figures) = atom.split_at(at);
    let plain: String = figures.chars().filter_map(super::unraise).collect();
    Some((symbol, plain.parse().ok()?))
}

/// One spelling for each: `u` (where it starts no unit of its own) and the Greek mu for micro, `ohm` and the ohm sign for Ω, no blanks.
fn spelled(table: &UnitTable, text: &str) -> String {
    let text: String = text
        .chars()
        .filter(|c| !c.is_whitespace())
        .map(|c| match c {
            '\u{03bc}' => 'µ',
            '\u{2126}' => 'Ω',
            '⋅' | '×' => '·',
            c => c,
        })
        .collect();
    let mut out = String::with_capacity(text.len());
    for part in text.split_inclusive(['·', '/', '*', '(', ')']) {
        let (body, end) = match part.char_indices().next_back() {
            Some((at, c)) if "·/*()".contains(c) => part.split_at(at),
            _ => (part, ""),
        };
        let body = body.replace("ohms", "Ω").replace("Ohms", "Ω").replace("ohm", "Ω").replace("Ohm", "Ω");
        match body.strip_prefix('u') {
            Some(rest) if rest.starts_with(char::is_alphabetic) && table.get(&body).is_none() => {
                out.push('µ');
                out.push_str(rest);
            }
            _ => out.push_str(&body),
        }
        out.push_str(end);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So that what the table writes may be looked up as it is.
    #[test]
    fn the_table_spells_as_it_reads() {
        for symbol in table().symbols() {
            assert_eq!(spelled(table(), symbol), symbol);
        }
    }
}
