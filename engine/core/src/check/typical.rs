//! `parts.typical(part = …)`: a record of the values of a part in general use, each with its tolerance, as givens.

use benchleaf_words::phrase;

use super::{Binding, CheckedValue, Checker, Typed, expression::quantity_in, literal::digits_of};
use crate::{
    lang::{
        ast::{Argument, Definition, Node, Statement},
        parse_literal,
    },
    problem::Code,
    program::Step,
    results::{Outcome, Role},
    span::Spanned,
    suggest::nearest,
    typical::{self, PART, PARTS, TYPICAL, TypicalPart},
};

impl Checker<'_> {
    pub(super) fn typical(
        &mut self,
        definition: &Definition,
        statement: &Statement,
        function: &Spanned<String>,
        arguments: &[Argument],
    ) -> Option<Outcome> {
        let part = self.typical_part(function, arguments)?;
        self.is_plain_record(definition, phrase!(CHECK_TYPICAL_A_GIVEN_OF_YOUR_OWN))?;
        let first = self.checked.values.len();
        let mut fields: Vec<(String, Typed)> = Vec::new();
        for value in part.values {
            // What stands in the table is sound; a test reads all of it.
            let (expr, tolerance) = parse_literal(value.written).ok()?;
            let (quantity, negative) = expr.literal()?;
            let (si, unit) = self.literal(quantity, negative)?;
            let name = format!("{}.{}", definition.name.item, value.name);
            let source = self.given(&name, si, &unit, tolerance.as_ref(), None)?;
            let typed = quantity_in(self.push(Step::Source(source)), unit.quantity);
            self.checked.values.push(CheckedValue {
                name,
                label: Some(value.summary.to_owned()),
                span: statement.span,
                role: Role::Field,
                typed,
                unit: Some(unit),
                digits: Some(digits_of(quantity)),
                origin: None,
            });
            fields.push((value.name.to_owned(), typed));
        }
        self.bind(&definition.name, Binding::Record(part.name.into(), fields), None, None);
        Some(Outcome::Record((first..self.checked.values.len()).collect()))
    }

    fn typical_part(&mut self, function: &Spanned<String>, arguments: &[Argument]) -> Option<&'static TypicalPart> {
        let form = phrase!(CHECK_TYPICAL_WRITE, typical = TYPICAL, part = PART, name = PARTS[0].name);
        let [Argument { name, value }] = arguments else {
            let message = phrase!(CHECK_TYPICAL_TAKES_ONE_ARGUMENT, typical = TYPICAL);
            self.fail_with_help(Code::Arguments, function.span, message, form);
            return None;
        };
        let named = name.as_ref().is_none_or(|name| name.item == PART);
        let Node::Name(part) = &value.node else {
            self.fail_with_help(Code::Arguments, value.span, phrase!(CHECK_TYPICAL_THIS_IS_NOT_THE_NAME), form);
            return None;
        };
        if !named {
            let span = name.as_ref().map_or(value.span, |name| name.span);
            self.fail_with_help(
                Code::Arguments,
                span,
                phrase!(CHECK_TYPICAL_HAS_NO_SUCH_ARGUMENT, typical = TYPICAL),
                form,
            );
            return None;
        }
        let found = typical::find(part);
        if found.is_none() {
            let names = || PARTS.iter().map(|part| part.name);
            let help = match nearest(part, names()) {
                Some(known) => phrase!(SHARED_DID_YOU_MEAN, known = known),
                None => phrase!(CHECK_TYPICAL_THERE_ARE, names = names().collect::<Vec<_>>().join(", ")),
            };
            self.fail_with_help(
                Code::UnknownName,
                value.span,
                phrase!(CHECK_TYPICAL_THERE_IS_NO_TYPICAL_PART, part = part),
                help,
            );
        }
        found
    }
}
