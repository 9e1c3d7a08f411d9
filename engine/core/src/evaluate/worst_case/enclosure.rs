//! For every register: a range that surely holds it over the box, and for each varying source a range that surely holds
//! the slope. A slope whose range keeps one sign proves that the extremes stand at that source's ends. (First-order
//! interval dual numbers; R. E. Moore, Methods and Applications of Interval Analysis, chapters 2 and 3.)

use std::{array, borrow::Cow};

use super::{interval::Interval, search::scattered};
use crate::{
    handbook::LANES,
    host::Budget,
    program::{Callee, Program, Reg, RunState, Step, Table, Unary},
};

/// What is surely known of a register over the box.
#[derive(Clone, Debug)]
pub(crate) struct Enclosure {
    pub(crate) range: Interval,
    /// Slopes by source, rising by source; sources that do not matter are left out.
    pub(crate) slopes: Vec<(u32, Interval)>,
    /// Divide steps whose divisor's range holds zero, and other steps without bound or value over part of the box; rising.
    pub(crate) poles: Vec<Reg>,
    /// Whether a model stands in the way, whose slopes are known at sample points alone.
    pub(crate) sampled: bool,
}

impl Enclosure {
    pub(crate) fn point(value: f64) -> Self {
        Self { range: Interval::point(value), slopes: Vec::new(), poles: Vec::new(), sampled: false }
    }

    pub(crate) fn varies(&self) -> bool {
        !self.slopes.is_empty()
    }
}

/// What is known of the steps of an order.
pub(crate) struct Enclosures<'o> {
    /// Rising.
    order: &'o [Reg],
    /// Of its steps, or of the first so many.
    known: Vec<Enclosure>,
}

impl Enclosures<'_> {
    /// Of a register, where it has been worked through.
    pub(crate) fn of(&self, reg: Reg) -> Option<&Enclosure> {
        // Of a whole program, each step stands in its own place.
        let dense = self.order.get(reg as usize) == Some(&reg);
        let at = if dense { reg as usize } else { self.order.binary_search(&reg).ok()? };
        self.known.get(at)
    }

    /// Of a register that varies.
    pub(crate) fn varying(&self, reg: Reg) -> Option<&Enclosure> {
        self.of(reg).filter(|known| known.varies())
    }

    fn or_nominal(&self, reg: Reg, nominal: &[f64]) -> Cow<'_, Enclosure> {
        self.of(reg).map_or_else(|| Cow::Owned(Enclosure::point(nominal[reg as usize])), Cow::Borrowed)
    }
}

/// Works through the steps of `order` (rising). Registers outside it keep their nominal value.
pub(crate) fn enclose<'o>(
    (program, state): (&Program, &RunState),
    box_: &[(f64, f64)],
    nominal: &[f64],
    order: &'o [Reg],
    pinned: Option<Reg>,
) -> Enclosures<'o> {
    let mut known = Enclosures { order, known: Vec::with_capacity(order.len()) };
    let mut models: Vec<Vec<(u32, Enclosure)>> = vec![Vec::new(); program.calls.len()];
    // Only the fields that are read cost anything.
    let mut read: Vec<Vec<u32>> = vec![Vec::new(); program.calls.len()];
    for reg in order {
        if let Step::Output(call_reg, field) = program.steps[*reg as usize]
            && let Step::Call(call) = program.steps[call_reg as usize]
        {
            read[call as usize].push(field);
        }
    }
    for reg in order {
        let enclosure = match program.steps[*reg as usize] {
            _ if pinned == Some(*reg) => Enclosure::point(nominal[*reg as usize]),
            Step::Call(_) | Step::Output(..) if state.is_held(program, *reg) => {
                Enclosure::point(nominal[*reg as usize])
            }
            Step::Call(call) => {
                let target = &program.calls[call as usize];
                let inputs: Vec<_> = target.inputs.iter().map(|reg| known.or_nominal(*reg, nominal)).collect();
                let inputs: Vec<&Enclosure> = inputs.iter().map(|input| &**input).collect();
                if inputs.iter().any(|input| input.varies()) {
                    models[call as usize] = model(&target.callee, state.budget(call), &inputs, &read[call as usize]);
                }
                unknown(&inputs, Interval::ALL)
            }
            Step::Output(call_reg, field) => match program.steps[call_reg as usize] {
                Step::Call(call) => {
                    let known = models[call as usize].iter().find(|(known, _)| *known == field);
                    known.map_or_else(|| Enclosure::point(nominal[*reg as usize]), |(_, enclosure)| enclosure.clone())
                }
                _ => Enclosure::point(nominal[*reg as usize]),
            },
            _ => step(program, box_, nominal, &known, *reg),
        };
        known.known.push(enclosure);
    }
    known
}

/// Points at which a model's slopes are taken: the corners of its inputs (the first so many), the middle, and a scatter.
const SCATTER: usize = 8;
const MOST_CORNERS: usize = 4;
const _: () = assert!((1 << MOST_CORNERS) + SCATTER <= LANES);

/// A model is a black box: its ranges and slopes are taken from points of its inputs' ranges. A slope that is zero at all
/// of them says that the field does not depend on that input; one that keeps its sign, which corner to look at.
fn model(model: &Callee, budget: &Budget, inputs: &[&Enclosure], read: &[u32]) -> Vec<(u32, Enclosure)> {
    let n = inputs.len();
    let moving: Vec<usize> = (0..n).filter(|i| inputs[*i].varies()).collect();
    let anything = |range: Interval| unknown(inputs, range);
    if !moving.iter().all(|i| inputs[*i].range.low.is_finite() && inputs[*i].range.high.is_finite()) {
        return read.iter().map(|field| (*field, anything(Interval::ALL))).collect();
    }
    let mut ranges: Vec<Option<Interval>> = vec![None; read.len()];
    // Input by input, field by field.
    let mut slopes: Vec<Option<Interval>> = vec![None; moving.len() * read.len()];
    let points = (1 << moving.len().min(MOST_CORNERS)) + SCATTER;
    // Input by input, all points lanes.
    let mut at: Vec<[f64; LANES]> = inputs.iter().map(|input| [input.range.low; LANES]).collect();
    for (k, i) in moving.iter().enumerate() {
        let Interval { low, high } = inputs[*i].range;
        for (point, x) in at[*i][..points].iter_mut().enumerate() {
            let scatter = point.checked_sub(points - SCATTER);
            let corner = || ((point >> (k % MOST_CORNERS)) & 1) as f64;
            *x = low + (high - low) * scatter.map_or_else(corner, |point| scattered(point, k));
        }
    }
    let hull = |known: &mut Option<Interval>, more: Interval| {
        *known = Some(known.map_or(more, |known| known.hull(more)));
    };
    let mut here = vec![[0.0; LANES]; model.outputs()];
    let mut there = here.clone();
    model.lanes(&at.iter().collect::<Vec<_>>(), &mut here, points, budget);
    for (range, field) in ranges.iter_mut().zip(read) {
        here[*field as usize][..points].iter().for_each(|value| hull(range, Interval::point(*value)));
    }
    for (k, i) in moving.iter().enumerate() {
        let Interval { low, high } = inputs[*i].range;
        // Small against the range, and always inside it.
        let size = (high - low) * 1e-4;
        let steps = at[*i].map(|x| if x + size > high { -size } else { size });
        let moved: [f64; LANES] = array::from_fn(|point| at[*i][point] + steps[point]);
        let inputs: Vec<&[f64; LANES]> = (0..n).map(|j| if j == *i { &moved } else { &at[j] }).collect();
        model.lanes(&inputs, &mut there, points, budget);
        for (slope, field) in slopes[k * read.len()..].iter_mut().zip(read) {
            let (here, there) = (&here[*field as usize], &there[*field as usize]);
            for point in 0..points {
                let difference = there[point] - here[point];
                // Differences of the size of rounding are none.
                let same = there[point] == here[point] || difference.abs() <= 1e-12 * here[point].abs();
                hull(slope, if same { Interval::ZERO } else { Interval::point(difference / steps[point]) });
            }
        }
    }
    let told = |(which, field): (usize, &u32)| {
        let range = ranges[which].unwrap_or(Interval::ALL);
        let spare = (range.high - range.low) * 0.25;
        let slopes = || slopes.iter().skip(which).step_by(read.len());
        let still = slopes().all(|slope| *slope == Some(Interval::ZERO));
        if range.low < range.high && (still || model.gives_condition(*field as usize)) {
            // It goes in steps, and between them it is level: no slope says which inputs it depends on.
            return (*field, Enclosure { sampled: true, ..anything(range) });
        }
        let range = Interval::new(range.low - spare, range.high + spare);
        let mut result = Enclosure { range, slopes: Vec::new(), poles: Vec::new(), sampled: true };
        for (slope, i) in slopes().zip(&moving) {
            let slope = slope.unwrap_or(Interval::ALL);
            if slope != Interval::ZERO {
                result = chain2(&result, inputs[*i], range, Interval::ONE, slope);
            }
        }
        (*field, result)
    };
    read.iter().enumerate().map(told).collect()
}

fn step(program: &Program, box_: &[(f64, f64)], nominal: &[f64], known: &Enclosures<'_>, reg: Reg) -> Enclosure {
    let constant = |a: Reg| Enclosure::point(nominal[a as usize]);
    let of = |a: Reg| known.or_nominal(a, nominal);
    match program.steps[reg as usize] {
        Step::Constant(value) => Enclosure::point(value),
        Step::Source(source) => {
            let (low, high) = box_[source as usize];
            if low < high {
                Enclosure {
                    range: Interval::new(low, high),
                    slopes: vec![(source, Interval::ONE)],
                    poles: Vec::new(),
                    sampled: false,
                }
            } else {
                Enclosure::point(low)
            }
        }
        Step::Preferred(..) | Step::Sought(..) => constant(reg),
        Step::Negate(a) => {
            let a = of(a);
            chain(&a, a.range.negated(), Interval::point(-1.0))
        }
        Step::Add(a, b) => {
            let (a, b) = (of(a), of(b));
            chain2(&a, &b, a.range.plus(b.range), Interval::ONE, Interval::ONE)
        }
        Step::Subtract(a, b) if a == b => Enclosure::point(0.0),
        Step::Subtract(a, b) => {
            let (a, b) = (of(a), of(b));
            chain2(&a, &b, a.range.minus(b.range), Interval::ONE, Interval::point(-1.0))
        }
        Step::Multiply(a, b) if a == b => {
            let a = of(a);
            chain(&a, a.range.square(), a.range.times(Interval::point(2.0)))
        }
        Step::Multiply(a, b) => {
            let (a, b) = (of(a), of(b));
            chain2(&a, &b, a.range.times(b.range), b.range, a.range)
        }
        Step::Divide(a, b) => {
            let (a, b) = (of(a), of(b));
            let inverse = b.range.reciprocal();
            let slope_b = a.range.times(inverse.square()).negated();
            let mut result = chain2(&a, &b, a.range.over(b.range), inverse, slope_b);
            if b.range.has_zero() {
                result.poles.push(reg);
            }
            result
        }
        Step::Parallel(a, b) => in_parallel(&of(a), &of(b), reg),
        Step::WholePower(a, n) => {
            let a = of(a);
            let slope = a.range.whole_power(n - 1).times(Interval::point(f64::from(n)));
            let mut result = chain(&a, a.range.whole_power(n), if n == 0 { Interval::ZERO } else { slope });
            if n < 0 && a.range.has_zero() {
                result.poles.push(reg);
            }
            result
        }
        Step::Power(a, b) => power(&of(a), &of(b), reg),
        Step::Minimum(a, b) => {
            let (a, b) = (of(a), of(b));
            let range = Interval::new(a.range.low.min(b.range.low), a.range.high.min(b.range.high));
            either(&a, &b, range, a.range.high < b.range.low, b.range.high < a.range.low)
        }
        Step::Maximum(a, b) => {
            let (a, b) = (of(a), of(b));
            let range = Interval::new(a.range.low.max(b.range.low), a.range.high.max(b.range.high));
            either(&a, &b, range, a.range.low > b.range.high, b.range.low > a.range.high)
        }
        Step::Apply(function, a) => apply(function, &of(a), reg),
        Step::ArcTangent2(a, b) => unknown(&[&of(a), &of(b)], Interval::new(-4.0, 4.0)),
        Step::Compare(comparison, a, b) => {
            let (a, b) = (of(a), of(b));
            // Where the ranges do not touch, the comparison comes out the same everywhere.
            if a.range.high < b.range.low || b.range.high < a.range.low {
                Enclosure::point(f64::from(u8::from(comparison.of(a.range.low, b.range.low))))
            } else {
                unknown(&[&a, &b], Interval::new(0.0, 1.0))
            }
        }
        Step::And(a, b) | Step::Or(a, b) => unknown(&[&of(a), &of(b)], Interval::new(0.0, 1.0)),
        Step::Not(a) => unknown(&[&of(a)], Interval::new(0.0, 1.0)),
        Step::Select(condition, a, b) => {
            let (condition, a, b) = (of(condition), of(a), of(b));
            if condition.range == Interval::ZERO {
                b.into_owned()
            } else if condition.range == Interval::ONE {
                a.into_owned()
            } else {
                unknown(&[&condition, &a, &b], a.range.hull(b.range))
            }
        }
        Step::Interpolate(table, a) => interpolated(&program.tables[table as usize], &of(a), reg),
        // Models are told apart by `enclose`.
        Step::Call(_) | Step::Output(..) => constant(reg),
    }
}

/// Between the points of a table: the range and the slopes of the segments that the abscissa can reach.
fn interpolated(table: &Table, a: &Enclosure, reg: Reg) -> Enclosure {
    let Interval { low, high } = a.range;
    let (first, last) = (0, table.x.len() - 1);
    let outside = low < table.x[first] || high > table.x[last];
    let (low, high) = (low.max(table.x[first]), high.min(table.x[last]));
    let mut range = Interval::point(table.at(low)).hull(Interval::point(table.at(high)));
    let mut slope: Option<Interval> = None;
    for i in first..last {
        if table.x[i + 1] >= low && table.x[i] <= high {
            let this = Interval::point((table.y[i + 1] - table.y[i]) / (table.x[i + 1] - table.x[i]));
            slope = Some(slope.map_or(this, |slope| slope.hull(this)));
            for j in [i, i + 1] {
                if (low..=high).contains(&table.x[j]) {
                    range = range.hull(Interval::point(table.y[j]));
                }
            }
        }
    }
    let mut result = chain(a, range, slope.unwrap_or(Interval::ALL));
    if outside {
        result.poles.push(reg);
    }
    result
}

fn chain(a: &Enclosure, range: Interval, slope: Interval) -> Enclosure {
    let slopes = a.slopes.iter().map(|(source, inner)| (*source, inner.times(slope))).collect();
    Enclosure { range, slopes, poles: a.poles.clone(), sampled: a.sampled }
}

fn chain2(a: &Enclosure, b: &Enclosure, range: Interval, slope_a: Interval, slope_b: Interval) -> Enclosure {
    let slopes = merged(a, b, |a, b| a.times(slope_a).plus(b.times(slope_b)));
    Enclosure { range, slopes, poles: both(&a.poles, &b.poles), sampled: a.sampled || b.sampled }
}

/// The slopes of two enclosures put together, source by source.
fn merged(a: &Enclosure, b: &Enclosure, join: impl Fn(Interval, Interval) -> Interval) -> Vec<(u32, Interval)> {
    let mut slopes = Vec::with_capacity(a.slopes.len().max(b.slopes.len()));
    let (mut i, mut j) = (0, 0);
    loop {
        match (a.slopes.get(i), b.slopes.get(j)) {
            (Some((s, x)), Some((t, y))) if s == t => {
                slopes.push((*s, join(*x, *y)));
                i += 1;
                j += 1;
            }
            (Some((s, x)), other) if other.is_none_or(|(t, _)| s < t) => {
                slopes.push((*s, join(*x, Interval::ZERO)));
                i += 1;
            }
            (_, Some((t, y))) => {
                slopes.push((*t, join(Interval::ZERO, *y)));
                j += 1;
            }
            _ => return slopes,
        }
    }
}

/// The poles of both, rising.
fn both(a: &[Reg], b: &[Reg]) -> Vec<Reg> {
    let mut poles = [a, b].concat();
    poles.sort_unstable();
    poles.dedup();
    poles
}

/// One of two, whichever it is: the slope is one of theirs.
fn either(a: &Enclosure, b: &Enclosure, range: Interval, surely_a: bool, surely_b: bool) -> Enclosure {
    if surely_a {
        return a.clone();
    }
    if surely_b {
        return b.clone();
    }
    let (poles, sampled) = (both(&a.poles, &b.poles), a.sampled || b.sampled);
    Enclosure { range, slopes: merged(a, b, Interval::hull), poles, sampled }
}

/// A step of whose slopes nothing is known.
fn unknown(inputs: &[&Enclosure], range: Interval) -> Enclosure {
    let mut result = Enclosure { range, slopes: Vec::new(), poles: Vec::new(), sampled: false };
    for input in inputs {
        result.slopes = merged(&result, input, |_, _| Interval::ALL);
        result.poles = both(&result.poles, &input.poles);
        result.sampled |= input.sampled;
    }
    result
}

fn in_parallel(a: &Enclosure, b: &Enclosure, reg: Reg) -> Enclosure {
    let sum = a.range.plus(b.range);
    if sum.has_zero() || a.range.has_zero() || b.range.has_zero() {
        let mut result = unknown(&[a, b], Interval::ALL);
        result.poles.extend(sum.has_zero().then_some(reg));
        return result;
    }
    // d(ab/(a+b))/da = (b/(a+b))²: never negative, whatever the signs.
    let range = a.range.reciprocal().plus(b.range.reciprocal()).reciprocal();
    chain2(a, b, range, b.range.over(sum).square(), a.range.over(sum).square())
}

fn power(a: &Enclosure, b: &Enclosure, reg: Reg) -> Enclosure {
    if a.range.low <= 0.0 {
        let mut result = unknown(&[a, b], Interval::ALL);
        result.poles.extend((b.range.low < 0.0 && a.range.has_zero()).then_some(reg));
        return result;
    }
    let corner = |x: f64, y: f64| Interval::point(libm::pow(x, y));
    let power_of = |exponent: Interval| {
        corner(a.range.low, exponent.low)
            .hull(corner(a.range.low, exponent.high))
            .hull(corner(a.range.high, exponent.low))
            .hull(corner(a.range.high, exponent.high))
    };
    let range = power_of(b.range);
    let slope_a = b.range.times(power_of(b.range.minus(Interval::ONE)));
    chain2(a, b, range, slope_a, range.times(a.range.rising(libm::log)))
}

/// The tangent rises from one right angle to the next; in which of these stretches an angle lies.
pub(super) fn branch_of_tangent(angle: f64) -> f64 {
    libm::floor(angle / std::f64::consts::PI + 0.5)
}

fn apply(function: Unary, a: &Enclosure, reg: Reg) -> Enclosure {
    let x = a.range;
    let f = |x: f64| function.of(x);
    match function {
        Unary::Abs => match x.sign() {
            Some(sign) => chain(a, if sign > 0.0 { x } else { x.negated() }, Interval::point(sign)),
            None => chain(a, Interval::new(0.0, x.high.max(-x.low)), Interval::new(-1.0, 1.0)),
        },
        Unary::Exp => chain(a, x.rising(f), x.rising(f)),
        Unary::Sqrt if x.low >= 0.0 => {
            // The slope is endless at zero, but never negative.
            let slope =
                Interval::new(0.5 / x.high.sqrt(), if x.low > 0.0 { 0.5 / x.low.sqrt() } else { f64::INFINITY });
            chain(a, x.rising(f), slope)
        }
        Unary::Ln if x.low > 0.0 => chain(a, x.rising(f), x.reciprocal()),
        Unary::Log10 if x.low > 0.0 => {
            chain(a, x.rising(f), x.reciprocal().times(Interval::point(1.0 / std::f64::consts::LN_10)))
        }
        Unary::Atan => chain(a, x.rising(f), x.square().plus(Interval::ONE).reciprocal()),
        Unary::Asin if x.low > -1.0 && x.high < 1.0 => chain(a, x.rising(f), Interval::new(1.0, f64::INFINITY)),
        Unary::Acos if x.low > -1.0 && x.high < 1.0 => {
            chain(a, Interval::new(f(x.high), f(x.low)), Interval::new(f64::NEG_INFINITY, -1.0))
        }
        Unary::Floor | Unary::Ceil | Unary::Round => chain(a, x.rising(f), Interval::new(0.0, f64::INFINITY)),
        Unary::Sin | Unary::Cos => unknown(&[a], Interval::new(-1.0, 1.0)),
        Unary::Tan if branch_of_tangent(x.low) == branch_of_tangent(x.high) => {
            let range = x.rising(f);
            chain(a, range, range.square().plus(Interval::ONE))
        }
        _ => {
            let range = match function {
                Unary::Ln | Unary::Log10 if x.high > 0.0 => Interval::new(f64::NEG_INFINITY, f(x.high)),
                _ => Interval::ALL,
            };
            let mut result = unknown(&[a], range);
            result.poles.push(reg);
            result
        }
    }
}
