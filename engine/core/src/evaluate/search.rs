//! The search for extremes where slopes change their sign: corners, the nominal point and an even scatter inside are
//! tried, and the best two are refined by steps along each source that halve where nothing better is found.

use std::{array, sync::LazyLock};

use super::{
    extremes::{Bench, Tolerances},
    interval::Interval,
    program::{Reg, Step},
};

/// Looks for the extremes of one register over corners and inside.
pub(super) struct Search<'a, 'b> {
    pub(super) tolerances: &'a Tolerances<'b>,
    pub(super) order: &'a [Reg],
    pub(super) target: Reg,
    /// Surely holds the target.
    pub(super) range: Interval,
    pub(super) bench: &'a mut Bench,
    /// Sources whose slope has no settled sign.
    pub(super) free: Vec<u32>,
    /// The steps of `order` that they move.
    pub(super) moved: Vec<Reg>,
    pub(super) least: bool,
}

/// Which extremes are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sought {
    Both,
    /// The least alone; the greatest is left undefined.
    Least,
}

impl Search<'_, '_> {
    /// Sources with more than this many free corners are tried at a choice of them.
    const ALL_CORNERS_UP_TO: usize = 8;
    /// Halvings of the step while nothing better is found: an extreme inside is then good to about 1e-12.
    const HALVINGS: u32 = 21;
    /// Halvings at a start that never moves.
    const HALVINGS_UNMOVED: u32 = 7;

    /// The least and the greatest value, each with the sources that give it.
    pub(super) fn run(&mut self, slopes: &[(u32, Interval)], sought: Sought) -> [(f64, Vec<f64>); 2] {
        self.free = slopes.iter().filter(|(_, slope)| slope.sign().is_none()).map(|(source, _)| *source).collect();
        self.moved = self.moved_by_free();
        let points = self.points();
        let mut values: Vec<f64> = Vec::new();
        [true, false].map(|least| {
            if !least && sought == Sought::Least {
                return (f64::NAN, Vec::new());
            }
            self.least = least;
            self.bench.sources.copy_from_slice(&self.tolerances.centre);
            for (source, slope) in slopes {
                let (low, high) = self.tolerances.ends[*source as usize];
                if let Some(sign) = slope.sign() {
                    self.bench.sources[*source as usize] = if (sign > 0.0) == least { low } else { high };
                }
            }
            // Where all sources are free, the greatest value is looked for at the same points as the least.
            if values.is_empty() || self.free.len() < slopes.len() {
                let bench = &mut *self.bench;
                self.tolerances.program.rerun(self.order, &bench.sources, &mut bench.regs, &mut bench.outputs);
                values = points.iter().map(|point| self.value_at(point)).collect();
            }
            self.best_of(&points, &values)
        })
    }

    /// The best value that is reached from the two best of some points, and the sources that give it.
    fn best_of(&mut self, points: &[Vec<f64>], values: &[f64]) -> (f64, Vec<f64>) {
        let mut starts: Vec<(f64, &Vec<f64>)> = Vec::new();
        for (point, value) in points.iter().zip(values).filter(|(_, value)| !value.is_nan()) {
            let score = self.score(*value);
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
        let Some((score, point)) = best else { return (f64::NAN, self.bench.sources.clone()) };
        self.place(&point);
        (self.score(score), self.bench.sources.clone())
    }

    /// Points of the unit box of free sources: corners, the middle, and an even scatter inside (Halton's sequence).
    fn points(&self) -> Vec<Vec<f64>> {
        let n = self.free.len();
        let mut points = vec![self.free.iter().map(|source| self.share(*source)).collect::<Vec<f64>>()];
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

    fn place(&mut self, point: &[f64]) {
        for (source, share) in self.free.iter().zip(point) {
            let (low, high) = self.tolerances.ends[*source as usize];
            self.bench.sources[*source as usize] = if *share == 1.0 { high } else { low + (high - low) * share };
        }
    }

    fn moved_by_free(&self) -> Vec<Reg> {
        let program = self.tolerances.program;
        let mut moved: Vec<Reg> = Vec::with_capacity(self.order.len());
        for reg in self.order {
            let mut moves = matches!(program.steps[*reg as usize], Step::Source(source) if self.free.contains(&source));
            program.inputs(*reg, |input| moves |= moved.binary_search(&input).is_ok());
            if moves {
                moved.push(*reg);
            }
        }
        moved
    }

    /// The target at a point; undefined at a pole itself, where a zero has no side.
    fn value_at(&mut self, point: &[f64]) -> f64 {
        self.place(point);
        let bench = &mut *self.bench;
        self.tolerances.program.rerun(&self.moved, &bench.sources, &mut bench.regs, &mut bench.outputs);
        let value = bench.regs[self.target as usize];
        if value.is_infinite() && (value < self.range.low || value > self.range.high) { f64::NAN } else { value }
    }

    /// A value turned so that less is better; and back.
    fn score(&self, value: f64) -> f64 {
        if self.least { value } else { -value }
    }

    /// Steps along each source while that is better, then halves the step.
    fn refined(&mut self, mut score: f64, mut point: Vec<f64>) -> (f64, Vec<f64>) {
        let mut step = 0.25;
        let mut moved = false;
        for halving in 0..Self::HALVINGS {
            if !moved && halving >= Self::HALVINGS_UNMOVED {
                break;
            }
            let mut better = true;
            while better {
                better = false;
                for i in 0..point.len() {
                    for direction in [-step, step] {
                        let before = point[i];
                        point[i] = (before + direction).clamp(0.0, 1.0);
                        if point[i] == before {
                            continue;
                        }
                        let value = self.value_at(&point);
                        let found = self.score(value);
                        if found < score {
                            score = found;
                            better = true;
                            moved = true;
                        } else {
                            point[i] = before;
                        }
                    }
                }
            }
            step /= 2.0;
        }
        (score, point)
    }
}

/// Points tried inside.
const INSIDE: usize = 32;
/// Sources that have a coordinate of their own in the scatter.
const COORDINATES: usize = 12;

/// A coordinate of one of the points of an even scatter inside the unit box.
pub(super) fn scattered(point: usize, coordinate: usize) -> f64 {
    SCATTER[point][coordinate % COORDINATES]
}

static SCATTER: LazyLock<[[f64; COORDINATES]; INSIDE]> = LazyLock::new(|| {
    const PRIMES: [u32; COORDINATES] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37];
    array::from_fn(|point| PRIMES.map(|prime| halton(point as u32 + 1, prime)))
});

fn halton(mut index: u32, base: u32) -> f64 {
    let (mut result, mut fraction) = (0.0, 1.0);
    while index > 0 {
        fraction /= f64::from(base);
        result += fraction * f64::from(index % base);
        index /= base;
    }
    result
}
