//! Why a value has no finite number, where a worst case has no bound, and which model is used outside its range.

use super::{
    extremes::Tolerances,
    program::{Reg, Step, Unary},
};
use crate::{
    check::Checked,
    handbook::Input,
    problem::{Code, Problem},
    units::{Unit, number, parse},
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
        Step::Interpolate(table, a) => {
            let table = &program.tables[table as usize];
            let (first, last) = (table.x.first().copied(), table.x.last().copied());
            (
                format!("{} is outside the table (SI base units)", number(at(a), 4)),
                format!(
                    "the table goes from {} to {}; it is not continued beyond",
                    number(first.unwrap_or(f64::NAN), 4),
                    number(last.unwrap_or(f64::NAN), 4)
                ),
            )
        }
        Step::Output(call, field) => match program.steps[call as usize] {
            Step::Call(call) => {
                let model = program.calls[call as usize].model;
                let field = model.fields.get(field as usize).map_or("", |field| field.name);
                (
                    format!("`{}` has no finite `{field}` for these values", model.name),
                    "check its arguments: something here cannot be built".to_owned(),
                )
            }
            _ => said("this has no finite value", "check the values it is made of"),
        },
        _ => said("this has no finite value", "the numbers grow beyond what can be held"),
    }
}

/// Where a worst case has no bound.
pub(super) fn unbounded(checked: &Checked, reg: Reg, name: &str, source: &str) -> String {
    let part = checked.divisors.iter().find(|(step, _)| *step == reg).map(|(_, span)| span.text(source));
    match (checked.program.steps[reg as usize], part) {
        (Step::Divide(..), Some(part)) => {
            format!("`{name}` has no bound: `{part}` can come to zero within the tolerances")
        }
        (Step::Apply(Unary::Sqrt, _), _) => {
            format!("`{name}` has no value over part of the tolerances: the root's argument can fall below zero")
        }
        (Step::Apply(..), _) => {
            format!("`{name}` has no bound: the logarithm's argument can fall to zero within the tolerances")
        }
        _ => format!("`{name}` has no bound: a divisor can come to zero within the tolerances"),
    }
}

/// Models used outside the range that they are good for.
pub(super) fn validity(checked: &Checked, tolerances: &Tolerances<'_>, problems: &mut Vec<Problem>) {
    for (call, span) in checked.program.calls.iter().zip(&checked.call_spans) {
        let inputs: Vec<f64> = call.inputs.iter().map(|reg| tolerances.nominal[*reg as usize]).collect();
        if inputs.iter().any(|input| input.is_nan()) {
            continue;
        }
        for (input, parameter) in inputs.iter().zip(call.model.parameters) {
            let (Some((low, high)), Input::Quantity(symbol)) = (parameter.valid, &parameter.input) else { continue };
            let unit = parse(symbol).unwrap_or_else(Unit::one);
            let found = unit.of_si(*input);
            let slack = 1e-9 * low.abs().max(high.abs());
            if found < low - slack || found > high + slack {
                let range = if high.is_finite() {
                    format!("from {} to {} {symbol}", number(low, 6).trim(), number(high, 6).trim())
                } else {
                    format!("from {} {symbol} up", number(low, 6))
                };
                let message = format!(
                    "`{}` is good for `{}` {}, found {} {symbol}",
                    call.model.name,
                    parameter.name,
                    range.trim(),
                    number(found, 4)
                );
                let help = format!("source of the model: {}", call.model.source);
                problems.push(Problem::new(Code::Validity, *span, message.trim().to_owned()).help(help));
            }
        }
        for condition in call.model.conditions.iter().filter(|condition| !(condition.holds)(&inputs)) {
            let message = format!("`{}` needs that {}; here it is not so", call.model.name, condition.says);
            let help = format!("source of the model: {}", call.model.source);
            problems.push(Problem::new(Code::Validity, *span, message).help(help));
        }
    }
}
