//! The Monte Carlo method of JCGM 101 for all results at once: the program is run over blocks of builds held as columns,
//! so that the loop over steps is outside and the loop over builds inside. Blocks are independent and put together in
//! their order, so the number of threads changes nothing.

use super::{
    copula::Copula,
    extremes::Tolerances,
    program::{Program, Reg, Step, WIDEST, least, parallel, whole_power},
    random::{Stream, draw},
    statistics::{Intervals, Moments, Sketch, intervals},
};

/// Builds a block holds.
pub(crate) const BLOCK: usize = 512;
/// Most samples that are kept, over all results; beyond, quantiles come from a sketch.
const MOST_KEPT: u64 = 10_000_000;
/// Samples above which quantiles come from a sketch in any case.
const MOST_EXACT: u64 = 1_000_000;
/// Steps (times builds) that are worth another thread.
const WORTH_A_THREAD: u64 = 3_000_000;

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
    let ranges = if exact { Vec::new() } else { plan.pilot(wanted, draws.samples) };
    let collectors: Vec<Collector> = wanted
        .iter()
        .enumerate()
        .map(|(i, wanted)| Collector {
            slot: plan.slot(wanted.reg),
            keep: match (wanted.of, ranges.get(i)) {
                (Of::Sign, _) => Keep::Nothing,
                (_, Some((low, high))) => Keep::Counts(Sketch::new(*low, *high)),
                (_, None) => Keep::Samples(Vec::new()),
            },
            blocks: Vec::new(),
            undefined: 0,
            negative: 0,
        })
        .collect();
    let collected = run_all(&plan, collectors, draws);
    collected
        .into_iter()
        .zip(wanted)
        .map(|(collector, wanted)| collector.slot.map(|_| collector.finished(wanted.of == Of::Histogram)))
        .collect()
}

/// Deals the blocks out to threads and puts what they collect together in order.
fn run_all(plan: &Plan<'_>, empty: Vec<Collector>, draws: Draws) -> Vec<Collector> {
    let blocks = draws.samples.div_ceil(BLOCK as u64);
    let work = draws.samples * plan.steps.len() as u64;
    let available = draws.threads.unwrap_or_else(machine_threads);
    let threads = (work / WORTH_A_THREAD + 1).min(available as u64).min(blocks.max(1)).max(1);
    let share = |i: u64| blocks * i / threads;
    let part = |i: u64, mut collectors: Vec<Collector>| {
        let mut columns = plan.columns();
        for block in share(i)..share(i + 1) {
            let first = block * BLOCK as u64;
            let count = (draws.samples - first).min(BLOCK as u64) as usize;
            plan.run(&mut columns, first, count);
            for collector in &mut collectors {
                if let Some(slot) = collector.slot {
                    collector.take(&columns.values[slot][..count]);
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
                self.negative += values.iter().map(|x| u64::from(!(*x >= 0.0))).sum::<u64>();
                return;
            }
            Keep::Samples(samples) => samples.extend_from_slice(values),
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
            (Keep::Counts(sketch), Keep::Counts(more)) => sketch.merge(&more),
            _ => {}
        }
    }

    fn finished(self, histogram: bool) -> Sampled {
        let moments = self.blocks.into_iter().fold(Moments::default(), Moments::with);
        let (mut found, mut quantile_error, mut drawn) = (None, 0.0, None);
        match self.keep {
            Keep::Nothing => {}
            Keep::Samples(mut samples) => {
                if self.undefined > 0 {
                    samples.retain(|x| x.is_finite());
                }
                drawn = histogram.then(|| Histogram::of(&samples, moments)).flatten();
                found = intervals(&samples);
            }
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
        Sampled { moments, intervals: found, quantile_error, undefined, negative, histogram: drawn }
    }
}

impl Histogram {
    const BINS: usize = 48;

    /// Four standard deviations to each side hold all that a histogram can show.
    fn range(moments: Moments) -> Option<(f64, f64)> {
        let half = 4.0 * moments.std();
        (half > 0.0 && half.is_finite()).then(|| (moments.mean - half, moments.mean + half))
    }

    fn of(samples: &[f64], moments: Moments) -> Option<Self> {
        let (widest_low, widest_high) = Self::range(moments)?;
        let low = samples.iter().copied().fold(f64::INFINITY, f64::min).max(widest_low);
        let high = samples.iter().copied().fold(f64::NEG_INFINITY, f64::max).min(widest_high);
        let mut counts = vec![0; Self::BINS];
        for x in samples.iter().filter(|x| (low..=high).contains(*x)) {
            let bin = ((x - low) / (high - low) * Self::BINS as f64) as usize;
            counts[bin.min(Self::BINS - 1)] += 1;
        }
        Some(Self { low, high, counts })
    }
}

/// Which sources are drawn anew, from a stream of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Redrawn {
    None,
    All,
    Only(u32),
}

/// The steps that move from build to build, on columns of their own.
pub(crate) struct Plan<'a> {
    program: &'a Program,
    /// Steps in order, their registers replaced by columns.
    steps: Vec<(Step, usize)>,
    /// Sources drawn: stream, source, column.
    draws: Vec<(Stream, u32, usize)>,
    /// For each call that moves: columns of its inputs, and the outputs that are read with their columns.
    calls: Vec<(Vec<usize>, Vec<(u32, usize)>)>,
    /// Columns that hold one number throughout.
    fixed: Vec<(usize, f64)>,
    columns: usize,
    slots: Vec<usize>,
    copula: &'a Copula,
}

/// A block of builds to look at.
pub(crate) struct View<'v> {
    plan: &'v Plan<'v>,
    columns: &'v Columns,
    count: usize,
}

impl View<'_> {
    /// A register's values; none where it does not vary.
    pub(crate) fn values(&self, reg: Reg) -> &[f64] {
        self.plan.slot(reg).map_or(&[], |slot| &self.columns.values[slot][..self.count])
    }
}

const NONE: usize = usize::MAX;
/// Builds far beyond any that a worksheet may ask for are the ones drawn anew.
const ANEW: u64 = 1 << 60;

/// Working columns of one thread.
pub(crate) struct Columns {
    values: Vec<[f64; BLOCK]>,
    scores: Vec<[f64; BLOCK]>,
}

impl<'a> Plan<'a> {
    pub(crate) fn new(tolerances: &'a Tolerances<'_>, targets: &[Reg], copula: &'a Copula, seed: u64) -> Self {
        let program = tolerances.program;
        let mut plan = Self {
            program,
            steps: Vec::new(),
            draws: Vec::new(),
            calls: vec![(Vec::new(), Vec::new()); program.calls.len()],
            fixed: Vec::new(),
            columns: 0,
            slots: vec![NONE; program.steps.len()],
            copula,
        };
        for reg in tolerances.cone(targets) {
            let step = program.steps[reg as usize];
            let mut moves = false;
            program.inputs(reg, |input| moves |= plan.slots[input as usize] != NONE);
            match step {
                Step::Source(source) => {
                    let (low, high) = tolerances.ends[source as usize];
                    moves = low < high;
                }
                // Chosen once, at the nominal values.
                Step::Preferred(..) => moves = false,
                _ => {}
            }
            if moves && tolerances.pinned != Some(reg) {
                plan.add(tolerances, reg, step, seed);
            }
        }
        plan
    }

    /// A register's values over one block of builds; none where it does not vary.
    pub(crate) fn block(&self, reg: Reg) -> Vec<f64> {
        let mut columns = self.columns();
        let Some(slot) = self.slot(reg) else { return Vec::new() };
        self.run(&mut columns, 0, BLOCK);
        columns.values[slot].to_vec()
    }

    /// Visits blocks of builds as they are (`None`), with all sources drawn anew, and with each source in turn drawn anew.
    pub(crate) fn redraw(&self, builds: u64, sources: &[u32], mut visit: impl FnMut(Redrawn, View<'_>)) {
        let (mut plain, mut anew) = (self.columns(), self.columns());
        let following: Vec<Vec<usize>> = sources.iter().map(|source| self.following(*source)).collect();
        let mut first = 0;
        while first < builds {
            let count = (builds - first).min(BLOCK as u64) as usize;
            self.run(&mut plain, first, count);
            self.run(&mut anew, first + ANEW, count);
            visit(Redrawn::None, View { plan: self, columns: &plain, count });
            visit(Redrawn::All, View { plan: self, columns: &anew, count });
            for (source, following) in sources.iter().zip(&following) {
                for (at, which) in [(first + ANEW, Some(Redrawn::Only(*source))), (first, None)] {
                    self.draw(&mut plain, at, count, Some(*source));
                    for i in following {
                        let (step, slot) = self.steps[*i];
                        self.step(step, slot, &mut plain.values, count);
                    }
                    if let Some(which) = which {
                        visit(which, View { plan: self, columns: &plain, count });
                    }
                }
            }
            first += count as u64;
        }
    }

    /// The steps that a source reaches, by their place in the plan.
    fn following(&self, source: u32) -> Vec<usize> {
        let mut reached = vec![false; self.columns];
        for (_, drawn, slot) in &self.draws {
            reached[*slot] |= *drawn == source;
        }
        let mut following = Vec::new();
        for (i, (step, slot)) in self.steps.iter().enumerate() {
            let mut moves = false;
            match step {
                Step::Call(call) => {
                    let (inputs, outputs) = &self.calls[*call as usize];
                    moves = inputs.iter().any(|input| reached[*input]);
                    outputs.iter().for_each(|(_, output)| reached[*output] |= moves);
                }
                step => {
                    step.map(|input| {
                        moves |= reached[input as usize];
                        input
                    });
                }
            }
            reached[*slot] |= moves;
            if moves {
                following.push(i);
            }
        }
        following
    }

    fn slot(&self, reg: Reg) -> Option<usize> {
        Some(self.slots[reg as usize]).filter(|slot| *slot != NONE)
    }

    fn new_column(&mut self) -> usize {
        self.columns += 1;
        self.columns - 1
    }

    fn add(&mut self, tolerances: &Tolerances<'_>, reg: Reg, step: Step, seed: u64) {
        let column = |plan: &mut Self, input: Reg| -> u32 {
            if plan.slots[input as usize] != NONE {
                return plan.slots[input as usize] as u32;
            }
            let column = plan.new_column();
            plan.fixed.push((column, tolerances.nominal[input as usize]));
            column as u32
        };
        match step {
            Step::Source(source) => {
                let slot = self.new_column();
                let stream = Stream::new(seed, &self.program.sources[source as usize].name);
                self.draws.push((stream, source, slot));
                self.slots[reg as usize] = slot;
                return;
            }
            Step::Output(call_reg, field) => {
                let slot = self.new_column();
                if let Step::Call(call) = self.program.steps[call_reg as usize] {
                    self.calls[call as usize].1.push((field, slot));
                }
                self.slots[reg as usize] = slot;
                return;
            }
            Step::Call(call) => {
                let inputs = self.program.calls[call as usize].inputs.clone();
                self.calls[call as usize].0 = inputs.into_iter().map(|input| column(self, input) as usize).collect();
                // A call writes no column of its own; the mark says that it moves.
                let slot = self.new_column();
                self.slots[reg as usize] = slot;
                self.steps.push((step, slot));
                return;
            }
            _ => {}
        }
        let moved = step.map(|input| column(self, input));
        let slot = self.new_column();
        self.slots[reg as usize] = slot;
        self.steps.push((moved, slot));
    }

    fn columns(&self) -> Columns {
        let mut columns =
            Columns { values: vec![[0.0; BLOCK]; self.columns], scores: vec![[0.0; BLOCK]; self.copula.width()] };
        for (column, value) in &self.fixed {
            columns.values[*column].fill(*value);
        }
        columns
    }

    /// A range for each sketch from a first look at the builds: where the bounds are not known, twelve standard deviations.
    fn pilot(&self, wanted: &[Wanted], samples: u64) -> Vec<(f64, f64)> {
        const LOOKED_AT: u64 = 16 * BLOCK as u64;
        let mut columns = self.columns();
        let mut seen: Vec<(Moments, f64, f64)> =
            vec![(Moments::default(), f64::INFINITY, f64::NEG_INFINITY); wanted.len()];
        let mut first = 0;
        while first < LOOKED_AT.min(samples) {
            let count = (samples - first).min(BLOCK as u64) as usize;
            self.run(&mut columns, first, count);
            for (wanted, seen) in wanted.iter().zip(&mut seen) {
                let Some(slot) = self.slot(wanted.reg) else { continue };
                let values = &columns.values[slot][..count];
                seen.0 = seen.0.with(Moments::of(values));
                for x in values.iter().filter(|x| x.is_finite()) {
                    seen.1 = seen.1.min(*x);
                    seen.2 = seen.2.max(*x);
                }
            }
            first += count as u64;
        }
        seen.into_iter()
            .map(|(moments, low, high)| {
                let spare = 12.0 * moments.std();
                let beyond = (high - low) * 0.5;
                ((moments.mean - spare).max(low - beyond), (moments.mean + spare).min(high + beyond))
            })
            .collect()
    }

    /// Runs the builds `first` to `first + count`.
    fn run(&self, columns: &mut Columns, first: u64, count: usize) {
        self.draw(columns, first, count, None);
        for (step, slot) in &self.steps {
            self.step(*step, *slot, &mut columns.values, count);
        }
    }

    /// Draws the sources, or one of them.
    fn draw(&self, columns: &mut Columns, first: u64, count: usize, only: Option<u32>) {
        if only.is_none() {
            self.copula.fill(&mut columns.scores, first, count);
        }
        for (stream, source, slot) in self.draws.iter().filter(|draw| only.is_none_or(|only| only == draw.1)) {
            let column = &mut columns.values[*slot][..count];
            let source_of = &self.program.sources[*source as usize];
            if let Some(scores) = self.copula.column(*source) {
                for (x, u) in column.iter_mut().zip(&columns.scores[scores]) {
                    *x = draw(source_of, *u);
                }
            } else {
                for (i, x) in column.iter_mut().enumerate() {
                    *x = draw(source_of, stream.uniform(first + i as u64));
                }
            }
        }
    }

    fn step(&self, step: Step, slot: usize, values: &mut [[f64; BLOCK]], count: usize) {
        if let Step::Call(call) = step {
            return self.call(call, values, count);
        }
        // Every column that a step reads was made before its own.
        let (before, after) = values.split_at_mut(slot);
        let Some(out) = after.first_mut().map(|column| &mut column[..count]) else { return };
        let of = |a: Reg| &before[a as usize][..count];
        macro_rules! one {
            ($a:expr, $f:expr) => {
                for (o, x) in out.iter_mut().zip(of($a)) {
                    *o = $f(*x);
                }
            };
        }
        macro_rules! two {
            ($a:expr, $b:expr, $f:expr) => {
                for ((o, x), y) in out.iter_mut().zip(of($a)).zip(of($b)) {
                    *o = $f(*x, *y);
                }
            };
        }
        let truth = |holds: bool| f64::from(u8::from(holds));
        match step {
            Step::Add(a, b) => two!(a, b, |x: f64, y: f64| x + y),
            Step::Subtract(a, b) => two!(a, b, |x: f64, y: f64| x - y),
            Step::Multiply(a, b) => two!(a, b, |x: f64, y: f64| x * y),
            Step::Divide(a, b) => two!(a, b, |x: f64, y: f64| x / y),
            Step::Parallel(a, b) => two!(a, b, parallel),
            Step::Power(a, b) => two!(a, b, libm::pow),
            Step::Minimum(a, b) => two!(a, b, least),
            Step::Maximum(a, b) => two!(a, b, |x: f64, y: f64| -least(-x, -y)),
            Step::ArcTangent2(a, b) => two!(a, b, libm::atan2),
            Step::Compare(comparison, a, b) => two!(a, b, |x, y| truth(comparison.of(x, y))),
            Step::And(a, b) => two!(a, b, |x, y| truth(x != 0.0 && y != 0.0)),
            Step::Or(a, b) => two!(a, b, |x, y| truth(x != 0.0 || y != 0.0)),
            Step::Negate(a) => one!(a, |x: f64| -x),
            Step::WholePower(a, n) => one!(a, |x| whole_power(x, n)),
            Step::Apply(function, a) => one!(a, |x| function.of(x)),
            Step::Not(a) => one!(a, |x| truth(x == 0.0)),
            Step::Interpolate(table, a) => one!(a, |x| self.program.tables[table as usize].at(x)),
            Step::Select(c, a, b) => {
                for (((o, c), x), y) in out.iter_mut().zip(of(c)).zip(of(a)).zip(of(b)) {
                    *o = if *c == 0.0 { *y } else { *x };
                }
            }
            Step::Constant(_) | Step::Source(_) | Step::Preferred(..) | Step::Call(_) | Step::Output(..) => {}
        }
    }

    fn call(&self, call: u32, values: &mut [[f64; BLOCK]], count: usize) {
        let model = self.program.calls[call as usize].model;
        let (inputs, outputs) = &self.calls[call as usize];
        let (mut arguments, mut results) = ([0.0; WIDEST], [0.0; WIDEST]);
        for i in 0..count {
            for (argument, column) in arguments.iter_mut().zip(inputs) {
                *argument = values[*column][i];
            }
            (model.evaluate)(&arguments[..inputs.len()], &mut results[..model.fields.len()]);
            for (field, column) in outputs {
                values[*column][i] = results[*field as usize];
            }
        }
    }
}
