//! What a checked worksheet becomes: a flat list of steps on plain `f64` in SI base units. Each step writes the register
//! of its own number and reads only earlier ones. Nothing here knows a unit or a name; nothing allocates while it runs.

mod callee;
mod columnwise;
mod interval;
mod number;
mod operation;
mod run_state;
mod scenario;
mod search;
mod transient;

pub(crate) use callee::Callee;
pub(crate) use columnwise::Columnwise;
pub(crate) use interval::{Interval, branch_of_tangent};
pub(crate) use number::Number;
pub(crate) use operation::{Domain, OneArgument, Outside, Slopes, TwoArguments, Visitor, Which, operate};
pub(crate) use run_state::{Nominal, RunState, SearchResult};
pub(crate) use scenario::Scenario;
pub(crate) use search::Goal;
pub(crate) use search::{Search, Standing};
pub(crate) use transient::{
    Extracted, Fault, MOST_STATES, Mark, MeasureOf, Method, Parts as SystemParts, Ran, Sampled, System,
};

use crate::{lang::ast::Distribution, preferred};

/// A register: the number of the step that writes it.
pub(crate) type Reg = u32;

/// One step.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub(crate) enum Step {
    Constant(f64),
    /// The value of a [`Source`].
    Source(u32),
    Negate(Reg),
    Add(Reg, Reg),
    Subtract(Reg, Reg),
    Multiply(Reg, Reg),
    Divide(Reg, Reg),
    /// Values in parallel: the reciprocal of the sum of reciprocals.
    Parallel(Reg, Reg),
    Power(Reg, Reg),
    /// A power with a whole exponent.
    WholePower(Reg, i32),
    Minimum(Reg, Reg),
    Maximum(Reg, Reg),
    ArcTangent2(Reg, Reg),
    Apply(Unary, Reg),
    Compare(Comparison, Reg, Reg),
    And(Reg, Reg),
    Or(Reg, Reg),
    Not(Reg),
    /// The second where the first is true (not 0), else the third.
    Select(Reg, Reg, Reg),
    /// A preferred value: chosen once, at the nominal values.
    Preferred(u32, Reg),
    /// A value that a [`Search`] finds, once, at the nominal values: of which search, which of its givens.
    Sought(u32, u32),
    /// Linear interpolation in a [`Table`].
    Interpolate(u32, Reg),
    /// Runs a model; its own register is 0.
    Call(u32),
    /// An output of the model that an earlier step ran.
    Output(u32, u32),
}

impl Step {
    /// Calls `visit` with every register that it reads; those of a call stand beside it, in [`Call::inputs`].
    pub(crate) fn reads(self, mut visit: impl FnMut(Reg)) {
        self.map(|input| {
            visit(input);
            input
        });
    }

    /// The same step with its registers replaced.
    pub(crate) fn map(self, mut to: impl FnMut(Reg) -> Reg) -> Self {
        match self {
            Step::Constant(_) | Step::Source(_) | Step::Call(_) | Step::Sought(..) => self,
            Step::Negate(a) => Step::Negate(to(a)),
            Step::Add(a, b) => Step::Add(to(a), to(b)),
            Step::Subtract(a, b) => Step::Subtract(to(a), to(b)),
            Step::Multiply(a, b) => Step::Multiply(to(a), to(b)),
            Step::Divide(a, b) => Step::Divide(to(a), to(b)),
            Step::Parallel(a, b) => Step::Parallel(to(a), to(b)),
            Step::Power(a, b) => Step::Power(to(a), to(b)),
            Step::WholePower(a, n) => Step::WholePower(to(a), n),
            Step::Minimum(a, b) => Step::Minimum(to(a), to(b)),
            Step::Maximum(a, b) => Step::Maximum(to(a), to(b)),
            Step::ArcTangent2(a, b) => Step::ArcTangent2(to(a), to(b)),
            Step::Apply(function, a) => Step::Apply(function, to(a)),
            Step::Compare(comparison, a, b) => Step::Compare(comparison, to(a), to(b)),
            Step::And(a, b) => Step::And(to(a), to(b)),
            Step::Or(a, b) => Step::Or(to(a), to(b)),
            Step::Not(a) => Step::Not(to(a)),
            Step::Select(a, b, c) => Step::Select(to(a), to(b), to(c)),
            Step::Preferred(choice, a) => Step::Preferred(choice, to(a)),
            Step::Interpolate(table, a) => Step::Interpolate(table, to(a)),
            Step::Output(call, field) => Step::Output(to(call), field),
        }
    }
}

/// Functions of one argument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub(crate) enum Unary {
    Abs,
    Sqrt,
    Exp,
    Ln,
    Log10,
    Sin,
    Cos,
    Tan,
    Asin,
    Acos,
    Atan,
    Floor,
    Ceil,
    Round,
}

/// Comparisons.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub(crate) enum Comparison {
    Less,
    LessOrEqual,
    Equal,
}

/// A number that the worksheet's author gave, which varies from build to build where it has a tolerance.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Source {
    /// What its random numbers go by, where that is not its name.
    pub key: Option<Box<str>>,
    /// The name of the definition it belongs to.
    pub name: String,
    /// Nominal value, SI. For a tolerance on a formula: the factor 1, or the offset 0.
    pub nominal: f64,
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
    /// How it is spread between them.
    pub distribution: Distribution,
    /// Degrees of freedom of its standard uncertainty; infinite where that is known.
    pub degrees: f64,
}

impl Source {
    /// A number that does not vary.
    pub(crate) fn fixed(name: &str, nominal: f64) -> Self {
        Self {
            key: None,
            name: name.to_owned(),
            nominal,
            low: nominal,
            high: nominal,
            distribution: Distribution::Rectangular,
            degrees: f64::INFINITY,
        }
    }

    /// Whether it differs from build to build.
    pub(crate) fn varies(&self) -> bool {
        self.low < self.high
    }
}

/// A table to interpolate in; the abscissas rise.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Table {
    /// Abscissas, SI.
    pub x: Vec<f64>,
    /// Ordinates, SI.
    pub y: Vec<f64>,
}

/// A model or a Rust block with its arguments.
#[derive(Clone, Debug)]
pub(crate) struct Call {
    /// What is run.
    pub callee: Callee,
    /// Registers of its inputs, in the callee's order.
    pub inputs: Vec<Reg>,
}

/// A checked worksheet.
#[derive(Clone, Debug, Default)]
pub(crate) struct Program {
    /// The steps, in order.
    pub steps: Vec<Step>,
    /// What the steps read from outside.
    pub sources: Vec<Source>,
    /// Calls of models.
    pub calls: Vec<Call>,
    /// Tables.
    pub tables: Vec<Table>,
    /// Choices of a preferred value.
    pub choices: Vec<preferred::Choice>,
    /// Searches for a value of a given.
    pub searches: Vec<Search>,
    /// Pairs of sources with a correlation coefficient.
    pub correlations: Vec<(u32, u32, f64)>,
}

/// Most inputs and outputs of a model.
pub(crate) const WIDEST: usize = 32;

impl Program {
    /// Appends a step and gives its register.
    pub(crate) fn push(&mut self, step: Step) -> Reg {
        self.steps.push(step);
        (self.steps.len() - 1) as Reg
    }

    /// Calls `visit` with every register that a step reads.
    pub(crate) fn inputs(&self, reg: Reg, visit: impl FnMut(Reg)) {
        match self.steps[reg as usize] {
            Step::Call(call) => self.calls[call as usize].inputs.iter().copied().for_each(visit),
            step => step.reads(visit),
        }
    }

    /// Runs one step: writes its register, from the registers before it. `outputs` holds what the calls gave, call by call.
    #[inline]
    pub(crate) fn run(
        &self,
        state: &RunState,
        reg: Reg,
        sources: &[f64],
        regs: &mut [f64],
        outputs: &mut [[f64; WIDEST]],
    ) {
        let at = reg as usize;
        match self.steps[at] {
            Step::Constant(value) => regs[at] = value,
            Step::Source(source) => regs[at] = sources[source as usize],
            Step::Preferred(choice, a) => regs[at] = self.choices[choice as usize].of(regs[a as usize]),
            // Found once in a run, and held in all builds.
            Step::Sought(..) => regs[at] = f64::NAN,
            Step::Call(call) => {
                self.call(state, call, regs, outputs);
                regs[at] = 0.0;
            }
            Step::Output(call, field) => {
                regs[at] = match self.steps[call as usize] {
                    Step::Call(call) => outputs[call as usize][field as usize],
                    _ => f64::NAN,
                }
            }
            step => {
                let columns = Columnwise::new(regs.as_chunks_mut::<1>().0, at, 1);
                columns.into_iter().for_each(|columns| operate(self, step, columns));
            }
        }
    }

    fn call(&self, state: &RunState, call: u32, regs: &[f64], outputs: &mut [[f64; WIDEST]]) {
        let target = &self.calls[call as usize];
        let mut inputs = [0.0; WIDEST];
        for (slot, reg) in inputs.iter_mut().zip(&target.inputs) {
            *slot = regs[*reg as usize];
        }
        let fields = target.callee.outputs();
        let outputs = &mut outputs[call as usize][..fields];
        target.callee.evaluate(&inputs[..target.inputs.len()], outputs, state.budget(call));
    }

    /// Whether a step is a decision, made once at the nominal values: a preferred value, or a value that a search finds.
    pub(crate) fn is_decision(&self, reg: Reg) -> bool {
        matches!(self.steps[reg as usize], Step::Preferred(..) | Step::Sought(..))
    }

    /// The Rust block that a call runs, if it runs one.
    pub(crate) fn block(&self, call: u32) -> Option<&crate::host::Block> {
        match &self.calls[call as usize].callee {
            Callee::Block(block) => Some(block),
            Callee::Model(_) | Callee::System(_) => None,
        }
    }

    /// The system of differential equations that a call follows, if it follows one.
    pub(crate) fn system(&self, call: u32) -> Option<&System> {
        match &self.calls[call as usize].callee {
            Callee::System(system) => Some(system),
            Callee::Model(_) | Callee::Block(_) => None,
        }
    }

    /// Whether a call takes so long that its runs are counted: all but models.
    pub(crate) fn is_costly(&self, call: u32) -> bool {
        !matches!(self.calls[call as usize].callee, Callee::Model(_))
    }

    /// The call that a step makes, if it makes one that takes long.
    pub(crate) fn costly_call(&self, reg: Reg) -> Option<u32> {
        match self.steps[reg as usize] {
            Step::Call(call) if self.is_costly(call) => Some(call),
            _ => None,
        }
    }

    /// The steps that lead from some registers to another, in order, without decisions.
    pub(crate) fn between(&self, moved: &[Reg], watched: Reg) -> Vec<Reg> {
        let Some(first) = moved.iter().min() else { return Vec::new() };
        let mut reached = vec![false; watched as usize + 1];
        moved.iter().filter(|reg| **reg <= watched).for_each(|reg| reached[*reg as usize] = true);
        let mut order = Vec::new();
        for reg in *first + 1..=watched {
            let mut moves = false;
            self.inputs(reg, |input| moves |= reached[input as usize]);
            if moves && !self.is_decision(reg) && !reached[reg as usize] {
                reached[reg as usize] = true;
                order.push(reg);
            }
        }
        let mut leads = vec![false; watched as usize + 1];
        leads[watched as usize] = true;
        for reg in order.iter().rev().copied() {
            if leads[reg as usize] {
                self.inputs(reg, |input| leads[input as usize] = true);
            }
        }
        order.retain(|reg| leads[*reg as usize]);
        order
    }

    /// Runs the given steps again, in order; all other registers stand.
    pub(crate) fn rerun(
        &self,
        state: &RunState,
        order: &[Reg],
        sources: &[f64],
        regs: &mut [f64],
        outputs: &mut [[f64; WIDEST]],
    ) {
        for reg in order {
            self.run(state, *reg, sources, regs, outputs);
        }
    }
}

/// Two values in parallel. Written so that a zero in either gives zero, as a short does.
pub(crate) fn parallel(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b / (a + b) }
}

/// A whole power by repeated multiplication: the same bits everywhere.
pub(crate) fn whole_power(base: f64, exponent: i32) -> f64 {
    let mut result = 1.0;
    let mut square = base;
    let mut left = exponent.unsigned_abs();
    while left > 0 {
        if left & 1 == 1 {
            result *= square;
        }
        square *= square;
        left >>= 1;
    }
    if exponent < 0 { 1.0 / result } else { result }
}

/// The lesser of two, undefined where either is.
pub(crate) fn least(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() {
        f64::NAN
    } else if b < a {
        b
    } else {
        a
    }
}

impl Table {
    /// The ordinate at an abscissa; undefined outside the table.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let upper = self.x.partition_point(|known| *known < x);
        match (upper, self.x.get(upper)) {
            (_, Some(known)) if *known == x => self.y[upper],
            (0, _) | (_, None) => f64::NAN,
            (upper, Some(_)) => {
                let (x0, x1, y0, y1) = (self.x[upper - 1], self.x[upper], self.y[upper - 1], self.y[upper]);
                y0 + (y1 - y0) * (x - x0) / (x1 - x0)
            }
        }
    }
}
