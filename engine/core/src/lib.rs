//! Benchleaf's engine: reads a worksheet, checks its units and kinds, evaluates it, and says what every value comes to at
//! nominal values and at the corners of tolerance. No I/O, no HTML, no clock; it builds for WebAssembly.

pub mod case;
pub mod change;
pub mod check;
pub mod evaluate;
pub mod exercise;
pub mod handbook;
pub mod lang;
#[cfg_attr(not(feature = "rust"), path = "outside/none.rs")]
pub mod outside;
pub mod problem;
pub mod report;
pub mod results;
pub mod sheet;
pub mod span;
pub mod suggest;
pub mod summary;
pub mod threads;
pub mod units;

pub use evaluate::{Options, evaluate_worksheet, evaluate_worksheet_with};
#[cfg(feature = "markdown")]
pub use evaluate::{evaluate, evaluate_with};
#[cfg(feature = "markdown")]
pub use exercise::assess;
