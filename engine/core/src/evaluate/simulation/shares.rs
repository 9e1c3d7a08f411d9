//! Shares of the variance where the first-order rule does not give them. A straight line through the simulated builds
//! leaves a part of the variance over; where that part is small, the line's own shares are the shares but for that part
//! (A. Saltelli et al., Global Sensitivity Analysis: The Primer, 2008, section 1.2.5: squared standardised regression
//! coefficients). Elsewhere come the first-order and total-effect indices of I. M. Sobol, estimated after I. Azzini, T. A.
//! Mara and R. Rosati ("Monte Carlo estimators of first- and total-orders Sobol' indices", 2020): of two sets of builds each
//! given in turn is exchanged. What other givens add by themselves cancels, so that the error is small.

use std::{collections::HashMap, ops::Range};

use super::{
    super::{
        columns::{BLOCK, Plan, Redrawn},
        draws::Copula,
        tolerances::Tolerances,
    },
    statistics::{Moments, lanes, product},
};
use crate::parallel;
use crate::program::Reg;

/// Builds that a straight line is laid through, and the fewest that indices come from.
const BUILDS: u64 = 2048;
/// The first builds say how many an index takes; a standard error comes from the others. Were it looked at after every
/// doubling, those that happen to look small would be kept.
const PILOT: u64 = BUILDS / 2;
const MOST_BUILDS: u64 = 16_384;
/// Steps of the program that a page has time for, beyond those of the fewest builds.
const MOST_STEPS: u64 = 1_000_000;
/// The standard error of an index that will do.
const WANTED: f64 = 0.008;
/// What a straight line may leave of the variance, so that no share is off by more.
const LEFT_OVER: f64 = 0.02;

/// What the tangent may leave of the variance. Sources are fitted one by one, and they move together by chance: what is left
/// over after that is known to a few parts in √[`BUILDS`] of this.
const NEAR_TANGENT: f64 = 0.1;
/// Standard errors from which a slope beside the tangent's is more than chance.
const BEYOND_CHANCE: f64 = 3.0;
/// A spread of this part of the value is rounding.
const ROUNDING: f64 = 1e-12;

/// A source's share.
#[derive(Clone, Copy, Debug)]
pub(super) struct Index {
    pub(super) source: u32,
    /// First-order.
    pub(super) first: f64,
    /// Total-effect; absent where the first says it all.
    pub(super) total: Option<f64>,
    /// The greater standard error of the two. Of a straight line's share, with what the line leaves of the variance.
    pub(super) error: f64,
}

/// A register whose shares are asked for: what the first-order rule makes of it, and its value at the means.
pub(super) struct Nonlinear {
    pub(super) reg: Reg,
    /// Every source that can act, with its slope and its standard uncertainty.
    pub(super) parts: Vec<(u32, f64, f64)>,
    pub(super) estimate: f64,
}

/// The shares of several registers; `means` are those of all sources.
pub(super) fn of(
    tolerances: &Tolerances<'_>,
    nonlinear: &[Nonlinear],
    means: &[f64],
    copula: &Copula,
    seed: u64,
) -> HashMap<Reg, Vec<Index>> {
    let mut found = HashMap::new();
    if nonlinear.is_empty() {
        return found;
    }
    let all: Vec<&Nonlinear> = nonlinear.iter().collect();
    let sources = sources(&all);
    let plan = Plan::new(tolerances, &regs(&all), copula, seed);
    let blocks = by_blocks(0..BUILDS, |builds| {
        let mut blocks = Vec::new();
        plan.visit(builds, |view| {
            let drawn = sources.iter().map(|source| Drawn::of(*source, view.drawn(*source), means[*source as usize]));
            let drawn: Vec<Drawn> = drawn.collect();
            let lines: Vec<StraightLine> = nonlinear
                .iter()
                .map(|nonlinear| StraightLine::of(nonlinear, view.values(nonlinear.reg), &drawn))
                .collect();
            blocks.push((drawn, lines));
        });
        blocks
    });
    let mut blocks = blocks.into_iter();
    let Some((mut drawn, mut lines)) = blocks.next() else { return found };
    for (more, other) in blocks {
        drawn.iter_mut().zip(&more).for_each(|(a, b)| a.add(b));
        lines.iter_mut().zip(&other).for_each(|(a, b)| a.add(b));
    }
    let mut left: Vec<&Nonlinear> = Vec::new();
    for (nonlinear, line) in all.into_iter().zip(lines) {
        match line.finished(&nonlinear.parts, &drawn) {
            Some(shares) => drop(found.insert(nonlinear.reg, shares)),
            None => left.push(nonlinear),
        }
    }
    found.extend(redrawn(tolerances, &left, copula, seed));
    found
}

fn redrawn(
    tolerances: &Tolerances<'_>,
    nonlinear: &[&Nonlinear],
    copula: &Copula,
    seed: u64,
) -> HashMap<Reg, Vec<Index>> {
    let mut left: Vec<Estimate<'_>> = nonlinear.iter().map(|nonlinear| Estimate::new(nonlinear)).collect();
    let mut found = HashMap::new();
    let mut builds = 0..PILOT;
    while !left.is_empty() {
        let of: Vec<&Nonlinear> = left.iter().map(|estimate| estimate.nonlinear).collect();
        let (regs, sources) = (regs(&of), sources(&of));
        let plan = Plan::new(tolerances, &regs, copula, seed);
        let most = (MOST_STEPS / plan.steps_redrawn(&sources).max(1)).clamp(BUILDS, MOST_BUILDS);
        let blocks = by_blocks(builds.clone(), |builds| {
            let mut blocks: Vec<Vec<Sums>> = Vec::new();
            plan.redraw(builds, &sources, |redrawn, view| {
                if redrawn == Redrawn::None {
                    blocks.push(of.iter().map(|nonlinear| Sums::new(nonlinear)).collect());
                }
                for (reg, sum) in regs.iter().zip(blocks.last_mut().into_iter().flatten()) {
                    sum.take(redrawn, view.values(*reg));
                }
            });
            blocks
        });
        for block in blocks {
            left.iter_mut().zip(&block).for_each(|(estimate, more)| estimate.sums.add(more));
        }
        for estimate in &mut left {
            if builds.start == 0 {
                estimate.plan_ahead();
            }
        }
        let end = builds.end;
        left.retain(|estimate| {
            let more = end < BUILDS || end < estimate.wanted && 2 * end <= most;
            if !more {
                found.insert(estimate.nonlinear.reg, estimate.finished());
            }
            more
        });
        builds = end..2 * end;
    }
    found
}

/// The indices of a register on the way.
struct Estimate<'a> {
    nonlinear: &'a Nonlinear,
    /// Over the first builds, and over all later ones.
    pilot: Sums,
    sums: Sums,
    /// Builds that a small standard error takes.
    wanted: u64,
}

impl<'a> Estimate<'a> {
    fn new(nonlinear: &'a Nonlinear) -> Self {
        Self { nonlinear, pilot: Sums::new(nonlinear), sums: Sums::new(nonlinear), wanted: 0 }
    }

    /// Lays the first builds aside.
    fn plan_ahead(&mut self) {
        self.pilot = std::mem::replace(&mut self.sums, Sums::new(self.nonlinear));
        let error = self.pilot.worst_error() / WANTED;
        self.wanted = (PILOT as f64 * error * error).min(MOST_BUILDS as f64) as u64;
    }

    fn finished(&self) -> Vec<Index> {
        let index = |(pilot, effects): (&Effects, &Effects)| Index {
            source: effects.source,
            first: effects.first.with(&pilot.first).value(),
            total: Some(effects.total.with(&pilot.total).value()),
            error: effects.error_with(pilot),
        };
        self.pilot.sources.iter().zip(&self.sums.sources).map(index).collect()
    }
}

/// What the work makes of each block of builds, in order: the number of threads decides who does it and nothing else.
fn by_blocks<T: Send>(builds: Range<u64>, work: impl Fn(Range<u64>) -> Vec<T> + Sync + Send) -> Vec<T> {
    let blocks = (builds.end - builds.start) / BLOCK as u64;
    let parts = (parallel::threads() as u64).min(blocks);
    let start = |i: u64| builds.start + blocks * i / parts * BLOCK as u64;
    parallel::each((0..parts).map(|i| start(i)..start(i + 1)), work).into_iter().flatten().collect()
}

fn regs(nonlinear: &[&Nonlinear]) -> Vec<Reg> {
    nonlinear.iter().map(|nonlinear| nonlinear.reg).collect()
}

/// All sources that any of them depends on, rising.
fn sources(nonlinear: &[&Nonlinear]) -> Vec<u32> {
    let mut sources: Vec<u32> = nonlinear.iter().flat_map(|nonlinear| &nonlinear.parts).map(|part| part.0).collect();
    sources.sort_unstable();
    sources.dedup();
    sources
}

/// The builds of a source, as distances from its mean.
struct Drawn {
    source: u32,
    /// Of one block.
    off: Vec<f64>,
    /// Sums of the distances and of their squares.
    sum: f64,
    squares: f64,
}

impl Drawn {
    fn of(source: u32, values: &[f64], mean: f64) -> Self {
        let off: Vec<f64> = values.iter().map(|x| x - mean).collect();
        Self { source, sum: lanes(&off, |x| x), squares: product(&off, &off), off }
    }

    /// That of a source, among those of all.
    fn find(all: &[Self], source: u32) -> Option<&Self> {
        all.iter().find(|drawn| drawn.source == source)
    }

    fn add(&mut self, later: &Self) {
        self.sum += later.sum;
        self.squares += later.squares;
    }
}

/// A straight line through the builds of one register. It starts as the tangent of the first-order rule; what the builds
/// are off from that is fitted source by source, since sources do not move together.
struct StraightLine {
    values: Moments,
    /// What the tangent leaves over.
    left: Moments,
    /// For each source, the sum of its distance from the mean times what the tangent leaves over.
    products: Vec<f64>,
}

impl StraightLine {
    /// Of one block.
    fn of(nonlinear: &Nonlinear, values: &[f64], drawn: &[Drawn]) -> Self {
        let mut left: Vec<f64> = values.iter().map(|y| y - nonlinear.estimate).collect();
        let parts = || nonlinear.parts.iter().filter_map(|part| Some((part.1, Drawn::find(drawn, part.0)?)));
        for (slope, drawn) in parts() {
            for (left, x) in left.iter_mut().zip(&drawn.off) {
                *left -= slope * x;
            }
        }
        let products = parts().map(|(_, drawn)| product(&drawn.off, &left)).collect();
        Self { values: Moments::of(values), left: Moments::of(&left), products }
    }

    fn add(&mut self, later: &Self) {
        self.values = self.values.with(later.values);
        self.left = self.left.with(later.left);
        self.products.iter_mut().zip(&later.products).for_each(|(sum, more)| *sum += more);
    }

    /// The line's shares, if it leaves little over.
    fn finished(self, parts: &[(u32, f64, f64)], drawn: &[Drawn]) -> Option<Vec<Index>> {
        let n = BUILDS as f64;
        if self.values.count == BUILDS && self.values.std() <= ROUNDING * self.values.mean.abs() {
            return Some(Vec::new());
        }
        let variance = self.values.squares / n;
        let by_tangent = self.left.squares / n;
        let mut left_over = by_tangent;
        let mut shares: Vec<Index> = Vec::with_capacity(parts.len());
        for ((source, slope, uncertainty), product) in parts.iter().zip(self.products) {
            let drawn = Drawn::find(drawn, *source)?;
            let mean = drawn.sum / n;
            let spread = drawn.squares / n - mean * mean;
            let more = if spread > 0.0 { (product / n - self.left.mean * mean) / spread } else { 0.0 };
            // The tangent stays where what is seen beside it may be chance.
            let explained = more * more * spread;
            let seen = explained * n > BEYOND_CHANCE * BEYOND_CHANCE * by_tangent;
            left_over -= if seen { explained } else { 0.0 };
            let brings = (slope + if seen { more } else { 0.0 }) * uncertainty;
            shares.push(Index { source: *source, first: brings * brings, total: None, error: 0.0 });
        }
        let straight: f64 = shares.iter().map(|share| share.first).sum();
        let left_over = left_over.max(0.0) / variance;
        let scale = (1.0 - left_over) / straight;
        for share in &mut shares {
            share.first *= scale;
            // A share goes with its slope's square, and a slope's standard error with the root of what is left over.
            share.error = left_over + 2.0 * (share.first * left_over / n).sqrt();
        }
        // Neither holds where anything is undefined.
        let known = scale.is_finite() && self.left.count == BUILDS;
        (known && by_tangent <= NEAR_TANGENT * variance && left_over <= LEFT_OVER).then_some(shares)
    }
}

/// Sums over the builds of one register.
struct Sums {
    /// One block as it is, and with all sources drawn again.
    plain: Vec<f64>,
    anew: Vec<f64>,
    sources: Vec<Effects>,
}

/// What a source brings: its first-order and its total effect, each over the spread that the same builds have.
struct Effects {
    source: u32,
    /// One block with this source alone drawn again.
    only: Vec<f64>,
    first: Quotient,
    total: Quotient,
}

/// A sum over a sum, with what its standard error takes.
#[derive(Clone, Copy, Debug, Default)]
struct Quotient {
    above: f64,
    below: f64,
    above_squared: f64,
    crossed: f64,
    below_squared: f64,
}

impl Quotient {
    fn take(&mut self, above: f64, below: f64) {
        self.add(&Self {
            above,
            below,
            above_squared: above * above,
            crossed: above * below,
            below_squared: below * below,
        });
    }

    fn add(&mut self, other: &Self) {
        self.above += other.above;
        self.below += other.below;
        self.above_squared += other.above_squared;
        self.crossed += other.crossed;
        self.below_squared += other.below_squared;
    }

    fn with(mut self, other: &Self) -> Self {
        self.add(other);
        self
    }

    fn value(&self) -> f64 {
        if self.below > 0.0 { self.above / self.below } else { 0.0 }
    }

    /// To first order: the spread of what each build is off from the quotient.
    fn standard_error(&self) -> f64 {
        let q = self.value();
        let squares = self.above_squared - 2.0 * q * self.crossed + q * q * self.below_squared;
        if self.below > 0.0 { squares.max(0.0).sqrt() / self.below } else { 0.0 }
    }
}

impl Sums {
    fn new(nonlinear: &Nonlinear) -> Self {
        let effects = |part: &(u32, f64, f64)| Effects {
            source: part.0,
            only: Vec::new(),
            first: Quotient::default(),
            total: Quotient::default(),
        };
        Self { plain: Vec::new(), anew: Vec::new(), sources: nonlinear.parts.iter().map(effects).collect() }
    }

    fn take(&mut self, redrawn: Redrawn, values: &[f64]) {
        let Self { plain, anew, sources } = self;
        let effects = |source: u32| move |effects: &&mut Effects| effects.source == source;
        match redrawn {
            Redrawn::None => *plain = values.to_vec(),
            Redrawn::All => *anew = values.to_vec(),
            Redrawn::Only(source) => {
                if let Some(effects) = sources.iter_mut().find(effects(source)) {
                    effects.only = values.to_vec();
                }
            }
            Redrawn::AllBut(source) => {
                let Some(effects) = sources.iter_mut().find(effects(source)) else { return };
                let builds = plain.iter().zip(anew.iter()).zip(effects.only.iter().zip(values));
                for ((plain, anew), (only, all_but)) in builds {
                    let (across, between) = (plain - anew, only - all_but);
                    let below = across * across + between * between;
                    if below.is_finite() {
                        let (with, without) = (plain - only, anew - all_but);
                        effects.first.take(-2.0 * without * with, below);
                        effects.total.take(with * with + without * without, below);
                    }
                }
            }
        }
    }

    fn add(&mut self, later: &Self) {
        for (effects, more) in self.sources.iter_mut().zip(&later.sources) {
            effects.first.add(&more.first);
            effects.total.add(&more.total);
        }
    }

    /// The greatest standard error of them all.
    fn worst_error(&self) -> f64 {
        self.sources.iter().map(Effects::standard_error).fold(0.0, f64::max)
    }
}

impl Effects {
    fn standard_error(&self) -> f64 {
        self.first.standard_error().max(self.total.standard_error())
    }

    /// The standard error with more builds, which are as good.
    fn error_with(&self, more: &Self) -> f64 {
        let (own, more) = (self.first.below, more.first.below);
        if own > 0.0 { self.standard_error() * (own / (own + more)).sqrt() } else { 0.0 }
    }
}
