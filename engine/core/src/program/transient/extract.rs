//! Takes out of a program the steps that depend on the time or on a state; they become the program of a system.

use super::super::{Call, Program, Reg, Step};

/// Where the steps of a block begin in a program: first the time, then its states, then its formulas.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    steps: usize,
    calls: usize,
}

/// The steps behind a mark, parted.
#[derive(Debug)]
pub(crate) struct Extracted {
    mark: Mark,
    /// Steps that depend on the time or on a state, by their place behind the mark.
    taken: Vec<Option<Step>>,
    /// Where the others stand now.
    outside: Vec<Reg>,
    /// The calls that were taken along.
    calls: Vec<Call>,
    /// Of the calls behind the mark: whether each stays in the program.
    pub(crate) stays: Vec<bool>,
}

/// The formulas of a system.
pub(crate) struct Inside {
    /// As [`super::System`] has it: the time, the states, the values that are read, then the formulas.
    pub(crate) program: Program,
    /// The registers outside that are read.
    pub(crate) reads: Vec<Reg>,
    /// The constants outside that are read, each with its copy among the formulas.
    constants: Vec<(Reg, Reg)>,
    /// Where the taken steps stand now, by their place behind the mark.
    places: Vec<Reg>,
    mark: Mark,
    states: usize,
    outside: Vec<Reg>,
}

impl Program {
    /// Marks the end of the program.
    pub(crate) fn mark(&self) -> Mark {
        Mark { steps: self.steps.len(), calls: self.calls.len() }
    }

    /// Takes back all steps behind a mark.
    pub(crate) fn forget(&mut self, mark: Mark) {
        self.steps.truncate(mark.steps);
        self.calls.truncate(mark.calls);
    }

    /// Takes out the steps behind a mark that depend on the time or on one of `states` states, whose place holders come
    /// first. All others stay in the program.
    pub(crate) fn extract(&mut self, mark: Mark, states: usize) -> Extracted {
        let steps = self.steps.split_off(mark.steps);
        let mut calls: Vec<Option<Call>> = self.calls.split_off(mark.calls).into_iter().map(Some).collect();
        let mut found = Extracted {
            mark,
            taken: Vec::with_capacity(steps.len()),
            outside: Vec::with_capacity(steps.len()),
            calls: Vec::new(),
            stays: vec![true; calls.len()],
        };
        for (at, step) in steps.into_iter().enumerate() {
            let mut depends = at <= states;
            let mut call = match step {
                Step::Call(call) => calls.get_mut(call as usize - mark.calls).and_then(Option::take),
                _ => None,
            };
            match &call {
                Some(call) => call.inputs.iter().for_each(|input| depends |= found.is_inside(*input)),
                None => step.reads(|input| depends |= found.is_inside(input)),
            }
            if depends {
                let step = match (step, call) {
                    (Step::Call(number), Some(call)) => {
                        found.stays[number as usize - mark.calls] = false;
                        found.calls.push(call);
                        Step::Call((found.calls.len() - 1) as u32)
                    }
                    (step, _) => step,
                };
                found.taken.push(Some(step));
                found.outside.push(Reg::MAX);
                continue;
            }
            let moved = step.map(|input| found.outside(input));
            let step = match &mut call {
                Some(call) => {
                    call.inputs.iter_mut().for_each(|input| *input = found.outside(*input));
                    self.calls.push(call.clone());
                    Step::Call((self.calls.len() - 1) as u32)
                }
                None => moved,
            };
            found.taken.push(None);
            found.outside.push(self.push(step));
        }
        found
    }
}

impl Extracted {
    /// Whether a register is of a step that was taken out.
    pub(crate) fn is_inside(&self, reg: Reg) -> bool {
        let at = (reg as usize).checked_sub(self.mark.steps);
        at.is_some_and(|at| self.taken.get(at).is_some_and(Option::is_some))
    }

    /// Where a register that stays in the program is now.
    pub(crate) fn outside(&self, reg: Reg) -> Reg {
        match (reg as usize).checked_sub(self.mark.steps) {
            Some(at) => self.outside[at],
            None => reg,
        }
    }

    /// The program of the formulas, of which `wanted` will be asked for.
    pub(crate) fn inside(self, outer: &Program, states: usize, wanted: impl Iterator<Item = Reg>) -> Inside {
        let mut reads: Vec<Reg> = Vec::new();
        let mut read = |reg: Reg| {
            if !self.is_inside(reg) {
                let reg = self.outside(reg);
                if !reads.contains(&reg) {
                    reads.push(reg);
                }
            }
        };
        wanted.for_each(&mut read);
        self.calls.iter().flat_map(|call| &call.inputs).copied().for_each(&mut read);
        self.taken.iter().skip(1 + states).flatten().for_each(|step| step.reads(&mut read));
        let (constants, reads): (Vec<Reg>, Vec<Reg>) =
            reads.into_iter().partition(|reg| matches!(outer.steps[*reg as usize], Step::Constant(_)));
        let mut program =
            Program { tables: outer.tables.clone(), choices: outer.choices.clone(), ..Program::default() };
        for source in 0..(1 + states + reads.len()) as u32 {
            program.push(Step::Source(source));
        }
        let constants = constants.into_iter().map(|reg| (reg, program.push(outer.steps[reg as usize]))).collect();
        let Self { mark, taken, outside, mut calls, .. } = self;
        let places = (0..taken.len() as Reg).map(|at| if at <= states as Reg { at } else { Reg::MAX }).collect();
        let mut found = Inside { program, reads, constants, places, mark, states, outside };
        for call in &mut calls {
            // Inputs of a call stand before its step, and are put in their places below.
            found.program.calls.push(Call { callee: call.callee.clone(), inputs: Vec::new() });
        }
        for (at, step) in taken.into_iter().enumerate().skip(1 + states) {
            let Some(step) = step else { continue };
            if let Step::Call(call) = step {
                let inputs = calls[call as usize].inputs.iter().map(|input| found.place(*input)).collect();
                found.program.calls[call as usize].inputs = inputs;
            }
            let step = step.map(|input| found.place(input));
            found.places[at] = found.program.push(step);
        }
        found
    }
}

impl Inside {
    /// The register among the formulas of a register of the block.
    pub(crate) fn place(&self, reg: Reg) -> Reg {
        let behind = (reg as usize).checked_sub(self.mark.steps);
        if let Some(place) = behind.map(|at| self.places[at]).filter(|place| *place != Reg::MAX) {
            return place;
        }
        let outside = behind.map_or(reg, |at| self.outside[at]);
        if let Some((_, copy)) = self.constants.iter().find(|(constant, _)| *constant == outside) {
            return *copy;
        }
        let read = self.reads.iter().position(|read| *read == outside).unwrap_or_default();
        (1 + self.states + read) as Reg
    }
}
