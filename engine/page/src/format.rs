//! Amounts as sentences say them: differences (a span of temperature is in kelvin, whatever the scale), ranges with their
//! unit said once, counts in groups of three, and bounds rounded so that what is said of them stays true.

use benchleaf_core::{
    Day,
    units::{DisplayUnit, number},
};
use benchleaf_words::{Word, Words, key, say};

/// A difference, an uncertainty or a room to spare, from SI.
pub(crate) fn difference(unit: &DisplayUnit, si: f64, digits: u8) -> String {
    if unit.unit.offset == 0.0 { unit.show(si, digits) } else { format!("{} K", number(si, digits)) }
}

/// `9.30 to 19.4 s`, or `9.30 s to no end`, from SI.
pub(crate) fn range(words: Words<'_>, unit: &DisplayUnit, (low, high): (f64, f64), digits: u8) -> String {
    range_in(words, &unit.for_range(low, high), (low, high), digits.max(RANGE_DIGITS))
}

/// The same in this very unit and to so many digits; an infinite end is said in words, and then both ends carry what unit
/// they have.
pub(crate) fn range_in(words: Words<'_>, unit: &DisplayUnit, (low, high): (f64, f64), digits: u8) -> String {
    let end =
        |si: f64| if si.is_infinite() { words.text(key::FORMAT_NO_END).to_owned() } else { unit.show(si, digits) };
    let is_open = low.is_infinite() || high.is_infinite();
    let first = if is_open { end(low) } else { unit.number(low, digits) };
    say!(words, FORMAT_RANGE, low = first, high = end(high))
}

/// `25 November 2026`.
pub(crate) fn day(words: Words<'_>, day: Day) -> String {
    let month = MONTHS.get(usize::from(day.month).wrapping_sub(1)).map_or("", |month| words.text(*month));
    say!(words, DAY_SHOWN, day = day.day, month = month, year = day.year)
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn listed(words: Words<'_>, parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => say!(words, FORMAT_LIST, first = first.join(", "), last = last),
    }
}

/// The same, rounded to within: what holds for the range holds for what is said.
pub(crate) fn range_within(words: Words<'_>, unit: &DisplayUnit, (low, high): (f64, f64), digits: u8) -> String {
    let unit = unit.for_range(low, high);
    let (low, high) = (unit.unit.of_si(low), unit.unit.of_si(high));
    let (low, high) = (number(up(low, digits), digits), unit.join(number(down(high, digits), digits)));
    say!(words, FORMAT_RANGE, low = low, high = high)
}

/// A value to the last digit that its standard uncertainty leaves a meaning to (JCGM 100, 7.2.6), from SI.
pub(crate) fn to_its_uncertainty(unit: &DisplayUnit, si: f64, std: f64) -> String {
    let exponent = |value: f64| libm::log10(value.abs()).floor();
    let (value, std) = (unit.unit.of_si(si), std / unit.unit.factor);
    let digits = exponent(value) - exponent(std) + 2.0;
    if value == 0.0 || digits < 1.0 {
        return unit.join("0");
    }
    unit.join(number(value, digits.clamp(1.0, 12.0) as u8))
}

/// Rounded upwards to so many significant digits.
pub(crate) fn up(value: f64, digits: u8) -> f64 {
    to_grid(value, digits, f64::ceil)
}

/// Rounded downwards to so many significant digits.
pub(crate) fn down(value: f64, digits: u8) -> f64 {
    to_grid(value, digits, f64::floor)
}

/// A count with its thousands parted: `10 000`.
pub(crate) fn count(n: u64) -> String {
    let figures = n.to_string();
    let mut text = String::new();
    for (i, c) in figures.chars().enumerate() {
        if i > 0 && (figures.len() - i).is_multiple_of(3) && figures.len() > 4 {
            text.push('\u{202f}');
        }
        text.push(c);
    }
    text
}

/// A quantity whose figures and unit stay together on a line.
pub fn narrow(quantity: &str) -> String {
    quantity.replace(' ', "\u{202f}")
}

/// `27 %`, `9.1 %`, `0.4 %`; whole per cents from ten on.
pub fn percent(fraction: f64) -> String {
    let (sign, size) = (if fraction < 0.0 { "−" } else { "" }, (fraction * 100.0).abs());
    match size {
        ..0.05 => "0\u{202f}%".to_owned(),
        ..9.95 => format!("{sign}{size:.1}\u{202f}%"),
        _ => format!("{sign}{size:.0}\u{202f}%"),
    }
}

fn to_grid(value: f64, digits: u8, round: fn(f64) -> f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let places = f64::from(digits) - 1.0 - libm::log10(value.abs()).floor();
    // What is on the grid but for rounding stays there.
    let scaled = value * libm::pow(10.0, places);
    let nearest = scaled.round();
    let on_grid = if (scaled - nearest).abs() < 1e-9 * scaled.abs() { nearest } else { round(scaled) };
    on_grid / libm::pow(10.0, places)
}

const MONTHS: [Word<0>; 12] = [
    key::DAY_JANUARY,
    key::DAY_FEBRUARY,
    key::DAY_MARCH,
    key::DAY_APRIL,
    key::DAY_MAY,
    key::DAY_JUNE,
    key::DAY_JULY,
    key::DAY_AUGUST,
    key::DAY_SEPTEMBER,
    key::DAY_OCTOBER,
    key::DAY_NOVEMBER,
    key::DAY_DECEMBER,
];

/// Ends of a range want more than two figures, whatever the value itself is shown with.
pub(crate) const RANGE_DIGITS: u8 = 3;

#[cfg(test)]
mod tests {
    use benchleaf_core::units::parse;

    use super::*;

    fn unit(symbol: &str) -> DisplayUnit {
        DisplayUnit::declared(parse(symbol).unwrap())
    }

    #[test]
    fn a_span_of_temperature_is_in_kelvin() {
        assert_eq!(difference(&unit("°C"), 12.3, 2), "12 K");
        assert_eq!(difference(&unit("ms"), 0.0123, 2), "12 ms");
    }

    #[test]
    fn a_range_that_is_promised_is_rounded_inwards() {
        assert_eq!(range(Words::ENGLISH, &unit("µF"), (91.5625e-6, 121.09e-6), 2), "91.6 to 121 µF");
        assert_eq!(range_within(Words::ENGLISH, &unit("µF"), (91.51e-6, 121.9e-6), 3), "91.6 to 121 µF");
        assert_eq!(range_within(Words::ENGLISH, &unit("V"), (-1.2345, 5.0), 3), "−1.23 to 5.00 V");
        assert_eq!((up(0.000384, 1), down(0.4219, 2), up(0.0, 1)), (0.0004, 0.42, 0.0));
    }

    #[test]
    fn a_mean_has_the_digits_that_its_uncertainty_leaves_it() {
        let reported = |si, std| to_its_uncertainty(&unit("V"), si, std);
        assert_eq!((reported(11.952, 0.35), reported(14.01, 2.87)), ("11.95 V".into(), "14.0 V".into()));
        assert_eq!((reported(0.00206, 0.2), reported(0.0, 0.2)), ("0 V".into(), "0 V".into()));
        assert_eq!(to_its_uncertainty(&unit("°C"), 318.35, 8.6), "45.2 °C");
    }

    #[test]
    fn counts_are_grouped() {
        assert_eq!((count(1), count(1000), count(10_000)), ("1".into(), "1000".into(), "10\u{202f}000".into()));
    }

    #[test]
    fn percents_are_short_and_have_a_true_minus() {
        for (fraction, wanted) in [
            (0.27, "27\u{202f}%"),
            (-0.213, "−21\u{202f}%"),
            (0.0912, "9.1\u{202f}%"),
            (-0.0001, "0\u{202f}%"),
            (0.0996, "10\u{202f}%"),
        ] {
            assert_eq!(percent(fraction), wanted);
        }
    }
}
