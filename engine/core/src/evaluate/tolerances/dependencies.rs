//! What depends on what: the steps that a register needs.

use std::{mem, sync::Mutex};

use crate::{
    parallel::locked,
    program::{Program, Reg},
};

/// The dependency graph of a program, with marks that make each walk cost no more than the steps that it visits.
pub(super) struct Dependencies {
    marks: Mutex<Marks>,
}

/// In which walk each step was visited last.
struct Marks {
    walk: u32,
    visited: Vec<u32>,
}

impl Dependencies {
    pub(super) fn new(program: &Program) -> Self {
        Self { marks: Mutex::new(Marks { walk: 0, visited: vec![0; program.steps.len()] }) }
    }

    /// The targets and all steps that they need, rising; `goes_on` says whether what a step needs is needed too.
    pub(super) fn needed(&self, program: &Program, targets: &[Reg], goes_on: impl Fn(Reg) -> bool) -> Vec<Reg> {
        let mut marks = locked(&self.marks);
        marks.walk += 1;
        let walk = marks.walk;
        let (mut steps, mut open) = (Vec::new(), targets.to_vec());
        while let Some(reg) = open.pop() {
            if mem::replace(&mut marks.visited[reg as usize], walk) != walk {
                steps.push(reg);
                if goes_on(reg) {
                    program.inputs(reg, |input| open.push(input));
                }
            }
        }
        steps.sort_unstable();
        steps
    }
}
