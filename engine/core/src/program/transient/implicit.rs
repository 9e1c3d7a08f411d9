//! The Radau IIA method of order 5, three stages, L-stable (E. Hairer and G. Wanner, Solving Ordinary Differential Equations
//! II, sections IV.5 and IV.8: coefficients in table 5.6, error estimate in equation 8.20). The equations of a step are solved
//! whole by simplified Newton iterations, since systems here are small; slopes are differences.

use super::{Formulas, Point, Stretch};

const STAGES: usize = 3;
const ROOT_6: f64 = 2.449_489_742_783_178;
const NODES: [f64; STAGES] = [(4.0 - ROOT_6) / 10.0, (4.0 + ROOT_6) / 10.0, 1.0];
const STAGE: [[f64; STAGES]; STAGES] = [
    [(88.0 - 7.0 * ROOT_6) / 360.0, (296.0 - 169.0 * ROOT_6) / 1800.0, (-2.0 + 3.0 * ROOT_6) / 225.0],
    [(296.0 + 169.0 * ROOT_6) / 1800.0, (88.0 + 7.0 * ROOT_6) / 360.0, (-2.0 - 3.0 * ROOT_6) / 225.0],
    [(16.0 - ROOT_6) / 36.0, (16.0 + ROOT_6) / 36.0, 1.0 / 9.0],
];
const ERROR: [f64; STAGES] = [(-13.0 - 7.0 * ROOT_6) / 3.0, (-13.0 + 7.0 * ROOT_6) / 3.0, -1.0 / 3.0];
/// The real eigenvalue of the inverse of [`STAGE`]: 3 + ∛9 − ∛3.
const EIGENVALUE: f64 = 3.637_834_252_744_496;
const MOST_ITERATIONS: u32 = 10;
/// Iterations end when what they leave is this part of the error allowed.
const LEFT_OVER: f64 = 1e-3;

/// Steps of the implicit method.
pub(super) struct Implicit {
    states: usize,
    /// Distances of the stages from the start of the step, stage by stage.
    stages: Vec<f64>,
    start: Vec<f64>,
    slopes: Vec<f64>,
}

impl Implicit {
    pub(super) fn new(states: usize) -> Self {
        Self {
            states,
            stages: vec![0.0; STAGES * states],
            start: vec![0.0; states],
            slopes: vec![0.0; states * states],
        }
    }

    /// Goes one step on, as long as its error allows; `None` where no step is short enough.
    pub(super) fn step(&mut self, point: &mut Point, formulas: &mut Formulas<'_>) -> Option<&dyn Stretch> {
        let n = self.states;
        self.start.copy_from_slice(&point.states);
        self.find_slopes(point, formulas);
        let mut rejected = false;
        loop {
            let step = point.tried()?;
            let Some(iterations) = self.iterate(step, point, formulas) else {
                point.step = step * 0.5;
                continue;
            };
            let ahead: Vec<f64> = (0..n).map(|i| self.start[i] + self.stages[2 * n + i]).collect();
            let size = self.error(step, point, &ahead, formulas, rejected)?;
            let safety = 0.9 * (2 * MOST_ITERATIONS + 1) as f64 / (2 * MOST_ITERATIONS + iterations) as f64;
            if size > 1.0 || !size.is_finite() {
                rejected = true;
                point.step = step * if size.is_finite() { (safety * libm::pow(size, -0.25)).max(0.2) } else { 0.1 };
                continue;
            }
            let factor = if size == 0.0 { 8.0 } else { (safety * libm::pow(size, -0.25)).clamp(0.2, 8.0) };
            formulas.rates(point.time + step, &ahead, &mut point.rate);
            if point.rate.iter().any(|rate| !rate.is_finite()) {
                return None;
            }
            point.accept(step, &ahead);
            point.step = step * factor;
            return Some(self);
        }
    }

    /// Slopes of the rates in the states, row by row, by forward differences.
    fn find_slopes(&mut self, point: &Point, formulas: &mut Formulas<'_>) {
        let n = self.states;
        let mut moved = point.states.clone();
        let mut rate = vec![0.0; n];
        for column in 0..n {
            let size = point.sizes[column].max(point.states[column].abs());
            let size = if size > 0.0 { size } else { (point.rate[column] * point.step).abs().max(1e-9) };
            let by = 1e-7 * size;
            moved[column] = point.states[column] + by;
            let by = moved[column] - point.states[column];
            formulas.rates(point.time, &moved, &mut rate);
            for (row, (rate, before)) in rate.iter().zip(&point.rate).enumerate() {
                self.slopes[row * n + column] = (rate - before) / by;
            }
            moved[column] = point.states[column];
        }
    }

    /// Newton's iterations for the stages of a step; how many there were, or `None` where they do not converge.
    fn iterate(&mut self, step: f64, point: &Point, formulas: &mut Formulas<'_>) -> Option<u32> {
        let n = self.states;
        let mut matrix = vec![0.0; STAGES * n * STAGES * n];
        for (a, row) in STAGE.iter().enumerate() {
            for (b, c) in row.iter().enumerate() {
                for i in 0..n {
                    for j in 0..n {
                        let identity = if a == b && i == j { 1.0 } else { 0.0 };
                        matrix[(a * n + i) * STAGES * n + b * n + j] = identity - step * c * self.slopes[i * n + j];
                    }
                }
            }
        }
        let factors = Factors::of(matrix, STAGES * n)?;
        self.stages.fill(0.0);
        let mut rates = vec![0.0; STAGES * n];
        let mut trial = vec![0.0; n];
        let mut last: Option<f64> = None;
        for iteration in 1..=MOST_ITERATIONS {
            for (stage, node) in NODES.iter().enumerate() {
                for (i, trial) in trial.iter_mut().enumerate() {
                    *trial = self.start[i] + self.stages[stage * n + i];
                }
                formulas.rates(point.time + node * step, &trial, &mut rates[stage * n..(stage + 1) * n]);
            }
            let mut change = vec![0.0; STAGES * n];
            for (a, row) in STAGE.iter().enumerate() {
                for i in 0..n {
                    let moved: f64 = row.iter().enumerate().map(|(b, c)| c * rates[b * n + i]).sum();
                    change[a * n + i] = step * moved - self.stages[a * n + i];
                }
            }
            factors.solve(&mut change);
            self.stages.iter_mut().zip(&change).for_each(|(stage, change)| *stage += change);
            let size = (0..STAGES)
                .map(|stage| point.size_of(&change[stage * n..(stage + 1) * n], &trial))
                .fold(0.0, |a: f64, b| if b.is_nan() { f64::NAN } else { a.max(b) });
            if !size.is_finite() {
                return None;
            }
            let rate = last.map(|last| size / last);
            if size == 0.0
                || rate.is_some_and(|rate| rate < 1.0 && rate / (1.0 - rate) * size < LEFT_OVER)
                || size < 1e-6
            {
                return Some(iteration);
            }
            if rate.is_some_and(|rate| rate >= 2.0) {
                return None;
            }
            last = Some(size);
        }
        None
    }

    /// The size of the error of a step, against what is allowed.
    fn error(
        &self,
        step: f64,
        point: &Point,
        ahead: &[f64],
        formulas: &mut Formulas<'_>,
        rejected: bool,
    ) -> Option<f64> {
        let n = self.states;
        let mut matrix: Vec<f64> = self.slopes.iter().map(|slope| -slope).collect();
        (0..n).for_each(|i| matrix[i * n + i] += EIGENVALUE / step);
        let factors = Factors::of(matrix, n)?;
        let stages = |i: usize| (0..STAGES).map(|stage| ERROR[stage] * self.stages[stage * n + i]).sum::<f64>() / step;
        let mut errors: Vec<f64> = (0..n).map(|i| point.rate[i] + stages(i)).collect();
        factors.solve(&mut errors);
        let size = point.size_of(&errors, ahead);
        if size <= 1.0 || !(rejected || point.time == 0.0) {
            return Some(size);
        }
        // A first step, or one after a rejected one: the estimate is filtered once more.
        let moved: Vec<f64> = (0..n).map(|i| self.start[i] + errors[i]).collect();
        formulas.rates(point.time, &moved, &mut errors);
        (0..n).for_each(|i| errors[i] += stages(i));
        factors.solve(&mut errors);
        Some(point.size_of(&errors, ahead))
    }
}

impl Stretch for Implicit {
    /// The polynomial through the start and the stages.
    fn at(&self, part: f64, states: &mut [f64]) {
        let n = self.states;
        let weights: [f64; STAGES] = std::array::from_fn(|stage| {
            let mut weight = part / NODES[stage];
            for (other, node) in NODES.iter().enumerate() {
                if other != stage {
                    weight *= (part - node) / (NODES[stage] - node);
                }
            }
            weight
        });
        for (i, state) in states.iter_mut().enumerate() {
            let moved: f64 =
                weights.iter().enumerate().map(|(stage, weight)| weight * self.stages[stage * n + i]).sum();
            *state = self.start[i] + moved;
        }
    }
}

/// A square matrix as a product of two triangular ones, rows exchanged for the largest pivot.
struct Factors {
    n: usize,
    matrix: Vec<f64>,
    rows: Vec<usize>,
}

impl Factors {
    /// `None` where the matrix is singular.
    fn of(mut matrix: Vec<f64>, n: usize) -> Option<Self> {
        let mut rows: Vec<usize> = (0..n).collect();
        for column in 0..n {
            let size = |row: &usize| matrix[*row * n + column].abs();
            let pivot = (column..n).max_by(|a, b| size(a).total_cmp(&size(b)))?;
            if size(&pivot) == 0.0 || !size(&pivot).is_finite() {
                return None;
            }
            if pivot != column {
                (0..n).for_each(|i| matrix.swap(pivot * n + i, column * n + i));
                rows.swap(pivot, column);
            }
            for row in column + 1..n {
                let factor = matrix[row * n + column] / matrix[column * n + column];
                matrix[row * n + column] = factor;
                if factor != 0.0 {
                    for i in column + 1..n {
                        matrix[row * n + i] -= factor * matrix[column * n + i];
                    }
                }
            }
        }
        Some(Self { n, matrix, rows })
    }

    fn solve(&self, right: &mut [f64]) {
        let Self { n, matrix, rows } = self;
        let mut x: Vec<f64> = rows.iter().map(|row| right[*row]).collect();
        for row in 0..*n {
            let known: f64 = (0..row).map(|i| matrix[row * n + i] * x[i]).sum();
            x[row] -= known;
        }
        for row in (0..*n).rev() {
            let known: f64 = (row + 1..*n).map(|i| matrix[row * n + i] * x[i]).sum();
            x[row] = (x[row] - known) / matrix[row * n + row];
        }
        right.copy_from_slice(&x);
    }
}
