//! What is asked of the simulated builds, and how the answers are given: each value's spread, how often a requirement
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
    draws::{Copula, Stream, draw, fill, moments},
    first_order::{Combined, LEAST_DEGREES, acting, combined, gradients, widening},
    tolerances::Tolerances,
};
use crate::{
    check::{Checked, CheckedKeep, CheckedValue},
    parallel,
    program::{Reg, Source},
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
    /// All sources that can move each of them, rising.
    acting: Vec<Vec<u32>>,
    /// Shares by the builds, where the first-order rule does not give them.
    indices: HashMap<Reg, Vec<shares::Index>>,
}

impl<'a> Sampling<'a> {
    pub(super) fn new(checked: &'a Checked, simulation: &'a Simulation<'a>) -> Self {
        let Simulation { tolerances, copula, draws } = simulation;
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
        let (sampled, (means, combined, acting)) = parallel::both(
            || sample(tolerances, &wanted, copula, *draws),
            || {
                let mut means = tolerances.copied();
                means.recentre(tolerances.sources.iter().map(|source| moments(source).0).collect());
                let slopes = gradients(&means);
                let combined = |wanted: &Wanted| {
                    (wanted.of != Of::Sign).then(|| combined(&tolerances.sources, &slopes[wanted.reg as usize], copula))
                };
                let combined: Vec<Option<Combined>> = wanted.iter().map(combined).collect();
                let all = acting(&means);
                let acting = wanted.iter().map(|wanted| all[wanted.reg as usize].clone()).collect();
                (means, combined, acting)
            },
        );
        // What does not vary has no uncertainty either.
        let combined =
            combined.into_iter().zip(&sampled).map(|(combined, sampled)| combined.filter(|_| sampled.is_some()));
        let combined = combined.collect();
        let mut sampling =
            Self { checked, simulation, wanted, sampled, means, combined, acting, indices: HashMap::new() };
        let (nonlinear, centre) = (sampling.nonlinear(), &sampling.means.centre);
        sampling.indices = shares::of(tolerances, &nonlinear, centre, copula, draws.seed);
        sampling
    }

    /// Registers whose shares the first-order rule does not give.
    fn nonlinear(&self) -> Vec<Nonlinear> {
        let mut found: Vec<Nonlinear> = Vec::new();
        for (at, wanted) in self.wanted.iter().enumerate() {
            let (Some(combined), Some(sampled)) = (&self.combined[at], &self.sampled[at]) else { continue };
            let estimate = self.means.nominal[wanted.reg as usize];
            let acting = &self.acting[at];
            // Some may act in a branch that is not the one at the means.
            let all_seen = combined.parts.iter().map(|part| part.0).eq(acting.iter().copied());
            let bends = !all_seen
                || !combined.std.is_finite()
                || self.agreement(estimate, combined, sampled) == Agreement::Bends;
            // With correlated givens the indices have no meaning, and without a variance there are none.
            let apart = self.least_degrees(at) > LEAST_DEGREES
                && acting.iter().all(|source| self.simulation.copula.column(*source).is_none());
            if bends && apart && found.last().is_none_or(|other| other.reg != wanted.reg) {
                let deviation = |source: u32| {
                    let source = &self.simulation.tolerances.sources[source as usize];
                    moments(source).1 * widening(source)
                };
                let part = |source: u32| match combined.parts.iter().find(|part| part.0 == source) {
                    Some((_, slope, ..)) => (source, *slope, deviation(source)),
                    None => (source, 0.0, deviation(source)),
                };
                found.push(Nonlinear { reg: wanted.reg, parts: acting.iter().copied().map(part).collect(), estimate });
            }
        }
        found
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
        let least_degrees = self.least_degrees(at);
        let moments = (sampled.infinite == 0 && sampled.moments.count > 1).then_some(sampled.moments);
        Some(Spread {
            mean: moments.map(|moments| moments.mean).filter(|mean| mean.is_finite() && least_degrees > 1.0),
            std: moments.map(Moments::std).filter(|std| std.is_finite() && least_degrees > LEAST_DEGREES),
            interval: shown(found.shortest, found.symmetric),
            samples: self.simulation.draws.samples,
            undefined: sampled.undefined as f64 / all,
            infinite: sampled.infinite as f64 / all,
            quantile_error: sampled.quantile_error,
        })
    }

    /// The least and the greatest finite value that a register had, each with the build that gave it.
    pub(super) fn extreme_builds(&self, reg: Reg) -> impl Iterator<Item = (f64, u64)> {
        let found = [Of::Spread, Of::Histogram, Of::Sign].into_iter().find_map(|of| self.find(reg, of));
        let extremes = found.and_then(|at| self.sampled[at].as_ref()?.extremes);
        extremes.into_iter().flat_map(|found| [found.least, found.greatest])
    }

    /// The sources of a build, held within their tolerances, and whether all of them were.
    pub(super) fn build(&self, number: u64) -> (Vec<f64>, bool) {
        let Simulation { tolerances, copula, draws } = self.simulation;
        let mut scores = vec![[0.0]; copula.width()];
        copula.fill(&mut scores, number, 1);
        let mut is_inside = true;
        let mut sources = tolerances.centre.clone();
        for (i, (source, (low, high))) in tolerances.sources.iter().zip(&tolerances.ends).enumerate() {
            if low < high {
                let mut value = [0.0];
                match copula.column(i as u32) {
                    Some(column) => value[0] = draw(source, scores[column][0]),
                    None => fill(&mut value, source, Stream::new(draws.seed, source), number),
                }
                is_inside &= (*low..=*high).contains(&value[0]);
                sources[i] = value[0].clamp(*low, *high);
            }
        }
        (sources, is_inside)
    }

    /// The histogram of a register, with its spread.
    pub(super) fn histogram(&self, reg: Reg) -> Option<(Histogram, Spread)> {
        let at = self.find(reg, Of::Histogram)?;
        Some((self.sampled[at].as_ref()?.histogram.clone()?, self.described(at)?))
    }

    /// The fewest degrees of freedom of all givens that can move what is wanted at a place.
    fn least_degrees(&self, at: usize) -> f64 {
        self.acting[at].iter().map(|source| self.degrees(*source)).fold(f64::INFINITY, f64::min)
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
        let nothing = self.nothing(reg);
        Some(FirstOrder {
            estimate,
            std: combined.std,
            deviation: combined.deviation,
            degrees: combined.degrees.is_finite().then_some(combined.degrees),
            sensitivities: combined
                .parts
                .iter()
                .filter(|(_, c, _, share)| *c != 0.0 && share.abs() > nothing)
                .map(|(source, c, u, _)| Sensitivity { name: name(*source), coefficient: *c, uncertainty: *u })
                .collect(),
            agreement: self.agreement(estimate, combined, sampled),
        })
    }

    /// JCGM 101, clause 8, to two digits of the standard uncertainty; what the simulation's own chance makes is allowed for.
    fn agreement(&self, estimate: f64, combined: &Combined, sampled: &Sampled) -> Agreement {
        if sampled.infinite > 0 {
            return Agreement::Bends;
        }
        let Some(found) = sampled.intervals else { return Agreement::Bends };
        let (std, wide) = (combined.std, combined.deviation);
        if std.is_finite() && !wide.is_finite() {
            return Agreement::NoDeviation;
        }
        let (mean, simulated) = (sampled.moments.mean, sampled.moments.std());
        if !std.is_finite() || !simulated.is_finite() || simulated == 0.0 {
            return Agreement::Bends;
        }
        let allowed = 0.5 * libm::exp10(libm::floor(libm::log10(simulated)) - 1.0);
        let n = sampled.moments.count as f64;
        let chance = 3.0 * simulated / n.sqrt();
        let in_std = wide
            * combined.parts.iter().map(|part| share_of_tails(self.degrees(part.0), n) * part.3.abs()).sum::<f64>();
        if (mean - estimate).abs() > allowed + chance || (simulated - wide).abs() > allowed + chance.max(in_std) {
            return Agreement::Bends;
        }
        if wide - std > allowed {
            return Agreement::StudentT;
        }
        const NORMAL: f64 = 1.959_964;
        let off = |end: f64, sampled: f64| (end - sampled).abs();
        let (low, high) = found.symmetric;
        let furthest = off(estimate - NORMAL * std, low).max(off(estimate + NORMAL * std, high));
        // The chance in a quantile is a few times that in the mean.
        if furthest > allowed + 3.0 * chance { Agreement::NotNormal } else { Agreement::Agrees }
    }

    /// Up to which share a source does not count.
    fn nothing(&self, reg: Reg) -> f64 {
        if self.simulation.tolerances.is_costly(reg) { NOTHING_INTEGRATED } else { NOTHING }
    }

    fn degrees(&self, source: u32) -> f64 {
        self.simulation.tolerances.sources[source as usize].degrees
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
        let nothing = self.nothing(reg);
        shares.retain(|share| weight(share).abs() > nothing);
        shares.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
        shares
    }
}

/// A share that is only rounding, and one that is only the error of an integration.
const NOTHING: f64 = 1e-9;
const NOTHING_INTEGRATED: f64 = 1e-5;

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
    let std = uncertainty * widening(source);
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
        // Student's t has no mean at one degree of freedom or fewer.
        mean: Some(mean).filter(|mean| mean.is_finite() && source.degrees > 1.0),
        std: Some(std).filter(|std| std.is_finite()),
        interval,
        samples: 0,
        undefined: 0.0,
        infinite: 0.0,
        quantile_error: 0.0,
    }
}

/// How far chance may take the standard deviation of so many builds of Student's t, as a part of it: below four degrees of
/// freedom it goes with a root of their number that grows slower than the square root. The factor leaves out one run of a
/// hundred at three degrees of freedom, which is the worst, by a simulation apart from the engine.
fn share_of_tails(degrees: f64, n: f64) -> f64 {
    const FEW: f64 = 10.0;
    if degrees < FEW { 8.0 * libm::pow(n, (2.0 / degrees - 1.0).max(-0.5)) } else { 3.0 / n.sqrt() }
}
