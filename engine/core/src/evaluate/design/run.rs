//! Runs a program from its first step to its last, its searches included.

use super::search;
use crate::program::{Nominal, Reg, RunState, Scenario, Step, WIDEST};

/// Runs every step once. Searches are made on the way; their results stay in `state`.
pub(crate) fn run(scenario: &Scenario<'_>, state: &RunState) -> Nominal {
    let program = scenario.program;
    let sources = scenario.nominal();
    let mut regs = vec![0.0; program.steps.len()];
    let mut outputs = vec![[f64::NAN; WIDEST]; program.calls.len()];
    for (i, step) in program.steps.iter().enumerate() {
        match step {
            Step::Sought(search, part) => {
                regs[i] = search::find(scenario, state, (*search, *part), &regs, &outputs);
            }
            _ => program.run(state, i as Reg, &sources, &mut regs, &mut outputs),
        }
    }
    Nominal { regs, outputs }
}
