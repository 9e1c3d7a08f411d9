//! What the engine asks of the program around it: files beside the worksheet, and functions compiled from its Rust blocks.
//! The engine opens no file and starts no program; the caller passes a [`Host`], or [`NoHost`]. To the engine a compiled
//! block is what a handbook model is: a function of plain numbers in SI base units.

pub mod wire;

use std::{
    fmt,
    ops::Range,
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicU64, Ordering},
    },
};

use benchleaf_words::{Phrase, phrase};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::units::{Kind, QuantityType, ValueType};

/// The program around the engine. Every method has a default: a host that can do nothing.
pub trait Host: Sync {
    /// Compiles a Rust block to a function. Called once for each block of a worksheet, in reading order.
    ///
    /// # Errors
    /// Why the block is not run, or what is wrong with it.
    fn compile(&self, code: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        let _ = code;
        Err(Refusal::NotRun {
            why: phrase!(HOST_RUST_BLOCKS_ARE_NOT_RUN),
            help: phrase!(HOST_THE_COMMAND_LINE_RUNS_THEM),
        })
    }

    /// The text of a file, by its path relative to the worksheet.
    ///
    /// # Errors
    /// Why it cannot be read, in a sentence without a full stop.
    fn read(&self, path: &str) -> Result<String, String> {
        Err(format!("`{path}` cannot be read: there are no files here"))
    }

    /// The text of a worksheet that this one uses, by its path relative to this one, which leads to nothing outside this one's
    /// folder.
    ///
    /// # Errors
    /// Why there is none.
    fn used(&self, path: &str) -> Result<String, FileFault> {
        let _ = path;
        Err(FileFault::NoFiles)
    }

    /// The bytes of a picture, by its path relative to the worksheet, which leads to nothing outside the worksheet's folder.
    ///
    /// # Errors
    /// Why there is none.
    fn picture(&self, path: &str) -> Result<Vec<u8>, FileFault> {
        let _ = path;
        Err(FileFault::NoFiles)
    }

    /// The text of a worksheet that a link leads to, by its path relative to this one.
    ///
    /// # Errors
    /// Why there is none.
    fn linked(&self, path: &str) -> Result<String, FileFault> {
        let _ = path;
        Err(FileFault::NoFiles)
    }

    /// Whether a link to another file than a worksheet leads to something, by its path relative to the worksheet.
    ///
    /// # Errors
    /// Why it leads to nothing.
    fn file(&self, path: &str) -> Result<(), FileFault> {
        let _ = path;
        Err(FileFault::NoFiles)
    }
}

/// Why a file beside the worksheet is not used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FileFault {
    /// This host has no files: nothing can be said about the path.
    NoFiles,
    /// There is no such file.
    Missing,
    /// The path, or a link on it, leads out of the worksheet's folder.
    Outside,
    /// It is there and is of no use, with the reason in a sentence without a full stop.
    Unusable(Phrase),
}

impl FileFault {
    /// Why, in a sentence without a full stop.
    pub fn phrase(&self) -> Phrase {
        match self {
            FileFault::NoFiles => phrase!(HOST_THERE_ARE_NO_FILES),
            FileFault::Missing => phrase!(HOST_THERE_IS_NO_SUCH_FILE),
            FileFault::Outside => phrase!(HOST_IT_IS_OUTSIDE),
            FileFault::Unusable(why) => why.clone(),
        }
    }
}

impl fmt::Display for FileFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.phrase().english())
    }
}

/// A compiled block. The same inputs must give the same outputs.
pub trait CompiledBlock: fmt::Debug + Send + Sync {
    /// Runs it once, and keeps all that it said.
    ///
    /// # Errors
    /// Why it came to nothing.
    fn once(&self, inputs: &[f64]) -> Result<Run, Fault>;

    /// Runs it on many rows of inputs, one after the other; gives as many rows of outputs. A row that comes to nothing is
    /// of NaN.
    ///
    /// # Errors
    /// What makes it useless to run any more of it.
    fn many(&self, inputs: &[f64], rows: usize) -> Result<Vec<f64>, Fault>;
}

/// A block as it goes to the compiler.
#[derive(Clone, Debug)]
pub struct BlockCode<'a> {
    /// Its text, without the fences.
    pub code: &'a str,
    /// The texts of the Rust blocks above it, whose items it sees.
    pub earlier: &'a [&'a str],
    /// The values that it reads, in the order of a row of inputs.
    pub inputs: &'a [BlockInput],
    /// The values that it gives, in the order of a row of outputs.
    pub outputs: &'a [BlockOutput],
    /// The series that it gives.
    pub series: &'a [BlockOutput],
}

/// A value that a block reads.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct BlockInput {
    /// Its name.
    pub name: String,
    /// For a record's field: the field's name; the record's is the other.
    pub field: Option<String>,
    /// What it holds.
    pub holds: Holds,
}

/// A value that a block gives.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct BlockOutput {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub holds: Holds,
}

/// What a value holds, in terms that Rust's types can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Holds {
    /// A quantity: whole exponents of length, mass, time, current, temperature, amount and luminous intensity.
    Quantity([i8; 7], Kind),
    /// True or false.
    Condition,
}

impl Holds {
    /// What a value of a type holds; nothing where Rust has no type for it: money, data, and roots of units.
    pub fn of(value_type: ValueType) -> Option<Self> {
        match value_type {
            ValueType::Condition => Some(Holds::Condition),
            ValueType::Quantity(QuantityType { dimension, kind }) => {
                Some(Holds::Quantity(dimension.whole_exponents()?, of_uom(kind)))
            }
        }
    }
}

/// A kind as `uom`'s types know it; those of power and light are plain there.
fn of_uom(kind: Kind) -> Kind {
    match kind {
        Kind::ActivePower
        | Kind::ApparentPower
        | Kind::ReactivePower
        | Kind::LuminousIntensity
        | Kind::LuminousFlux
        | Kind::Illuminance
        | Kind::Luminance => Kind::Plain,
        kind => kind,
    }
}

/// What came of one run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// The values that it gives, SI.
    pub outputs: Vec<f64>,
    /// The series that it gives, SI.
    pub series: Vec<Vec<f64>>,
    /// What it printed.
    pub printed: String,
    /// Under what limits it ran, in a sentence.
    pub terms: String,
}

/// Why a block has no function.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// It was not tried: not permitted, or a program is missing.
    NotRun {
        /// Why, in a sentence without a full stop.
        why: Phrase,
        /// What to do about it.
        help: Phrase,
    },
    /// Its results stand in the page already; nothing is reported.
    Published,
    /// It does not compile.
    Findings(Vec<Finding>),
    /// The compiler itself came to nothing.
    Failed(Fault),
}

/// What the compiler found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Where.
    pub place: Place,
    /// In the words of a learner.
    pub message: String,
    /// In the words of the compiler.
    pub compiler: Option<String>,
}

/// A place in a block.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Place {
    /// These bytes of its text.
    Code(Range<usize>),
    /// One of the results that its fence names: outputs first, then series.
    Result(usize),
    /// Nowhere in particular.
    Whole,
}

/// Why a run came to nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// What happened.
    pub message: String,
    /// A way out.
    pub help: String,
    /// Where, if that is known.
    pub place: Place,
}

impl Fault {
    /// A panic, with what it said.
    pub fn panicked(said: &str, place: Place) -> Self {
        let said = if said.is_empty() { "it says no more" } else { said };
        Self {
            message: format!("the block stopped with a panic: {said}"),
            help: "look at what this line does with the values of this worksheet".to_owned(),
            place,
        }
    }
}

/// A host without files and without a compiler: Rust blocks are shown as code.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoHost;

impl Host for NoHost {}

/// The host of a published page: results of Rust blocks stay as their author's run gave them.
#[derive(Clone, Copy, Debug, Default)]
pub struct PublishedPage;

impl Host for PublishedPage {
    fn compile(&self, _: &BlockCode<'_>) -> Result<Arc<dyn CompiledBlock>, Refusal> {
        Err(Refusal::Published)
    }
}

/// How far an evaluation follows the tolerances through Rust blocks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fidelity {
    /// At nominal values alone: what a block gives does not vary.
    Nominal,
    /// Nominal values and the worst case, but no simulated builds.
    Corners,
    /// As far as everything else.
    #[default]
    Builds,
}

impl Fidelity {
    pub(crate) fn lower(self) -> Self {
        match self {
            Fidelity::Builds => Fidelity::Corners,
            Fidelity::Corners | Fidelity::Nominal => Fidelity::Nominal,
        }
    }

    pub(crate) fn is_nominal(self) -> bool {
        self == Fidelity::Nominal
    }
}

/// Most runs of one block in an evaluation.
pub const MOST_RUNS: u64 = 400_000;

/// A compiled block in a program.
#[derive(Clone, Debug)]
pub struct Block {
    compiled: Arc<dyn CompiledBlock>,
    outputs: usize,
}

/// How often a block has been run in one evaluation, of [`MOST_RUNS`].
#[derive(Debug, Default)]
pub(crate) struct Budget {
    runs: AtomicU64,
    /// More runs were asked for than the budget allows, or the block cannot be run any more.
    spent: AtomicBool,
    /// The run at the nominal values came to nothing: no other is tried.
    given_up: AtomicBool,
}

impl Budget {
    /// Whether the block gives no more results in this evaluation.
    pub(crate) fn is_spent(&self) -> bool {
        self.spent.load(Ordering::Relaxed)
    }

    /// Whether nothing has been taken of it.
    pub(crate) fn is_whole(&self) -> bool {
        self.runs.load(Ordering::Relaxed) == 0
    }

    /// Tries nothing more.
    pub(crate) fn give_up(&self) {
        self.given_up.store(true, Ordering::Relaxed);
    }

    /// Whether nothing more is tried.
    pub(crate) fn is_given_up(&self) -> bool {
        self.given_up.load(Ordering::Relaxed)
    }

    /// Counts runs that were made.
    pub(crate) fn spend(&self, runs: u64) {
        self.take(runs);
    }

    /// Whether what was taken of it so far, taken so many times again, would be too much.
    pub(crate) fn is_too_small_for(&self, times: u64) -> bool {
        self.runs.load(Ordering::Relaxed).saturating_mul(times) > MOST_RUNS
    }

    /// Takes some runs out of the budget; false where it does not hold so many.
    fn take(&self, runs: u64) -> bool {
        let within = self.runs.fetch_add(runs, Ordering::Relaxed) + runs <= MOST_RUNS;
        if !within {
            self.exhaust();
        }
        within
    }

    fn exhaust(&self) {
        self.spent.store(true, Ordering::Relaxed);
    }
}

impl Block {
    pub(crate) fn new(compiled: Arc<dyn CompiledBlock>, outputs: usize) -> Self {
        Self { compiled, outputs }
    }

    /// How many values it gives.
    pub(crate) fn outputs(&self) -> usize {
        self.outputs
    }

    pub(crate) fn once(&self, inputs: &[f64]) -> Result<Run, Fault> {
        self.compiled.once(inputs)
    }

    /// One row.
    pub(crate) fn evaluate(&self, inputs: &[f64], outputs: &mut [f64], budget: &Budget) {
        let row = self.many(inputs, 1, budget);
        outputs.iter_mut().zip(row).for_each(|(slot, number)| *slot = number);
    }

    /// Rows of inputs to rows of outputs; NaN once the budget is spent, and where an input has no finite value.
    pub(crate) fn many(&self, inputs: &[f64], rows: usize, budget: &Budget) -> Vec<f64> {
        let nothing = || vec![f64::NAN; rows * self.outputs];
        if budget.is_spent() || (rows == 1 && inputs.iter().any(|input| !input.is_finite())) {
            return nothing();
        }
        if !budget.take(rows as u64) {
            return nothing();
        }
        match self.compiled.many(inputs, rows) {
            Ok(found) if found.len() == rows * self.outputs => found,
            _ => {
                budget.exhaust();
                nothing()
            }
        }
    }
}
