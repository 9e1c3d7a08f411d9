//! Names and fields of records: what each stands for, and the message where there is none.

use super::{Binding, Checker, Typed, functions::CONSTANTS};
use crate::{
    lang::ast::StatementBody,
    problem::Code,
    span::{Span, Spanned},
    suggest::nearest,
    units::{Kind, QuantityType, parse},
};

impl Checker<'_> {
    pub(super) fn name(&mut self, name: &str, span: Span) -> Option<Typed> {
        if let Some(typed) = self.parameters.last().and_then(|scope| scope.get(name)) {
            return Some(*typed);
        }
        match self.names.get(name).map(|entry| (&entry.binding, entry.span)) {
            Some((Binding::Value(typed), _)) => return Some(*typed),
            Some((Binding::Record(_, fields), _)) => {
                let fields: Vec<_> = fields.iter().map(|(field, _)| format!("{name}.{field}")).collect();
                let message = format!("`{name}` is a record of several values");
                self.fail_with_help(Code::TypeMismatch, span, message, format!("read one of {}", fields.join(", ")));
                return None;
            }
            Some((Binding::Function(function), _)) => {
                let parameters: Vec<_> = function.parameters.iter().map(|p| p.item.as_str()).collect();
                let help = format!("call it: {name}({})", parameters.join(", "));
                self.fail_with_help(Code::TypeMismatch, span, format!("`{name}` is a function"), help);
                return None;
            }
            Some((Binding::Failed, defined)) => {
                let message = format!("`{name}` depends on line {}, which has an error", self.line_of(defined));
                self.depends(name, span, message);
                return None;
            }
            None => {}
        }
        if let Some(constant) = CONSTANTS.iter().find(|constant| constant.name == name) {
            let quantity = parse(constant.unit).map_or(QuantityType::NUMBER, |unit| unit.quantity);
            return Some(self.constant(constant.value, QuantityType { kind: Kind::Plain, ..quantity }));
        }
        self.unknown_name(name, span);
        None
    }

    pub(super) fn unknown_name(&mut self, name: &str, span: Span) {
        if let Some(line) = self.unreadable_above(name, span) {
            let message = format!("`{name}` depends on line {line}, which has an error");
            self.depends(name, span, message);
            return;
        }
        if self.traces.contains_key(name) {
            let message = format!("`{name}` changes over time: it has no value of its own");
            let help = format!("in its block, measure it: `last({name})`, `max({name})`, `at({name}, 2 s)`");
            self.fail_with_help(Code::UnknownName, span, message, help);
            return;
        }
        let message = format!("`{name}` is not defined above");
        let known = self.names.keys().map(String::as_str).chain(CONSTANTS.iter().map(|constant| constant.name));
        let mut known: Vec<&str> = known.collect();
        known.sort_unstable();
        let help = match (self.defined_below(name, span), nearest(name, known)) {
            (Some(line), _) => format!("it is defined further down, in line {line}: move that above this"),
            (None, Some(known)) => format!("did you mean `{known}`?"),
            (None, None) if parse(name).is_some() => "a unit stands behind a number: 1 V".to_owned(),
            (None, None) => "a value is defined once, above its first use".to_owned(),
        };
        self.fail_with_help(Code::UnknownName, span, message, help);
    }

    /// The line above that seems to define a name, but does not read.
    fn unreadable_above(&self, name: &str, used: Span) -> Option<usize> {
        let statements = self.sheet.statements();
        let defines = |span: Span| {
            let rest = span.text(self.text).strip_prefix(name).map(str::trim_start);
            rest.is_some_and(|rest| rest.starts_with(['=', '[', ':']))
        };
        let mut unreadable = statements.filter(|statement| matches!(statement.body, StatementBody::Unreadable));
        let found = unreadable.find(|statement| statement.span.start < used.start && defines(statement.span))?;
        Some(self.line_of(found.span))
    }

    /// The line further down in which a name is defined, whether or not what it is defined as makes sense.
    fn defined_below(&self, name: &str, used: Span) -> Option<usize> {
        let statements = self.sheet.statements();
        let mut defined = statements.filter_map(|statement| match &statement.body {
            StatementBody::Definition(definition) => Some(&definition.name),
            _ => None,
        });
        let first = defined.find(|defined| defined.item == name)?;
        (first.span.start > used.start).then(|| self.line_of(first.span))
    }

    pub(super) fn field(&mut self, record: &Spanned<String>, field: &Spanned<String>) -> Option<Typed> {
        match self.names.get(&record.item).map(|entry| &entry.binding) {
            Some(Binding::Record(what, fields)) => {
                if let Some((_, typed)) = fields.iter().find(|(known, _)| *known == field.item) {
                    self.checked.fields_read.insert(format!("{}.{}", record.item, field.item));
                    return Some(*typed);
                }
                let message = format!("`{}` ({what}) has no field `{}`", record.item, field.item);
                let names = fields.iter().map(|(known, _)| known.as_str());
                let help = match nearest(&field.item, names.clone()) {
                    Some(known) => format!("did you mean `{}.{known}`?", record.item),
                    None => format!("its fields are {}", names.collect::<Vec<_>>().join(", ")),
                };
                self.fail_with_help(Code::UnknownField, field.span, message, help);
            }
            Some(Binding::Failed) => {
                let message = format!("`{}` could not be evaluated, so neither can this", record.item);
                self.depends(&record.item, record.span, message);
            }
            Some(_) => {
                if let Some(typed) = self.part_field(&record.item, &field.item) {
                    self.checked.fields_read.insert(format!("{}.{}", record.item, field.item));
                    return Some(typed);
                }
                let message = match self
                    .part_fields
                    .get(&record.item)
                    .map(|fields| fields.iter().map(|field| field.0.as_str()).collect::<Vec<_>>())
                {
                    Some(fields) if fields.is_empty() => format!("`{}` has neither a rating nor a price", record.item),
                    Some(fields) => format!("`{}` has no `{}`; it has {}", record.item, field.item, fields.join(", ")),
                    None => format!("`{}` is not a record, and has no fields", record.item),
                };
                self.fail(Code::UnknownField, record.span.to(field.span), message);
            }
            None => self.unknown_name(&record.item, record.span),
        }
        None
    }
}
