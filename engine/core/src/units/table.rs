//! Every unit the engine knows, read from `uom` when first asked for: abbreviation, factor and zero point. What `uom`
//! lacks, or names otherwise than the trade does, stands in [`EXTRA`] with its source.

use std::{collections::HashMap, sync::OnceLock};

#[cfg(target_arch = "wasm32")]
use super::listed::read;
#[cfg(not(target_arch = "wasm32"))]
use super::uom_units::read;
use super::{CURRENCIES, Dimension, Kind, QuantityType, Unit, kind::TEMPERATURE};

/// The one table of units.
pub fn table() -> &'static UnitTable {
    static TABLE: OnceLock<UnitTable> = OnceLock::new();
    TABLE.get_or_init(UnitTable::build)
}

/// Units by the symbol they are written with.
pub struct UnitTable {
    pub(super) units: HashMap<String, Unit>,
    pub(super) order: Vec<String>,
    pub(super) prefixes: Vec<(String, f64)>,
    pub(super) names: Vec<(QuantityType, &'static str)>,
}

impl UnitTable {
    /// A unit by its exact symbol, or an SI unit with a prefix in front.
    pub fn get(&self, symbol: &str) -> Option<Unit> {
        if let Some(unit) = self.units.get(symbol) {
            return Some(unit.clone());
        }
        self.prefixes.iter().find_map(|(prefix, factor)| {
            let rest = symbol.strip_prefix(prefix.as_str())?;
            PREFIXABLE.contains(&rest).then_some(())?;
            let unit = self.units.get(rest)?;
            Some(Unit { symbol: symbol.to_owned(), factor: unit.factor * factor, ..unit.clone() })
        })
    }

    /// All symbols, in the order of the list they were read from.
    pub fn symbols(&self) -> impl Iterator<Item = &str> {
        self.order.iter().map(String::as_str)
    }

    /// The SI prefixes with their factors, largest first.
    pub fn prefixes(&self) -> &[(String, f64)] {
        &self.prefixes
    }

    /// What a quantity is called in `uom`'s list; a plain one by its dimension alone.
    pub fn quantity_name(&self, quantity: QuantityType) -> Option<&'static str> {
        let named = |exact: bool| {
            let fits =
                |known: &QuantityType| known.dimension == quantity.dimension && (!exact || known.kind == quantity.kind);
            self.names.iter().find(|row| fits(&row.0)).map(|row| row.1)
        };
        named(true).or_else(|| named(false))
    }

    /// A table without units.
    pub(super) fn empty() -> Self {
        Self { units: HashMap::with_capacity(2048), order: Vec::new(), prefixes: Vec::new(), names: Vec::new() }
    }

    fn build() -> Self {
        let mut table = Self::empty();
        read(&mut table);
        for (symbol, like, factor, _source) in EXTRA {
            if let Some(unit) = super::parse::parse_with(&table, like) {
                let unit = Unit { symbol: (*symbol).to_owned(), factor: unit.factor * factor, ..unit };
                table.insert_over(unit);
            }
        }
        table.drop_unreadable();
        for (i, code) in CURRENCIES.iter().enumerate() {
            let money = QuantityType { dimension: Dimension::money(i), kind: Kind::Plain };
            table.insert(Unit { symbol: (*code).to_owned(), factor: 1.0, offset: 0.0, quantity: money });
        }
        table
    }

    /// A product or quotient whose factors are not units themselves cannot be typed (`uom` has a few misspelt ones).
    fn drop_unreadable(&mut self) {
        let factors = |symbol: &str| symbol.contains(['/', '·']);
        let misread: Vec<String> = self
            .order
            .iter()
            .filter(|symbol| factors(symbol) && !super::parse::has_known_factors(self, symbol))
            .cloned()
            .collect();
        self.order.retain(|symbol| !misread.contains(symbol));
        self.units.retain(|symbol, _| !misread.contains(symbol));
    }

    pub(super) fn insert(&mut self, unit: Unit) {
        if !self.units.contains_key(&unit.symbol) {
            self.order.push(unit.symbol.clone());
            self.units.insert(unit.symbol.clone(), unit);
        }
    }

    pub(super) fn insert_over(&mut self, unit: Unit) {
        if self.units.insert(unit.symbol.clone(), unit.clone()).is_none() {
            self.order.push(unit.symbol);
        }
    }
}

/// Units that take SI prefixes beyond those that `uom` lists for them.
const PREFIXABLE: &[&str] = &["rad", "L", "l", "Wh", "Ah", "eV", "bit", "B", "bar", "VA", "var"];

/// What `uom` lacks or writes otherwise: symbol, a unit that it is a multiple of, the factor, and the source.
const EXTRA: &[(&str, &str, f64, &str)] = &[
    ("rev", "r", 1.0, "IEC 60034-1 counts revolutions per minute; uom writes r"),
    ("deg", "°", 1.0, "spelling for keyboards without the degree sign"),
    ("mil", "in", 0.001, "thousandth of an inch (IPC-2221); uom's mil is the angle"),
    ("l", "L", 1.0, "SI brochure, table 8: both l and L"),
    ("Ah", "A·h", 1.0, "battery capacity as the trade writes it (IEC 61960 uses A·h)"),
    ("Wh", "W·h", 1.0, "SI brochure, table 8: hour; written without the dot by the trade"),
    ("VA", "V·A", 1.0, "apparent power (IEC 60027)"),
    ("var", "V·A", 1.0, "reactive power (IEC 60027)"),
    ("kgf", "N", 9.806_65, "standard gravity, 3rd CGPM (1901), exact"),
    ("degC", "°C", 1.0, "spelling for keyboards without the degree sign"),
    ("degF", "°F", 1.0, "spelling for keyboards without the degree sign"),
    ("oz", "g", 28.349_523_125, "international avoirdupois ounce, exact"),
    ("lb", "g", 453.592_37, "international avoirdupois pound, exact"),
    ("ozf", "kgf", 0.028_349_523_125, "avoirdupois ounce under standard gravity, exact"),
    ("lbf", "kgf", 0.453_592_37, "avoirdupois pound under standard gravity, exact"),
];

/// Whether a dimension is a temperature's.
pub(super) fn is_temperature(unit: &Unit) -> bool {
    unit.quantity.dimension == TEMPERATURE
}
