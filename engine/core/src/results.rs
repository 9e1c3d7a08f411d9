//! What an evaluation came to. All numbers are in SI base units (kelvin for temperatures); a [`DisplayUnit`] says in
//! which unit a reader sees them.

mod bench;
mod builds;

pub use bench::*;
pub use builds::*;

use std::collections::BTreeSet;

use crate::{
    bill::Part,
    lang::ast::{Expr, StatementId},
    problem::Problem,
    sheet::{InlineFormat, InlineRequest, Scale, Sheet, Signal},
    span::{LineIndex, Span},
    units::{DisplayUnit, Unit, ValueType, parse},
};

/// A worksheet, read and evaluated.
#[derive(Clone, Debug)]
pub struct Evaluation {
    /// The worksheet as read.
    pub sheet: Sheet,
    /// Every named value, in reading order; records give one entry a field.
    pub values: Vec<Value>,
    /// Every requirement.
    pub keeps: Vec<Verdict>,
    /// Every safety note.
    pub notes: Vec<NoteState>,
    /// Every choice of preferred values.
    pub choices: Vec<ChoiceTable>,
    /// Every plot block.
    pub plots: Vec<PlotData>,
    /// Every part that can be bought as its line says.
    pub parts: Vec<Part>,
    /// Every exercise that can be asked and marked.
    pub exercises: Vec<Task>,
    /// Every bench.
    pub benches: Vec<BenchLog>,
    /// Every block of builds.
    pub builds: Vec<BuildSet>,
    /// Every call of a handbook model that a record holds.
    pub calls: Vec<ModelCall>,
    /// Every Rust block.
    pub rust: Vec<RustState>,
    /// The fields of records that anything on the page reads or shows, as `record.field`.
    pub fields_read: BTreeSet<String>,
    /// What each statement came to, by [`StatementId`].
    pub outcomes: Vec<Outcome>,
    /// What each block came to, in the order of `sheet.blocks`.
    pub block_outcomes: Vec<BlockOutcome>,
    /// Everything that is wrong, in reading order.
    pub problems: Vec<Problem>,
    /// Lines of the source.
    pub lines: LineIndex,
}

impl Evaluation {
    /// What a statement came to.
    pub fn outcome(&self, id: StatementId) -> &Outcome {
        self.outcomes.get(id.0 as usize).unwrap_or(&Outcome::Failed)
    }

    /// A value by its name (`t_on`, `reg.junction`).
    pub fn value(&self, name: &str) -> Option<&Value> {
        self.values.iter().find(|value| value.name == name)
    }

    /// Takes in more problems, in reading order.
    pub fn add(&mut self, problems: Vec<Problem>) {
        self.problems.extend(problems);
        self.problems.sort_by_key(|problem| (problem.span, problem.code));
    }

    /// What an inline result shows.
    ///
    /// # Errors
    /// Why it cannot be shown, in a sentence.
    pub fn inline(&self, request: &InlineRequest) -> Result<InlineValue, String> {
        let name = &request.name;
        let value = self.value(name).ok_or_else(|| format!("`{name}` has no value to show"))?;
        if !value.nominal.is_finite() {
            return Err(format!("`{name}` has no finite value"));
        }
        let unit = inline_unit(request, value.value_type)?.map_or_else(|| value.unit.clone(), DisplayUnit::declared);
        let text = match &request.format {
            InlineFormat::Digits(digits) => unit.show(value.nominal, *digits),
            InlineFormat::Range => value.shown_range().unwrap_or_else(|| value.shown()),
            InlineFormat::Least => value.shown_end(|worst| worst.low),
            InlineFormat::Greatest => value.shown_end(|worst| worst.high),
            InlineFormat::Unit(_) => unit.show(value.nominal, value.digits.max(self.sheet.metadata.digits)),
            InlineFormat::Plain => value.shown(),
        };
        Ok(InlineValue { text })
    }
}

/// An inline result as a reader sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InlineValue {
    /// Number and unit.
    pub text: String,
}

/// The unit that an inline result asks for, held against the type of its value.
pub(crate) fn inline_unit(request: &InlineRequest, value_type: ValueType) -> Result<Option<Unit>, String> {
    let InlineFormat::Unit(symbol) = &request.format else { return Ok(None) };
    let unit = parse(symbol).ok_or_else(|| format!("`{symbol}` is not a unit that the engine knows"))?;
    match value_type {
        ValueType::Quantity(quantity)
            if quantity.dimension == unit.quantity.dimension
                && (quantity.kind.joined(unit.quantity.kind).is_some() || symbol == "K") =>
        {
            Ok(Some(unit))
        }
        other => Err(format!("`{}` is {}; it cannot be shown in {symbol}", request.name, other.describe())),
    }
}

/// What a statement came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// A value: its index in [`Evaluation::values`].
    Value(usize),
    /// A record: the indices of its fields.
    Record(Vec<usize>),
    /// A requirement: its index in [`Evaluation::keeps`].
    Keep(usize),
    /// A choice of preferred values: its index in [`Evaluation::choices`].
    Choice(usize),
    /// A function or a correlation: nothing to show but itself.
    Stated,
    /// It could not be evaluated; a problem says why.
    Failed,
}

/// What a block came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BlockOutcome {
    /// Its statements have outcomes of their own.
    Calc,
    /// Parts: their statements have outcomes of their own, and they stand in [`Evaluation::parts`].
    Parts,
    /// A note: its index in [`Evaluation::notes`].
    Note(usize),
    /// A plot: its index in [`Evaluation::plots`].
    Plot(usize),
    /// An exercise: its index in [`Evaluation::exercises`].
    Exercise(usize),
    /// A bench: its index in [`Evaluation::benches`].
    Bench(usize),
    /// Builds side by side: their index in [`Evaluation::builds`].
    Builds(usize),
    /// A Rust block: its index in [`Evaluation::rust`].
    Rust(usize),
    /// Nothing was evaluated.
    NotEvaluated,
}

/// A named value and all that is known of it.
#[derive(Clone, Debug)]
pub struct Value {
    /// Its name; `record.field` for a field.
    pub name: String,
    /// What a reader is told it is.
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
}

impl Value {
    /// The nominal value as a reader sees it: `22.0 s`; `yes` or `no` for a condition.
    pub fn shown(&self) -> String {
        match self.value_type {
            ValueType::Condition if self.nominal == 0.0 => "no".to_owned(),
            ValueType::Condition => "yes".to_owned(),
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
        let worst = self.worst.as_ref()?;
        if self.value_type == ValueType::Condition {
            return Some("yes or no".to_owned());
        }
        let (unit, digits) = (self.unit.for_range(worst.low, worst.high), self.digits.max(RANGE_DIGITS));
        let end = |si: f64| if si.is_infinite() { "no end".to_owned() } else { unit.show(si, digits) };
        Some(format!("{} to {}", end(worst.low), end(worst.high)))
    }

    /// One end of the worst case; the nominal value where it does not vary.
    fn shown_end(&self, end: impl Fn(&WorstCase) -> f64) -> String {
        match &self.worst {
            Some(worst) if self.value_type != ValueType::Condition => {
                self.unit.show(end(worst), self.digits.max(RANGE_DIGITS))
            }
            _ => self.shown(),
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
    /// What it brings together with the others; absent where the first-order rule or a straight line tells the shares.
    pub total: Option<f64>,
    /// The greater standard error of the two; of a straight line's share, with what the line leaves of the variance. Absent
    /// where the first-order rule tells the shares.
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

/// The true extremes of a value over the box of tolerances.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstCase {
    /// Least value, SI; negative infinity where unbounded.
    pub low: f64,
    /// Greatest value, SI; infinity where unbounded.
    pub high: f64,
    /// The combination of givens that gives the least value.
    pub low_at: Vec<Setting>,
    /// The combination of givens that gives the greatest value.
    pub high_at: Vec<Setting>,
    /// How the extremes were found.
    pub found: Found,
    /// Surely holds every value over the box, SI; the range itself where that is proven, endless where nothing is known.
    pub enclosure: (f64, f64),
}

/// A given at a value of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
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
pub enum Found {
    /// Nothing in the box goes beyond them: the signs of the derivatives are settled, so that the corners are the extremes,
    /// or an enclosure agrees with the values found to nine digits.
    Proven,
    /// By search over corners and inside; an enclosure is wider, or there is none.
    Searched,
}

/// A requirement's verdict.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// What a reader is told it is for.
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
    /// The unit that it is asked in; without a prefix where its author names none, so that it does not tell the size.
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
    /// What a reader is told it is.
    pub label: Option<String>,
    /// The unit it is shown in.
    pub unit: DisplayUnit,
    /// Its numbers, SI.
    pub numbers: Vec<f64>,
}

/// `choose E24 for R_a, R_b so that f is 1 kHz`: the best combinations.
#[derive(Clone, Debug)]
pub struct ChoiceTable {
    /// What a reader is told it is for.
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
}

/// A plot's numbers, in SI.
#[derive(Clone, Debug)]
pub struct PlotData {
    /// Where its block stands.
    pub span: Span,
    /// Its title.
    pub title: Option<String>,
    /// Horizontal axis; absent where no curve could be drawn.
    pub x: Option<Axis>,
    /// Vertical axis.
    pub y: Option<Axis>,
    /// The curves.
    pub curves: Vec<Curve>,
    /// Lines across.
    pub bounds: Vec<BoundLine>,
    /// Histograms.
    pub spreads: Vec<SpreadPlot>,
    /// Tolerance budgets.
    pub budgets: Vec<Budget>,
}

/// `spread of t_on`: a histogram over all builds.
#[derive(Clone, Debug)]
pub struct SpreadPlot {
    /// What is spread.
    pub axis: Axis,
    /// Left end of the first bin, SI.
    pub low: f64,
    /// Right end of the last, SI.
    pub high: f64,
    /// Builds in each bin.
    pub counts: Vec<u64>,
    /// The nominal value, SI.
    pub nominal: f64,
    /// Its spread.
    pub spread: Spread,
}

/// `shares of t_on`: which given the variance comes from.
#[derive(Clone, Debug)]
pub struct Budget {
    /// Whose variance.
    pub quantity: String,
    /// The shares, the greatest first.
    pub shares: Vec<Share>,
}

/// An axis.
#[derive(Clone, Debug)]
pub struct Axis {
    /// The quantity: a name, or a label.
    pub quantity: String,
    /// The unit of its numbers.
    pub unit: DisplayUnit,
    /// Its spacing.
    pub scale: Scale,
}

/// A curve.
#[derive(Clone, Debug)]
pub struct Curve {
    /// What the legend says.
    pub label: String,
    /// Its points, from left to right.
    pub points: Vec<CurvePoint>,
    /// Where the curve's own nominal point stands, if inside: x and y.
    pub nominal: Option<(f64, f64)>,
}

/// A point of a curve, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Horizontal.
    pub x: f64,
    /// Vertical, all else nominal; NaN where the formula has no value.
    pub y: f64,
    /// Least over the tolerances of all else.
    pub low: f64,
    /// Greatest over the tolerances of all else.
    pub high: f64,
    /// Symmetric 95 % interval over the tolerances of all else, from [`CURVE_BUILDS`] builds; absent where nothing varies.
    pub inner: Option<(f64, f64)>,
}

/// Builds that the band of a curve is simulated from, at each point.
pub const CURVE_BUILDS: usize = 512;

/// A line across a plot.
#[derive(Clone, Debug)]
pub struct BoundLine {
    /// Where, SI.
    pub value: f64,
    /// What it says.
    pub label: Option<String>,
}
