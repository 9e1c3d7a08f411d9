//! The Monte Carlo method of JCGM 101 for all results at once: the program is run over blocks of builds held as columns,
//! so that the loop over steps is outside and the loop over builds inside. Blocks are independent and put together in
//! their order, so the number of threads changes nothing.

use super::{
    builds::{BLOCK, Plan},
    copula::Copula,
    extremes::Tolerances,
    memory,
    program::Reg,
    statistics::{Intervals, Moments, Sketch},
    tails::{Tails, intervals},
};

/// Most samples that are kept, over all results; beyond, quantiles come from a sketch.
const MOST_KEPT: u64 = 8_000_000;
/// Samples above which quantiles come from a sketch in any case.
const MOST_EXACT: u64 = 1_000_000;
/// Samples from which on keeping tails alone is worth a look ahead.
const WORTH_A_LOOK: u64 = 4096;
/// Bins over all results (of four bytes, for each thread), and for one result.
const MOST_BINS: usize = 4_000_000;
const LEAST_BINS: usize = 512;
/// Steps (times builds) that are worth another thread.
const WORTH_A_THREAD: u64 = 600_000;

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
    let finished = |collected: Vec<Collector>| -> Option<Vec<Option<Sampled>>> {
        let told = collected.into_iter().map(|collector| match collector.slot {
            Some(_) => collector.finished().map(Some),
            None => Some(None),
        });
        told.collect()
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

/// Runs all builds, and after the first `look_ahead` of them keeps tails alone where these are enough. The other blocks are
/// dealt out to threads, and what they collect is put together in order.
fn run_all(plan: &Plan<'_>, mut whole: Vec<Collector>, draws: Draws, look_ahead: u64) -> Vec<Collector> {
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let part = |from: u64, to: u64, collectors: &mut [Collector]| {
        let mut columns = plan.columns();
        for block in from..to {
            let first = block * BLOCK as u64;
            let count = (draws.samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count);
            for collector in &mut *collectors {
                if let Some(slot) = collector.slot {
                    collector.take(columns.column(slot, count));
                }
            }
        }
    };
    let done = look_ahead / BLOCK as u64;
    part(0, done, &mut whole);
    whole.iter_mut().for_each(|collector| collector.settle(draws.samples, look_ahead));
    let work = draws.samples * plan.length() as u64;
    let available = draws.threads.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from));
    let threads = (work / WORTH_A_THREAD + 1).min(available as u64).min(blocks - done).max(1);
    let ends = |i: u64| (done + (blocks - done) * i / threads, done + (blocks - done) * (i + 1) / threads);
    if ONE_THREAD || threads == 1 {
        part(done, blocks, &mut whole);
        return whole;
    }
    // This thread goes on with what it has; the others start with nothing, within the same bounds.
    let parts: Vec<Vec<Collector>> = std::thread::scope(|scope| {
        let running: Vec<_> = (1..threads)
            .map(|i| {
                let mut collectors: Vec<Collector> = whole.iter().map(Collector::emptied).collect();
                scope.spawn(move || {
                    part(ends(i).0, ends(i).1, &mut collectors);
                    collectors
                })
            })
            .collect();
        part(ends(0).0, ends(0).1, &mut whole);
        running.into_iter().filter_map(|thread| thread.join().ok()).collect()
    });
    for part in parts {
        for (collector, more) in whole.iter_mut().zip(part) {
            collector.append(more);
        }
    }
    whole
}

/// In a page there is no other thread, and nothing of what would start one is in its module.
const ONE_THREAD: bool = cfg!(target_family = "wasm");

enum Keep {
    Nothing,
    Samples(Vec<f64>),
    Tails(Tails),
    Counts(Sketch),
}

struct Collector {
    slot: Option<usize>,
    of: Of,
    keep: Keep,
    blocks: Vec<Moments>,
    undefined: u64,
    negative: u64,
}

impl Collector {
    /// After a look ahead: keeps the tails alone, within the bounds that the builds seen so far tell; else makes room.
    fn settle(&mut self, samples: u64, look_ahead: u64) {
        let Keep::Samples(seen) = &mut self.keep else { return };
        if look_ahead > 0 && self.of == Of::Spread {
            let mut tails = Tails::new(seen);
            tails.add(seen);
            self.keep = Keep::Tails(tails);
        } else if self.slot.is_some() {
            seen.reserve_exact((samples - look_ahead) as usize);
        }
    }

    /// The same, with nothing collected yet.
    fn emptied(&self) -> Self {
        let keep = match &self.keep {
            Keep::Nothing => Keep::Nothing,
            Keep::Samples(_) => Keep::Samples(Vec::new()),
            Keep::Tails(tails) => Keep::Tails(tails.emptied()),
            Keep::Counts(sketch) => Keep::Counts(sketch.emptied()),
        };
        Self { slot: self.slot, of: self.of, keep, blocks: Vec::new(), undefined: 0, negative: 0 }
    }

    fn take(&mut self, values: &[f64]) {
        match &mut self.keep {
            Keep::Nothing => {
                self.negative += values.iter().map(|x| u64::from(x.is_nan() || *x < 0.0)).sum::<u64>();
                return;
            }
            Keep::Samples(samples) => samples.extend_from_slice(values),
            Keep::Tails(tails) => tails.add(values),
            Keep::Counts(sketch) => sketch.add(values),
        }
        let moments = Moments::of(values);
        self.undefined += values.len() as u64 - moments.count;
        self.blocks.push(moments);
    }

    fn append(&mut self, later: Collector) {
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

    /// What was asked for; `None` where the tails that were kept do not tell the intervals.
    fn finished(self) -> Option<Sampled> {
        let histogram = self.of == Of::Histogram;
        let moments = self.blocks.into_iter().fold(Moments::default(), Moments::with);
        let (mut found, mut quantile_error, mut drawn) = (None, 0.0, None);
        match self.keep {
            Keep::Nothing => {}
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
    plan.visit(look_ahead(samples), |view| {
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
