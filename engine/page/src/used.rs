//! Values of other worksheets: which worksheet they come from, the givens among them as the fields that they are there, and
//! what the others came to.

use benchleaf_core::{
    lang::ast::{Statement, Use},
    results::{Outcome, Role, Value},
};
use benchleaf_words::{key, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    givens::{self, Row},
    labels,
    links::{encoded, link, to_page},
    mathml,
    rows::{came_to, two_columns},
};

/// The rows of a `use` line.
pub(crate) fn rows<'e>(context: &PageContext<'e>, statement: &Statement, used: &Use, outcome: &Outcome) -> Markup {
    let places = match outcome {
        Outcome::Used(places) => places.as_slice(),
        _ => &[],
    };
    let values: Vec<&'e Value> = places.iter().filter_map(|place| context.evaluation.values.get(*place)).collect();
    let path =
        values.iter().find_map(|value| value.origin.as_ref()).map_or(used.path.item.as_str(), |origin| &origin.file);
    let worksheet = context.evaluation.sheet.used.iter().find(|known| *known.path == *used.path.item);
    let title = worksheet.map_or(path, |worksheet| &worksheet.title);
    let href = to_page(&encoded(&used.path.item)).into_owned();
    let given = |value: &&'e Value| {
        Some(Row {
            name: &value.name,
            label: value.label.as_deref(),
            anchor: Some(format!("value-{}", value.name)),
            statement,
            definition: context.definition(&value.name)?,
        })
    };
    let is_given = |value: &&Value| value.role == Role::Given && context.definition(&value.name).is_some();
    let (taken, others): (Vec<&'e Value>, Vec<&'e Value>) = values.iter().partition(|value| is_given(value));
    let fields = others.iter().any(|value| context.uses_field(&value.name));
    let stays = |value: &&&Value| value.role != Role::Field || !fields || context.uses_field(&value.name);
    let from = html! { @if worksheet.is_some() { a href=(href) { (title) } } @else { code { (title) } } };
    let taken: Vec<Row<'_>> = taken.iter().filter_map(given).collect();
    html! {
        div.row.used data-statement=(statement.id.0) {
            (two_columns(
                &html! { p.from { (set!(context.words, USED_FROM, worksheet = from)) } },
                &html! { @if values.is_empty() { p.not-evaluated { (context.words.text(key::FORMAT_NOT_EVALUATED)) } } },
            ))
        }
        @if !taken.is_empty() { (givens::rows(context, &taken)) }
        @for value in others.iter().filter(stays) { (other(context, value)) }
    }
}

/// A value that is no given.
fn other(context: &PageContext<'_>, value: &Value) -> Markup {
    let symbol = mathml::symbol(&value.name);
    let link = value.origin.as_ref().map(|origin| link(origin));
    let reasoning = html! {
        p.field {
            @match &value.label {
                Some(label) => { a href=[link] { (labels::opening(label.trim_end_matches('.'))) } ", " (symbol) }
                None => { a href=[link] { code { (value.name) } } }
            }
        }
    };
    html! { div.row.of-record id={ "value-" (value.name) } { (two_columns(&reasoning, &came_to(context, value))) } }
}
