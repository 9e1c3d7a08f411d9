//! A `transient` block: its states with their rates, the formulas over time, what ends it, how the run went, and what was
//! measured.

use benchleaf_core::{
    lang::ast::Expr,
    results::{BlockOutcome, EndedBy, TransientState, Value},
    sheet::{Block, MeasureLine, MeasureRequest, TransientBlock},
};
use benchleaf_words::{Words, key, say, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    formula, labels,
    mathml::{self, Names},
    problems,
    rows::{came_to, two_columns},
};

pub(crate) fn block(context: &PageContext<'_>, index: usize, block: &Block, transient: &TransientBlock) -> Markup {
    let state = match context.evaluation.block_outcomes.get(index) {
        Some(BlockOutcome::Transient(number)) => context.evaluation.transients.get(*number),
        _ => None,
    };
    let words = context.words;
    html! {
        div.calc.transient data-block=(index) {
            (problems::inside(context, block.span))
            @for line in &transient.states {
                @let rate = transient.rates.iter().find(|rate| rate.state.item == line.name.item);
                @let start = mathml::expression(context, &line.start, Names::Symbols).markup;
                (row(line.label.as_deref(), &html! {
                    @if let Some(rate) = rate { (formula::stated(context, &derivative(&line.name.item), &rate.rate)) }
                    p.states { (set!(words, TRANSIENT_STARTS, name = mathml::symbol(&line.name.item), start = mathml::inline(&start))) }
                }, &html! {}))
            }
            @for line in &transient.formulas {
                (row(line.label.as_deref(), &formula::stated(context, &mathml::name(&line.name.item), &line.formula), &html! {}))
            }
            @if let Some(end) = &transient.end {
                @let longest = mathml::expression(context, &end.longest, Names::Symbols).markup;
                (row(None, &html! {
                    p.states {
                        @match &end.event {
                            Some(event) => {
                                @let event = mathml::inline(&mathml::expression(context, event, Names::Symbols).markup);
                                (set!(words, TRANSIENT_ENDS_WHEN, event = event, longest = mathml::inline(&longest)))
                            }
                            None => { (set!(words, TRANSIENT_ENDS_AFTER, longest = mathml::inline(&longest))) }
                        }
                    }
                    @if let Some(state) = state { (went(words, state)) }
                }, &html! {}))
            }
            @for (place, line) in transient.measures.iter().enumerate() {
                @let value = state.and_then(|state| state.measures.get(place)).and_then(|at| context.evaluation.values.get(*at));
                (measure(context, line, value))
            }
        }
    }
}

fn row(label: Option<&str>, reasoning: &Markup, margin: &Markup) -> Markup {
    anchored(None, label, reasoning, margin)
}

fn anchored(anchor: Option<String>, label: Option<&str>, reasoning: &Markup, margin: &Markup) -> Markup {
    let reasoning = html! {
        @if let Some(label) = label { p.what { (labels::opening(label)) } }
        (reasoning)
    };
    html! { div.row id=[anchor] { (two_columns(&reasoning, margin)) } }
}

/// `dV/dt`.
fn derivative(name: &str) -> Markup {
    html! { mfrac { mrow { mi mathvariant="normal" { "d" } (mathml::name(name)) } mrow { mi mathvariant="normal" { "d" } mi { "t" } } } }
}

/// How the run went at the nominal values.
fn went(words: Words<'_>, state: &TransientState) -> Markup {
    let Some(run) = &state.run else { return html! {} };
    let end = run.unit.show(run.end, 4);
    let ended = match run.ended_by {
        EndedBy::Event => Some(say!(words, TRANSIENT_ENDED, end = end)),
        EndedBy::Time => None,
        EndedBy::NotReached => Some(say!(words, TRANSIENT_NOT_REACHED, end = end)),
    };
    let terms = set!(
        words,
        TRANSIENT_TERMS,
        method = problems::in_english(words, html! { (run.method) }),
        steps = run.steps,
        evaluations = run.evaluations,
        error = html! { "10" sup { "−8" } }
    );
    html! {
        @if let Some(ended) = ended { p.states { (ended) } }
        p.run-terms { (terms) }
    }
}

fn measure(context: &PageContext<'_>, line: &MeasureLine, value: Option<&Value>) -> Markup {
    let words = context.words;
    let name = mathml::symbol(&line.name.item);
    let set = |expr: &Expr| mathml::inline(&mathml::expression(context, expr, Names::Symbols).markup);
    let said = match &line.measure {
        MeasureRequest::End => set!(words, TRANSIENT_TIME, name = name),
        MeasureRequest::Greatest(expr) => set!(words, TRANSIENT_GREATEST, name = name, of = set(expr)),
        MeasureRequest::Least(expr) => set!(words, TRANSIENT_LEAST, name = name, of = set(expr)),
        MeasureRequest::First(expr) => set!(words, TRANSIENT_FIRST, name = name, of = set(expr)),
        MeasureRequest::Last(expr) => set!(words, TRANSIENT_LAST, name = name, of = set(expr)),
        MeasureRequest::At(expr, time) => set!(words, TRANSIENT_AT, name = name, of = set(expr), time = set(time)),
    };
    let reasoning = html! { p.states { (said) } };
    let margin = match value.filter(|value| value.nominal.is_finite()) {
        Some(value) => came_to(context, value),
        None => html! { p.not-evaluated { (words.text(key::FORMAT_NOT_EVALUATED)) } },
    };
    let anchor = value.map(|value| format!("value-{}", value.name));
    anchored(anchor, line.label.as_deref(), &reasoning, &margin)
}
