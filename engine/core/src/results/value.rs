//! A value: its nominal value, its range, how it varies and what it varies with.

use std::sync::Arc;

use benchleaf_words::{Words, key, say};

use crate::{
    lang::ast::Definition,
    span::Span,
    units::{DisplayUnit, ValueType},
};

/// A named value and all that is known of it.
#[derive(Clone, Debug)]
pub struct Value {
    /// Its name; `record.field` for a field.
    pub name: String,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where its statement stands.
    pub span: Span,
    /// Whether a reader may change it.
    pub role: Role,
    /// Dimension and kind, or a condition.
    pub value_type: ValueType,
    /// The unit it is shown in.
    pub unit: DisplayUnit,
    /// Significant digits shown.
    pub digits: u8,
    /// The nominal value, SI. For a condition 1 or 0.
    pub nominal: f64,
    /// The worst case; absent where the value does not vary.
    pub worst: Option<WorstCase>,
    /// How it is spread over all builds; absent where it does not vary, and for a condition.
    pub spread: Option<Spread>,
    /// Each given's share of the variance, the greatest first; empty for a given and where nothing varies.
    pub shares: Vec<Share>,
    /// What the first-order rule gives; absent for a given and where nothing varies.
    pub first_order: Option<FirstOrder>,
    /// The worksheet that it is taken from; absent for a value of this one.
    pub origin: Option<Arc<Origin>>,
}

/// A given of another worksheet, which a reader of this one may change too.
#[derive(Clone, Debug)]
pub struct TakenGiven {
    /// Its name here.
    pub name: String,
    /// Its definition there. Its places are of no text that is at hand.
    pub definition: Definition,
    /// The value without its tolerance, as its author wrote it; nothing where only the ends are written.
    pub written: Option<String>,
}

/// A given that stands behind a value of another worksheet, and that nobody here has a name for.
#[derive(Clone, Debug)]
pub struct GivenBehind {
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where it stands.
    pub origin: Origin,
}

/// Where a value of another worksheet stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// The worksheet, by its path from the one that uses it.
    pub file: Arc<str>,
    /// The value's name there.
    pub name: String,
}

impl Value {
    /// The nominal value as a reader sees it: `22.0 s`; `yes` or `no` for a condition.
    pub fn shown(&self) -> String {
        self.shown_in(Words::ENGLISH)
    }

    /// The same in a language.
    pub fn shown_in(&self, words: Words<'_>) -> String {
        match self.value_type {
            ValueType::Condition if self.nominal == 0.0 => words.text(key::FORMAT_NO).to_owned(),
            ValueType::Condition => words.text(key::FORMAT_YES).to_owned(),
            ValueType::Quantity(_) => self.unit.join(self.number()),
        }
    }

    /// The nominal value's number in its unit. A count is a count, not a measurement, and has no decimals.
    pub fn number(&self) -> String {
        if self.is_count() { self.nominal.to_string() } else { self.unit.number(self.nominal, self.digits) }
    }

    fn is_count(&self) -> bool {
        let whole = self.nominal.fract() == 0.0 && self.nominal.abs() < 1e6 && self.nominal >= 0.0;
        whole && self.unit.symbol().is_empty() && self.worst.is_none()
    }

    /// The worst-case range as a reader sees it: `15.9 s to 36.4 s`; absent where the value does not vary.
    pub fn shown_range(&self) -> Option<String> {
        self.shown_range_in(Words::ENGLISH)
    }

    /// The same in a language.
    pub fn shown_range_in(&self, words: Words<'_>) -> Option<String> {
        let worst = self.worst.as_ref()?;
        if self.value_type == ValueType::Condition {
            return Some(words.text(key::FORMAT_YES_OR_NO).to_owned());
        }
        let (unit, digits) = (self.unit.for_range(worst.low, worst.high), self.digits.max(RANGE_DIGITS));
        let end =
            |si: f64| if si.is_infinite() { words.text(key::FORMAT_NO_END).to_owned() } else { unit.show(si, digits) };
        Some(say!(words, FORMAT_RANGE, low = end(worst.low), high = end(worst.high)))
    }

    /// One end of the worst case; the nominal value where it does not vary.
    pub(super) fn shown_end(&self, words: Words<'_>, end: impl Fn(&WorstCase) -> f64) -> String {
        match &self.worst {
            Some(worst) if self.value_type != ValueType::Condition => {
                self.unit.show(end(worst), self.digits.max(RANGE_DIGITS))
            }
            _ => self.shown_in(words),
        }
    }
}

/// Least significant digits of a range: `12 V ± 5 %` is not from 11 to 13 V.
const RANGE_DIGITS: u8 = 3;

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A literal quantity, which a reader may change.
    Given,
    /// Worked out.
    Derived,
    /// A field of a record.
    Field,
}

/// How a value is spread over all builds (JCGM 101).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Mean, SI; absent where it does not exist, as where the value is infinite in some builds.
    pub mean: Option<f64>,
    /// Standard uncertainty, SI; absent where it does not exist.
    pub std: Option<f64>,
    /// The 95 % coverage intervals, SI, of the builds that have a value. Infinite builds count as infinite, so that an end
    /// may be infinite.
    pub interval: Interval95,
    /// Builds simulated; 0 where the figures are exact.
    pub samples: u64,
    /// Share of builds in which the formula had no value; the other figures are of the rest.
    pub undefined: f64,
    /// Share of builds in which the value was infinite.
    pub infinite: f64,
    /// How far an end of the symmetric interval may be off because samples were counted in bins instead of kept, SI. The
    /// shortest one's length may be off by twice as much; its place by more, where others are nearly as short.
    pub quantile_error: f64,
}

impl Spread {
    /// Share of builds without a finite value.
    pub fn fails_to_exist(&self) -> f64 {
        self.undefined + self.infinite
    }
}

/// The two 95 % coverage intervals of JCGM 101, 7.7.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval95 {
    /// The shortest.
    pub shortest: (f64, f64),
    /// As many builds below as above.
    pub symmetric: (f64, f64),
    /// Which of them pages show: the shortest where it is clearly shorter.
    pub shown: Shown,
}

impl Interval95 {
    /// The interval that is shown.
    pub fn ends(&self) -> (f64, f64) {
        match self.shown {
            Shown::Shortest => self.shortest,
            Shown::Symmetric => self.symmetric,
        }
    }
}

/// Which coverage interval is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// The shortest.
    Shortest,
    /// The symmetric one.
    Symmetric,
}

impl Shown {
    /// The word on pages.
    pub fn word(self) -> &'static str {
        match self {
            Shown::Shortest => "shortest",
            Shown::Symmetric => "symmetric",
        }
    }
}

/// A given's share of a value's variance.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// The given.
    pub name: String,
    /// What it brings alone. By the first-order rule all of these come to 1, and half of each covariance is in both givens'
    /// shares, so that one may be below zero. By a straight line through the builds they come to 0.98 up to 1: what the
    /// line leaves of the variance is nobody's. With a total effect beside them they come to any part of 1, but for chance,
    /// which may also make one that is zero come out a little below.
    pub first: f64,
    /// What it brings together with the others; absent where the first-order rule or a straight line gives the shares.
    pub total: Option<f64>,
    /// The greater standard error of the two; of a straight line's share, with what the line leaves of the variance. Absent
    /// where the first-order rule gives the shares.
    pub error: Option<f64>,
}

/// First-order propagation (JCGM 100), taken at the means of the givens.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstOrder {
    /// The value at the means, SI.
    pub estimate: f64,
    /// Combined standard uncertainty, SI.
    pub std: f64,
    /// The same with the variance of Student's t, ν/(ν − 2) times as great, for givens with ν degrees of freedom (JCGM 101,
    /// 6.4.9), SI; infinite where that does not exist.
    pub deviation: f64,
    /// Effective degrees of freedom (JCGM 100, G.4), where a given's uncertainty comes with some.
    pub degrees: Option<f64>,
    /// Each given's part in it.
    pub sensitivities: Vec<Sensitivity>,
    /// Whether it agrees with the simulated builds.
    pub agreement: Agreement,
}

/// A given's part in a combined standard uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// The given.
    pub name: String,
    /// Sensitivity coefficient: SI of the value over SI of the given.
    pub coefficient: f64,
    /// Standard uncertainty of the given, SI.
    pub uncertainty: f64,
}

/// How the first-order rule agrees with the simulated builds (JCGM 101, clause 8).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agreement {
    /// Within what the clause allows.
    Agrees,
    /// The standard uncertainty agrees, but the spread is not normal, so that twice of it is no 95 % interval.
    NotNormal,
    /// The formula is as straight as the rule takes it for; the builds spread wider, by Student's t.
    StudentT,
    /// By Student's t of two degrees of freedom or fewer the builds have no standard deviation to compare with.
    NoDeviation,
    /// The formula bends too much for the simple rule.
    Bends,
}

/// The true extremes of a value over the box of tolerances.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstCase {
    /// Least value, SI; negative infinity where unbounded.
    pub low: f64,
    /// Greatest value, SI; infinity where unbounded.
    pub high: f64,
    /// The combination of givens that gives the least value.
    pub low_at: Vec<GivenValue>,
    /// The combination of givens that gives the greatest value.
    pub high_at: Vec<GivenValue>,
    /// How the extremes were found.
    pub certainty: Certainty,
    /// Surely holds every value over the box, SI; the range itself where that is proven, endless where nothing is known.
    pub enclosure: (f64, f64),
}

/// A given at a value of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenValue {
    /// The given's name.
    pub name: String,
    /// Its value, SI (for a tolerance on a formula, the factor or the offset).
    pub value: f64,
    /// Which end of its tolerance that is.
    pub end: End,
}

/// Where in its tolerance a given stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// At its least.
    Low,
    /// At its greatest.
    High,
    /// Between.
    Inside,
}

/// How extremes were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Certainty {
    /// Nothing in the box goes beyond them: the signs of the derivatives are settled, so that the corners are the extremes,
    /// or an enclosure agrees with the values found to nine digits.
    Proven,
    /// By search over corners and inside; an enclosure is wider, or there is none.
    Searched,
}
