//! Axes: the range, where the ticks stand and what they say. Linear axes take steps of 1, 2 or 5; logarithmic ones ticks
//! at 1, 2 and 5 of each decade, or at decades alone where there are many.

use benchleaf_core::{sheet::Scale, units::DisplayUnit};

/// An axis in the numbers of its unit.
pub(super) struct Ruler {
    /// Ends, in drawing numbers (the logarithm on a logarithmic axis).
    pub(super) low: f64,
    pub(super) high: f64,
    /// Drawing number and text of each tick.
    pub(super) ticks: Vec<(f64, String)>,
    scale: Scale,
}

impl Ruler {
    /// From exactly `low` to `high`.
    pub(super) fn exact(low: f64, high: f64, scale: Scale) -> Option<Self> {
        if !(low.is_finite() && (high - low).is_finite() && low < high) {
            return None;
        }
        if scale == Scale::Logarithmic && low > 0.0 {
            let (from, to) = (libm::log10(low), libm::log10(high));
            return Some(Self { low: from, high: to, ticks: decades(from, to), scale });
        }
        let step = step(high - low);
        Some(Self { low, high, ticks: steps(low, high, step), scale: Scale::Linear })
    }

    /// From a round number at or below `low` to one at or above `high`; from zero where that is near.
    pub(super) fn rounded(low: f64, high: f64, scale: Scale) -> Option<Self> {
        if !(low.is_finite() && (high - low).is_finite() && low <= high) {
            return None;
        }
        if scale == Scale::Logarithmic && low > 0.0 {
            let room = libm::log10(high / low).max(0.1) * 0.06;
            return Self::exact(low / libm::pow(10.0, room), high * libm::pow(10.0, room), scale);
        }
        let (mut low, mut high) = (low, high);
        if low > 0.0 && low < 0.4 * high {
            low = 0.0;
        }
        if high < 0.0 && high > 0.4 * low {
            high = 0.0;
        }
        if low == high {
            let room = if low == 0.0 { 1.0 } else { low.abs() * 0.1 };
            (low, high) = (low - room, high + room);
        }
        let step = step(high - low);
        let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
        // Near the ends of what a number can be, a round one may be beyond them.
        if !(high - low).is_finite() {
            return None;
        }
        Some(Self { low, high, ticks: steps(low, high, step), scale: Scale::Linear })
    }

    /// A number of the axis' unit as a drawing number.
    pub(super) fn place(&self, number: f64) -> f64 {
        match self.scale {
            Scale::Logarithmic => libm::log10(number.max(f64::MIN_POSITIVE)),
            Scale::Linear => number,
        }
    }
}

/// The unit as an axis title says it: in brackets where it is a quotient itself.
pub(super) fn unit_text(unit: &DisplayUnit) -> Option<String> {
    match unit.symbol() {
        "" => None,
        symbol if symbol.contains(['/', ' ']) => Some(format!("({symbol})")),
        symbol => Some(symbol.to_owned()),
    }
}

/// The step of 1, 2 or 5 times a power of ten that gives some five ticks.
fn step(span: f64) -> f64 {
    let rough = span / 5.0;
    let power = libm::pow(10.0, libm::log10(rough).floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= rough * 0.999).unwrap_or(rough)
}

fn steps(low: f64, high: f64, step: f64) -> Vec<(f64, String)> {
    let decimals = (-libm::log10(step).floor()).clamp(0.0, 12.0) as usize;
    let first = (low / step - 1e-6).ceil();
    (0..MOST)
        .map(|i| (first + f64::from(i)) * step)
        .take_while(|at| at.is_finite() && *at <= high + step * 1e-6)
        .map(|at| (at, tick_text(at, decimals)))
        .collect()
}

fn decades(from: f64, to: f64) -> Vec<(f64, String)> {
    let count = to - from;
    let multiples: &[f64] = if count > 3.5 { &[1.0] } else { &[1.0, 2.0, 5.0] };
    let every = (count / 7.0).ceil().max(1.0) as i32;
    let mut ticks = Vec::new();
    for decade in (from.floor() as i32)..=(to.ceil() as i32) {
        if decade.rem_euclid(every) != 0 {
            continue;
        }
        for multiple in multiples {
            let number = multiple * libm::pow(10.0, f64::from(decade));
            let at = libm::log10(number);
            if at >= from - 1e-9 && at <= to + 1e-9 {
                ticks.push((at, tick_text(number, (-decade).max(0) as usize)));
            }
        }
    }
    ticks
}

/// A tick's number: thousands parted by a thin space, powers of ten where it would be long.
fn tick_text(number: f64, decimals: usize) -> String {
    if number.abs() < 0.5 * libm::pow(10.0, -(decimals as f64)) {
        return "0".to_owned();
    }
    if number.abs() >= 999_999.5 || number.abs() < 1e-4 {
        return benchleaf_core::units::number(number, 2).replace(".0×", "×");
    }
    let plain = format!("{:.decimals$}", number.abs());
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    let mut text = String::new();
    if number < 0.0 && plain.contains(|c: char| c.is_ascii_digit() && c != '0') {
        text.push('−');
    }
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) && whole.len() > 4 {
            text.push('\u{202f}');
        }
        text.push(c);
    }
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

const MOST: u32 = 40;

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(ruler: Option<Ruler>) -> Vec<String> {
        ruler.unwrap().ticks.into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn linear_ticks_are_round() {
        assert_eq!(texts(Ruler::rounded(2.4, 48.1, Scale::Linear)), ["0", "10", "20", "30", "40", "50"]);
        assert_eq!(texts(Ruler::exact(0.0, 0.01, Scale::Linear)), ["0", "0.002", "0.004", "0.006", "0.008", "0.010"]);
        assert_eq!(texts(Ruler::rounded(-1.0, 1.0, Scale::Linear)), ["−1.0", "−0.5", "0", "0.5", "1.0"]);
        assert_eq!(texts(Ruler::exact(0.0, 50_000.0, Scale::Linear))[1], "10\u{202f}000");
        assert!((4..9).contains(&texts(Ruler::rounded(5.0, 5.0, Scale::Linear)).len()));
    }

    #[test]
    fn logarithmic_ticks_stand_at_one_two_five() {
        assert_eq!(texts(Ruler::exact(100.0, 2000.0, Scale::Logarithmic)), ["100", "200", "500", "1000", "2000"]);
        assert_eq!(texts(Ruler::exact(0.1, 1e5, Scale::Logarithmic)).first().unwrap(), "0.1");
        assert!(texts(Ruler::exact(1e-9, 1e9, Scale::Logarithmic)).len() < 10);
    }

    #[test]
    fn ranges_without_length_are_refused() {
        for (low, high) in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY), (-1e308, 1e308)] {
            assert!(Ruler::exact(low, high, Scale::Linear).is_none());
        }
        for (low, high) in [(-1e308, 1e308), (1.79e308, 1.79e308), (0.0, 5e-324), (f64::NAN, f64::NAN)] {
            assert!(Ruler::rounded(low, high, Scale::Linear).is_none(), "{low} {high}");
        }
        for scale in [Scale::Linear, Scale::Logarithmic] {
            for (low, high) in
                [(5e-324, 1e308), (1e-320, 1e-310), (1.0, 1.0 + f64::EPSILON), (0.0, 1.7e308), (-5e-324, f64::MAX)]
            {
                for ruler in [Ruler::exact(low, high, scale), Ruler::rounded(low, high, scale)].into_iter().flatten() {
                    assert!(ruler.low.is_finite() && ruler.high.is_finite() && ruler.low < ruler.high);
                    assert!(ruler.ticks.iter().all(|(at, _)| at.is_finite()), "{low} {high} {:?}", ruler.ticks);
                }
            }
        }
        assert!(Ruler::rounded(f64::INFINITY, f64::NEG_INFINITY, Scale::Linear).is_none());
    }
}
