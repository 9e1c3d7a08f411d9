//! Handbook models in a proof: a field's range over ranges of the arguments, by the directions that are declared of it.

use crate::{
    evaluate::columns::Plan,
    handbook::{
        Input, LANES, Model,
        directions::{Direction, Directions, directions},
    },
    program::{Callee, Interval, Program, Step, WIDEST},
    units::{Unit, parse},
};

/// A model whose fields can be bounded.
pub(super) struct Bounded {
    pub(super) model: &'static Model,
    pub(super) fields: Vec<Field>,
    /// Sources that come to it by more than one argument, so that the arguments' ranges alone say too little.
    pub(super) entangled: Vec<bool>,
    /// Whether the whole box, which comes first, has been seen.
    pub(super) begun: bool,
    /// Arguments in SI, those that move with their column.
    pub(super) fixed: Vec<f64>,
    pub(super) moving: Vec<(usize, usize)>,
    pub(super) valid: Vec<Interval>,
}

/// A field that is read.
pub(super) struct Field {
    pub(super) number: usize,
    pub(super) column: usize,
    /// Ways in which it may go, of which the first that holds over a part counts.
    pub(super) ways: Vec<Directions>,
    /// The way that holds over the part that is being worked through.
    pub(super) way: Option<usize>,
    /// Whether it holds over the whole box, and so over every part.
    pub(super) settled: bool,
}

impl Bounded {
    pub(super) fn new(plan: &Plan<'_>, program: &Program, call: u32, sources: &[(u32, usize)]) -> Option<Self> {
        let Callee::Model(model) = program.calls[call as usize].callee else { return None };
        let moving = plan.moving_arguments(call).to_vec();
        let mut fields = Vec::new();
        plan.outputs(Step::Call(call), |field, column| {
            let mut ways = directions(model, field as usize);
            ways.retain(|way| moving.iter().all(|(argument, _)| way.by[*argument] != Direction::Unknown));
            fields.push(Field { number: field as usize, column, ways, way: None, settled: false });
        });
        if fields.iter().any(|field| field.ways.is_empty()) {
            return None;
        }
        let valid = model.parameters.iter().map(|parameter| match (&parameter.input, parameter.valid) {
            (Input::Quantity(symbol), Some((low, high))) => {
                let unit = parse(symbol).unwrap_or_else(Unit::one);
                let si = |number: f64| unit.to_si(number);
                // The ends themselves are in it, however they round.
                let slack = 1e-9 * si(low).abs().max(if high.is_finite() { si(high).abs() } else { 0.0 });
                Interval::new(si(low) - slack, si(high) + slack)
            }
            _ => Interval::ALL,
        });
        let entangled = sources.iter().map(|(_, column)| {
            let reached = plan.following([*column].into_iter()).columns;
            moving.iter().filter(|(_, column)| reached.contains(column)).count() > 1
        });
        let entangled = entangled.collect();
        Some(Self {
            model,
            fields,
            entangled,
            begun: false,
            fixed: plan.arguments(call).collect(),
            moving,
            valid: valid.collect(),
        })
    }

    /// Finds for each field the way that it goes over a part.
    pub(super) fn settle(&mut self, ranges: &[Interval]) {
        let Self { fields, fixed, moving, begun, .. } = self;
        if fields.iter().all(|field| field.settled) || moving.iter().any(|(_, column)| ranges[*column].is_none()) {
            return;
        }
        let holds = |where_: fn(&[f64]) -> bool| {
            moving.len() <= MOST_CORNERS
                && (0..1usize << moving.len()).all(|corner| {
                    let mut inputs = fixed.clone();
                    for (k, (argument, column)) in moving.iter().enumerate() {
                        let range = ranges[*column];
                        inputs[*argument] = if corner >> k & 1 == 0 { range.low } else { range.high };
                    }
                    where_(&inputs)
                })
        };
        for field in fields.iter_mut().filter(|field| !field.settled) {
            field.way = field.ways.iter().position(|way| way.where_.is_none_or(holds));
            field.settled = field.way.is_some() && !*begun;
        }
        *begun = true;
    }

    /// Runs it at the first few points of some columns, one after the other.
    #[allow(clippy::needless_range_loop)] // A lane runs across all columns, of which each is read or written by its number.
    pub(super) fn at(&self, points: &mut [[f64; LANES]], count: usize) {
        let mut inputs = [0.0; WIDEST];
        let mut outputs = [0.0; WIDEST];
        inputs[..self.fixed.len()].copy_from_slice(&self.fixed);
        for lane in 0..count {
            for (argument, column) in &self.moving {
                inputs[*argument] = points[*column][lane];
            }
            (self.model.evaluate)(&inputs[..self.fixed.len()], &mut outputs[..self.model.fields.len()]);
            for field in &self.fields {
                points[field.column][lane] = outputs[field.number];
            }
        }
    }

    /// What a field comes to: at the corners that its directions lead to, with some places for the model's own rounding.
    pub(super) fn range(&self, field: &Field, ranges: &[Interval]) -> Interval {
        let Some(way) = field.way.and_then(|way| field.ways.get(way)) else { return Interval::ALL };
        const ROUNDING: f64 = 1e-11;
        let mut low = [0.0; WIDEST];
        low[..self.fixed.len()].copy_from_slice(&self.fixed);
        let mut high = low;
        for (argument, column) in &self.moving {
            let range = ranges[*column];
            if range.is_none() {
                return Interval::NONE;
            }
            (low[*argument], high[*argument]) = match way.by[*argument] {
                Direction::Rises => (range.low, range.high),
                Direction::Falls => (range.high, range.low),
                Direction::Level => (range.low, range.low),
                Direction::Unknown => return Interval::ALL,
            };
        }
        let n = self.fixed.len();
        let inside =
            |inputs: &[f64]| inputs.iter().zip(&self.valid).all(|(x, valid)| *x >= valid.low && *x <= valid.high);
        if !inside(&low[..n]) || !inside(&high[..n]) {
            return Interval::ALL;
        }
        let mut outputs = [0.0; WIDEST];
        let mut at = |inputs: &[f64; WIDEST]| {
            (self.model.evaluate)(&inputs[..n], &mut outputs[..self.model.fields.len()]);
            outputs[field.number]
        };
        let (low, high) = (at(&low), at(&high));
        if low.is_nan() || high.is_nan() {
            return Interval::ALL;
        }
        let slack = |x: f64| if x.is_finite() { ROUNDING * x.abs() } else { 0.0 };
        Interval::new(low.min(high) - slack(low), high.max(low) + slack(high))
    }
}

/// Arguments at whose corners it is tried where a model's directions hold.
const MOST_CORNERS: usize = 8;
