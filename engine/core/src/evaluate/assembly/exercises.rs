//! Exercises as they are set: the worked solution's value, and what would keep an answer from being marked.

use benchleaf_words::phrase;

use super::{Assembler, explain};
use crate::{
    check::{CheckedExercise, Within},
    problem::{Code, Problem},
    results::{Role, Task, Value},
    sheet::{BlockBody, Exercise, Sheet},
    units::{DisplayUnit, number},
};

impl Assembler<'_> {
    pub(in super::super) fn task(
        &self,
        checked: &CheckedExercise,
        sheet: &Sheet,
        problems: &mut Vec<Problem>,
    ) -> Option<Task> {
        let BlockBody::Exercise(exercise) = &sheet.blocks.get(checked.block)?.body else { return None };
        let answer = exercise.answer.as_ref()?;
        let nominal = self.nominal(checked.answer.reg);
        let unit = DisplayUnit::fitting(checked.answer.value_type, checked.unit.as_ref(), nominal);
        self.examine(checked, exercise, problems);
        let within = match checked.within {
            Within::Part(part) => format!("{} %", plain(part * 100.0)),
            Within::Distance(distance) => {
                let step = DisplayUnit::fitting(checked.answer.value_type, checked.unit.as_ref(), nominal).unit;
                format!("{} {}", plain(distance / step.factor), step.symbol).trim_end().to_owned()
            }
        };
        let solution = Value {
            name: checked.name.clone(),
            label: None,
            span: answer.span,
            role: Role::Derived,
            value_type: checked.answer.value_type,
            unit,
            digits: sheet.metadata.digits,
            nominal,
            worst: None,
            spread: None,
            shares: Vec::new(),
            first_order: None,
            origin: None,
        };
        Some(Task {
            name: checked.name.clone(),
            span: checked.span,
            ask: exercise.ask.clone(),
            hints: exercise.hints.clone(),
            points: checked.points,
            slips: checked.slips.len(),
            varies: checked.varies.iter().map(|vary| vary.name.clone()).collect(),
            formula: answer.value.clone(),
            solution,
            unit: DisplayUnit::fitting(checked.answer.value_type, checked.unit.as_ref(), 0.0),
            within,
        })
    }

    /// Reports an answer or a slip without a value, a slip that cannot be distinguished from the answer, and the ends of a
    /// span where there is no answer.
    fn examine(&self, checked: &CheckedExercise, exercise: &Exercise, problems: &mut Vec<Problem>) {
        let answer = self.nominal(checked.answer.reg);
        let slips = checked.slips.iter().map(|slip| (slip.reg, slip.span));
        for (reg, span) in [(checked.answer.reg, checked.answer_span)].into_iter().chain(slips) {
            let value = self.nominal(reg);
            if !value.is_finite() {
                let (message, help) = explain::undefined(self.checked, self.tolerances, self.first_undefined(reg));
                problems.push(Problem::new(Code::NotFinite, span, message).help(help));
            } else if reg != checked.answer.reg && (value - answer).abs() <= checked.within.distance(answer) {
                let message = phrase!(EVALUATE_EXERCISES_THIS_SLIP_COMES);
                let help = phrase!(EVALUATE_EXERCISES_NARROW_WHAT_THE_ANSWER_MAY);
                problems.push(Problem::new(Code::Exercise, span, message).help(help));
            }
        }
        if !answer.is_finite() {
            return;
        }
        for (vary, request) in checked.varies.iter().zip(&exercise.varies) {
            for ((end, _), written) in [(&vary.low, &request.low), (&vary.high, &request.high)] {
                let found = self.tolerances.probe(&[(vary.source, *end)], &[checked.answer.reg]);
                if !found.first().is_some_and(|value| value.is_finite()) {
                    let message = phrase!(EVALUATE_EXERCISES_AT_THIS_END, name = vary.name);
                    problems.push(
                        Problem::new(Code::Exercise, written.span, message)
                            .help(phrase!(EVALUATE_EXERCISES_NARROW_THE_SPAN)),
                    );
                }
            }
        }
    }
}

/// A number that was written by hand, without more digits than it was written with.
fn plain(value: f64) -> String {
    let shown = number(value, 6);
    if shown.contains('.') && !shown.contains('×') {
        shown.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        shown
    }
}
