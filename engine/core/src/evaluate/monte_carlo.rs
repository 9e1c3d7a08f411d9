//! The Monte Carlo method of JCGM 101 for all results at once: the program is run over blocks of builds held as columns,
//! so that the loop over steps is outside and the loop over builds inside. Blocks are independent and put together in
//! their order, so the number of threads changes nothing.

use super::{
    builds::{BLOCK, Plan},
    copula::Copula,
    extremes::Tolerances,
    program::Reg,
    statistics::{Intervals, Moments, Sketch},
    tails::{Tails, intervals},
};

/// Most samples that are kept, over all results; beyond, quantiles come from a sketch.
const MOST_KEPT: u64 = 8_000_000;
/// Samples above which quantiles come from a sketch in any case.
const MOST_EXACT: u64 = 1_000_000;
/// Samples up to which all are kept at hand until the end; above, only the tails are where that is enough.
const MOST_AT_HAND: u64 = 32_768;
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
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
    let moving: Vec<usize> = (0..wanted.len()).filter(|i| plan.slot(targets[*i]).is_some()).collect();
    let kept = moving.iter().filter(|i| wanted[**i].of != Of::Sign).count() as u64;
    let exact = draws.samples <= MOST_EXACT && draws.samples * kept <= MOST_KEPT;
    let run = |keeps: &dyn Fn(usize) -> Keep| {
        let collector = |(i, wanted): (usize, &Wanted)| Collector {
            slot: plan.slot(wanted.reg),
            keep: if wanted.of == Of::Sign { Keep::Nothing } else { keeps(i) },
            blocks: Vec::new(),
            undefined: 0,
            negative: 0,
        };
        run_all(&plan, wanted.iter().enumerate().map(collector).collect(), draws)
    };
    let finished = |collected: Vec<Collector>| -> Option<Vec<Option<Sampled>>> {
        let each = collected.into_iter().zip(wanted);
        let told = each.map(|(collector, wanted)| match collector.slot {
            Some(_) => collector.finished(wanted.of == Of::Histogram).map(Some),
            None => Some(None),
        });
        told.collect()
    };
    let told = if !exact {
        let ranges = ranges(&plan, wanted, draws.samples);
        // Many results share the memory between them, by coarser bins.
        let bins = (MOST_BINS / kept.max(1) as usize).clamp(LEAST_BINS, Sketch::MOST_BINS);
        finished(run(&|i| Keep::Counts(Sketch::new(ranges[i].0, ranges[i].1, bins))))
    } else if draws.samples > MOST_AT_HAND {
        let tails = first_tails(&plan, wanted, draws.samples);
        finished(run(&|i| tails[i].clone().map_or(Keep::Samples(Vec::new()), Keep::Tails)))
    } else {
        None
    };
    // Also where the first builds were no guide to the tails of all.
    told.or_else(|| finished(run(&|_| Keep::Samples(Vec::new())))).unwrap_or_default()
}

/// Deals the blocks out to threads and puts what they collect together in order.
fn run_all(plan: &Plan<'_>, empty: Vec<Collector>, draws: Draws) -> Vec<Collector> {
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let work = draws.samples * plan.length() as u64;
    let available = draws.threads.unwrap_or_else(machine_threads);
    let threads = (work / WORTH_A_THREAD + 1).min(available as u64).min(blocks.max(1)).max(1);
    let share = |i: u64| blocks * i / threads;
    let part = |i: u64, mut collectors: Vec<Collector>| {
        let mut columns = plan.columns();
        // The first part takes up all others in the end.
        let coming = if i == 0 { draws.samples } else { (share(i + 1) - share(i)) * BLOCK as u64 };
        for collector in &mut collectors {
            if let (Keep::Samples(samples), Some(_)) = (&mut collector.keep, collector.slot) {
                samples.reserve_exact(coming as usize);
            }
        }
        for block in share(i)..share(i + 1) {
            let first = block * BLOCK as u64;
            let count = (draws.samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count);
            for collector in &mut collectors {
                if let Some(slot) = collector.slot {
                    collector.take(columns.column(slot, count));
                }
            }
        }
        collectors
    };
    if threads == 1 {
        return part(0, empty);
    }
    let parts: Vec<Vec<Collector>> = std::thread::scope(|scope| {
        let part = &part;
        let running: Vec<_> = (0..threads)
            .map(|i| {
                let collectors = empty.clone();
                scope.spawn(move || part(i, collectors))
            })
            .collect();
        running.into_iter().filter_map(|thread| thread.join().ok()).collect()
    });
    let mut parts = parts.into_iter();
    let Some(mut whole) = parts.next() else { return empty };
    for part in parts {
        for (collector, more) in whole.iter_mut().zip(part) {
            collector.append(more);
        }
    }
    whole
}

fn machine_threads() -> usize {
    if cfg!(target_family = "wasm") { 1 } else { std::thread::available_parallelism().map_or(1, usize::from) }
}

#[derive(Clone)]
enum Keep {
    Nothing,
    Samples(Vec<f64>),
    Tails(Tails),
    Counts(Sketch),
}

#[derive(Clone)]
struct Collector {
    slot: Option<usize>,
    keep: Keep,
    blocks: Vec<Moments>,
    undefined: u64,
    negative: u64,
}

impl Collector {
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
    fn finished(self, histogram: bool) -> Option<Sampled> {
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

/// A first look at the builds: a sixteenth of them tells of the rest. `look` gets each wanted register's values.
fn look_ahead(plan: &Plan<'_>, wanted: &[Wanted], samples: u64, mut look: impl FnMut(usize, &[f64])) {
    let looked_at = (samples / 16).clamp(BLOCK as u64, 16 * BLOCK as u64).min(samples);
    plan.visit(looked_at, |view| {
        for (i, wanted) in wanted.iter().enumerate() {
            look(i, view.values(wanted.reg));
        }
    });
}

/// Tails to be filled, for what needs no more than its tails and moments.
fn first_tails(plan: &Plan<'_>, wanted: &[Wanted], samples: u64) -> Vec<Option<Tails>> {
    let mut seen: Vec<Vec<f64>> = vec![Vec::new(); wanted.len()];
    look_ahead(plan, wanted, samples, |i, values| {
        if wanted[i].of == Of::Spread {
            seen[i].extend_from_slice(values);
        }
    });
    seen.iter().zip(wanted).map(|(seen, wanted)| (wanted.of == Of::Spread).then(|| Tails::new(seen))).collect()
}

/// A range for each sketch: where the bounds are not known, twelve standard deviations.
fn ranges(plan: &Plan<'_>, wanted: &[Wanted], samples: u64) -> Vec<(f64, f64)> {
    let mut seen: Vec<(Moments, f64, f64)> = vec![(Moments::default(), f64::INFINITY, f64::NEG_INFINITY); wanted.len()];
    look_ahead(plan, wanted, samples, |i, values| {
        let (moments, low, high) = &mut seen[i];
        *moments = moments.with(Moments::of(values));
        for x in values.iter().filter(|x| x.is_finite()) {
            *low = low.min(*x);
            *high = high.max(*x);
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
