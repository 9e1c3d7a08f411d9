//! What the other blocks come to: safety notes, exercises, calls of handbook models, Rust blocks, choices of part values.

use super::{Status, Value};
use crate::{lang::ast::Expr, sheet::Signal, span::Span, units::DisplayUnit};

/// A safety note's state.
#[derive(Clone, Debug)]
pub struct NoteState {
    /// Its signal word.
    pub signal: Signal,
    /// Where its block stands.
    pub span: Span,
    /// Whether it is shown in full; a quiet one's condition was not found to be met anywhere in the box.
    pub shown: bool,
    /// Whether that is certain: false where nothing was found to meet the condition, and nothing proves that it is not met.
    /// Such a note is shown all the same where people can get hurt.
    pub proven: bool,
    /// The condition as written, where it has one.
    pub condition: Option<Span>,
    /// The values that met the condition, as a reader sees them: name and text (`("reg.junction", "118 °C")`).
    pub met_by: Vec<(String, String)>,
}

/// An exercise, ready to be set to a learner.
#[derive(Clone, Debug)]
pub struct Task {
    /// Its name.
    pub name: String,
    /// Where its block stands.
    pub span: Span,
    /// The question, a paragraph each; the spans hold Markdown.
    pub ask: Vec<Span>,
    /// Hints, in the order in which a learner takes them; the spans hold Markdown.
    pub hints: Vec<Span>,
    /// What a right answer earns.
    pub points: f64,
    /// How many slips are known by name.
    pub slips: usize,
    /// The givens that differ from learner to learner, in order.
    pub varies: Vec<String>,
    /// The worked solution: its formula.
    pub formula: Expr,
    /// The worked solution: what it comes to, under the exercise's name.
    pub solution: Value,
    /// The unit that it is asked in; without a prefix where its author names none, so that it does not show the size.
    pub unit: DisplayUnit,
    /// How far off an answer may be, as a reader sees it: `2 %`, `0.5 s`.
    pub within: String,
}

/// A call of a handbook model at the nominal values.
#[derive(Clone, Debug)]
pub struct ModelCall {
    /// The record that it gives.
    pub record: String,
    /// The model.
    pub model: &'static crate::handbook::Model,
    /// Its inputs, SI; a choice as its index.
    pub inputs: Vec<f64>,
}

/// What a Rust block came to. Where it was not run its results are no values, and what waits for them is not evaluated.
#[derive(Clone, Debug)]
pub struct RustState {
    /// Where its block stands.
    pub span: Span,
    /// The values that it gives: their indices in [`Evaluation::values`].
    pub outputs: Vec<usize>,
    /// The series that it gives.
    pub series: Vec<Series>,
    /// What it printed at the nominal values.
    pub printed: String,
    /// Under what limits it ran, in a sentence; empty where it was not run.
    pub terms: String,
    /// How far the tolerances were followed through it; absent where it was not run or came to nothing.
    pub fidelity: Option<crate::host::Fidelity>,
    /// The givens that it depends on, directly or through other values.
    pub givens: Vec<String>,
    /// The givens that what follows from it depends on besides.
    pub beside: Vec<String>,
}

/// A series that a Rust block gave at the nominal values.
#[derive(Clone, Debug)]
pub struct Series {
    /// Its name.
    pub name: String,
    /// The label that a reader sees.
    pub label: Option<String>,
    /// The unit it is shown in.
    pub unit: DisplayUnit,
    /// Its numbers, SI.
    pub numbers: Vec<f64>,
}

/// `choose E24 for R_a, R_b so that f is 1 kHz`: the best combinations.
#[derive(Clone, Debug)]
pub struct ChoiceTable {
    /// The label that a reader sees.
    pub label: Option<String>,
    /// Where its statement stands.
    pub span: Span,
    /// The series.
    pub series: &'static str,
    /// The givens that are chosen.
    pub givens: Vec<String>,
    /// What comes near the target: as written.
    pub subject: String,
    /// The target, SI.
    pub target: f64,
    /// The unit of target and results.
    pub unit: DisplayUnit,
    /// Significant digits shown.
    pub digits: u8,
    /// The best combinations, the best first.
    pub rows: Vec<ChoiceRow>,
}

/// A combination of preferred values.
#[derive(Clone, Debug)]
pub struct ChoiceRow {
    /// A value for each given, SI.
    pub values: Vec<f64>,
    /// The same as a reader sees them.
    pub shown: Vec<String>,
    /// What it comes to, SI.
    pub result: f64,
    /// How far that is from the target, as a fraction of it; absent where the target is zero.
    pub error: Option<f64>,
    /// Its worst case with the tolerances of the givens, SI.
    pub worst: Option<(f64, f64)>,
    /// How the requirements that it reaches stand with it; absent where it reaches none.
    pub status: Option<Status>,
}
