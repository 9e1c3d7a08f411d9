//! Steps of a build as programs read them.

use serde::Serialize;

use crate::results::{Evaluation, Step, TestPoint};

/// A step.
#[derive(Clone, Debug, Serialize)]
pub struct StepEntry<'a> {
    /// What it is called.
    pub step: &'a str,
    /// Line of its name.
    pub line: usize,
    /// How long it takes, s; `null` where it does not say so.
    pub time: Option<f64>,
    /// The tools that it takes.
    pub tools: &'a [String],
    /// The designators of the parts that it places.
    pub places: &'a [String],
    /// What it switches on; empty where it applies no power.
    pub power: &'a [String],
    /// Lines of the safety notes that it shows first: those of the worksheet whose condition can be met.
    pub cautions: Vec<usize>,
    /// Its test points.
    pub checks: Vec<TestPointEntry<'a>>,
}

/// A test point.
#[derive(Clone, Debug, Serialize)]
pub struct TestPointEntry<'a> {
    /// The value that is read.
    pub value: &'a str,
    /// Where.
    pub at: &'a str,
    /// Line of the test point.
    pub line: usize,
    /// What it comes to, SI.
    pub predicted: f64,
    /// Least and greatest value of a sound build, SI; `null` where it does not vary.
    pub worst: Option<[f64; 2]>,
    /// The 95 % coverage interval, SI; `null` where it does not vary.
    pub interval95: Option<[f64; 2]>,
}

/// Every step of the worksheet, in order.
pub(super) fn steps(evaluation: &Evaluation) -> Vec<StepEntry<'_>> {
    evaluation.steps.iter().flat_map(|set| &set.steps).map(|step| entry(step, evaluation)).collect()
}

fn entry<'a>(step: &'a Step, evaluation: &'a Evaluation) -> StepEntry<'a> {
    let applies = !step.power.is_empty();
    let shown = evaluation.notes.iter().filter(|note| applies && note.shown);
    StepEntry {
        step: &step.title,
        line: evaluation.lines.line(step.span.start),
        time: step.seconds,
        tools: &step.tools,
        places: &step.places,
        power: &step.power,
        cautions: shown.map(|note| evaluation.lines.line(note.span.start)).collect(),
        checks: step.checks.iter().filter_map(|point| test_point(point, evaluation)).collect(),
    }
}

fn test_point<'a>(point: &'a TestPoint, evaluation: &'a Evaluation) -> Option<TestPointEntry<'a>> {
    let value = evaluation.values.get(point.value)?;
    Some(TestPointEntry {
        value: &value.name,
        at: &point.at,
        line: evaluation.lines.line(point.span.start),
        predicted: value.nominal,
        worst: value.worst.as_ref().map(super::extremes),
        interval95: value.spread.map(|spread| spread.interval.ends().into()),
    })
}
