//! The units of `uom` as a list in text, `uom.tsv`, which is written from `uom`'s own tables; a test holds the two together.
//! The tables themselves would take a third of a published page's module, and a third of the time to build this crate.

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
        let kind = Kind::ALL.iter().copied().find(|known| known.name() == kind).unwrap_or(Kind::Plain);
        let dimension = Dimension::of_quantity(description, whole);
        table.names.push((QuantityType { dimension, kind }, description));
    }
    for fields in parts.next().into_iter().flatten() {
        let &[prefix, factor] = fields.as_slice() else { continue };
        table.prefixes.push((prefix.to_owned(), number(factor)));
    }
    for fields in parts.next().into_iter().flatten() {
        let &[symbol, factor, offset, quantity] = fields.as_slice() else { continue };
        let Some(&(quantity, _)) = quantity.parse().ok().and_then(|at: usize| table.names.get(at)) else { continue };
        if let Some(plain) = symbol.strip_prefix(FAMILY) {
            family(table, plain, factor, offset, quantity);
            continue;
        }
        let (factor, offset) = (number(factor), if offset.is_empty() { 0.0 } else { number(offset) });
        table.insert(Unit { symbol: symbol.to_owned(), factor, offset, quantity });
    }
    for fields in parts.next().into_iter().flatten() {
        let &[one, several, symbol] = fields.as_slice() else { continue };
        table.spelt.push((one, several, symbol.to_owned()));
    }
}

/// A unit with all its multiples, in the order of the prefixes; `power` is what a prefix is raised to with the unit.
fn family(table: &mut UnitTable, plain: &str, factor: &str, power: &str, quantity: QuantityType) {
    let (mantissa, exponent) = factor.split_once('e').unwrap_or((factor, "0"));
    let (exponent, power): (i32, i32) = (exponent.parse().unwrap_or(0), power.parse().unwrap_or(1));
    let mut members: Vec<(String, i32)> =
        table.prefixes.iter().map(|(prefix, size)| (prefix.clone(), libm::log10(*size).round() as i32)).collect();
    members.push((String::new(), 0));
    members.sort_by_key(|member| -member.1);
    for (prefix, tens) in members {
        // From its digits, a factor is the nearest number there is; a product would not be.
        let factor = number(&format!("{mantissa}e{}", exponent + power * tens));
        table.insert(Unit { symbol: format!("{prefix}{plain}"), factor, offset: 0.0, quantity });
    }
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or(f64::NAN)
}

/// What stands before a unit that is listed with all its multiples in one line.
const FAMILY: char = '*';

/// Quantities (description, exponents, kind), prefixes (symbol, factor), units (symbol, factor, zero point, quantity; of
/// families the prefixes' power in place of the zero point) and their whole names (one, several, symbol), with an empty
/// line between.
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

    /// The plain unit of a family that stands next, with the prefixes' power and how many units it has.
    fn family_at<'t>(table: &'t UnitTable, order: &'t [String]) -> Option<(&'t str, i32, usize)> {
        let members = order.get(..=table.prefixes.len())?;
        let plain = members.iter().min_by_key(|symbol| symbol.len())?;
        let quantity = table.units[plain].quantity;
        let power = (1..=3).find(|power| {
            let mut read_back = UnitTable::empty();
            read_back.prefixes.clone_from(&table.prefixes);
            let factor = format!("{:e}", table.units[plain].factor);
            family(&mut read_back, plain, &factor, &power.to_string(), quantity);
            read_back.order == members && members.iter().all(|symbol| read_back.units[symbol] == table.units[symbol])
        })?;
        Some((plain, power, members.len()))
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
        let mut order = table.order.as_slice();
        while let Some((symbol, rest)) = order.split_first() {
            let unit = &table.units[symbol];
            let quantity = table.names.iter().position(|(quantity, _)| *quantity == unit.quantity).unwrap();
            if let Some((plain, power, members)) = family_at(table, order) {
                let _ = writeln!(text, "{FAMILY}{plain}\t{:e}\t{power}\t{quantity}", table.units[plain].factor);
                order = &order[members..];
                continue;
            }
            order = rest;
            let offset = if unit.offset == 0.0 { String::new() } else { unit.offset.to_string() };
            let _ = writeln!(text, "{symbol}\t{:e}\t{offset}\t{quantity}", unit.factor);
        }
        text.push('\n');
        for (one, several, symbol) in &table.spelt {
            let _ = writeln!(text, "{one}\t{several}\t{symbol}");
        }
        text
    }
}
