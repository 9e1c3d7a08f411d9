//! First-order propagation (JCGM 100): sensitivity coefficients by dual numbers over the same program, and the combined
//! standard uncertainty. Through a handbook model, which is a black box here, by central differences.

use super::{
    draws::{Copula, moments},
    tolerances::Tolerances,
};
use crate::program::{Program, Reg, Step, Unary, WIDEST, whole_power};

/// The slope of a register in each source that it depends on, rising by source.
pub(crate) type Gradient = Vec<(u32, f64)>;

/// The combined standard uncertainty and what it is made of.
#[derive(Clone, Debug)]
pub(crate) struct Combined {
    pub(crate) std: f64,
    /// Effective degrees of freedom (Welch and Satterthwaite); infinite where all uncertainties are known.
    pub(crate) degrees: f64,
    /// Each source: sensitivity coefficient, standard uncertainty, share of the variance.
    pub(crate) parts: Vec<(u32, f64, f64, f64)>,
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
    let x = |a: Reg| tolerances.nominal[a as usize];
    let g = |a: Reg| &gradients[a as usize];
    let chain = |a: Reg, slope: f64| added(&[], 0.0, g(a), slope);
    let chain2 = |a: Reg, slope_a: f64, b: Reg, slope_b: f64| added(g(a), slope_a, g(b), slope_b);
    match step {
        Step::Source(source) => {
            let (low, high) = tolerances.ends[source as usize];
            if low < high { vec![(source, 1.0)] } else { Vec::new() }
        }
        Step::Negate(a) => chain(a, -1.0),
        Step::Add(a, b) => chain2(a, 1.0, b, 1.0),
        Step::Subtract(a, b) => chain2(a, 1.0, b, -1.0),
        Step::Multiply(a, b) => chain2(a, x(b), b, x(a)),
        Step::Divide(a, b) => chain2(a, 1.0 / x(b), b, -x(a) / (x(b) * x(b))),
        Step::Parallel(a, b) => {
            let sum = x(a) + x(b);
            chain2(a, (x(b) / sum) * (x(b) / sum), b, (x(a) / sum) * (x(a) / sum))
        }
        Step::WholePower(a, n) => chain(a, f64::from(n) * whole_power(x(a), n - 1)),
        Step::Power(a, b) => {
            let slope_b = if g(b).is_empty() { 0.0 } else { x(reg) * libm::log(x(a)) };
            chain2(a, x(b) * libm::pow(x(a), x(b) - 1.0), b, slope_b)
        }
        Step::Minimum(a, b) => g(if x(b) < x(a) { b } else { a }).clone(),
        Step::Maximum(a, b) => g(if x(b) > x(a) { b } else { a }).clone(),
        Step::ArcTangent2(a, b) => {
            let square = x(a) * x(a) + x(b) * x(b);
            chain2(a, x(b) / square, b, -x(a) / square)
        }
        Step::Select(c, a, b) => g(if x(c) == 0.0 { b } else { a }).clone(),
        Step::Interpolate(table, a) => {
            let table = &tolerances.program.tables[table as usize];
            let upper = table.x.partition_point(|known| *known < x(a)).clamp(1, table.x.len() - 1);
            chain(a, (table.y[upper] - table.y[upper - 1]) / (table.x[upper] - table.x[upper - 1]))
        }
        Step::Apply(function, a) => chain(a, slope(function, x(a), x(reg))),
        _ => Vec::new(),
    }
}

fn slope(function: Unary, x: f64, y: f64) -> f64 {
    match function {
        Unary::Abs => f64::from(i8::from(x > 0.0) - i8::from(x < 0.0)),
        Unary::Sqrt => 0.5 / y,
        Unary::Exp => y,
        Unary::Ln => 1.0 / x,
        Unary::Log10 => 1.0 / (x * std::f64::consts::LN_10),
        Unary::Sin => libm::cos(x),
        Unary::Cos => -libm::sin(x),
        Unary::Tan => 1.0 + y * y,
        Unary::Asin => 1.0 / (1.0 - x * x).sqrt(),
        Unary::Acos => -1.0 / (1.0 - x * x).sqrt(),
        Unary::Atan => 1.0 / (1.0 + x * x),
        Unary::Floor | Unary::Ceil | Unary::Round => 0.0,
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
pub(crate) fn combined(program: &Program, gradient: &Gradient, copula: &Copula) -> Combined {
    let terms: Vec<(u32, f64, f64)> =
        gradient.iter().map(|(source, c)| (*source, *c, moments(&program.sources[*source as usize]).1)).collect();
    let product = |i: usize, j: usize| {
        let ((a, c_a, u_a), (b, c_b, u_b)) = (terms[i], terms[j]);
        c_a * u_a * c_b * u_b * copula.between(a, b)
    };
    let rows: Vec<f64> = (0..terms.len()).map(|i| (0..terms.len()).map(|j| product(i, j)).sum()).collect();
    let variance: f64 = rows.iter().sum();
    let parts = terms
        .iter()
        .zip(&rows)
        .map(|((source, c, u), row)| (*source, *c, *u, if variance > 0.0 { row / variance } else { 0.0 }))
        .collect();
    // JCGM 100, equation G.2b; for uncorrelated sources.
    let weighed: f64 =
        terms.iter().map(|(source, c, u)| libm::pow(c * u, 4.0) / program.sources[*source as usize].degrees).sum();
    let degrees = if weighed > 0.0 { variance * variance / weighed } else { f64::INFINITY };
    Combined { std: variance.max(0.0).sqrt(), degrees, parts }
}
