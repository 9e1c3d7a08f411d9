//! Runs a program from its first step to its last, or some of its steps again, its searches included.

use super::search::{self, Memory};
use crate::program::{Nominal, Reg, RunState, Scenario, Step, WIDEST};

/// Runs every step once. Searches are made on the way; their results stay in `state`.
pub(crate) fn run(scenario: &Scenario<'_>, state: &RunState) -> Nominal {
    let program = scenario.program;
    let mut regs = vec![0.0; program.steps.len()];
    let mut outputs = vec![[f64::NAN; WIDEST]; program.calls.len()];
    let all = 0..program.steps.len() as Reg;
    rerun(scenario, state, all, &scenario.nominal(), &mut regs, &mut outputs, &mut Memory::default());
    Nominal { regs, outputs }
}

/// Runs the given steps, in order, at these values of the sources; all other registers stand.
pub(crate) fn rerun(
    scenario: &Scenario<'_>,
    state: &RunState,
    order: impl IntoIterator<Item = Reg>,
    sources: &[f64],
    regs: &mut [f64],
    outputs: &mut [[f64; WIDEST]],
    memory: &mut Memory,
) {
    let program = scenario.program;
    for reg in order {
        match program.steps[reg as usize] {
            Step::Sought(search, part) => {
                regs[reg as usize] = search::find(scenario, state, (search, part), regs, outputs, memory);
            }
            _ => program.run(state, reg, sources, regs, outputs),
        }
    }
}
