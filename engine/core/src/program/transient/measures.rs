//! What is looked for while a system is followed: its event, the first time of a condition, extremes, values at given times,
//! and traces. All are looked for in the continuous extension of each step, at its quarters and between these.

use super::{Formula, Formulas, MeasureOf, Ran, Sampled, Stretch, System};

/// Looks of a step: its quarters.
const PARTS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// Halvings of a part of a step: to the last bit of a part.
const HALVINGS: usize = 52;
/// Golden sections of two parts of a step: an extreme is flat, so its value is exact long before its place is.
const SECTIONS: usize = 26;
/// How far beside an end its slope is looked for, as part of a step.
const BESIDE: f64 = 1e-4;
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// Looks at a run.
pub(super) struct Watch<'s, 't> {
    system: &'s System,
    times: &'s [f64],
    /// A number for each measure, so far.
    found: Vec<f64>,
    states: Vec<f64>,
    sampled: Option<&'s mut Sampled<'t>>,
    /// The samples that are taken.
    taken: usize,
}

impl<'s, 't> Watch<'s, 't> {
    pub(super) fn new(system: &'s System, times: &'s [f64], mut sampled: Option<&'s mut Sampled<'t>>) -> Self {
        if let Some(sampled) = &mut sampled {
            sampled.values = vec![vec![f64::NAN; sampled.times.len()]; system.traces.len()];
        }
        let found = vec![f64::NAN; system.measures.len()];
        Self { system, times, found, states: vec![0.0; system.states], sampled, taken: 0 }
    }

    /// Looks at the start; whether the event is there.
    pub(super) fn start(&mut self, formulas: &mut Formulas<'_>, starts: &[f64]) -> bool {
        self.states.copy_from_slice(starts);
        for (measure, found) in self.system.measures.iter().zip(&mut self.found) {
            let Some(formula) = &measure.formula else { continue };
            let value = formulas.value(0.0, starts, formula);
            match measure.of {
                MeasureOf::Greatest(_) | MeasureOf::Least(_) | MeasureOf::Last(_) => *found = value,
                MeasureOf::First(_) if value > 0.0 => *found = 0.0,
                MeasureOf::At(_, time) if self.times[time] == 0.0 => *found = value,
                MeasureOf::First(_) | MeasureOf::At(..) | MeasureOf::End => {}
            }
        }
        self.sample(formulas, None, 0.0, 0.0);
        self.system.until.as_ref().is_some_and(|until| formulas.value(0.0, starts, until) > 0.0)
    }

    /// Looks at a step; the time of the event, where it is in it.
    pub(super) fn look(
        &mut self,
        formulas: &mut Formulas<'_>,
        stretch: &dyn Stretch,
        from: f64,
        to: f64,
    ) -> Option<f64> {
        let mut along = Along { stretch, from, to, formulas, states: &mut self.states };
        let event = self.system.until.as_ref().and_then(|until| along.first_above(until, 1.0));
        let last = event.unwrap_or(1.0);
        let end = along.time(last);
        for (measure, found) in self.system.measures.iter().zip(&mut self.found) {
            let Some(formula) = &measure.formula else { continue };
            match measure.of {
                MeasureOf::End => {}
                MeasureOf::Greatest(_) => along.extreme(formula, last, 1.0, found),
                MeasureOf::Least(_) => along.extreme(formula, last, -1.0, found),
                MeasureOf::First(_) if found.is_nan() => {
                    if let Some(part) = along.first_above(formula, last) {
                        *found = along.time(part);
                    }
                }
                MeasureOf::First(_) => {}
                MeasureOf::Last(_) => *found = along.value(formula, last),
                MeasureOf::At(_, time) => {
                    let time = self.times[time];
                    if time > from && time <= end {
                        *found = along.value(formula, (time - from) / (to - from));
                    }
                }
            }
        }
        self.sample(formulas, Some(stretch), from, to);
        event.map(|_| end)
    }

    /// Takes the samples between two times.
    fn sample(&mut self, formulas: &mut Formulas<'_>, stretch: Option<&dyn Stretch>, from: f64, to: f64) {
        let Some(sampled) = &mut self.sampled else { return };
        while let Some(time) = sampled.times.get(self.taken).filter(|time| **time <= to) {
            if let Some(stretch) = stretch {
                stretch.at((time - from) / (to - from), &mut self.states);
            }
            for (trace, values) in self.system.traces.iter().zip(&mut sampled.values) {
                values[self.taken] = formulas.value(*time, &self.states, trace);
            }
            self.taken += 1;
        }
    }

    /// The numbers of a run that has ended.
    pub(super) fn finish(self, outputs: &mut [f64], ran: &Ran) {
        for ((measure, found), output) in self.system.measures.iter().zip(&self.found).zip(outputs) {
            *output = match measure.of {
                MeasureOf::End if ran.reached || !self.system.has_event() => ran.end,
                MeasureOf::End => f64::INFINITY,
                MeasureOf::First(_) if found.is_nan() => f64::INFINITY,
                _ => *found,
            };
        }
    }
}

/// A step, to be looked at.
struct Along<'a, 'f> {
    stretch: &'a dyn Stretch,
    from: f64,
    to: f64,
    formulas: &'a mut Formulas<'f>,
    states: &'a mut [f64],
}

impl Along<'_, '_> {
    fn time(&self, part: f64) -> f64 {
        if part == 1.0 { self.to } else { self.from + part * (self.to - self.from) }
    }

    fn value(&mut self, formula: &Formula, part: f64) -> f64 {
        self.stretch.at(part, self.states);
        let time = self.time(part);
        self.formulas.value(time, self.states, formula)
    }

    /// The first part of the step, up to `last`, at which a formula is above 0.
    fn first_above(&mut self, formula: &Formula, last: f64) -> Option<f64> {
        let mut low = 0.0;
        for part in PARTS {
            let part = part.min(last);
            if self.value(formula, part) > 0.0 {
                let mut high = part;
                for _ in 0..HALVINGS {
                    let middle = 0.5 * (low + high);
                    if middle <= low || middle >= high {
                        break;
                    }
                    if self.value(formula, middle) > 0.0 {
                        high = middle;
                    } else {
                        low = middle;
                    }
                }
                return Some(high);
            }
            low = part;
            if part == last {
                break;
            }
        }
        None
    }

    /// The greatest value (or the least, with sign −1) of a formula up to `last`, and of what was found before.
    fn extreme(&mut self, formula: &Formula, last: f64, sign: f64, found: &mut f64) {
        let parts = PARTS.map(|part| part * last);
        let start = self.value(formula, 0.0);
        let values = parts.map(|part| self.value(formula, part));
        let better = |a: f64, b: f64| sign * a > sign * b || b.is_nan();
        for value in values {
            if better(value, *found) {
                *found = value;
            }
        }
        // A quarter that is beyond both of its neighbours has an extreme beside it; so has the first or the last part, where the
        // formula goes the other way at its end.
        let all = [start, values[0], values[1], values[2], values[3]];
        let place = [0.0, parts[0], parts[1], parts[2], parts[3]];
        for at in 1..all.len() - 1 {
            if sign * all[at] >= sign * all[at - 1] && sign * all[at] >= sign * all[at + 1] {
                self.section(formula, (place[at - 1], place[at + 1]), sign, found);
            }
        }
        if sign * self.value(formula, BESIDE * last) > sign * start && sign * values[0] < sign * start {
            self.section(formula, (0.0, parts[0]), sign, found);
        }
        if sign * self.value(formula, (1.0 - BESIDE) * last) > sign * values[3] && sign * values[2] < sign * values[3] {
            self.section(formula, (parts[2], parts[3]), sign, found);
        }
    }

    /// Golden sections between two parts of the step.
    fn section(&mut self, formula: &Formula, (mut low, mut high): (f64, f64), sign: f64, found: &mut f64) {
        let inside = |low: f64, high: f64| (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (mut a, mut b) = inside(low, high);
        let (mut at_a, mut at_b) = (self.value(formula, a), self.value(formula, b));
        for _ in 0..SECTIONS {
            if sign * at_a > sign * at_b {
                (high, b, at_b) = (b, a, at_a);
                a = inside(low, high).0;
                at_a = self.value(formula, a);
            } else {
                (low, a, at_a) = (a, b, at_b);
                b = inside(low, high).1;
                at_b = self.value(formula, b);
            }
        }
        for value in [at_a, at_b] {
            if sign * value > sign * *found {
                *found = value;
            }
        }
    }
}
