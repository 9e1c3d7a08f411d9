//! Design help: the value of a given that makes two values alike (bracketing on a grid, then bisection, and golden section
//! where they may touch), and the preferred values of several givens that bring a value nearest to a target (all
//! combinations are tried). Both are decisions: made once, at the nominal values of everything else, and held in every build.

use super::{super::tolerances::Tolerances, run};
use crate::{
    preferred::Series,
    program::{Goal, Program, Reg, RunState, Scenario, Search, SearchResult, Standing, Step, WIDEST},
};

/// Steps of the grid that roots are bracketed on. Of several roots within two of them some may be missed.
const GRID: usize = 400;
/// Halvings of a bracket. A hundred take it from the widest span to the last bit but for spans around zero.
const BISECTIONS: usize = 1100;
/// Steps of a golden section, to the last bit.
const GOLDEN_STEPS: usize = 90;
/// Combinations listed.
const LISTED: usize = 5;
/// The nearest combinations, of which those that keep the requirements come first.
const RANKED: usize = 64;
/// Most combinations tried: some tenths of a second.
pub(crate) const MOST_COMBINATIONS: usize = 400_000;

/// Part of the one point that a search finds; undefined where it finds none, or several roots. `regs` and `outputs` hold
/// all steps before the search.
pub(super) fn find(
    scenario: &Scenario<'_>,
    state: &RunState,
    (search, part): (u32, u32),
    regs: &[f64],
    outputs: &[[f64; WIDEST]],
    memory: &mut Memory,
) -> f64 {
    let program = scenario.program;
    let declared = &program.searches[search as usize];
    let found = state.found_or(search, || {
        let trial = Trial { search: declared, program, state, regs: regs.to_vec(), outputs: outputs.to_vec() };
        match declared.goal {
            Goal::Root => memory.of(program, search).roots(trial),
            Goal::Nearest(series, target) => {
                ranked(scenario, state, search, trial.nearest(series, regs[target as usize]))
            }
        }
    });
    match (declared.goal, found.points.as_slice()) {
        (Goal::Root, [only]) => only[0],
        (Goal::Nearest(..), [best, ..]) => best.get(part as usize).copied().unwrap_or(f64::NAN),
        _ => f64::NAN,
    }
}

/// What the searches of a program leave for its next run: at most points of a study nothing that they depend on differs, and
/// seldom does their span.
#[derive(Debug, Default)]
pub(crate) struct Memory(Vec<Remembered>);

/// What a search for roots leaves.
#[derive(Debug, Default)]
struct Remembered {
    /// The span of the last search, and the grid over it.
    ends: (f64, f64),
    grid: Vec<f64>,
    /// The registers that the result depends on; nothing where it may hang on more than these.
    inputs: Option<Vec<Reg>>,
    /// Their bits at the last search, and its result.
    last: Option<(Vec<u64>, SearchResult)>,
}

impl Memory {
    fn of(&mut self, program: &Program, search: u32) -> &mut Remembered {
        for known in self.0.len()..program.searches.len() {
            self.0.push(Remembered { inputs: inputs(program, &program.searches[known]), ..Remembered::default() });
        }
        &mut self.0[search as usize]
    }
}

impl Remembered {
    fn roots(&mut self, trial: Trial<'_>) -> SearchResult {
        let Some(inputs) = &self.inputs else { return trial.roots(&mut self.ends, &mut self.grid) };
        let bits = inputs.iter().map(|reg| trial.regs[*reg as usize].to_bits());
        match &mut self.last {
            Some((last, found)) if bits.clone().eq(last.iter().copied()) => found.clone(),
            last => {
                let bits = bits.collect();
                let found = trial.roots(&mut self.ends, &mut self.grid);
                *last = Some((bits, found.clone()));
                found
            }
        }
    }
}

/// The registers that a search for roots reads without writing them; nothing where it runs what may give something else each
/// time, or what its runs are counted of.
fn inputs(program: &Program, search: &Search) -> Option<Vec<Reg>> {
    let is_counted = search.order.iter().any(|reg| program.costly_call(*reg).is_some());
    if search.goal != Goal::Root || is_counted {
        return None;
    }
    let mut read: Vec<Reg> = search.span.into_iter().flat_map(|(from, to)| [from, to]).collect();
    search.order.iter().for_each(|reg| program.inputs(*reg, |input| read.push(input)));
    read.sort_unstable();
    read.dedup();
    read.retain(|reg| !search.order.contains(reg) && !search.moved.contains(reg));
    Some(read)
}

/// The combinations that are listed: of the nearest ones first those that keep all requirements which they reach, over the
/// whole worst case, then those that keep them at the nominal values; as near as they come.
fn ranked(scenario: &Scenario<'_>, state: &RunState, search: u32, mut found: SearchResult) -> SearchResult {
    let program = scenario.program;
    let Search { moved, kept, .. } = &program.searches[search as usize];
    let is_costly = (0..program.calls.len() as u32).any(|call| program.is_costly(call));
    let mut order: Vec<usize> = (0..found.points.len()).collect();
    if !kept.is_empty() && !state.tries_choices && !is_costly {
        let trial = state.trying(program, search, found.clone());
        let tolerances = Tolerances::new(scenario, &trial, run(scenario, &trial));
        let steps = tolerances.needed(kept);
        let mut standings = Vec::new();
        for point in &found.points {
            standings.push(standing(&tolerances, (moved, point), kept, &steps));
            if standings.iter().filter(|standing| **standing == Standing::Holds).count() == LISTED {
                break;
            }
        }
        order.truncate(standings.len());
        order.sort_by_key(|i| standings[*i]);
        order.truncate(LISTED);
        found.standings = order.iter().map(|i| standings[*i]).collect();
    }
    order.truncate(LISTED);
    found.values = order.iter().map(|i| found.values[*i]).collect();
    found.points = order.iter().map(|i| std::mem::take(&mut found.points[*i])).collect();
    found
}

/// How some requirements stand with other parts in the place of the moved ones, whose tolerances go with their values.
fn standing(tolerances: &Tolerances<'_>, (moved, point): (&[Reg], &[f64]), kept: &[Reg], steps: &[Reg]) -> Standing {
    let mut trial = tolerances.copied();
    for (reg, value) in moved.iter().zip(point) {
        if let Step::Source(source) = trial.program.steps[*reg as usize] {
            trial.replace_part(source, *value, steps);
        }
    }
    let one = |distance: &Reg| {
        let nominal = trial.nominal[*distance as usize];
        // Rounding alone breaks nothing.
        let slack = 1e-12 * tolerances.nominal[*distance as usize].abs();
        let worst = || trial.least(*distance, steps).map_or(nominal, |found| found.low);
        if nominal.is_nan() || nominal < -slack {
            Standing::Broken
        } else if worst() >= -slack {
            Standing::Holds
        } else {
            Standing::AtRisk
        }
    };
    kept.iter().map(one).max().unwrap_or(Standing::Holds)
}

/// A value of the one register that is moved, and what the watched one comes to.
#[derive(Clone, Copy)]
struct Point {
    x: f64,
    y: f64,
}

struct Trial<'a> {
    search: &'a Search,
    program: &'a Program,
    state: &'a RunState,
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
        self.program.rerun(self.state, &self.search.order, &[], &mut self.regs, &mut self.outputs);
        self.regs[self.search.watched as usize]
    }

    fn ends(&self) -> Option<(f64, f64)> {
        let (from, to) = self.search.span?;
        let (from, to) = (self.regs[from as usize], self.regs[to as usize]);
        (from.is_finite() && to.is_finite()).then(|| (from.min(to), from.max(to)))
    }

    /// The roots; `grid` is the one over the span `known`, or is made anew for another.
    fn roots(mut self, known: &mut (f64, f64), grid: &mut Vec<f64>) -> SearchResult {
        let Some((low, high)) = self.ends().filter(|(low, high)| low < high) else { return SearchResult::default() };
        let by_ratio = low > 0.0 && high / low > 5.0;
        let at = |i: usize| {
            let share = i as f64 / GRID as f64;
            match i {
                0 => low,
                GRID => high,
                _ if by_ratio => low * libm::pow(high / low, share),
                _ => low + (high - low) * share,
            }
        };
        if grid.is_empty() || *known != (low, high) {
            *known = (low, high);
            grid.clear();
            grid.extend((0..=GRID).map(at));
        }
        let points: Vec<Point> = grid.iter().map(|x| self.point(*x)).collect();
        let mut found = SearchResult { span: (low, high), ..SearchResult::default() };
        for Point { x, y } in &points {
            if y.is_finite() {
                let reached = found.reached.get_or_insert((*y, *y));
                *reached = (reached.0.min(*y), reached.1.max(*y));
            } else {
                let without = found.without_value.get_or_insert((*x, *x));
                *without = (without.0.min(*x), without.1.max(*x));
            }
        }
        let mut roots = Vec::new();
        for stretch in self.stretches(&points) {
            self.roots_of(&stretch, &mut roots, &mut found.nearest);
        }
        roots.sort_by(f64::total_cmp);
        // Around a root that is touched, rounding makes several of one.
        let one = 1e-4 * (high - low) / GRID as f64;
        roots.dedup_by(|next, kept| *next - *kept <= if by_ratio { 1e-6 * kept.abs() } else { one });
        found.values = vec![0.0; roots.len()];
        found.points = roots.into_iter().map(|root| vec![root]).collect();
        found
    }

    fn point(&mut self, x: f64) -> Point {
        Point { x, y: self.at(&[x]) }
    }

    /// The stretches of a grid over which the watched register has a value, each from its first point to its last one.
    fn stretches(&mut self, points: &[Point]) -> Vec<Vec<Point>> {
        let mut stretches = vec![Vec::new()];
        for pair in points.windows(2) {
            let [left, right] = [pair[0], pair[1]];
            let open = stretches.last_mut();
            match (left.y.is_nan(), right.y.is_nan()) {
                (false, false) => open.into_iter().for_each(|stretch| stretch.push(left)),
                (false, true) => {
                    let last = self.last_with_value(left, right);
                    open.into_iter().for_each(|stretch| stretch.extend([left, last]));
                    stretches.push(Vec::new());
                }
                (true, false) => {
                    let first = self.last_with_value(right, left);
                    open.into_iter().for_each(|stretch| stretch.push(first));
                }
                (true, true) => {}
            }
        }
        if let (Some(last), Some(stretch)) = (points.last().filter(|last| !last.y.is_nan()), stretches.last_mut()) {
            stretch.push(*last);
        }
        for stretch in &mut stretches {
            stretch.dedup_by(|a, b| a.x == b.x);
        }
        stretches
    }

    /// The point nearest to `without`, seen from `with`, at which the watched register still has a value.
    fn last_with_value(&mut self, with: Point, without: Point) -> Point {
        let (mut with, mut without) = (with, without.x);
        for _ in 0..BISECTIONS {
            let middle = self.point(with.x + 0.5 * (without - with.x));
            if middle.x == with.x || middle.x == without {
                break;
            }
            if middle.y.is_nan() { without = middle.x } else { with = middle }
        }
        with
    }

    /// The roots on a stretch: zeros of the grid, changes of sign, and places where zero is touched.
    fn roots_of(&mut self, points: &[Point], roots: &mut Vec<f64>, nearest: &mut Option<(f64, f64)>) {
        for (i, middle) in points.iter().enumerate() {
            let (left, right) = (i.checked_sub(1).map(|left| points[left]), points.get(i + 1).copied());
            if middle.y == 0.0 {
                roots.push(middle.x);
                continue;
            }
            if let Some(left) = left.filter(|left| left.y * middle.y < 0.0) {
                roots.extend(self.bisected(left, *middle));
            }
            let sign = middle.y.signum();
            let (y, at_left, at_right) = (sign * middle.y, left.map(|p| sign * p.y), right.map(|p| sign * p.y));
            if at_left.is_none_or(|left| y < left) && at_right.is_none_or(|right| y <= right) {
                // The lesser neighbour: the other may stand beside a pole.
                let around = match (left, right) {
                    (Some(left), Some(right)) => left.y.abs().min(right.y.abs()),
                    (Some(one), None) | (None, Some(one)) => one.y.abs().min(1e3 * y),
                    (None, None) => 0.0,
                };
                let (left, right) = (left.unwrap_or(*middle), right.unwrap_or(*middle));
                let lowest = self.lowest(sign, left, *middle, right);
                let size = sign * lowest.y;
                if !size.is_finite() {
                    // An overflow on both sides is no place where they come together.
                } else if size.abs() <= self.falls_to(around, lowest.x) {
                    roots.push(lowest.x);
                } else if size < 0.0 {
                    roots.extend(self.bisected(left, lowest));
                    roots.extend(self.bisected(lowest, right));
                } else if nearest.is_none_or(|(_, known)| size < known) {
                    *nearest = Some((lowest.x, size));
                }
            }
        }
    }

    /// Where `sign` times the watched register is least around a point that is below both its neighbours (golden section;
    /// J. Kiefer, "Sequential minimax search for a maximum", Proceedings of the AMS 4, 1953).
    fn lowest(&mut self, sign: f64, left: Point, middle: Point, right: Point) -> Point {
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let better = |a: &Point, b: &Point| sign * a.y < sign * b.y;
        let (mut low, mut high, mut best) = (left.x, right.x, middle);
        let mut inner = self.point(high - GOLDEN * (high - low));
        let mut outer = self.point(low + GOLDEN * (high - low));
        for _ in 0..GOLDEN_STEPS {
            for point in [inner, outer] {
                if better(&point, &best) {
                    best = point;
                }
            }
            if sign * best.y <= 0.0 || inner.x <= low || outer.x >= high || inner.x >= outer.x {
                break;
            }
            if better(&inner, &outer) {
                high = outer.x;
                outer = inner;
                inner = self.point(high - GOLDEN * (high - low));
            } else {
                low = inner.x;
                inner = outer;
                outer = self.point(low + GOLDEN * (high - low));
            }
        }
        best
    }

    /// What counts as zero at a point: a small part of the values around, or what rounding makes of zero there.
    fn falls_to(&mut self, around: f64, x: f64) -> f64 {
        let step = f64::EPSILON * if x == 0.0 { f64::MIN_POSITIVE } else { x.abs() };
        let (mut least, mut greatest) = (f64::INFINITY, f64::NEG_INFINITY);
        for steps in -4..=4 {
            let y = self.at(&[x + f64::from(steps) * step]);
            (least, greatest) = (least.min(y), greatest.max(y));
        }
        // Values that differ by more across a few last digits do so by a jump or a pole, not by rounding.
        let rounding = Some(greatest - least).filter(|rounding| *rounding <= 1e-5 * around).unwrap_or(0.0);
        (1e-9 * around).max(4.0 * rounding)
    }

    /// The root in a bracket, to the last bit; none where the sign changes at a pole or a jump: there what is left does not
    /// shrink with the bracket.
    fn bisected(&mut self, left: Point, right: Point) -> Option<f64> {
        let (mut low, mut high) = (left, right);
        for _ in 0..BISECTIONS {
            let middle = self.point(low.x + 0.5 * (high.x - low.x));
            if middle.x <= low.x || middle.x >= high.x {
                break;
            }
            if middle.y == 0.0 {
                return Some(middle.x);
            }
            if middle.y.is_nan() {
                return None;
            }
            if middle.y * low.y < 0.0 { high = middle } else { low = middle }
        }
        let (nearer, farther) = if low.y.abs() <= high.y.abs() { (low, high) } else { (high, low) };
        let ends = [left.y.abs(), right.y.abs()];
        let around = ends.into_iter().filter(|size| size.is_finite()).fold(0.0, f64::max);
        let small = self.falls_to(around, nearer.x);
        let shrinks = nearer.y.abs() <= left.y.abs().min(right.y.abs()).max(small);
        (shrinks && farther.y.abs() <= small).then_some(nearer.x)
    }

    fn nearest(mut self, series: Series, target: f64) -> SearchResult {
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
        if combinations == 0 || combinations > MOST_COMBINATIONS || !target.is_finite() {
            return SearchResult { combinations, ..SearchResult::default() };
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
            if rank < RANKED {
                best.insert(rank, (off, moved, point, y));
                best.truncate(RANKED);
            }
        }
        let values = best.iter().map(|(.., y)| *y).collect();
        let points = best.into_iter().map(|(_, _, point, _)| point).collect();
        SearchResult { points, values, span: span.unwrap_or_default(), combinations, ..SearchResult::default() }
    }
}
