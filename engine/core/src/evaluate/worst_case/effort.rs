//! How much is done for each worst case, so that a worksheet of thousands of nonlinear lines is still evaluated in seconds:
//! all targets together have so many steps to search and to prove along. Which of them are searched depends on their order
//! alone.

use super::{
    super::{columns::Plan, draws::Copula, tolerances::Tolerances},
    enclosure::{Enclosure, Enclosures},
    extremes::{Extremes, UNKNOWN},
    prove,
    search::{self, INSIDE, Sought, scattered},
};
use crate::{handbook::LANES, program::Reg, results::Certainty};

/// A register whose extremes are sought.
pub(super) struct Task<'e> {
    /// Its place among the targets.
    pub(super) at: usize,
    pub(super) target: Reg,
    pub(super) enclosure: &'e Enclosure,
    /// The steps that move it.
    pub(super) order: Vec<Reg>,
    pub(super) sought: Sought,
    pub(super) effort: Effort,
}

/// What one search and one proof may cost.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// Parts of the box that a proof looks at.
    pub(super) parts: usize,
    /// Times that a walk evaluates what lies ahead of it.
    pub(super) rounds: u32,
}

/// Steps of all targets together that are searched one by one.
const MOST_STEPS: usize = 200_000;
/// Steps times parts of all proofs; a page of thirty formulas takes some hundred thousand.
const MOST_PROVEN: usize = 15_000_000;
/// Steps times rounds of all walks.
const MOST_WALKED: usize = 30_000_000;
/// The least that any of them gets.
const LEAST_PARTS: usize = 30;
const LEAST_ROUNDS: usize = 100;
/// Points at which the targets beyond reach are tried.
const POINTS: usize = 4 * LANES;

impl Effort {
    pub(super) const ALL: Self = Self { parts: prove::MOST_PARTS, rounds: search::MOST_ROUNDS };

    /// Where all searches together have so many steps.
    fn over(steps: usize) -> Self {
        let steps = steps.max(1);
        Self {
            parts: (MOST_PROVEN / steps).clamp(LEAST_PARTS, prove::MOST_PARTS),
            rounds: (MOST_WALKED / steps).clamp(LEAST_ROUNDS, search::MOST_ROUNDS as usize) as u32,
        }
    }
}

impl Tolerances<'_> {
    /// The targets that are searched one by one, and those that are not.
    pub(super) fn within_reach<'e>(
        &self,
        open: Vec<(usize, &'e Enclosure)>,
        targets: &[Reg],
        known: &Enclosures<'_>,
        sought: impl Fn(Reg) -> Sought,
    ) -> (Vec<Task<'e>>, Vec<(usize, &'e Enclosure)>) {
        let (mut tasks, mut beyond, mut steps) = (Vec::new(), Vec::new(), 0);
        for (at, enclosure) in open {
            if steps > MOST_STEPS {
                beyond.push((at, enclosure));
                continue;
            }
            let target = targets[at];
            let order = self.moving(target, known);
            steps += order.len();
            tasks.push(Task { at, target, enclosure, order, sought: sought(target), effort: Effort::ALL });
        }
        let effort = Effort::over(steps);
        tasks.iter_mut().for_each(|task| task.effort = effort);
        (tasks, beyond)
    }

    /// Extremes over some scattered points, the same for all targets. What encloses them is what ranges alone say.
    pub(super) fn scattered(
        &self,
        beyond: &[(usize, &Enclosure)],
        targets: &[Reg],
        varying: &[Reg],
        results: &mut [Option<Extremes>],
    ) {
        if beyond.is_empty() {
            return;
        }
        let copula = Copula::default();
        let plan = Plan::along(self, varying, &copula, 0);
        let mut columns = vec![[0.0; LANES]; plan.columns];
        plan.fixed.iter().for_each(|(column, value)| columns[*column].fill(*value));
        let mut found = vec![[(f64::INFINITY, 0), (f64::NEG_INFINITY, 0)]; beyond.len()];
        for first in (0..POINTS).step_by(LANES) {
            for (_, source, column) in &plan.draws {
                for (lane, x) in columns[*column].iter_mut().enumerate() {
                    *x = self.scattered_source(first + lane, *source);
                }
            }
            for (step, column) in &plan.steps {
                plan.step(*step, *column, &mut columns, LANES);
            }
            for ((at, _), [least, greatest]) in beyond.iter().zip(&mut found) {
                let Some(column) = plan.slot(targets[*at]) else { continue };
                for (lane, x) in columns[column].iter().enumerate() {
                    if *x < least.0 {
                        *least = (*x, first + lane);
                    }
                    if *x > greatest.0 {
                        *greatest = (*x, first + lane);
                    }
                }
            }
        }
        let sources = |point: usize| -> Vec<f64> {
            (0..self.ends.len() as u32).map(|source| self.scattered_source(point, source)).collect()
        };
        for ((at, enclosure), [least, greatest]) in beyond.iter().zip(found) {
            let moving = enclosure.slopes.iter().map(|(source, _)| *source);
            let nothing = least.0 > greatest.0;
            results[*at] = Some(Extremes {
                low: if nothing { f64::NAN } else { least.0 },
                high: if nothing { f64::NAN } else { greatest.0 },
                low_at: self.settings(moving.clone(), &sources(least.1)),
                high_at: self.settings(moving, &sources(greatest.1)),
                certainty: Certainty::Searched,
                enclosure: if enclosure.sampled { UNKNOWN } else { (enclosure.range.low, enclosure.range.high) },
                unbounded: None,
                zero_by_zero: false,
                heaviest: None,
            });
        }
    }

    /// A source at one of the scattered points: the nominal values, corners, and points inside.
    fn scattered_source(&self, point: usize, source: u32) -> f64 {
        let (low, high) = self.ends[source as usize];
        let corner = |bits: usize| if (bits >> (source % 6)) & 1 == 0 { low } else { high };
        match point {
            0 => self.centre[source as usize],
            1..=64 => corner((point - 1) ^ (source as usize / 6)),
            _ => {
                let share = scattered(point % INSIDE, source as usize);
                // Beyond the first scatter, the same mirrored.
                low + (high - low) * if (point / INSIDE).is_multiple_of(2) { share } else { 1.0 - share }
            }
        }
    }
}
