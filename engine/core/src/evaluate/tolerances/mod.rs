//! The box of tolerances: a program, the span of each of its sources, and its registers at the centre. Values at other
//! points of the box are worked out from it.

mod dependencies;

use std::{borrow::Cow, sync::Mutex};

use dependencies::Dependencies;

use crate::{
    host::Fidelity,
    parallel::locked,
    program::{Nominal, Program, Reg, RunState, Scenario, Source, Step, WIDEST},
    results::End,
};

/// A program over a box of source values.
pub(crate) struct Tolerances<'a> {
    pub(crate) program: &'a Program,
    /// The sources of the scenario; their ends and nominal values as the box has them stand below.
    pub(crate) sources: Cow<'a, [Source]>,
    pub(crate) state: &'a RunState,
    /// Least and greatest value of each source.
    pub(crate) ends: Vec<(f64, f64)>,
    /// Nominal value of each source.
    pub(crate) centre: Vec<f64>,
    /// Registers at the nominal values.
    pub(crate) nominal: Vec<f64>,
    outputs: Vec<[f64; WIDEST]>,
    /// A register that is held at its value, whatever its step says.
    pub(crate) pinned: Option<Reg>,
    /// For [`Tolerances::probe`]; at the nominal values between calls.
    scratch: Mutex<Scratch>,
    dependencies: Dependencies,
}

impl<'a> Tolerances<'a> {
    /// The box that a scenario's sources span; `nominal` is the program's run at its centre.
    pub(crate) fn new(scenario: &Scenario<'a>, state: &'a RunState, nominal: Nominal) -> Self {
        let Scenario { program, sources } = scenario;
        let ends = sources.iter().map(|source| (source.low, source.high)).collect();
        let centre = scenario.nominal();
        let Nominal { regs: nominal, outputs } = nominal;
        let scratch = Scratch { regs: nominal.clone(), outputs: outputs.clone(), sources: centre.clone() };
        Self {
            program,
            sources: sources.clone(),
            state,
            ends,
            centre,
            nominal,
            outputs,
            pinned: None,
            scratch: Mutex::new(scratch),
            dependencies: Dependencies::new(program),
        }
    }

    /// A copy of the box, to be changed without this one changing. Decisions are not made again.
    pub(crate) fn copied(&self) -> Self {
        Self {
            program: self.program,
            sources: self.sources.clone(),
            state: self.state,
            ends: self.ends.clone(),
            centre: self.centre.clone(),
            nominal: self.nominal.clone(),
            outputs: self.outputs.clone(),
            pinned: self.pinned,
            scratch: Mutex::new(self.scratch()),
            dependencies: Dependencies::new(self.program),
        }
    }

    /// Registers and sources at the nominal values, to work on.
    pub(crate) fn scratch(&self) -> Scratch {
        Scratch { regs: self.nominal.clone(), outputs: self.outputs.clone(), sources: self.centre.clone() }
    }

    /// Sets one register to a value without tolerance, and the steps of `order` with it. Decisions stay: they
    /// are made once.
    pub(crate) fn pin(&mut self, reg: Reg, value: f64, order: &[Reg]) {
        self.pinned = Some(reg);
        self.nominal[reg as usize] = value;
        let order: Vec<Reg> = order.iter().copied().filter(|other| *other != reg && !self.is_held(*other)).collect();
        self.program.rerun(self.state, &order, &self.centre, &mut self.nominal, &mut self.outputs);
    }

    /// Moves all sources to other values than their nominal ones. Decisions stay.
    pub(crate) fn recentre(&mut self, centre: Vec<f64>) {
        self.centre = centre;
        let all = 0..self.program.steps.len() as Reg;
        let order: Vec<Reg> = all.filter(|reg| !self.is_held(*reg)).collect();
        self.program.rerun(self.state, &order, &self.centre, &mut self.nominal, &mut self.outputs);
    }

    /// Moves one source to another nominal value, and the steps of `order` with it. Decisions stay.
    pub(crate) fn move_source(&mut self, source: u32, value: f64, order: &[Reg]) {
        self.centre[source as usize] = value;
        let order: Vec<Reg> = order.iter().copied().filter(|reg| !self.is_held(*reg)).collect();
        self.program.rerun(self.state, &order, &self.centre, &mut self.nominal, &mut self.outputs);
    }

    /// Puts another part in the place of a source: its tolerance is the same in proportion.
    pub(crate) fn replace_part(&mut self, source: u32, value: f64, order: &[Reg]) {
        let scale = value / self.centre[source as usize];
        let (low, high) = self.ends[source as usize];
        self.ends[source as usize] = (low * scale, high * scale);
        self.move_source(source, value, order);
    }

    /// The source that a register reads, if it does no more.
    pub(crate) fn source_of(&self, reg: Reg) -> Option<&Source> {
        match self.program.steps[reg as usize] {
            Step::Source(source) => self.sources.get(source as usize),
            _ => None,
        }
    }

    /// All steps through which sources move some registers, rising: without those that keep their nominal value, and what
    /// only these need.
    pub(crate) fn varying_steps(&self, targets: &[Reg]) -> Vec<Reg> {
        let mut order = self.dependencies.needed(self.program, targets, |reg| !self.is_held(reg));
        order.retain(|reg| !self.is_held(*reg));
        order
    }

    /// Whether a step keeps its nominal value in every build.
    pub(crate) fn is_held(&self, reg: Reg) -> bool {
        self.state.is_held(self.program, reg)
    }

    /// Registers with some sources at other values. Costs what the registers' own steps cost, however long the program.
    pub(crate) fn probe(&self, changes: &[(u32, f64)], regs: &[Reg]) -> Vec<f64> {
        self.probe_along(changes, &self.varying_steps(regs), regs)
    }

    /// The same, where the steps to run again are known.
    pub(crate) fn probe_along(&self, changes: &[(u32, f64)], order: &[Reg], regs: &[Reg]) -> Vec<f64> {
        let mut scratch = locked(&self.scratch);
        let Scratch { regs: values, outputs, sources } = &mut *scratch;
        for (source, value) in changes {
            sources[*source as usize] = *value;
        }
        self.program.rerun(self.state, order, sources, values, outputs);
        let found = regs.iter().map(|reg| values[*reg as usize]).collect();
        for (source, _) in changes {
            sources[*source as usize] = self.centre[*source as usize];
        }
        for reg in order {
            values[*reg as usize] = self.nominal[*reg as usize];
        }
        found
    }

    /// A register with all sources at other values; `order` holds the steps that move it.
    pub(crate) fn at_sources(&self, sources: &[f64], order: &[Reg], reg: Reg) -> f64 {
        let all: Vec<(u32, f64)> = sources.iter().enumerate().map(|(source, value)| (source as u32, *value)).collect();
        self.probe_along(&all, order, &[reg]).first().copied().unwrap_or(f64::NAN)
    }

    /// A register with the sources of `order` at the same ends as in a setting found before, though the box has changed.
    /// `order` holds all steps that it needs, none of them held.
    pub(crate) fn at_corner(&self, corner: &[(u32, f64, End)], order: &[Reg], reg: Reg) -> f64 {
        let changes: Vec<(u32, f64)> = order
            .iter()
            .filter_map(|reg| match self.program.steps[*reg as usize] {
                Step::Source(source) => Some(source),
                _ => None,
            })
            .map(|source| {
                let (low, high) = self.ends[source as usize];
                let value = match corner.iter().find(|setting| setting.0 == source) {
                    Some((_, _, End::Low)) => low,
                    Some((_, _, End::High)) => high,
                    Some((_, value, End::Inside)) => value.max(low).min(high),
                    None => self.centre[source as usize],
                };
                (source, value)
            })
            .collect();
        self.probe_along(&changes, order, &[reg]).first().copied().unwrap_or(f64::NAN)
    }

    /// The values of some registers at the corners of the sources that they depend on (a choice of them where many).
    pub(crate) fn corners(&self, regs: &[Reg]) -> Vec<Vec<f64>> {
        const MOST: usize = 6;
        let order = self.varying_steps(regs);
        let varying = |reg: &Reg| match self.program.steps[*reg as usize] {
            Step::Source(source) if self.ends[source as usize].0 < self.ends[source as usize].1 => Some(source),
            _ => None,
        };
        let sources: Vec<u32> = order.iter().filter_map(varying).collect();
        if sources.is_empty() {
            return Vec::new();
        }
        let at = |corner: usize, i: usize| {
            let (low, high) = self.ends[sources[i] as usize];
            if ((corner >> (i % MOST)) ^ (i / MOST)) & 1 == 0 { low } else { high }
        };
        (0..1usize << sources.len().min(MOST))
            .map(|corner| {
                let settings: Vec<(u32, f64)> = (0..sources.len()).map(|i| (sources[i], at(corner, i))).collect();
                self.probe_along(&settings, &order, regs)
            })
            .collect()
    }

    /// The targets and all steps that they need, rising.
    pub(crate) fn needed(&self, targets: &[Reg]) -> Vec<Reg> {
        self.dependencies.needed(self.program, targets, |_| true)
    }

    /// The calls behind a register that run a Rust block or a system.
    fn costly_calls(&self, reg: Reg) -> Vec<u32> {
        if self.program.calls.is_empty() {
            return Vec::new();
        }
        self.needed(&[reg]).into_iter().filter_map(|reg| self.program.costly_call(reg)).collect()
    }

    /// Whether a register depends on a Rust block or a system, whose results have noise of their own.
    pub(crate) fn is_costly(&self, reg: Reg) -> bool {
        !self.costly_calls(reg).is_empty()
    }

    /// Whether a register depends on one that is run at the nominal values alone, although what it reads varies.
    pub(crate) fn is_nominal_alone(&self, reg: Reg) -> bool {
        self.costly_calls(reg).into_iter().any(|call| {
            let inputs = &self.program.calls[call as usize].inputs;
            self.state.fidelity(call).is_nominal() && !self.varying_steps(inputs).is_empty()
        })
    }

    /// Whether a register depends on one that simulated builds do not run.
    pub(crate) fn is_beyond_builds(&self, reg: Reg) -> bool {
        self.costly_calls(reg).into_iter().any(|call| self.state.fidelity(call) != Fidelity::Builds)
    }
}

/// Registers, outputs of calls and source values to work on.
pub(crate) struct Scratch {
    pub(crate) regs: Vec<f64>,
    pub(crate) outputs: Vec<[f64; WIDEST]>,
    pub(crate) sources: Vec<f64>,
}
