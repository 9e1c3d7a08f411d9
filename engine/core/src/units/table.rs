//! Every unit the engine knows, read from the list of `uom`'s when first asked for: abbreviation, factor and zero point. What `uom`
//! lacks, or names otherwise than the trade does, stands in [`EXTRA`] with its source.

use std::{collections::HashMap, sync::OnceLock};

use super::{CURRENCIES, Dimension, Kind, QuantityType, Unit, kind::TEMPERATURE, listed};
use crate::{case::lowercase, suggest::nearest};

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
    /// Whole names of units without a prefix, one and several, with their symbols.
    pub(super) spelt: Vec<(&'static str, &'static str, String)>,
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

    /// The symbol of a unit whose name is spelt out, in part or whole: `ohm`, `volts`, `kvolt`, `amp`, `secs`.
    pub fn symbol_of_name(&self, written: &str) -> Option<String> {
        let name = lowercase(written);
        let whole = |name: &str| {
            let mut rows = self.spelt.iter();
            let is = |text: &str| lowercase(text) == name;
            rows.find(|(one, several, _)| is(one) || is(several)).map(|row| row.2.as_str())
        };
        let prefixed = || {
            let with = |(prefix, word): &(&str, &str)| {
                let half_spelt = || written.strip_prefix(prefix).map(lowercase);
                let unit = name.strip_prefix(word).map(str::to_owned).or_else(half_spelt)?;
                Some(format!("{prefix}{}", whole(&unit)?))
            };
            PREFIXES.iter().find_map(with)
        };
        let begun = || {
            let start = name.strip_suffix('s').filter(|start| start.len() >= 3).unwrap_or(&name);
            let mut rows = self.spelt.iter();
            let row = rows.find(|(one, ..)| start.len() >= 3 && lowercase(one).starts_with(start));
            row.map(|row| row.2.clone())
        };
        whole(&name).map(str::to_owned).or_else(prefixed).or_else(begun)
    }

    /// The symbol of a unit whose name is misspelt: `ohmm`, `kvollt`.
    pub fn symbol_of_misspelt(&self, name: &str) -> Option<String> {
        let of = |name: &str| {
            let names = self.spelt.iter().flat_map(|(one, several, _)| [*one, *several]);
            let known = nearest(&lowercase(name), names).filter(|known| name.len() > 3 && known.len() > 2)?;
            self.symbol_of_name(known)
        };
        let behind =
            |(prefix, _): &(String, f64)| Some(format!("{prefix}{}", of(name.strip_prefix(prefix.as_str())?)?));
        of(name).or_else(|| self.prefixes.iter().find_map(behind))
    }

    /// A table without units.
    pub(super) fn empty() -> Self {
        Self {
            units: HashMap::with_capacity(2048),
            order: Vec::new(),
            prefixes: Vec::new(),
            names: Vec::new(),
            spelt: Vec::new(),
        }
    }

    fn build() -> Self {
        let mut table = Self::empty();
        listed::read(&mut table);
        for (symbol, like, factor, _source) in EXTRA {
            let size = super::parse::product(&table, like);
            let listed = table.get(like).or_else(|| size.clone());
            if let (Some(unit), Some(size)) = (listed, size) {
                let unit = Unit { symbol: (*symbol).to_owned(), factor: size.factor * factor, ..unit };
                table.insert_over(unit);
            }
        }
        for (symbol, kind, name) in KINDS {
            if let Some(unit) = table.units.get_mut(*symbol) {
                unit.quantity.kind = *kind;
                table.names.push((unit.quantity, name));
            }
        }
        table.settle_compounds();
        for (i, code) in CURRENCIES.iter().enumerate() {
            let money = QuantityType { dimension: Dimension::money(i), kind: Kind::Plain };
            table.insert(Unit { symbol: (*code).to_owned(), factor: 1.0, offset: 0.0, quantity: money });
        }
        table
    }

    /// A compound means what its factors come to: its size is theirs, where `uom` gives a rounded one of its own. One
    /// whose factors are unknown, or come to something else, is misspelt in `uom` and left out.
    fn settle_compounds(&mut self) {
        let mut misspelt = Vec::new();
        for symbol in self.order.iter().filter(|symbol| is_compound(symbol)) {
            let product = super::parse::product(self, symbol);
            match (self.units.get(symbol), product) {
                (Some(listed), Some(product)) if listed.agrees_with(&product) => {
                    // Products of powers of ten pick up a last digit that the listed factor does not have.
                    if (product.factor - listed.factor).abs() > LAST_DIGITS * listed.factor {
                        let settled = Unit { factor: product.factor, ..listed.clone() };
                        self.units.insert(symbol.clone(), settled);
                    }
                }
                _ => misspelt.push(symbol.clone()),
            }
        }
        self.order.retain(|symbol| !misspelt.contains(symbol));
        self.units.retain(|symbol, _| !misspelt.contains(symbol));
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
const PREFIXABLE: &[&str] = &["rad", "L", "l", "Wh", "Ah", "eV", "bit", "B", "bar", "VA", "var", "lm"];

/// What `uom` lacks, rounds, or writes otherwise: symbol, a unit that it is a multiple of, the factor, and the source.
const EXTRA: &[(&str, &str, f64, &str)] = &[
    ("rev", "r", 1.0, "IEC 60034-1 counts revolutions per minute; uom writes r"),
    ("bit", "b", 1.0, "IEC 80000-13 writes bit; uom writes b"),
    ("deg", "°", 1.0, "spelling for keyboards without the degree sign"),
    ("mil", "in", 0.001, "thousandth of an inch (IPC-2221); uom's mil is the angle"),
    ("l", "L", 1.0, "SI brochure, table 8: both l and L"),
    ("Ah", "A·h", 1.0, "battery capacity as the trade writes it (IEC 61960 uses A·h)"),
    ("Wh", "W·h", 1.0, "SI brochure, table 8: hour; written without the dot by the trade"),
    ("VA", "V·A", 1.0, "apparent power (IEC 80000-6)"),
    ("var", "V·A", 1.0, "reactive power (IEC 80000-6)"),
    ("lm", "cd", 1.0, "luminous flux, SI brochure, table 4: one candela into one steradian"),
    ("Btu", "J", 1_055.055_852_62, "British thermal unit by the International Table, NIST SP 811, exact"),
    ("thm", "Btu", 100_000.0, "therm (EC), NIST SP 811: a hundred thousand International Table units, exact"),
    ("Torr", "Pa", 101_325.0 / 760.0, "a 760th of a standard atmosphere, NIST SP 811, exact"),
    ("mTorr", "Torr", 0.001, "a thousandth of it"),
    ("kgf", "N", 9.806_65, "standard gravity, 3rd CGPM (1901), exact"),
    ("degC", "°C", 1.0, "spelling for keyboards without the degree sign"),
    ("degF", "°F", 1.0, "spelling for keyboards without the degree sign"),
    ("oz", "g", 28.349_523_125, "international avoirdupois ounce, exact"),
    ("lb", "g", 453.592_37, "international avoirdupois pound, exact"),
    ("ozf", "kgf", 0.028_349_523_125, "avoirdupois ounce under standard gravity, exact"),
    ("lbf", "kgf", 0.453_592_37, "avoirdupois pound under standard gravity, exact"),
    ("kip", "lbf", 1000.0, "thousand pounds of force, exact"),
    ("psi", "lbf/in²", 1.0, "pound of force on a square inch, exact"),
    ("hp", "ft·lbf/s", 550.0, "mechanical horsepower, NIST SP 811, exact"),
    ("pdl", "lb·ft/s²", 1.0, "poundal, NIST SP 811, exact"),
    ("slug", "lbf·s²/ft", 1.0, "slug, NIST SP 811, exact"),
    ("gal", "in³", 231.0, "US liquid gallon, NIST SP 811, exact"),
    ("cmil", "mil²", std::f64::consts::FRAC_PI_4, "circle of a thousandth of an inch across (ASTM B258), exact"),
];

/// Units that [`EXTRA`] makes of units of another kind: their own, and what it is called.
const KINDS: &[(&str, Kind, &str)] = &[
    ("VA", Kind::ApparentPower, "apparent power"),
    ("var", Kind::ReactivePower, "reactive power"),
    ("lm", Kind::LuminousFlux, "luminous flux"),
];

/// SI prefixes by their symbols and their words (SI brochure, 9th edition, table 7).
pub(super) const PREFIXES: [(&str, &str); 20] = [
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

/// Whether a symbol is made of others.
fn is_compound(symbol: &str) -> bool {
    symbol.contains(|c| "·/".contains(c) || super::unraise(c).is_some())
}

impl Unit {
    /// Whether two units are one but for the rounding of a factor.
    fn agrees_with(&self, other: &Unit) -> bool {
        self.quantity.dimension == other.quantity.dimension
            && (self.factor - other.factor).abs() <= ROUNDED * self.factor
    }
}

/// A relative difference that arithmetic alone makes.
const LAST_DIGITS: f64 = 1e-14;
/// A relative difference between a factor of six or seven digits and the exact one.
const ROUNDED: f64 = 5e-6;

/// Whether a dimension is a temperature's.
pub(super) fn is_temperature(unit: &Unit) -> bool {
    unit.quantity.dimension == TEMPERATURE
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Or `1 lb/s` and `1 lb / 1 s` would be two numbers.
    #[test]
    fn a_compound_comes_to_what_its_factors_do() {
        let compounds: Vec<&str> = table().symbols().filter(|symbol| is_compound(symbol)).collect();
        assert!(compounds.len() > 600, "{}", compounds.len());
        for symbol in compounds {
            let (listed, product) =
                (table().get(symbol).unwrap(), crate::units::parse::product(table(), symbol).unwrap());
            assert_eq!(listed.quantity.dimension, product.quantity.dimension, "{symbol}");
            assert!((listed.factor / product.factor - 1.0).abs() <= LAST_DIGITS, "{symbol}: {}", listed.factor);
        }
        for misspelt in ["µg·m/(s³·K)", "g·m/(s³·K)"] {
            assert!(!table().symbols().any(|symbol| symbol == misspelt), "{misspelt}");
        }
    }

    #[test]
    fn every_extra_unit_is_there() {
        for (symbol, ..) in EXTRA {
            assert!(table().units.contains_key(*symbol), "{symbol}");
        }
        assert_eq!(table().get("Wh").map(|unit| unit.quantity.kind), Some(Kind::Energy));
        assert_eq!(table().get("b").map(|unit| unit.factor * 8.0), table().get("B").map(|unit| unit.factor));
    }
}
