//! Shares of the variance where the first-order rule does not tell them. A straight line through the simulated builds
//! leaves a part of the variance over; where that part is small, the line's own shares are the shares but for that part
//! (A. Saltelli et al., Global Sensitivity Analysis: The Primer, 2008, section 1.2.5: squared standardised regression
//! coefficients). Elsewhere come the first-order and total-effect indices of I. M. Sobol, estimated after M. J. W. Jansen
//! ("Analysis of variance designs for model output", Computer Physics Communications 117, 1999): each given in turn is
//! drawn anew while all others stay.

use std::{collections::HashMap, ops::Range};

use super::{
    builds::{BLOCK, Plan, Redrawn},
    copula::Copula,
    extremes::Tolerances,
    first_order::Combined,
    program::Reg,
    statistics::{Moments, lanes, product},
};
use crate::threads;

/// Builds that the shares are estimated from: the error of an index is some 0.03.
const BUILDS: u64 = 2048;
/// What a straight line may leave of the variance, so that no share is off by more.
const LEFT_OVER: f64 = 0.02;

/// Standard errors from which a slope beside the tangent's is more than chance.
const BEYOND_CHANCE: f64 = 3.0;
/// A spread of this part of the value is rounding.
const ROUNDING: f64 = 1e-12;

/// A source with its first-order and total-effect share; the latter absent where the first says it all.
pub(super) type Index = (u32, f64, Option<f64>);

/// A register whose shares are asked for: what the first-order rule makes of it, and its value at the means.
pub(super) struct Bent<'a> {
    pub(super) reg: Reg,
    pub(super) combined: &'a Combined,
    pub(super) estimate: f64,
}

/// The shares of several registers; `means` are those of all sources.
pub(super) fn of(
    tolerances: &Tolerances<'_>,
    bent: &[Bent<'_>],
    means: &[f64],
    copula: &Copula,
    seed: u64,
    threads: usize,
) -> HashMap<Reg, Vec<Index>> {
    let mut found = HashMap::new();
    if bent.is_empty() {
        return found;
    }
    let all: Vec<&Bent<'_>> = bent.iter().collect();
    let sources = sources(&all);
    let plan = Plan::new(tolerances, &regs(&all), copula, seed);
    let blocks = by_blocks(threads, |builds| {
        let mut blocks = Vec::new();
        plan.visit(builds, |view| {
            let drawn = sources.iter().map(|source| Drawn::of(*source, view.drawn(*source), means[*source as usize]));
            let drawn: Vec<Drawn> = drawn.collect();
            let lines: Vec<Line> = bent.iter().map(|bent| Line::of(bent, view.values(bent.reg), &drawn)).collect();
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
    let mut left: Vec<&Bent<'_>> = Vec::new();
    for (bent, line) in all.into_iter().zip(lines) {
        match line.finished(bent.combined, &drawn) {
            Some(shares) => drop(found.insert(bent.reg, shares)),
            None => left.push(bent),
        }
    }
    found.extend(redrawn(tolerances, &left, copula, seed, threads));
    found
}

fn redrawn(
    tolerances: &Tolerances<'_>,
    bent: &[&Bent<'_>],
    copula: &Copula,
    seed: u64,
    threads: usize,
) -> impl Iterator<Item = (Reg, Vec<Index>)> {
    let (regs, sources) = (regs(bent), sources(bent));
    let fresh = || -> Vec<Summary> { bent.iter().map(|bent| Summary::new(bent.combined)).collect() };
    let mut tallies = fresh();
    if !bent.is_empty() {
        let plan = Plan::new(tolerances, &regs, copula, seed);
        let blocks = by_blocks(threads, |builds| {
            let mut blocks: Vec<Vec<Summary>> = Vec::new();
            plan.redraw(builds, &sources, |redrawn, view| {
                if redrawn == Redrawn::None {
                    blocks.push(fresh());
                }
                for (reg, tally) in regs.iter().zip(blocks.last_mut().into_iter().flatten()) {
                    tally.take(redrawn, view.values(*reg));
                }
            });
            blocks
        });
        for block in blocks {
            tallies.iter_mut().zip(&block).for_each(|(a, b)| a.add(b));
        }
    }
    regs.into_iter().zip(tallies).map(|(reg, tally)| (reg, tally.finished()))
}

/// What the work makes of each block of builds, in order: the number of threads decides who does it and nothing else.
fn by_blocks<T: Send>(threads: usize, work: impl Fn(Range<u64>) -> Vec<T> + Sync) -> Vec<T> {
    const BLOCKS: u64 = BUILDS / BLOCK as u64;
    let parts = (threads as u64).min(BLOCKS);
    if !threads::SEVERAL || parts == 1 {
        return work(0..BUILDS);
    }
    let start = |i: u64| BLOCKS * i / parts * BLOCK as u64;
    threads::each((0..parts).map(|i| start(i)..start(i + 1)), threads, work).into_iter().flatten().collect()
}

fn regs(bent: &[&Bent<'_>]) -> Vec<Reg> {
    bent.iter().map(|bent| bent.reg).collect()
}

/// All sources that any of them depends on, rising.
fn sources(bent: &[&Bent<'_>]) -> Vec<u32> {
    let mut sources: Vec<u32> = bent.iter().flat_map(|bent| &bent.combined.parts).map(|part| part.0).collect();
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
struct Line {
    values: Moments,
    /// What the tangent leaves over.
    left: Moments,
    /// For each source, the sum of its distance from the mean times what the tangent leaves over.
    products: Vec<f64>,
}

impl Line {
    /// Of one block.
    fn of(bent: &Bent<'_>, values: &[f64], drawn: &[Drawn]) -> Self {
        let mut left: Vec<f64> = values.iter().map(|y| y - bent.estimate).collect();
        let parts = || bent.combined.parts.iter().filter_map(|part| Some((part.1, Drawn::find(drawn, part.0)?)));
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
    fn finished(self, combined: &Combined, drawn: &[Drawn]) -> Option<Vec<Index>> {
        let n = BUILDS as f64;
        if self.values.count == BUILDS && self.values.std() <= ROUNDING * self.values.mean.abs() {
            return Some(Vec::new());
        }
        let variance = self.values.squares / n;
        let by_tangent = self.left.squares / n;
        let mut left_over = by_tangent;
        let mut shares: Vec<Index> = Vec::with_capacity(combined.parts.len());
        for ((source, slope, uncertainty, _), product) in combined.parts.iter().zip(self.products) {
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
struct Summary {
    /// One block as it is, and with all sources drawn anew.
    plain: Vec<f64>,
    anew: Vec<f64>,
    moments: Moments,
    /// Each source: squared differences from the plain builds, and from those drawn anew; and how many.
    sources: Vec<(u32, f64, f64, u64)>,
}

impl Summary {
    fn new(combined: &Combined) -> Self {
        let sources = combined.parts.iter().map(|part| (part.0, 0.0, 0.0, 0)).collect();
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

    fn add(&mut self, later: &Self) {
        self.moments = self.moments.with(later.moments);
        for (sums, more) in self.sources.iter_mut().zip(&later.sources) {
            (sums.1, sums.2, sums.3) = (sums.1 + more.1, sums.2 + more.2, sums.3 + more.3);
        }
    }

    fn finished(self) -> Vec<Index> {
        let variance = self.moments.std() * self.moments.std();
        self.sources
            .into_iter()
            .map(|(source, from_plain, from_anew, n)| {
                let scale = 2.0 * n.max(1) as f64 * variance;
                let share = |sum: f64| if scale > 0.0 { (sum / scale).clamp(0.0, 1.0) } else { 0.0 };
                (source, 1.0 - share(from_anew), Some(share(from_plain)))
            })
            .collect()
    }
}
