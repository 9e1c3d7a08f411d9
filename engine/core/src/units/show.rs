//! How a value is shown: so many significant digits, in a declared unit or in one whose prefix puts the number between 1
//! and 1000.

use super::{CURRENCIES, Dimension, Kind, QuantityType, Unit, parse, table};

/// The unit a value is shown in.
#[derive(Clone, Debug, PartialEq)]
pub struct DisplayUnit {
    /// The unit.
    pub unit: Unit,
    /// What it was picked for, where the author declared none.
    picked: Option<QuantityType>,
}

impl DisplayUnit {
    /// A unit of the author's choice.
    pub fn declared(unit: Unit) -> Self {
        Self { unit, picked: None }
    }

    /// The unit whose prefix puts `si` between 1 and 1000.
    pub fn picked(quantity: QuantityType, si: f64) -> Self {
        Self { unit: pick(quantity, si), picked: Some(quantity) }
    }

    /// The unit for a range: where no unit was declared, one that suits its greater end.
    #[must_use]
    pub fn for_range(&self, low: f64, high: f64) -> Self {
        match self.picked {
            Some(quantity) if low.is_finite() && high.is_finite() => {
                Self::picked(quantity, if low.abs() > high.abs() { low } else { high })
            }
            _ => self.clone(),
        }
    }

    /// The symbol, empty for plain numbers.
    pub fn symbol(&self) -> &str {
        &self.unit.symbol
    }

    /// An SI value as a number of this unit, to so many significant digits, without the unit.
    pub fn number(&self, si: f64, digits: u8) -> String {
        let value = self.unit.of_si(si);
        // Money has cents, whatever the digits; but not where a part costs less than one.
        if CURRENCIES.contains(&self.symbol()) && value.abs() >= 0.01 {
            let sign = if value < 0.0 { "−" } else { "" };
            return format!("{sign}{:.2}", value.abs());
        }
        number(value, digits)
    }

    /// An SI value with its unit: `22.0 s`, `65 %`, `25.0 °C`, `30°`.
    pub fn show(&self, si: f64, digits: u8) -> String {
        self.join(&self.number(si, digits))
    }

    /// A number (already text) with the unit behind it.
    pub fn join(&self, number: &str) -> String {
        match self.unit.symbol.as_str() {
            "" => number.to_owned(),
            symbol @ ("°" | "′" | "″") => format!("{number}{symbol}"),
            symbol => format!("{number} {symbol}"),
        }
    }
}

/// A number to so many significant digits, plain between 0.0001 and a million, by powers of ten outside.
pub fn number(value: f64, digits: u8) -> String {
    if value.is_nan() {
        return "undefined".to_owned();
    }
    if value.is_infinite() {
        return if value > 0.0 { "∞" } else { "−∞" }.to_owned();
    }
    let digits = usize::from(digits.clamp(1, 17));
    if value == 0.0 {
        return "0".to_owned();
    }
    let scientific = format!("{:.*e}", digits - 1, value.abs());
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let sign = if value < 0.0 { "−" } else { "" };
    if (-4..6).contains(&exponent) {
        let decimals = (digits as i32 - 1 - exponent).max(0) as usize;
        let rounded: f64 = scientific.parse().unwrap_or(value.abs());
        format!("{sign}{rounded:.decimals$}")
    } else {
        let raised: String = exponent.to_string().chars().map(raise).collect();
        format!("{sign}{mantissa}×10{raised}")
    }
}

/// A literal's number as it is set: `2.2e-6` is 2.2×10⁻⁶, `1e-3` is 10⁻³.
pub fn literal_number(digits: &str) -> String {
    let Some((mantissa, exponent)) = digits.split_once(['e', 'E']) else { return digits.replace('-', "−") };
    let raised: String = exponent.trim_start_matches('+').chars().map(raise).collect();
    match mantissa {
        "1" => format!("10{raised}"),
        mantissa => format!("{}×10{raised}", mantissa.replace('-', "−")),
    }
}

fn raise(c: char) -> char {
    match c.to_digit(10) {
        Some(digit) => super::dimension::DIGITS_RAISED[digit as usize],
        None => '⁻',
    }
}

/// The unit that names each dimension on pages, where its author declares none.
const USUAL: &[(&str, Prefixes)] = &[
    ("m", Prefixes::Small),
    ("m²", Prefixes::None),
    ("L", Prefixes::Down),
    ("g", Prefixes::All),
    ("s", Prefixes::Time),
    ("A", Prefixes::All),
    ("V", Prefixes::All),
    ("Ω", Prefixes::All),
    ("S", Prefixes::All),
    ("F", Prefixes::All),
    ("H", Prefixes::All),
    ("C", Prefixes::All),
    ("W", Prefixes::All),
    ("J", Prefixes::All),
    ("K/W", Prefixes::None),
    ("W/K", Prefixes::None),
    ("J/K", Prefixes::None),
    ("N", Prefixes::All),
    ("Pa", Prefixes::All),
    ("Wb", Prefixes::All),
    ("T", Prefixes::All),
    ("m/s", Prefixes::None),
    ("m/s²", Prefixes::None),
    ("kg·m²", Prefixes::None),
    ("Ω·m", Prefixes::None),
    ("V/m", Prefixes::None),
    ("A/m", Prefixes::None),
    ("W/(m·K)", Prefixes::None),
    ("1/K", Prefixes::None),
    ("L/min", Prefixes::None),
    ("mol", Prefixes::All),
    ("cd", Prefixes::All),
];

#[derive(Clone, Copy, PartialEq)]
enum Prefixes {
    None,
    Small,
    Down,
    All,
    Time,
}

fn pick(quantity: QuantityType, si: f64) -> Unit {
    let named = |symbol: &str| parse(symbol).unwrap_or_else(Unit::one);
    match quantity.kind {
        Kind::Temperature => return named("°C"),
        Kind::TemperatureDifference => return named("K"),
        Kind::Torque => return prefixed("N·m", Prefixes::All, si),
        Kind::Energy => return prefixed("J", Prefixes::All, si),
        Kind::Frequency => return prefixed("Hz", Prefixes::All, si),
        Kind::AngularVelocity => return named("rad/s"),
        Kind::Angle => return named("°"),
        Kind::Plain => {}
    }
    if quantity.dimension.is_none() {
        return Unit::one();
    }
    for (symbol, prefixes) in USUAL {
        if parse(symbol).is_some_and(|unit| unit.quantity.dimension == quantity.dimension) {
            let mut unit = prefixed(symbol, *prefixes, si);
            unit.quantity.kind = Kind::Plain;
            return unit;
        }
    }
    let symbol = compound(quantity.dimension).unwrap_or_else(|| quantity.dimension.in_base_units());
    Unit { symbol, factor: 1.0, offset: 0.0, quantity }
}

/// A dimension as a power, a product or a quotient of units that a reader knows: `V²`, `A·s`, `Ω/K`.
fn compound(dimension: Dimension) -> Option<String> {
    const KNOWN: [&str; 13] = ["V", "A", "Ω", "W", "s", "m", "kg", "K", "J", "N", "F", "H", "mol"];
    let known: Vec<(&str, Dimension)> =
        KNOWN.iter().filter_map(|symbol| Some((*symbol, parse(symbol)?.quantity.dimension))).collect();
    let power = |of: Dimension, n: f64| of.power(n).unwrap_or(Dimension::NONE);
    for (symbol, of) in &known {
        if power(*of, 0.5) == dimension {
            return Some(format!("{symbol}^(1/2)"));
        }
        for (n, raised) in [(2.0, "²"), (3.0, "³")] {
            if power(*of, n) == dimension {
                return Some(format!("{symbol}{raised}"));
            }
        }
        for (n, raised) in [(1.0, ""), (2.0, "²"), (3.0, "³")] {
            if power(*of, -n) == dimension {
                return Some(format!("1/{symbol}{raised}"));
            }
        }
    }
    for (n, raised) in [(1.0, ""), (2.0, "²")] {
        for (a, of_a) in &known {
            for (b, of_b) in &known {
                if of_a.over(power(*of_b, n)) == dimension {
                    return Some(format!("{a}/{b}{raised}"));
                }
                if power(*of_a, n).over(*of_b) == dimension {
                    return Some(format!("{a}{raised}/{b}"));
                }
                if of_a.times(power(*of_b, n)) == dimension && a != b {
                    return Some(format!("{a}·{b}{raised}"));
                }
            }
        }
    }
    None
}

fn prefixed(symbol: &str, prefixes: Prefixes, si: f64) -> Unit {
    let plain = parse(symbol).unwrap_or_else(Unit::one);
    let size = plain.of_si(si).abs();
    if prefixes == Prefixes::None || size == 0.0 || !size.is_finite() {
        return plain;
    }
    if prefixes == Prefixes::Time && size >= 1000.0 {
        let fitting = ["min", "h", "d"].iter().filter_map(|symbol| parse(symbol)).find(|unit| unit.of_si(si) < 1000.0);
        return fitting.unwrap_or_else(|| parse("d").unwrap_or(plain));
    }
    let greatest = match prefixes {
        Prefixes::Small => 1000.0,
        Prefixes::Down => 1.0,
        _ => f64::INFINITY,
    };
    let steps = table().prefixes().iter().filter(|(_, factor)| {
        let thousands = libm::log10(*factor) / 3.0;
        (thousands - thousands.round()).abs() < 1e-9 && *factor <= greatest
    });
    let unprefixed = (String::new(), 1.0);
    let mut best: Option<(&str, f64)> = None;
    for (prefix, factor) in steps.chain([&unprefixed]) {
        // A number that would round up to 1000 takes the next prefix.
        if size / factor >= 0.999_999_5 && best.is_none_or(|(_, best)| *factor > best) {
            best = Some((prefix, *factor));
        }
    }
    let (prefix, _) = best.unwrap_or(("", 1.0));
    parse(&format!("{prefix}{symbol}")).unwrap_or(plain)
}

/// The plain character of a raised figure or sign: `³` is `3`, `⁻` is `-`.
pub(crate) fn unraise(c: char) -> Option<char> {
    if c == '⁻' {
        return Some('-');
    }
    let digit = super::dimension::DIGITS_RAISED.iter().position(|raised| *raised == c)?;
    char::from_digit(digit as u32, 10)
}
