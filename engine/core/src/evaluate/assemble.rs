//! From a checked worksheet to its results: nominal values, worst cases, verdicts, the state of safety notes.

use super::{
    design::Found,
    explain,
    extremes::{Extremes, Tolerances},
    preferred::Series,
    program::{Reg, Step},
    rust::{self, Runs},
    worst_cases::WorstCases,
};
use crate::{
    check::{Checked, CheckedChoice, CheckedKeep, CheckedNote, CheckedValue, Typed},
    problem::{Code, Problem},
    results::{ChoiceRow, ChoiceTable, End, LimitValue, NoteState, Role, Setting, Status, Value, Verdict, WorstCase},
    span::{LineIndex, Span},
    threads,
    units::{DisplayUnit, Kind, QuantityType, Unit, ValueType},
};

/// What a worksheet's statements and notes came to; the simulated builds add to it what they tell.
pub(super) struct Assembled {
    pub(super) values: Vec<Value>,
    pub(super) keeps: Vec<Verdict>,
    pub(super) notes: Vec<NoteState>,
    pub(super) choices: Vec<ChoiceTable>,
}

pub(super) struct Assembler<'a> {
    pub(super) source: &'a str,
    pub(super) checked: &'a Checked,
    pub(super) digits: u8,
    pub(super) lines: &'a LineIndex,
    pub(super) tolerances: &'a Tolerances<'a>,
    pub(super) worst_cases: WorstCases,
    /// Rust blocks at the nominal values.
    pub(super) runs: Runs,
    pub(super) threads: usize,
}

impl Assembler<'_> {
    pub(super) fn assemble(&self, problems: &mut Vec<Problem>) -> Assembled {
        self.report_undefined(problems);
        let range = |reg| {
            let nominal = self.nominal(reg);
            self.extremes_of(reg).map_or((nominal, nominal), |found| (found.low, found.high))
        };
        explain::validity(self.checked, self.tolerances, &range, problems);
        let values = self.checked.values.iter().map(|value| self.value(value, problems)).collect();
        let keeps = self.verdicts(problems);
        let notes = self.checked.notes.iter().map(|note| self.note(note)).collect();
        let choices = self.checked.choices.iter().map(|choice| self.choice(choice, problems)).collect();
        Assembled { values, keeps, notes, choices }
    }

    fn verdicts(&self, problems: &mut Vec<Problem>) -> Vec<Verdict> {
        let keeps = &self.checked.keeps;
        if !threads::SEVERAL {
            return keeps.iter().map(|keep| self.verdict(keep, problems)).collect();
        }
        let told = threads::each(keeps, self.threads, |keep| {
            let mut problems = Vec::new();
            (self.verdict(keep, &mut problems), problems)
        });
        let (verdicts, found): (_, Vec<_>) = told.into_iter().unzip();
        problems.extend(found.into_iter().flatten());
        verdicts
    }

    pub(super) fn nominal(&self, reg: Reg) -> f64 {
        self.tolerances.nominal[reg as usize]
    }

    pub(super) fn extremes_of(&self, reg: Reg) -> Option<&Extremes> {
        self.worst_cases.of(reg)
    }

    /// Values without a finite nominal number: the first says why, what builds on it refers back.
    fn report_undefined(&self, problems: &mut Vec<Problem>) {
        let mut explained: Vec<(Reg, usize)> = Vec::new();
        // A field may well be endless (a time that never comes); whatever is worked out from it may not.
        let named = self.checked.values.iter().filter(|value| value.role != Role::Field);
        let named = named.map(|value| (value.typed.reg, value.span)).filter(|(reg, _)| !self.nominal(*reg).is_finite());
        let kept = self.checked.keeps.iter().flat_map(|keep| {
            let bounds = keep.lower.iter().chain(&keep.upper).map(|(bound, _)| bound.reg);
            bounds.chain([keep.subject.reg]).map(|reg| (reg, keep.span)).collect::<Vec<_>>()
        });
        let kept = kept.filter(|(reg, _)| self.nominal(*reg).is_nan());
        let mut last = None;
        for (reg, span) in named.chain(kept) {
            if last == Some(span) {
                continue;
            }
            last = Some(span);
            let origin = self.first_undefined(reg);
            let line = self.lines.line(span.start);
            if rust::failed_at(self.checked, &self.runs, origin) {
                // The block tells why; its own results need not.
                if !matches!(self.checked.program.steps[reg as usize], Step::Output(..)) {
                    let message = "this has no value, because of a Rust block that came to nothing";
                    problems.push(Problem::new(Code::DependsOnError, span, message));
                }
                continue;
            }
            match explained.iter().find(|(known, _)| *known == origin) {
                Some((_, first)) if *first != line => {
                    let message = format!("this has no finite value, because of line {first}");
                    problems.push(Problem::new(Code::DependsOnError, span, message));
                }
                Some(_) => {}
                None => {
                    let (message, help) = explain::undefined(self.checked, self.tolerances, origin);
                    let sought = matches!(self.checked.program.steps[origin as usize], Step::Sought(..));
                    let code = if sought { Code::Solve } else { Code::NotFinite };
                    problems.push(Problem::new(code, span, message).help(help));
                    explained.push((origin, line));
                }
            }
        }
    }

    pub(super) fn first_undefined(&self, reg: Reg) -> Reg {
        let cone = self.tolerances.cone(&[reg]);
        cone.into_iter().find(|step| !self.nominal(*step).is_finite()).unwrap_or(reg)
    }

    fn value(&self, value: &CheckedValue, problems: &mut Vec<Problem>) -> Value {
        let nominal = self.nominal(value.typed.reg);
        let worst = match value.typed.margin {
            None => self.worst(value.typed.reg, Some((value.span, &value.name)), problems),
            Some(margin) => self.worst_condition(value.typed.reg, margin),
        };
        Value {
            name: value.name.clone(),
            label: value.label.clone(),
            span: value.span,
            role: value.role,
            value_type: value.typed.value_type,
            unit: display(value.typed.value_type, value.unit.as_ref(), nominal),
            digits: value.digits.unwrap_or(self.digits),
            nominal,
            worst,
            spread: None,
            shares: Vec::new(),
            first_order: None,
        }
    }

    fn worst(&self, reg: Reg, named: Option<(Span, &str)>, problems: &mut Vec<Problem>) -> Option<WorstCase> {
        let extremes = self.extremes_of(reg)?;
        if extremes.low.is_nan() || extremes.high.is_nan() || self.nominal(reg).is_nan() {
            return None;
        }
        if let (Some(step), Some((span, name))) = (extremes.unbounded, named) {
            let message = explain::unbounded(self.checked, step, extremes, name, self.source);
            let (code, help) = if extremes.zero_by_zero {
                (Code::ZeroByZero, "rearrange the formula so that nothing is divided by zero")
            } else {
                (Code::Unbounded, "narrow a tolerance, or rearrange the formula")
            };
            problems.push(Problem::new(code, span, message).help(help));
        }
        Some(self.worst_of(extremes))
    }

    fn worst_of(&self, extremes: &Extremes) -> WorstCase {
        let settings = |at: &[(u32, f64, End)]| {
            let setting = |(source, value, end): &(u32, f64, End)| Setting {
                name: self.checked.program.sources[*source as usize].name.clone(),
                value: *value,
                end: *end,
            };
            at.iter().map(setting).collect()
        };
        WorstCase {
            low: extremes.low,
            high: extremes.high,
            low_at: settings(&extremes.low_at),
            high_at: settings(&extremes.high_at),
            found: extremes.found,
            enclosure: extremes.enclosure,
        }
    }

    /// A condition varies where its margin changes sides over the box.
    fn worst_condition(&self, truth: Reg, margin: Reg) -> Option<WorstCase> {
        let extremes = self.extremes_of(margin)?;
        let (low, high) = (self.truth_at(truth, &extremes.low_at), self.truth_at(truth, &extremes.high_at));
        (low != high).then(|| WorstCase { low, high, enclosure: (0.0, 1.0), ..self.worst_of(extremes) })
    }

    fn truth_at(&self, truth: Reg, at: &[(u32, f64, End)]) -> f64 {
        self.at(at, &[truth]).first().copied().unwrap_or(f64::NAN)
    }

    /// Registers with some sources set to other values.
    fn at(&self, at: &[(u32, f64, End)], regs: &[Reg]) -> Vec<f64> {
        let changes: Vec<(u32, f64)> = at.iter().map(|(source, value, _)| (*source, *value)).collect();
        self.tolerances.probe(&changes, regs)
    }

    fn verdict(&self, keep: &CheckedKeep, problems: &mut Vec<Problem>) -> Verdict {
        let nominal = self.nominal(keep.subject.reg);
        let mut margin: Option<f64> = None;
        let mut margin_worst: Option<f64> = None;
        let (mut spare, mut spare_worst): (Option<f64>, Option<f64>) = (None, None);
        let mut status = if nominal.is_nan() { Status::Broken } else { Status::Holds };
        let mut nearest: Option<(f64, Reg)> = None;
        let mut proven = true;
        for (bound, distance) in keep.lower.iter().chain(&keep.upper) {
            let at_nominal = self.nominal(*distance);
            let extremes = self.extremes_of(*distance);
            let least = extremes.map_or(at_nominal, |extremes| extremes.low);
            // Without a value over part of the box, it holds only where it has one.
            let partial = extremes.is_some_and(|extremes| extremes.unbounded.is_some() && !extremes.zero_by_zero);
            let surely = extremes.map_or(at_nominal, Extremes::surely_least);
            // Rounding alone breaks nothing.
            let slack = 1e-12 * self.nominal(bound.reg).abs();
            // A distance without a value, at nominal or anywhere in the box, cannot hold.
            if at_nominal.is_nan() || at_nominal < -slack {
                status = Status::Broken;
            } else if status == Status::Holds && (partial || least.is_nan() || least < -slack) {
                (status, proven) = (Status::AtRisk, true);
            } else if status == Status::Holds && surely < -slack {
                proven = false;
            }
            let size = bound_size(*bound, self.nominal(bound.reg), keep.unit.as_ref());
            let share = |distance: f64| (size > 0.0 && distance.is_finite()).then(|| distance / size);
            margin = lesser(margin, share(at_nominal));
            margin_worst = lesser(margin_worst, share(least));
            spare = lesser(spare, Some(at_nominal));
            spare_worst = lesser(spare_worst, Some(least));
            if nearest.is_none_or(|(other, _)| least < other) {
                nearest = Some((least, *distance));
            }
        }
        if status != Status::Holds {
            proven = true;
        } else if !proven {
            status = Status::AtRisk;
        }
        if let Some(margin) = keep.subject.margin {
            let extremes = self.extremes_of(margin);
            let worst = extremes.map_or(nominal, |extremes| self.truth_at(keep.subject.reg, &extremes.low_at));
            status = match (nominal != 0.0, worst != 0.0) {
                (true, true) => Status::Holds,
                (true, false) => Status::AtRisk,
                (false, _) => Status::Broken,
            };
            let endless = extremes.is_some_and(|found| found.low == f64::NEG_INFINITY);
            if status == Status::Holds && endless {
                status = Status::AtRisk;
            } else if status == Status::Holds && extremes.is_some_and(|found| found.surely_least() < found.low.min(0.0))
            {
                (status, proven) = (Status::AtRisk, false);
            }
            nearest = Some((worst, margin));
        }
        let limit = |bound: &Option<(Typed, Reg)>, lower: bool| {
            let (typed, _) = bound.as_ref()?;
            let nominal = self.nominal(typed.reg);
            let tightest =
                self.extremes_of(typed.reg).map_or(nominal, |found| if lower { found.high } else { found.low });
            Some(LimitValue { nominal, tightest })
        };
        Verdict {
            label: keep.label.clone(),
            span: keep.span,
            status,
            proven,
            value_type: keep.subject.value_type,
            nominal,
            worst: match keep.subject.margin {
                None => self.worst(keep.subject.reg, self.unnamed(keep), problems),
                Some(margin) => self.worst_condition(keep.subject.reg, margin),
            },
            unit: display(keep.subject.value_type, keep.unit.as_ref(), nominal),
            digits: self.digits,
            lower: limit(&keep.lower, true),
            upper: limit(&keep.upper, false),
            margin,
            margin_worst,
            spare,
            spare_worst,
            spread: None,
            fails: None,
            remedies: if status == Status::Holds || !proven { Vec::new() } else { self.remedies(keep) },
            blame: nearest.and_then(|(_, distance)| self.blame(distance, if proven { status } else { Status::Holds })),
        }
    }

    /// What a requirement is about, where no value's own line tells of it.
    fn unnamed(&self, keep: &CheckedKeep) -> Option<(Span, &str)> {
        let told = self.checked.values.iter().any(|value| value.typed.reg == keep.subject.reg);
        (!told).then(|| (keep.subject_span, keep.subject_span.text(self.source)))
    }

    /// The given that costs a distance the most; where all is well, the one that can move it the furthest.
    fn blame(&self, distance: Reg, status: Status) -> Option<String> {
        let source = match status {
            Status::Holds => self.extremes_of(distance)?.heaviest,
            Status::AtRisk | Status::Broken => self.blamed(distance),
        };
        source.map(|source| self.checked.program.sources[source as usize].name.clone())
    }

    /// The source that, put back to its nominal value at the worst corner, wins a distance the most.
    pub(super) fn blamed(&self, distance: Reg) -> Option<u32> {
        let extremes = self.extremes_of(distance)?;
        let corner: Vec<(u32, f64)> = extremes.low_at.iter().map(|(source, value, _)| (*source, *value)).collect();
        let mut best: Option<(f64, u32)> = None;
        for i in 0..corner.len() {
            let mut cured = corner.clone();
            cured[i].1 = self.tolerances.centre[corner[i].0 as usize];
            let at_cured = self.tolerances.probe(&cured, &[distance]);
            let gain = at_cured.first().copied().unwrap_or(f64::NAN) - extremes.low;
            if gain > 0.0 && best.is_none_or(|(other, _)| gain > other) {
                best = Some((gain, corner[i].0));
            }
        }
        best.map(|(_, source)| source)
    }

    /// The best combinations, each with its worst case: the tolerances of the chosen parts go with their values.
    fn choice(&self, choice: &CheckedChoice, problems: &mut Vec<Problem>) -> ChoiceTable {
        let search = &self.checked.program.searches[choice.search as usize];
        let target = self.nominal(choice.target);
        let empty = Found::default();
        let found = search.found.get().unwrap_or(&empty);
        if found.points.is_empty() {
            let message = "no combination of preferred values gives a result here";
            let help = "check the target, and the span that the values may come from";
            problems.push(Problem::new(Code::Solve, choice.span, message).help(help));
        }
        let order = self.tolerances.cone(&[choice.subject.reg]);
        let rows = found.points.iter().zip(&found.values).map(|(point, result)| {
            let mut trial = self.tolerances.again();
            for ((_, source, ..), value) in choice.givens.iter().zip(point) {
                trial.replace_part(*source, *value, &order);
            }
            let extremes = trial.extremes(&[choice.subject.reg], &order).pop().flatten();
            let shown = choice.givens.iter().zip(point).map(|((_, _, value_type, _), value)| {
                let digits = Series::named(choice.series).map_or(3, Series::digits);
                display(*value_type, None, *value).show(*value, digits)
            });
            ChoiceRow {
                values: point.clone(),
                shown: shown.collect(),
                result: *result,
                error: (target != 0.0).then(|| (result - target) / target.abs()),
                worst: extremes.map(|found| (found.low, found.high)),
            }
        });
        ChoiceTable {
            label: choice.label.clone(),
            span: choice.span,
            series: choice.series,
            givens: choice.givens.iter().map(|given| given.0.clone()).collect(),
            subject: choice.subject_span.text(self.source).to_owned(),
            target,
            unit: display(choice.subject.value_type, choice.unit.as_ref(), target),
            digits: self.digits,
            rows: rows.collect(),
        }
    }

    fn note(&self, note: &CheckedNote) -> NoteState {
        let mut state = NoteState {
            signal: note.signal,
            span: note.span,
            shown: true,
            condition: note.condition.as_ref().map(|(_, span)| *span),
            met_by: Vec::new(),
        };
        let Some((condition, _)) = note.condition.as_ref().filter(|_| !note.failed) else { return state };
        let at = condition.margin.and_then(|margin| self.extremes_of(margin)).map(|extremes| &extremes.high_at[..]);
        let corner = at.unwrap_or(&[]);
        // Anything but a plain "no" shows the note: what cannot be worked out is no reason for silence.
        let nominal = self.nominal(condition.reg);
        let truth = self.truth_at(condition.reg, corner);
        let undefined = condition.margin.is_some_and(|margin| self.nominal(margin).is_nan());
        state.shown = nominal != 0.0 || truth != 0.0 || undefined;
        let regs: Vec<Reg> = note.compared.iter().map(|(_, typed, _)| typed.reg).collect();
        let corner = if truth != 0.0 { corner } else { &[] };
        for ((name, typed, unit), value) in note.compared.iter().zip(self.at(corner, &regs)) {
            let shown = match typed.value_type {
                ValueType::Condition => if value == 0.0 { "no" } else { "yes" }.to_owned(),
                value_type => display(value_type, unit.as_ref(), value).show(value, self.digits),
            };
            state.met_by.push((name.clone(), shown));
        }
        state
    }
}

/// The unit a value is shown in: its author's, or one with a fitting prefix.
pub(super) fn display(value_type: ValueType, unit: Option<&Unit>, nominal: f64) -> DisplayUnit {
    match (unit, value_type) {
        (Some(unit), _) => DisplayUnit::declared(unit.clone()),
        (None, ValueType::Quantity(quantity)) => DisplayUnit::picked(quantity, nominal),
        (None, ValueType::Condition) => DisplayUnit::picked(QuantityType::NUMBER, nominal),
    }
}

/// What a margin is a fraction of: the bound, in SI; for a temperature, its number on the scale shown.
fn bound_size(bound: Typed, nominal: f64, unit: Option<&Unit>) -> f64 {
    match bound.value_type {
        ValueType::Quantity(QuantityType { kind: Kind::Temperature, .. }) => {
            let scale = display(bound.value_type, unit, nominal).unit;
            (scale.of_si(nominal) * scale.factor).abs()
        }
        _ => nominal.abs(),
    }
}

fn lesser(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
