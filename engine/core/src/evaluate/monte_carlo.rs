//! The Monte Carlo method of JCGM 101 for all results at once: the program is run over blocks of builds held as columns,
//! so that the loop over steps is outside and the loop over builds inside. Blocks are independent and put together in
//! their order, so the number of threads changes nothing.

use std::ops::Range;

use super::{
    builds::{BLOCK, Columns, Plan},
    copula::Copula,
    extremes::Tolerances,
    memory,
    program::Reg,
    statistics::{Intervals, Moments, Sketch},
    tails::{Tails, intervals},
};
use crate::threads;

/// Most samples that are kept, over all results; beyond, quantiles come from a sketch.
const MOST_KEPT: u64 = 8_000_000;
/// Samples above which quantiles come from a sketch in any case.
const MOST_EXACT: u64 = 1_000_000;
/// Samples from which on keeping tails alone is worth a look ahead.
const WORTH_A_LOOK: u64 = 4096;
/// Bins over all results (of four bytes, for each thread), and for one result.
const MOST_BINS: usize = 4_000_000;
const LEAST_BINS: usize = 512;
/// Work that is worth another thread, in steps of a build: some 0.3 ms.
const WORTH_A_THREAD: u64 = 400_000;
/// What a model and a result that is looked through cost beside a step.
const STEPS_OF_A_CALL: u64 = 10;
const STEPS_OF_A_RESULT: u64 = 5;

/// What one result came to over all builds.
#[derive(Clone, Debug)]
pub(crate) struct Sampled {
    pub(crate) moments: Moments,
    pub(crate) intervals: Option<Intervals>,
    /// How far a quantile may be off for want of the samples themselves.
    pub(crate) quantile_error: f64,
    /// Builds in which it had no value.
    pub(crate) undefined: u64,
    /// Builds in which it was below zero, or had no value: for margins.
    pub(crate) negative: u64,
    /// Counts over the range shown, for a histogram.
    pub(crate) histogram: Option<Histogram>,
}

/// Counts of builds in bins of one width.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Histogram {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) counts: Vec<u64>,
}

/// What is asked of the samples of a register.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) reg: Reg,
    pub(crate) of: Of,
}

/// How much is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Of {
    /// Mean, standard deviation and intervals.
    Spread,
    /// The same and a histogram.
    Histogram,
    /// How often it is below zero.
    Sign,
}

/// Samples and seed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Draws {
    pub(crate) samples: u64,
    pub(crate) seed: u64,
    /// Threads to use at most; absent for as many as the machine has.
    pub(crate) threads: Option<usize>,
    /// Whether results are remembered, and taken from the last evaluation.
    pub(crate) remember: bool,
}

/// Runs the builds and says what each wanted register came to; `None` for one that does not vary.
pub(crate) fn sample(
    tolerances: &Tolerances<'_>,
    wanted: &[Wanted],
    copula: &Copula,
    draws: Draws,
) -> Vec<Option<Sampled>> {
    let targets: Vec<Reg> = wanted.iter().map(|wanted| wanted.reg).collect();
    let plan = Plan::new(tolerances, &targets, copula, draws.seed);
    // By sketches, a result depends on how many others share the memory.
    if draws.remember && draws.samples <= MOST_EXACT && draws.samples * wanted.len() as u64 <= MOST_KEPT {
        let again = Draws { remember: false, ..draws };
        return memory::recalled(&plan, wanted, draws.samples, |missing| sample(tolerances, missing, copula, again));
    }
    let moving: Vec<usize> = (0..wanted.len()).filter(|i| plan.slot(targets[*i]).is_some()).collect();
    let kept = moving.iter().filter(|i| wanted[**i].of != Of::Sign).count() as u64;
    let exact = draws.samples <= MOST_EXACT && draws.samples * kept <= MOST_KEPT;
    let collectors = |keep: &dyn Fn(usize) -> Keep| -> Vec<Collector> {
        let collector = |(i, wanted): (usize, &Wanted)| {
            let keep = if wanted.of == Of::Sign { Keep::Nothing } else { keep(i) };
            Collector {
                slot: plan.slot(wanted.reg),
                of: wanted.of,
                keep,
                blocks: Vec::new(),
                undefined: 0,
                negative: 0,
            }
        };
        wanted.iter().enumerate().map(collector).collect()
    };
    let finished = |(collected, threads): (Vec<Collector>, usize)| -> Option<Vec<Option<Sampled>>> {
        let same: Vec<usize> =
            collected.iter().enumerate().map(|(i, collector)| collector.leader().unwrap_or(i)).collect();
        let told = threads::each(collected, threads, |collector| match collector.slot {
            Some(_) => collector.finished().map(Some),
            None => Some(None),
        });
        let told: Vec<Option<Sampled>> = told.into_iter().collect::<Option<_>>()?;
        Some(same.into_iter().map(|i| told[i].clone()).collect())
    };
    if !exact {
        let ranges = ranges(&plan, wanted, draws.samples);
        // Many results share the memory between them, by coarser bins.
        let bins = (MOST_BINS / kept.max(1) as usize).clamp(LEAST_BINS, Sketch::MOST_BINS);
        let counts = collectors(&|i| Keep::Counts(Sketch::new(ranges[i].0, ranges[i].1, bins)));
        return finished(run_all(&plan, counts, draws, 0)).unwrap_or_default();
    }
    let look_ahead = if draws.samples < WORTH_A_LOOK { 0 } else { look_ahead(draws.samples) };
    let all = || collectors(&|_| Keep::Samples(Vec::new()));
    finished(run_all(&plan, all(), draws, look_ahead))
        // The first builds were no guide to the tails of all.
        .or_else(|| finished(run_all(&plan, all(), draws, 0)))
        .unwrap_or_default()
}

/// Builds that tell of the rest: a sixteenth of them.
fn look_ahead(samples: u64) -> u64 {
    (samples / 16).clamp(2 * BLOCK as u64, 16 * BLOCK as u64).min(samples)
}

/// Runs all builds, and after the first `look_ahead` of them keeps tails alone where these are enough. Tells as well how many
/// threads it was worth.
fn run_all(plan: &Plan<'_>, mut whole: Vec<Collector>, draws: Draws, look_ahead: u64) -> (Vec<Collector>, usize) {
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let done = look_ahead / BLOCK as u64;
    let (steps, calls) = plan.length();
    let each = steps as u64 + calls as u64 * STEPS_OF_A_CALL + whole.len() as u64 * STEPS_OF_A_RESULT;
    let worth = draws.samples * each / WORTH_A_THREAD + 1;
    let threads = threads::available(draws.threads).min(worth as usize);
    let mut columns = Vec::new();
    if look_ahead > 0 {
        (whole, columns) = run_blocks(plan, draws.samples, 0..done, whole, columns, threads);
        keep_less(&mut whole, threads);
    }
    (run_blocks(plan, draws.samples, done..blocks, whole, columns, threads).0, threads)
}

/// Runs some blocks of builds, dealt out to threads; what they collect is put together in order. Columns are taken from
/// those that there are already, and given back.
fn run_blocks(
    plan: &Plan<'_>,
    samples: u64,
    blocks: Range<u64>,
    collectors: Vec<Collector>,
    mut columns: Vec<Columns>,
    threads: usize,
) -> (Vec<Collector>, Vec<Columns>) {
    let run = |mut part: Part| {
        // Made by the thread that works on them.
        part.make_room();
        let mut columns = part.columns.unwrap_or_else(|| plan.columns());
        for block in part.blocks {
            let first = block * BLOCK as u64;
            let count = (samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count);
            take_all(&mut part.collectors, &columns, count);
        }
        (part.collectors, columns)
    };
    let length = blocks.end - blocks.start;
    let parts = (threads as u64).min(length).max(1);
    if !threads::SEVERAL || parts == 1 {
        let (collectors, columns) = run(Part { blocks, columns: columns.pop(), collectors });
        return (collectors, vec![columns]);
    }
    // The first part goes on with what there is, the others start with nothing, within the same bounds.
    let emptied = || collectors.iter().map(Collector::emptied).collect();
    let others: Vec<Vec<Collector>> = (1..parts).map(|_| emptied()).collect();
    let start = |i: u64| blocks.start + length * i / parts;
    let all = [collectors].into_iter().chain(others).zip(0..);
    let part = |(collectors, i)| Part { blocks: start(i)..start(i + 1), columns: columns.pop(), collectors };
    let found = threads::each(all.map(part), threads, run);
    let (found, columns): (Vec<_>, Vec<_>) = found.into_iter().unzip();
    let mut found = found.into_iter();
    let mut whole = found.next().unwrap_or_default();
    for mut part in found {
        // Backwards, for the same reason as in taking.
        while let Some(later) = part.pop() {
            let (before, rest) = whole.split_at_mut(part.len());
            if let Some(collector) = rest.first_mut() {
                collector.append(later, before, &part);
            }
        }
    }
    (whole, columns)
}

/// Lets each collector take a block of builds. Backwards: one that follows another takes its turn while that still stands
/// where both stood before.
fn take_all(collectors: &mut [Collector], columns: &Columns, count: usize) {
    for i in (0..collectors.len()).rev() {
        let (before, rest) = collectors.split_at_mut(i);
        if let Some((collector, slot)) = rest.first_mut().and_then(|c| c.slot.map(|slot| (c, slot))) {
            let column = |slot| columns.column(slot, count);
            collector.take(column(slot), before, column);
        }
    }
}

/// A run of blocks, with all that it works on.
struct Part {
    blocks: Range<u64>,
    columns: Option<Columns>,
    collectors: Vec<Collector>,
}

impl Part {
    /// Makes room for all that it will collect.
    fn make_room(&mut self) {
        let blocks = (self.blocks.end - self.blocks.start) as usize;
        for collector in &mut self.collectors {
            collector.blocks.reserve_exact(blocks);
            match &mut collector.keep {
                Keep::Samples(samples) => samples.reserve_exact(blocks * BLOCK),
                Keep::Tails(tails) => tails.make_room(blocks * BLOCK),
                _ => {}
            }
        }
    }
}

#[derive(Clone)]
enum Keep {
    Nothing,
    Samples(Vec<f64>),
    Tails(Tails),
    Counts(Sketch),
    /// In every build seen it is this number.
    Level(f64),
    /// In every build seen it is what the collector with this place, and this column, is.
    Same {
        leader: usize,
        slot: usize,
    },
}

struct Collector {
    slot: Option<usize>,
    of: Of,
    keep: Keep,
    blocks: Vec<Moments>,
    undefined: u64,
    negative: u64,
}

/// After a look ahead: what is one number in every build, or what another result is, needs no more than to be looked at; of
/// what varies, the tails are enough.
fn keep_less(collectors: &mut [Collector], threads: usize) {
    let less = threads::each(0..collectors.len(), threads, |i| less(collectors, i));
    for (collector, less) in collectors.iter_mut().zip(less) {
        if let Some(keep) = less {
            collector.keep = keep;
        }
    }
}

fn less(collectors: &[Collector], i: usize) -> Option<Keep> {
    let seen = collectors[i].spread()?;
    let first = *seen.first()?;
    if first.is_finite() && seen.iter().all(|x| *x == first) {
        return Some(Keep::Level(first));
    }
    let leader = collectors[..i].iter().position(|other| other.spread() == Some(seen));
    if let Some((leader, slot)) = leader.and_then(|leader| Some((leader, collectors[leader].slot?))) {
        return Some(Keep::Same { leader, slot });
    }
    let mut tails = Tails::new(seen);
    tails.add(seen);
    Some(Keep::Tails(tails))
}

impl Collector {
    /// The samples so far, of what varies and of which nothing but the spread is asked.
    fn spread(&self) -> Option<&[f64]> {
        match &self.keep {
            Keep::Samples(seen) if self.of == Of::Spread && self.slot.is_some() => Some(seen),
            _ => None,
        }
    }

    /// The one whose results are its own as well.
    fn leader(&self) -> Option<usize> {
        match self.keep {
            Keep::Same { leader, .. } => Some(leader),
            _ => None,
        }
    }

    /// The same, with nothing collected yet.
    fn emptied(&self) -> Self {
        let keep = match &self.keep {
            Keep::Nothing => Keep::Nothing,
            Keep::Samples(_) => Keep::Samples(Vec::new()),
            Keep::Tails(tails) => Keep::Tails(tails.emptied()),
            Keep::Counts(sketch) => Keep::Counts(sketch.emptied()),
            Keep::Level(value) => Keep::Level(*value),
            Keep::Same { leader, slot } => Keep::Same { leader: *leader, slot: *slot },
        };
        Self { slot: self.slot, of: self.of, keep, blocks: Vec::new(), undefined: 0, negative: 0 }
    }

    /// Takes a block of values. `before` are the collectors among which its leader is, with their blocks by `column`.
    fn take<'v>(&mut self, values: &[f64], before: &[Collector], column: impl Fn(usize) -> &'v [f64]) {
        match &self.keep {
            Keep::Same { slot, .. } if values == column(*slot) => return,
            Keep::Same { .. } => self.part_from_leader(before),
            Keep::Level(value) if values.iter().any(|x| x != value) => self.level_no_more(*value),
            _ => {}
        }
        match &mut self.keep {
            Keep::Nothing => {
                self.negative += values.iter().map(|x| u64::from(x.is_nan() || *x < 0.0)).sum::<u64>();
                return;
            }
            Keep::Same { .. } | Keep::Level(_) => {}
            Keep::Samples(samples) => samples.extend_from_slice(values),
            Keep::Tails(tails) => tails.add(values),
            Keep::Counts(sketch) => sketch.add(values),
        }
        let moments = Moments::of(values);
        self.undefined += values.len() as u64 - moments.count;
        self.blocks.push(moments);
    }

    /// Goes its own way from here on, with what its leader has collected so far.
    fn part_from_leader(&mut self, before: &[Collector]) {
        let Some(leader) = self.leader().and_then(|leader| before.get(leader)) else { return };
        (self.keep, self.blocks, self.undefined) = (leader.keep.clone(), leader.blocks.clone(), leader.undefined);
    }

    /// It was one number so far, and is not any more.
    fn level_no_more(&mut self, value: f64) {
        let seen = self.blocks.iter().map(|block| block.count).sum::<u64>();
        let mut tails = Tails::new(&[value]);
        tails.add(&vec![value; seen as usize]);
        self.keep = Keep::Tails(tails);
    }

    /// Takes in what a later part has collected. `before` and `later_before` are the collectors among which the leader is.
    fn append(&mut self, mut later: Collector, before: &[Collector], later_before: &[Collector]) {
        match (&self.keep, &later.keep) {
            (Keep::Same { .. }, Keep::Same { .. }) => return,
            (Keep::Same { .. }, _) => self.part_from_leader(before),
            (_, Keep::Same { .. }) => later.part_from_leader(later_before),
            (Keep::Level(_), Keep::Level(_)) => {}
            (Keep::Level(value), _) => self.level_no_more(*value),
            (_, Keep::Level(value)) => later.level_no_more(*value),
            _ => {}
        }
        self.blocks.extend(later.blocks);
        self.undefined += later.undefined;
        self.negative += later.negative;
        match (&mut self.keep, later.keep) {
            (Keep::Samples(samples), Keep::Samples(more)) => samples.extend(more),
            (Keep::Tails(tails), Keep::Tails(more)) => tails.merge(&more),
            (Keep::Counts(sketch), Keep::Counts(more)) => sketch.merge(&more),
            _ => {}
        }
    }

    /// What was asked for; `None` where what was kept does not tell it.
    fn finished(self) -> Option<Sampled> {
        let histogram = self.of == Of::Histogram;
        let mut moments = self.blocks.into_iter().fold(Moments::default(), Moments::with);
        let (mut found, mut quantile_error, mut drawn) = (None, 0.0, None);
        match self.keep {
            Keep::Nothing | Keep::Same { .. } => {}
            Keep::Level(value) => {
                moments = Moments { mean: value, squares: 0.0, ..moments };
                found = Some(Intervals { symmetric: (value, value), shortest: (value, value) });
            }
            Keep::Samples(samples) => {
                drawn = histogram.then(|| Histogram::of(&samples, moments)).flatten();
                found = intervals(&samples);
            }
            Keep::Tails(tails) => found = Some(tails.intervals(moments.count as usize)?),
            Keep::Counts(sketch) => {
                quantile_error = sketch.error();
                found = sketch.intervals();
                drawn = histogram.then(|| Histogram::range(moments)).flatten().map(|(low, high)| {
                    let counts = sketch.coarse(low, high, Histogram::BINS);
                    Histogram { low, high, counts }
                });
            }
        }
        let (undefined, negative) = (self.undefined, self.negative);
        Some(Sampled { moments, intervals: found, quantile_error, undefined, negative, histogram: drawn })
    }
}

impl Histogram {
    const BINS: usize = 48;

    /// Four standard deviations to each side hold all that a histogram can show.
    fn range(moments: Moments) -> Option<(f64, f64)> {
        let half = 4.0 * moments.std();
        (half > 0.0 && half.is_finite()).then_some((moments.mean - half, moments.mean + half))
    }

    fn of(samples: &[f64], moments: Moments) -> Option<Self> {
        let (widest_low, widest_high) = Self::range(moments)?;
        let finite = || samples.iter().copied().filter(|x| x.is_finite());
        let low = finite().fold(f64::INFINITY, f64::min).max(widest_low);
        let high = finite().fold(f64::NEG_INFINITY, f64::max).min(widest_high);
        let mut counts = vec![0; Self::BINS];
        for x in samples.iter().filter(|x| (low..=high).contains(*x)) {
            let bin = ((x - low) / (high - low) * Self::BINS as f64) as usize;
            counts[bin.min(Self::BINS - 1)] += 1;
        }
        Some(Self { low, high, counts })
    }
}

/// A range for each sketch: where the bounds are not known, twelve standard deviations.
fn ranges(plan: &Plan<'_>, wanted: &[Wanted], samples: u64) -> Vec<(f64, f64)> {
    let mut seen: Vec<(Moments, f64, f64)> = vec![(Moments::default(), f64::INFINITY, f64::NEG_INFINITY); wanted.len()];
    plan.visit(0..look_ahead(samples), |view| {
        for (wanted, (moments, low, high)) in wanted.iter().zip(&mut seen) {
            let values = view.values(wanted.reg);
            *moments = moments.with(Moments::of(values));
            for x in values.iter().filter(|x| x.is_finite()) {
                *low = low.min(*x);
                *high = high.max(*x);
            }
        }
    });
    seen.into_iter()
        .map(|(moments, low, high)| {
            let spare = 12.0 * moments.std();
            let beyond = (high - low) * 0.5;
            ((moments.mean - spare).max(low - beyond), (moments.mean + spare).min(high + beyond))
        })
        .collect()
}

#[cfg(feature = "markdown")]
#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        evaluate::program::{Program, Source, Step},
        lang::ast::Distribution,
    };

    /// Results that are one number, or one another, in all builds but few: how few decides whether a look ahead sees it.
    #[test]
    fn what_differs_in_few_builds_is_seen() {
        const BUILDS: u64 = 100_000;
        for few in [0.0, 3.0, 10.0, 30.0, 300.0] {
            let distribution = Distribution::Rectangular;
            let (name, degrees) = ("x".to_owned(), f64::INFINITY);
            let source = Source { name, nominal: 0.5, low: 0.0, high: 1.0, distribution, degrees };
            let limit = 1.0 - few / BUILDS as f64;
            let (twice, lesser, greater) = (3, 4, 5);
            let steps = vec![
                Step::Source(0),
                Step::Constant(limit),
                Step::Negate(0),
                Step::Negate(2),
                Step::Minimum(0, 1),
                Step::Maximum(0, 1),
            ];
            let program = Program { steps, sources: vec![source], ..Program::default() };
            let (tolerances, copula) = (Tolerances::new(&program), Copula::default());
            let wanted = [twice, lesser, greater].map(|reg| Wanted { reg, of: Of::Spread });
            let plan = Plan::new(&tolerances, &wanted.map(|wanted| wanted.reg), &copula, 1);
            let mut all: [(Vec<f64>, Moments); 3] = Default::default();
            plan.visit(0..BUILDS, |view| {
                for (wanted, (values, moments)) in wanted.iter().zip(&mut all) {
                    values.extend(view.values(wanted.reg));
                    *moments = moments.with(Moments::of(view.values(wanted.reg)));
                }
            });
            for threads in [1, 2, 5] {
                let draws = Draws { samples: BUILDS, seed: 1, threads: Some(threads), remember: false };
                let found = sample(&tolerances, &wanted, &copula, draws);
                for (found, (values, moments)) in found.iter().zip(&all) {
                    let found = found.as_ref().unwrap();
                    assert_eq!(found.intervals, intervals(values), "{few} {threads}");
                    let level = values.iter().all(|x| *x == values[0]);
                    let moments = if level { Moments { mean: values[0], squares: 0.0, ..*moments } } else { *moments };
                    assert_eq!(found.moments, moments, "{few} {threads}");
                }
            }
        }
    }
}
