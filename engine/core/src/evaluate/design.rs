//! Design help: the value of a given that makes two values alike (bracketing on a grid, then bisection), and the preferred
//! values of several givens that bring a value nearest to a target (all combinations, tried). Both are decisions: made
//! once, at the nominal values of everything else, and held in every build.

use std::sync::OnceLock;

use super::{
    preferred::Series,
    program::{Program, Reg, WIDEST},
};

/// A search in a program.
#[derive(Clone, Debug)]
pub struct Search {
    /// The registers that are moved: the givens.
    pub(crate) moved: Vec<Reg>,
    /// For a root: one side less the other. For a choice: the value that is to come near.
    pub(crate) watched: Reg,
    /// The steps from the moved registers to the watched one, in order.
    pub(crate) order: Vec<Reg>,
    /// Registers of the ends of the span, if one is stated.
    pub(crate) span: Option<(Reg, Reg)>,
    /// What is sought.
    pub(crate) kind: Kind,
    /// What was found; a search is made once.
    pub(crate) found: OnceLock<Found>,
}

/// What a search is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Kind {
    /// Where the watched register is zero.
    Root,
    /// Where it is nearest to the target's register, among the values of a series.
    Nearest(Series, Reg),
}

/// What a search came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Found {
    /// The roots, rising; or the best combinations, the best first.
    pub(crate) points: Vec<Vec<f64>>,
    /// The watched register at each.
    pub(crate) values: Vec<f64>,
    /// For a root: least and greatest of the watched register over the span.
    pub(crate) reached: Option<(f64, f64)>,
    /// Where the search looked.
    pub(crate) span: (f64, f64),
    /// For a choice: how many combinations there are.
    pub(crate) combinations: usize,
}

/// Points of the grid that roots are bracketed on. Two roots nearer than its steps may be missed.
const GRID: usize = 400;
/// Combinations listed.
const LISTED: usize = 5;
/// Most combinations tried: some tenths of a second.
pub(crate) const MOST: usize = 400_000;

impl Search {
    /// Part of the one point that is found; undefined where none is, or several roots are.
    pub(crate) fn find(&self, program: &Program, regs: &[f64], outputs: &[[f64; WIDEST]], part: u32) -> f64 {
        let found = self.found.get_or_init(|| self.look(program, regs, outputs));
        match (self.kind, found.points.as_slice()) {
            (Kind::Root, [only]) => only[0],
            (Kind::Nearest(..), [best, ..]) => best.get(part as usize).copied().unwrap_or(f64::NAN),
            _ => f64::NAN,
        }
    }

    fn look(&self, program: &Program, regs: &[f64], outputs: &[[f64; WIDEST]]) -> Found {
        let mut trial = Trial { search: self, program, regs: regs.to_vec(), outputs: outputs.to_vec() };
        // Registers behind this step have not run yet; the search needs none of them.
        trial.regs.resize(program.steps.len(), 0.0);
        match self.kind {
            Kind::Root => trial.roots(),
            Kind::Nearest(series, target) => trial.nearest(series, regs[target as usize]),
        }
    }
}

struct Trial<'a> {
    search: &'a Search,
    program: &'a Program,
    regs: Vec<f64>,
    outputs: Vec<[f64; WIDEST]>,
}

impl Trial<'_> {
    /// The watched register with the moved ones at other values.
    fn at(&mut self, point: &[f64]) -> f64 {
        for (reg, value) in self.search.moved.iter().zip(point) {
            self.regs[*reg as usize] = *value;
        }
        // The order holds no source: those that are not moved stand.
        self.program.rerun(&self.search.order, &[], &mut self.regs, &mut self.outputs);
        self.regs[self.search.watched as usize]
    }

    fn ends(&self) -> Option<(f64, f64)> {
        let (from, to) = self.search.span?;
        let (from, to) = (self.regs[from as usize], self.regs[to as usize]);
        (from.is_finite() && to.is_finite()).then(|| (from.min(to), from.max(to)))
    }

    fn roots(mut self) -> Found {
        let Some((low, high)) = self.ends().filter(|(low, high)| low < high) else { return Found::default() };
        let by_ratio = low > 0.0 && high / low > 5.0;
        let grid = |i: usize| {
            let share = i as f64 / GRID as f64;
            match i {
                0 => low,
                GRID => high,
                _ if by_ratio => low * libm::pow(high / low, share),
                _ => low + (high - low) * share,
            }
        };
        let mut found = Found { span: (low, high), ..Found::default() };
        let mut before: Option<(f64, f64)> = None;
        for i in 0..=GRID {
            let x = grid(i);
            let y = self.at(&[x]);
            if !y.is_finite() {
                before = None;
                continue;
            }
            let reached = found.reached.get_or_insert((y, y));
            *reached = (reached.0.min(y), reached.1.max(y));
            if y == 0.0 {
                found.points.push(vec![x]);
            } else if let Some((left, at_left)) = before.filter(|(_, at_left)| at_left * y < 0.0) {
                found.points.extend(self.bisected((left, at_left), (x, y)).map(|root| vec![root]));
            }
            before = (y != 0.0).then_some((x, y));
        }
        found.values = vec![0.0; found.points.len()];
        found
    }

    /// The root in a bracket, to the last bit; none where the sign changes at a pole or a jump.
    fn bisected(&mut self, left: (f64, f64), right: (f64, f64)) -> Option<f64> {
        let (mut low, mut high) = (left.0, right.0);
        let rises = right.1 > left.1;
        let mut nearest = (left.1.abs().min(right.1.abs()), low);
        for _ in 0..200 {
            let middle = low + 0.5 * (high - low);
            if middle <= low || middle >= high {
                break;
            }
            let y = self.at(&[middle]);
            if y.abs() < nearest.0 {
                nearest = (y.abs(), middle);
            }
            if y == 0.0 {
                return Some(middle);
            }
            if (y > 0.0) == rises {
                high = middle;
            } else {
                low = middle;
            }
        }
        // At a root the value falls to rounding; at a pole or a jump it stays or grows.
        let small = 1e-9 * left.1.abs().max(right.1.abs());
        (nearest.0 <= small).then_some(nearest.1)
    }

    fn nearest(mut self, series: Series, target: f64) -> Found {
        let span = self.ends();
        let candidates: Vec<Vec<f64>> = self
            .search
            .moved
            .iter()
            .map(|reg| {
                let present = self.regs[*reg as usize];
                let (low, high) = span.unwrap_or((present / 10.0, present * 10.0));
                series.between(low, high)
            })
            .collect();
        let combinations: usize = candidates.iter().map(Vec::len).fold(1, usize::saturating_mul);
        if combinations == 0 || combinations > MOST || !target.is_finite() {
            return Found { combinations, ..Found::default() };
        }
        let present: Vec<f64> = self.search.moved.iter().map(|reg| self.regs[*reg as usize]).collect();
        let mut best: Vec<(f64, f64, Vec<f64>, f64)> = Vec::new();
        for index in 0..combinations {
            let mut rest = index;
            let point: Vec<f64> = candidates
                .iter()
                .map(|values| {
                    let value = values[rest % values.len()];
                    rest /= values.len();
                    value
                })
                .collect();
            let y = self.at(&point);
            let off = (y - target).abs();
            if off.is_nan() {
                continue;
            }
            // Of two as good, the one nearer to the parts at hand.
            let moved = point.iter().zip(&present).map(|(x, p)| libm::fabs(libm::log(x / p))).sum::<f64>();
            // Differences of rounding do not rank.
            let off = if off <= 1e-12 * target.abs() { 0.0 } else { off };
            let rank = best.partition_point(|(other, distance, ..)| (*other, *distance) <= (off, moved));
            if rank < LISTED {
                best.insert(rank, (off, moved, point, y));
                best.truncate(LISTED);
            }
        }
        let values = best.iter().map(|(.., y)| *y).collect();
        let points = best.into_iter().map(|(_, _, point, _)| point).collect();
        Found { points, values, reached: None, span: span.unwrap_or_default(), combinations }
    }
}
