//! The outline of a text: its headings, and under each the values and requirements that it has.

use benchleaf_core::{
    lang::ast::StatementBody,
    results::{Outcome, Role},
    sheet::markdown,
    span::Span,
};
use serde_json::{Value, json};

use super::document::Document;

/// The outline, as nested symbols.
pub(super) fn symbols(document: &Document) -> Vec<Value> {
    let Some(evaluation) = document.evaluation() else { return Vec::new() };
    let mut entries = headings(document, evaluation.sheet.body_start);
    for statement in evaluation.sheet.statements() {
        let shown = match evaluation.outcome(statement.id) {
            Outcome::Value(at) => evaluation.values.get(*at),
            _ => None,
        };
        let kind = match shown.map(|value| value.role) {
            Some(Role::Given) => CONSTANT,
            _ if matches!(statement.body, StatementBody::Function(_)) => FUNCTION,
            _ => VARIABLE,
        };
        let (name, kind) = match (&statement.body, statement.body.defines()) {
            (_, Some(name)) => (name, kind),
            (StatementBody::Keep(keep), _) => {
                let words = statement.label.as_deref().unwrap_or(keep.subject.span.text(&document.text));
                (format!("keep {words}"), BOOLEAN)
            }
            _ => continue,
        };
        entries.push(Entry {
            level: usize::MAX,
            name,
            kind,
            detail: shown.map(benchleaf_core::results::Value::shown),
            span: statement.span,
            end: statement.span.end,
        });
    }
    entries.retain(|entry| !entry.name.trim().is_empty());
    entries.sort_by_key(|entry| (entry.span.start, entry.level));
    let mut entries = entries.into_iter().peekable();
    nested(document, &mut entries, 0)
}

struct Entry {
    /// Of a heading from 1; of a value below all headings.
    level: usize,
    name: String,
    kind: u8,
    detail: Option<String>,
    span: Span,
    /// Where what belongs to it ends.
    end: usize,
}

fn nested(
    document: &Document,
    entries: &mut std::iter::Peekable<impl Iterator<Item = Entry>>,
    above: usize,
) -> Vec<Value> {
    let mut symbols = Vec::new();
    while let Some(entry) = entries.next_if(|entry| entry.level > above) {
        let is_heading = entry.level != usize::MAX;
        let children = if is_heading { nested(document, entries, entry.level) } else { Vec::new() };
        symbols.push(json!({
            "name": entry.name,
            "kind": entry.kind,
            "detail": entry.detail.unwrap_or_default(),
            "range": document.range(Span::new(entry.span.start, entry.end)),
            "selectionRange": document.range(entry.span),
            "children": children,
        }));
    }
    symbols
}

/// The headings, each with the end of its section.
fn headings(document: &Document, body_start: usize) -> Vec<Entry> {
    let text = &document.text;
    let mut entries: Vec<Entry> = Vec::new();
    let mut open = None;
    for (event, range) in markdown(text, Span::new(body_start, text.len())) {
        match event {
            pulldown_cmark::Event::Start(pulldown_cmark::Tag::Heading { level, .. }) => {
                open = Some((level as usize, range));
            }
            pulldown_cmark::Event::End(pulldown_cmark::TagEnd::Heading(_)) => {
                let Some((level, range)) = open.take() else { continue };
                let written = text.get(range.clone()).unwrap_or_default().trim_end();
                let name = written.trim_start_matches('#').lines().next().unwrap_or_default().trim().to_owned();
                let span = Span::new(range.start, range.start + written.len());
                entries.push(Entry { level, name, kind: STRING, detail: None, span, end: text.len() });
            }
            _ => {}
        }
    }
    for at in 0..entries.len() {
        let (level, next) = (entries[at].level, &entries[at + 1..]);
        if let Some(next) = next.iter().find(|other| other.level <= level) {
            entries[at].end = next.span.start;
        }
    }
    entries
}

const FUNCTION: u8 = 12;
const VARIABLE: u8 = 13;
const CONSTANT: u8 = 14;
const STRING: u8 = 15;
const BOOLEAN: u8 = 17;
