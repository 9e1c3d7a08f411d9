//! Why a value has no finite number, where a worst case has no bound, and which model is used outside its range.

use std::cell::OnceCell;

use super::super::{design::MOST_COMBINATIONS, tolerances::Tolerances, worst_case::Extremes};
use crate::{
    check::Checked,
    handbook::{Input, Model, Parameter},
    problem::{Code, Problem},
    program::{Callee, Goal, Reg, SearchResult, Step, Unary},
    units::{DisplayUnit, Unit, number, parse},
};

/// Why a step has no finite value: what happened, and what to look at.
pub(super) fn undefined(checked: &Checked, tolerances: &Tolerances<'_>, reg: Reg) -> (String, String) {
    let at = |reg: Reg| tolerances.nominal[reg as usize];
    let program = &checked.program;
    let said = |message: &str, help: &str| (message.to_owned(), help.to_owned());
    match program.steps[reg as usize] {
        Step::Divide(_, b) if at(b) == 0.0 => said("this divides by zero", "look at the values below the fraction bar"),
        Step::WholePower(..) | Step::Power(..) => {
            said("this power has no finite value", "a negative or zero base takes only some exponents")
        }
        Step::Apply(Unary::Ln | Unary::Log10, a) => (
            format!("this takes the logarithm of {}", number(at(a), 3)),
            "a logarithm needs a positive number: check that the voltages are the right way round".to_owned(),
        ),
        Step::Apply(Unary::Sqrt, _) => {
            said("this takes the root of a negative number", "check the signs inside the root")
        }
        Step::Apply(Unary::Asin | Unary::Acos, a) => (
            format!("there is no angle whose sine or cosine is {}", number(at(a), 3)),
            "it must be between -1 and 1".to_owned(),
        ),
        Step::Preferred(_, a) => (
            format!("there is no preferred value for {}", number(at(a), 3)),
            "a part's value is positive: check the formula before it".to_owned(),
        ),
        Step::Sought(search, _) => sought(checked, tolerances, search),
        Step::Interpolate(table, a) => (
            format!("{} is outside the table", in_table(checked, table, at(a))),
            format!("{}; it is not continued beyond", ends_of_table(checked, table)),
        ),
        Step::Output(call, field) => match program.steps[call as usize] {
            Step::Call(call) => {
                let model = match &program.calls[call as usize].callee {
                    Callee::Model(model) => *model,
                    Callee::Block(_) => {
                        return said(
                            "the Rust block gives no finite number here",
                            "print what it is made of: println!(\"{x:?}\")",
                        );
                    }
                    Callee::System(_) if tolerances.nominal[reg as usize] == f64::INFINITY => {
                        return said(
                            "this is not reached within the longest time of the run",
                            "lengthen the time behind `until`, or look at what drives the states",
                        );
                    }
                    Callee::System(_) => {
                        return said("this has no finite value", "a time of `at` must lie within the run");
                    }
                };
                let Some(field) = model.fields.get(field as usize) else {
                    return said("this has no finite value", "check the values it is made of");
                };
                let message = format!("`{}` has no finite `{}` for these values", model.name, field.name);
                match field.without_value {
                    Some(why) => (format!("{message}: {why}"), "check its arguments".to_owned()),
                    None => (message, "check its arguments: something here cannot be built".to_owned()),
                }
            }
            _ => said("this has no finite value", "check the values it is made of"),
        },
        _ => said("this has no finite value", "the numbers grow beyond what can be held"),
    }
}

/// Why a search found no value, or more than one.
fn sought(checked: &Checked, tolerances: &Tolerances<'_>, search: u32) -> (String, String) {
    let empty = SearchResult::default();
    let found = tolerances.state.found(search).unwrap_or(&empty);
    let search = &checked.program.searches[search as usize];
    if matches!(search.goal, Goal::Nearest(..)) {
        return no_combination(found);
    }
    let value = checked.values.iter().find(|value| search.moved.first() == Some(&value.typed.reg));
    let name = value.map_or("the given", |value| value.name.as_str());
    let unit = value.and_then(|value| value.unit.clone()).unwrap_or_else(Unit::one);
    let shown = |x: f64| DisplayUnit::declared(unit.clone()).show(x, 4);
    let (low, high) = (shown(found.span.0), shown(found.span.1));
    match (found.points.as_slice(), found.reached) {
        ([], None) if found.without_value.is_none() => {
            (format!("the span of `{name}` is empty"), "look at its ends: the lower must be below the upper".to_owned())
        }
        ([], None) => (
            format!("the two sides have no finite value anywhere from {low} to {high}"),
            format!("choose another span for `{name}`, or check the formula"),
        ),
        ([], Some((least, greatest))) => {
            let never = if least > 0.0 { "above" } else { "below" };
            let mut side = if least > 0.0 || greatest < 0.0 {
                format!("the left side stays {never} the right one")
            } else {
                "the two sides pass one another without meeting, in a jump or at a pole".to_owned()
            };
            if let Some((nearest, _)) = found.nearest {
                side = format!("{side}, nearest to it at {}", shown(nearest));
            }
            let mut help = "widen the span, or check the formula".to_owned();
            if let Some((first, last)) = found.without_value {
                let where_ = if first == last {
                    format!("at {}", shown(first))
                } else {
                    format!("between {} and {}", shown(first), shown(last))
                };
                side = format!("{side} where both are finite");
                help = format!("{where_} they have no finite value: look there, or choose another span");
            }
            (format!("no `{name}` from {low} to {high} does this: {side}"), help)
        }
        (several, _) => {
            let listed: Vec<String> = several.iter().take(6).map(|point| shown(point[0])).collect();
            (
                format!("several values of `{name}` do this: {}", listed.join(", ")),
                "narrow the span around the one that you want".to_owned(),
            )
        }
    }
}

/// Why a choice of preferred values found none.
pub(super) fn no_combination(found: &SearchResult) -> (String, String) {
    if found.combinations > MOST_COMBINATIONS {
        return (
            format!(
                "{} combinations of preferred values are more than the {} that are tried",
                found.combinations, MOST_COMBINATIONS
            ),
            "choose from a coarser series, for fewer givens, or from a narrower span".to_owned(),
        );
    }
    (
        "no combination of preferred values gives a result here".to_owned(),
        "check the target, and the span that the values may come from".to_owned(),
    )
}

fn in_table(checked: &Checked, table: u32, x: f64) -> String {
    let unit = checked.table_units.get(table as usize).cloned().flatten().unwrap_or_else(Unit::one);
    DisplayUnit::declared(unit).show(x, 4)
}

fn ends_of_table(checked: &Checked, table: u32) -> String {
    let x = &checked.program.tables[table as usize].x;
    let end = |x: Option<&f64>| x.map_or_else(String::new, |x| in_table(checked, table, *x));
    format!("the table goes from {} to {}", end(x.first()), end(x.last()))
}

/// Where a worst case has no bound, or no value; `called` is the value's name between backticks, with its label.
pub(super) fn unbounded(checked: &Checked, reg: Reg, found: &Extremes, called: &str, source: &str) -> String {
    let part = checked.divisors.iter().find(|(step, _)| *step == reg).map(|(_, span)| span.text(source));
    let partly = format!("{called} has no value over part of the tolerances");
    if found.zero_by_zero {
        let part = part.map_or_else(|| "a divisor".to_owned(), |part| format!("`{part}`"));
        return format!(
            "{called} has no value at one place within the tolerances: {part} is zero there, and so is what it divides"
        );
    }
    // What comes after a step without bound may have one: an arc tangent, the lesser of two.
    let endless = if found.low.is_finite() && found.high.is_finite() { "value everywhere" } else { "bound" };
    let why = match (checked.program.steps[reg as usize], part) {
        (Step::Apply(Unary::Sqrt, _), _) => return format!("{partly}: the root's argument can fall below zero"),
        (Step::Apply(Unary::Asin | Unary::Acos, _), _) => {
            return format!("{partly}: the argument of the arc sine or cosine can go beyond 1");
        }
        (Step::Interpolate(table, _), _) => return format!("{partly}: {}", ends_of_table(checked, table)),
        (Step::Apply(Unary::Tan, _), _) => "the tangent's argument can come to a right angle".to_owned(),
        (Step::Apply(..), _) => "the logarithm's argument can fall to zero".to_owned(),
        (Step::Divide(_, b), _) if matches!(checked.program.steps[b as usize], Step::Constant(_)) => {
            return format!("{called} has no {endless}: it divides by zero somewhere within the tolerances");
        }
        (_, Some(part)) => format!("`{part}` can come to zero"),
        _ => "a divisor can come to zero".to_owned(),
    };
    format!("{called} has no {endless}: {why} within the tolerances")
}

/// Models used outside the range that they are good for, at nominal values or anywhere within the tolerances.
pub(super) fn validity(checked: &Checked, tolerances: &Tolerances<'_>, range: Ranges<'_>, problems: &mut Vec<Problem>) {
    for (i, (call, span)) in checked.program.calls.iter().zip(&checked.call_spans).enumerate() {
        let inputs: Vec<f64> = call.inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
        if inputs.iter().any(|input| input.is_nan()) {
            continue;
        }
        let Callee::Model(model) = call.callee else { continue };
        let mut warn = |(message, cure): (String, String)| {
            let help = format!("{cure}; source of the model: {}", model.source);
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
                let message = format!("`{}` needs that {}; here it is not so", model.name, condition.says);
                warn((
                    message,
                    "change the arguments that this speaks of; until then the figures are a guess".to_owned(),
                ));
            } else if !answered(checked, i as u32) && corners().any(|corner| !(condition.holds)(corner)) {
                let (model, says) = (model.name, condition.says);
                let message = format!("`{model}` needs that {says}; within the tolerances it may not be so");
                warn((
                    message,
                    "leave more room in the arguments that this speaks of, or narrow their tolerances".to_owned(),
                ));
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
fn out_of_range(model: &Model, parameter: &Parameter, nominal: f64, ends: (f64, f64)) -> Option<(String, String)> {
    let valid = ValidRange::of(parameter)?;
    let outside = |si: f64| valid.is_outside(si);
    let ValidRange { unit, low, high } = &valid;
    let shown = DisplayUnit::declared(unit.clone());
    let name = parameter.name;
    let stays = if outside(nominal) { "choose another value for" } else { "narrow the tolerance of" };
    let found = match [ends.0, ends.1].into_iter().find(|end| outside(*end)) {
        _ if outside(nominal) => format!("found {}", shown.show(nominal, 4)),
        Some(end) => format!("within the tolerances it can come to {}", shown.show(end, 4)),
        None => return None,
    };
    let range = if high.is_finite() {
        format!("from {low} to {}", shown.join(high.to_string()))
    } else {
        format!("from {} up", shown.join(low.to_string()))
    };
    let cure = format!("{stays} `{name}`, or work it out from the part's datasheet instead");
    Some((format!("`{}` is good for `{name}` {range}; {found}", model.name), cure))
}
