//! Exercises: the answer and the slips held against the unit that is asked for, and the spans of the givens that vary.

use benchleaf_words::phrase;

use super::{Binding, CheckedExercise, CheckedSlip, CheckedVary, Checker, Typed, Within, expression::quantity_in};
use crate::{
    lang::ast::{Expr, Node, Quantity, UnaryOp},
    preferred::Series,
    problem::{Code, Problem},
    sheet::{AnswerRequest, Exercise, SlipRequest, VaryRequest},
    span::Span,
    suggest::nearest,
    units::{Kind, QuantityType, Unit, ValueType},
};

impl Checker<'_> {
    /// Checks an exercise; `None` where a problem was reported before.
    pub(super) fn exercise(&mut self, exercise: &Exercise, block: usize, span: Span) -> Option<CheckedExercise> {
        let name = exercise.name.as_ref().filter(|name| self.exercise_is_new(&name.item, name.span));
        let answer = exercise.answer.as_ref().map(|answer| self.answer(answer, exercise));
        let varies: Vec<_> = exercise.varies.iter().map(|vary| self.vary(vary)).collect();
        let (answer, unit, within, slips) = answer??;
        let varies = varies.into_iter().collect::<Option<Vec<_>>>()?;
        if exercise.broken || exercise.ask.is_empty() {
            return None;
        }
        Some(CheckedExercise {
            name: name?.item.clone(),
            span,
            block,
            answer,
            answer_span: exercise.answer.as_ref()?.value.span,
            unit,
            within,
            slips,
            varies,
            points: exercise.points.unwrap_or(1.0),
        })
    }

    fn exercise_is_new(&mut self, name: &str, span: Span) -> bool {
        let Some(first) = self.exercises.get(name) else {
            self.exercises.insert(name.to_owned(), span);
            return true;
        };
        let line = self.line_of(*first);
        let message = phrase!(CHECK_EXERCISE_THERE_IS_AN_EXERCISE_ALREADY, name = name, line = line);
        self.fail_with_help(Code::Redefined, span, message, phrase!(CHECK_EXERCISE_ANSWERS_ARE_MARKED));
        false
    }

    /// The answer in the unit that it is asked in, with its slips.
    fn answer(
        &mut self,
        request: &AnswerRequest,
        exercise: &Exercise,
    ) -> Option<(Typed, Option<Unit>, Within, Vec<CheckedSlip>)> {
        let answer = self.quantity(&request.value);
        let slips: Vec<_> = exercise.slips.iter().map(|slip| (slip, self.quantity(&slip.value))).collect();
        let (reg, quantity) = answer?;
        let mut typed = quantity_in(reg, quantity);
        let mut unit = self.unit_of_expression(&request.value);
        if let Some(declared) = &request.unit {
            (typed, unit) = self.declared(typed, declared, request.value.span)?;
        }
        let ValueType::Quantity(quantity) = typed.value_type else { return None };
        let within = match &request.within {
            None => usual(quantity),
            Some(within) => self.within(within, quantity)?,
        };
        let slip = |(slip, found): (&SlipRequest, Option<(_, QuantityType)>)| {
            let (reg, found) = found?;
            self.alike(quantity, found, &request.value, &slip.value, phrase!(CHECK_EXERCISE_ANSWER_ONE_QUESTION))?;
            Some(CheckedSlip { name: slip.name.clone(), reg, span: slip.span })
        };
        let slips = slips.into_iter().map(slip).collect::<Option<Vec<_>>>()?;
        Some((typed, unit, within, slips))
    }

    /// How far off an answer may be.
    fn within(&mut self, within: &Quantity, quantity: QuantityType) -> Option<Within> {
        let (si, unit) = self.literal(within, false)?;
        let per_cent = within.unit.is_some() && unit.quantity == QuantityType::NUMBER;
        let (message, help) = if per_cent && quantity.kind == Kind::Temperature {
            (phrase!(SHARED_PER_CENT_OF_A_TEMPERATURE), phrase!(CHECK_EXERCISE_WRITE_WITHIN_K))
        } else if per_cent && si < 1.0 && si > 0.0 {
            return Some(Within::Part(si));
        } else if per_cent {
            (phrase!(CHECK_EXERCISE_AN_ANSWER_MAY_BE_OFF), phrase!(CHECK_EXERCISE_WRITE_WITHIN))
        } else {
            let point = quantity.kind == Kind::Temperature;
            let fits = unit.quantity.dimension == quantity.dimension
                && (point || quantity.kind.joined(unit.quantity.kind).is_some());
            // A distance on a scale of temperature is counted from no zero.
            let distance = within.number * unit.factor;
            if fits && distance > 0.0 {
                return Some(Within::Distance(distance));
            }
            (phrase!(CHECK_EXERCISE_HOW_FAR_OFF_AN_ANSWER), phrase!(CHECK_EXERCISE_WRITE_WITHIN))
        };
        self.fail_with_help(Code::Exercise, within.span, message, help);
        None
    }

    fn vary(&mut self, vary: &VaryRequest) -> Option<CheckedVary> {
        let name = &vary.given;
        let Some(entry) = self.names.get(&name.item).cloned() else {
            self.unknown_name(&name.item, name.span);
            return None;
        };
        let (quantity, source) = match (entry.binding, entry.source) {
            (Binding::Value(Typed { value_type: ValueType::Quantity(quantity), .. }), Some(source)) => {
                (quantity, source)
            }
            (Binding::Failed, _) => {
                let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = name.item);
                self.depends(&name.item, name.span, message);
                return None;
            }
            _ => {
                let message = phrase!(SHARED_IS_NOT_A_GIVEN, name = name.item);
                let help = phrase!(CHECK_EXERCISE_WHAT_VARIES_IS_A_VALUE);
                self.fail_with_help(Code::Exercise, name.span, message, help);
                return None;
            }
        };
        let origin =
            self.checked.values.iter().find(|value| value.name == name.item).and_then(|value| value.origin.clone());
        if let Some(origin) = origin {
            let message = phrase!(CHECK_EXERCISE_IS_GIVEN_IN, name = name.item, file = origin.file);
            let help = phrase!(CHECK_EXERCISE_GIVE_IT_HERE);
            self.fail_with_help(Code::Exercise, name.span, message, help);
            return None;
        }
        let Some(literal) = self.literals.get(&source).copied() else {
            let message = phrase!(CHECK_EXERCISE_IS_GIVEN_BY_ITS_BOUNDS, name = name.item);
            self.fail_with_help(Code::Exercise, name.span, message, phrase!(CHECK_EXERCISE_GIVE_IT_AS_A_VALUE));
            return None;
        };
        let point = Expr { node: Node::Name(name.item.clone()), span: name.span };
        let mut end = |expr: &Expr| {
            let (written, negative) = signed(expr)?;
            let (si, unit) = self.literal(written, negative)?;
            self.alike(quantity, unit.quantity, &point, expr, phrase!(CHECK_EXERCISE_VARY_ON_ONE_SCALE))?;
            Some((si, unit))
        };
        let (low, high) = (end(&vary.low), end(&vary.high));
        let (low, high) = (low?, high?);
        let ends = vary.low.span.to(vary.high.span);
        if low.0 >= high.0 || !(high.0 - low.0).is_finite() {
            self.fail_with_help(
                Code::Exercise,
                ends,
                phrase!(CHECK_EXERCISE_THE_SPAN_MUST_RISE),
                phrase!(CHECK_EXERCISE_WRITE_THE_LESSER_END_FIRST),
            );
            return None;
        }
        let series = match &vary.series {
            None => None,
            Some(series) => Some(self.series(&series.item, series.span, (low.0, high.0), ends)?),
        };
        Some(CheckedVary { name: name.item.clone(), source, literal, low, high, series })
    }

    /// The series of a name, if it has values in the span.
    fn series(&mut self, name: &str, span: Span, (low, high): (f64, f64), ends: Span) -> Option<(Series, Vec<f64>)> {
        let Some(series) = Series::named(name) else {
            let message = phrase!(SHARED_IS_NOT_A_SERIES, written = name);
            let names = Series::TABLE.iter().map(|row| row.1);
            let known = nearest(name, names.clone()).map_or_else(
                || phrase!(CHECK_EXERCISE_THE_SERIES_ARE, names = names.collect::<Vec<_>>().join(", ")),
                |known| phrase!(SHARED_DID_YOU_MEAN, known = known),
            );
            self.report(Problem::new(Code::Exercise, span, message).help(known));
            return None;
        };
        let values = series.between(low, high);
        if values.len() < 2 {
            let message = phrase!(CHECK_EXERCISE_THE_SPAN_HOLDS_FEWER_THAN, name = name);
            self.fail_with_help(Code::Exercise, ends, message, phrase!(CHECK_EXERCISE_WIDEN_THE_SPAN_OR_TAKE));
            return None;
        }
        Some((series, values))
    }
}

/// A literal with its sign.
pub(super) fn signed(expr: &Expr) -> Option<(&Quantity, bool)> {
    match &expr.node {
        Node::Quantity(quantity) => Some((quantity, false)),
        Node::Unary(UnaryOp::Negate, inner) => signed(inner).map(|(quantity, negative)| (quantity, !negative)),
        _ => None,
    }
}

/// What is allowed where the author says nothing: two or three right digits.
fn usual(quantity: QuantityType) -> Within {
    if quantity.kind == Kind::Temperature { Within::Distance(1.0) } else { Within::Part(0.02) }
}
