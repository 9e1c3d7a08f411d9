//! Systems of ordinary differential equations with events: what a `transient` block becomes. A system reads numbers, follows
//! its states from time 0 until its event or its longest time, and gives numbers: to the rest of the program it is a function
//! like a handbook model. The formulas of rates and measures are a program of their own, whose first registers are the time,
//! the states, and the values that it reads from outside.
//!
//! Integration is by the embedded Runge-Kutta pair of Dormand and Prince (`explicit`), and from where that is found to be
//! slowed down by stiffness by the L-stable Radau IIA method of order 5 (`implicit`). Both control their local error and
//! have a continuous extension, in which events, extremes and traces are looked for.

mod explicit;
mod extract;
mod implicit;
mod measures;

use super::{Program, Reg, RunState, WIDEST};
use crate::host::{Budget, Fidelity};
use explicit::Explicit;
pub(crate) use extract::{Extracted, Mark};
use implicit::Implicit;
use measures::Watch;

/// Most states of a system.
pub(crate) const MOST_STATES: usize = 12;
/// Local error of a step against the largest value of each state so far.
const TOLERANCE: f64 = 1e-8;
/// Most steps of a run.
const MOST_STEPS: u32 = 20_000;
/// A step is at most this part of the longest time, so that no short event is passed over unseen.
const LONGEST_STEP: f64 = 1.0 / 20.0;
/// The first step, as part of the longest time; it grows or shrinks by what its error says.
const FIRST_STEP: f64 = 1e-6;
/// Steps below this part of the longest time end a run.
const SHORTEST_STEP: f64 = 1e-15;

/// Evaluations of the rates that a budget counts as one run.
const EVALUATIONS_OF_A_RUN: u64 = 100;

/// A system of differential equations.
#[derive(Debug)]
pub(crate) struct System {
    /// The formulas. Register 0 is the time; then come the states, and the values read from outside.
    program: Program,
    run: RunState,
    states: usize,
    /// What is read from outside, beside the fixed inputs.
    reads: usize,
    /// The rate of each state.
    rates: Vec<Reg>,
    /// The steps that the rates need, in order.
    rate_order: Vec<Reg>,
    /// The steps that the event and the measures need, in order.
    look_order: Vec<Reg>,
    /// A number that is above 0 from the moment at which the run ends; without one it ends at the longest time.
    until: Option<Formula>,
    /// The numbers that the system gives.
    measures: Vec<Measure>,
    /// The formulas that can be drawn over time.
    traces: Vec<Formula>,
}

/// A register of the formulas with the steps that it needs.
#[derive(Clone, Debug)]
struct Formula {
    reg: Reg,
    order: Vec<Reg>,
}

/// What is measured in a run, of registers of the formulas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum MeasureOf {
    /// The time of the event; endless where it is not reached.
    End,
    /// The greatest value.
    Greatest(Reg),
    /// The least value.
    Least(Reg),
    /// The first time at which a number is above 0; endless where it never is.
    First(Reg),
    /// The value at the end.
    Last(Reg),
    /// The value at a time, which is an input (the place among the times).
    At(Reg, usize),
}

impl MeasureOf {
    /// The register that is measured.
    pub(crate) fn reg(self) -> Option<Reg> {
        match self {
            MeasureOf::End => None,
            MeasureOf::Greatest(reg) | MeasureOf::Least(reg) | MeasureOf::First(reg) => Some(reg),
            MeasureOf::Last(reg) | MeasureOf::At(reg, _) => Some(reg),
        }
    }

    /// The same of another register.
    pub(crate) fn moved(self, to: impl Fn(Reg) -> Reg) -> Self {
        match self {
            MeasureOf::End => MeasureOf::End,
            MeasureOf::Greatest(reg) => MeasureOf::Greatest(to(reg)),
            MeasureOf::Least(reg) => MeasureOf::Least(to(reg)),
            MeasureOf::First(reg) => MeasureOf::First(to(reg)),
            MeasureOf::Last(reg) => MeasureOf::Last(to(reg)),
            MeasureOf::At(reg, time) => MeasureOf::At(to(reg), time),
        }
    }
}

#[derive(Debug)]
struct Measure {
    of: MeasureOf,
    /// Absent for the end.
    formula: Option<Formula>,
}

/// What of its formulas a system is made of.
#[derive(Debug, Default)]
pub(crate) struct Parts {
    /// How many values are read from outside.
    pub(crate) reads: usize,
    pub(crate) rates: Vec<Reg>,
    pub(crate) until: Option<Reg>,
    pub(crate) measures: Vec<MeasureOf>,
    pub(crate) traces: Vec<Reg>,
}

/// Why a run came to nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Fault {
    /// A rate has no finite value at the start.
    NoRate,
    /// The steps became too small at this time: a state grows without bound there, or a rate jumps back and forth.
    Stuck(f64),
    /// The steps were used up at this time.
    TooManySteps(f64),
}

/// The way in which the last step of a run was made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Method {
    /// Dormand and Prince.
    #[default]
    Explicit,
    /// Radau IIA.
    Implicit,
}

/// How a run went.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ran {
    /// Time at which it ended.
    pub(crate) end: f64,
    /// Whether the event ended it, and not the longest time.
    pub(crate) reached: bool,
    pub(crate) method: Method,
    pub(crate) steps: u32,
    /// How often the rates were evaluated.
    pub(crate) evaluations: u64,
}

/// What is drawn: the traces at given times, trace by trace; NaN behind the end of the run.
#[derive(Debug)]
pub(crate) struct Sampled<'t> {
    pub(crate) times: &'t [f64],
    pub(crate) values: Vec<Vec<f64>>,
}

impl System {
    /// `program` holds the formulas as a system has them.
    pub(crate) fn new(program: Program, parts: Parts) -> Self {
        let Parts { reads, rates, until, measures, traces } = parts;
        let first = (1 + rates.len() + reads) as Reg;
        let order = |wanted: &[Reg]| needed(&program, first, wanted);
        let formula = |reg: Reg| Formula { reg, order: order(&[reg]) };
        let measure = |of: MeasureOf| Measure { of, formula: of.reg().map(formula) };
        Self {
            states: rates.len(),
            reads,
            rate_order: order(&rates),
            look_order: order(&until.into_iter().chain(measures.iter().filter_map(|of| of.reg())).collect::<Vec<_>>()),
            until: until.map(formula),
            measures: measures.into_iter().map(measure).collect(),
            traces: traces.into_iter().map(formula).collect(),
            rates,
            run: RunState::new(&program, Fidelity::Builds),
            program,
        }
    }

    /// How many numbers it gives.
    pub(crate) fn outputs(&self) -> usize {
        self.measures.len()
    }

    /// Whether it has an event.
    pub(crate) fn has_event(&self) -> bool {
        self.until.is_some()
    }

    /// Runs it once. The inputs are the longest time, the states' starts, the times of `at`, and what is read from outside; the
    /// outputs are in the order of the measures, and not numbers where the run came to nothing.
    ///
    /// # Errors
    /// Why it came to nothing. Where an input has no finite value, nothing is run, and nothing is wrong.
    pub(crate) fn evaluate(
        &self,
        inputs: &[f64],
        outputs: &mut [f64],
        sampled: Option<&mut Sampled<'_>>,
    ) -> Result<Option<Ran>, Fault> {
        outputs.fill(f64::NAN);
        let Some((longest, rest)) = inputs.split_first() else { return Ok(None) };
        if inputs.iter().any(|input| !input.is_finite()) || *longest <= 0.0 {
            return Ok(None);
        }
        let (starts, rest) = rest.split_at(self.states);
        let (times, reads) = rest.split_at(rest.len() - self.reads);
        let mut formulas = Formulas::new(self, reads);
        let mut watch = Watch::new(self, times, sampled);
        let ran = self.follow(*longest, starts, &mut formulas, &mut watch)?;
        watch.finish(outputs, &ran);
        Ok(Some(ran))
    }

    /// The same, as often as a budget allows; not numbers from there on.
    pub(crate) fn counted(&self, inputs: &[f64], outputs: &mut [f64], budget: &Budget) {
        outputs.fill(f64::NAN);
        if budget.is_spent() || budget.is_given_up() {
            return;
        }
        let first = budget.is_whole();
        match self.evaluate(inputs, outputs, None) {
            Ok(None) => {}
            Ok(Some(ran)) => budget.spend(1 + ran.evaluations / EVALUATIONS_OF_A_RUN),
            // At the nominal values: nothing is gained by trying others.
            Err(_) if first => budget.give_up(),
            Err(_) => budget.spend(u64::from(MOST_STEPS) / EVALUATIONS_OF_A_RUN),
        }
    }

    fn follow(
        &self,
        longest: f64,
        starts: &[f64],
        formulas: &mut Formulas<'_>,
        watch: &mut Watch<'_, '_>,
    ) -> Result<Ran, Fault> {
        let mut point = Point::new(starts, longest);
        formulas.rates(0.0, starts, &mut point.rate);
        if point.rate.iter().any(|rate| !rate.is_finite()) {
            return Err(Fault::NoRate);
        }
        let mut ran = Ran { end: 0.0, reached: false, method: Method::Explicit, steps: 0, evaluations: 0 };
        if watch.start(formulas, starts) {
            return Ok(Ran { reached: true, ..ran });
        }
        let mut explicit = Explicit::new(self.states);
        let mut implicit = Implicit::new(self.states);
        while point.time < longest {
            if ran.steps >= MOST_STEPS {
                return Err(Fault::TooManySteps(point.time));
            }
            ran.steps += 1;
            let from = point.time;
            let stretch = match ran.method {
                Method::Explicit => explicit.step(&mut point, formulas),
                Method::Implicit => implicit.step(&mut point, formulas),
            };
            let Some(stretch) = stretch else { return Err(Fault::Stuck(from)) };
            ran.evaluations = formulas.evaluations;
            if let Some(time) = watch.look(formulas, stretch, from, point.time) {
                return Ok(Ran { end: time, reached: true, ..ran });
            }
            if ran.method == Method::Explicit && (explicit.is_stiff() || ran.steps == MOST_STEPS / 4) {
                ran.method = Method::Implicit;
            }
        }
        Ok(Ran { end: point.time, ..ran })
    }
}

/// The steps that some registers need, rising; the first `first` registers stand.
fn needed(program: &Program, first: Reg, wanted: &[Reg]) -> Vec<Reg> {
    let mut is_needed = vec![false; program.steps.len()];
    wanted.iter().for_each(|reg| is_needed[*reg as usize] = true);
    for reg in (first..program.steps.len() as Reg).rev() {
        if is_needed[reg as usize] {
            program.inputs(reg, |input| is_needed[input as usize] = true);
        }
    }
    (first..program.steps.len() as Reg).filter(|reg| is_needed[*reg as usize]).collect()
}

/// The formulas of a system with the values that one run reads.
struct Formulas<'s> {
    system: &'s System,
    regs: Vec<f64>,
    outputs: Vec<[f64; WIDEST]>,
    evaluations: u64,
}

impl<'s> Formulas<'s> {
    fn new(system: &'s System, reads: &[f64]) -> Self {
        let mut regs = vec![0.0; system.program.steps.len()];
        let first = 1 + system.states;
        regs[first..first + reads.len()].copy_from_slice(reads);
        Self { system, regs, outputs: vec![[f64::NAN; WIDEST]; system.program.calls.len()], evaluations: 0 }
    }

    fn run(&mut self, time: f64, states: &[f64], order: &[Reg]) {
        self.regs[0] = time;
        self.regs[1..=states.len()].copy_from_slice(states);
        let Self { system: System { program, run, .. }, regs, outputs, .. } = self;
        program.rerun(run, order, &[], regs, outputs);
    }

    /// The rates of all states.
    fn rates(&mut self, time: f64, states: &[f64], rates: &mut [f64]) {
        let system = self.system;
        self.evaluations += 1;
        self.run(time, states, &system.rate_order);
        rates.iter_mut().zip(&system.rates).for_each(|(rate, reg)| *rate = self.regs[*reg as usize]);
    }

    /// The event and all measures: what they are now.
    fn look(&mut self, time: f64, states: &[f64], values: &mut [f64]) {
        let system = self.system;
        self.run(time, states, &system.look_order);
        let of =
            |formula: &Option<Formula>| formula.as_ref().map_or(f64::NAN, |formula| self.regs[formula.reg as usize]);
        values[0] = of(&system.until);
        values[1..].iter_mut().zip(&system.measures).for_each(|(value, measure)| *value = of(&measure.formula));
    }

    fn value(&mut self, time: f64, states: &[f64], formula: &Formula) -> f64 {
        self.run(time, states, &formula.order);
        self.regs[formula.reg as usize]
    }
}

/// Where a run is.
struct Point {
    time: f64,
    states: Vec<f64>,
    rate: Vec<f64>,
    /// The largest size of each state so far.
    sizes: Vec<f64>,
    /// The step to try next.
    step: f64,
    longest: f64,
}

impl Point {
    fn new(starts: &[f64], longest: f64) -> Self {
        Self {
            time: 0.0,
            states: starts.to_vec(),
            rate: vec![0.0; starts.len()],
            sizes: starts.iter().map(|start| start.abs()).collect(),
            step: FIRST_STEP * longest,
            longest,
        }
    }

    /// The step to try: not beyond the end, and not so short of it that a sliver is left. `None` where it is too small.
    fn tried(&self) -> Option<f64> {
        let left = self.longest - self.time;
        let step = self.step.min(LONGEST_STEP * self.longest);
        if step >= left {
            return Some(left);
        }
        (step >= SHORTEST_STEP * self.longest.max(self.time)).then(|| if 2.0 * step > left { left / 2.0 } else { step })
    }

    /// The root mean square of errors, each against its state's size.
    fn size_of(&self, errors: &[f64], ahead: &[f64]) -> f64 {
        let mut sum = 0.0;
        for ((error, size), ahead) in errors.iter().zip(&self.sizes).zip(ahead) {
            let allowed = TOLERANCE * size.max(ahead.abs());
            let part = if *error == 0.0 { 0.0 } else { error / allowed };
            sum += part * part;
        }
        (sum / errors.len() as f64).sqrt()
    }

    /// Goes on to the end of a step.
    fn accept(&mut self, step: f64, states: &[f64]) {
        // The last step ends exactly where the run does.
        let left = self.longest - self.time;
        self.time = if step == left { self.longest } else { self.time + step };
        self.states.copy_from_slice(states);
        for (size, state) in self.sizes.iter_mut().zip(states) {
            *size = size.max(state.abs());
        }
    }
}

/// A step with its continuous extension.
trait Stretch {
    /// The states at a part (0 to 1) of the step.
    fn at(&self, part: f64, states: &mut [f64]);
}
