//! Benchleaf's engine: reads a worksheet, checks its units and kinds, evaluates it, and says what every value comes to at
//! nominal values and at the corners of tolerance. No I/O, no HTML, no clock; it builds for WebAssembly.

pub mod handbook;
pub mod lang;
pub mod problem;
pub mod results;
pub mod sheet;
pub mod span;
pub mod units;

pub use results::Evaluation;

/// What the person running the engine may choose.
#[derive(Clone, Debug, Default)]
pub struct Options {}

/// Reads and evaluates a worksheet.
pub fn evaluate(source: &str, _options: &Options) -> Evaluation {
    Evaluation {
        sheet: sheet::Sheet {
            metadata: sheet::Metadata::default(),
            body_start: 0,
            blocks: Vec::new(),
            inlines: Vec::new(),
        },
        values: Vec::new(),
        keeps: Vec::new(),
        notes: Vec::new(),
        plots: Vec::new(),
        outcomes: Vec::new(),
        block_outcomes: Vec::new(),
        problems: Vec::new(),
        lines: span::LineIndex::new(source),
    }
}
