//! What an evaluation came to. All numbers are in SI base units (kelvin for temperatures); a [`DisplayUnit`] says in
//! which unit a reader sees them.

mod bench;
mod blocks;
mod builds;
mod plots;
mod steps;
mod transient;
mod value;
mod verdict;

pub use bench::*;
pub use blocks::*;
pub use builds::*;
pub use plots::*;
pub use steps::*;
pub use transient::*;
pub use value::*;
pub use verdict::*;

use std::collections::{BTreeMap, BTreeSet};

use benchleaf_words::{Phrase, Words, phrase};

use crate::{
    bill::Part,
    circuit::Circuit,
    lang::ast::StatementId,
    problem::Problem,
    sheet::{InlineFormat, InlineRequest, Sheet},
    span::LineIndex,
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
    /// Every block of steps.
    pub steps: Vec<StepSet>,
    /// Every circuit.
    pub circuits: Vec<Circuit>,
    /// The potential of each circuit's nets against its ground, in volts, at the nominal values; absent where the circuit does not
    /// say enough.
    pub potentials: Vec<Vec<Option<f64>>>,
    /// Every call of a handbook model that a record holds.
    pub calls: Vec<ModelCall>,
    /// Every Rust block.
    pub rust: Vec<RustState>,
    /// Every `transient` block that could be run.
    pub transients: Vec<TransientState>,
    /// The givens among the values of other worksheets.
    pub taken: Vec<TakenGiven>,
    /// The givens that stand behind values of other worksheets, by the names that they have here.
    pub behind: BTreeMap<String, GivenBehind>,
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

    /// The label of a value, or of a given that stands behind the values of other worksheets.
    pub fn label(&self, name: &str) -> Option<&str> {
        let behind = || self.behind.get(name)?.label.as_ref();
        self.value(name).map_or_else(behind, |value| value.label.as_ref()).map(String::as_str)
    }

    /// Takes in more problems, in reading order.
    pub fn add(&mut self, problems: Vec<Problem>) {
        self.problems.extend(problems);
        self.problems.sort_by_key(|problem| (problem.span, problem.code));
    }

    /// What an inline result shows, in a language.
    ///
    /// # Errors
    /// Why it cannot be shown, in a sentence.
    pub fn inline_in(&self, request: &InlineRequest, words: Words<'_>) -> Result<InlineValue, Phrase> {
        let name = &request.name;
        let value = self.value(name).ok_or_else(|| phrase!(RESULTS_HAS_NO_VALUE_TO_SHOW, name = name))?;
        if !value.nominal.is_finite() {
            return Err(phrase!(SHARED_HAS_NO_FINITE_VALUE, name = name));
        }
        let unit = inline_unit(request, value.value_type)?.map_or_else(|| value.unit.clone(), DisplayUnit::declared);
        let text = match &request.format {
            InlineFormat::Digits(digits) => unit.show(value.nominal, *digits),
            InlineFormat::Range => value.shown_range_in(words).unwrap_or_else(|| value.shown_in(words)),
            InlineFormat::Least => value.shown_end(words, |worst| worst.low),
            InlineFormat::Greatest => value.shown_end(words, |worst| worst.high),
            InlineFormat::Unit(_) => unit.show(value.nominal, value.digits.max(self.sheet.metadata.digits)),
            InlineFormat::Plain => value.shown_in(words),
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
pub(crate) fn inline_unit(request: &InlineRequest, value_type: ValueType) -> Result<Option<Unit>, Phrase> {
    let InlineFormat::Unit(symbol) = &request.format else { return Ok(None) };
    let unit = parse(symbol).ok_or_else(|| phrase!(SHARED_IS_NOT_A_UNIT, part = symbol))?;
    match value_type {
        ValueType::Quantity(quantity)
            if quantity.dimension == unit.quantity.dimension
                && (quantity.kind.joined(unit.quantity.kind).is_some() || symbol == "K") =>
        {
            Ok(Some(unit))
        }
        other => {
            Err(phrase!(RESULTS_IS_IT_CANNOT_BE_SHOWN, name = request.name, found = other.describe(), symbol = symbol))
        }
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
    /// Values of another worksheet: their indices in [`Evaluation::values`], in the order of the line.
    Used(Vec<usize>),
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
    /// A circuit: its index in [`Evaluation::circuits`].
    Circuit(usize),
    /// Steps of a build: their index in [`Evaluation::steps`].
    Steps(usize),
    /// A Rust block: its index in [`Evaluation::rust`].
    Rust(usize),
    /// A `transient` block: its index in [`Evaluation::transients`].
    Transient(usize),
    /// Nothing was evaluated.
    NotEvaluated,
}
