//! Shares of the variance where a formula bends or its givens act on one another: the first-order and total-effect indices
//! of I. M. Sobol, estimated after M. J. W. Jansen ("Analysis of variance designs for model output", Computer Physics
//! Communications 117, 1999): each given in turn is drawn anew while all others stay.

use std::collections::HashMap;

use super::{
    builds::{Plan, Redrawn},
    copula::Copula,
    extremes::Tolerances,
    program::Reg,
    statistics::Moments,
};

/// Builds that the indices are estimated from: their error is some 0.03.
const BUILDS: u64 = 2048;

/// A source with its first-order and total-effect share.
pub(super) type Index = (u32, f64, f64);

/// The indices of several registers, each with the sources that it depends on.
pub(super) fn of(
    tolerances: &Tolerances<'_>,
    wanted: &[(Reg, Vec<u32>)],
    copula: &Copula,
    seed: u64,
) -> HashMap<Reg, Vec<Index>> {
    if wanted.is_empty() {
        return HashMap::new();
    }
    let regs: Vec<Reg> = wanted.iter().map(|(reg, _)| *reg).collect();
    let mut sources: Vec<u32> = wanted.iter().flat_map(|(_, sources)| sources.iter().copied()).collect();
    sources.sort_unstable();
    sources.dedup();
    let mut tallies: Vec<Tally> = wanted.iter().map(|(_, sources)| Tally::new(sources)).collect();
    let plan = Plan::new(tolerances, &regs, copula, seed);
    plan.redraw(BUILDS, &sources, |redrawn, view| {
        for (reg, tally) in regs.iter().zip(&mut tallies) {
            tally.take(redrawn, view.values(*reg));
        }
    });
    regs.into_iter().zip(tallies).map(|(reg, tally)| (reg, tally.finished())).collect()
}

/// Sums over the builds of one register.
struct Tally {
    /// This block as it is, and with all sources drawn anew.
    plain: Vec<f64>,
    anew: Vec<f64>,
    moments: Moments,
    /// Each source: squared differences from the plain builds, and from those drawn anew; and how many.
    sources: Vec<(u32, f64, f64, u64)>,
}

impl Tally {
    fn new(sources: &[u32]) -> Self {
        let sources = sources.iter().map(|source| (*source, 0.0, 0.0, 0)).collect();
        Self { plain: Vec::new(), anew: Vec::new(), moments: Moments::default(), sources }
    }

    fn take(&mut self, redrawn: Redrawn, values: &[f64]) {
        match redrawn {
            Redrawn::None => self.plain = values.to_vec(),
            Redrawn::All => {
                self.anew = values.to_vec();
                self.moments = self.moments.with(Moments::of(&self.plain)).with(Moments::of(&self.anew));
            }
            Redrawn::Only(source) => {
                let Some(sums) = self.sources.iter_mut().find(|sums| sums.0 == source) else { return };
                for ((one, plain), anew) in values.iter().zip(&self.plain).zip(&self.anew) {
                    if one.is_finite() && plain.is_finite() && anew.is_finite() {
                        sums.1 += (one - plain) * (one - plain);
                        sums.2 += (one - anew) * (one - anew);
                        sums.3 += 1;
                    }
                }
            }
        }
    }

    fn finished(self) -> Vec<Index> {
        let variance = self.moments.std() * self.moments.std();
        self.sources
            .into_iter()
            .map(|(source, from_plain, from_anew, n)| {
                let scale = 2.0 * n.max(1) as f64 * variance;
                let share = |sum: f64| if scale > 0.0 { (sum / scale).clamp(0.0, 1.0) } else { 0.0 };
                (source, 1.0 - share(from_anew), share(from_plain))
            })
            .collect()
    }
}
