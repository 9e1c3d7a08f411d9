//! Shares of the variance where the first-order rule does not tell them. A straight line through the simulated builds
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

/// Builds that a straight line is laid through, and that the indices start with. Their number is doubled until the greatest
/// standard error is small enough, or there are the most that a page has time for.
const BUILDS: u64 = 2048;
const MOST_BUILDS: u64 = 16_384;
/// The standard error of an index that will do.
const WANTED: f64 = 0.008;
/// What a straight line may leave of the variance, so that no share is off by more.
const LEFT_OVER: f64 = 0.02;

/// Standard errors from which a slope beside the tangent's is more than chance.
const BEYOND_CHANCE: f64 = 3.0;
/// A spread of this part of the value is rounding.
const ROUNDING: f64 = 1e-12;

/// A source with its first-order and total-effect share; the latter absent where the first says it all.
pub(super) type Index = (u32, f64, Option<f64>);

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
    let mut left: Vec<(&Nonlinear, Sums)> =
        nonlinear.iter().map(|nonlinear| (*nonlinear, Sums::new(nonlinear))).collect();
    let mut found = HashMap::new();
    let mut builds = 0..BUILDS;
    while !left.is_empty() {
        let of: Vec<&Nonlinear> = left.iter().map(|(nonlinear, _)| *nonlinear).collect();
        let (regs, sources) = (regs(&of), sources(&of));
        let plan = Plan::new(tolerances, &regs, copula, seed);
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
            left.iter_mut().zip(&block).for_each(|((_, sum), more)| sum.add(more));
        }
        let last = builds.end >= MOST_BUILDS;
        left.retain(|(nonlinear, sum)| {
            let done = last || sum.worst_error() <= WANTED;
            if done {
                found.insert(nonlinear.reg, sum.finished());
            }
            !done
        });
        builds = builds.end..2 * builds.end;
    }
    found
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
            shares.push((*source, brings * brings, None));
        }
        let straight: f64 = shares.iter().map(|share| share.1).sum();
        let scale = (1.0 - left_over.max(0.0) / variance) / straight;
        shares.iter_mut().for_each(|share| share.1 *= scale);
        // Neither holds where anything is undefined.
        (scale.is_finite() && self.left.count == BUILDS && left_over <= LEFT_OVER * variance).then_some(shares)
    }
}

/// Sums over the builds of one register.
struct Sums {
    /// One block as it is, and with all sources drawn anew.
    plain: Vec<f64>,
    anew: Vec<f64>,
    sources: Vec<Effects>,
}

/// What a source brings: its first-order and its total effect, each over the spread that the same builds have.
struct Effects {
    source: u32,
    /// One block with this source alone drawn anew.
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

    fn finished(&self) -> Vec<Index> {
        let index = |effects: &Effects| {
            let (first, total) = (effects.first.value(), effects.total.value());
            (effects.source, first, Some(total))
        };
        self.sources.iter().map(index).collect()
    }
}

impl Effects {
    fn standard_error(&self) -> f64 {
        self.first.standard_error().max(self.total.standard_error())
    }
}
