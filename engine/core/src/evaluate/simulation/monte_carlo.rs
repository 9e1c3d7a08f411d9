//! The Monte Carlo method of JCGM 101 for all results at once: the program is run over blocks of builds held as columns,
//! so that the loop over steps is outside and the loop over builds inside. Blocks are independent and put together in
//! their order, so the number of threads changes nothing.

use std::{
    ops::Range,
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicU64, Ordering},
    },
};

use super::{
    super::{
        columns::{BLOCK, Columns, Plan, Reused, Watch},
        draws::Copula,
        tolerances::Tolerances,
    },
    collector::{Collector, Of, Sampled, Stored, append_all, keep_less, take_all},
    statistics::{Moments, Sketch},
};
use crate::parallel;
use crate::program::Reg;

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

/// What is asked of the samples of a register.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) reg: Reg,
    pub(crate) of: Of,
}

/// Samples and seed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Draws {
    pub(crate) samples: u64,
    pub(crate) seed: u64,
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
    let moves: Vec<bool> = targets.iter().map(|target| plan.slot(*target).is_some()).collect();
    let kept = wanted.iter().zip(&moves).filter(|(wanted, moves)| wanted.of != Of::Sign && **moves).count() as u64;
    let exact = draws.samples <= MOST_EXACT && draws.samples * kept <= MOST_KEPT;
    let plan = plan.reusing(&targets, if exact { Watch::AtEnd } else { Watch::AsMade });
    let collectors = |keep: &dyn Fn(usize) -> Stored| -> Vec<Collector> {
        let slot = |i: usize| moves[i].then(|| plan.slot(targets[i])).flatten();
        wanted.iter().enumerate().map(|(i, wanted)| Collector::new(slot(i), wanted.of, || keep(i))).collect()
    };
    let finished = |collected: Vec<Collector>| -> Option<Vec<Option<Sampled>>> {
        let same: Vec<usize> =
            collected.iter().enumerate().map(|(i, collector)| collector.leader().unwrap_or(i)).collect();
        let answers = parallel::each(collected, |collector| match collector.slot {
            Some(_) => collector.finished().map(Some),
            None => Some(None),
        });
        let answers: Vec<Option<Sampled>> = answers.into_iter().collect::<Option<_>>()?;
        Some(same.into_iter().map(|i| answers[i].clone()).collect())
    };
    if !exact {
        let ranges = ranges(&plan, wanted.len(), draws.samples);
        // Many results share the memory between them, by coarser bins.
        let bins = (MOST_BINS / kept.max(1) as usize).clamp(LEAST_BINS, Sketch::MOST_BINS);
        let counts = collectors(&|i| Stored::Counts(Sketch::new(ranges[i].0, ranges[i].1, bins)));
        return finished(count_all(&plan, counts, draws)).unwrap_or_default();
    }
    let look_ahead = if draws.samples < WORTH_A_LOOK { 0 } else { look_ahead(draws.samples) };
    let all = || collectors(&|_| Stored::Samples(Vec::new()));
    finished(run_all(&plan, all(), draws, look_ahead))
        // The first builds were no guide to the tails of all.
        .or_else(|| finished(run_all(&plan, all(), draws, 0)))
        .unwrap_or_default()
}

/// Builds that stand for the rest: a sixteenth of them.
fn look_ahead(samples: u64) -> u64 {
    (samples / 16).clamp(2 * BLOCK as u64, 16 * BLOCK as u64).min(samples)
}

/// How many threads the builds are worth.
fn threads(plan: &Reused<'_>, collectors: usize, samples: u64) -> usize {
    let (steps, calls) = plan.length();
    let each = steps as u64 + calls as u64 * STEPS_OF_A_CALL + collectors as u64 * STEPS_OF_A_RESULT;
    let worth = samples.saturating_mul(each) / WORTH_A_THREAD + 1;
    parallel::threads().min(worth as usize)
}

/// Runs all builds into collectors that only count, which all threads share: counts are the same in any order.
fn count_all(plan: &Reused<'_>, collectors: Vec<Collector>, draws: Draws) -> Vec<Collector> {
    let threads = threads(plan, collectors.len(), draws.samples);
    let shared: Vec<Mutex<Collector>> = collectors.into_iter().map(Mutex::new).collect();
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let next = AtomicU64::new(0);
    parallel::each(0..threads, |_| {
        let mut columns = plan.columns();
        loop {
            let block = next.fetch_add(1, Ordering::Relaxed);
            if block >= blocks {
                return;
            }
            let first = block * BLOCK as u64;
            let count = (draws.samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count, |watched, values| {
                parallel::locked(&shared[watched]).take_alone(values, block);
            });
        }
    });
    shared.into_iter().map(|collector| collector.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
}

/// Runs all builds, and after the first `look_ahead` of them keeps tails alone where these are enough.
fn run_all(plan: &Reused<'_>, mut whole: Vec<Collector>, draws: Draws, look_ahead: u64) -> Vec<Collector> {
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let done = look_ahead / BLOCK as u64;
    let threads = threads(plan, whole.len(), draws.samples);
    let mut columns = Vec::new();
    if look_ahead > 0 {
        (whole, columns) = run_blocks(plan, draws.samples, 0..done, whole, columns, threads);
        keep_less(&mut whole);
    }
    run_blocks(plan, draws.samples, done..blocks, whole, columns, threads).0
}

/// Runs some blocks of builds. Each thread takes the next block when it is done with one, into collectors of its own, which
/// are put together in the end. Columns are taken from those that there are already, and given back.
fn run_blocks(
    plan: &Reused<'_>,
    samples: u64,
    blocks: Range<u64>,
    collectors: Vec<Collector>,
    mut columns: Vec<Columns>,
    threads: usize,
) -> (Vec<Collector>, Vec<Columns>) {
    let length = blocks.end - blocks.start;
    let parts = (threads as u64).clamp(1, length.max(1));
    let next = AtomicU64::new(blocks.start);
    let taken = || Some(next.fetch_add(1, Ordering::Relaxed)).filter(|block| *block < blocks.end);
    let run = |(mut collectors, columns): (Vec<Collector>, Option<Columns>)| {
        let Some(mut block) = taken() else { return (collectors, columns) };
        // Made by the thread that works on them.
        let mut columns = columns.unwrap_or_else(|| plan.columns());
        collectors.iter_mut().for_each(|collector| collector.make_room(length.div_ceil(parts) as usize));
        loop {
            let first = block * BLOCK as u64;
            let count = (samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count, |_, _| {});
            take_all(&mut collectors, &columns, block, count);
            match taken() {
                Some(more) => block = more,
                None => return (collectors, Some(columns)),
            }
        }
    };
    if parts == 1 {
        let (collectors, columns) = run((collectors, columns.pop()));
        return (collectors, columns.into_iter().collect());
    }
    // The first goes on with what there is, the others start with nothing, within the same bounds.
    let emptied = || collectors.iter().map(Collector::emptied).collect();
    let others: Vec<Vec<Collector>> = (1..parts).map(|_| emptied()).collect();
    let parts = [collectors].into_iter().chain(others).map(|collectors| (collectors, columns.pop()));
    let found = parallel::each(parts, run);
    let (found, columns): (Vec<_>, Vec<_>) = found.into_iter().unzip();
    let mut found = found.into_iter();
    let mut whole = found.next().unwrap_or_default();
    found.for_each(|part| append_all(&mut whole, part));
    (whole, columns.into_iter().flatten().collect())
}

/// A range for each sketch: where the bounds are not known, twelve standard deviations.
fn ranges(plan: &Reused<'_>, wanted: usize, samples: u64) -> Vec<(f64, f64)> {
    let mut seen: Vec<(Moments, f64, f64)> = vec![(Moments::default(), f64::INFINITY, f64::NEG_INFINITY); wanted];
    let mut columns = plan.columns();
    let builds = look_ahead(samples);
    for first in (0..builds).step_by(BLOCK) {
        plan.run(&mut columns, first, (builds - first).min(BLOCK as u64) as usize, |watched, values| {
            let (moments, low, high) = &mut seen[watched];
            *moments = moments.with(Moments::of(values));
            for x in values.iter().filter(|x| x.is_finite()) {
                *low = low.min(*x);
                *high = high.max(*x);
            }
        });
    }
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
        evaluate::{design, simulation::tails::intervals},
        host::Fidelity,
        lang::ast::Distribution,
        program::{Program, RunState, Scenario, Source, Step},
    };

    /// Results that are one number, or one another, in all builds but few: how few decides whether a look ahead sees it.
    #[test]
    fn what_differs_in_few_builds_is_seen() {
        const BUILDS: u64 = 100_000;
        for few in [0.0, 3.0, 10.0, 30.0, 300.0] {
            let distribution = Distribution::Rectangular;
            let (name, degrees) = ("x".to_owned(), f64::INFINITY);
            let source = Source { key: None, name, nominal: 0.5, low: 0.0, high: 1.0, distribution, degrees };
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
            let (scenario, state) = (Scenario::authored(&program), RunState::new(&program, Fidelity::default()));
            let nominal = design::run(&scenario, &state);
            let (tolerances, copula) = (Tolerances::new(&scenario, &state, nominal), Copula::default());
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
                let draws = Draws { samples: BUILDS, seed: 1 };
                let found = parallel::with_threads(threads, || sample(&tolerances, &wanted, &copula, draws));
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
