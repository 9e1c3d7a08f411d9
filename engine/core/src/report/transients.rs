//! Runs of `transient` blocks as programs read them.

use serde::Serialize;

use crate::{
    host::Fidelity,
    results::{EndedBy, Evaluation, TransientState},
};

/// How a `transient` block went at the nominal values.
#[derive(Clone, Debug, Serialize)]
pub struct TransientEntry<'a> {
    /// Line of its block.
    pub line: usize,
    /// The values that it gives.
    pub values: Vec<&'a str>,
    /// The time at which the run ended, s; `null` where the run came to nothing, as are the next four.
    pub end: Option<f64>,
    /// `event`, `time`, or `not-reached` where the longest time came before the event.
    pub ended_by: Option<&'static str>,
    /// The method of its last step.
    pub method: Option<&'static str>,
    /// Its steps.
    pub steps: Option<u32>,
    /// How often the rates were evaluated.
    pub evaluations: Option<u64>,
    /// How far the tolerances were followed: `builds`, `corners` or `nominal`.
    pub followed: &'static str,
}

impl<'a> TransientEntry<'a> {
    pub(super) fn new(state: &TransientState, evaluation: &'a Evaluation) -> Self {
        let run = state.run.as_ref();
        Self {
            line: evaluation.lines.line(state.span.start),
            values: state.measures.iter().map(|at| evaluation.values[*at].name.as_str()).collect(),
            end: run.map(|run| run.end),
            ended_by: run.map(|run| match run.ended_by {
                EndedBy::Event => "event",
                EndedBy::Time => "time",
                EndedBy::NotReached => "not-reached",
            }),
            method: run.map(|run| run.method),
            steps: run.map(|run| run.steps),
            evaluations: run.map(|run| run.evaluations),
            followed: match state.fidelity {
                Fidelity::Builds => "builds",
                Fidelity::Corners => "corners",
                Fidelity::Nominal => "nominal",
            },
        }
    }
}
