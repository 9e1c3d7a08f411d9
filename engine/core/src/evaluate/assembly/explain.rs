//! Why a value has no finite number, where a worst case has no bound, and which model is used outside its range.

use std::cell::OnceCell;

use benchleaf_words::{Phrase, phrase};

use super::super::{design::MOST_COMBINATIONS, tolerances::Tolerances, worst_case::Extremes};
use crate::{
    check::Checked,
    handbook::{Input, Model, Parameter},
    problem::{Code, Problem},
    program::{Callee, Goal, Reg, SearchResult, Step, Unary},
    units::{DisplayUnit, Unit, number, parse},
};

/// Why a step has no finite value: what happened, and what to look at.
pub(super) fn undefined(checked: &Checked, tolerances: &Tolerances<'_>, reg: Reg) -> (Phrase, Phrase) {
    let at = |reg: Reg| tolerances.nominal[reg as usize];
    let program = &checked.program;
    match program.steps[reg as usize] {
        Step::Divide(_, b) if at(b) == 0.0 => {
            (phrase!(EVALUATE_EXPLAIN_THIS_DIVIDES_BY_ZERO), phrase!(EVALUATE_EXPLAIN_LOOK_AT_THE_VALUES_BELOW))
        }
        Step::WholePower(..) | Step::Power(..) => {
            (phrase!(EVALUATE_EXPLAIN_THIS_POWER_HAS_NO_FINITE), phrase!(EVALUATE_EXPLAIN_A_NEGATIVE_OR_ZERO_BASE))
        }
        Step::Apply(Unary::Ln | Unary::Log10, a) => (
            phrase!(EVALUATE_EXPLAIN_THIS_TAKES_THE_LOGARITHM_OF, number = number(at(a), 3)),
            phrase!(EVALUATE_EXPLAIN_A_LOGARITHM_NEEDS_A_POSITIVE),
        ),
        Step::Apply(Unary::Sqrt, _) => {
            (phrase!(EVALUATE_EXPLAIN_THIS_TAKES_THE_ROOT), phrase!(EVALUATE_EXPLAIN_CHECK_THE_SIGNS_INSIDE))
        }
        Step::Apply(Unary::Asin | Unary::Acos, a) => (
            phrase!(EVALUATE_EXPLAIN_THERE_IS_NO_ANGLE_WHOSE, number = number(at(a), 3)),
            phrase!(EVALUATE_EXPLAIN_IT_MUST_BE_BETWEEN_AND),
        ),
        Step::Preferred(_, a) => (
            phrase!(EVALUATE_EXPLAIN_THERE_IS_NO_PREFERRED_VALUE, number = number(at(a), 3)),
            phrase!(EVALUATE_EXPLAIN_A_PARTS_VALUE_IS_POSITIVE),
        ),
        Step::Sought(search, _) => sought(checked, tolerances, search),
        Step::Interpolate(table, a) => (
            phrase!(EVALUATE_EXPLAIN_IS_OUTSIDE_THE_TABLE, in_table = in_table(checked, table, at(a))),
            phrase!(EVALUATE_EXPLAIN_IT_IS_NOT_CONTINUED_BEYOND, ends_of_table = ends_of_table(checked, table)),
        ),
        Step::Output(call, field) => match program.steps[call as usize] {
            Step::Call(call) => {
                let model = match &program.calls[call as usize].callee {
                    Callee::Model(model) => *model,
                    Callee::Block(_) => {
                        return (
                            phrase!(EVALUATE_EXPLAIN_THE_RUST_BLOCK_GIVES_NO),
                            phrase!(EVALUATE_EXPLAIN_PRINT_WHAT_IT_IS_MADE, code = "println!(\"{x:?}\")"),
                        );
                    }
                    Callee::System(_) if tolerances.nominal[reg as usize] == f64::INFINITY => {
                        return (
                            phrase!(EVALUATE_EXPLAIN_THIS_IS_NOT_REACHED_WITHIN),
                            phrase!(EVALUATE_EXPLAIN_LENGTHEN_THE_TIME),
                        );
                    }
                    Callee::System(_) => {
                        return (
                            phrase!(EVALUATE_EXPLAIN_THIS_HAS_NO_FINITE_VALUE),
                            phrase!(EVALUATE_EXPLAIN_A_TIME_OF_MUST_LIE),
                        );
                    }
                };
                let Some(field) = model.fields.get(field as usize) else {
                    return (
                        phrase!(EVALUATE_EXPLAIN_THIS_HAS_NO_FINITE_VALUE),
                        phrase!(EVALUATE_EXPLAIN_CHECK_THE_VALUES),
                    );
                };
                let message = phrase!(EVALUATE_EXPLAIN_HAS_NO_FINITE_FOR_THESE, name = model.name, field = field.name);
                match field.without_value {
                    Some(why) => (
                        phrase!(SHARED_SENTENCE_AND_REASON, sentence = message, reason = why),
                        phrase!(EVALUATE_EXPLAIN_CHECK_ITS_ARGUMENTS),
                    ),
                    None => (message, phrase!(EVALUATE_EXPLAIN_CHECK_ITS_ARGUMENTS_2)),
                }
            }
            _ => (phrase!(EVALUATE_EXPLAIN_THIS_HAS_NO_FINITE_VALUE), phrase!(EVALUATE_EXPLAIN_CHECK_THE_VALUES)),
        },
        _ => {
            (phrase!(EVALUATE_EXPLAIN_THIS_HAS_NO_FINITE_VALUE), phrase!(EVALUATE_EXPLAIN_THE_NUMBERS_GROW_BEYOND_WHAT))
        }
    }
}

/// Why a search found no value, or more than one.
fn sought(checked: &Checked, tolerances: &Tolerances<'_>, search: u32) -> (Phrase, Phrase) {
    let empty = SearchResult::default();
    let found = tolerances.state.found(search).unwrap_or(&empty);
    let search = &checked.program.searches[search as usize];
    if matches!(search.goal, Goal::Nearest(..)) {
        return no_combination(found);
    }
    let value = checked.values.iter().find(|value| search.moved.first() == Some(&value.typed.reg));
    let name = value.map_or_else(|| phrase!(EVALUATE_EXPLAIN_THE_GIVEN), |value| Phrase::from(value.name.as_str()));
    let unit = value.and_then(|value| value.unit.clone()).unwrap_or_else(Unit::one);
    let shown = |x: f64| DisplayUnit::declared(unit.clone()).show(x, 4);
    let (low, high) = (shown(found.span.0), shown(found.span.1));
    match (found.points.as_slice(), found.reached) {
        ([], None) if found.without_value.is_none() => {
            (phrase!(EVALUATE_EXPLAIN_THE_SPAN_OF_IS_EMPTY, name = name), phrase!(EVALUATE_EXPLAIN_LOOK_AT_ITS_ENDS))
        }
        ([], None) => (
            phrase!(EVALUATE_EXPLAIN_THE_TWO_SIDES_HAVE_NO, low = low, high = high),
            phrase!(EVALUATE_EXPLAIN_CHOOSE_ANOTHER_SPAN, name = name),
        ),
        ([], Some((least, greatest))) => {
            let mut side = if least > 0.0 {
                phrase!(EVALUATE_EXPLAIN_THE_LEFT_SIDE_STAYS_ABOVE)
            } else if greatest < 0.0 {
                phrase!(EVALUATE_EXPLAIN_THE_LEFT_SIDE_STAYS_BELOW)
            } else {
                phrase!(EVALUATE_EXPLAIN_THE_TWO_SIDES_PASS)
            };
            if let Some((nearest, _)) = found.nearest {
                side = phrase!(EVALUATE_EXPLAIN_NEAREST_TO_IT_AT, side = side, shown = shown(nearest));
            }
            let mut help = phrase!(EVALUATE_EXPLAIN_WIDEN_THE_SPAN_OR_CHECK);
            if let Some((first, last)) = found.without_value {
                let where_ = if first == last {
                    phrase!(EVALUATE_EXPLAIN_AT, shown = shown(first))
                } else {
                    phrase!(EVALUATE_EXPLAIN_BETWEEN_AND, low = shown(first), high = shown(last))
                };
                side = phrase!(EVALUATE_EXPLAIN_WHERE_BOTH_ARE_FINITE, side = side);
                help = phrase!(EVALUATE_EXPLAIN_THEY_HAVE_NO_FINITE_VALUE, where = where_);
            }
            (phrase!(EVALUATE_EXPLAIN_NO_FROM_TO_DOES_THIS, name = name, low = low, high = high, side = side), help)
        }
        (several, _) => {
            let listed: Vec<String> = several.iter().take(6).map(|point| shown(point[0])).collect();
            (
                phrase!(EVALUATE_EXPLAIN_SEVERAL_VALUES_OF_DO_THIS, name = name, listed = listed.join(", ")),
                phrase!(EVALUATE_EXPLAIN_NARROW_THE_SPAN_AROUND),
            )
        }
    }
}

/// Why a choice of preferred values found none.
pub(super) fn no_combination(found: &SearchResult) -> (Phrase, Phrase) {
    if found.combinations > MOST_COMBINATIONS {
        return (
            phrase!(
                EVALUATE_EXPLAIN_COMBINATIONS_OF_PREFERRED_VALUES,
                combinations = found.combinations,
                most_combinations = MOST_COMBINATIONS
            ),
            phrase!(EVALUATE_EXPLAIN_CHOOSE_FROM_A_COARSER_SERIES),
        );
    }
    (phrase!(EVALUATE_EXPLAIN_NO_COMBINATION_OF_PREFERRED_VALUES), phrase!(EVALUATE_EXPLAIN_CHECK_THE_TARGET))
}

fn in_table(checked: &Checked, table: u32, x: f64) -> String {
    let unit = checked.table_units.get(table as usize).cloned().flatten().unwrap_or_else(Unit::one);
    DisplayUnit::declared(unit).show(x, 4)
}

fn ends_of_table(checked: &Checked, table: u32) -> Phrase {
    let x = &checked.program.tables[table as usize].x;
    let end = |x: Option<&f64>| x.map_or_else(String::new, |x| in_table(checked, table, *x));
    phrase!(EVALUATE_EXPLAIN_THE_TABLE_GOES_FROM_TO, end = end(x.first()), other_end = end(x.last()))
}

/// Where a worst case has no bound, or no value; `called` is the value's name between backticks, with its label.
pub(super) fn unbounded(checked: &Checked, reg: Reg, found: &Extremes, called: &str, source: &str) -> Phrase {
    let part = checked.divisors.iter().find(|(step, _)| *step == reg).map(|(_, span)| span.text(source));
    let partly = phrase!(EVALUATE_EXPLAIN_HAS_NO_VALUE_OVER_PART, called = called);
    if found.zero_by_zero {
        let part = part.map_or_else(|| phrase!(EVALUATE_EXPLAIN_A_DIVISOR), |part| format!("`{part}`").into());
        return phrase!(EVALUATE_EXPLAIN_HAS_NO_VALUE, called = called, part = part);
    }
    // What comes after a step without bound may have one: an arc tangent, the lesser of two.
    let endless = if found.low.is_finite() && found.high.is_finite() {
        phrase!(EVALUATE_EXPLAIN_VALUE_EVERYWHERE)
    } else {
        phrase!(EVALUATE_EXPLAIN_BOUND)
    };
    let why = match (checked.program.steps[reg as usize], part) {
        (Step::Apply(Unary::Sqrt, _), _) => {
            return phrase!(EVALUATE_EXPLAIN_THE_ROOTS_ARGUMENT_CAN_FALL, partly = partly);
        }
        (Step::Apply(Unary::Asin | Unary::Acos, _), _) => {
            return phrase!(EVALUATE_EXPLAIN_THE_ARGUMENT_OF_THE_ARC, partly = partly);
        }
        (Step::Interpolate(table, _), _) => {
            return phrase!(SHARED_SENTENCE_AND_REASON, sentence = partly, reason = ends_of_table(checked, table));
        }
        (Step::Apply(Unary::Tan, _), _) => phrase!(EVALUATE_EXPLAIN_THE_TANGENTS_ARGUMENT_CAN_COME),
        (Step::Apply(..), _) => phrase!(EVALUATE_EXPLAIN_THE_LOGARITHMS_ARGUMENT_CAN_FALL),
        (Step::Divide(_, b), _) if matches!(checked.program.steps[b as usize], Step::Constant(_)) => {
            return phrase!(EVALUATE_EXPLAIN_HAS_NO_IT_DIVIDES, called = called, endless = endless);
        }
        (_, Some(part)) => phrase!(EVALUATE_EXPLAIN_CAN_COME_TO_ZERO, part = part),
        _ => phrase!(EVALUATE_EXPLAIN_A_DIVISOR_CAN_COME),
    };
    phrase!(EVALUATE_EXPLAIN_HAS_NO_WITHIN_THE_TOLERANCES, called = called, endless = endless, why = why)
}

/// Models used outside the range that they are good for, at nominal values or anywhere within the tolerances.
pub(super) fn validity(checked: &Checked, tolerances: &Tolerances<'_>, range: Ranges<'_>, problems: &mut Vec<Problem>) {
    for (i, (call, span)) in checked.program.calls.iter().zip(&checked.call_spans).enumerate() {
        let inputs: Vec<f64> = call.inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
        if inputs.iter().any(|input| input.is_nan()) {
            continue;
        }
        let Callee::Model(model) = call.callee else { continue };
        let mut warn = |(message, cure): (Phrase, Phrase)| {
            let help = phrase!(EVALUATE_EXPLAIN_SOURCE_OF_THE_MODEL, cure = cure, source = model.source);
            problems.push(Problem::new(Code::Validity, *span, message).help(help));
        };
        for ((input, reg), parameter) in inputs.iter().zip(&call.inputs).zip(model.parameters) {
            if let Some(found) = out_of_range(model, parameter, *input, range(*reg)) {
                warn(found);
            }
        }
        let corners = OnceCell::new();
        let corners = || corners.get_or_init(|| tolerances.corners(&call.inputs)).iter();
        for condition in model.conditions {
            if !(condition.holds)(&inputs) {
                let message = phrase!(EVALUATE_EXPLAIN_NEEDS_THAT_HERE, name = model.name, says = condition.says);
                warn((message, phrase!(EVALUATE_EXPLAIN_CHANGE_THE_ARGUMENTS_THAT_THIS)));
            } else if !answered(checked, i as u32) && corners().any(|corner| !(condition.holds)(corner)) {
                let (model, says) = (model.name, condition.says);
                let message = phrase!(EVALUATE_EXPLAIN_NEEDS_THAT_WITHIN_THE_TOLERANCES, model = model, says = says);
                warn((message, phrase!(EVALUATE_EXPLAIN_LEAVE_MORE_ROOM)));
            }
        }
    }
}

/// Whether a requirement keeps one of the conditions that the model itself gives (`keep reg.regulates`): its verdict then
/// speaks for the tolerances.
fn answered(checked: &Checked, call: u32) -> bool {
    let steps = &checked.program.steps;
    checked.keeps.iter().filter(|keep| keep.subject.margin.is_some()).any(|keep| {
        match steps[keep.subject.reg as usize] {
            Step::Output(of, _) => steps[of as usize] == Step::Call(call),
            _ => false,
        }
    })
}

/// The least and greatest value of a register over the box.
pub(super) type Ranges<'a> = &'a dyn Fn(Reg) -> (f64, f64);

/// The range of a parameter that its model is good for.
#[derive(Debug)]
pub(in super::super) struct ValidRange {
    unit: Unit,
    low: f64,
    high: f64,
}

impl ValidRange {
    /// Of a parameter that has one.
    pub(in super::super) fn of(parameter: &Parameter) -> Option<Self> {
        let (Some((low, high)), Input::Quantity(symbol)) = (parameter.valid, &parameter.input) else { return None };
        Some(Self { unit: parse(symbol).unwrap_or_else(Unit::one), low, high })
    }

    /// Whether an argument (SI) is outside of it by more than rounding.
    pub(in super::super) fn is_outside(&self, si: f64) -> bool {
        let slack = 1e-9 * self.low.abs().max(self.high.abs());
        let argument = self.unit.of_si(si);
        argument < self.low - slack || argument > self.high + slack
    }
}

/// What is outside the range, and what to do about it.
fn out_of_range(model: &Model, parameter: &Parameter, nominal: f64, ends: (f64, f64)) -> Option<(Phrase, Phrase)> {
    let valid = ValidRange::of(parameter)?;
    let outside = |si: f64| valid.is_outside(si);
    let ValidRange { unit, low, high } = &valid;
    let shown = DisplayUnit::declared(unit.clone());
    let name = parameter.name;
    let stays = if outside(nominal) {
        phrase!(EVALUATE_EXPLAIN_CHOOSE_ANOTHER_VALUE_FOR)
    } else {
        phrase!(EVALUATE_EXPLAIN_NARROW_THE_TOLERANCE_OF)
    };
    let found = match [ends.0, ends.1].into_iter().find(|end| outside(*end)) {
        _ if outside(nominal) => phrase!(EVALUATE_EXPLAIN_FOUND, show = shown.show(nominal, 4)),
        Some(end) => phrase!(EVALUATE_EXPLAIN_WITHIN_THE_TOLERANCES_IT_CAN, show = shown.show(end, 4)),
        None => return None,
    };
    let range = if high.is_finite() {
        phrase!(EVALUATE_EXPLAIN_FROM_TO, low = low, shown = shown.join(high.to_string()))
    } else {
        phrase!(EVALUATE_EXPLAIN_FROM_UP, shown = shown.join(low.to_string()))
    };
    let cure = phrase!(EVALUATE_EXPLAIN_OR_WORK_IT_OUT, stays = stays, name = name);
    Some((
        phrase!(EVALUATE_EXPLAIN_IS_GOOD_FOR, name = model.name, argument = name, range = range, found = found),
        cure,
    ))
}
