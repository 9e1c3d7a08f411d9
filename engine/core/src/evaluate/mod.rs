//! Evaluates a checked worksheet: runs its program, finds the worst cases over the box of tolerances, simulates builds, and
//! puts together the results that a page or a report is made from.
//!
//! The rooms, from the ground up: `tolerances` (the box), `draws` (random numbers), `columns` (many builds at once),
//! `worst_case`, `first_order`, `design` (searches and remedies), `simulation`, `curves`, `assembly`, `bench`, and the pipeline that
//! leads through them.

mod assembly;
mod bench;
mod builds;
mod columns;
mod curves;
mod design;
mod draws;
mod first_order;
mod pipeline;
mod simulation;
pub mod study;
mod test_points;
mod tolerances;
mod worst_case;

pub(crate) use design::run;
#[cfg(test)]
pub(crate) use worst_case::enclosed;

#[cfg(feature = "markdown")]
use crate::sheet::surroundings;
use pipeline::WholeSheet;

use crate::{
    bill::Part,
    host::{Host, NoHost},
    problem::Problem,
    results::{Evaluation, JudgedReadings, Suspects},
    sheet::Worksheet,
};

/// Evaluates worksheets. The same worksheet, options and host give the same results on any machine.
///
/// ```
/// use benchleaf_core::{Evaluator, Options};
///
/// let worksheet = "```calc\nR_t = 10 kΩ ± 5 %\nC_t = 22 µF\nt_on [s] = R_t * C_t * ln(3)\n```\n";
/// let options = Options { samples: Some(1000), ..Options::default() };
/// let evaluation = Evaluator::with(&options).evaluate(worksheet);
/// let t_on = evaluation.value("t_on").unwrap();
/// assert_eq!(t_on.shown(), "0.242 s");
/// assert_eq!(t_on.shown_range().unwrap(), "0.230 s to 0.254 s");
/// ```
#[derive(Clone, Copy)]
pub struct Evaluator<'h> {
    options: Options,
    host: &'h dyn Host,
}

impl Default for Evaluator<'_> {
    fn default() -> Self {
        Self::with(&Options::default())
    }
}

impl<'h> Evaluator<'h> {
    /// An evaluator with some options, whose host has no files and runs no Rust blocks.
    pub fn with(options: &Options) -> Self {
        Self { options: *options, host: &NoHost }
    }

    /// The same with another host.
    pub fn host(self, host: &'h dyn Host) -> Self {
        Self { host, ..self }
    }

    /// Reads, checks and evaluates a worksheet's text. Never fails: what is wrong is in [`Evaluation::problems`].
    #[cfg(feature = "markdown")]
    pub fn evaluate(&self, source: &str) -> Evaluation {
        let (worksheet, problems) = Worksheet::new(source);
        let mut evaluation = self.evaluate_worksheet(&worksheet, problems);
        evaluation.add(surroundings::problems(&worksheet, &evaluation.sheet, self.host));
        evaluation
    }

    /// The givens that could explain a reading of a value (SI), each alone; nothing where the worksheet has no such value,
    /// or no given with a tolerance behind it. No build is simulated.
    pub fn suspects(&self, worksheet: &Worksheet, value: &str, reading: f64) -> Option<Suspects> {
        pipeline::suspects(worksheet, value, reading, self.host)
    }

    /// Holds readings, each a value's name and a text, against what a sound build can show. The ranges are those of the whole
    /// evaluation; nothing but the values that were read is simulated.
    pub fn readings(&self, worksheet: &Worksheet, readings: &[(String, String)]) -> JudgedReadings {
        pipeline::readings(worksheet, readings, &self.options, self.host)
    }

    /// The parts of a worksheet. Nothing is evaluated.
    pub fn parts(&self, worksheet: &Worksheet) -> Vec<Part> {
        let worksheet = &*worksheet.with_used(self.host);
        WholeSheet::new(worksheet, &self.options, self.host).checked.parts
    }

    /// Evaluates a worksheet whose Markdown has been read; `problems` are those found while reading it. Never fails.
    pub fn evaluate_worksheet(&self, worksheet: &Worksheet, problems: Vec<Problem>) -> Evaluation {
        pipeline::evaluate(worksheet, problems, &self.options, self.host)
    }
}

/// Settings of an evaluation.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Monte Carlo samples, instead of the worksheet's.
    pub samples: Option<u64>,
    /// Seed of the random numbers, instead of the worksheet's.
    pub seed: Option<u64>,
    /// How far tolerances are followed through runs over time.
    pub over_time: OverTime,
}

/// How far tolerances are followed through `transient` blocks. A page shows the nominal values at once and the rest when it is there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OverTime {
    /// As far as the work that each block may take allows.
    #[default]
    Builds,
    /// Not at all: what a block gives is its run at the nominal values.
    Nominal,
}
