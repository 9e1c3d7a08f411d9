//! First-order propagation (JCGM 100): sensitivity coefficients by dual numbers over the same program, and the combined
//! standard uncertainty. Through a handbook model, which is a black box here, by central differences.

use super::{
    draws::{Copula, moments},
    tolerances::Tolerances,
};
use crate::program::{
    OneArgument, Outside, Program, Reg, Slopes, Source, Step, TwoArguments, Visitor, WIDEST, Which, operate,
};

/// The degrees of freedom at and below which Student's t has no standard deviation.
pub(crate) const LEAST_DEGREES: f64 = 2.0;

/// The slope of a register in each source that it depends on, rising by source.
pub(crate) type Gradient = Vec<(u32, f64)>;

/// The combined standard uncertainty and what it is made of.
#[derive(Clone, Debug)]
pub(crate) struct Combined {
    /// As JCGM 100 has it: an uncertainty counts the same whatever its degrees of freedom.
    pub(crate) std: f64,
    /// As JCGM 101 has it (6.4.9): of Student's t comes its standard deviation, ν/(ν − 2) under a root times the uncertainty.
    /// Infinite where one with a slope has none.
    pub(crate) deviation: f64,
    /// Effective degrees of freedom (Welch and Satterthwaite); infinite where all uncertainties are known.
    pub(crate) degrees: f64,
    /// Each source: sensitivity coefficient, standard uncertainty, share of the variance that the builds have; of that of
    /// JCGM 100 where the builds have none.
    pub(crate) parts: Vec<(u32, f64, f64, f64)>,
}

/// How much wider Student's t is than its scale: infinite at two degrees of freedom or fewer, where it has no standard
/// deviation (JCGM 101, 6.4.9.4).
pub(crate) fn widening(source: &Source) -> f64 {
    match source.degrees {
        n if n.is_infinite() => 1.0,
        n if n > LEAST_DEGREES => (n / (n - LEAST_DEGREES)).sqrt(),
        _ => f64::INFINITY,
    }
}

/// All sources that can move each step, rising: those of a branch that is not taken too.
pub(crate) fn acting(tolerances: &Tolerances<'_>) -> Vec<Vec<u32>> {
    let program = tolerances.program;
    let mut acting: Vec<Vec<u32>> = Vec::with_capacity(program.steps.len());
    for (reg, step) in program.steps.iter().enumerate() {
        let mut sources = Vec::new();
        match *step {
            _ if tolerances.is_held(reg as Reg) => {}
            Step::Source(source) => {
                let (low, high) = tolerances.ends[source as usize];
                sources.extend((low < high).then_some(source));
            }
            _ => program.inputs(reg as Reg, |input| sources.extend_from_slice(&acting[input as usize])),
        }
        sources.sort_unstable();
        sources.dedup();
        acting.push(sources);
    }
    acting
}

/// Gradients of all steps at the nominal values.
pub(crate) fn gradients(tolerances: &Tolerances<'_>) -> Vec<Gradient> {
    let program = tolerances.program;
    let mut gradients: Vec<Gradient> = Vec::with_capacity(program.steps.len());
    let mut jacobians: Vec<Option<Jacobian>> = vec![None; program.calls.len()];
    for (i, step) in program.steps.iter().enumerate() {
        let gradient = match *step {
            Step::Call(_) | Step::Output(..) if tolerances.is_held(i as Reg) => Vec::new(),
            Step::Call(call) => {
                let inputs = &program.calls[call as usize].inputs;
                if inputs.iter().any(|reg| !gradients[*reg as usize].is_empty()) {
                    jacobians[call as usize] = Some(jacobian(program, call, tolerances, &gradients));
                }
                Vec::new()
            }
            Step::Output(call_reg, field) => match program.steps[call_reg as usize] {
                Step::Call(call) => jacobians[call as usize].as_ref().map_or_else(Vec::new, |jacobian| {
                    let inputs = &program.calls[call as usize].inputs;
                    inputs.iter().zip(jacobian).fold(Vec::new(), |sum, (reg, column)| {
                        added(&sum, 1.0, &gradients[*reg as usize], column[field as usize])
                    })
                }),
                _ => Vec::new(),
            },
            _ => own(tolerances, *step, i as Reg, &gradients),
        };
        gradients.push(gradient);
    }
    gradients
}

/// Slopes of a model's outputs, input by input.
type Jacobian = Vec<[f64; WIDEST]>;

fn jacobian(program: &Program, call: u32, tolerances: &Tolerances<'_>, gradients: &[Gradient]) -> Jacobian {
    let target = &program.calls[call as usize];
    let mut inputs = [0.0; WIDEST];
    for (input, reg) in inputs.iter_mut().zip(&target.inputs) {
        *input = tolerances.nominal[*reg as usize];
    }
    let n = target.inputs.len();
    let fields = target.callee.outputs();
    let budget = tolerances.state.budget(call);
    target
        .inputs
        .iter()
        .enumerate()
        .map(|(i, reg)| {
            let mut column = [0.0; WIDEST];
            if gradients[*reg as usize].is_empty() {
                return column;
            }
            // A step between rounding and curvature: the cube root of the precision.
            let step = 6e-6 * inputs[i].abs().max(1e-12);
            let (mut above, mut below) = ([0.0; WIDEST], [0.0; WIDEST]);
            let mut moved = inputs;
            moved[i] = inputs[i] + step;
            target.callee.evaluate(&moved[..n], &mut above[..fields], budget);
            moved[i] = inputs[i] - step;
            target.callee.evaluate(&moved[..n], &mut below[..fields], budget);
            for ((slope, above), below) in column.iter_mut().zip(above).zip(below) {
                *slope = (above - below) / (2.0 * step);
            }
            column
        })
        .collect()
}

fn own(tolerances: &Tolerances<'_>, step: Step, reg: Reg, gradients: &[Gradient]) -> Gradient {
    operate(tolerances.program, step, Dual { tolerances, reg, gradients })
}

/// The gradient of a step, from those of what it reads.
struct Dual<'a> {
    tolerances: &'a Tolerances<'a>,
    reg: Reg,
    gradients: &'a [Gradient],
}

impl<'a> Dual<'a> {
    fn value(&self, reg: Reg) -> f64 {
        self.tolerances.nominal[reg as usize]
    }

    fn gradient(&self, reg: Reg) -> &'a Gradient {
        &self.gradients[reg as usize]
    }
}

impl Visitor for Dual<'_> {
    type Output = Gradient;

    fn one(self, operation: impl OneArgument, a: Reg) -> Gradient {
        added(&[], 0.0, self.gradient(a), operation.slope(self.value(a), self.value(self.reg)))
    }

    fn two(self, operation: impl TwoArguments, a: Reg, b: Reg) -> Gradient {
        match operation.slopes(self.value(a), self.value(b), self.value(self.reg)) {
            Slopes::Each(in_a, in_b) => added(self.gradient(a), in_a, self.gradient(b), in_b),
            Slopes::OneOf(Which::Second) => self.gradient(b).clone(),
            Slopes::OneOf(Which::First | Which::Either) => self.gradient(a).clone(),
        }
    }

    fn select(self, condition: Reg, a: Reg, b: Reg) -> Gradient {
        self.gradient(if self.value(condition) == 0.0 { b } else { a }).clone()
    }

    fn outside(self, outside: Outside) -> Gradient {
        match outside {
            Outside::Source(source) => {
                let (low, high) = self.tolerances.ends[source as usize];
                if low < high { vec![(source, 1.0)] } else { Vec::new() }
            }
            // Held, or given by `gradients`.
            Outside::Constant(_) | Outside::Run => Vec::new(),
        }
    }
}

/// `a·p + b·q`, source by source.
fn added(a: &[(u32, f64)], p: f64, b: &[(u32, f64)], q: f64) -> Gradient {
    let mut sum = Vec::with_capacity(a.len().max(b.len()));
    let (mut i, mut j) = (0, 0);
    while i < a.len() || j < b.len() {
        let (left, right) = (a.get(i), b.get(j));
        let source = left.map_or(u32::MAX, |l| l.0).min(right.map_or(u32::MAX, |r| r.0));
        let mut slope = 0.0;
        if let Some(l) = left.filter(|l| l.0 == source) {
            slope += l.1 * p;
            i += 1;
        }
        if let Some(r) = right.filter(|r| r.0 == source) {
            slope += r.1 * q;
            j += 1;
        }
        sum.push((source, slope));
    }
    sum
}

/// The combined standard uncertainty (JCGM 100, equation 16), correlations included; shares are of the variance, and a
/// covariance is halved between its two.
pub(crate) fn combined(sources: &[Source], gradient: &Gradient, copula: &Copula) -> Combined {
    let of = |source: u32| &sources[source as usize];
    let terms: Vec<(u32, f64, f64)> =
        gradient.iter().map(|(source, c)| (*source, *c, moments(of(*source)).1)).collect();
    let rows_of = |terms: &[(u32, f64, f64)]| -> Vec<f64> {
        let product = |i: usize, j: usize| {
            let ((a, c_a, u_a), (b, c_b, u_b)) = (terms[i], terms[j]);
            c_a * u_a * c_b * u_b * copula.between(a, b)
        };
        (0..terms.len()).map(|i| (0..terms.len()).map(|j| product(i, j)).sum()).collect()
    };
    let mut rows = rows_of(&terms);
    let variance: f64 = rows.iter().sum();
    let mut deviation = variance.max(0.0).sqrt();
    if terms.iter().any(|(source, c, _)| *c != 0.0 && of(*source).degrees.is_finite()) {
        let widened =
            |(source, c, u): &(u32, f64, f64)| (*source, *c, if *c == 0.0 { 0.0 } else { u * widening(of(*source)) });
        let wide: Vec<(u32, f64, f64)> = terms.iter().map(widened).collect();
        if wide.iter().all(|(.., u)| u.is_finite()) {
            rows = rows_of(&wide);
            deviation = rows.iter().sum::<f64>().max(0.0).sqrt();
        } else {
            deviation = f64::INFINITY;
        }
    }
    let shared: f64 = rows.iter().sum();
    let parts = terms
        .iter()
        .zip(&rows)
        .map(|((source, c, u), row)| (*source, *c, *u, if shared > 0.0 { row / shared } else { 0.0 }))
        .collect();
    // JCGM 100, equation G.2b; for uncorrelated sources.
    let weighed: f64 = terms.iter().map(|(source, c, u)| libm::pow(c * u, 4.0) / of(*source).degrees).sum();
    let degrees = if weighed > 0.0 { variance * variance / weighed } else { f64::INFINITY };
    Combined { std: variance.max(0.0).sqrt(), deviation, degrees, parts }
}
