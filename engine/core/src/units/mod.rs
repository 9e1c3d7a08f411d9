//! Units, dimensions and kinds. The table of units is `uom`'s, read from a list that a test holds against it; this module finds a unit by what was
//! written, says what quantity it measures, and picks the unit that a result is shown in.

mod describe;
mod dimension;
mod kind;
mod listed;
mod parse;
mod show;
mod table;
#[cfg(test)]
mod uom_units;

pub use dimension::{CURRENCIES, Dimension};
pub use kind::{Kind, QuantityType, TEMPERATURE, ValueType};
pub use parse::{parse, unknown_part};
pub(crate) use show::unraise;
pub use show::{DisplayUnit, literal_number, number};
pub use table::{UnitTable, table};

/// A unit: how its numbers become SI, and what quantity it measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// The symbol as written on pages.
    pub symbol: String,
    /// SI value of one.
    pub factor: f64,
    /// SI value of zero: other than 0 for temperature scales alone.
    pub offset: f64,
    /// Dimension and kind.
    pub quantity: QuantityType,
}

impl Unit {
    /// The unit of plain numbers, which is not written.
    pub fn one() -> Self {
        Self { symbol: String::new(), factor: 1.0, offset: 0.0, quantity: QuantityType::NUMBER }
    }

    /// A number of this unit in SI base units.
    pub fn to_si(&self, number: f64) -> f64 {
        // A factor below one is the reciprocal of a whole number more often than not: dividing by it keeps `22 µF`
        // the double that is nearest to 22e-6. (Whole to the last digits, or any large number would count as whole.)
        let scaled = if self.factor < 1.0 && self.factor > 0.0 {
            let inverse = 1.0 / self.factor;
            if (inverse - inverse.round()).abs() < 1e-14 * inverse && inverse < WHOLE {
                number / inverse.round()
            } else {
                number * self.factor
            }
        } else {
            number * self.factor
        };
        scaled + self.offset
    }

    /// An SI value as a number of this unit.
    pub fn of_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }
}

/// Above it every double is a whole number.
const WHOLE: f64 = 9_007_199_254_740_992.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_of_the_trade_are_read() {
        for (text, factor) in [
            ("kΩ", 1e3),
            ("kohm", 1e3),
            ("kOhms", 1e3),
            ("uF", 1e-6),
            ("µF", 1e-6),
            ("V/A", 1.0),
            ("N·m", 1.0),
            ("°C/W", 1.0),
            ("m^2", 1.0),
            ("mm²", 1e-6),
            ("Ω·mm²/m", 1e-6),
            ("W/(m·K)", 1.0),
            ("mAh", 3.6),
            ("kWh", 3.6e6),
            ("mil", 2.54e-5),
            ("%", 0.01),
            ("ppm", 1e-6),
            ("min", 60.0),
            ("h", 3600.0),
            ("EUR", 1.0),
            ("1/K", 1.0),
            ("ppm/K", 1e-6),
            ("mN·m", 1e-3),
            ("kg·m^2", 1.0),
            ("s^-1", 1.0),
            ("EUR/kg", 1.0),
            ("mL/min", 1e-6 / 60.0),
            ("g·cm²", 1e-7),
        ] {
            let unit = parse(text).unwrap_or_else(|| panic!("{text} is not read"));
            assert!(
                (unit.factor - factor).abs() <= 1e-15 * factor.abs() * 4.0,
                "{text}: {} wanted {factor}",
                unit.factor
            );
        }
        assert!(parse("kkΩ").is_none());
        assert_eq!(parse("°C").map(|u| u.quantity.kind), Some(Kind::Temperature));
        assert_eq!(parse("K").map(|u| u.quantity.kind), Some(Kind::TemperatureDifference));
        assert_eq!(parse("rev/min").map(|u| u.quantity.kind), Some(Kind::AngularVelocity));
        assert_eq!(parse("rpm").map(|u| u.quantity.kind), Some(Kind::AngularVelocity));
        assert_eq!(parse("kgf·cm").map(|u| u.quantity.kind), Some(Kind::Torque));
        assert_eq!(parse("mN·m").map(|u| u.quantity.kind), Some(Kind::Torque));
        assert_eq!(parse("Hz").map(|u| u.quantity.kind), Some(Kind::Frequency));
        assert_eq!(parse("°C").map(|u| u.to_si(25.0)), Some(298.15));
        assert_eq!(parse("µF").map(|u| u.to_si(22.0)), Some(22e-6));
    }

    #[test]
    fn results_are_shown_with_a_fitting_prefix() {
        let show = |unit: &str, si: f64| {
            let quantity = parse(unit).unwrap().quantity;
            DisplayUnit::picked(quantity, si).show(si, 3)
        };
        assert_eq!(show("s", 21.99), "22.0 s");
        assert_eq!(show("s", 0.002), "2.00 ms");
        assert_eq!(show("s", 3600.0), "60.0 min");
        assert_eq!(show("Ω", 4700.0), "4.70 kΩ");
        assert_eq!(show("Ω", 999.9999), "1000 Ω".replace("1000 Ω", "1.00 kΩ"));
        assert_eq!(show("F", 22e-6), "22.0 µF");
        assert_eq!(show("°C", 298.15), "25.0 °C");
        assert_eq!(show("W", 0.0), "0 W");
        assert_eq!(show("m", 1500.0), "1.50 km");
        assert_eq!(show("kg", 0.012), "12.0 g");
        assert_eq!(show("N·m", 0.012), "12.0 mN·m");
        assert_eq!(number(1234567.0, 3), "1.23×10⁶");
        assert_eq!(number(-0.05, 3), "−0.0500");
    }
}
