//! The search for extremes where slopes change their sign: corners, the nominal point and an even scatter inside are
//! tried, and the best two are refined by steps along each source that halve where nothing better is found. What is tried
//! next as long as nothing better is found is evaluated lanes.

mod deep;

use std::{array, mem, sync::LazyLock};

use super::super::{columns::Plan, draws::Copula, tolerances::Tolerances};
use crate::{
    handbook::LANES,
    program::{Interval, Reg},
};

/// Looks for the extremes of one register over corners and inside.
pub(super) struct ExtremeSearch<'a> {
    tolerances: &'a Tolerances<'a>,
    plan: Plan<'a>,
    /// The plan's columns, of the points that are tried at once.
    columns: Vec<[f64; LANES]>,
    at_once: usize,
    /// The target's column.
    target: usize,
    /// Surely holds the target.
    range: Interval,
    slopes: &'a [(u32, Interval)],
    /// Sources whose slope has no settled sign, each with its column.
    free: Vec<(u32, usize)>,
    /// The steps that they move.
    moved: Vec<usize>,
    /// All sources; those that are not free stand where the present end wants them.
    sources: Vec<f64>,
    /// Times that a walk evaluates what lies ahead of it.
    most_rounds: u32,
    /// What turns a value so that less is better: 1 while the least is looked for, then -1.
    turn: f64,
}

/// Which extremes are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sought {
    Both,
    /// The least alone; the greatest is left undefined.
    Least,
    /// Both, with proof that nothing goes beyond.
    Proof,
}

impl<'a> ExtremeSearch<'a> {
    /// Sources with more than this many free corners are tried at a choice of them.
    const ALL_CORNERS_UP_TO: usize = 8;

    /// A search over the steps of `order`, which hold all that moves the target; `None` where nothing does.
    pub(super) fn new(
        tolerances: &'a Tolerances<'a>,
        order: &[Reg],
        target: Reg,
        range: Interval,
        slopes: &'a [(u32, Interval)],
        copula: &'a Copula,
        most_rounds: u32,
    ) -> Option<Self> {
        let plan = Plan::along(tolerances, order, copula, 0);
        let target = plan.slot(target)?;
        let column = |source: u32| Some((source, plan.draws.iter().find(|draw| draw.1 == source)?.2));
        let unsettled = slopes.iter().filter(|(_, slope)| slope.sign().is_none());
        let free: Vec<(u32, usize)> = unsettled.filter_map(|(source, _)| column(*source)).collect();
        let moved = plan.following(free.iter().map(|(_, column)| *column)).steps;
        let mut columns = vec![[0.0; LANES]; plan.columns];
        plan.fixed.iter().for_each(|(column, value)| columns[*column].fill(*value));
        // What a Rust block or a system would do in vain takes long.
        let at_once = if plan.is_costly() { 1 } else { LANES };
        let sources = tolerances.centre.clone();
        Some(Self {
            tolerances,
            plan,
            columns,
            at_once,
            target,
            range,
            slopes,
            free,
            moved,
            sources,
            most_rounds,
            turn: 1.0,
        })
    }

    /// The least and the greatest value, each with the sources that give it.
    pub(super) fn run(mut self, sought: Sought) -> [(f64, Vec<f64>); 2] {
        let points = self.points();
        let mut values: Vec<f64> = Vec::new();
        [true, false].map(|least| {
            if !least && sought == Sought::Least {
                return (f64::NAN, Vec::new());
            }
            self.turn = if least { 1.0 } else { -1.0 };
            self.sources.copy_from_slice(&self.tolerances.centre);
            for (source, slope) in self.slopes {
                let (low, high) = self.tolerances.ends[*source as usize];
                if let Some(sign) = slope.sign() {
                    self.sources[*source as usize] = if (sign > 0.0) == least { low } else { high };
                }
            }
            // Where all sources are free, the greatest value is looked for at the same points as the least.
            if values.is_empty() || self.free.len() < self.slopes.len() {
                self.settle();
                values = self.values_at(&points);
            }
            self.best_of(&points, &values)
        })
    }

    /// The least or greatest value that is reached from a point, and the sources that give it.
    pub(super) fn from(mut self, at: &[f64], least: bool) -> (f64, Vec<f64>) {
        self.turn = if least { 1.0 } else { -1.0 };
        self.sources.copy_from_slice(at);
        let points = [self.shares_of(at)];
        self.settle();
        let values = self.values_at(&points);
        self.best_of(&points, &values)
    }

    /// Where the free sources of a setting stand between their ends.
    fn shares_of(&self, setting: &[f64]) -> Vec<f64> {
        let share = |(source, _): &(u32, usize)| {
            let (low, high) = self.tolerances.ends[*source as usize];
            ((setting[*source as usize] - low) / (high - low)).clamp(0.0, 1.0)
        };
        self.free.iter().map(share).collect()
    }

    /// The best value that is reached from the two best of some points, and the sources that give it.
    fn best_of(&mut self, points: &[Vec<f64>], values: &[f64]) -> (f64, Vec<f64>) {
        let mut starts: Vec<(f64, &Vec<f64>)> = Vec::new();
        for (point, value) in points.iter().zip(values).filter(|(_, value)| !value.is_nan()) {
            let score = self.turn * value;
            let at = starts.partition_point(|(other, _)| *other <= score);
            if at < 2 {
                starts.insert(at, (score, point));
                starts.truncate(2);
            }
        }
        let mut best: Option<(f64, Vec<f64>)> = None;
        for (score, point) in starts {
            let refined = self.refined(score, point.clone());
            if best.as_ref().is_none_or(|best| refined.0 < best.0) {
                best = Some(refined);
            }
        }
        let mut sources = self.sources.clone();
        let Some((score, point)) = best else { return (f64::NAN, sources) };
        for ((source, _), share) in self.free.iter().zip(point) {
            sources[*source as usize] = self.at_share(*source, share);
        }
        (self.turn * score, sources)
    }

    /// Points of the unit box of free sources: corners, the middle, and an even scatter inside (Halton's sequence).
    fn points(&self) -> Vec<Vec<f64>> {
        let n = self.free.len();
        let mut points = vec![self.free.iter().map(|(source, _)| self.share(*source)).collect::<Vec<f64>>()];
        if n == 0 {
            return points;
        }
        let corners = 1usize << n.min(Self::ALL_CORNERS_UP_TO);
        for corner in 0..corners {
            // Beyond all corners, the bits repeat in a shifted order, so that every source is seen at both ends.
            let bit = |i: usize| (corner >> (i % Self::ALL_CORNERS_UP_TO)) ^ (i / Self::ALL_CORNERS_UP_TO);
            points.push((0..n).map(|i| (bit(i) & 1) as f64).collect());
        }
        for k in 0..INSIDE {
            points.push((0..n).map(|i| scattered(k, i)).collect());
        }
        points
    }

    /// Where the nominal value of a source stands between its ends.
    fn share(&self, source: u32) -> f64 {
        let (low, high) = self.tolerances.ends[source as usize];
        (self.tolerances.centre[source as usize] - low) / (high - low)
    }

    /// The value of a source so far between its ends.
    fn at_share(&self, source: u32, share: f64) -> f64 {
        let (low, high) = self.tolerances.ends[source as usize];
        if share == 1.0 { high } else { low + (high - low) * share }
    }

    /// Runs all steps with the sources where they stand.
    fn settle(&mut self) {
        for (_, source, column) in &self.plan.draws {
            self.columns[*column].fill(self.sources[*source as usize]);
        }
        for (step, column) in &self.plan.steps {
            self.plan.step(*step, *column, &mut self.columns, self.at_once);
        }
    }

    /// The target at some points.
    fn values_at(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        let mut values = Vec::with_capacity(points.len());
        for points in points.chunks(self.at_once) {
            for (i, (source, column)) in self.free.iter().enumerate() {
                for (lane, point) in points.iter().enumerate() {
                    self.columns[*column][lane] = self.at_share(*source, point[i]);
                }
            }
            values.extend(self.follow(points.len()));
        }
        values
    }

    /// The target where the free sources stand now in the first `count` places; undefined at a pole itself, where a zero
    /// has no side.
    fn follow(&mut self, count: usize) -> impl Iterator<Item = f64> {
        for i in &self.moved {
            let (step, column) = self.plan.steps[*i];
            self.plan.step(step, column, &mut self.columns, count);
        }
        let Interval { low, high } = self.range;
        let at_pole = move |value: f64| value.is_infinite() && (value < low || value > high);
        self.columns[self.target][..count].iter().map(move |value| if at_pole(*value) { f64::NAN } else { *value })
    }

    /// Walks from a point to a better one as long as there is one, though not for ever: towards a pole, or along a valley
    /// askew of the sources, each small step may be better than the one before.
    fn refined(&mut self, mut score: f64, mut point: Vec<f64>) -> (f64, Vec<f64>) {
        let mut walk = Walk { step: 0.25, halvings: 0, next: 0, better: false, moved: false };
        let mut trials: Vec<(usize, f64, Walk)> = Vec::with_capacity(self.at_once);
        for _ in 0..self.most_rounds {
            // What is tried while nothing better is found.
            trials.clear();
            let mut ahead = walk;
            while let Some((i, share)) = (trials.len() < self.at_once).then(|| ahead.trial(&point)).flatten() {
                trials.push((i, share, ahead));
            }
            if trials.is_empty() {
                return (score, point);
            }
            for ((source, column), share) in self.free.iter().zip(&point) {
                let value = self.at_share(*source, *share);
                self.columns[*column][..trials.len()].fill(value);
            }
            for (lane, (i, share, _)) in trials.iter().enumerate() {
                let (source, column) = self.free[*i];
                self.columns[column][lane] = self.at_share(source, *share);
            }
            let turn = self.turn;
            let mut found = self.follow(trials.len()).map(|value| turn * value).enumerate();
            walk = match found.find(|(_, found)| *found < score) {
                Some((lane, found)) => {
                    let (i, share, after) = trials[lane];
                    (score, point[i]) = (found, share);
                    Walk { better: true, moved: true, ..after }
                }
                None => ahead,
            };
        }
        (score, point)
    }
}

/// Steps along each source, this way and that; where none of a round was better they halve.
#[derive(Clone, Copy)]
struct Walk {
    step: f64,
    halvings: u32,
    /// Which step of a round is next.
    next: usize,
    /// Whether one of this round was better, and whether one ever was.
    better: bool,
    moved: bool,
}

impl Walk {
    /// Halvings until an extreme inside is good to about 1e-12.
    const HALVINGS: u32 = 21;
    /// Halvings at a start that never moves.
    const HALVINGS_UNMOVED: u32 = 7;

    /// The next step that leads anywhere: of which source, and to where. None where all is done.
    fn trial(&mut self, point: &[f64]) -> Option<(usize, f64)> {
        loop {
            if self.next == 2 * point.len() {
                self.next = 0;
                if !mem::take(&mut self.better) {
                    self.halvings += 1;
                    self.step /= 2.0;
                }
            }
            if self.halvings >= if self.moved { Self::HALVINGS } else { Self::HALVINGS_UNMOVED } {
                return None;
            }
            let (i, direction) = (self.next / 2, if self.next.is_multiple_of(2) { -self.step } else { self.step });
            self.next += 1;
            // A point without free sources has no way to go.
            let before = *point.get(i)?;
            let share = (before + direction).clamp(0.0, 1.0);
            if share != before {
                return Some((i, share));
            }
        }
    }
}

/// Times that a walk evaluates what lies ahead of it. Those of the demonstration worksheets take some hundred.
pub(super) const MOST_ROUNDS: u32 = 10_000;
/// Points tried inside.
pub(super) const INSIDE: usize = 32;
/// Sources that have a coordinate of their own in the scatter.
const COORDINATES: usize = 12;
/// Bases of the scatter.
const PRIMES: [u32; COORDINATES] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37];

/// A coordinate of one of the points of an even scatter inside the unit box.
pub(super) fn scattered(point: usize, coordinate: usize) -> f64 {
    SCATTER[point][coordinate % COORDINATES]
}

static SCATTER: LazyLock<[[f64; COORDINATES]; INSIDE]> =
    LazyLock::new(|| array::from_fn(|point| PRIMES.map(|prime| halton(point as u32 + 1, prime))));

fn halton(mut index: u32, base: u32) -> f64 {
    let (mut result, mut fraction) = (0.0, 1.0);
    while index > 0 {
        fraction /= f64::from(base);
        result += fraction * f64::from(index % base);
        index /= base;
    }
    result
}
