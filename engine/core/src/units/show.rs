//! How a value is shown: so many significant digits, in a declared unit or in one whose prefix puts the number between 1
//! and 1000.

use std::{
    io::Write,
    sync::{Mutex, OnceLock},
};

use super::{CURRENCIES, Dimension, Kind, QuantityType, Unit, ValueType, parse, table};
use crate::parallel::locked;

/// The unit a value is shown in.
#[derive(Clone, Debug, PartialEq)]
pub struct DisplayUnit {
    /// The unit.
    pub unit: Unit,
    /// What it was picked for, where the author declared none.
    picked: Option<QuantityType>,
}

impl DisplayUnit {
    /// The unit that a value is shown in: its author's, or one with a prefix that fits its nominal value (SI).
    pub(crate) fn fitting(value_type: ValueType, unit: Option<&Unit>, nominal: f64) -> Self {
        match (unit, value_type) {
            (Some(unit), _) => Self::declared(unit.clone()),
            (None, ValueType::Quantity(quantity)) => Self::picked(quantity, nominal),
            (None, ValueType::Condition) => Self::picked(QuantityType::NUMBER, nominal),
        }
    }

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
        self.join(self.number(si, digits))
    }

    /// A range of SI values: `9.30 to 19.4 s`; an infinite end is `no end`, and then both ends carry what unit they have.
    pub fn show_range(&self, (low, high): (f64, f64), digits: u8) -> String {
        let end = |si: f64| if si.is_infinite() { "no end".to_owned() } else { self.show(si, digits) };
        if low.is_infinite() || high.is_infinite() {
            return format!("{} to {}", end(low), end(high));
        }
        format!("{} to {}", self.number(low, digits), self.show(high, digits))
    }

    /// A number (already text) with the unit behind it.
    pub fn join(&self, number: impl Into<String>) -> String {
        let mut shown = number.into();
        let symbol = self.symbol();
        if !matches!(symbol, "" | "°" | "′" | "″") {
            shown.push(' ');
        }
        shown.push_str(symbol);
        shown
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
    // Seventeen figures, a point and an exponent are 24 bytes at most.
    let mut written = [0; 24];
    let mut rest = written.as_mut_slice();
    let _ = write!(rest, "{:.*e}", digits - 1, value.abs());
    let unused = rest.len();
    let scientific = str::from_utf8(&written[..written.len() - unused]).unwrap_or("");
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((scientific, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let mut shown = String::with_capacity(digits + 12);
    if value < 0.0 {
        shown.push('−');
    }
    if !(-4..6).contains(&exponent) {
        shown.push_str(mantissa);
        shown.push_str("×10");
        shown.extend(exponent.to_string().chars().map(raise));
        return shown;
    }
    // The same figures, with the point where it belongs.
    let (first, rest) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let zeros = |n: usize| &"00000"[..n];
    if exponent < 0 {
        shown.push_str("0.");
        shown.push_str(zeros(exponent.unsigned_abs() as usize - 1));
        shown.push_str(first);
        shown.push_str(rest);
        return shown;
    }
    let (whole, decimals) = rest.split_at(rest.len().min(exponent as usize));
    shown.push_str(first);
    shown.push_str(whole);
    shown.push_str(zeros(exponent as usize - whole.len()));
    if !decimals.is_empty() {
        shown.push('.');
        shown.push_str(decimals);
    }
    shown
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

/// The unit that names each dimension on pages, where its author declares none; those of a kind of its own come first.
const USUAL: &[(Kind, &str, Prefixes)] = &[
    (Kind::Temperature, "°C", Prefixes::None),
    (Kind::TemperatureDifference, "K", Prefixes::None),
    (Kind::Torque, "N·m", Prefixes::All),
    (Kind::Energy, "J", Prefixes::All),
    (Kind::Frequency, "Hz", Prefixes::All),
    (Kind::AngularVelocity, "rad/s", Prefixes::None),
    (Kind::Angle, "°", Prefixes::None),
    (Kind::ActivePower, "W", Prefixes::All),
    (Kind::ApparentPower, "VA", Prefixes::All),
    (Kind::ReactivePower, "var", Prefixes::All),
    (Kind::LuminousIntensity, "cd", Prefixes::All),
    (Kind::LuminousFlux, "lm", Prefixes::All),
    (Kind::Illuminance, "lx", Prefixes::All),
    (Kind::Luminance, "cd/m²", Prefixes::None),
    (Kind::Plain, "m", Prefixes::Small),
    (Kind::Plain, "m²", Prefixes::None),
    (Kind::Plain, "L", Prefixes::Down),
    (Kind::Plain, "g", Prefixes::All),
    (Kind::Plain, "s", Prefixes::Time),
    (Kind::Plain, "A", Prefixes::All),
    (Kind::Plain, "V", Prefixes::All),
    (Kind::Plain, "Ω", Prefixes::All),
    (Kind::Plain, "S", Prefixes::All),
    (Kind::Plain, "F", Prefixes::All),
    (Kind::Plain, "H", Prefixes::All),
    (Kind::Plain, "C", Prefixes::All),
    (Kind::Plain, "W", Prefixes::All),
    (Kind::Plain, "J", Prefixes::All),
    (Kind::Plain, "K/W", Prefixes::None),
    (Kind::Plain, "W/K", Prefixes::None),
    (Kind::Plain, "J/K", Prefixes::None),
    (Kind::Plain, "N", Prefixes::All),
    (Kind::Plain, "Pa", Prefixes::All),
    (Kind::Plain, "Wb", Prefixes::All),
    (Kind::Plain, "T", Prefixes::All),
    (Kind::Plain, "m/s", Prefixes::None),
    (Kind::Plain, "m/s²", Prefixes::None),
    (Kind::Plain, "kg·m²", Prefixes::None),
    (Kind::Plain, "Ω·m", Prefixes::None),
    (Kind::Plain, "V/m", Prefixes::None),
    (Kind::Plain, "A/m", Prefixes::None),
    (Kind::Plain, "W/(m·K)", Prefixes::None),
    (Kind::Plain, "1/K", Prefixes::None),
    (Kind::Plain, "L/min", Prefixes::None),
    (Kind::Plain, "mol", Prefixes::All),
    (Kind::Plain, "cd", Prefixes::All),
    (Kind::Plain, "B", Prefixes::Up),
    (Kind::Plain, "bit/s", Prefixes::Up),
];

#[derive(Clone, Copy, PartialEq)]
enum Prefixes {
    None,
    Small,
    Down,
    Up,
    All,
    Time,
}

/// A usual unit with all prefixes that it is shown with. Made once: a page asks for the same few units over and over.
struct Ladder {
    kind: Kind,
    symbol: &'static str,
    prefixes: Prefixes,
    plain: Unit,
    /// The plain unit and its multiples, each with what it is a multiple by. Made when first climbed.
    rungs: OnceLock<Vec<(f64, Unit)>>,
}

fn ladders() -> &'static [Ladder] {
    static LADDERS: OnceLock<Vec<Ladder>> = OnceLock::new();
    LADDERS.get_or_init(|| {
        let ladder = |(kind, symbol, prefixes): &(Kind, &'static str, Prefixes)| {
            let plain = parse(symbol).unwrap_or_else(Unit::one);
            Ladder { kind: *kind, symbol, prefixes: *prefixes, plain, rungs: OnceLock::new() }
        };
        USUAL.iter().map(ladder).collect()
    })
}

fn pick(quantity: QuantityType, si: f64) -> Unit {
    if quantity == QuantityType::NUMBER {
        return Unit::one();
    }
    let fits = |ladder: &&Ladder| {
        ladder.kind == quantity.kind
            && (quantity.kind != Kind::Plain || ladder.plain.quantity.dimension == quantity.dimension)
    };
    if let Some(ladder) = ladders().iter().find(fits) {
        let mut unit = ladder.at(si);
        unit.quantity.kind = if quantity.kind == Kind::Plain { Kind::Plain } else { unit.quantity.kind };
        return unit;
    }
    if quantity.dimension.is_none() {
        return Unit::one();
    }
    let symbol = symbol_of(quantity.dimension);
    Unit { symbol, factor: 1.0, offset: 0.0, quantity }
}

impl Ladder {
    /// The unit that puts a value between 1 and 1000, if one does.
    fn at(&self, si: f64) -> Unit {
        let size = self.plain.of_si(si).abs();
        if self.prefixes == Prefixes::None || size == 0.0 || !size.is_finite() {
            return self.plain.clone();
        }
        if self.prefixes == Prefixes::Time && size >= 1000.0 {
            let mut longer = ["min", "h", "d"].iter().filter_map(|symbol| parse(symbol));
            let fitting = longer.find(|unit| unit.of_si(si) < 1000.0);
            return fitting.or_else(|| parse("d")).unwrap_or_else(|| self.plain.clone());
        }
        // A number that would round up to 1000 takes the next prefix.
        let low_enough = self.rungs().iter().filter(|(factor, _)| size / factor >= 0.999_999_5);
        let highest = low_enough.max_by(|a, b| a.0.total_cmp(&b.0));
        highest.map_or(&self.plain, |(_, unit)| unit).clone()
    }

    fn rungs(&self) -> &[(f64, Unit)] {
        self.rungs.get_or_init(|| {
            let greatest = match self.prefixes {
                Prefixes::Small => 1000.0,
                Prefixes::Down => 1.0,
                _ => f64::INFINITY,
            };
            let least = if self.prefixes == Prefixes::Up { 1.0 } else { 0.0 };
            let steps = table().prefixes().iter().filter(|(_, factor)| {
                let thousands = libm::log10(*factor) / 3.0;
                (thousands - thousands.round()).abs() < 1e-9 && *factor <= greatest && *factor >= least
            });
            let multiple = |(prefix, factor): &(String, f64)| {
                (*factor, parse(&format!("{prefix}{}", self.symbol)).unwrap_or_else(|| self.plain.clone()))
            };
            std::iter::once((1.0, self.plain.clone())).chain(steps.map(multiple)).collect()
        })
    }
}

/// What a dimension without a usual unit is written as. Worked out once for each: a worksheet has few of them.
fn symbol_of(dimension: Dimension) -> String {
    static KNOWN: Mutex<Vec<(Dimension, String)>> = Mutex::new(Vec::new());
    let mut known = locked(&KNOWN);
    if let Some((_, symbol)) = known.iter().find(|(known, _)| *known == dimension) {
        return symbol.clone();
    }
    let symbol = compound(dimension).unwrap_or_else(|| dimension.in_base_units());
    known.push((dimension, symbol.clone()));
    symbol
}

/// A dimension as a power, a product or a quotient of units that a reader knows: `V²`, `A·s`, `Ω/K`.
fn compound(dimension: Dimension) -> Option<String> {
    const KNOWN: [&str; 13] = ["V", "A", "Ω", "W", "s", "m", "kg", "K", "J", "N", "F", "H", "mol"];
    static DIMENSIONS: OnceLock<Vec<(&str, Dimension)>> = OnceLock::new();
    let known = DIMENSIONS
        .get_or_init(|| KNOWN.iter().filter_map(|symbol| Some((*symbol, parse(symbol)?.quantity.dimension))).collect());
    let power = |of: Dimension, n: f64| of.power(n).unwrap_or(Dimension::NONE);
    for (symbol, of) in known {
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
        for (a, of_a) in known {
            for (b, of_b) in known {
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

/// The plain character of a raised figure or sign: `³` is `3`, `⁻` is `-`.
pub(crate) fn unraise(c: char) -> Option<char> {
    if c == '⁻' {
        return Some('-');
    }
    let digit = super::dimension::DIGITS_RAISED.iter().position(|raised| *raised == c)?;
    char::from_digit(digit as u32, 10)
}
