//! Quantities in words that a reader knows: `a voltage (V)`, `a torque (N·m)`.

use super::{CURRENCIES, DisplayUnit, Kind, QuantityType, ValueType, table};

/// Words of the trade for what `uom` names by the book.
const TRADE_WORDS: &[(&str, &str)] = &[
    ("electric potential", "voltage"),
    ("electric current", "current"),
    ("electrical resistance", "resistance"),
    ("electrical conductance", "conductance"),
    ("electric charge", "charge"),
    ("temperature interval", "temperature difference"),
    ("thermodynamic temperature", "temperature"),
    ("ratio", "plain number"),
    ("information", "amount of data"),
    ("information rate", "data rate"),
];

impl QuantityType {
    /// What it is, with its unit: `a voltage (V)`.
    pub fn describe(self) -> String {
        let symbol = DisplayUnit::picked(self, 0.0).unit.symbol;
        let name = table()
            .quantity_name(self)
            .map(|name| TRADE_WORDS.iter().find(|row| row.0 == name).map_or(name, |row| row.1));
        match name {
            _ if self == QuantityType::NUMBER => "a plain number".to_owned(),
            Some(name) if name.starts_with(['a', 'e', 'i', 'o', 'u']) => format!("an {name} ({symbol})"),
            Some(name) => format!("a {name} ({symbol})"),
            None if CURRENCIES.contains(&symbol.as_str()) => format!("an amount in {symbol}"),
            None => format!("a quantity in {symbol}"),
        }
    }

    /// The same, or the kind in words where the dimension alone does not say it.
    pub fn describe_kind(self) -> String {
        match self.kind {
            Kind::Plain => self.describe(),
            kind => format!("{} ({})", kind.name(), DisplayUnit::picked(self, 0.0).unit.symbol),
        }
    }
}

impl ValueType {
    /// What it is, in words.
    pub fn describe(self) -> String {
        match self {
            ValueType::Quantity(quantity) => quantity.describe(),
            ValueType::Condition => "a condition (true or false)".to_owned(),
        }
    }
}
