//! For every register: a range that surely holds it over the box, and for each varying source a range that surely holds
//! the slope. A slope whose range keeps one sign proves that the extremes stand at that source's ends. (First-order
//! interval dual numbers; R. E. Moore, Methods and Applications of Interval Analysis, chapters 2 and 3.)

use std::{array, borrow::Cow};

use super::search::scattered;
use crate::{
    handbook::LANES,
    host::Budget,
    program::{
        Callee, Domain, Interval, Number, OneArgument, Outside, Program, Reg, RunState, Slopes, Step, TwoArguments,
        Visitor, Which, operate,
    },
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
    let field_range = |(which, field): (usize, &u32)| {
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
    read.iter().enumerate().map(field_range).collect()
}

fn step(program: &Program, box_: &[(f64, f64)], nominal: &[f64], known: &Enclosures<'_>, reg: Reg) -> Enclosure {
    let of = |a: Reg| known.or_nominal(a, nominal);
    match program.steps[reg as usize] {
        Step::Subtract(a, b) if a == b => Enclosure::point(0.0),
        Step::Multiply(a, b) if a == b => {
            let a = of(a);
            chain(&a, a.range.square(), a.range.times(Interval::point(2.0)))
        }
        step => operate(program, step, Sloped { box_, nominal, known, reg }),
    }
}

/// The range and the slopes of a step, from those of what it reads.
struct Sloped<'a> {
    box_: &'a [(f64, f64)],
    nominal: &'a [f64],
    known: &'a Enclosures<'a>,
    reg: Reg,
}

impl<'a> Sloped<'a> {
    fn of(&self, reg: Reg) -> Cow<'a, Enclosure> {
        self.known.or_nominal(reg, self.nominal)
    }

    /// Puts a step without bound or value over part of the box among the poles; without any at all it is anything.
    fn placed(&self, mut result: Enclosure, inputs: &[&Enclosure], domain: Domain) -> Enclosure {
        match domain {
            Domain::Whole => return result,
            Domain::Part | Domain::Pole => {}
            Domain::Nowhere => result = unknown(inputs, Interval::ALL),
        }
        result.poles.push(self.reg);
        result
    }
}

impl Visitor for Sloped<'_> {
    type Output = Enclosure;

    fn one(self, operation: impl OneArgument, a: Reg) -> Enclosure {
        let a = self.of(a);
        let value = operation.value(a.range);
        self.placed(chain(&a, value, operation.slope(a.range, value)), &[&a], operation.domain(a.range))
    }

    fn two(self, operation: impl TwoArguments, a: Reg, b: Reg) -> Enclosure {
        let (a, b) = (self.of(a), self.of(b));
        let value = operation.value(a.range, b.range);
        let result = match operation.slopes(a.range, b.range, value) {
            Slopes::Each(in_a, in_b) => chain2(&a, &b, value, in_a, in_b),
            Slopes::OneOf(Which::First) => a.clone().into_owned(),
            Slopes::OneOf(Which::Second) => b.clone().into_owned(),
            Slopes::OneOf(Which::Either) => either(&a, &b, value),
        };
        self.placed(result, &[&a, &b], operation.domain(a.range, b.range))
    }

    fn select(self, condition: Reg, a: Reg, b: Reg) -> Enclosure {
        let (condition, a, b) = (self.of(condition), self.of(a), self.of(b));
        if condition.range == Interval::ZERO {
            b.into_owned()
        } else if condition.range == Interval::ONE {
            a.into_owned()
        } else {
            unknown(&[&condition, &a, &b], a.range.hull(b.range))
        }
    }

    fn outside(self, outside: Outside) -> Enclosure {
        match outside {
            Outside::Constant(value) => Enclosure::point(value),
            Outside::Source(source) => {
                let (low, high) = self.box_[source as usize];
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
            // Models are distinguished by `enclose`.
            Outside::Run => Enclosure::point(self.nominal[self.reg as usize]),
        }
    }
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
fn either(a: &Enclosure, b: &Enclosure, range: Interval) -> Enclosure {
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
