//! Shares of the variance where a formula bends or its givens act on one another: the first-order and total-effect indices
//! of I. M. Sobol, estimated after M. J. W. Jansen ("Analysis of variance designs for model output", Computer Physics
//! Communications 117, 1999): each given in turn is drawn anew while all others stay.

use super::{
    copula::Copula,
    extremes::Tolerances,
    monte_carlo::{Plan, Redrawn},
    program::Reg,
    statistics::Moments,
};

/// Builds that the indices are estimated from.
const BUILDS: u64 = 4096;

/// First-order and total-effect share of each source.
pub(super) fn of(
    tolerances: &Tolerances<'_>,
    reg: Reg,
    sources: &[u32],
    copula: &Copula,
    seed: u64,
) -> Vec<(u32, f64, Option<f64>)> {
    let plan = Plan::new(tolerances, &[reg], copula, seed);
    let run = |redrawn: Redrawn| plan.values(reg, BUILDS, redrawn);
    let (plain, anew) = (run(Redrawn::None), run(Redrawn::All));
    let together: Vec<f64> = plain.iter().chain(&anew).copied().collect();
    let variance = Moments::of(&together).std().powi(2);
    if variance == 0.0 || !variance.is_finite() {
        return sources.iter().map(|source| (*source, 0.0, None)).collect();
    }
    let half_mean_square = |a: &[f64], b: &[f64]| {
        let squares: Vec<f64> = a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).filter(|d| d.is_finite()).collect();
        squares.iter().sum::<f64>() / (2.0 * squares.len().max(1) as f64)
    };
    sources
        .iter()
        .map(|source| {
            let one = run(Redrawn::Only(*source));
            let total = half_mean_square(&plain, &one) / variance;
            let first = 1.0 - half_mean_square(&anew, &one) / variance;
            (*source, first.clamp(0.0, 1.0), Some(total.clamp(0.0, 1.0)))
        })
        .collect()
}
