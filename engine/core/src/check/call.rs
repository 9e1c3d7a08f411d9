//! Calls: functions of the language, of the worksheet, and handbook models.

use std::collections::HashMap;

use benchleaf_words::{Phrase, phrase};

use super::{
    Binding, Checker, Typed,
    expression::{adds_in_parallel, kind_help, quantity_in},
    functions::{BUILTINS, Work, builtin},
};
use crate::{
    handbook::{self, Input, Model, Output},
    lang::ast::{Argument, Expr, Function, Node},
    preferred::{Choice, Series},
    problem::Code,
    program::{Call, Callee, Reg, Step, Table, Unary},
    span::{Span, Spanned},
    suggest::nearest,
    typical::{PART, PARTS, TYPICAL},
    units::{Kind, QuantityType, Unit, ValueType, parse},
};

/// How deeply functions of the worksheet may call one another.
const DEEPEST_CALL: usize = 32;
/// Most steps that a worksheet may grow to: functions that call functions multiply.
const MOST_STEPS: usize = 4_000_000;

impl Checker<'_> {
    pub(super) fn call(&mut self, name: &Spanned<String>, arguments: &[Argument], span: Span) -> Option<Typed> {
        match self.names.get(&name.item).map(|entry| entry.binding.clone()) {
            Some(Binding::Function(function)) => return self.own_function(&function, arguments, span),
            Some(Binding::Failed) => {
                let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = name.item);
                self.depends(&name.item, name.span, message);
                return None;
            }
            _ => {}
        }
        if let Some(found) = self.circuit_quantity(name, arguments, span) {
            return found;
        }
        if let Some(known) = builtin(&name.item) {
            if let Some(named) = arguments.iter().find_map(|argument| argument.name.as_ref()) {
                let message = phrase!(CHECK_CALL_TAKES_ITS_ARGUMENTS_BY_PLACE, name = known.name);
                let help = phrase!(CHECK_CALL_WRITE, name = known.name, arguments = known.arguments);
                self.fail_with_help(Code::Arguments, named.span, message, help);
                return None;
            }
            let values: Vec<&Expr> = arguments.iter().map(|argument| &argument.value).collect();
            return self.builtin(known.work, known.name, known.arguments, &values, span);
        }
        if handbook::find(&name.item).is_some() {
            let message = phrase!(CHECK_CALL_GIVES_A_RECORD_OF_SEVERAL, name = name.item);
            let help = phrase!(CHECK_CALL_NAME_THE_RECORD_THEN_READ, name = name.item);
            self.fail_with_help(Code::TypeMismatch, name.span, message, help);
            return None;
        }
        self.unknown_function(name);
        None
    }

    fn unknown_function(&mut self, name: &Spanned<String>) {
        if name.item == TYPICAL {
            let help = phrase!(CHECK_CALL_GIVE_THE_RECORD_A_NAME, typical = TYPICAL, part = PART, name = PARTS[0].name);
            self.fail_with_help(
                Code::TypeMismatch,
                name.span,
                phrase!(CHECK_CALL_GIVES_A_RECORD_OF_SEVERAL, name = TYPICAL),
                help,
            );
            return;
        }
        if matches!(self.names.get(&name.item).map(|entry| &entry.binding), Some(Binding::Value(_))) {
            let message = phrase!(CHECK_CALL_IS_A_VALUE_NOT, name = name.item);
            let help = phrase!(CHECK_CALL_WRITE_A_PRODUCT_WITH, name = name.item);
            return self.fail_with_help(Code::ImpliedProduct, name.span, message, help);
        }
        let functions = self.names.iter().filter(|(_, entry)| matches!(entry.binding, Binding::Function(_)));
        let mut known: Vec<&str> = functions.map(|(name, _)| name.as_str()).collect();
        known.sort_unstable();
        known.extend(BUILTINS.iter().map(|builtin| builtin.name));
        known.extend(handbook::models().iter().map(|model| model.name));
        let message = if name.item.contains('.') {
            phrase!(CHECK_CALL_THERE_IS_NO_MODEL, name = name.item)
        } else {
            phrase!(CHECK_CALL_THERE_IS_NO_FUNCTION, name = name.item)
        };
        let help = match nearest(&name.item, known) {
            Some(known) => phrase!(SHARED_DID_YOU_MEAN, known = known),
            None if matches!(name.item.as_str(), "V" | "I") => {
                phrase!(CHECK_CALL_A_CIRCUIT_ABOVE_GIVES_VOLTAGES)
            }
            None => phrase!(CHECK_CALL_DEFINE_ONE_ABOVE),
        };
        self.fail_with_help(Code::UnknownFunction, name.span, message, help);
    }

    fn own_function(&mut self, function: &Function, arguments: &[Argument], span: Span) -> Option<Typed> {
        let name = &function.name.item;
        let signature: Vec<_> = function.parameters.iter().map(|parameter| parameter.item.as_str()).collect();
        let signature = format!("{name}({})", signature.join(", "));
        if arguments.len() != function.parameters.len() {
            let message = phrase!(
                CHECK_CALL_TAKES_FOUND,
                name = name,
                number = counted(function.parameters.len()),
                arguments = arguments.len()
            );
            self.fail_with_help(Code::Arguments, span, message, phrase!(CHECK_CALL_WRITE_2, signature = signature));
            return None;
        }
        let mut scope = HashMap::new();
        let mut whole = true;
        for (i, argument) in arguments.iter().enumerate() {
            let parameter = match &argument.name {
                None => &function.parameters[i],
                Some(named) => match function.parameters.iter().find(|parameter| parameter.item == named.item) {
                    Some(parameter) => parameter,
                    None => {
                        let message = phrase!(CHECK_CALL_HAS_NO_PARAMETER, name = name, named = named.item);
                        self.fail_with_help(
                            Code::Arguments,
                            named.span,
                            message,
                            phrase!(CHECK_CALL_WRITE_2, signature = signature),
                        );
                        return None;
                    }
                },
            };
            match self.expression(&argument.value) {
                Some(typed) if scope.insert(parameter.item.clone(), typed).is_some() => {
                    let message = phrase!(SHARED_IS_GIVEN_TWICE, parameter = parameter.item);
                    self.fail(Code::Arguments, argument.value.span, message);
                    whole = false;
                }
                Some(_) => {}
                None => whole = false,
            }
        }
        if !whole {
            return None;
        }
        if self.inside.len() >= DEEPEST_CALL {
            let message = phrase!(CHECK_CALL_FUNCTIONS_CALL_ONE_ANOTHER_MORE, deepest_call = DEEPEST_CALL);
            self.fail(Code::TooDeep, span, message);
            return None;
        }
        if self.checked.program.steps.len() > MOST_STEPS {
            let message = phrase!(CHECK_CALL_WITH_THIS_CALL_THE_WORKSHEET, most_steps = MOST_STEPS);
            let help = phrase!(CHECK_CALL_A_FUNCTION_THAT_CALLS_ANOTHER);
            self.fail_with_help(Code::TooDeep, span, message, help);
            return None;
        }
        self.parameters.push(scope);
        self.inside.push((name.clone(), span));
        let result = self.expression(&function.value);
        let result = result.and_then(|typed| match &function.unit {
            Some(unit) => self.declared(typed, unit, function.value.span).map(|(typed, _)| typed),
            None => Some(typed),
        });
        self.inside.pop();
        self.parameters.pop();
        result
    }

    fn builtin(&mut self, work: Work, name: &str, shown: &str, arguments: &[&Expr], span: Span) -> Option<Typed> {
        let (least, most) = match work {
            Work::Plain(_) | Work::ToAngle(_) | Work::Keep(_) | Work::SquareRoot | Work::Cost => (1, 1),
            Work::ArcTangent2 | Work::Preferred(_) => (2, 2),
            Work::Clamp => (3, 3),
            Work::Interpolate => (5, usize::MAX),
            _ => (1, usize::MAX),
        };
        if !(least..=most).contains(&arguments.len()) {
            let wanted =
                if least == most { counted(least) } else { phrase!(CHECK_CALL_AT_LEAST, number = counted(least)) };
            let message = phrase!(CHECK_CALL_TAKES_FOUND, name = name, number = wanted, arguments = arguments.len());
            self.fail_with_help(
                Code::Arguments,
                span,
                message,
                phrase!(CHECK_CALL_WRITE, name = name, arguments = shown),
            );
            return None;
        }
        match work {
            Work::Plain(function) => {
                let reg = self.plain(arguments[0], name)?;
                Some(quantity_in(self.push(Step::Apply(function, reg)), QuantityType::NUMBER))
            }
            Work::ToAngle(function) => {
                let reg = self.plain(arguments[0], name)?;
                Some(quantity_in(self.push(Step::Apply(function, reg)), ANGLE))
            }
            Work::Keep(function) => {
                let (reg, quantity) = self.quantity(arguments[0])?;
                Some(quantity_in(self.push(Step::Apply(function, reg)), quantity))
            }
            Work::SquareRoot => {
                let (reg, quantity) = self.quantity(arguments[0])?;
                let quantity = QuantityType::product(quantity.dimension.power(0.5)?);
                Some(quantity_in(self.push(Step::Apply(Unary::Sqrt, reg)), quantity))
            }
            Work::Cost => self.cost(arguments[0]),
            Work::Preferred(direction) => self.preferred(direction, arguments),
            Work::Interpolate => self.interpolate(arguments, span),
            _ => self.several(work, arguments),
        }
    }

    /// A plain number or an angle.
    fn plain(&mut self, expr: &Expr, name: &str) -> Option<Reg> {
        let (reg, quantity) = self.quantity(expr)?;
        if quantity.dimension.is_none() {
            return Some(reg);
        }
        let message = phrase!(CHECK_CALL_TAKES_A_PLAIN_NUMBER_FOUND, name = name, found = quantity.describe());
        let help = match name {
            "sin" | "cos" | "tan" => phrase!(CHECK_CALL_GIVE_AN_ANGLE_OR_DIVIDE),
            _ => phrase!(CHECK_CALL_DIVIDE_BY_A_UNIT_FIRST, name = name, unit = unit_symbol(quantity)),
        };
        self.fail_with_help(Code::UnitMismatch, expr.span, message, help);
        None
    }

    /// Functions of several quantities that must be alike.
    fn several(&mut self, work: Work, arguments: &[&Expr]) -> Option<Typed> {
        let found: Vec<_> = arguments.iter().map(|argument| self.quantity(argument)).collect();
        let found: Vec<_> = found.into_iter().collect::<Option<_>>()?;
        let (first, mut quantity) = found[0];
        for ((_, other), expr) in found.iter().zip(arguments).skip(1) {
            quantity = self.alike(quantity, *other, arguments[0], expr, phrase!(CHECK_CALL_GO_INTO_ONE_FUNCTION))?;
        }
        if work == Work::Sum && quantity.kind == Kind::Temperature && found.len() > 1 {
            let span = arguments[0].span.to(arguments[found.len() - 1].span);
            self.fail_with_help(
                Code::KindMismatch,
                span,
                phrase!(CHECK_CALL_TEMPERATURES_DO_NOT_ADD),
                phrase!(CHECK_CALL_TAKE_THEIR_MEAN),
            );
            return None;
        }
        if work == Work::Parallel {
            self.may_stand_in_parallel(quantity, arguments[0].span)?;
        }
        let adds = match work {
            Work::Parallel => adds_in_parallel(quantity.dimension),
            Work::Series => !adds_in_parallel(quantity.dimension),
            _ => true,
        };
        let rest = found[1..].iter().map(|(reg, _)| *reg);
        let reg = match work {
            Work::Clamp => {
                let raised = self.push(Step::Maximum(first, found[1].0));
                self.push(Step::Minimum(raised, found[2].0))
            }
            Work::ArcTangent2 => {
                let reg = self.push(Step::ArcTangent2(first, found[1].0));
                return Some(quantity_in(reg, ANGLE));
            }
            _ => rest.fold(first, |a, b| {
                let step = match work {
                    Work::Least => Step::Minimum(a, b),
                    Work::Greatest => Step::Maximum(a, b),
                    _ if adds => Step::Add(a, b),
                    _ => Step::Parallel(a, b),
                };
                self.push(step)
            }),
        };
        if work == Work::Mean {
            let count = self.push(Step::Constant(found.len() as f64));
            return Some(quantity_in(self.push(Step::Divide(reg, count)), quantity));
        }
        Some(quantity_in(reg, quantity))
    }

    fn preferred(&mut self, direction: crate::preferred::Direction, arguments: &[&Expr]) -> Option<Typed> {
        let series = match &arguments[0].node {
            Node::Name(name) => Series::named(name),
            _ => None,
        };
        let Some(series) = series else {
            let written = arguments[0].span.text(self.text).to_owned();
            let names: Vec<_> = Series::TABLE.iter().map(|row| row.1).collect();
            let message = phrase!(SHARED_IS_NOT_A_SERIES, written = written);
            self.fail_with_help(
                Code::Arguments,
                arguments[0].span,
                message,
                phrase!(SHARED_NAME_ONE_OF, names = names.join(", ")),
            );
            return None;
        };
        let (reg, quantity) = self.quantity(arguments[1])?;
        if quantity.kind == Kind::Temperature {
            self.fail(Code::KindMismatch, arguments[1].span, phrase!(CHECK_CALL_A_TEMPERATURE_HAS_NO_PREFERRED));
            return None;
        }
        self.checked.program.choices.push(Choice { series, direction });
        let choice = (self.checked.program.choices.len() - 1) as u32;
        Some(quantity_in(self.push(Step::Preferred(choice, reg)), quantity))
    }

    fn interpolate(&mut self, arguments: &[&Expr], span: Span) -> Option<Typed> {
        if arguments.len().is_multiple_of(2) {
            let message = phrase!(CHECK_CALL_THE_TABLE);
            let help = phrase!(CHECK_CALL_WRITE_INTERPOLATE_X_X_Y);
            self.fail_with_help(Code::Arguments, span, message, help);
            return None;
        }
        let (reg, mut x_type) = self.quantity(arguments[0])?;
        let mut y_type: Option<(QuantityType, &Expr)> = None;
        let mut table = Table { x: Vec::new(), y: Vec::new() };
        for pair in arguments[1..].chunks_exact(2) {
            let (x, this_x) = self.table_number(pair[0])?;
            let (y, this_y) = self.table_number(pair[1])?;
            x_type = self.alike(x_type, this_x, arguments[0], pair[0], phrase!(SHARED_STAND_ON_ONE_AXIS))?;
            let joined = match y_type {
                Some((y_type, first)) => {
                    (self.alike(y_type, this_y, first, pair[1], phrase!(SHARED_STAND_ON_ONE_AXIS))?, first)
                }
                None => (this_y, pair[1]),
            };
            y_type = Some(joined);
            if table.x.last().is_some_and(|last| *last >= x) {
                let message = phrase!(CHECK_CALL_THE_POINTS_OF_THE_TABLE);
                self.fail_with_help(Code::Arguments, pair[0].span, message, phrase!(CHECK_CALL_LIST_THEM_BY_RISING_X));
                return None;
            }
            table.x.push(x);
            table.y.push(y);
        }
        self.checked.table_units.push(super::statement::written_unit(arguments[1]));
        self.checked.program.tables.push(table);
        let table = (self.checked.program.tables.len() - 1) as u32;
        Some(quantity_in(self.push(Step::Interpolate(table, reg)), y_type.map_or(QuantityType::NUMBER, |y| y.0)))
    }

    fn table_number(&mut self, expr: &Expr) -> Option<(f64, QuantityType)> {
        let typed = self.expression(expr)?;
        // Literals alone leave a constant behind.
        match (self.checked.program.steps.last(), typed.value_type) {
            (Some(Step::Constant(value)), ValueType::Quantity(quantity))
                if typed.reg as usize == self.checked.program.steps.len() - 1 =>
            {
                Some((*value, quantity))
            }
            _ => {
                let message = phrase!(CHECK_CALL_THE_POINTS_OF_A_TABLE);
                self.fail(Code::Arguments, expr.span, message);
                None
            }
        }
    }

    /// A handbook model: checks its arguments by name and gives the fields of its record.
    pub(super) fn model(&mut self, model: &'static Model, arguments: &[Argument], span: Span) -> Option<Vec<Typed>> {
        let mut inputs: Vec<Option<Reg>> = vec![None; model.parameters.len()];
        let mut whole = true;
        for argument in arguments {
            let Some(name) = &argument.name else {
                let names: Vec<_> = model.parameters.iter().map(|parameter| parameter.name).collect();
                let message = phrase!(CHECK_CALL_TAKES_ITS_ARGUMENTS_BY_NAME, name = model.name);
                let help =
                    phrase!(CHECK_CALL_WRITE_ITS_ARGUMENTS_ARE, names = names[0], other_names = names.join(", "));
                self.fail_with_help(Code::Arguments, argument.value.span, message, help);
                return None;
            };
            let Some(at) = model.parameters.iter().position(|parameter| parameter.name == name.item) else {
                let names = model.parameters.iter().map(|parameter| parameter.name);
                let help = match nearest(&name.item, names.clone()) {
                    Some(known) => phrase!(SHARED_DID_YOU_MEAN, known = known),
                    None => phrase!(CHECK_CALL_ITS_ARGUMENTS_ARE, names = names.collect::<Vec<_>>().join(", ")),
                };
                let message = phrase!(CHECK_CALL_HAS_NO_ARGUMENT, name = model.name, argument = name.item);
                self.fail_with_help(Code::Arguments, name.span, message, help);
                whole = false;
                continue;
            };
            if inputs[at].is_some() {
                self.fail(Code::Arguments, name.span, phrase!(SHARED_IS_GIVEN_TWICE, parameter = name.item));
                whole = false;
                continue;
            }
            match self.model_argument(model, at, &argument.value) {
                Some(reg) => inputs[at] = Some(reg),
                None => whole = false,
            }
        }
        let mut missing = Vec::new();
        for (slot, parameter) in inputs.iter_mut().zip(model.parameters) {
            match (&slot, parameter.default) {
                (None, Some(default)) => {
                    let si = match parameter.input {
                        Input::Quantity(unit) => parse(unit).unwrap_or_else(Unit::one).to_si(default),
                        Input::Choice(_) => default,
                    };
                    *slot = Some(self.push(Step::Constant(si)));
                }
                (None, None) => missing.push(parameter),
                _ => {}
            }
        }
        if whole && !missing.is_empty() {
            let names: Vec<_> = missing.iter().map(|p| format!("`{}` ({})", p.name, p.summary)).collect();
            self.fail(
                Code::Arguments,
                span,
                phrase!(CHECK_CALL_ALSO_NEEDS, name = model.name, names = names.join(", ")),
            );
            whole = false;
        }
        let inputs: Vec<Reg> = inputs.into_iter().flatten().collect();
        if !whole || inputs.len() != model.parameters.len() {
            return None;
        }
        self.checked.program.calls.push(Call { callee: Callee::Model(model), inputs });
        self.checked.call_spans.push(self.inside.first().map_or(span, |inside| inside.1));
        let call = self.push(Step::Call((self.checked.program.calls.len() - 1) as u32));
        let fields = model.fields.iter().enumerate();
        Some(fields.map(|(i, field)| self.model_field(call, i as u32, &field.output)).collect())
    }

    fn model_argument(&mut self, model: &Model, at: usize, value: &Expr) -> Option<Reg> {
        let parameter = &model.parameters[at];
        match parameter.input {
            Input::Choice(words) => {
                let written = value.span.text(self.text).to_owned();
                let Some(index) = words.iter().position(|word| *word == written) else {
                    let message = phrase!(
                        CHECK_CALL_IS_ONE_OF_FOUND,
                        name = parameter.name,
                        words = words.join(", "),
                        written = written
                    );
                    self.fail(Code::Arguments, value.span, message);
                    return None;
                };
                Some(self.push(Step::Constant(index as f64)))
            }
            Input::Quantity(unit) => {
                let (reg, found) = self.quantity(value)?;
                let wanted = parse(unit).map_or(QuantityType::NUMBER, |unit| unit.quantity);
                if found.dimension != wanted.dimension {
                    let message = phrase!(
                        CHECK_CALL_TAKES_QUANTITY,
                        name = parameter.name,
                        summary = parameter.summary,
                        wanted = wanted.describe(),
                        found = found.describe()
                    );
                    self.fail(Code::UnitMismatch, value.span, message);
                    return None;
                }
                if found.kind.joined(wanted.kind).is_none() {
                    let (wanted, found) = (wanted.kind, found.kind);
                    let message = phrase!(
                        CHECK_CALL_TAKES_KIND,
                        name = parameter.name,
                        wanted = wanted.describe(),
                        found = found.describe()
                    );
                    self.fail_with_help(Code::KindMismatch, value.span, message, kind_help(wanted, found));
                    return None;
                }
                Some(reg)
            }
        }
    }

    fn model_field(&mut self, call: Reg, field: u32, output: &Output) -> Typed {
        let reg = self.push(Step::Output(call, field));
        match output {
            Output::Quantity(unit) => quantity_in(reg, parse(unit).map_or(QuantityType::NUMBER, |unit| unit.quantity)),
            Output::Condition => {
                let half = self.push(Step::Constant(0.5));
                let margin = Some(self.push(Step::Subtract(reg, half)));
                Typed { reg, value_type: ValueType::Condition, margin }
            }
        }
    }
}

const ANGLE: QuantityType = QuantityType { dimension: crate::units::Dimension::NONE, kind: Kind::Angle };

fn unit_symbol(quantity: QuantityType) -> String {
    crate::units::DisplayUnit::picked(quantity, 0.0).unit.symbol
}

fn counted(n: usize) -> Phrase {
    match n {
        0 => phrase!(CHECK_CALL_NO_ARGUMENT),
        1 => phrase!(CHECK_CALL_ONE_ARGUMENT),
        n => phrase!(CHECK_CALL_ARGUMENTS, n = n),
    }
}
