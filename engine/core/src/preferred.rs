//! Preferred values of parts (IEC 60063): E3 to E24 by their table, E48 to E192 by rounding 10^(i/n) to three figures,
//! with the one exception of E192 (9.20).

/// Which value of a series is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Nearest by ratio.
    Nearest,
    /// The greatest that is not above.
    Below,
    /// The least that is not below.
    Above,
}

/// The choice of a preferred value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// The series.
    pub series: Series,
    /// Which way.
    pub direction: Direction,
}

/// A series of preferred values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Series {
    E3,
    E6,
    E12,
    E24,
    E48,
    E96,
    E192,
}

impl Series {
    /// Every series with its name.
    pub const TABLE: &'static [(Series, &'static str)] = &[
        (Series::E3, "E3"),
        (Series::E6, "E6"),
        (Series::E12, "E12"),
        (Series::E24, "E24"),
        (Series::E48, "E48"),
        (Series::E96, "E96"),
        (Series::E192, "E192"),
    ];

    /// Significant digits of its values.
    pub fn digits(self) -> u8 {
        match self {
            Series::E3 | Series::E6 | Series::E12 | Series::E24 => 2,
            Series::E48 | Series::E96 | Series::E192 => 3,
        }
    }

    /// Its values from one bound to another, rising; none where the bounds are not positive.
    pub(crate) fn between(self, low: f64, high: f64) -> Vec<f64> {
        if !(low > 0.0 && high.is_finite()) {
            return Vec::new();
        }
        let decades = libm::floor(libm::log10(low)) as i32..=libm::ceil(libm::log10(high)) as i32;
        let values = self.values();
        let all = decades.flat_map(|exponent| values.iter().map(move |value| scaled(*value, exponent)));
        all.filter(|x| *x >= low * (1.0 - 1e-9) && *x <= high * (1.0 + 1e-9)).collect()
    }

    /// A series by its name.
    pub fn named(name: &str) -> Option<Self> {
        Self::TABLE.iter().find(|row| row.1 == name).map(|row| row.0)
    }

    /// The values from 100 to 999, in hundredths of a decade's start, rising.
    pub fn values(self) -> Vec<u16> {
        let every = |step: usize| E24.iter().step_by(step).map(|tenths| tenths * 10).collect();
        let rounded = |n: u32| {
            (0..n)
                .map(|i| match (n, i) {
                    (192, 185) => 920,
                    _ => libm::round(100.0 * libm::pow(10.0, f64::from(i) / f64::from(n))) as u16,
                })
                .collect()
        };
        match self {
            Series::E3 => every(8),
            Series::E6 => every(4),
            Series::E12 => every(2),
            Series::E24 => every(1),
            Series::E48 => rounded(48),
            Series::E96 => rounded(96),
            Series::E192 => rounded(192),
        }
    }
}

/// E24 in tenths (IEC 60063, table 1); E12, E6 and E3 are every second, fourth and eighth of it.
const E24: [u16; 24] = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];

impl Choice {
    /// The chosen value for `x`; undefined where `x` is not positive and finite.
    pub(crate) fn of(self, x: f64) -> f64 {
        if !(x > 0.0 && x.is_finite()) {
            return f64::NAN;
        }
        // A value that is off a preferred one only by rounding is that one.
        const SAME: f64 = 1e-9;
        let decade = libm::floor(libm::log10(x)) as i32;
        let mut below = (f64::NAN, 0, 0);
        for (value, exponent) in candidates(self.series, decade) {
            let candidate = f64::from(value) * libm::exp10(f64::from(exponent - 2));
            if candidate <= x * (1.0 + SAME) {
                below = (candidate, value, exponent);
                continue;
            }
            let on_the_mark = below.0 >= x * (1.0 - SAME);
            let takes_below = match self.direction {
                Direction::Below => true,
                Direction::Above => on_the_mark,
                Direction::Nearest => x / below.0 <= candidate / x,
            };
            return if takes_below { scaled(below.1, below.2) } else { scaled(value, exponent) };
        }
        scaled(below.1, below.2)
    }
}

fn candidates(series: Series, decade: i32) -> impl Iterator<Item = (u16, i32)> {
    let values = series.values();
    (decade - 1..=decade + 1).flat_map(move |exponent| values.clone().into_iter().map(move |value| (value, exponent)))
}

/// `value`/100 · 10^exponent, to the nearest double.
fn scaled(value: u16, exponent: i32) -> f64 {
    format!("{value}e{}", exponent - 2).parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn choose(series: Series, direction: Direction, x: f64) -> f64 {
        Choice { series, direction }.of(x)
    }

    /// IEC 60063: the number of values, the ends, and the exception of E192.
    #[test]
    fn series_have_their_values() {
        for (series, name) in Series::TABLE {
            let values = series.values();
            assert_eq!(values.len(), name[1..].parse::<usize>().unwrap());
            assert!(values.windows(2).all(|pair| pair[0] < pair[1]));
        }
        assert_eq!(Series::E3.values(), [100, 220, 470]);
        assert_eq!(Series::E6.values(), [100, 150, 220, 330, 470, 680]);
        assert_eq!(Series::E12.values(), [100, 120, 150, 180, 220, 270, 330, 390, 470, 560, 680, 820]);
        assert_eq!(Series::E48.values()[..6], [100, 105, 110, 115, 121, 127]);
        assert_eq!(Series::E96.values()[..6], [100, 102, 105, 107, 110, 113]);
        assert_eq!(Series::E96.values()[90..], [866, 887, 909, 931, 953, 976]);
        assert!(Series::E192.values().contains(&920));
        assert!(!Series::E192.values().contains(&919));
    }

    #[test]
    fn values_are_chosen_by_ratio_and_direction() {
        assert_eq!(choose(Series::E24, Direction::Below, 2260.0), 2200.0);
        assert_eq!(choose(Series::E24, Direction::Above, 2260.0), 2400.0);
        assert_eq!(choose(Series::E24, Direction::Nearest, 2260.0), 2200.0);
        assert_eq!(choose(Series::E12, Direction::Above, 4700.0), 4700.0);
        assert_eq!(choose(Series::E12, Direction::Below, 4700.0), 4700.0);
        assert_eq!(choose(Series::E12, Direction::Below, 0.1 + 0.2), 0.27);
        assert_eq!(choose(Series::E24, Direction::Above, 9.5), 10.0);
        assert_eq!(choose(Series::E24, Direction::Below, 1.0), 1.0);
        assert_eq!(choose(Series::E3, Direction::Nearest, 22e-6), 22e-6);
        assert!(choose(Series::E24, Direction::Below, 0.0).is_nan());
        assert!(choose(Series::E24, Direction::Below, -5.0).is_nan());
    }
}
