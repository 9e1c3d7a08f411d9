//! Running a checked worksheet: the flat program, what it comes to over the box of tolerances, and the results that a
//! page or a report is made from.

mod assemble;
mod builds;
mod callee;
mod collector;
mod copula;
mod curves;
pub mod design;
mod explain;
mod extremes;
mod first_order;
mod indices;
mod interval;
mod memory;
mod monte_carlo;
mod operation;
pub mod preferred;
pub mod program;
mod prove;
mod random;
mod remedies;
#[cfg_attr(not(feature = "rust"), path = "no_rust.rs")]
mod rust;
mod sampling;
mod search;
mod slopes;
mod stages;
mod statistics;
mod sweep;
mod tails;
mod tasks;
mod worst_cases;

pub(crate) use builds::BLOCK;
#[cfg(feature = "markdown")]
pub use stages::{evaluate, evaluate_with};
pub use stages::{evaluate_worksheet, evaluate_worksheet_with};

/// What the caller of an evaluation may set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Monte Carlo samples, instead of the worksheet's.
    pub samples: Option<u64>,
    /// Seed of the random numbers, instead of the worksheet's.
    pub seed: Option<u64>,
    /// Threads that work is dealt out to, one for none beside the calling one; as many as the machine has where absent.
    /// Changes no result.
    pub threads: Option<usize>,
    /// Whether the simulated builds are remembered for the next evaluation of this process, and what still holds is taken
    /// from the last one. Changes no result.
    pub remember: bool,
}
