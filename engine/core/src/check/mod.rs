//! From a worksheet as read to a program that runs: names are found, units and kinds are settled, functions are put in
//! place of their calls. What comes out knows no unit or name any more; what a reader sees of them is kept beside it.

mod bench;
mod builds;
mod call;
mod circuit;
mod exercise;
mod expression;
mod formulas;
mod functions;
mod literal;
mod names;
mod netlist;
mod network;
mod parts;
mod plot;
mod rust;
mod same;
mod solve;
mod statement;
mod steps;
mod torque;
mod transient;
mod typical;
mod uses;
mod withheld;

use std::{
    borrow::Cow,
    cell::OnceCell,
    collections::{BTreeMap, BTreeSet, HashMap, HashSet},
    sync::Arc,
};

use benchleaf_words::{Phrase, phrase};

pub(crate) use bench::{CheckedBench, CheckedFit, InstrumentOf};
pub(crate) use builds::{CheckedBuild, CheckedBuilds};
pub(crate) use expression::kind_help;
pub use formulas::{Formulas, formulas, shown_unit};
pub use functions::{BUILTINS, Builtin, CONSTANTS, Constant};
pub(crate) use literal::unit_of;
pub(crate) use network::{Assumption, CheckedPotentials};
pub(crate) use parts::CheckedCost;
pub(crate) use rust::{CheckedRust, CheckedSeriesCurve, fence_line, place_in};
pub(crate) use transient::{CheckedTraceCurve, CheckedTransient};

use crate::{
    bill::Part,
    host::{Host, NoHost},
    lang::ast::{Bounds, Definition, Function, Tolerance},
    preferred::Series,
    problem::{Code, Problem},
    program::{Program, Reg, Source},
    results::{GivenBehind, Origin, Role},
    sheet::{BlockBody, Joined, Scale, Sheet, Signal},
    span::{LineIndex, Span},
    units::{Unit, ValueType},
};

/// A register and what it holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Typed {
    pub(crate) reg: Reg,
    pub(crate) value_type: ValueType,
    /// For a condition: a number that is above 0 where it is true, below where it is false, by how far it is from turning.
    pub(crate) margin: Option<Reg>,
}

/// What a name stands for.
#[derive(Clone, Debug)]
pub(crate) enum Binding {
    Value(Typed),
    /// What it is (a model's name, or a choice of parts), and its fields.
    Record(Phrase, Vec<(String, Typed)>),
    Function(Box<Function>),
    /// Its definition has a problem; whatever uses it cannot be evaluated.
    Failed,
}

/// A name in scope: what it stands for and where it was defined.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    pub(crate) binding: Binding,
    pub(crate) span: Span,
    /// For a given: the source that it reads.
    pub(crate) source: Option<u32>,
    /// The unit its author declared or wrote.
    pub(crate) unit: Option<Unit>,
}

/// A worksheet, checked.
#[derive(Debug, Default)]
pub(crate) struct Checked {
    pub(crate) program: Program,
    pub(crate) values: Vec<CheckedValue>,
    /// Named values that are left out of an evaluation.
    pub(crate) left_out: Vec<CheckedValue>,
    pub(crate) keeps: Vec<CheckedKeep>,
    pub(crate) notes: Vec<CheckedNote>,
    pub(crate) plots: Vec<CheckedPlot>,
    pub(crate) choices: Vec<CheckedChoice>,
    pub(crate) exercises: Vec<CheckedExercise>,
    pub(crate) benches: Vec<CheckedBench>,
    pub(crate) builds: Vec<CheckedBuilds>,
    pub(crate) steps: Vec<crate::results::StepSet>,
    pub(crate) circuits: Vec<crate::circuit::Circuit>,
    /// What is known of each circuit's nets.
    pub(crate) potentials: Vec<CheckedPotentials>,
    /// What the solutions of circuits take for granted.
    pub(crate) assumptions: Vec<Assumption>,
    /// What each statement came to: indices into the lists above.
    pub(crate) outcomes: Vec<crate::results::Outcome>,
    pub(crate) block_outcomes: Vec<crate::results::BlockOutcome>,
    /// Every record of a handbook model: its name, and its call in the program.
    pub(crate) records: Vec<(String, u32)>,
    /// Where each call of a model stands, for its warnings.
    pub(crate) call_spans: Vec<Span>,
    /// Where each correlation stands.
    pub(crate) correlation_spans: Vec<Span>,
    /// The givens that stand behind values of other worksheets, by the names that they have here.
    pub(crate) behind: BTreeMap<String, GivenBehind>,
    /// The line that brought in each worksheet that is used, in the order of their texts.
    pub(crate) used_at: Vec<Span>,
    /// The unit that each table's abscissas were written in.
    pub(crate) table_units: Vec<Option<Unit>>,
    /// Where the divisor of each division stands.
    pub(crate) divisors: Vec<(Reg, Span)>,
    /// The fields of records that anything on the page reads or shows, as `record.field`.
    pub(crate) fields_read: BTreeSet<String>,
    /// Every Rust block.
    pub(crate) rust: Vec<CheckedRust>,
    /// Every `transient` block that can be run.
    pub(crate) transients: Vec<CheckedTransient>,
    /// The steps that run Rust blocks.
    pub(crate) rust_calls: Vec<Reg>,
    /// Every part that can be bought as its line says.
    pub(crate) parts: Vec<Part>,
    /// The sources that are values of parts.
    pub(crate) bought: BTreeSet<u32>,
    /// Every value `cost(n)`.
    pub(crate) costs: Vec<CheckedCost>,
    /// Sources without a tolerance whose values the check itself relies on: with others the program might be another one.
    pub(crate) relied_on: BTreeSet<u32>,
}

impl Checked {
    /// Every named value.
    pub(crate) fn named(&self) -> impl Iterator<Item = &CheckedValue> {
        self.values.iter().chain(&self.left_out)
    }
}

/// A named value to show.
#[derive(Clone, Debug)]
pub(crate) struct CheckedValue {
    pub(crate) name: String,
    pub(crate) label: Option<String>,
    pub(crate) span: Span,
    pub(crate) role: Role,
    pub(crate) typed: Typed,
    pub(crate) unit: Option<Unit>,
    /// Significant digits of a given as written.
    pub(crate) digits: Option<u8>,
    /// The worksheet that it is taken from.
    pub(crate) origin: Option<Arc<Origin>>,
}

/// A requirement: what is kept, its bounds, and their distances (not below 0 where they are kept).
#[derive(Clone, Debug)]
pub(crate) struct CheckedKeep {
    pub(crate) label: Option<String>,
    pub(crate) span: Span,
    pub(crate) subject: Typed,
    pub(crate) subject_span: Span,
    pub(crate) unit: Option<Unit>,
    pub(crate) lower: Option<(Typed, Reg)>,
    pub(crate) upper: Option<(Typed, Reg)>,
    /// The least of all distances: below 0 where it fails.
    pub(crate) distance: Reg,
}

/// A choice of preferred values for several givens.
#[derive(Debug)]
pub(crate) struct CheckedChoice {
    pub(crate) label: Option<String>,
    pub(crate) span: Span,
    /// Its search in the program.
    pub(crate) search: u32,
    /// The givens: name, source, type, unit as written.
    pub(crate) givens: Vec<(String, u32, ValueType, Option<Unit>)>,
    pub(crate) series: &'static str,
    pub(crate) subject: Typed,
    pub(crate) subject_span: Span,
    pub(crate) unit: Option<Unit>,
    pub(crate) target: Reg,
}

/// A safety note and its condition.
#[derive(Debug)]
pub(crate) struct CheckedNote {
    pub(crate) signal: Signal,
    pub(crate) span: Span,
    pub(crate) condition: Option<(Typed, Span)>,
    /// The values that its condition compares, as written.
    pub(crate) compared: Vec<(String, Typed, Option<Unit>)>,
    /// Its condition has a problem: it is shown to be safe.
    pub(crate) failed: bool,
}

/// An exercise.
#[derive(Debug)]
pub(crate) struct CheckedExercise {
    pub(crate) name: String,
    pub(crate) span: Span,
    /// Its place in the worksheet's blocks.
    pub(crate) block: usize,
    pub(crate) answer: Typed,
    pub(crate) answer_span: Span,
    pub(crate) unit: Option<Unit>,
    pub(crate) within: Within,
    pub(crate) slips: Vec<CheckedSlip>,
    pub(crate) varies: Vec<CheckedVary>,
    pub(crate) points: f64,
}

/// How far off an answer may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Within {
    /// A fraction of the answer.
    Part(f64),
    /// A distance, SI.
    Distance(f64),
}

/// A known mistake.
#[derive(Debug)]
pub(crate) struct CheckedSlip {
    pub(crate) name: String,
    pub(crate) reg: Reg,
    pub(crate) span: Span,
}

/// A given that differs from learner to learner.
#[derive(Debug)]
pub(crate) struct CheckedVary {
    pub(crate) name: String,
    /// The source that it reads.
    pub(crate) source: u32,
    /// Where its literal stands, its tolerance left out.
    pub(crate) literal: Span,
    /// The ends of its span, SI, with the units that they were written in.
    pub(crate) low: (f64, Unit),
    pub(crate) high: (f64, Unit),
    /// The series that the numbers are of, and its values in the span.
    pub(crate) series: Option<(Series, Vec<f64>)>,
}

/// A plot.
#[derive(Debug)]
pub(crate) struct CheckedPlot {
    pub(crate) span: Span,
    pub(crate) title: Option<String>,
    pub(crate) curves: Vec<CheckedCurve>,
    pub(crate) series: Vec<CheckedSeriesCurve>,
    pub(crate) traces: Vec<CheckedTraceCurve>,
    pub(crate) bounds: Vec<(Typed, Option<String>)>,
    pub(crate) spreads: Vec<CheckedSpread>,
    pub(crate) budgets: Vec<CheckedSpread>,
}

/// What a histogram or a budget is of.
#[derive(Debug)]
pub(crate) struct CheckedSpread {
    pub(crate) subject: Typed,
    pub(crate) unit: Option<Unit>,
    pub(crate) written: Span,
    pub(crate) span: Span,
}

/// A curve.
#[derive(Debug)]
pub(crate) struct CheckedCurve {
    pub(crate) label: String,
    pub(crate) subject: Typed,
    pub(crate) subject_span: Span,
    pub(crate) unit: Option<Unit>,
    pub(crate) against: String,
    pub(crate) against_unit: Option<Unit>,
    pub(crate) against_type: ValueType,
    pub(crate) against_reg: Reg,
    pub(crate) from: Typed,
    pub(crate) to: Typed,
    pub(crate) scale: Scale,
    pub(crate) span: Span,
}

/// Checks a worksheet with those that it uses.
pub(crate) fn check(joined: &Joined<'_>, sheet: &Sheet, host: &dyn Host) -> (Checked, Vec<Problem>) {
    let (checked, uses, problems) = uses::check_used(joined, sheet, host);
    let mut checker = Checker::new(joined, sheet, host, (checked, uses));
    checker.problems = problems;
    for (index, block) in sheet.blocks.iter().enumerate() {
        checker.block(index, block);
    }
    checker.parts_of_circuits();
    checker.potentials_of_circuits();
    checker.price_costs();
    checker.placed();
    checker.kept_by_choices();
    checker.inlines(sheet);
    checker.name_sources();
    (checker.checked, checker.problems)
}

/// Holds what has been checked so far.
pub(crate) struct Checker<'a> {
    /// The worksheet's text with those of the worksheets that it uses.
    joined: &'a Joined<'a>,
    text: &'a str,
    sheet: &'a Sheet,
    /// What it may take from other worksheets.
    uses: uses::Uses<'a>,
    /// Its lines, made when a message first names one.
    lines: OnceCell<LineIndex>,
    /// Rust blocks so far.
    blocks: rust::Blocks<'a>,
    /// Names that have no value since a Rust block was not run.
    withheld: HashSet<String>,
    checked: Checked,
    problems: Vec<Problem>,
    names: HashMap<String, Entry>,
    /// Where the literal of each given stands, by its source; absent where only its bounds are written.
    literals: HashMap<u32, Span>,
    /// Where the name of each exercise stands.
    exercises: HashMap<String, Span>,
    /// The arguments of the functions being put in place, innermost last.
    parameters: Vec<HashMap<String, Typed>>,
    /// The calls being put in place: the function's name and where it was called.
    inside: Vec<(String, Span)>,
    /// The ratings and prices of each part, by its name.
    part_fields: HashMap<String, Vec<(String, Typed)>>,
    /// Where each designator stands.
    designators: HashMap<String, Span>,
    /// Where the name of each step stands.
    step_titles: HashMap<String, Span>,
    /// States and formulas over time, by name: their block and their place there; nothing where the block could not be run.
    traces: HashMap<String, Option<(usize, usize)>>,
    /// What is solved of each circuit.
    solved: HashMap<usize, network::Solved>,
}

/// The source of a given with another nominal value (SI) and the tolerance that its author wrote.
pub(crate) fn given_at(source: &str, sheet: &Sheet, definition: &Definition, si: f64) -> Result<Source, Problem> {
    let unknown = || Problem::new(Code::UnknownUnit, definition.value.span, phrase!(CHECK_THIS_GIVEN_HAS_NO_UNIT));
    let (quantity, _) = definition.literal().ok_or_else(unknown)?;
    let joined = Joined { text: source.into(), files: Vec::new() };
    let mut checker = Checker::new(&joined, sheet, &NoHost, Default::default());
    let tolerance = definition.tolerance.as_deref().map(|tolerance| match &tolerance.bounds {
        Bounds::MinTypMax { min, max, .. } => {
            let bounds = Bounds::MinTypMax { min: min.clone(), typ: None, max: max.clone() };
            Cow::Owned(Tolerance { bounds, ..tolerance.clone() })
        }
        _ => Cow::Borrowed(tolerance),
    });
    checker.given(&definition.name.item, si, &unit_of(quantity)?, tolerance.as_deref(), quantity.code_tolerance);
    match checker.checked.program.sources.pop() {
        Some(source) => Ok(source),
        None => Err(checker.problems.pop().unwrap_or_else(unknown)),
    }
}

impl<'a> Checker<'a> {
    /// A worksheet of a joined text, with what has been checked of those that it uses.
    fn new(
        joined: &'a Joined<'a>,
        sheet: &'a Sheet,
        host: &'a dyn Host,
        (checked, uses): (Checked, uses::Uses<'a>),
    ) -> Self {
        Self {
            joined,
            text: &joined.text,
            sheet,
            uses,
            lines: OnceCell::new(),
            blocks: rust::Blocks::new(host),
            withheld: HashSet::new(),
            checked,
            problems: Vec::new(),
            names: HashMap::new(),
            literals: HashMap::new(),
            exercises: HashMap::new(),
            parameters: Vec::new(),
            inside: Vec::new(),
            part_fields: HashMap::new(),
            designators: HashMap::new(),
            step_titles: HashMap::new(),
            traces: HashMap::new(),
            solved: HashMap::new(),
        }
    }
}

impl Checker<'_> {
    /// Reports a problem. One inside a function's body is reported where the function was called.
    fn report(&mut self, problem: Problem) {
        let problem = match self.inside.first() {
            None => problem,
            Some((name, call)) => {
                let quoted = problem.span.text(self.text);
                let message = phrase!(CHECK_IN_AT, name = name, quoted = quoted, message = problem.message);
                Problem { span: *call, message, ..problem }
            }
        };
        self.problems.push(problem);
    }

    fn fail(&mut self, code: Code, span: Span, message: impl Into<Phrase>) {
        self.report(Problem::new(code, span, message));
    }

    fn fail_with_help(&mut self, code: Code, span: Span, message: impl Into<Phrase>, help: impl Into<Phrase>) {
        self.report(Problem::new(code, span, message).help(help));
    }

    fn block(&mut self, index: usize, block: &crate::sheet::Block) {
        use crate::results::BlockOutcome;
        let outcome = match &block.body {
            BlockBody::Calc(statements) => {
                for statement in statements {
                    let reported = self.problems.len();
                    let outcome = self.statement(statement);
                    if outcome == crate::results::Outcome::Failed {
                        self.withhold(statement, reported);
                    }
                    self.checked.outcomes.push(outcome);
                }
                BlockOutcome::Calc
            }
            BlockBody::Parts(parts) => {
                self.parts(parts);
                BlockOutcome::Parts
            }
            BlockBody::Note(note) => {
                self.note(note, block.span);
                BlockOutcome::Note(self.checked.notes.len() - 1)
            }
            BlockBody::Plot(plot) => {
                self.plot(plot, block.span);
                BlockOutcome::Plot(self.checked.plots.len() - 1)
            }
            BlockBody::Exercise(exercise) => match self.exercise(exercise, index, block.span) {
                Some(exercise) => {
                    self.checked.exercises.push(exercise);
                    BlockOutcome::Exercise(self.checked.exercises.len() - 1)
                }
                None => BlockOutcome::NotEvaluated,
            },
            BlockBody::Bench(bench) => match self.bench(bench, block.span) {
                Some(bench) => {
                    self.checked.benches.push(bench);
                    BlockOutcome::Bench(self.checked.benches.len() - 1)
                }
                None => BlockOutcome::NotEvaluated,
            },
            BlockBody::Transient(transient) => match self.transient(transient, block.span) {
                Some(transient) => BlockOutcome::Transient(transient),
                None => BlockOutcome::NotEvaluated,
            },
            BlockBody::Builds(builds) => match self.builds(builds, block.span) {
                Some(builds) => {
                    self.checked.builds.push(builds);
                    BlockOutcome::Builds(self.checked.builds.len() - 1)
                }
                None => BlockOutcome::NotEvaluated,
            },
            BlockBody::Steps(steps) => {
                let steps = self.steps(steps, block.span);
                self.checked.steps.push(steps);
                BlockOutcome::Steps(self.checked.steps.len() - 1)
            }
            BlockBody::Circuit(circuit) => {
                self.circuit(circuit, block.span);
                BlockOutcome::Circuit(self.checked.circuits.len() - 1)
            }
            BlockBody::Rust(rust) => self.rust(rust, block.content, block.span),
        };
        self.checked.block_outcomes.push(outcome);
    }
}
