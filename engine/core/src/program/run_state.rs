//! What one run of a program changes. The program itself never changes, so that several runs of it can stand side by side.

use std::sync::OnceLock;

use super::{Program, Reg, Standing, Step, WIDEST};
use crate::host::{Budget, Fidelity};

/// The state of one run: what its searches found, and how much its Rust blocks may still do.
#[derive(Debug)]
pub(crate) struct RunState {
    /// How far the tolerances are followed through each call of the program.
    fidelities: Vec<Fidelity>,
    /// One for each call of the program.
    budgets: Vec<Budget>,
    /// One for each search of the program; a search is made once a run.
    found: Vec<OnceLock<SearchResult>>,
    /// Whether choices are made by their nearness alone, to see what they do to the requirements.
    pub(crate) tries_choices: bool,
}

/// The result of a search.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct SearchResult {
    /// The roots, rising; or the best combinations, the best first.
    pub(crate) points: Vec<Vec<f64>>,
    /// The watched register at each.
    pub(crate) values: Vec<f64>,
    /// For a root: least and greatest value of the watched register over the span.
    pub(crate) reached: Option<(f64, f64)>,
    /// For a root: first and last point of the grid at which the watched register has no finite value.
    pub(crate) without_value: Option<(f64, f64)>,
    /// For a root: where the two sides come nearest to one another without meeting, and how near.
    pub(crate) nearest: Option<(f64, f64)>,
    /// For a choice: how each combination stands to the requirements; empty where it reaches none.
    pub(crate) standings: Vec<Standing>,
    /// For a choice: how many combinations there are.
    pub(crate) combinations: usize,
    /// The span that was searched.
    pub(crate) span: (f64, f64),
}

/// All registers, and the outputs of all calls, at the nominal values of a scenario.
#[derive(Clone, Debug)]
pub(crate) struct Nominal {
    /// SI, by register.
    pub(crate) regs: Vec<f64>,
    /// SI, by call.
    pub(crate) outputs: Vec<[f64; WIDEST]>,
}

impl RunState {
    /// A run that has not begun.
    pub(crate) fn new(program: &Program, fidelity: Fidelity) -> Self {
        Self::with(program, vec![fidelity; program.calls.len()])
    }

    /// The same with a fidelity for each call of the program.
    pub(crate) fn with(program: &Program, fidelities: Vec<Fidelity>) -> Self {
        Self {
            fidelities,
            budgets: program.calls.iter().map(|_| Budget::default()).collect(),
            found: program.searches.iter().map(|_| OnceLock::new()).collect(),
            tries_choices: false,
        }
    }

    /// A run beside this one with the searches made so far, in which one more has found a result.
    pub(crate) fn trying(&self, program: &Program, search: u32, result: SearchResult) -> Self {
        let mut state =
            Self { found: self.found.clone(), tries_choices: true, ..Self::with(program, self.fidelities.clone()) };
        state.found[search as usize] = OnceLock::from(result);
        state
    }

    /// The budget of a call.
    pub(crate) fn budget(&self, call: u32) -> &Budget {
        &self.budgets[call as usize]
    }

    /// How far the tolerances are followed through a call.
    pub(crate) fn fidelity(&self, call: u32) -> Fidelity {
        self.fidelities[call as usize]
    }

    /// The fidelities for another run: lower for each call that was asked for more runs than its budget allows. `None` where
    /// there is none, or none that can be lower.
    pub(crate) fn lowered(&self) -> Option<Vec<Fidelity>> {
        let mut lower = false;
        let each = self.fidelities.iter().zip(&self.budgets).map(|(fidelity, budget)| match fidelity {
            Fidelity::Nominal => Fidelity::Nominal,
            fidelity if !budget.is_spent() => *fidelity,
            fidelity => {
                lower = true;
                fidelity.lower()
            }
        });
        let each = each.collect();
        lower.then_some(each)
    }

    /// The result of a search, made by `search` where it has not been made in this run.
    pub(crate) fn found_or(&self, search: u32, make: impl FnOnce() -> SearchResult) -> &SearchResult {
        self.found[search as usize].get_or_init(make)
    }

    /// The result of a search that has been made.
    pub(crate) fn found(&self, search: u32) -> Option<&SearchResult> {
        self.found[search as usize].get()
    }

    /// Whether a step keeps its nominal value in every build: a decision, or a Rust block or a system that runs at the nominal values
    /// alone.
    pub(crate) fn is_held(&self, program: &Program, reg: Reg) -> bool {
        match program.steps[reg as usize] {
            Step::Call(call) => self.fidelity(call).is_nominal() && program.is_costly(call),
            Step::Output(call, _) => self.is_held(program, call),
            _ => program.is_decision(reg),
        }
    }
}
