//! What is surely known of a value over a part of the box: its range, its slopes by the reverse of the chain rule
//! (adjoints: A. Griewank, A. Walther, Evaluating Derivatives, chapter 3, on intervals), and which steps have no value
//! somewhere. A comparison may be taken as true or false; what is compared is then cut accordingly.

use super::{
    models::Bounded,
    ways::{Back, Ranged},
};
use crate::{
    evaluate::{columns::Plan, draws::Copula, tolerances::Tolerances},
    handbook::{LANES, directions::Direction},
    program::{Comparison, Domain, Interval, Number, Reg, Step, operate},
};

/// A part of the box: the ends of each source that varies, and what is taken of each comparison.
#[derive(Clone, Debug)]
pub(in crate::evaluate) struct Part {
    pub(in crate::evaluate) ends: Vec<Interval>,
    pub(in crate::evaluate) taken: Vec<Option<bool>>,
}

impl Part {
    /// The same with a comparison taken as true or false.
    pub(in crate::evaluate) fn taking(&self, comparison: usize, truth: bool) -> Self {
        let mut part = self.clone();
        part.taken[comparison] = Some(truth);
        part
    }

    /// The same with other ends of a source.
    pub(in crate::evaluate) fn within(&self, source: usize, ends: Interval) -> Self {
        let mut part = self.clone();
        part.ends[source] = ends;
        part
    }
}

/// The steps of one target, worked through part by part.
pub(in crate::evaluate) struct Passes<'a> {
    plan: Plan<'a>,
    target: usize,
    /// Those that vary, each with its column.
    pub(in crate::evaluate) sources: Vec<(u32, usize)>,
    /// The comparisons, by their place in the plan.
    comparisons: Vec<usize>,
    /// For each comparison, which of the sources it depends on.
    pub(in crate::evaluate) concerns: Vec<Vec<bool>>,
    /// By the place of the call in the plan.
    models: Vec<Option<Bounded>>,
    regs: Vec<Reg>,
    ranges: Vec<Interval>,
    adjoints: Vec<Interval>,
    live: Vec<bool>,
    caps: Vec<Interval>,
    domains: Vec<Domain>,
    points: Vec<[f64; LANES]>,
    /// A model that was met and of which nothing is known over the part, by its place in the plan.
    blind: Option<usize>,
}

/// What a pass over a part found.
pub(in crate::evaluate) struct Pass {
    /// Holds the target wherever it has a value; nothing where it has none.
    pub(in crate::evaluate) range: Interval,
    /// Holds the slopes in the sources; everything where none is known.
    pub(in crate::evaluate) slopes: Vec<Interval>,
    /// Whether every step that matters has a value all over, and no comparison is merely taken.
    pub(in crate::evaluate) smooth: bool,
    /// The first comparison that comes out neither way all over, and is not taken yet.
    pub(in crate::evaluate) open: Option<usize>,
    /// A model of which nothing is known.
    pub(in crate::evaluate) blind: Option<usize>,
    /// Comparisons that are merely taken.
    pub(in crate::evaluate) only_taken: Vec<usize>,
}

impl<'a> Passes<'a> {
    /// `order` holds the steps that move the target. None where nothing does, or where a step stands in the way of which
    /// nothing is known: a Rust block, a model's field without declared directions.
    pub(in crate::evaluate) fn new(
        tolerances: &'a Tolerances<'_>,
        order: &[Reg],
        target: Reg,
        copula: &'a Copula,
    ) -> Option<Self> {
        let program = tolerances.program;
        let plan = Plan::along(tolerances, order, copula, 0);
        let mut regs = vec![target; plan.columns];
        for reg in order {
            if let Some(column) = plan.slot(*reg) {
                regs[column] = *reg;
            }
        }
        let target = plan.slot(target)?;
        let sources: Vec<(u32, usize)> = plan.draws.iter().map(|(_, source, column)| (*source, *column)).collect();
        let is_comparison = |i: &usize| matches!(plan.steps[*i].0, Step::Compare(..));
        let comparisons: Vec<usize> = (0..plan.steps.len()).filter(is_comparison).collect();
        let mut reached: Vec<Vec<bool>> = vec![Vec::new(); comparisons.len()];
        for (_, column) in &sources {
            let following = plan.following([*column].into_iter());
            for (concerned, i) in reached.iter_mut().zip(&comparisons) {
                concerned.push(following.steps.contains(i));
            }
        }
        let mut models = Vec::with_capacity(plan.steps.len());
        for (step, _) in &plan.steps {
            models.push(match step {
                Step::Call(call) => Some(Bounded::new(&plan, program, *call, &sources)?),
                _ => None,
            });
        }
        let count = plan.columns;
        let mut passes = Self {
            target,
            sources,
            comparisons,
            concerns: reached,
            models,
            regs,
            ranges: vec![Interval::ZERO; count],
            adjoints: vec![Interval::ZERO; count],
            live: vec![false; count],
            caps: vec![Interval::ALL; count],
            domains: vec![Domain::Whole; plan.steps.len()],
            points: vec![[0.0; LANES]; count],
            blind: None,
            plan,
        };
        for (column, value) in &passes.plan.fixed {
            passes.ranges[*column] = Interval::point(*value);
            passes.points[*column].fill(*value);
        }
        Some(passes)
    }

    /// The whole box.
    pub(in crate::evaluate) fn whole(&self, tolerances: &Tolerances<'_>) -> Part {
        let ends = self.sources.iter().map(|(source, _)| {
            let (low, high) = tolerances.ends[*source as usize];
            Interval::new(low, high)
        });
        Part { ends: ends.collect(), taken: vec![None; self.comparisons.len()] }
    }

    /// Works through a part, and makes it smaller where what is taken says so; none where it cannot be so.
    pub(in crate::evaluate) fn over(&mut self, part: &mut Part) -> Option<Pass> {
        self.caps.fill(Interval::ALL);
        let mut cut = false;
        if !self.forward(part) {
            return None;
        }
        if part.taken.iter().any(Option::is_some) {
            for _ in 0..ROUNDS {
                let (capped, smaller) = self.cap(part)?;
                if !capped && !smaller {
                    break;
                }
                cut |= capped;
                if !self.forward(part) {
                    return None;
                }
            }
        }
        let range = self.ranges[self.target];
        if range.is_none() {
            return None;
        }
        if cut {
            // Slopes are wanted along straight ways through the part, which leave what is cut.
            self.caps.fill(Interval::ALL);
            if !self.forward(part) {
                return None;
            }
        }
        self.backward();
        let live = |passes: &Self, i: usize| passes.live[passes.plan.steps[i].1];
        let undecided = |passes: &Self, k: usize| {
            let i = passes.comparisons[k];
            live(passes, i) && passes.decided(i).is_none()
        };
        let open = (0..self.comparisons.len()).find(|k| part.taken[*k].is_none() && undecided(self, *k));
        let only_taken: Vec<usize> =
            (0..self.comparisons.len()).filter(|k| part.taken[*k].is_some() && undecided(self, *k)).collect();
        let whole = (0..self.domains.len()).all(|i| self.domains[i] == Domain::Whole || !live(self, i));
        let slopes = self.sources.iter().map(|(_, column)| if whole { self.adjoints[*column] } else { Interval::ALL });
        let smooth = whole && open.is_none() && only_taken.is_empty();
        Some(Pass { range, slopes: slopes.collect(), smooth, open, blind: self.blind, only_taken })
    }

    /// How many models the steps run.
    pub(in crate::evaluate) fn models(&self) -> usize {
        self.models.iter().flatten().count()
    }

    /// Whether a source comes to a model by more than one argument.
    pub(in crate::evaluate) fn is_entangled(&self, model: usize, source: usize) -> bool {
        self.models[model].as_ref().is_some_and(|model| model.entangled[source])
    }

    /// The range alone, with the same comparisons taken.
    pub(in crate::evaluate) fn range(&mut self, part: &Part) -> Interval {
        self.caps.fill(Interval::ALL);
        if self.forward(part) { self.ranges[self.target] } else { Interval::NONE }
    }

    /// The steps without value or bound somewhere in the part that was last worked through by [`Passes::over`], with how
    /// they lack it and, of a quotient, whether what is divided may be zero as well.
    pub(in crate::evaluate) fn gaps(&self) -> impl Iterator<Item = (usize, Domain)> {
        let live = |i: &usize| self.domains[*i] != Domain::Whole && self.live[self.plan.steps[*i].1];
        (0..self.domains.len()).filter(live).map(|i| (i, self.domains[i]))
    }

    /// The register of a step of the plan.
    pub(in crate::evaluate) fn reg(&self, step: usize) -> Reg {
        self.regs[self.plan.steps[step].1]
    }

    /// What a quotient divides, and by what: their ranges, as last worked through.
    pub(in crate::evaluate) fn quotient(&self, step: usize) -> Option<(Interval, Interval)> {
        match self.plan.steps[step].0 {
            Step::Divide(a, b) => Some((self.ranges[a as usize], self.ranges[b as usize])),
            _ => None,
        }
    }

    /// The target at some points, no more than [`LANES`].
    pub(in crate::evaluate) fn at(&mut self, points: &[Vec<f64>]) -> Vec<f64> {
        for (i, (_, column)) in self.sources.iter().enumerate() {
            for (lane, point) in points.iter().enumerate() {
                self.points[*column][lane] = point[i];
            }
        }
        for (i, (step, column)) in self.plan.steps.iter().enumerate() {
            match &self.models[i] {
                Some(model) => model.at(&mut self.points, points.len()),
                None => self.plan.step(*step, *column, &mut self.points, points.len()),
            }
        }
        self.points[self.target][..points.len()].to_vec()
    }

    /// What a step came to at a point that was last asked for.
    pub(in crate::evaluate) fn found(&self, step: usize, lane: usize) -> f64 {
        self.points[self.plan.steps[step].1][lane]
    }

    /// What a step's pole hangs on, there.
    pub(in crate::evaluate) fn suspect_found(&self, step: usize, lane: usize) -> f64 {
        let at = |a: Reg| self.points[a as usize][lane];
        match self.plan.steps[step].0 {
            Step::Divide(_, b) => at(b),
            Step::Parallel(a, b) => at(a) + at(b),
            Step::Power(a, _) | Step::WholePower(a, _) | Step::Apply(_, a) => at(a),
            _ => f64::NAN,
        }
    }

    /// How the two sides of a comparison lie to one another; none where it comes out neither way all over.
    fn decided(&self, step: usize) -> Option<bool> {
        let Step::Compare(comparison, a, b) = self.plan.steps[step].0 else { return None };
        if a == b {
            return Some(comparison != Comparison::Less);
        }
        let (a, b) = (self.ranges[a as usize], self.ranges[b as usize]);
        let found = match comparison {
            Comparison::Less => a.less(b),
            Comparison::LessOrEqual => a.less_or_equal(b),
            Comparison::Equal => a.equal(b),
        };
        found.is_point().then_some(found == Interval::ONE)
    }

    /// Cuts what is compared by what is taken; whether anything but a source was cut, and whether a source was.
    fn cap(&mut self, part: &mut Part) -> Option<(bool, bool)> {
        let (mut capped, mut smaller) = (false, false);
        for (k, i) in self.comparisons.iter().enumerate() {
            let (Some(truth), Step::Compare(comparison, a, b)) = (part.taken[k], self.plan.steps[*i].0) else {
                continue;
            };
            let (x, y) = (self.ranges[a as usize], self.ranges[b as usize]);
            let (for_a, for_b) = match (comparison, truth) {
                (Comparison::Equal, true) => (y, x),
                (Comparison::Equal, false) => continue,
                (_, true) => (Interval::new(f64::NEG_INFINITY, y.high), Interval::new(x.low, f64::INFINITY)),
                (_, false) => (Interval::new(y.low, f64::INFINITY), Interval::new(f64::NEG_INFINITY, x.high)),
            };
            for (column, cap) in [(a as usize, for_a), (b as usize, for_b)] {
                let now = self.ranges[column];
                let left = now.common(cap);
                if left.is_none() {
                    return None;
                }
                if left == now {
                    continue;
                }
                if let Some(source) = self.sources.iter().position(|(_, other)| *other == column) {
                    part.ends[source] = left;
                    self.ranges[column] = left;
                    smaller = true;
                } else if self.plan.fixed.iter().all(|(other, _)| *other != column) {
                    self.caps[column] = left;
                    capped = true;
                }
            }
        }
        Some((capped, smaller))
    }

    /// The ranges of all steps; false where the part cannot be as it is taken.
    fn forward(&mut self, part: &Part) -> bool {
        for ((_, column), ends) in self.sources.iter().zip(&part.ends) {
            self.ranges[*column] = *ends;
        }
        let mut comparison = 0;
        self.blind = None;
        for (i, (step, column)) in self.plan.steps.iter().enumerate() {
            if let Some(model) = &mut self.models[i] {
                model.settle(&self.ranges);
                for field in &model.fields {
                    let range = model.range(field, &self.ranges);
                    if field.way.is_none() {
                        self.blind = self.blind.or(Some(i));
                    }
                    self.ranges[field.column] = range.common(self.caps[field.column]);
                }
                continue;
            }
            let (range, domain) = match *step {
                Step::Subtract(a, b) if a == b => (Interval::ZERO, Domain::Whole),
                Step::Multiply(a, b) if a == b && !self.ranges[a as usize].is_none() => {
                    (self.ranges[a as usize].square(), Domain::Whole)
                }
                Step::Divide(a, b) if a == b && !self.ranges[a as usize].is_none() => {
                    let zero = self.ranges[a as usize].has_zero();
                    (Interval::ONE, if zero { Domain::Pole } else { Domain::Whole })
                }
                Step::Compare(comparison, a, b) if a == b && !self.ranges[a as usize].is_none() => {
                    (Interval::point(f64::from(u8::from(comparison != Comparison::Less))), Domain::Whole)
                }
                step => operate(self.plan.program, step, Ranged { ranges: &self.ranges }),
            };
            let mut range = range.common(self.caps[*column]);
            self.domains[i] = domain;
            if let Step::Compare(..) = step {
                if let Some(truth) = part.taken[comparison] {
                    let taken = Interval::point(f64::from(u8::from(truth)));
                    if range.common(taken).is_none() {
                        return false;
                    }
                    range = taken;
                }
                comparison += 1;
            }
            self.ranges[*column] = range;
        }
        true
    }

    /// The slopes of the target in all that leads to it.
    fn backward(&mut self) {
        self.adjoints.fill(Interval::ZERO);
        self.live.fill(false);
        self.adjoints[self.target] = Interval::ONE;
        self.live[self.target] = true;
        for (i, (step, column)) in self.plan.steps.iter().enumerate().rev() {
            if let Some(model) = &self.models[i] {
                for field in &model.fields {
                    let adjoint = self.adjoints[field.column];
                    if !self.live[field.column] {
                        continue;
                    }
                    self.live[self.plan.steps[i].1] = true;
                    for (argument, input) in &model.moving {
                        let way = field.way.and_then(|way| field.ways.get(way));
                        let slope = match way.map_or(Direction::Unknown, |way| way.by[*argument]) {
                            Direction::Rises => Interval::new(0.0, f64::INFINITY),
                            Direction::Falls => Interval::new(f64::NEG_INFINITY, 0.0),
                            Direction::Level => Interval::ZERO,
                            Direction::Unknown => Interval::ALL,
                        };
                        self.live[*input] = true;
                        self.adjoints[*input] = self.adjoints[*input].plus(adjoint.times(slope));
                    }
                }
                continue;
            }
            if !self.live[*column] {
                continue;
            }
            if let Step::Subtract(a, b) | Step::Divide(a, b) = step
                && a == b
            {
                // The same all over.
                self.live[*a as usize] = true;
                continue;
            }
            let adjoint = self.adjoints[*column];
            let back = Back {
                ranges: &self.ranges,
                adjoints: &mut self.adjoints,
                live: &mut self.live,
                value: self.ranges[*column],
                adjoint,
            };
            operate(self.plan.program, *step, back);
        }
    }
}

/// Rounds in which what is taken cuts what is compared.
const ROUNDS: usize = 2;
