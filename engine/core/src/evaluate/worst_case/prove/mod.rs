//! Proof of a worst case: the box is cut into parts, each part's least value is bounded from below, and parts that cannot
//! hold anything less than what is known are dropped, until bound and known value agree (branch and bound: E. Hansen,
//! G. W. Walster, Global Optimization Using Interval Analysis, chapters 11 and 12). A part is bounded by its range, by the
//! mean value form, and where a slope keeps its sign by the end that it leads to. What is left open after so many parts is
//! not proven; its enclosure holds all the same.

mod gaps;
mod models;
mod passes;
mod ways;

use std::{cmp::Ordering, collections::BinaryHeap};

pub(super) use gaps::{Gap, Lack, gap};
use passes::Pass;
pub(super) use passes::{Part, Passes};

use crate::program::{Interval, Number};

/// Which extreme is proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Least,
    Greatest,
}

impl Side {
    /// Turned so that less is better.
    fn turned(self, range: Interval) -> Interval {
        match self {
            Side::Least => range,
            Side::Greatest => range.negated(),
        }
    }

    fn turned_value(self, value: f64) -> f64 {
        match self {
            Side::Least => value,
            Side::Greatest => -value,
        }
    }
}

/// What is known of an extreme.
#[derive(Clone, Debug)]
pub(super) struct Known {
    /// The best value found.
    pub(super) value: f64,
    /// Where: the passes' sources in their order; nothing where it was known before.
    pub(super) at: Option<Vec<f64>>,
    /// Nothing in the box goes beyond this.
    pub(super) bound: f64,
    /// Whether the two agree.
    pub(super) proven: bool,
}

/// Parts that are looked at before an extreme is left unproven.
pub(super) const MOST_PARTS: usize = 3000;
/// After each so many the bound must have come nearer, or the rest would be in vain.
const STAGE: usize = 200;
/// How much of the distance may be left after a stage.
const SLOW: f64 = 0.9;
/// What a model costs, beside all other steps.
const MODEL: usize = 5;
/// Parts after which a model's directions should be known.
const BLIND: usize = 64;
/// How far bound and value may be apart, as a part of the range's size.
pub(super) const AGREE: f64 = 1e-9;
/// A part this much smaller than the box that still has no bound has a pole.
const TINY: f64 = 1e-9;

/// Bounds an extreme of which a value is known, with the size of the whole range; looks at no more than so many parts, up
/// to [`MOST_PARTS`].
pub(super) fn prove(
    passes: &mut Passes<'_>,
    whole: &Part,
    side: Side,
    (value, size): (f64, f64),
    most_parts: usize,
) -> Known {
    let value = side.turned_value(value);
    let best = if value.is_nan() { f64::INFINITY } else { value };
    let mut search = Bounding {
        passes,
        side,
        root: whole.ends.clone(),
        open: BinaryHeap::new(),
        best,
        at: None,
        floor: f64::INFINITY,
        agree: AGREE * size,
        most_parts,
        added: 0,
        blind: false,
    };
    search.look(whole.clone(), 0);
    let bound = search.run();
    let (best, agree) = (search.best, search.agree);
    Known {
        value: side.turned_value(best),
        at: search.at,
        bound: side.turned_value(bound.min(best)),
        proven: bound >= best - agree && best.is_finite(),
    }
}

struct Bounding<'p, 'a> {
    passes: &'p mut Passes<'a>,
    side: Side,
    root: Vec<Interval>,
    open: BinaryHeap<Open>,
    best: f64,
    at: Option<Vec<f64>>,
    /// The least bound of parts that cannot be cut any further.
    floor: f64,
    agree: f64,
    most_parts: usize,
    added: usize,
    /// Whether the directions of a model are not known over the whole box.
    blind: bool,
}

impl Bounding<'_, '_> {
    /// The least that the box can come to.
    fn run(&mut self) -> f64 {
        let (mut looked_at, mut distance) = (0, f64::INFINITY);
        let most = self.most_parts / (1 + MODEL * self.passes.models());
        while let Some(part) = self.open.pop() {
            let least = part.bound.min(self.floor);
            let endless = part.bound == f64::NEG_INFINITY && self.is_tiny(&part.part);
            let blind = self.blind && looked_at >= BLIND && part.bound == f64::NEG_INFINITY;
            if least >= self.best - self.agree || looked_at >= most || endless || blind {
                return least;
            }
            if looked_at > 0 && looked_at % STAGE == 0 {
                let before = std::mem::replace(&mut distance, self.best - least);
                if distance.is_infinite() || distance > SLOW * before {
                    return least;
                }
            }
            looked_at += 1;
            match part.cut {
                Cut::Comparison(k) => {
                    for truth in [true, false] {
                        self.look(part.part.taking(k, truth), part.depth + 1);
                    }
                }
                Cut::Source(i) => {
                    let Interval { low, high } = part.part.ends[i];
                    let middle = middle(part.part.ends[i]);
                    for ends in [Interval::new(low, middle), Interval::new(middle, high)] {
                        self.look(part.part.within(i, ends), part.depth + 1);
                    }
                }
                Cut::None => self.floor = self.floor.min(part.bound),
            }
        }
        self.floor.min(self.best)
    }

    /// Bounds a part, and keeps it if it can hold anything better.
    fn look(&mut self, mut part: Part, depth: u32) {
        let Some(pass) = self.passes.over(&mut part) else { return };
        self.blind |= pass.blind.is_some();
        let slopes: Vec<Interval> = pass.slopes.iter().map(|slope| self.side.turned(*slope)).collect();
        let mut bound = self.side.turned(pass.range).low;
        if bound >= self.best - self.agree {
            return self.drop_at(bound);
        }
        if pass.smooth || pass.open.is_none() {
            bound = bound.max(self.along_slopes(&mut part, &slopes, pass.smooth));
            if bound >= self.best - self.agree {
                return self.drop_at(bound);
            }
        }
        self.try_points(&part, &slopes);
        if bound >= self.best - self.agree {
            return self.drop_at(bound);
        }
        let cut = match pass.open {
            Some(k) => Cut::Comparison(k),
            None => self.cut(&part, &slopes, &pass, depth),
        };
        self.added += 1;
        self.open.push(Open { bound, depth, added: self.added, part, cut });
    }

    /// A part that can hold nothing better by more than what is agreed on still says how far the bound goes.
    fn drop_at(&mut self, bound: f64) {
        self.floor = self.floor.min(bound);
    }

    /// The bound by the ends that slopes lead to, and by the mean value form; a smooth part shrinks to those ends.
    fn along_slopes(&mut self, part: &mut Part, slopes: &[Interval], smooth: bool) -> f64 {
        let mut ends = part.clone();
        let mut settled = false;
        for (range, slope) in ends.ends.iter_mut().zip(slopes).filter(|(range, _)| !range.is_point()) {
            let Some(sign) = slope.sign() else { continue };
            // Where nothing depends on it, any place will do.
            *range = Interval::point(if sign > 0.0 { range.low } else { range.high });
            settled = true;
        }
        let mut bound = f64::NEG_INFINITY;
        if settled {
            let range = self.passes.range(&ends);
            if !range.is_none() {
                bound = self.side.turned(range).low;
            }
        }
        let over = &ends.ends;
        if over.iter().any(|range| !range.is_point())
            && slopes.iter().zip(over).all(|(s, r)| r.is_point() || s.is_finite())
        {
            let mut centre = ends.clone();
            centre.ends.iter_mut().for_each(|range| *range = Interval::point(middle(*range)));
            let at = self.side.turned(self.passes.range(&centre));
            if !at.is_none() && at.is_finite() {
                let there = over.iter().zip(&centre.ends).zip(slopes).filter(|((range, _), _)| !range.is_point());
                let form = there.fold(at, |sum, ((range, centre), slope)| sum.plus(range.minus(*centre).times(*slope)));
                // The plain numbers round by as much as the range of a single point is wide.
                bound = bound.max(form.low - at.width());
            }
        }
        if smooth {
            *part = ends;
        }
        bound
    }

    /// Tries the middle, and the corner that the slopes point to.
    fn try_points(&mut self, part: &Part, slopes: &[Interval]) {
        let centre: Vec<f64> = part.ends.iter().map(|range| middle(*range)).collect();
        let downhill = |(range, slope): (&Interval, &Interval)| {
            if slope.low + slope.high > 0.0 { range.low } else { range.high }
        };
        let corner: Vec<f64> = part.ends.iter().zip(slopes).map(downhill).collect();
        let points = [centre, corner];
        let values = self.passes.at(&points);
        for (value, point) in values.into_iter().zip(points) {
            let value = self.side.turned_value(value);
            // At a pole itself a zero has no side.
            if value < self.best && value.is_finite() {
                self.best = value;
                self.at = Some(point);
            }
        }
    }

    /// The source that brings the most: by its slope and its width, or by its width alone where a slope has no bound. What
    /// is merely taken of a comparison is settled in turn by the sources that it depends on, and a model of which nothing is
    /// known by those that come to it in two ways.
    fn cut(&self, part: &Part, slopes: &[Interval], pass: &Pass, depth: u32) -> Cut {
        let only_taken = &pass.only_taken;
        let concerns = |i: usize| only_taken.iter().any(|k| self.passes.concerns[*k][i]);
        let settles = !only_taken.is_empty() && depth % 2 == 1;
        let share = |i: usize| part.ends[i].width() / self.root[i].width();
        let mut best: Option<(bool, f64, usize)> = None;
        for (i, (ends, slope)) in part.ends.iter().zip(slopes).enumerate() {
            let middle = middle(*ends);
            if middle <= ends.low || middle >= ends.high {
                continue;
            }
            let endless = !slope.is_finite();
            let weight = match (settles, endless) {
                _ if pass.blind.is_some_and(|model| self.passes.is_entangled(model, i)) => (true, 1.0 + share(i)),
                (true, _) if concerns(i) => (true, share(i)),
                (true, _) => (false, 0.0),
                (_, true) => (true, share(i)),
                (_, false) => (false, slope.size() * ends.width()),
            };
            if best.is_none_or(|(endless, other, _)| weight > (endless, other)) {
                best = Some((weight.0, weight.1, i));
            }
        }
        best.map_or(Cut::None, |(.., i)| Cut::Source(i))
    }

    fn is_tiny(&self, part: &Part) -> bool {
        is_tiny(part, &self.root)
    }
}

fn is_tiny(part: &Part, root: &[Interval]) -> bool {
    part.ends.iter().zip(root).all(|(range, root)| range.width() <= TINY * root.width())
}

/// Between two ends; not an end itself where there is a number between them.
fn middle(range: Interval) -> f64 {
    (0.5 * range.low + 0.5 * range.high).clamp(range.low, range.high)
}

/// How a part is cut in two.
#[derive(Clone, Copy, Debug)]
enum Cut {
    Source(usize),
    /// Taken as true and as false.
    Comparison(usize),
    None,
}

/// A part that is not done with.
struct Open {
    bound: f64,
    depth: u32,
    added: usize,
    part: Part,
    cut: Cut,
}

/// The least bound first; among equals the deepest, and of those the latest.
impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_bound = other.bound.total_cmp(&self.bound);
        by_bound.then(self.depth.cmp(&other.depth)).then(self.added.cmp(&other.added))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Open {}
