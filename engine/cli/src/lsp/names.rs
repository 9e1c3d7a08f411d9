//! Names in a text: the one that stands at a place, and where one is defined.

use benchleaf_core::{
    lang::ast::{Statement, StatementBody},
    results::Value,
    sheet::{BlockBody, Sheet},
    span::Span,
};

/// Where the name at a place stands: letters, digits and `_`, joined by dots. Empty where there is none.
pub(super) fn around(text: &str, offset: usize) -> Span {
    let is_part = |c: &char| c.is_alphanumeric() || matches!(c, '_' | '.');
    let before: usize = text[..offset].chars().rev().take_while(is_part).map(char::len_utf8).sum();
    let after: usize = text[offset..].chars().take_while(is_part).map(char::len_utf8).sum();
    let (mut span, word) = (Span::new(offset - before, offset + after), &text[offset - before..offset + after]);
    // A sentence may end behind a name.
    span.end -= word.len() - word.trim_end_matches('.').len();
    span.end = span.end.max(span.start);
    span
}

/// The name itself where it is defined: `t_on` of `t_on [s] = …`.
pub(super) fn definition(sheet: &Sheet, values: &[Value], text: &str, name: &str) -> Option<Span> {
    let whole = statement(sheet, values, text, name)?;
    let named = sheet.statements().find(|statement| statement.span == whole).and_then(name_of);
    let first = |span: Span| {
        let at = span.text(text).find(name)?;
        Some(Span::new(span.start + at, span.start + at + name.len()))
    };
    named.or_else(|| first(whole)).or(Some(whole))
}

/// The statement that defines a name, or a record of which it is a field.
pub(super) fn statement(sheet: &Sheet, values: &[Value], text: &str, name: &str) -> Option<Span> {
    let head = name.split('.').next().filter(|head| !head.is_empty())?;
    let defines = |statement: &&Statement| match &statement.body {
        // What does not read still seems to define what stands at its head.
        StatementBody::Unreadable => {
            statement.span.text(text).strip_prefix(head).is_some_and(|rest| rest.trim_start().starts_with(['=', '[']))
        }
        body => body.defines().as_deref() == Some(head),
    };
    let stated = sheet.statements().find(defines).map(|statement| statement.span);
    let parted = || {
        sheet.blocks.iter().find_map(|block| match &block.body {
            BlockBody::Transient(_) => {
                let states = format!("state {head} ");
                let at = block.content.text(text).find(&states)?;
                Some(Span::new(block.content.start + at, block.content.start + at + states.len() - 1))
            }
            _ => None,
        })
    };
    let valued = || values.iter().find(|value| value.name == name || value.name == head).map(|value| value.span);
    stated.or_else(valued).or_else(parted)
}

fn name_of(statement: &Statement) -> Option<Span> {
    match &statement.body {
        StatementBody::Definition(definition) => Some(definition.name.span),
        StatementBody::Function(function) => Some(function.name.span),
        StatementBody::Solve(solve) => Some(solve.result_name().span),
        StatementBody::Choose(choose) => choose.name.as_ref().map(|name| name.span),
        _ => None,
    }
}
