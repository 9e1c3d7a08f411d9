//! What is kept of a result's builds while they run, which is as little as answers what is asked: the samples, their tails
//! alone, counts, or nothing of a result that is one number throughout or what another one is.

use super::{
    super::columns::{BLOCK, Columns},
    statistics::{InOrder, Intervals, Moments, Sketch},
    tails::{Tails, ends, intervals},
};
use crate::parallel;

/// What one result came to over all builds.
#[derive(Clone, Debug)]
pub(crate) struct Sampled {
    pub(crate) moments: Moments,
    pub(crate) intervals: Option<Intervals>,
    /// How far a quantile may be off for want of the samples themselves.
    pub(crate) quantile_error: f64,
    /// Builds in which it had no value.
    pub(crate) undefined: u64,
    /// Builds in which it was infinite.
    pub(crate) infinite: u64,
    /// Builds in which it was below zero, or had no value: for margins.
    pub(crate) negative: u64,
    /// Where it was the least and the greatest.
    pub(crate) extremes: Option<ExtremeBuilds>,
    /// Counts over the range shown, for a histogram.
    pub(crate) histogram: Option<Histogram>,
}

/// The least and the greatest finite value of some builds, each with the first build that has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ExtremeBuilds {
    pub(crate) least: (f64, u64),
    pub(crate) greatest: (f64, u64),
}

/// Counts of builds in bins of one width.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Histogram {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) counts: Vec<u64>,
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

/// What is kept of the builds seen.
#[derive(Clone)]
pub(super) enum Stored {
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

/// Collects the builds of one result, block by block.
pub(super) struct Collector {
    pub(super) slot: Option<usize>,
    of: Of,
    keep: Stored,
    /// Of the blocks seen.
    blocks: InOrder,
    extremes: Option<ExtremeBuilds>,
    undefined: u64,
    infinite: u64,
    negative: u64,
}

/// After a look ahead: what is one number in every build, or what another result is, needs no more than to be looked at; of
/// what varies, the tails are enough.
pub(super) fn keep_less(collectors: &mut [Collector]) {
    let less = parallel::each(0..collectors.len(), |i| less(collectors, i));
    for (collector, less) in collectors.iter_mut().zip(less) {
        if let Some(keep) = less {
            collector.keep = keep;
        }
    }
}

fn less(collectors: &[Collector], i: usize) -> Option<Stored> {
    let seen = collectors[i].spread()?;
    let first = *seen.first()?;
    if first.is_finite() && seen.iter().all(|x| *x == first) {
        return Some(Stored::Level(first));
    }
    let leader = collectors[..i].iter().position(|other| other.spread() == Some(seen));
    if let Some((leader, slot)) = leader.and_then(|leader| Some((leader, collectors[leader].slot?))) {
        return Some(Stored::Same { leader, slot });
    }
    let mut tails = Tails::new(seen);
    tails.add(seen);
    Some(Stored::Tails(tails))
}

impl Collector {
    /// Of the column that holds the result, if any does; nothing is kept where only its sign is asked.
    pub(super) fn new(slot: Option<usize>, of: Of, keep: impl FnOnce() -> Stored) -> Self {
        let keep = if of == Of::Sign { Stored::Nothing } else { keep() };
        Self { slot, of, keep, blocks: InOrder::default(), extremes: None, undefined: 0, infinite: 0, negative: 0 }
    }

    /// Makes room for so many builds more, in blocks.
    pub(super) fn make_room(&mut self, blocks: usize) {
        // What does not vary has no builds to keep.
        if self.slot.is_none() {
            return;
        }
        match &mut self.keep {
            Stored::Samples(samples) => samples.reserve_exact(blocks * BLOCK),
            Stored::Tails(tails) => tails.make_room(blocks * BLOCK),
            _ => {}
        }
    }

    /// The samples so far, of what varies and of which nothing but the spread is asked.
    fn spread(&self) -> Option<&[f64]> {
        match &self.keep {
            Stored::Samples(seen) if self.of == Of::Spread && self.slot.is_some() => Some(seen),
            _ => None,
        }
    }

    /// The one whose results are its own as well.
    pub(super) fn leader(&self) -> Option<usize> {
        match self.keep {
            Stored::Same { leader, .. } => Some(leader),
            _ => None,
        }
    }

    /// The same, with nothing collected yet.
    pub(super) fn emptied(&self) -> Self {
        let keep = match &self.keep {
            Stored::Nothing => Stored::Nothing,
            Stored::Samples(_) => Stored::Samples(Vec::new()),
            Stored::Tails(tails) => Stored::Tails(tails.emptied()),
            Stored::Counts(sketch) => Stored::Counts(sketch.emptied()),
            Stored::Level(value) => Stored::Level(*value),
            Stored::Same { leader, slot } => Stored::Same { leader: *leader, slot: *slot },
        };
        Self {
            slot: self.slot,
            of: self.of,
            keep,
            blocks: InOrder::default(),
            extremes: None,
            undefined: 0,
            infinite: 0,
            negative: 0,
        }
    }

    /// Takes the values of a block. `before` are the collectors among which its leader is, with their blocks by `column`.
    fn take<'v>(&mut self, values: &[f64], block: u64, before: &[Collector], column: impl Fn(usize) -> &'v [f64]) {
        match &self.keep {
            Stored::Same { slot, .. } if values == column(*slot) => return,
            Stored::Same { .. } => self.part_from_leader(before),
            Stored::Level(value) if values.iter().any(|x| x != value) => self.level_no_more(*value),
            _ => {}
        }
        if !matches!(self.keep, Stored::Same { .. } | Stored::Level(_)) {
            self.extremes = merged(self.extremes, ExtremeBuilds::of(values, block * BLOCK as u64));
        }
        match &mut self.keep {
            Stored::Nothing => {
                self.negative += values.iter().map(|x| u64::from(x.is_nan() || *x < 0.0)).sum::<u64>();
                return;
            }
            Stored::Same { .. } | Stored::Level(_) => {}
            Stored::Samples(samples) => samples.extend_from_slice(values),
            Stored::Tails(tails) => tails.add(values),
            Stored::Counts(sketch) => sketch.add(values),
        }
        let moments = Moments::of(values);
        if moments.count < values.len() as u64 {
            let undefined = values.iter().map(|x| u64::from(x.is_nan())).sum::<u64>();
            self.undefined += undefined;
            self.infinite += values.len() as u64 - moments.count - undefined;
        }
        self.blocks.add(block, moments);
    }

    /// Takes the values of a block, where it follows no other.
    pub(super) fn take_alone(&mut self, values: &[f64], block: u64) {
        self.take(values, block, &[], |_| &[]);
    }

    /// Goes its own way from here on, with what its leader has collected so far.
    fn part_from_leader(&mut self, before: &[Collector]) {
        let Some(leader) = self.leader().and_then(|leader| before.get(leader)) else { return };
        (self.keep, self.blocks) = (leader.keep.clone(), leader.blocks.clone());
        (self.undefined, self.infinite) = (leader.undefined, leader.infinite);
        self.extremes = leader.extremes;
    }

    /// It was one number so far, and is not any more.
    fn level_no_more(&mut self, value: f64) {
        let seen = self.blocks.count();
        let mut tails = Tails::new(&[value]);
        tails.add(&vec![value; seen as usize]);
        self.extremes = ExtremeBuilds::of(&[value], 0);
        self.keep = Stored::Tails(tails);
    }

    /// Takes in what another has collected of other blocks. `before` and `other_before` are the collectors among which the
    /// leader is.
    fn append(&mut self, mut other: Collector, before: &[Collector], other_before: &[Collector]) {
        match (&self.keep, &other.keep) {
            (Stored::Same { .. }, Stored::Same { .. }) => return,
            (Stored::Same { .. }, _) => self.part_from_leader(before),
            (_, Stored::Same { .. }) => other.part_from_leader(other_before),
            (Stored::Level(_), Stored::Level(_)) => {}
            (Stored::Level(value), _) => self.level_no_more(*value),
            (_, Stored::Level(value)) => other.level_no_more(*value),
            _ => {}
        }
        self.blocks.append(other.blocks);
        self.extremes = merged(self.extremes, other.extremes);
        self.undefined += other.undefined;
        self.infinite += other.infinite;
        self.negative += other.negative;
        match (&mut self.keep, other.keep) {
            (Stored::Samples(samples), Stored::Samples(more)) => samples.extend(more),
            (Stored::Tails(tails), Stored::Tails(more)) => tails.merge(&more),
            (Stored::Counts(sketch), Stored::Counts(more)) => sketch.merge(&more),
            _ => {}
        }
    }

    /// What was asked for; `None` where what was kept does not give it.
    pub(super) fn finished(self) -> Option<Sampled> {
        let histogram = self.of == Of::Histogram;
        let mut moments = self.blocks.all();
        let (mut found, mut quantile_error, mut drawn) = (None, 0.0, None);
        match self.keep {
            Stored::Nothing | Stored::Same { .. } => {}
            Stored::Level(value) => {
                moments = Moments { mean: value, squares: 0.0, ..moments };
                found = Some(Intervals { symmetric: (value, value), shortest: (value, value) });
            }
            Stored::Samples(samples) => {
                drawn = histogram.then(|| Histogram::of(&samples, moments)).flatten();
                found = intervals(&samples);
            }
            Stored::Tails(tails) => found = Some(tails.intervals((moments.count + self.infinite) as usize)?),
            Stored::Counts(sketch) => {
                quantile_error = sketch.error();
                found = sketch.intervals();
                drawn = histogram.then(|| Histogram::range(moments)).flatten().map(|(low, high)| {
                    let counts = sketch.coarse(low, high, Histogram::BINS);
                    Histogram { low, high, counts }
                });
            }
        }
        let Self { extremes, undefined, infinite, negative, .. } = self;
        let histogram = drawn;
        Some(Sampled { moments, intervals: found, quantile_error, undefined, infinite, negative, extremes, histogram })
    }
}

impl ExtremeBuilds {
    /// Of builds that stand one after the other; `None` where none has a finite value.
    fn of(values: &[f64], first: u64) -> Option<Self> {
        let (low, high) = ends(values);
        if !low.is_finite() || !high.is_finite() {
            let numbered = || values.iter().copied().enumerate().filter(|(_, x)| x.is_finite());
            let number = |(i, x): (usize, f64)| (x, first + i as u64);
            let least = numbered().min_by(|a, b| a.1.total_cmp(&b.1)).map(number)?;
            let greatest = numbered().rev().max_by(|a, b| a.1.total_cmp(&b.1)).map(number)?;
            return Some(Self { least, greatest });
        }
        let number = |end: f64| first + values.iter().position(|x| *x == end).unwrap_or(0) as u64;
        Some(Self { least: (low, number(low)), greatest: (high, number(high)) })
    }
}

/// Of both together.
fn merged(a: Option<ExtremeBuilds>, b: Option<ExtremeBuilds>) -> Option<ExtremeBuilds> {
    let (Some(a), Some(b)) = (a, b) else { return a.or(b) };
    let least = if (b.least.0, b.least.1) < a.least { b.least } else { a.least };
    let is_greater = b.greatest.0 > a.greatest.0 || b.greatest.0 == a.greatest.0 && b.greatest.1 < a.greatest.1;
    Some(ExtremeBuilds { least, greatest: if is_greater { b.greatest } else { a.greatest } })
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

/// Lets each collector take a block of builds. Backwards: one that follows another takes its turn while that still stands
/// where both stood before.
pub(super) fn take_all(collectors: &mut [Collector], columns: &Columns, block: u64, count: usize) {
    for i in (0..collectors.len()).rev() {
        let (before, rest) = collectors.split_at_mut(i);
        if let Some((collector, slot)) = rest.first_mut().and_then(|c| c.slot.map(|slot| (c, slot))) {
            let column = |slot| columns.column(slot, count);
            collector.take(column(slot), block, before, column);
        }
    }
}

/// Puts together what was collected of different blocks. Backwards too.
pub(super) fn append_all(whole: &mut [Collector], mut part: Vec<Collector>) {
    while let Some(other) = part.pop() {
        let (before, rest) = whole.split_at_mut(part.len());
        if let Some(collector) = rest.first_mut() {
            collector.append(other, before, &part);
        }
    }
}
