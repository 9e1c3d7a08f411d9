//! Benchleaf's engine: reads a worksheet, checks its units and kinds, evaluates it, and says what every value comes to at
//! nominal values and at the corners of tolerance. No I/O, no HTML, no clock; it builds for WebAssembly.

mod answer;
pub mod bill;
pub mod case;
pub mod change;
pub mod check;
pub mod circuit;
#[cfg(feature = "markdown")]
pub mod constants;
mod day;
mod evaluate;
pub mod exercise;
pub mod host;
pub mod lang;
pub mod parallel;
pub mod preferred;
pub mod problem;
mod program;
#[cfg(feature = "markdown")]
pub mod report;
pub mod results;
pub mod sheet;
pub mod span;
mod suggest;
pub mod summary;
mod table;
pub mod typical;
pub mod units;

/// The handbook's models, a crate of their own.
pub use benchleaf_handbook as handbook;
pub use day::Day;
pub use evaluate::{Evaluator, Options, OverTime, study};
#[cfg(feature = "markdown")]
pub use exercise::assess;
