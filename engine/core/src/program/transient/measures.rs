//! What is looked for while a system is followed: its event, the first time of a condition, extremes, values at given times,
//! and traces. All are looked for in the continuous extension of each step, at its quarters and between these.

use super::{Formula, Formulas, MeasureOf, Ran, Sampled, Stretch, System};

/// Looks of a step: its quarters.
const PARTS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// Most trials of the place of an event in a step, every third of them a halving.
const TRIALS: usize = 120;
/// How exactly the place of an event is found, as part of a step.
const EXACT: f64 = 1e-14;
/// Golden sections of a part of a step: an extreme is flat, so its value is exact long before its place is.
const SECTIONS: usize = 26;
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// Looks at a run.
pub(super) struct Watch<'s, 't> {
    system: &'s System,
    times: &'s [f64],
    /// A number for each measure, so far.
    found: Vec<f64>,
    /// What the event and each measure are at the last quarters, oldest first; the event comes first.
    looks: [Vec<f64>; 5],
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
        let looks = std::array::from_fn(|_| vec![f64::NAN; 1 + system.measures.len()]);
        Self { system, times, found, looks, states: vec![0.0; system.states], sampled, taken: 0 }
    }

    /// Looks at the start; whether the event is there.
    pub(super) fn start(&mut self, formulas: &mut Formulas<'_>, starts: &[f64]) -> bool {
        self.states.copy_from_slice(starts);
        formulas.look(0.0, starts, &mut self.looks[4]);
        for ((measure, found), value) in self.system.measures.iter().zip(&mut self.found).zip(&self.looks[4][1..]) {
            match measure.of {
                MeasureOf::Greatest(_) | MeasureOf::Least(_) | MeasureOf::Last(_) => *found = *value,
                MeasureOf::First(_) if *value > 0.0 => *found = 0.0,
                MeasureOf::At(_, time) if self.times[time] == 0.0 => *found = *value,
                MeasureOf::First(_) | MeasureOf::At(..) | MeasureOf::End => {}
            }
        }
        self.sample(formulas, None, 0.0, 0.0);
        self.looks[4][0] > 0.0
    }

    /// Looks at a step; the time of the event, where it is in it.
    pub(super) fn look(
        &mut self,
        formulas: &mut Formulas<'_>,
        stretch: &dyn Stretch,
        from: f64,
        to: f64,
    ) -> Option<f64> {
        let Self { system, times, found, looks, states, .. } = self;
        looks.swap(0, 4);
        let mut along = Along { stretch, from, to, formulas, states };
        for (part, look) in PARTS.iter().zip(&mut looks[1..]) {
            along.look(*part, look);
        }
        let mut last = 1.0;
        let mut event = None;
        if let Some(until) = &system.until
            && let Some(at) = (1..looks.len()).find(|at| looks[*at][0] > 0.0)
        {
            last = along.crossing(until, (part_of(at - 1), part_of(at)), (looks[at - 1][0], looks[at][0]));
            event = Some(last);
            // What comes behind the event does not count; the event itself is looked at as the last quarter.
            along.look(last, &mut looks[at]);
            for later in at + 1..looks.len() {
                looks[later] = looks[at].clone();
            }
        }
        let end = along.time(last);
        for (number, (measure, found)) in system.measures.iter().zip(found).enumerate() {
            let Some(formula) = &measure.formula else { continue };
            let values: [f64; 5] = std::array::from_fn(|at| looks[at][1 + number]);
            let places: [f64; 5] = std::array::from_fn(|at| part_of(at).min(last));
            match measure.of {
                MeasureOf::End => {}
                MeasureOf::Greatest(_) => along.extreme(formula, &places, &values, 1.0, found),
                MeasureOf::Least(_) => along.extreme(formula, &places, &values, -1.0, found),
                MeasureOf::First(_) if found.is_nan() => {
                    if let Some(at) = (1..values.len()).find(|at| values[*at] > 0.0) {
                        let part = along.crossing(formula, (places[at - 1], places[at]), (values[at - 1], values[at]));
                        *found = along.time(part);
                    }
                }
                MeasureOf::First(_) => {}
                MeasureOf::Last(_) => *found = values[4],
                MeasureOf::At(_, time) => {
                    let time = times[time];
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

/// A look's part of a step.
fn part_of(look: usize) -> f64 {
    look as f64 / 4.0
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

    /// The event and all measures at a part of the step.
    fn look(&mut self, part: f64, values: &mut [f64]) {
        self.stretch.at(part, self.states);
        let time = self.time(part);
        self.formulas.look(time, self.states, values);
    }

    fn value(&mut self, formula: &Formula, part: f64) -> f64 {
        self.stretch.at(part, self.states);
        let time = self.time(part);
        self.formulas.value(time, self.states, formula)
    }

    /// Where a formula rises above 0 between two parts of the step, at the latter of which it is above: by false position
    /// (the Illinois rule), with a halving at every third trial.
    fn crossing(
        &mut self,
        formula: &Formula,
        (mut low, mut high): (f64, f64),
        (mut below, mut above): (f64, f64),
    ) -> f64 {
        let mut stayed = 0;
        for trial in 1..=TRIALS {
            if high - low <= EXACT {
                break;
            }
            let guess = high - above * (high - low) / (above - below);
            let at = if trial % 3 == 0 || !(guess > low && guess < high) { 0.5 * (low + high) } else { guess };
            if at <= low || at >= high {
                break;
            }
            let value = self.value(formula, at);
            if value > 0.0 {
                (high, above) = (at, value);
                below *= if stayed > 0 { 0.5 } else { 1.0 };
                stayed = 1;
            } else {
                (low, below) = (at, value);
                above *= if stayed < 0 { 0.5 } else { 1.0 };
                stayed = -1;
            }
        }
        high
    }

    /// The greatest value (or the least, with sign −1) of a formula on the step, and of what was found before.
    fn extreme(&mut self, formula: &Formula, places: &[f64; 5], values: &[f64; 5], sign: f64, found: &mut f64) {
        for value in values {
            if sign * value > sign * *found || found.is_nan() {
                *found = *value;
            }
        }
        for at in 1..values.len() - 1 {
            let [before, here, after] = [values[at - 1], values[at], values[at + 1]].map(|value| sign * value);
            let (low, middle, high) = (places[at - 1], places[at], places[at + 1]);
            // A quarter beyond both of its neighbours has an extreme beside it. So has the first or the last part of a step
            // where the parabola through three quarters turns within it.
            if before == here && here == after {
                continue;
            }
            // What cannot go beyond what was found is not looked at: a parabola does not, and a kink rises no further than its
            // neighbours lie apart.
            let bend = after - 2.0 * here + before;
            let top = here + (after - before) * (after - before) / (8.0 * bend.abs());
            if top + (here - before).abs() + (here - after).abs() <= sign * *found {
                continue;
            }
            if here >= before && here >= after {
                self.section(formula, (low, high), sign, found);
                continue;
            }
            let turn = 0.5 * (before - after) / bend;
            if bend < 0.0 && at == 1 && turn > -1.0 && turn < 0.0 {
                self.section(formula, (low, middle), sign, found);
            } else if bend < 0.0 && at == values.len() - 2 && turn > 0.0 && turn < 1.0 {
                self.section(formula, (middle, high), sign, found);
            }
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
