//! Statements, notes, plots and inline results.

use benchleaf_words::{Phrase, phrase};

use super::{
    Binding, CheckedKeep, CheckedNote, CheckedValue, Checker, Entry, Typed,
    expression::{kind_help, quantity_in},
    functions::{CONSTANTS, Work, builtin},
    literal::{digits_of, unit},
};
use crate::{
    handbook,
    lang::ast::{
        Bounds, Correlation, Definition, Expr, Function, Keep, KeepBound, Node, Quantity, Statement, StatementBody,
        Tolerance,
    },
    problem::{Code, Problem},
    program::{Reg, Step},
    results::{Outcome, Role},
    sheet::{Note, Sheet},
    span::{Span, Spanned},
    typical,
    units::{Kind, QuantityType, Unit, ValueType, parse},
};

impl Checker<'_> {
    pub(super) fn statement(&mut self, statement: &Statement) -> Outcome {
        match &statement.body {
            StatementBody::Definition(definition) => self.definition(definition, statement),
            StatementBody::Function(function) => self.function(function),
            StatementBody::Keep(keep) => self.keep(keep, statement),
            StatementBody::Correlation(correlation) => self.correlation(correlation),
            StatementBody::Solve(solve) => self.solve(solve, statement),
            StatementBody::Choose(choose) => self.choose(choose, statement),
            StatementBody::Use(used) => self.use_values(used, statement),
            StatementBody::Unreadable => Outcome::Failed,
        }
    }

    fn definition(&mut self, definition: &Definition, statement: &Statement) -> Outcome {
        let name = &definition.name;
        if !self.name_is_free(name) {
            return Outcome::Failed;
        }
        let outcome = match &definition.value.node {
            Node::Call(model, arguments) if handbook::find(&model.item).is_some() => {
                self.record(definition, statement, &model.item, arguments)
            }
            Node::Call(function, arguments) if function.item == typical::TYPICAL => {
                self.typical(definition, statement, function, arguments)
            }
            _ => self.single(definition, statement),
        };
        outcome.unwrap_or_else(|| {
            self.bind(name, Binding::Failed, None, None);
            Outcome::Failed
        })
    }

    /// Whether a name may be defined here; warns where it hides something.
    pub(super) fn name_is_free(&mut self, name: &Spanned<String>) -> bool {
        if let Some(entry) = self.names.get(&name.item) {
            let line = self.line_of(entry.span);
            let message = phrase!(SHARED_IS_DEFINED_ALREADY_ON_LINE, name = name.item, line = line);
            self.fail_with_help(Code::Redefined, name.span, message, phrase!(SHARED_A_VALUE_IS_DEFINED_ONCE));
            return false;
        }
        let hidden = if CONSTANTS.iter().any(|constant| constant.name == name.item) {
            Some(phrase!(CHECK_STATEMENT_HIDES_THE_CONSTANT, name = name.item))
        } else if builtin(&name.item).is_some_and(|known| known.work != Work::Cost) {
            // A value called `cost` stands beside the function without a doubt which of them is meant.
            Some(phrase!(CHECK_STATEMENT_HIDES_THE_FUNCTION, name = name.item))
        } else {
            None
        };
        if let Some(message) = hidden {
            self.fail(Code::Shadows, name.span, message);
        }
        true
    }

    pub(super) fn bind(&mut self, name: &Spanned<String>, binding: Binding, source: Option<u32>, unit: Option<Unit>) {
        self.names.insert(name.item.clone(), Entry { binding, span: name.span, source, unit });
    }

    /// Binds a name to a value that is worked out, and gives the value's place among the worksheet's.
    pub(super) fn derived(
        &mut self,
        name: &Spanned<String>,
        (label, span): (Option<&String>, Span),
        typed: Typed,
        unit: Option<Unit>,
    ) -> usize {
        self.bind(name, Binding::Value(typed), None, unit.clone());
        self.checked.values.push(CheckedValue {
            name: name.item.clone(),
            label: label.cloned(),
            span,
            role: Role::Derived,
            typed,
            unit,
            digits: None,
            origin: None,
        });
        self.checked.values.len() - 1
    }

    fn single(&mut self, definition: &Definition, statement: &Statement) -> Option<Outcome> {
        let name = &definition.name;
        let (typed, source, written, digits) = match definition.literal() {
            Some((quantity, negative)) => {
                let (si, unit) = self.literal(quantity, negative)?;
                let tolerance = definition.tolerance.as_deref();
                let source = self.given(&name.item, si, &unit, tolerance, quantity.code_tolerance)?;
                if !matches!(tolerance, Some(Tolerance { bounds: Bounds::MinTypMax { .. }, .. })) {
                    self.literals.insert(source, definition.value.span);
                }
                let typed = quantity_in(self.push(Step::Source(source)), unit.quantity);
                (typed, Some(source), Some(unit), Some(digits_of(quantity)))
            }
            None => {
                let typed = self.expression(&definition.value)?;
                // A preferred value has as many digits as its series.
                let digits = match self.checked.program.steps[typed.reg as usize] {
                    Step::Preferred(choice, _) => Some(self.checked.program.choices[choice as usize].series.digits()),
                    _ => None,
                };
                let typed = match &definition.tolerance {
                    Some(tolerance) => self.toleranced(&name.item, typed, tolerance)?,
                    None => typed,
                };
                (typed, None, None, digits)
            }
        };
        let (typed, declared) = match &definition.unit {
            Some(unit) => self.declared(typed, unit, definition.value.span)?,
            None => (typed, None),
        };
        // A given in a declared unit is shown in it, and then not with the digits it was written in.
        let digits = digits.filter(|_| declared.is_none() || source.is_none());
        let unit = declared.or(written).or_else(|| self.torque_unit(&definition.value, statement.label.as_deref()));
        self.bind(name, Binding::Value(typed), source, unit.clone());
        self.checked.values.push(CheckedValue {
            name: name.item.clone(),
            label: statement.label.clone(),
            span: statement.span,
            role: if source.is_some() { Role::Given } else { Role::Derived },
            typed,
            unit,
            digits,
            origin: None,
        });
        Some(Outcome::Value(self.checked.values.len() - 1))
    }

    /// Reports a unit or a tolerance of a record as a whole; `instead` says where a tolerance belongs.
    pub(super) fn is_plain_record(&mut self, definition: &Definition, instead: Phrase) -> Option<()> {
        if let Some(unit) = &definition.unit {
            self.fail(Code::TypeMismatch, unit.span, phrase!(CHECK_STATEMENT_A_RECORD_HAS_NO_UNIT));
            return None;
        }
        if let Some(tolerance) = &definition.tolerance {
            let message = phrase!(CHECK_STATEMENT_A_RECORD_HAS_NO_TOLERANCE);
            self.fail_with_help(Code::Tolerance, tolerance.span, message, instead);
            return None;
        }
        Some(())
    }

    fn record(
        &mut self,
        definition: &Definition,
        statement: &Statement,
        model: &str,
        arguments: &[crate::lang::ast::Argument],
    ) -> Option<Outcome> {
        let model = handbook::find(model)?;
        self.is_plain_record(definition, phrase!(CHECK_STATEMENT_GIVE_THE_ARGUMENTS_THEIRS))?;
        let fields = self.model(model, arguments, definition.value.span)?;
        self.checked.records.push((definition.name.item.clone(), self.checked.program.calls.len() as u32 - 1));
        let first = self.checked.values.len();
        for (typed, field) in fields.iter().zip(model.fields) {
            let unit = match field.output {
                handbook::Output::Quantity(symbol) => shown_as_declared(symbol),
                handbook::Output::Condition => None,
            };
            self.checked.values.push(CheckedValue {
                name: format!("{}.{}", definition.name.item, field.name),
                label: Some(field.summary.to_owned()),
                span: statement.span,
                role: Role::Field,
                typed: *typed,
                unit,
                digits: None,
                origin: None,
            });
        }
        let indices = (first..self.checked.values.len()).collect();
        let named = model.fields.iter().map(|field| field.name.to_owned()).zip(fields).collect();
        self.bind(&definition.name, Binding::Record(model.name.into(), named), None, None);
        Some(Outcome::Record(indices))
    }

    fn function(&mut self, function: &Function) -> Outcome {
        if !self.name_is_free(&function.name) {
            return Outcome::Failed;
        }
        if let Some(Err(problem)) = function.unit.as_ref().map(unit) {
            self.report(problem);
            self.bind(&function.name, Binding::Failed, None, None);
            return Outcome::Failed;
        }
        self.bind(&function.name, Binding::Function(Box::new(function.clone())), None, None);
        Outcome::Stated
    }

    /// Holds a result against a declared unit; the result takes the unit's kind.
    pub(super) fn declared(
        &mut self,
        typed: Typed,
        text: &Spanned<String>,
        formula: Span,
    ) -> Option<(Typed, Option<Unit>)> {
        let found = match unit(text) {
            Ok(found) => found,
            Err(problem) => {
                self.report(problem);
                return None;
            }
        };
        let ValueType::Quantity(quantity) = typed.value_type else {
            let message = phrase!(CHECK_STATEMENT_A_CONDITION_TRUE_OR_FALSE);
            self.fail_with_help(Code::TypeMismatch, text.span, message, phrase!(SHARED_LEAVE_THE_UNIT_OUT));
            return None;
        };
        let kinds = (quantity.kind, found.quantity.kind);
        if quantity.dimension != found.quantity.dimension {
            let message =
                phrase!(CHECK_STATEMENT_THE_FORMULA_GIVES_NOT, found = quantity.describe(), in_unit = in_unit(&found));
            let help =
                self.or_a_unit(phrase!(CHECK_STATEMENT_THE_DECLARED_UNIT_IS, wanted = text.item), vec![typed.reg]);
            self.fail_with_help(Code::UnitMismatch, formula, message, help);
            return None;
        }
        // Kelvin may name a point on the scale as well as a difference.
        let kelvin_point = kinds == (Kind::Temperature, Kind::TemperatureDifference);
        let Some(kind) = quantity.kind.joined(found.quantity.kind).or(kelvin_point.then_some(Kind::Temperature)) else {
            let message = phrase!(
                CHECK_STATEMENT_THE_FORMULA_GIVES_BUT_IS,
                found = kinds.0.describe(),
                unit = text.item,
                wanted = kinds.1.describe()
            );
            self.fail_with_help(Code::KindMismatch, formula, message, kind_help(kinds.0, kinds.1));
            return None;
        };
        let value_type = ValueType::Quantity(QuantityType { kind, ..quantity });
        Some((Typed { value_type, ..typed }, Some(found)))
    }

    fn keep(&mut self, keep: &Keep, statement: &Statement) -> Outcome {
        if keep.bound == KeepBound::True {
            return self.keep_true(keep, statement);
        }
        if let KeepBound::Rating { at, derating } = &keep.bound {
            return self.keep_rating(keep, at, derating.as_ref(), statement).unwrap_or(Outcome::Failed);
        }
        if let KeepBound::Agree { with, within } = &keep.bound {
            return self.agree(keep, with, within, statement).unwrap_or(Outcome::Failed);
        }
        let subject = self.quantity(&keep.subject);
        let (low, high) = match &keep.bound {
            KeepBound::True | KeepBound::Rating { .. } | KeepBound::Agree { .. } => (None, None),
            KeepBound::Below(high) => (None, Some(high)),
            KeepBound::Above(low) => (Some(low), None),
            KeepBound::Between(low, high) => (Some(low), Some(high)),
        };
        let bounds = (low.map(|low| self.quantity(low)), high.map(|high| self.quantity(high)));
        let Some((reg, mut quantity)) = subject else { return Outcome::Failed };
        let mut checked = [None, None];
        for (i, (expr, bound)) in [(low, bounds.0), (high, bounds.1)].into_iter().enumerate() {
            let (Some(expr), Some(bound)) = (expr, bound) else { continue };
            let Some((bound, bound_type)) = bound else { return Outcome::Failed };
            let Some(joined) = self.alike(quantity, bound_type, &keep.subject, expr, phrase!(CHECK_EXPRESSION_COMPARE))
            else {
                return Outcome::Failed;
            };
            quantity = joined;
            let distance = self.push(if i == 0 { Step::Subtract(reg, bound) } else { Step::Subtract(bound, reg) });
            checked[i] = Some((quantity_in(bound, joined), distance));
        }
        if let (Some(low), Some(high), [Some((lower, _)), Some((upper, _))]) = (low, high, &checked)
            && self.fixed_value(lower.reg).zip(self.fixed_value(upper.reg)).is_some_and(|(lower, upper)| lower > upper)
        {
            let (low, high) = (low.span.text(self.text), high.span.text(self.text));
            let message = phrase!(CHECK_STATEMENT_NO_VALUE_IS_BETWEEN, low = low, high = high);
            let help = phrase!(CHECK_STATEMENT_WRITE_THE_LESSER_BOUND, low = low, high = high);
            self.fail_with_help(Code::Tolerance, statement.span, message, help);
            return Outcome::Failed;
        }
        let unit = self.unit_of_expression(&keep.subject).or_else(|| high.or(low).and_then(written_unit));
        let [lower, upper] = checked;
        let subject = quantity_in(reg, quantity);
        let (label, span) = (statement.label.clone(), statement.span);
        let distance = match (&lower, &upper) {
            (Some((_, a)), Some((_, b))) => self.push(Step::Minimum(*a, *b)),
            (Some((_, a)), None) | (None, Some((_, a))) => *a,
            (None, None) => return Outcome::Failed,
        };
        let subject_span = keep.subject.span;
        self.checked.keeps.push(CheckedKeep { label, span, subject, subject_span, unit, lower, upper, distance });
        Outcome::Keep(self.checked.keeps.len() - 1)
    }

    /// The value of a step that is the same in every build and written in the worksheet.
    fn fixed_value(&self, reg: Reg) -> Option<f64> {
        match self.checked.program.steps[reg as usize] {
            Step::Constant(value) => Some(value),
            _ => None,
        }
    }

    /// `agree I_b with I(R_b) within 1 %`: what is kept is how far the one is off from the other, as a part of it.
    fn agree(&mut self, keep: &Keep, with: &Expr, within: &Quantity, statement: &Statement) -> Option<Outcome> {
        let (one, other) = (self.quantity(&keep.subject), self.quantity(with));
        let ((one, one_type), (other, other_type)) = (one?, other?);
        let quantity = self.alike(one_type, other_type, &keep.subject, with, phrase!(CHECK_EXPRESSION_AGREE))?;
        if quantity.kind == Kind::Temperature {
            let message = phrase!(SHARED_PER_CENT_OF_A_TEMPERATURE);
            let help = phrase!(CHECK_STATEMENT_KEEP_THE_DIFFERENCE);
            self.fail_with_help(Code::KindMismatch, keep.subject.span.to(with.span), message, help);
            return None;
        }
        let (part, unit) = self.literal(within, false)?;
        if !unit.quantity.dimension.is_none() || part <= 0.0 {
            let message = phrase!(CHECK_STATEMENT_HOW_FAR_TWO_VALUES_MAY);
            let help = phrase!(CHECK_STATEMENT_WRITE_AGREE_I_B);
            self.fail_with_help(Code::UnitMismatch, within.span, message, help);
            return None;
        }
        let apart = if self.is_same(one, other) {
            // One function of the givens; what rounding leaves between the two is no difference.
            self.rely_on(one, other);
            self.push(Step::Constant(0.0))
        } else {
            let apart = self.push(Step::Subtract(one, other));
            self.push(Step::Divide(apart, other))
        };
        self.checked.divisors.push((apart, with.span));
        let number = QuantityType::NUMBER;
        let (low, high) = (self.constant(-part, number), self.constant(part, number));
        let above = self.push(Step::Subtract(apart, low.reg));
        let below = self.push(Step::Subtract(high.reg, apart));
        let distance = self.push(Step::Minimum(above, below));
        self.checked.keeps.push(CheckedKeep {
            label: statement.label.clone(),
            span: statement.span,
            subject: quantity_in(apart, number),
            subject_span: keep.subject.span,
            unit: parse("%"),
            lower: Some((low, above)),
            upper: Some((high, below)),
            distance,
        });
        Some(Outcome::Keep(self.checked.keeps.len() - 1))
    }

    /// `keep relay.pulls_in`: a condition that must be true.
    fn keep_true(&mut self, keep: &Keep, statement: &Statement) -> Outcome {
        let Some(subject) = self.expression(&keep.subject) else { return Outcome::Failed };
        if subject.value_type != ValueType::Condition {
            let message = phrase!(CHECK_STATEMENT_IS_KEPT_BUT_WITHIN_NO, found = subject.value_type.describe());
            let help = phrase!(CHECK_STATEMENT_WRITE_KEEP_X_BELOW_Y);
            self.fail_with_help(Code::TypeMismatch, keep.subject.span, message, help);
            return Outcome::Failed;
        }
        let (label, span) = (statement.label.clone(), statement.span);
        let distance = subject.margin.unwrap_or(subject.reg);
        self.checked.keeps.push(CheckedKeep {
            label,
            span,
            subject,
            subject_span: keep.subject.span,
            unit: None,
            lower: None,
            upper: None,
            distance,
        });
        Outcome::Keep(self.checked.keeps.len() - 1)
    }

    /// The unit in which a name or field is shown, where the expression is no more than that.
    pub(super) fn unit_of_expression(&self, expr: &Expr) -> Option<Unit> {
        match &expr.node {
            Node::Name(name) => self.names.get(name)?.unit.clone(),
            Node::Field(record, field) => {
                let name = format!("{}.{}", record.item, field.item);
                self.checked.values.iter().rev().find(|value| value.name == name)?.unit.clone()
            }
            _ => None,
        }
    }

    fn correlation(&mut self, correlation: &Correlation) -> Outcome {
        let mut sources = Vec::new();
        for name in [&correlation.first, &correlation.second] {
            let Some(entry) = self.names.get(&name.item) else {
                self.unknown_name(&name.item, name.span);
                return Outcome::Failed;
            };
            match entry.source.filter(|source| self.checked.program.sources[*source as usize].varies()) {
                Some(source) => sources.push(source),
                None => {
                    let message = phrase!(CHECK_STATEMENT_IS_NOT_A_GIVEN, name = name.item);
                    let help = phrase!(CHECK_STATEMENT_A_CORRELATION_JOINS_TWO_GIVENS);
                    self.fail_with_help(Code::Correlation, name.span, message, help);
                    return Outcome::Failed;
                }
            }
        }
        if sources[0] == sources[1] {
            self.fail(
                Code::Correlation,
                correlation.second.span,
                phrase!(CHECK_STATEMENT_A_GIVEN_IS_ALWAYS_CORRELATED),
            );
            return Outcome::Failed;
        }
        let steps = self.checked.program.steps.len();
        let Some((reg, quantity)) = self.quantity(&correlation.coefficient) else { return Outcome::Failed };
        let coefficient = match self.checked.program.steps[reg as usize] {
            Step::Constant(r) if quantity.dimension.is_none() && reg as usize == steps => r,
            _ => f64::NAN,
        };
        if !(-1.0..=1.0).contains(&coefficient) {
            let message = phrase!(CHECK_STATEMENT_A_CORRELATION_COEFFICIENT);
            self.fail(Code::Correlation, correlation.coefficient.span, message);
            return Outcome::Failed;
        }
        self.checked.correlation_spans.push(correlation.first.span.to(correlation.coefficient.span));
        self.checked.program.correlations.push((sources[0], sources[1], coefficient));
        Outcome::Stated
    }

    pub(super) fn note(&mut self, note: &Note, span: Span) {
        let mut checked =
            CheckedNote { signal: note.signal, span, condition: None, compared: Vec::new(), failed: false };
        if let Some(condition) = &note.condition {
            match self.condition(condition) {
                Some(typed) => {
                    checked.condition = Some((typed, condition.span));
                    self.compared(condition, &mut checked.compared);
                }
                None => checked.failed = true,
            }
        }
        self.checked.notes.push(checked);
    }

    /// The names and fields that a condition is about.
    fn compared(&mut self, expr: &Expr, found: &mut Vec<(String, Typed, Option<Unit>)>) {
        match &expr.node {
            Node::Name(_) | Node::Field(..) => {
                let name = expr.span.text(self.text).to_owned();
                let known = found.iter().any(|(other, ..)| *other == name);
                if let Some(typed) = (!known).then(|| self.expression(expr)).flatten() {
                    found.push((name, typed, self.unit_of_expression(expr)));
                }
            }
            Node::Unary(_, inner) => self.compared(inner, found),
            Node::Binary(_, left, right) => {
                self.compared(left, found);
                self.compared(right, found);
            }
            Node::Call(_, arguments) => arguments.iter().for_each(|argument| self.compared(&argument.value, found)),
            Node::If(a, b, c) => [a, b, c].into_iter().for_each(|part| self.compared(part, found)),
            Node::Quantity(_) | Node::Pin(..) => {}
        }
    }

    /// Inline results: the names must exist, and a unit must fit.
    pub(super) fn inlines(&mut self, sheet: &Sheet) {
        for inline in &sheet.inlines {
            let name = &inline.item.name;
            let value = self.checked.values.iter().find(|value| value.name == *name);
            if let Some(value) = value {
                if value.role == Role::Field {
                    self.checked.fields_read.insert(name.clone());
                }
                if let Err(message) = crate::results::inline_unit(&inline.item, value.typed.value_type) {
                    self.report(Problem::new(Code::Inline, inline.span, message));
                }
                continue;
            }
            let head = name.split('.').next().unwrap_or(name);
            match self.names.get(head).map(|entry| (&entry.binding, entry.span)) {
                Some((Binding::Failed, defined)) => {
                    let message = phrase!(SHARED_DEPENDS_ON_LINE, name = head, line = self.line_of(defined));
                    self.depends(head, inline.span, message);
                }
                Some(_) => self.fail(Code::Inline, inline.span, phrase!(CHECK_STATEMENT_IS_NOT_A_VALUE, name = name)),
                None => self.unknown_name(name, inline.span),
            }
        }
    }
}

/// The unit written in a literal.
pub(super) fn written_unit(expr: &Expr) -> Option<Unit> {
    match &expr.node {
        Node::Quantity(quantity) => parse(&quantity.unit.as_ref()?.item),
        Node::Unary(_, inner) => written_unit(inner),
        _ => None,
    }
}

/// Units that a model's field is shown in as its table says; in all others the prefix follows the number.
pub(super) fn shown_as_declared(symbol: &str) -> Option<Unit> {
    matches!(symbol, "%" | "ppm" | "rev/min" | "rpm" | "°C" | "K" | "°" | "mm" | "mm²" | "mN·m/A" | "mΩ/m" | "Ω·mm²/m")
        .then(|| parse(symbol))
        .flatten()
}

fn in_unit(unit: &Unit) -> Phrase {
    unit.quantity.describe_kind()
}
