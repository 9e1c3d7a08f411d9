//! What readings on the bench say about a value: each day held against the prediction, the givens that could explain a
//! reading, and the values of givens that the readings imply. SI throughout.

use benchleaf_words::Phrase;
use std::sync::Arc;

use super::Shown;
use crate::{day::Day, span::Span};

/// The readings of a value, and what they come to.
#[derive(Clone, Debug)]
pub struct BenchLog {
    /// Where its block stands.
    pub span: Span,
    /// How it was read.
    pub label: Option<String>,
    /// The value that was read: its index in [`super::Evaluation::values`].
    pub value: usize,
    /// Every reading, by the days; those that do not count with the reason.
    pub rows: Vec<ReadingRow>,
    /// What all builds would show.
    pub prediction: Prediction,
    /// Each day with readings that count, in order.
    pub days: Vec<BenchDay>,
    /// What could explain the last day's readings; absent where there is nothing to explain them by.
    pub suspects: Option<Suspects>,
    /// What the fits of this block came to.
    pub fits: Vec<Fit>,
}

/// A reading as it was written down.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingRow {
    /// Its day; absent where its date does not read.
    pub day: Option<Day>,
    /// The reading as written; in a file, the cell.
    pub written: String,
    /// What it is, or why it does not count.
    pub reading: Result<f64, Phrase>,
    /// The line of the worksheet or of the file that it stands in.
    pub line: usize,
    /// The file that it stands in, where that is not the worksheet.
    pub file: Option<Arc<str>>,
    /// What its author wrote beside it.
    pub label: Option<String>,
}

/// What the simulated builds say that a reading should be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prediction {
    /// Their mean; the nominal value where that does not vary, or where the mean does not exist.
    pub mean: f64,
    /// Their standard uncertainty; 0 where the value does not vary, absent where it does not exist.
    pub u: Option<f64>,
    /// The 95 % coverage interval; the worst case where builds were not simulated. Absent where the value does not vary.
    pub interval: Option<(f64, f64)>,
    /// Which coverage interval that is: the shortest where the prediction is skewed.
    pub shown: Shown,
    /// Share of builds without a finite value.
    pub fails_to_exist: f64,
}

/// The readings of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchDay {
    /// The day.
    pub day: Day,
    /// How many readings count.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their sample standard deviation; absent for one reading.
    pub sd: Option<f64>,
    /// Standard uncertainty of Type A of the mean: sd/√n (JCGM 100, 4.2); absent for one reading.
    pub type_a: Option<f64>,
    /// Standard uncertainty of the instrument (Type B); absent where nothing is said of it.
    pub instrument: Option<f64>,
    /// Standard uncertainty of the mean, both together; absent where neither is known.
    pub u: Option<f64>,
    /// Effective degrees of freedom of `u` (JCGM 100, G.4); infinite where the readings' own scatter has no part in it.
    pub degrees: f64,
    /// What `u` is multiplied by for a coverage of 95.45 %: Student's t of these degrees of freedom (JCGM 100, G.3).
    pub student: f64,
    /// How it stands to the prediction; absent where the value has no finite prediction, or `u` is unknown.
    pub against: Option<Comparison>,
}

/// A day's mean held against the prediction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Comparison {
    /// E_n = (mean − predicted) / √(U² + U_predicted²) with U = 2 u (ISO 13528); absent where the prediction has no
    /// standard uncertainty, or nothing has any.
    pub e_n: Option<f64>,
    /// The same with Student's factor in the place of 2 for the readings.
    pub e_n_student: Option<f64>,
    /// Whether the readings agree with the prediction: |E_n| at most 1; by the interval where there is no E_n.
    pub agrees: bool,
    /// Whether the mean lies within the interval of the prediction.
    pub inside: Option<bool>,
}

/// What could explain a reading: each given alone, all others at their nominal values.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspects {
    /// The day of the reading; absent where it was asked for by itself.
    pub day: Option<Day>,
    /// The reading.
    pub reading: f64,
    /// Those that could explain it, the likeliest first.
    pub ranked: Vec<Suspect>,
    /// Those that cannot, whatever they are.
    pub cannot: Vec<String>,
}

/// A given that could explain a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// The given.
    pub given: String,
    /// Its index in [`super::Evaluation::values`]; absent for a tolerance on a formula, whose `needed` is a factor or an offset.
    pub value: Option<usize>,
    /// Its nominal value.
    pub nominal: f64,
    /// What it would have to be.
    pub needed: f64,
    /// How many of its own standard uncertainties that is from its nominal value; below 0 where it is less.
    pub sigmas: f64,
    /// Whether its tolerance allows that.
    pub allowed: bool,
}

/// The values of givens that readings imply.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Where its line stands.
    pub span: Span,
    /// The values that were read, in order.
    pub from: Vec<String>,
    /// How many readings count.
    pub readings: usize,
    /// The givens.
    pub givens: Vec<Fitted>,
    /// Correlation coefficients between them, row by row.
    pub correlation: Vec<Vec<f64>>,
    /// Where more was read than is fitted: the weighted sum of squares of what is left, and its degrees of freedom.
    pub left: Option<(f64, usize)>,
}

/// A given that readings imply.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// The given.
    pub given: String,
    /// Its index in [`super::Evaluation::values`].
    pub value: usize,
    /// The value that the readings imply.
    pub si: f64,
    /// Its standard uncertainty; absent where that of a reading is unknown.
    pub u: Option<f64>,
    /// Its nominal value.
    pub nominal: f64,
    /// Whether its tolerance allows that.
    pub allowed: bool,
}
