//! Names and fields of records: what each stands for, and the message where there is none.

use benchleaf_words::phrase;

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
                let message = phrase!(CHECK_NAMES_IS_A_RECORD_OF_SEVERAL, name = name);
                self.fail_with_help(
                    Code::TypeMismatch,
                    span,
                    message,
                    phrase!(CHECK_NAMES_READ_ONE_OF, fields = fields.join(", ")),
                );
                return None;
            }
            Some((Binding::Function(function), _)) => {
                let parameters: Vec<_> = function.parameters.iter().map(|p| p.item.as_str()).collect();
                let help = phrase!(CHECK_NAMES_CALL_IT, name = name, parameters = parameters.join(", "));
                self.fail_with_help(Code::TypeMismatch, span, phrase!(CHECK_NAMES_IS_A_FUNCTION, name = name), help);
                return None;
            }
            Some((Binding::Failed, defined)) => {
                let message = phrase!(SHARED_DEPENDS_ON_LINE, name = name, line = self.line_of(defined));
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
            let message = phrase!(SHARED_DEPENDS_ON_LINE, name = name, line = line);
            self.depends(name, span, message);
            return;
        }
        if self.traces.contains_key(name) {
            let message = phrase!(CHECK_NAMES_CHANGES_OVER_TIME, name = name);
            let help = phrase!(CHECK_NAMES_IN_ITS_BLOCK_MEASURE_IT, name = name);
            self.fail_with_help(Code::UnknownName, span, message, help);
            return;
        }
        let message = phrase!(CHECK_NAMES_IS_NOT_DEFINED_ABOVE, name = name);
        let known = self.names.keys().map(String::as_str).chain(CONSTANTS.iter().map(|constant| constant.name));
        let mut known: Vec<&str> = known.collect();
        known.sort_unstable();
        let help = match (self.defined_below(name, span), nearest(name, known)) {
            (Some(line), _) => phrase!(CHECK_NAMES_IT_IS_DEFINED_FURTHER_DOWN, line = line),
            (None, Some(known)) => phrase!(SHARED_DID_YOU_MEAN, known = known),
            (None, None) if parse(name).is_some() => phrase!(CHECK_NAMES_A_UNIT_STANDS),
            (None, None) => phrase!(CHECK_NAMES_A_VALUE_IS_DEFINED_ONCE),
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
                let message = phrase!(CHECK_NAMES_HAS_NO_FIELD, record = record.item, what = what, field = field.item);
                let names = fields.iter().map(|(known, _)| known.as_str());
                let help = match nearest(&field.item, names.clone()) {
                    Some(known) => phrase!(SHARED_DID_YOU_MEAN_FIELD, record = record.item, known = known),
                    None => phrase!(SHARED_ITS_FIELDS_ARE, names = names.collect::<Vec<_>>().join(", ")),
                };
                self.fail_with_help(Code::UnknownField, field.span, message, help);
            }
            Some(Binding::Failed) => {
                let message = phrase!(SHARED_COULD_NOT_BE_EVALUATED_SO, name = record.item);
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
                    Some(fields) if fields.is_empty() => {
                        phrase!(CHECK_NAMES_HAS_NEITHER_A_RATING_NOR, record = record.item)
                    }
                    Some(fields) => phrase!(
                        CHECK_NAMES_HAS_NO_IT_HAS,
                        record = record.item,
                        field = field.item,
                        fields = fields.join(", ")
                    ),
                    None => phrase!(CHECK_NAMES_IS_NOT_A_RECORD, record = record.item),
                };
                self.fail(Code::UnknownField, record.span.to(field.span), message);
            }
            None => self.unknown_name(&record.item, record.span),
        }
        None
    }
}
