//! What is asked of the simulated builds, and how the answers are told: each value's spread, how often a requirement
//! fails, and whether the first-order rule of JCGM 100 would have done (JCGM 101, clause 8).

use std::collections::HashMap;

mod collector;
mod monte_carlo;
mod shares;
mod statistics;
mod tails;

use collector::{Histogram, Of, Sampled};
pub(super) use monte_carlo::Draws;
use monte_carlo::{Wanted, sample};
use shares::Nonlinear;
use statistics::Moments;
pub(super) use tails::symmetric;

use super::{
    draws::{Copula, draw, moments},
    first_order::{Combined, combined, gradients},
    tolerances::Tolerances,
};
use crate::{
    check::{Checked, CheckedKeep, CheckedValue},
    parallel,
    program::{Reg, Source, Step},
    results::{Agreement, Fails, FirstOrder, Interval95, Sensitivity, Share, Shown, Spread},
    units::ValueType,
};

/// What is simulated: a box of tolerances, how its sources go together, and the builds that are drawn.
pub(super) struct Simulation<'a> {
    pub(super) tolerances: &'a Tolerances<'a>,
    pub(super) copula: Copula,
    pub(super) draws: Draws,
}

/// The simulated builds of a worksheet, and the first-order rule beside them.
pub(super) struct Sampling<'a> {
    checked: &'a Checked,
    simulation: &'a Simulation<'a>,
    wanted: Vec<Wanted>,
    sampled: Vec<Option<Sampled>>,
    /// At the sources' means, where the first-order rule is taken.
    means: Tolerances<'a>,
    combined: Vec<Option<Combined>>,
    /// Shares by the builds, where the first-order rule does not tell them.
    indices: HashMap<Reg, Vec<shares::Index>>,
}

impl<'a> Sampling<'a> {
    pub(super) fn new(checked: &'a Checked, simulation: &'a Simulation<'a>) -> Self {
        let Simulation { tolerances, copula, draws } = simulation;
        let program = &checked.program;
        let mut wanted = Vec::new();
        // A given's distribution is known; it needs no simulation.
        let simulated = checked.values.iter().filter(|value| is_simulated(value));
        for value in simulated.filter(|value| tolerances.source_of(value.typed.reg).is_none()) {
            wanted.push(Wanted { reg: value.typed.reg, of: Of::Spread });
        }
        for keep in &checked.keeps {
            wanted.push(Wanted { reg: keep.distance, of: Of::Sign });
            wanted.extend(keep.subject.margin.is_none().then_some(Wanted { reg: keep.subject.reg, of: Of::Spread }));
        }
        for budget in checked.plots.iter().flat_map(|plot| &plot.budgets) {
            wanted.push(Wanted { reg: budget.subject.reg, of: Of::Spread });
        }
        for spread in checked.plots.iter().flat_map(|plot| &plot.spreads) {
            wanted.push(Wanted { reg: spread.subject.reg, of: Of::Histogram });
        }
        wanted.sort_by_key(|wanted| (wanted.reg, wanted.of));
        wanted.dedup();
        wanted.retain(|wanted| !tolerances.is_beyond_builds(wanted.reg));
        let (sampled, (means, combined)) = parallel::both(
            || sample(tolerances, &wanted, copula, *draws),
            || {
                let mut means = tolerances.copied();
                means.recentre(tolerances.sources.iter().map(|source| moments(source).0).collect());
                let slopes = gradients(&means);
                let combined = |wanted: &Wanted| {
                    (wanted.of != Of::Sign).then(|| combined(program, &slopes[wanted.reg as usize], copula))
                };
                let combined: Vec<Option<Combined>> = wanted.iter().map(combined).collect();
                (means, combined)
            },
        );
        // What does not vary has no uncertainty either.
        let combined =
            combined.into_iter().zip(&sampled).map(|(combined, sampled)| combined.filter(|_| sampled.is_some()));
        let combined = combined.collect();
        let mut sampling = Self { checked, simulation, wanted, sampled, means, combined, indices: HashMap::new() };
        let (nonlinear, centre) = (sampling.nonlinear(), &sampling.means.centre);
        sampling.indices = shares::of(tolerances, &nonlinear, centre, copula, draws.seed);
        sampling
    }

    /// Registers whose shares the first-order rule does not tell.
    fn nonlinear(&self) -> Vec<Nonlinear> {
        let mut found: Vec<Nonlinear> = Vec::new();
        for ((wanted, combined), sampled) in self.wanted.iter().zip(&self.combined).zip(&self.sampled) {
            let (Some(combined), Some(sampled)) = (combined, sampled) else { continue };
            let estimate = self.means.nominal[wanted.reg as usize];
            let acting = self.acting(wanted.reg);
            // Some may act in a branch that is not the one at the means.
            let all_seen = combined.parts.iter().map(|part| part.0).eq(acting.iter().copied());
            let bends = !all_seen
                || !combined.std.is_finite()
                || agreement(estimate, combined.std, sampled) == Agreement::Bends;
            // With correlated givens the indices have no meaning.
            let apart = acting.iter().all(|source| self.simulation.copula.column(*source).is_none());
            if bends && apart && found.last().is_none_or(|other| other.reg != wanted.reg) {
                let part = |source: u32| match combined.parts.iter().find(|part| part.0 == source) {
                    Some((_, slope, uncertainty, _)) => (source, *slope, *uncertainty),
                    None => (source, 0.0, moments(&self.simulation.tolerances.sources[source as usize]).1),
                };
                found.push(Nonlinear { reg: wanted.reg, parts: acting.into_iter().map(part).collect(), estimate });
            }
        }
        found
    }

    /// All sources that can move a register, rising.
    fn acting(&self, reg: Reg) -> Vec<u32> {
        let tolerances = self.simulation.tolerances;
        let varying = |reg: Reg| match tolerances.program.steps[reg as usize] {
            Step::Source(source) => Some(source).filter(|source| {
                let (low, high) = tolerances.ends[*source as usize];
                low < high
            }),
            _ => None,
        };
        let mut sources: Vec<u32> = tolerances.varying_steps(&[reg]).into_iter().filter_map(varying).collect();
        sources.sort_unstable();
        sources
    }

    /// All registers at the nominal values.
    pub(super) fn nominal(&self) -> &[f64] {
        &self.simulation.tolerances.nominal
    }

    fn find(&self, reg: Reg, of: Of) -> Option<usize> {
        self.wanted.binary_search_by_key(&(reg, of), |wanted| (wanted.reg, wanted.of)).ok()
    }

    /// The spread of a value. A given's is known exactly; everything else's is simulated.
    pub(super) fn spread(&self, reg: Reg) -> Option<Spread> {
        if let Some(source) = self.simulation.tolerances.source_of(reg) {
            return source.varies().then(|| exact(source));
        }
        self.described(self.find(reg, Of::Spread)?)
    }

    /// The spread of what was sampled at a place of `wanted`.
    fn described(&self, at: usize) -> Option<Spread> {
        let sampled = self.sampled[at].as_ref()?;
        let found = sampled.intervals?;
        let all = self.simulation.draws.samples as f64;
        let moments = (sampled.infinite == 0 && sampled.moments.count > 1).then_some(sampled.moments);
        Some(Spread {
            mean: moments.map(|moments| moments.mean).filter(|mean| mean.is_finite()),
            std: moments.map(Moments::std).filter(|std| std.is_finite() && self.has_std(at)),
            interval: shown(found.shortest, found.symmetric),
            samples: self.simulation.draws.samples,
            undefined: sampled.undefined as f64 / all,
            infinite: sampled.infinite as f64 / all,
            quantile_error: sampled.quantile_error,
        })
    }

    /// The histogram of a register, with its spread.
    pub(super) fn histogram(&self, reg: Reg) -> Option<(Histogram, Spread)> {
        let at = self.find(reg, Of::Histogram)?;
        Some((self.sampled[at].as_ref()?.histogram.clone()?, self.described(at)?))
    }

    /// Whether a value has a standard deviation that the builds could come near: none of the givens behind it has a
    /// Student's t of two degrees of freedom or fewer.
    fn has_std(&self, at: usize) -> bool {
        let behind = self.combined[at].iter().flat_map(|combined| &combined.parts).filter(|(_, c, ..)| *c != 0.0);
        let sources = &self.simulation.tolerances.sources;
        behind.map(|(source, ..)| sources[*source as usize].degrees).all(|degrees| degrees > LEAST_DEGREES)
    }

    /// In how many builds a requirement fails.
    pub(super) fn fails(&self, keep: &CheckedKeep) -> Option<Fails> {
        let sampled = self.sampled[self.find(keep.distance, Of::Sign)?].as_ref()?;
        let n = self.simulation.draws.samples as f64;
        let share = sampled.negative as f64 / n;
        // Half the width of the 95 % interval of a count (Wilson), which is not zero where nothing was seen to fail.
        const Z: f64 = 1.96;
        let half = Z * (share * (1.0 - share) / n + Z * Z / (4.0 * n * n)).sqrt() / (1.0 + Z * Z / n);
        Some(Fails { share, uncertainty: half })
    }

    /// The first-order result of a register, and how it agrees with the simulated one.
    pub(super) fn first_order(&self, reg: Reg) -> Option<FirstOrder> {
        let at = self.find(reg, Of::Spread).or_else(|| self.find(reg, Of::Histogram))?;
        let (combined, sampled) = (self.combined[at].as_ref()?, self.sampled[at].as_ref()?);
        let estimate = self.means.nominal[reg as usize];
        if !combined.std.is_finite() || !estimate.is_finite() {
            return None;
        }
        let name = |source: u32| self.checked.program.sources[source as usize].name.clone();
        Some(FirstOrder {
            estimate,
            std: combined.std,
            degrees: combined.degrees.is_finite().then_some(combined.degrees),
            sensitivities: combined
                .parts
                .iter()
                .filter(|(_, c, _, share)| *c != 0.0 && share.abs() > NOTHING)
                .map(|(source, c, u, _)| Sensitivity { name: name(*source), coefficient: *c, uncertainty: *u })
                .collect(),
            agreement: agreement(estimate, combined.std, sampled),
        })
    }

    /// Each given's share of the variance, the greatest first. By the first-order rule where that holds; else from the
    /// builds, with the total effect beside it.
    pub(super) fn shares(&self, reg: Reg) -> Vec<Share> {
        let Some(at) = self.find(reg, Of::Spread).or_else(|| self.find(reg, Of::Histogram)) else { return Vec::new() };
        let Some(combined) = &self.combined[at] else { return Vec::new() };
        let mut shares: Vec<Share> = Vec::new();
        let mut add = |source: u32, first: f64, total: Option<f64>, error: Option<f64>| {
            let name = &self.checked.program.sources[source as usize].name;
            let sum = |(a, b): (f64, f64)| a + b;
            match shares.iter_mut().find(|share| share.name == *name) {
                Some(share) => {
                    share.first += first;
                    share.total = share.total.zip(total).map(sum);
                    share.error = share.error.zip(error).map(sum);
                }
                None => shares.push(Share { name: name.clone(), first, total, error }),
            }
        };
        match self.indices.get(&reg) {
            Some(indices) => {
                indices.iter().for_each(|index| add(index.source, index.first, index.total, Some(index.error)));
            }
            None => combined.parts.iter().for_each(|(source, _, _, share)| add(*source, *share, None, None)),
        }
        let weight = |share: &Share| share.total.unwrap_or(share.first);
        shares.retain(|share| weight(share).abs() > NOTHING);
        shares.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
        shares
    }
}

/// The degrees of freedom at and below which Student's t has no standard deviation.
const LEAST_DEGREES: f64 = 2.0;
/// A share that is only rounding.
const NOTHING: f64 = 1e-9;

fn is_simulated(value: &CheckedValue) -> bool {
    matches!(value.typed.value_type, ValueType::Quantity(_))
}

/// The interval that is shown: the shortest, where it is shorter by more than chance makes it.
fn shown(shortest: (f64, f64), symmetric: (f64, f64)) -> Interval95 {
    const CLEARLY: f64 = 0.98;
    let (shorter, longer) = (shortest.1 - shortest.0, symmetric.1 - symmetric.0);
    let kind = if shorter < CLEARLY * longer || shorter.is_finite() && !longer.is_finite() {
        Shown::Shortest
    } else {
        Shown::Symmetric
    };
    Interval95 { shortest, symmetric, shown: kind }
}

fn exact(source: &Source) -> Spread {
    let (mean, uncertainty) = moments(source);
    // Student's t is wider than its scale, and without a standard deviation at two degrees of freedom or fewer.
    let wider = match source.degrees {
        n if n.is_infinite() => 1.0,
        n if n > LEAST_DEGREES => (n / (n - 2.0)).sqrt(),
        _ => f64::INFINITY,
    };
    let std = uncertainty * wider;
    const OUTSIDE: f64 = 1.0 - statistics::COVERAGE;
    let window = |below: f64| {
        let inside = |p: f64| draw(source, p.clamp(1e-12, 1.0 - 1e-12));
        (inside(below), inside(below + statistics::COVERAGE))
    };
    let mut shortest = window(OUTSIDE / 2.0);
    for i in 0..=100 {
        let tried = window(OUTSIDE * f64::from(i) / 100.0);
        if tried.1 - tried.0 < shortest.1 - shortest.0 {
            shortest = tried;
        }
    }
    let interval = shown(shortest, window(OUTSIDE / 2.0));
    Spread {
        mean: Some(mean).filter(|mean| mean.is_finite()),
        std: Some(std).filter(|std| std.is_finite()),
        interval,
        samples: 0,
        undefined: 0.0,
        infinite: 0.0,
        quantile_error: 0.0,
    }
}

/// JCGM 101, clause 8, to two digits of the standard uncertainty; what the simulation's own chance makes is allowed for.
fn agreement(estimate: f64, std: f64, sampled: &Sampled) -> Agreement {
    if sampled.infinite > 0 {
        return Agreement::Bends;
    }
    let Some(found) = sampled.intervals else { return Agreement::Bends };
    let (mean, simulated) = (sampled.moments.mean, sampled.moments.std());
    if !std.is_finite() || !simulated.is_finite() || simulated == 0.0 {
        return Agreement::Bends;
    }
    let allowed = 0.5 * libm::exp10(libm::floor(libm::log10(simulated)) - 1.0);
    let n = sampled.moments.count as f64;
    let chance = 3.0 * simulated / n.sqrt();
    if (mean - estimate).abs() > allowed + chance || (simulated - std).abs() > allowed + chance {
        return Agreement::Bends;
    }
    const NORMAL: f64 = 1.959_964;
    let off = |end: f64, sampled: f64| (end - sampled).abs();
    let (low, high) = found.symmetric;
    let furthest = off(estimate - NORMAL * std, low).max(off(estimate + NORMAL * std, high));
    // The chance in a quantile is a few times that in the mean.
    if furthest > allowed + 3.0 * chance { Agreement::NotNormal } else { Agreement::Agrees }
}
