//! Numbers of a learner's own. Which they are follows from the exercise's name, the given's name and the learner alone,
//! so that the same learner gets the same numbers on any machine and on any day. The hash is FNV-1a (64 bits, the
//! parameters of its authors Fowler, Noll and Vo) with the finalising steps of SplitMix64 behind it.

use std::fmt;

use crate::{
    case::lowercase,
    check::{CheckedExercise, CheckedVary},
    sheet::{Edit, Worksheet},
    span::Span,
    units::{DisplayUnit, Unit},
};

/// An exercise with a learner's numbers; with the author's own where it does not vary.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Variant {
    exercise: usize,
    numbers: Vec<Number>,
}

/// A given with a number of the learner's own.
#[derive(Clone, Debug)]
pub(super) struct Number {
    pub(super) source: u32,
    pub(super) si: f64,
    name: String,
    /// Where the author's literal stands.
    literal: Span,
    /// The literal that takes its place.
    text: String,
}

impl Variant {
    pub(super) fn of(place: usize, exercise: &CheckedExercise, learner: Option<&str>) -> Self {
        let key = learner.map(learner_key).filter(|key| !key.is_empty());
        let numbers = key.map(|key| {
            let number = |vary: &CheckedVary| vary.number(hash(&[&exercise.name, &vary.name, &key]));
            exercise.varies.iter().map(number).collect()
        });
        Self { exercise: place, numbers: numbers.unwrap_or_default() }
    }

    /// Whether it has the author's own numbers.
    pub fn is_plain(&self) -> bool {
        self.numbers.is_empty()
    }

    /// The worksheet with these numbers in the place of the author's.
    pub fn worksheet(&self, worksheet: &Worksheet) -> Worksheet {
        let edit = |number: &Number| Edit { span: number.literal, text: number.text.clone() };
        worksheet.edited(&self.numbers.iter().map(edit).collect::<Vec<_>>())
    }

    pub(super) fn exercise(&self) -> usize {
        self.exercise
    }

    pub(super) fn numbers(&self) -> &[Number] {
        &self.numbers
    }
}

/// `R_t = 220 kΩ, C_t = 22 µF`.
impl fmt::Display for Variant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, number) in self.numbers.iter().enumerate() {
            let gap = if i == 0 { "" } else { ", " };
            write!(f, "{gap}{} = {}", number.name, number.text)?;
        }
        Ok(())
    }
}

/// What a learner is distinguished by: case, and blanks more than one, make no difference.
pub fn learner_key(learner: &str) -> String {
    lowercase(&learner.split_whitespace().collect::<Vec<_>>().join(" "))
}

impl CheckedVary {
    /// A number of the span.
    fn number(&self, hash: u64) -> Number {
        let of_series = self.series.as_ref().and_then(|(series, values)| {
            let place = hash.checked_rem(values.len() as u64)?;
            Some((values.get(place as usize).copied()?, series.digits()))
        });
        let part = (hash >> 11) as f64 / (1_u64 << 53) as f64;
        let even = self.low.0 + part * (self.high.0 - self.low.0);
        let unit = self.unit(of_series.map_or(even, |(si, _)| si));
        let number = match of_series {
            Some((si, digits)) => rounded(unit.of_si(si), digits),
            None => on_grid(unit.of_si(even), unit.of_si(self.low.0), unit.of_si(self.high.0)),
        };
        let gap = if unit.symbol.is_empty() { "" } else { " " };
        let text = format!("{number}{gap}{}", unit.symbol);
        let si = unit.to_si(number);
        Number { source: self.source, si, name: self.name.clone(), literal: self.literal, text }
    }

    /// A unit in which the number is easily read: one of those that the author wrote, if one does.
    fn unit(&self, si: f64) -> Unit {
        let written = [&self.low.1, &self.high.1];
        let reads_well = |unit: &&Unit| (1.0..1000.0).contains(&unit.of_si(si).abs());
        if let Some(unit) = written.into_iter().find(reads_well) {
            return unit.clone();
        }
        let picked = DisplayUnit::picked(self.low.1.quantity, si).unit;
        let same = crate::units::parse(&picked.symbol).is_some_and(|unit| unit.quantity == self.low.1.quantity);
        if same && reads_well(&&picked) { picked } else { self.high.1.clone() }
    }
}

/// A number of an even span to two significant digits, but no finer than a hundredth of the span's decade.
fn on_grid(number: f64, low: f64, high: f64) -> f64 {
    let decade = |x: f64| libm::floor(libm::log10(x.abs()));
    let own = decade(number) - 1.0;
    let places = -own.max(decade(high - low) - 2.0) as i32;
    let shown = if places > 0 {
        format!("{number:.*}", places as usize).parse().unwrap_or(number)
    } else {
        let step = libm::exp10(f64::from(-places));
        libm::round(number / step) * step
    };
    // An end that has more digits is taken as it was written.
    let within = shown.max(rounded(low, WRITTEN)).min(rounded(high, WRITTEN));
    // Zero has no sign.
    if within == 0.0 { 0.0 } else { within }
}

fn rounded(number: f64, digits: u8) -> f64 {
    format!("{number:.*e}", usize::from(digits.max(1)) - 1).parse().unwrap_or(number)
}

fn hash(parts: &[&str]) -> u64 {
    let mut state: u64 = 0xcbf2_9ce4_8422_2325;
    for part in parts {
        for byte in part.bytes().chain([0]) {
            state = (state ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
    state = (state ^ (state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    state = (state ^ (state >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    state ^ (state >> 31)
}

/// Variants are distinguished by their numbers as written.
impl PartialEq for Number {
    fn eq(&self, other: &Self) -> bool {
        (self.source, &self.text) == (other.source, &other.text)
    }
}

impl Eq for Number {}

impl PartialOrd for Number {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Number {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (self.source, &self.text).cmp(&(other.source, &other.text))
    }
}

impl std::hash::Hash for Number {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        (self.source, &self.text).hash(state);
    }
}

/// Significant digits of an end as it was written, its way through SI and back left out.
const WRITTEN: u8 = 12;
