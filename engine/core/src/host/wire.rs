//! What the command line and the program that runs Rust blocks say to one another: a JSON object a line, a question in
//! one direction and answers in the other. Numbers go as their bits, so that none changes on the way.

use serde::{Deserialize, Serialize};

use super::{BlockInput, BlockOutput, Fault, Finding};

/// A question.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub enum Ask {
    /// Compile a block under a number of the asker's choice.
    Compile(Box<Source>),
    /// Run a block once, and report all its output.
    Once {
        /// Its number.
        block: u32,
        /// A row of inputs.
        inputs: Vec<u64>,
    },
    /// Run a block on many rows.
    Many {
        /// Its number.
        block: u32,
        /// How many rows.
        rows: usize,
        /// The rows, one behind the other.
        inputs: Vec<u64>,
    },
    /// A block is not needed any more.
    Forget {
        /// Its number.
        block: u32,
    },
}

/// A block on its way to the compiler.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Source {
    /// Its number.
    pub block: u32,
    /// Its text.
    pub code: String,
    /// The texts of the blocks above it.
    pub earlier: Vec<String>,
    /// What it reads.
    pub inputs: Vec<BlockInput>,
    /// What it gives.
    pub outputs: Vec<BlockOutput>,
    /// The series that it gives.
    pub series: Vec<BlockOutput>,
}

/// An answer.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub enum Answer {
    /// The name of all that blocks are compiled against.
    Version(String),
    /// What takes its time; the answer follows.
    Progress(String),
    /// The program is up: under what limits blocks run, in a sentence. Said once, unasked.
    Ready {
        /// The limits.
        terms: String,
    },
    /// The program cannot do its work: something is missing.
    Unable {
        /// Why.
        why: String,
        /// What to do about it.
        help: String,
    },
    /// The block is compiled.
    Compiled,
    /// It does not compile.
    Findings(Vec<Finding>),
    /// It was run once.
    Ran {
        /// A row of outputs.
        outputs: Vec<u64>,
        /// The series.
        series: Vec<Vec<u64>>,
        /// What it printed.
        printed: String,
    },
    /// It was run on many rows.
    Rows(Vec<u64>),
    /// It came to nothing.
    Fault(Fault),
    /// Done.
    Forgotten,
}

/// Numbers as their bits.
pub fn bits(numbers: &[f64]) -> Vec<u64> {
    numbers.iter().map(|number| number.to_bits()).collect()
}

/// Bits as their numbers.
pub fn numbers(bits: &[u64]) -> Vec<f64> {
    bits.iter().map(|bits| f64::from_bits(*bits)).collect()
}
