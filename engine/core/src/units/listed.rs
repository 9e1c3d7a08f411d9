//! The units of `uom` as a list in text. In a published page the tables of `uom` itself would take a third of the module,
//! so there the engine reads `uom.tsv`, which is written from them; a test holds the two together.

use super::{Dimension, Kind, QuantityType, Unit, UnitTable};

/// Reads quantities, units, names and prefixes into an empty table. A line that does not read is left out.
pub(super) fn read(table: &mut UnitTable) {
    let mut parts =
        LIST.split("\n\n").map(|part| part.lines().map(|line| line.split('\t').collect::<Vec<&'static str>>()));
    for fields in parts.next().into_iter().flatten() {
        let &[description, exponents, kind] = fields.as_slice() else { continue };
        let mut whole = [0; 7];
        for (slot, exponent) in whole.iter_mut().zip(exponents.split(' ')) {
            *slot = exponent.parse().unwrap_or(0);
        }
        let kind = KINDS.iter().copied().find(|known| known.name() == kind).unwrap_or(Kind::Plain);
        table.names.push((QuantityType { dimension: Dimension::new(whole), kind }, description));
    }
    for fields in parts.next().into_iter().flatten() {
        let &[prefix, factor] = fields.as_slice() else { continue };
        table.prefixes.push((prefix.to_owned(), number(factor)));
    }
    for fields in parts.next().into_iter().flatten() {
        let &[symbol, factor, offset, quantity] = fields.as_slice() else { continue };
        let Some(&(quantity, _)) = quantity.parse().ok().and_then(|at: usize| table.names.get(at)) else { continue };
        let (factor, offset) = (number(factor), if offset.is_empty() { 0.0 } else { number(offset) });
        table.insert(Unit { symbol: symbol.to_owned(), factor, offset, quantity });
    }
    let mut stem = None;
    for fields in parts.next().into_iter().flatten() {
        match (fields.as_slice(), stem) {
            (&[one, several, symbol], _) => {
                let several = if several.is_empty() { format!("{one}s") } else { several.to_owned() };
                stem = Stem::of(one, symbol);
                table.spelt.push((one.into(), several.into(), symbol.to_owned()));
            }
            (&[prefix], Some(Stem { name, symbol })) => {
                let Some((_, word)) = PREFIXES.iter().find(|(known, _)| *known == prefix) else { continue };
                let one = format!("{word}{name}");
                table.spelt.push((one.clone().into(), format!("{one}s").into(), format!("{prefix}{symbol}")));
            }
            _ => {}
        }
    }
}

/// A unit's name and symbol without their prefixes. Where the names of the same stem follow one another, the list has of
/// all but the first their prefix alone.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stem<'a> {
    name: &'a str,
    symbol: &'a str,
}

impl<'a> Stem<'a> {
    fn of(name: &'a str, symbol: &'a str) -> Option<Self> {
        Self::with_prefix(name, symbol).map(|(_, stem)| stem)
    }

    fn with_prefix(name: &'a str, symbol: &'a str) -> Option<(&'static str, Self)> {
        PREFIXES.iter().find_map(|(prefix, word)| {
            let stem = Self { name: name.strip_prefix(word)?, symbol: symbol.strip_prefix(prefix)? };
            (!stem.name.is_empty()).then_some((*prefix, stem))
        })
    }
}

/// SI prefixes by their symbols and their words (SI brochure, 9th edition, table 7).
const PREFIXES: [(&str, &str); 20] = [
    ("Y", "yotta"),
    ("Z", "zetta"),
    ("E", "exa"),
    ("P", "peta"),
    ("T", "tera"),
    ("G", "giga"),
    ("M", "mega"),
    ("k", "kilo"),
    ("h", "hecto"),
    ("da", "deca"),
    ("d", "deci"),
    ("c", "centi"),
    ("m", "milli"),
    ("µ", "micro"),
    ("n", "nano"),
    ("p", "pico"),
    ("f", "femto"),
    ("a", "atto"),
    ("z", "zepto"),
    ("y", "yocto"),
];

fn number(text: &str) -> f64 {
    text.parse().unwrap_or(f64::NAN)
}

const KINDS: [Kind; 8] = [
    Kind::Plain,
    Kind::Temperature,
    Kind::TemperatureDifference,
    Kind::Torque,
    Kind::Energy,
    Kind::Frequency,
    Kind::AngularVelocity,
    Kind::Angle,
];

/// Quantities (description, exponents, kind), prefixes (symbol, factor), units (symbol, factor, zero point, quantity) and
/// their whole names (one, several where that is not one with an s, symbol), with an empty line between.
const LIST: &str = include_str!("uom.tsv");

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use super::*;
    use crate::units::uom_units;

    /// After a new `uom`, write the list anew: `BENCHLEAF_WRITE=1 cargo test -p benchleaf-core units::listed`.
    #[test]
    fn the_list_is_uoms() {
        let mut table = UnitTable::empty();
        uom_units::read(&mut table);
        let wanted = list(&table);
        if std::env::var_os("BENCHLEAF_WRITE").is_some() {
            std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/src/units/uom.tsv"), &wanted).unwrap();
            return;
        }
        assert!(wanted == LIST, "uom.tsv is not what uom says");
        let mut read_back = UnitTable::empty();
        read(&mut read_back);
        assert_eq!(read_back.order, table.order);
        assert_eq!(read_back.names, table.names);
        assert_eq!(read_back.prefixes, table.prefixes);
        assert_eq!(read_back.units, table.units);
        assert_eq!(read_back.spelt, table.spelt);
    }

    fn list(table: &UnitTable) -> String {
        let mut text = String::new();
        for (quantity, description) in &table.names {
            let exponents = quantity.dimension.base_exponents().map(|exponent| exponent.to_string()).join(" ");
            let _ = writeln!(text, "{description}\t{exponents}\t{}", quantity.kind.name());
        }
        text.push('\n');
        for (prefix, factor) in &table.prefixes {
            let _ = writeln!(text, "{prefix}\t{factor:e}");
        }
        text.push('\n');
        for symbol in &table.order {
            let unit = &table.units[symbol];
            let quantity = table.names.iter().position(|(quantity, _)| *quantity == unit.quantity).unwrap();
            let offset = if unit.offset == 0.0 { String::new() } else { unit.offset.to_string() };
            let _ = writeln!(text, "{symbol}\t{:e}\t{offset}\t{quantity}", unit.factor);
        }
        text.push('\n');
        let mut last = None;
        for (one, several, symbol) in &table.spelt {
            let regular = *several == format!("{one}s");
            match Stem::with_prefix(one, symbol).filter(|(_, stem)| regular && last == Some(*stem)) {
                Some((prefix, _)) => {
                    let _ = writeln!(text, "{prefix}");
                }
                None => {
                    let _ = writeln!(text, "{one}\t{}\t{symbol}", if regular { "" } else { several });
                    last = Stem::of(one, symbol);
                }
            }
        }
        text
    }
}
