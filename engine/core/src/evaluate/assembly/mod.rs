//! Puts results together: each value, verdict and note from its nominal value, its worst case and its simulated builds.

mod exercises;
mod explain;
mod judgement;
pub(super) mod rust;
pub(super) mod transient;

use std::{collections::BTreeMap, sync::Mutex};

use benchleaf_words::phrase;

pub(super) use explain::ValidRange;
use judgement::truth_at;
pub(super) use judgement::{Judgement, is_broken, judge};
use rust::Runs;

use super::{
    simulation::Sampling,
    tolerances::Tolerances,
    worst_case::{Extremes, WorstCases},
};
use crate::{
    check::{Checked, CheckedChoice, CheckedKeep, CheckedNote, CheckedPotentials, CheckedValue},
    parallel::{self, locked},
    preferred::Series,
    problem::{Code, Problem},
    program::{Callee, Reg, SearchResult, Standing, Step},
    results::{ChoiceRow, ChoiceTable, End, GivenValue, ModelCall, NoteState, Role, Status, Value, Verdict, WorstCase},
    sheet::Signal,
    span::{LineIndex, Span},
    units::{DisplayUnit, ValueType},
};

/// The results of a worksheet's statements and notes.
pub(super) struct Assembled {
    pub(super) values: Vec<Value>,
    pub(super) keeps: Vec<Verdict>,
    pub(super) notes: Vec<NoteState>,
    pub(super) choices: Vec<ChoiceTable>,
    pub(super) calls: Vec<ModelCall>,
    pub(super) potentials: Vec<Vec<Option<f64>>>,
}

/// Volts or amperes that are rounding, and no potential or current.
pub(super) const NOTHING: f64 = 1e-9;

pub(super) struct Assembler<'a> {
    pub(super) source: &'a str,
    pub(super) checked: &'a Checked,
    pub(super) digits: u8,
    pub(super) lines: &'a LineIndex,
    pub(super) tolerances: &'a Tolerances<'a>,
    pub(super) worst_cases: &'a WorstCases,
    pub(super) sampling: &'a Sampling<'a>,
    /// Rust blocks at the nominal values.
    pub(super) runs: &'a Runs,
    /// `transient` blocks at the nominal values.
    pub(super) transients: &'a transient::Runs,
}

impl Assembler<'_> {
    pub(super) fn assemble(&self, judgements: Vec<Judgement>, problems: &mut Vec<Problem>) -> Assembled {
        self.report_undefined(problems);
        let range = |reg| {
            let nominal = self.nominal(reg);
            self.extremes_of(reg).map_or((nominal, nominal), |found| (found.low, found.high))
        };
        explain::validity(self.checked, self.tolerances, &range, problems);
        self.report_assumptions(problems);
        let values = self.values(problems);
        let judged = self.checked.keeps.iter().zip(judgements);
        let keeps = judged.map(|(keep, judgement)| self.verdict(keep, judgement, problems)).collect();
        let notes = self.checked.notes.iter().map(|note| self.note(note)).collect();
        let choices = self.checked.choices.iter().map(|choice| self.choice(choice, problems)).collect();
        let calls = self.checked.records.iter().filter_map(|(record, call)| self.call(record, *call)).collect();
        let potentials = self.checked.potentials.iter().map(|circuit| self.potentials(circuit)).collect();
        Assembled { values, keeps, notes, choices, calls, potentials }
    }

    /// The potentials of a circuit's nets; none where what they take for granted is not so.
    fn potentials(&self, circuit: &CheckedPotentials) -> Vec<Option<f64>> {
        let holds = circuit.assumed.iter().all(|reg| self.nominal(*reg) >= -NOTHING);
        let known = |reg: Reg| Some(self.nominal(reg)).filter(|si| holds && si.is_finite());
        circuit.nets.iter().map(|reg| reg.and_then(known)).collect()
    }

    /// What the solution of a circuit took for granted, and what is not so, at the nominal values or somewhere in the box.
    fn report_assumptions(&self, problems: &mut Vec<Problem>) {
        for assumption in &self.checked.assumptions {
            let low = self.extremes_of(assumption.reg).map_or(f64::INFINITY, |found| found.low);
            let message = match (self.nominal(assumption.reg) < -NOTHING, low < -NOTHING) {
                (true, _) => assumption.message.clone(),
                (false, true) => {
                    phrase!(EVALUATE_ASSEMBLY_SOMEWHERE_WITHIN_THE_TOLERANCES, sentence = assumption.message)
                }
                (false, false) => continue,
            };
            problems.push(Problem::new(Code::CircuitCheck, assumption.span, message).help(&assumption.help));
        }
    }

    fn call(&self, record: &str, call: u32) -> Option<ModelCall> {
        let call = self.checked.program.calls.get(call as usize)?;
        let Callee::Model(model) = call.callee else { return None };
        let inputs = call.inputs.iter().map(|reg| self.nominal(*reg)).collect();
        Some(ModelCall { record: record.to_owned(), model, inputs })
    }

    /// Values, each made by one of the threads; their problems stand in reading order.
    fn values(&self, problems: &mut Vec<Problem>) -> Vec<Value> {
        let reported = Mutex::new(BTreeMap::new());
        let values = parallel::each(self.checked.values.iter().enumerate(), |(place, value)| {
            let mut problems = Vec::new();
            let value = self.value(value, &mut problems);
            if !problems.is_empty() {
                locked(&reported).insert(place, problems);
            }
            value
        });
        problems.extend(std::mem::take(&mut *locked(&reported)).into_values().flatten());
        values
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
            if rust::failed_at(self.checked, self.runs, origin) {
                // The block says why; its own results need not.
                if !matches!(self.checked.program.steps[reg as usize], Step::Output(..)) {
                    let message = phrase!(EVALUATE_ASSEMBLY_THIS_HAS_NO_VALUE_BECAUSE);
                    problems.push(Problem::new(Code::DependsOnError, span, message));
                }
                continue;
            }
            if transient::failed_at(self.checked, self.transients, origin) {
                if !matches!(self.checked.program.steps[reg as usize], Step::Output(..)) {
                    let message = phrase!(EVALUATE_ASSEMBLY_THIS_HAS_NO_VALUE_BECAUSE_OF_A_BLOCK);
                    problems.push(Problem::new(Code::DependsOnError, span, message));
                }
                continue;
            }
            match explained.iter().find(|(known, _)| *known == origin) {
                Some((_, first)) if *first != line => {
                    let message = phrase!(EVALUATE_ASSEMBLY_THIS_HAS_NO_FINITE_VALUE, first = first);
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

    /// The step that a register without a finite value has it from; a branch that is not taken is none of its causes.
    pub(super) fn first_undefined(&self, mut reg: Reg) -> Reg {
        let program = &self.checked.program;
        loop {
            let mut cause = None;
            let mut look = |input: Reg| cause = cause.or((!self.nominal(input).is_finite()).then_some(input));
            match program.steps[reg as usize] {
                Step::Select(condition, yes, no) => {
                    look(condition);
                    look(if self.nominal(condition) == 0.0 { no } else { yes });
                }
                Step::Output(call, _) => program.inputs(call, look),
                _ => program.inputs(reg, look),
            }
            match cause {
                Some(cause) => reg = cause,
                None => return reg,
            }
        }
    }

    fn value(&self, value: &CheckedValue, problems: &mut Vec<Problem>) -> Value {
        let nominal = self.nominal(value.typed.reg);
        let worst = match value.typed.margin {
            None => {
                let called = match value.label.as_deref().filter(|_| value.role == Role::Field) {
                    Some(label) => format!("`{}` ({})", value.name, label.trim_end_matches('.')),
                    None => format!("`{}`", value.name),
                };
                self.worst(value.typed.reg, Some((value.span, called)), problems)
            }
            Some(margin) => self.worst_condition(value.typed.reg, margin),
        };
        let reg = value.typed.reg;
        let is_simulated = value.typed.margin.is_none() && nominal.is_finite();
        // A given is no result: it has no shares.
        let is_result = is_simulated && self.tolerances.source_of(reg).is_none();
        Value {
            name: value.name.clone(),
            label: value.label.clone(),
            span: value.span,
            role: value.role,
            value_type: value.typed.value_type,
            unit: DisplayUnit::fitting(value.typed.value_type, value.unit.as_ref(), nominal),
            digits: value.digits.unwrap_or(self.digits),
            nominal,
            worst,
            spread: is_simulated.then(|| self.sampling.spread(reg)).flatten(),
            shares: if is_result { self.sampling.shares(reg) } else { Vec::new() },
            first_order: is_result.then(|| self.sampling.first_order(reg)).flatten(),
            origin: value.origin.clone(),
        }
    }

    fn worst(&self, reg: Reg, named: Option<(Span, String)>, problems: &mut Vec<Problem>) -> Option<WorstCase> {
        let extremes = self.extremes_of(reg)?;
        if extremes.low.is_nan() || extremes.high.is_nan() || self.nominal(reg).is_nan() {
            return None;
        }
        if let (Some(step), Some((span, called))) = (extremes.unbounded, named) {
            let message = explain::unbounded(self.checked, step, extremes, &called, self.source);
            let (code, help) = if extremes.zero_by_zero {
                (Code::ZeroByZero, phrase!(EVALUATE_ASSEMBLY_REARRANGE_THE_FORMULA_SO))
            } else {
                (Code::Unbounded, phrase!(EVALUATE_ASSEMBLY_NARROW_A_TOLERANCE_OR_REARRANGE))
            };
            problems.push(Problem::new(code, span, message).help(help));
        }
        Some(self.worst_of(extremes))
    }

    fn worst_of(&self, extremes: &Extremes) -> WorstCase {
        let settings = |at: &[(u32, f64, End)]| {
            let setting = |(source, value, end): &(u32, f64, End)| GivenValue {
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
            certainty: extremes.certainty,
            enclosure: extremes.enclosure,
        }
    }

    /// A condition varies where its margin changes sides over the box.
    fn worst_condition(&self, truth: Reg, margin: Reg) -> Option<WorstCase> {
        let extremes = self.extremes_of(margin)?;
        let (low, high) =
            (truth_at(self.tolerances, truth, &extremes.low_at), truth_at(self.tolerances, truth, &extremes.high_at));
        (low != high).then(|| WorstCase { low, high, enclosure: (0.0, 1.0), ..self.worst_of(extremes) })
    }

    /// Registers with some sources set to other values.
    fn at(&self, at: &[(u32, f64, End)], regs: &[Reg]) -> Vec<f64> {
        let changes: Vec<(u32, f64)> = at.iter().map(|(source, value, _)| (*source, *value)).collect();
        self.tolerances.probe(&changes, regs)
    }

    fn verdict(&self, keep: &CheckedKeep, judgement: Judgement, problems: &mut Vec<Problem>) -> Verdict {
        let nominal = self.nominal(keep.subject.reg);
        let is_quantity = keep.subject.margin.is_none();
        let Judgement { status, proven, lower, upper, margin, margin_worst, spare, spare_worst, remedies, blame } =
            judgement;
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
            unit: DisplayUnit::fitting(keep.subject.value_type, keep.unit.as_ref(), nominal),
            digits: self.digits,
            lower,
            upper,
            margin,
            margin_worst,
            spare,
            spare_worst,
            spread: is_quantity.then(|| self.sampling.spread(keep.subject.reg)).flatten(),
            fails: self.sampling.fails(keep),
            remedies,
            blame,
        }
    }

    /// What a requirement is about, where no value's own line shows it.
    fn unnamed(&self, keep: &CheckedKeep) -> Option<(Span, String)> {
        let reported = self.checked.named().any(|value| value.typed.reg == keep.subject.reg);
        (!reported).then(|| (keep.subject_span, format!("`{}`", keep.subject_span.text(self.source))))
    }

    /// The best combinations, each with its worst case: the tolerances of the chosen parts go with their values.
    fn choice(&self, choice: &CheckedChoice, problems: &mut Vec<Problem>) -> ChoiceTable {
        let target = self.nominal(choice.target);
        let empty = SearchResult::default();
        let found = self.tolerances.state.found(choice.search).unwrap_or(&empty);
        if found.points.is_empty() {
            let (message, help) = explain::no_combination(found);
            problems.push(Problem::new(Code::Solve, choice.span, message).help(help));
        }
        let order = self.tolerances.needed(&[choice.subject.reg]);
        let rows = found.points.iter().zip(&found.values).enumerate().map(|(i, (point, result))| {
            let mut trial = self.tolerances.copied();
            for ((_, source, ..), value) in choice.givens.iter().zip(point) {
                trial.replace_part(*source, *value, &order);
            }
            let extremes = trial.extremes(&[choice.subject.reg], &order).pop().flatten();
            let shown = choice.givens.iter().zip(point).map(|((_, _, value_type, _), value)| {
                let digits = Series::named(choice.series).map_or(3, Series::digits);
                DisplayUnit::fitting(*value_type, None, *value).show(*value, digits)
            });
            ChoiceRow {
                values: point.clone(),
                shown: shown.collect(),
                result: *result,
                error: (target != 0.0).then(|| (result - target) / target.abs()),
                worst: extremes.map(|found| (found.low, found.high)),
                status: found.standings.get(i).map(|standing| match standing {
                    Standing::Holds => Status::Holds,
                    Standing::AtRisk => Status::AtRisk,
                    Standing::Broken => Status::Broken,
                }),
            }
        });
        ChoiceTable {
            label: choice.label.clone(),
            span: choice.span,
            series: choice.series,
            givens: choice.givens.iter().map(|given| given.0.clone()).collect(),
            subject: choice.subject_span.text(self.source).to_owned(),
            target,
            unit: DisplayUnit::fitting(choice.subject.value_type, choice.unit.as_ref(), target),
            digits: self.digits,
            rows: rows.collect(),
        }
    }

    fn note(&self, note: &CheckedNote) -> NoteState {
        let mut state = NoteState {
            signal: note.signal,
            span: note.span,
            shown: true,
            proven: true,
            condition: note.condition.as_ref().map(|(_, span)| *span),
            met_by: Vec::new(),
        };
        let Some((condition, _)) = note.condition.as_ref().filter(|_| !note.failed) else { return state };
        let extremes = condition.margin.and_then(|margin| self.extremes_of(margin));
        let corner = extremes.map_or(&[][..], |extremes| &extremes.high_at);
        // Anything but a plain "no" shows the note: what cannot be worked out is no reason for silence.
        let nominal = self.nominal(condition.reg);
        let truth = truth_at(self.tolerances, condition.reg, corner);
        let undefined = condition.margin.is_some_and(|margin| self.nominal(margin).is_nan());
        if nominal == 0.0 && truth == 0.0 && !undefined {
            let beyond = |extremes: &Extremes| extremes.surely_greatest() > extremes.high.max(0.0);
            state.proven = !extremes.is_some_and(beyond);
            state.shown = !state.proven && note.signal != Signal::Notice;
            return state;
        }
        let regs: Vec<Reg> = note.compared.iter().map(|(_, typed, _)| typed.reg).collect();
        let corner = if truth != 0.0 { corner } else { &[] };
        for ((name, typed, unit), value) in note.compared.iter().zip(self.at(corner, &regs)) {
            let shown = match typed.value_type {
                ValueType::Condition => if value == 0.0 { "no" } else { "yes" }.to_owned(),
                value_type => DisplayUnit::fitting(value_type, unit.as_ref(), value).show(value, self.digits),
            };
            state.met_by.push((name.clone(), shown));
        }
        state
    }
}
