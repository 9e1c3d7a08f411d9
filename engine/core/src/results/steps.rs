//! How a build is made, step by step.

use super::{Suspects, Value};
use crate::span::Span;
use benchleaf_words::Phrase;

/// A block of steps.
#[derive(Clone, Debug, Default)]
pub struct StepSet {
    /// Where the block stands.
    pub span: Span,
    /// The steps, as many as the block has, in order.
    pub steps: Vec<Step>,
}

impl StepSet {
    /// What all steps take that say so, s; and how many do not say it.
    pub fn seconds(&self) -> (f64, usize) {
        let said = self.steps.iter().filter_map(|step| step.seconds);
        (said.sum(), self.steps.iter().filter(|step| step.seconds.is_none()).count())
    }

    /// All tools, each once, in the order in which they are first named.
    pub fn tools(&self) -> Vec<&str> {
        let mut tools: Vec<&str> = Vec::new();
        for tool in self.steps.iter().flat_map(|step| &step.tools) {
            if !tools.contains(&tool.as_str()) {
                tools.push(tool);
            }
        }
        tools
    }
}

/// A step.
#[derive(Clone, Debug, Default)]
pub struct Step {
    /// What it is called.
    pub title: String,
    /// Where its name stands.
    pub span: Span,
    /// How long it takes, s, where it says so.
    pub seconds: Option<f64>,
    /// The tools that it takes.
    pub tools: Vec<String>,
    /// The designators of the parts that it places.
    pub places: Vec<String>,
    /// What it switches on; empty where it applies no power.
    pub power: Vec<String>,
    /// What it waits for.
    pub pauses: Vec<String>,
    /// Its test points.
    pub checks: Vec<TestPoint>,
}

/// A place where a value is read.
#[derive(Clone, Debug)]
pub struct TestPoint {
    /// Its index in [`super::Evaluation::values`].
    pub value: usize,
    /// The place.
    pub at: String,
    /// Where the line stands.
    pub span: Span,
}

/// What a reading of a value says of a build.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// Most sound builds show such a reading: it lies within the 95 % coverage interval.
    Usual,
    /// A sound build can show it, but few do: it lies outside of that, and within the worst case.
    Rare,
    /// No sound build shows it, as far as the worst case goes.
    Unsound,
}

/// Readings at test points, held against what a sound build can show.
#[derive(Clone, Debug, Default)]
pub struct JudgedReadings {
    /// The values that were read, and every given.
    pub values: Vec<Value>,
    /// The readings, in the order in which they were asked for; a sentence where one cannot be judged.
    pub readings: Vec<Result<JudgedReading, Phrase>>,
}

/// A reading at a test point.
#[derive(Clone, Debug)]
pub struct JudgedReading {
    /// The value that was read: its index in [`JudgedReadings::values`].
    pub value: usize,
    /// The reading, SI.
    pub si: f64,
    /// What it says of the build.
    pub shows: Shows,
    /// The givens that could explain it, where no sound build shows it. Their indices are those of [`JudgedReadings::values`].
    pub suspects: Option<Suspects>,
}

/// A time as it is said of work: `45 s`, `10 min`, `1 h 25 min`; from s.
pub fn duration(seconds: f64) -> String {
    let whole = |seconds: f64, unit: f64| libm::round(seconds / unit) as u64;
    let said = |large: u64, large_unit: &str, small: u64, small_unit: &str| match (large, small) {
        (0, small) => format!("{small} {small_unit}"),
        (large, 0) => format!("{large} {large_unit}"),
        (large, small) => format!("{large} {large_unit} {small} {small_unit}"),
    };
    let minutes = whole(seconds, 60.0);
    if minutes >= 60 {
        return said(minutes / 60, "h", minutes % 60, "min");
    }
    let seconds = whole(seconds, 1.0);
    said(seconds / 60, "min", seconds % 60, "s")
}

#[cfg(test)]
mod tests {
    use super::duration;

    #[test]
    fn times_are_said_as_of_work() {
        let said = [0.4, 45.0, 90.0, 600.0, 3599.6, 3600.0, 5100.0, 86400.0].map(duration);
        assert_eq!(said, ["0 s", "45 s", "1 min 30 s", "10 min", "1 h", "1 h", "1 h 25 min", "24 h"]);
    }
}
