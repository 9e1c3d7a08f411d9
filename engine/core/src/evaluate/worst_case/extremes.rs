//! The worst case: the true extremes of a value over the box of tolerances, and the combination of part values that gives
//! each. Where the slopes keep their signs over the whole box the extremes stand at proven corners; elsewhere all corners
//! and points inside are tried, and the best are refined. What is reported is always a value of the formula at a point of
//! the box, so it is never an over-estimate.

use std::{borrow::Cow, collections::HashMap};

use super::{
    super::{draws::Copula, tolerances::Tolerances},
    effort::Task,
    enclosure::{Enclosure, Enclosures, enclose},
    prove::{self, Gap, Lack, Passes, Side, gap, prove},
    search::{ExtremeSearch, MOST_ROUNDS, Sought},
};
use crate::{
    parallel,
    program::{Interval, Reg, Step, Unary, branch_of_tangent},
    results::{Certainty, End},
};

/// The extremes of one register.
#[derive(Clone, Debug)]
pub(crate) struct Extremes {
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Settings of the sources at each extreme.
    pub(crate) low_at: Vec<(u32, f64, End)>,
    pub(crate) high_at: Vec<(u32, f64, End)>,
    pub(crate) certainty: Certainty,
    /// Surely holds all values; endless where nothing is known.
    pub(crate) enclosure: (f64, f64),
    /// The step that has no bound over the box, or no value.
    pub(crate) unbounded: Option<Reg>,
    /// Whether what that step has not is a quotient of zeros.
    pub(crate) zero_by_zero: bool,
    /// The source that can move it the furthest, by its steepest slope; absent where a slope is not known.
    pub(crate) heaviest: Option<u32>,
}

impl Extremes {
    /// What the least surely is not below: itself, where the enclosure agrees with it.
    pub(crate) fn surely_least(&self) -> f64 {
        if self.agree(self.enclosure.0, self.low) { self.low } else { self.enclosure.0 }
    }

    /// What the greatest surely is not above.
    pub(crate) fn surely_greatest(&self) -> f64 {
        if self.agree(self.high, self.enclosure.1) { self.high } else { self.enclosure.1 }
    }

    fn agree(&self, below: f64, above: f64) -> bool {
        let sizes = [self.low, self.high].into_iter().filter(|x| x.is_finite());
        above - below <= prove::AGREE * sizes.fold(0.0, |size: f64, x| size.max(x.abs()))
    }
}

impl Tolerances<'_> {
    /// The extremes of each target; `None` where it does not vary. `order` holds all steps that the targets need.
    pub(crate) fn extremes(&self, targets: &[Reg], order: &[Reg]) -> Vec<Option<Extremes>> {
        self.extremes_beside(targets, order, &|_| Sought::Both, &mut HashMap::new())
    }

    /// The same, and of some targets proven where that can be.
    pub(crate) fn proven_extremes(
        &self,
        targets: &[Reg],
        order: &[Reg],
        is_proven: impl Fn(Reg) -> bool + Sync,
    ) -> Vec<Option<Extremes>> {
        let sought = |target| if is_proven(target) { Sought::Proof } else { Sought::Both };
        self.extremes_beside(targets, order, &sought, &mut HashMap::new())
    }

    /// The extremes of one target, of which the greatest may be left undefined.
    pub(crate) fn least(&self, target: Reg, order: &[Reg]) -> Option<Extremes> {
        self.extremes_beside(&[target], order, &|_| Sought::Least, &mut HashMap::new()).pop().flatten()
    }

    /// The same, where it is known of some steps whether they reach their poles.
    fn extremes_beside(
        &self,
        targets: &[Reg],
        order: &[Reg],
        sought: &(dyn Fn(Reg) -> Sought + Sync),
        reached: &mut Reached,
    ) -> Vec<Option<Extremes>> {
        let known = enclose((self.program, self.state), &self.ends, &self.nominal, order, self.pinned);
        let varying: Vec<Reg> = order.iter().copied().filter(|reg| known.varying(*reg).is_some()).collect();
        let mut results: Vec<Option<Extremes>> = vec![None; targets.len()];
        let (mut proven, mut open) = (Vec::new(), Vec::new());
        for (i, target) in targets.iter().enumerate() {
            let Some(enclosure) = known.varying(*target) else { continue };
            let signs: Option<Vec<(u32, f64)>> =
                enclosure.slopes.iter().map(|(source, slope)| Some((*source, slope.sign()?))).collect();
            match signs {
                Some(signs) if enclosure.poles.is_empty() => proven.push((i, signs)),
                _ => open.push((i, enclosure)),
            }
        }
        let (tasks, beyond) = self.within_reach(open, targets, &known, sought);
        if parallel::threads() > 1 && tasks.len() > 1 {
            let found = parallel::each(tasks, |task| (task.at, self.searched(&task, &mut reached.clone())));
            found.into_iter().for_each(|(at, found)| results[at] = Some(found));
        } else {
            tasks.iter().for_each(|task| results[task.at] = Some(self.searched(task, reached)));
        }
        self.scattered(&beyond, targets, &varying, &mut results);
        self.at_corners(targets, &proven, &known, &varying, &mut results);
        let (mut doubtful, mut open) = (Vec::new(), Vec::new());
        for (i, _) in &proven {
            let Some(enclosure) = known.of(targets[*i]).filter(|known| known.sampled) else { continue };
            let nominal = self.nominal[targets[*i] as usize];
            // Signs seen at sample points alone are no proof; a nominal value outside disproves them.
            match &mut results[*i] {
                Some(found) if found.low <= nominal && nominal <= found.high => {
                    found.certainty = Certainty::Searched;
                    found.enclosure = UNKNOWN;
                    if sought(targets[*i]) == Sought::Proof {
                        doubtful.push((*i, enclosure));
                    }
                }
                _ => open.push((*i, enclosure)),
            }
        }
        let (tasks, _) = self.within_reach(doubtful, targets, &known, sought);
        let enclosed = parallel::each(tasks, |task| {
            let mut found = results[task.at].clone();
            found.iter_mut().for_each(|found| self.prove(&task, found));
            (task.at, found)
        });
        enclosed.into_iter().for_each(|(at, found)| results[at] = found);
        let (tasks, beyond) = self.within_reach(open, targets, &known, sought);
        tasks.iter().for_each(|task| results[task.at] = Some(self.searched(task, reached)));
        self.scattered(&beyond, targets, &varying, &mut results);
        results
    }

    /// The source that can lower a register the furthest.
    fn heaviest(&self, enclosure: &Enclosure) -> Option<u32> {
        let mut heaviest: Option<(f64, u32)> = None;
        for (source, slope) in &enclosure.slopes {
            let ((low, high), centre) = (self.ends[*source as usize], self.centre[*source as usize]);
            let weight = (slope.high.max(0.0) * (centre - low)).max((-slope.low).max(0.0) * (high - centre));
            if !weight.is_finite() {
                return None;
            }
            if heaviest.is_none_or(|(other, _)| weight > other) {
                heaviest = Some((weight, *source));
            }
        }
        heaviest.map(|(_, source)| source)
    }

    /// Proven corners. Targets whose corners agree share a run, so that a long worksheet needs few.
    fn at_corners(
        &self,
        targets: &[Reg],
        proven: &[(usize, Vec<(u32, f64)>)],
        known: &Enclosures<'_>,
        varying: &[Reg],
        results: &mut [Option<Extremes>],
    ) {
        /// How many open runs a corner is compared with.
        const OPEN_RUNS: usize = 24;
        struct Run {
            corner: Vec<i8>,
            readers: Vec<(usize, bool)>,
        }
        let mut runs: Vec<Run> = Vec::new();
        for (which, (_, signs)) in proven.iter().enumerate() {
            for high in [false, true] {
                let side = |sign: f64| if (sign > 0.0) == high { 1 } else { -1 };
                let fits = |run: &Run| {
                    signs.iter().all(|(source, sign)| matches!(run.corner[*source as usize] * side(*sign), 0 | 1))
                };
                let newest = runs.len().saturating_sub(OPEN_RUNS);
                let at = runs[newest..].iter().position(fits).map_or(runs.len(), |at| at + newest);
                if at == runs.len() {
                    runs.push(Run { corner: vec![0; self.ends.len()], readers: Vec::new() });
                }
                for (source, sign) in signs {
                    runs[at].corner[*source as usize] = side(*sign);
                }
                runs[at].readers.push((which, high));
            }
        }
        let mut scratch = self.scratch();
        for run in runs {
            for (source, side) in run.corner.iter().enumerate() {
                scratch.sources[source] = match side {
                    -1 => self.ends[source].0,
                    1 => self.ends[source].1,
                    _ => self.centre[source],
                };
            }
            self.program.rerun(self.state, varying, &scratch.sources, &mut scratch.regs, &mut scratch.outputs);
            for (which, high) in run.readers {
                let (i, signs) = &proven[which];
                let value = scratch.regs[targets[*i] as usize];
                let at = self.settings(signs.iter().map(|(source, _)| *source), &scratch.sources);
                let entry = results[*i].get_or_insert_with(|| Extremes {
                    low: value,
                    high: value,
                    low_at: Vec::new(),
                    high_at: Vec::new(),
                    certainty: Certainty::Proven,
                    enclosure: (value, value),
                    unbounded: None,
                    zero_by_zero: false,
                    heaviest: known.of(targets[*i]).and_then(|enclosure| self.heaviest(enclosure)),
                });
                if high {
                    (entry.high, entry.high_at) = (value, at);
                } else {
                    (entry.low, entry.low_at) = (value, at);
                }
                entry.enclosure = (entry.low, entry.high);
            }
        }
    }

    pub(super) fn settings(&self, sources: impl Iterator<Item = u32>, values: &[f64]) -> Vec<(u32, f64, End)> {
        sources
            .map(|source| {
                let (value, (low, high)) = (values[source as usize], self.ends[source as usize]);
                let end = if value == low {
                    End::Low
                } else if value == high {
                    End::High
                } else {
                    End::Inside
                };
                (source, value, end)
            })
            .collect()
    }

    fn searched(&self, task: &Task<'_>, reached: &mut Reached) -> Extremes {
        let Task { target, enclosure, ref order, sought, effort, .. } = *task;
        let gap = self.gap(target, order, enclosure, reached);
        let unbounded = gap.map(|gap| gap.step);
        let mut slopes = Cow::Borrowed(&enclosure.slopes);
        if unbounded.is_some() {
            // A slope says nothing of what lies beyond a pole, and an end may have no value: all sources are free.
            slopes.to_mut().iter_mut().for_each(|(_, slope)| *slope = Interval::ALL);
        }
        let range = enclosure.range;
        let copula = Copula::default();
        let search = ExtremeSearch::new(self, order, target, range, &slopes, &copula, effort.rounds);
        let fixed = || (self.nominal[target as usize], self.centre.clone());
        let [least, greatest] = search.map_or_else(|| [fixed(), fixed()], |search| search.run(sought));
        let (low, low_at) = self.at_zero(target, enclosure, least, Side::Least);
        let (high, high_at) = self.at_zero(target, enclosure, greatest, Side::Greatest);
        let sources = enclosure.slopes.iter().map(|(source, _)| *source);
        let low_at = self.settings(sources.clone(), &low_at);
        let high_at = if high_at.is_empty() { Vec::new() } else { self.settings(sources, &high_at) };
        let (low, high) = if gap.is_some_and(|gap| gap.kind == Lack::Endless) {
            // A side that surely has a bound keeps what was found.
            (
                if range.low.is_finite() && !low.is_nan() { low } else { f64::NEG_INFINITY },
                if range.high.is_finite() && !high.is_nan() { high } else { f64::INFINITY },
            )
        } else {
            snapped(low, high)
        };
        let zero_by_zero = gap.is_some_and(|gap| gap.kind == Lack::ZeroByZero);
        let mut result = Extremes {
            low,
            high,
            low_at,
            high_at,
            certainty: Certainty::Searched,
            enclosure: UNKNOWN,
            unbounded,
            zero_by_zero,
            heaviest: self.heaviest(enclosure),
        };
        if sought == Sought::Proof {
            self.prove(task, &mut result);
        }
        result
    }

    /// The steps that move a target.
    pub(super) fn moving(&self, target: Reg, known: &Enclosures<'_>) -> Vec<Reg> {
        self.varying_steps(&[target]).into_iter().filter(|reg| known.varying(*reg).is_some()).collect()
    }

    /// Encloses a range that was found by search; what the proof finds beyond it is taken in.
    fn prove(&self, task: &Task<'_>, found: &mut Extremes) {
        let Task { target, enclosure, ref order, effort, .. } = *task;
        let copula = Copula::default();
        // Of a Rust block or a system nothing is known but what it gives at a point: there is nothing to prove it with.
        if order.iter().any(|reg| self.program.costly_call(*reg).is_some()) {
            return;
        }
        let Some(mut passes) = Passes::new(self, order, target, &copula) else { return };
        let whole = passes.whole(self);
        let finite = |x: f64| if x.is_finite() { x.abs() } else { 0.0 };
        let size = finite(found.low).max(finite(found.high));
        let mut proven = true;
        for side in [Side::Least, Side::Greatest] {
            let (value, at) = match side {
                Side::Least => (&mut found.low, &mut found.low_at),
                Side::Greatest => (&mut found.high, &mut found.high_at),
            };
            let known = prove(&mut passes, &whole, side, (*value, size), effort.parts);
            proven &= known.proven;
            if value.is_infinite() && known.bound.is_finite() {
                // Near a pole, but not on this side.
                *value = known.value;
            }
            if let (Some(point), false) = (&known.at, value.is_infinite()) {
                let mut sources = self.centre.clone();
                for ((source, _), x) in passes.sources.iter().zip(point) {
                    sources[*source as usize] = *x;
                }
                let mut best = (known.value, sources);
                if !known.proven {
                    let all: Vec<(u32, Interval)> = enclosure.slopes.iter().map(|(s, _)| (*s, Interval::ALL)).collect();
                    let search = ExtremeSearch::new(self, order, target, enclosure.range, &all, &copula, MOST_ROUNDS);
                    let walked = search.map(|search| search.from(&best.1, side == Side::Least));
                    let better = |x: f64| if side == Side::Least { x < best.0 } else { x > best.0 };
                    best = walked.filter(|walked| better(walked.0)).unwrap_or(best);
                }
                let best = self.at_zero(target, enclosure, best, side);
                *value = best.0;
                *at = self.settings(enclosure.slopes.iter().map(|(source, _)| *source), &best.1);
            }
            match side {
                Side::Least => found.enclosure.0 = known.bound.min(found.low),
                Side::Greatest => found.enclosure.1 = known.bound.max(found.high),
            }
        }
        if proven {
            found.certainty = Certainty::Proven;
        }
    }

    /// The same extreme with sources that stand next to zero at zero, where that is as extreme.
    fn at_zero(&self, target: Reg, enclosure: &Enclosure, best: (f64, Vec<f64>), side: Side) -> (f64, Vec<f64>) {
        let next_to_zero = |source: &u32| {
            let (low, high) = self.ends[*source as usize];
            let at = best.1.get(*source as usize).copied().unwrap_or(f64::NAN);
            at.abs() < NEAR_ZERO * (high - low) && low < 0.0 && high > 0.0
        };
        let sources = enclosure.slopes.iter().map(|(source, _)| *source);
        let moved: Vec<u32> = sources.clone().filter(next_to_zero).collect();
        if moved.is_empty() {
            return best;
        }
        let mut at = best.1.clone();
        moved.iter().for_each(|source| at[*source as usize] = 0.0);
        let changes: Vec<(u32, f64)> = sources.map(|source| (source, at[source as usize])).collect();
        let value = self.probe(&changes, &[target]).first().copied().unwrap_or(f64::NAN);
        let is_as_extreme = match side {
            Side::Least => value <= best.0,
            Side::Greatest => value >= best.0,
        };
        if is_as_extreme { (value, at) } else { best }
    }

    /// Where a target has no bound, or no value.
    fn gap(&self, target: Reg, order: &[Reg], enclosure: &Enclosure, reached: &mut Reached) -> Option<Gap> {
        if enclosure.poles.is_empty() {
            return None;
        }
        let copula = Copula::default();
        if let Some(mut passes) = Passes::new(self, order, target, &copula) {
            let whole = passes.whole(self);
            return gap(&mut passes, &whole);
        }
        let mut at = enclosure.poles.iter().copied().filter(|pole| self.reaches_pole(*pole, reached));
        // One that runs away says more than one that only ends.
        let first = at.next();
        let step =
            first.filter(|pole| self.runs_away(*pole)).or_else(|| at.find(|pole| self.runs_away(*pole))).or(first)?;
        Some(Gap { step, kind: if self.runs_away(step) { Lack::Endless } else { Lack::Nothing } })
    }

    /// Whether a step grows without end where it has no value. A root of a negative number or a place outside a table has
    /// none either, but what stands beside it does not run away.
    fn runs_away(&self, pole: Reg) -> bool {
        !matches!(
            self.program.steps[pole as usize],
            Step::Apply(Unary::Sqrt | Unary::Asin | Unary::Acos, _) | Step::Interpolate(..)
        )
    }

    /// Whether the divisor (or argument) of a step really comes to zero in the box, or to where else it has no value.
    fn reaches_pole(&self, pole: Reg, reached: &mut Reached) -> bool {
        if let Some(known) = reached.get(&pole) {
            return *known;
        }
        let suspects = match self.program.steps[pole as usize] {
            Step::Divide(_, b) => vec![b],
            Step::Parallel(a, b) => vec![a, b],
            Step::Power(a, _) | Step::WholePower(a, _) | Step::Apply(_, a) | Step::Interpolate(_, a) => vec![a],
            _ => return false,
        };
        let order = self.needed(&suspects);
        let extremes = self.extremes_beside(&suspects, &order, &|_| Sought::Both, reached);
        let ranges: Vec<(f64, f64)> = extremes
            .iter()
            .zip(&suspects)
            .map(|(found, reg)| {
                let nominal = self.nominal[*reg as usize];
                found.as_ref().map_or((nominal, nominal), |found| (found.low, found.high))
            })
            .collect();
        let (low, high) = match self.program.steps[pole as usize] {
            Step::Parallel(..) => (ranges[0].0 + ranges[1].0, ranges[0].1 + ranges[1].1),
            _ => ranges[0],
        };
        let found = match self.program.steps[pole as usize] {
            Step::Apply(Unary::Sqrt, _) => low < 0.0,
            Step::Apply(Unary::Asin | Unary::Acos, _) => low < -1.0 || high > 1.0,
            Step::Apply(Unary::Tan, _) => branch_of_tangent(low) != branch_of_tangent(high),
            Step::Apply(..) => low <= 0.0,
            Step::Interpolate(table, _) => {
                let x = &self.program.tables[table as usize].x;
                x.first().is_some_and(|first| low < *first) || x.last().is_some_and(|last| high > *last)
            }
            _ => low <= 0.0 && high >= 0.0,
        };
        reached.insert(pole, found);
        found
    }
}

/// Whether steps reach their poles in one box: reported once, however often they come up.
type Reached = HashMap<Reg, bool>;

/// How near to zero, as a part of its span, a source is tried at zero.
const NEAR_ZERO: f64 = 1e-6;
/// Of which nothing is known.
pub(super) const UNKNOWN: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

/// An end that a search brought to zero but for rounding is zero.
fn snapped(low: f64, high: f64) -> (f64, f64) {
    let nothing = 1e-12 * low.abs().max(high.abs());
    let snap = |x: f64| if x.abs() < nothing { 0.0 } else { x };
    (snap(low), snap(high))
}
