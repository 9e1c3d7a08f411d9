//! Dimensions: the exponents of the seven SI base quantities, of money by currency, and of information. Exponents are held in twelfths,
//! so that square, cube and fourth roots stay exact.

use std::fmt;

/// Parts that one whole exponent is counted in.
const PARTS: i16 = 12;

/// Currencies (ISO 4217), each a dimension of its own.
pub const CURRENCIES: [&str; 14] =
    ["EUR", "USD", "GBP", "JPY", "CHF", "CNY", "INR", "CAD", "AUD", "SEK", "NOK", "DKK", "PLN", "BRL"];

const BASE: usize = 7;
const INFORMATION: usize = BASE + CURRENCIES.len();
const WIDTH: usize = INFORMATION + 1;

/// The symbols of the base quantities (ISO 80000-1), in the order of the exponents.
const BASE_SYMBOLS: [&str; BASE] = ["L", "M", "T", "I", "Θ", "N", "J"];
/// The SI base units in the same order.
const BASE_UNITS: [&str; BASE] = ["m", "kg", "s", "A", "K", "mol", "cd"];

/// A product of powers of the base quantities.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Dimension([i16; WIDTH]);

impl Dimension {
    /// The dimension of a plain number.
    pub const NONE: Dimension = Dimension([0; WIDTH]);

    /// A time.
    pub const TIME: Dimension = Dimension::new([0, 0, 1, 0, 0, 0, 0]);

    /// From whole exponents of length, mass, time, current, temperature, amount and luminous intensity.
    pub const fn new(exponents: [i8; 7]) -> Self {
        let mut parts = [0; WIDTH];
        let mut i = 0;
        while i < BASE {
            parts[i] = exponents[i] as i16 * PARTS;
            i += 1;
        }
        Self(parts)
    }

    /// The dimension of one of `uom`'s quantities, by its description and whole exponents. To `uom` information is a plain
    /// number; here it is a dimension of its own, so that a byte and a number do not add.
    pub(super) fn of_quantity(description: &str, exponents: [i8; 7]) -> Self {
        let mut dimension = Self::new(exponents);
        if matches!(description, "information" | "information rate") {
            dimension.0[INFORMATION] = PARTS;
        }
        dimension
    }

    /// Whole exponents of the seven base quantities, as [`Dimension::new`] takes them.
    #[cfg(test)]
    pub(crate) fn base_exponents(self) -> [i8; BASE] {
        std::array::from_fn(|at| (self.0[at] / PARTS) as i8)
    }

    /// The dimension of a currency, by its place in [`CURRENCIES`].
    pub fn money(currency: usize) -> Self {
        let mut parts = [0; WIDTH];
        if let Some(slot) = parts.get_mut(BASE + currency) {
            *slot = PARTS;
        }
        Self(parts)
    }

    /// Whether it is that of a plain number.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// The dimension of a product.
    #[must_use]
    pub fn times(self, other: Self) -> Self {
        self.zip(other, i16::saturating_add)
    }

    /// The dimension of a quotient.
    #[must_use]
    pub fn over(self, other: Self) -> Self {
        self.zip(other, i16::saturating_sub)
    }

    /// The dimension of a power; `None` where the exponent does not come out in twelfths, or is out of all reason.
    pub fn power(self, exponent: f64) -> Option<Self> {
        let mut parts = self.0;
        for part in parts.iter_mut().filter(|part| **part != 0) {
            let exact = f64::from(*part) * exponent;
            let rounded = exact.round();
            if (exact - rounded).abs() > 1e-9 || rounded.abs() > f64::from(PARTS) * 100.0 {
                return None;
            }
            *part = rounded as i16;
        }
        Some(Self(parts))
    }

    /// The dimension in SI base units as a reader writes it: `kg·m²/s³`; `1` for a plain number.
    pub fn in_base_units(self) -> String {
        let factors = |sign: i16| {
            let mut order: Vec<usize> = (0..WIDTH).collect();
            order[..3].copy_from_slice(&[1, 0, 2]);
            let named: Vec<String> = order
                .into_iter()
                .filter(|i| self.0[*i] * sign > 0)
                .map(|i| {
                    let name = symbol_at(&BASE_UNITS, i);
                    format!("{name}{}", superscript(self.0[i] * sign))
                })
                .collect();
            named
        };
        let (above, below) = (factors(1), factors(-1));
        let numerator = if above.is_empty() { "1".to_owned() } else { above.join("·") };
        match below.len() {
            0 => numerator,
            1 => format!("{numerator}/{}", below[0]),
            _ => format!("{numerator}/({})", below.join("·")),
        }
    }

    /// The exponents of the base quantities where all of them are whole and neither money nor information is among them.
    pub fn whole_exponents(self) -> Option<[i8; BASE]> {
        let mut whole = [0; BASE];
        for (i, part) in self.0.iter().enumerate() {
            match whole.get_mut(i) {
                Some(slot) if part % PARTS == 0 => *slot = i8::try_from(part / PARTS).ok()?,
                None if *part == 0 => {}
                _ => return None,
            }
        }
        Some(whole)
    }

    fn zip(self, other: Self, f: impl Fn(i16, i16) -> i16) -> Self {
        let mut parts = self.0;
        for (part, other) in parts.iter_mut().zip(other.0) {
            *part = f(*part, other);
        }
        Self(parts)
    }
}

/// `L^2 M T^-3 I^-1`; `1` for a plain number.
impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        for (i, part) in self.0.iter().enumerate().filter(|(_, part)| **part != 0) {
            let symbol = symbol_at(&BASE_SYMBOLS, i);
            let gap = if first { "" } else { " " };
            first = false;
            match (*part, part % PARTS) {
                (PARTS, _) => write!(f, "{gap}{symbol}")?,
                (_, 0) => write!(f, "{gap}{symbol}^{}", part / PARTS)?,
                _ => write!(f, "{gap}{symbol}^({part}/{PARTS})")?,
            }
        }
        if first { f.write_str("1") } else { Ok(()) }
    }
}

/// The symbol of a base quantity, or the unit of one that has none: a currency's code, or the byte.
fn symbol_at(base: &[&'static str; BASE], at: usize) -> &'static str {
    let currency = || CURRENCIES.get(at - BASE).copied();
    base.get(at).copied().or_else(currency).unwrap_or("B")
}

fn superscript(parts: i16) -> String {
    if parts == PARTS {
        return String::new();
    }
    if parts % PARTS != 0 {
        let common = (1..=PARTS).rev().find(|n| parts % n == 0 && PARTS % n == 0).unwrap_or(1);
        return format!("^({}/{})", parts / common, PARTS / common);
    }
    (parts / PARTS).to_string().chars().map(|c| DIGITS_RAISED[(c as usize).wrapping_sub(48) % 10]).collect()
}

/// The raised figures 0 to 9.
pub(crate) const DIGITS_RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
