//! The verdict on a requirement: whether it holds, by what margin, how often it fails, and what would mend it.

use super::{Spread, WorstCase};
use crate::{
    span::Span,
    units::{DisplayUnit, ValueType},
};

/// A requirement's verdict.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where its statement stands.
    pub span: Span,
    /// Whether it holds.
    pub status: Status,
    /// Whether that is certain. Where it is not, nothing was found that breaks it, and nothing proves that nothing does: it
    /// is at risk.
    pub proven: bool,
    /// What is kept: a quantity within bounds, or a condition that must be true.
    pub value_type: ValueType,
    /// What is kept, nominal, SI.
    pub nominal: f64,
    /// What is kept, worst case.
    pub worst: Option<WorstCase>,
    /// The unit it is shown in.
    pub unit: DisplayUnit,
    /// Significant digits shown.
    pub digits: u8,
    /// Least value allowed, SI (nominal, and the highest it can come to).
    pub lower: Option<LimitValue>,
    /// Greatest value allowed, SI (nominal, and the lowest it can come to).
    pub upper: Option<LimitValue>,
    /// Distance from the nearer bound at nominal values, as a fraction of the bound; negative beyond it. Absent where the
    /// bound is zero.
    pub margin: Option<f64>,
    /// The same at the worst case.
    pub margin_worst: Option<f64>,
    /// Distance from the nearer bound at nominal values, SI; negative beyond it. Absent for a condition.
    pub spare: Option<f64>,
    /// The same at the worst case.
    pub spare_worst: Option<f64>,
    /// The spread of what is kept; absent where it does not vary, and for a condition.
    pub spread: Option<Spread>,
    /// In how many builds it fails; absent where nothing varies.
    pub fails: Option<Fails>,
    /// What would make it hold, where it does not.
    pub remedies: Vec<Remedy>,
    /// The given that costs most of the margin.
    pub blame: Option<String>,
}

/// A bound's value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitValue {
    /// At nominal values, SI.
    pub nominal: f64,
    /// Where it is tightest over the box, SI.
    pub tightest: f64,
}

/// Whether a requirement holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Over the whole worst case.
    Holds,
    /// At the nominal values, but not over the worst case.
    AtRisk,
    /// Not even at the nominal values.
    Broken,
}

impl Status {
    /// The word on pages and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Status::Holds => "holds",
            Status::AtRisk => "at-risk",
            Status::Broken => "broken",
        }
    }
}

/// How often a requirement fails.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fails {
    /// Share of builds.
    pub share: f64,
    /// Half the width of the 95 % interval of that share.
    pub uncertainty: f64,
}

/// What would make a requirement hold over the whole worst case.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// The given to change.
    pub given: String,
    /// How.
    pub change: Change,
}

/// A change to one given.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// A tolerance so much of the present one, between 0 and 1; and its ends then, SI.
    Tolerance {
        /// Part of the present tolerance.
        part: f64,
        /// Least value then.
        low: f64,
        /// Greatest value then.
        high: f64,
    },
    /// Another preferred value, with the same tolerance.
    Preferred {
        /// The value, SI.
        value: f64,
        /// As a reader sees it.
        shown: String,
        /// The series it is of.
        series: &'static str,
    },
    /// No tolerance of this given alone would do.
    NoToleranceWill,
}
