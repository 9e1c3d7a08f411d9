//! Values of other worksheets: which worksheet they come from, the givens among them as the fields that they are there, and
//! what the others came to.

use std::borrow::Cow;

use benchleaf_core::{
    lang::ast::{Statement, Use},
    results::{Origin, Outcome, Role, Value},
};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    givens::{self, Row},
    labels, mathml,
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
    let taken: Vec<Row<'_>> = taken.iter().filter_map(given).collect();
    html! {
        div.row.used data-statement=(statement.id.0) {
            (two_columns(
                &html! { p.from { "From " @if worksheet.is_some() { a href=(href) { (title) } } @else { code { (title) } } ":" } },
                &html! { @if values.is_empty() { p.not-evaluated { "not evaluated" } } },
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

/// A link to a value on the page of its worksheet.
pub(crate) fn link(origin: &Origin) -> String {
    format!("{}#value-{}", to_page(&encoded(&origin.file)), encoded(&origin.name))
}

/// A link to another worksheet leads to its page.
pub(crate) fn to_page(url: &str) -> Cow<'_, str> {
    let end = url.find(['#', '?']).unwrap_or(url.len());
    let (path, rest) = url.split_at(end);
    if path.contains(':') || path.starts_with("//") {
        return url.into();
    }
    page_of(path).map_or(url.into(), |page| format!("{page}{rest}").into())
}

/// The path of a worksheet's page: it stands in the same place under the same name, and a folder's list in the place of its
/// README, which is no worksheet. Nothing where the path is no worksheet's.
pub fn page_of(path: &str) -> Option<String> {
    let (stem, ending) = path.len().checked_sub(".md".len()).and_then(|at| path.split_at_checked(at))?;
    if !ending.eq_ignore_ascii_case(".md") {
        return None;
    }
    let folder = stem.strip_suffix("README").filter(|folder| folder.is_empty() || folder.ends_with('/'));
    Some(folder.map_or_else(|| format!("{stem}.html"), |folder| format!("{folder}index.html")))
}

/// A path as it stands in a link.
fn encoded(path: &str) -> String {
    let mut link = String::with_capacity(path.len());
    for c in path.chars() {
        match c {
            '%' => link.push_str("%25"),
            ' ' => link.push_str("%20"),
            '#' => link.push_str("%23"),
            '?' => link.push_str("%3F"),
            c => link.push(c),
        }
    }
    link
}
