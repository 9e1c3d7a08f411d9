//! How a `transient` block went at the nominal values.

use crate::{host::Fidelity, span::Span, units::DisplayUnit};

/// How a `transient` block went at the nominal values.
#[derive(Clone, Debug)]
pub struct TransientState {
    /// Where its block stands.
    pub span: Span,
    /// The values that it gives: their indices in [`super::Evaluation::values`].
    pub measures: Vec<usize>,
    /// The run; absent where it came to nothing.
    pub run: Option<TransientRun>,
    /// How far the tolerances were followed through it.
    pub fidelity: Fidelity,
}

/// One run of a system of differential equations.
#[derive(Clone, Debug, PartialEq)]
pub struct TransientRun {
    /// The time at which it ended, s.
    pub end: f64,
    /// The unit in which a reader sees it.
    pub unit: DisplayUnit,
    /// What ended it.
    pub ended_by: EndedBy,
    /// The method of its last step, by the names of those who published it.
    pub method: &'static str,
    /// Its steps.
    pub steps: u32,
    /// How often the rates were evaluated.
    pub evaluations: u64,
}

/// What ends a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EndedBy {
    /// Its event.
    Event,
    /// Its longest time, where it has no event.
    Time,
    /// Its longest time, before the event was reached.
    NotReached,
}
