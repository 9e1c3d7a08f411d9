//! The embedded pair of order 5(4) by J. R. Dormand and P. J. Prince ("A family of embedded Runge-Kutta formulae", Journal of
//! Computational and Applied Mathematics 6, 1980, table 2), with the continuous extension of order 4 and the test for
//! stiffness of E. Hairer, S. P. Nørsett and G. Wanner, Solving Ordinary Differential Equations I, section II.6, and II,
//! section IV.2.

use super::{Formulas, Point, Stretch};

const STAGES: usize = 7;
/// Nodes and coefficients of the stages; the last stage is the step itself.
const NODES: [f64; STAGES] = [0.0, 1.0 / 5.0, 3.0 / 10.0, 4.0 / 5.0, 8.0 / 9.0, 1.0, 1.0];
const STAGE: [&[f64]; STAGES] = [
    &[],
    &[1.0 / 5.0],
    &[3.0 / 40.0, 9.0 / 40.0],
    &[44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0],
    &[19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0],
    &[9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0],
    &[35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
/// The fifth order less the fourth.
const ERROR: [f64; STAGES] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0];
/// The fourth order of the continuous extension.
const DENSE: [f64; STAGES] = [
    -12715105075.0 / 11282082432.0,
    0.0,
    87487479700.0 / 32700410799.0,
    -10690763975.0 / 1880347072.0,
    701980252875.0 / 199316789632.0,
    -1453857185.0 / 822651844.0,
    69997945.0 / 29380423.0,
];
/// Step times largest rate of decay at which the method is at the edge of its stability.
const EDGE: f64 = 3.25;
/// Steps at the edge after which a system is called stiff, and steps off it after which they are forgotten.
const AT_THE_EDGE: u32 = 15;
const OFF_THE_EDGE: u32 = 6;

/// Steps of the explicit method.
pub(super) struct Explicit {
    stages: [Vec<f64>; STAGES],
    trial: Vec<f64>,
    errors: Vec<f64>,
    /// The coefficients of the continuous extension.
    dense: [Vec<f64>; 5],
    at_the_edge: u32,
    off_the_edge: u32,
}

impl Explicit {
    pub(super) fn new(states: usize) -> Self {
        let zeros = || vec![0.0; states];
        Self {
            stages: std::array::from_fn(|_| zeros()),
            trial: zeros(),
            errors: zeros(),
            dense: std::array::from_fn(|_| zeros()),
            at_the_edge: 0,
            off_the_edge: 0,
        }
    }

    /// Whether steps are short for the sake of stability alone.
    pub(super) fn is_stiff(&self) -> bool {
        self.at_the_edge >= AT_THE_EDGE
    }

    /// Goes one step on, as long as its error allows; `None` where no step is short enough.
    pub(super) fn step(&mut self, point: &mut Point, formulas: &mut Formulas<'_>) -> Option<&dyn Stretch> {
        loop {
            let step = point.tried()?;
            self.stages[0].copy_from_slice(&point.rate);
            let mut before_last = Vec::new();
            for stage in 1..STAGES {
                if stage == STAGES - 1 {
                    before_last.clone_from(&self.trial);
                }
                for (i, trial) in self.trial.iter_mut().enumerate() {
                    let rates = STAGE[stage].iter().zip(&self.stages);
                    *trial = point.states[i] + step * rates.map(|(c, rate)| c * rate[i]).sum::<f64>();
                }
                formulas.rates(point.time + NODES[stage] * step, &self.trial, &mut self.stages[stage]);
            }
            for (i, error) in self.errors.iter_mut().enumerate() {
                *error = step * ERROR.iter().zip(&self.stages).map(|(c, rate)| c * rate[i]).sum::<f64>();
            }
            let size = point.size_of(&self.errors, &self.trial);
            if size > 1.0 || !size.is_finite() {
                let factor = if size.is_finite() { (0.9 * libm::pow(size, -0.2)).max(0.2) } else { 0.1 };
                point.step = step * factor;
                continue;
            }
            self.look_for_stiffness(step, &before_last);
            self.make_dense(step, &point.states);
            let factor = if size == 0.0 { 5.0 } else { (0.9 * libm::pow(size, -0.2)).clamp(0.2, 5.0) };
            point.rate.copy_from_slice(&self.stages[STAGES - 1]);
            point.accept(step, &self.trial);
            point.step = step * factor;
            return Some(self);
        }
    }

    fn look_for_stiffness(&mut self, step: f64, before_last: &[f64]) {
        let distance = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum::<f64>();
        let rates = distance(&self.stages[STAGES - 1], &self.stages[STAGES - 2]);
        let states = distance(&self.trial, before_last);
        if states > 0.0 && step * (rates / states).sqrt() > EDGE {
            self.off_the_edge = 0;
            self.at_the_edge += 1;
        } else {
            self.off_the_edge += 1;
            if self.off_the_edge >= OFF_THE_EDGE {
                self.at_the_edge = 0;
            }
        }
    }

    fn make_dense(&mut self, step: f64, states: &[f64]) {
        for i in 0..states.len() {
            let whole = self.trial[i] - states[i];
            let bend = step * self.stages[0][i] - whole;
            self.dense[0][i] = states[i];
            self.dense[1][i] = whole;
            self.dense[2][i] = bend;
            self.dense[3][i] = whole - step * self.stages[STAGES - 1][i] - bend;
            self.dense[4][i] = step * DENSE.iter().zip(&self.stages).map(|(c, rate)| c * rate[i]).sum::<f64>();
        }
    }
}

impl Stretch for Explicit {
    fn at(&self, part: f64, states: &mut [f64]) {
        let left = 1.0 - part;
        let [a, b, c, d, e] = &self.dense;
        for (i, state) in states.iter_mut().enumerate() {
            *state = a[i] + part * (b[i] + left * (c[i] + part * (d[i] + left * e[i])));
        }
    }
}
