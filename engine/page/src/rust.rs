//! A Rust block: its code, what it printed, and each of its results with the range that it has over the builds.

use benchleaf_core::{
    host::Fidelity,
    problem::Severity,
    results::{BlockOutcome, RustState, Series},
    sheet::{Block, RustBlock},
};
use benchleaf_words::{Words, count, key, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    labels, mathml, problems,
    rows::{came_to, two_columns},
};

/// A block with what it came to; as code alone where it was not run.
pub(crate) fn block(context: &PageContext<'_>, index: usize, block: &Block, rust: &RustBlock) -> Markup {
    let state = match context.evaluation.block_outcomes.get(index) {
        Some(BlockOutcome::Rust(number)) => context.evaluation.rust.get(*number),
        _ => None,
    };
    let words = context.words;
    let ran = state.filter(|state| state.fidelity.is_some());
    let names = |of: fn(&RustState) -> &Vec<String>| ran.map(|state| of(state).join(" "));
    // Whether it was not run, or ran and failed.
    let mut problems = context.evaluation.problems.iter();
    let failed = problems.any(|problem| problem.severity() == Severity::Error && block.span.contains(problem.span));
    let waits = ran.is_none() && !failed;
    html! {
        div.rust-calc data-block=(index) data-waits[waits] data-reads=[names(|state| &state.givens)]
            data-beside=[names(|state| &state.beside)] {
            p.written-in { (words.text(if ran.is_some() { key::RUST_CODE } else { key::RUST_NOT_RUN })) }
            pre.rust { code { (block.content.text(context.source)) } }
            @if let Some(state) = ran { (outcome(context, rust, state)) } @else { (waiting(words, rust)) }
            (problems::inside(context, block.span))
        }
    }
}

fn outcome(context: &PageContext<'_>, rust: &RustBlock, state: &RustState) -> Markup {
    let words = context.words;
    let fidelity = match state.fidelity {
        Some(Fidelity::Corners) => Some(words.text(key::RUST_CORNERS)),
        Some(Fidelity::Nominal) => Some(words.text(key::RUST_NOMINAL)),
        Some(Fidelity::Builds) | None => None,
    };
    html! {
        @if !state.printed.is_empty() {
            p.written-in { (words.text(key::RUST_PRINTED)) }
            pre.printed { samp { (state.printed) } }
        }
        @for (result, index) in rust.outputs.iter().zip(&state.outputs) {
            @if let Some(value) = context.evaluation.values.get(*index) {
                div.row id={ "value-" (result.name.item) } {
                    (two_columns(&html! { (said(result.label.as_deref())) (gives(words, &result.name.item)) }, &came_to(context, value)))
                }
            }
        }
        @for series in &state.series { (series_row(words, series)) }
        @if let Some(text) = fidelity { p.fidelity { (text) } }
        @if !state.terms.is_empty() { p.terms { (state.terms) } }
    }
}

/// The names of results that are not there.
fn waiting(words: Words<'_>, rust: &RustBlock) -> Markup {
    html! {
        @for result in &rust.outputs {
            div.row.failed id={ "value-" (result.name.item) } {
                (two_columns(
                    &html! { (said(result.label.as_deref())) (gives(words, &result.name.item)) },
                    &html! { p.not-evaluated { (words.text(key::FORMAT_NOT_EVALUATED)) } },
                ))
            }
        }
    }
}

fn said(label: Option<&str>) -> Markup {
    html! { @if let Some(label) = label { p.what { (labels::opening(label)) } } }
}

fn gives(words: Words<'_>, name: &str) -> Markup {
    html! { p.states { (set!(words, RUST_GIVES, name = mathml::symbol(name))) } }
}

fn series_row(words: Words<'_>, series: &Series) -> Markup {
    let margin = html! { p.came-to { (count!(words, RUST_POINTS, series.numbers.len(), n = series.numbers.len())) } };
    let name = html! { p.states { (set!(words, RUST_SERIES, name = mathml::symbol(&series.name))) } };
    html! { div.row { (two_columns(&html! { (said(series.label.as_deref())) (name) }, &margin)) } }
}
