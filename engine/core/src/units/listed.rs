//! The units of `uom` as a list in text. In a published page the tables of `uom` itself would take a third of the module,
//! so there the engine reads `uom.tsv`, which is written from them; a test holds the two together.

use super::{Dimension, Kind, QuantityType, Unit, UnitTable};

/// Reads quantities, units and prefixes into an empty table. A line that does not read is left out.
pub(super) fn read(table: &mut UnitTable) {
    for line in LIST.lines() {
        let fields: Vec<&'static str> = line.split('\t').collect();
        match *fields.as_slice() {
            [description, exponents, kind] => {
                let mut whole = [0; 7];
                for (slot, exponent) in whole.iter_mut().zip(exponents.split(' ')) {
                    *slot = exponent.parse().unwrap_or(0);
                }
                let kind = KINDS.iter().copied().find(|known| known.name() == kind).unwrap_or(Kind::Plain);
                table.names.push((QuantityType { dimension: Dimension::new(whole), kind }, description));
            }
            [prefix, factor] => table.prefixes.push((prefix.to_owned(), number(factor))),
            [symbol, factor, offset, quantity] => {
                let Some(&(quantity, _)) = quantity.parse().ok().and_then(|at: usize| table.names.get(at)) else {
                    continue;
                };
                let (factor, offset) = (number(factor), number(offset));
                table.insert(Unit { symbol: symbol.to_owned(), factor, offset, quantity });
            }
            _ => {}
        }
    }
}

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

/// Quantities (description, exponents, kind), prefixes (symbol, factor), units (symbol, factor, zero, quantity).
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
    }

    fn list(table: &UnitTable) -> String {
        let mut text = String::new();
        for (quantity, description) in &table.names {
            let exponents = quantity.dimension.base_exponents().map(|exponent| exponent.to_string()).join(" ");
            let _ = writeln!(text, "{description}\t{exponents}\t{}", quantity.kind.name());
        }
        for (prefix, factor) in &table.prefixes {
            let _ = writeln!(text, "{prefix}\t{factor:e}");
        }
        for symbol in &table.order {
            let unit = &table.units[symbol];
            let quantity = table.names.iter().position(|(quantity, _)| *quantity == unit.quantity).unwrap();
            let _ = writeln!(text, "{symbol}\t{:e}\t{}\t{quantity}", unit.factor, unit.offset);
        }
        text
    }
}
