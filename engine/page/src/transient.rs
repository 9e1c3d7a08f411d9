//! A `transient` block: its states with their rates, the formulas over time, what ends it, how the run went, and what was
//! measured.

use benchleaf_core::{
    lang::ast::Expr,
    results::{BlockOutcome, EndedBy, TransientState, Value},
    sheet::{Block, MeasureLine, MeasureRequest, TransientBlock},
};
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
    html! {
        div.calc.transient data-block=(index) {
            (problems::inside(context, block.span))
            @for line in &transient.states {
                @let rate = transient.rates.iter().find(|rate| rate.state.item == line.name.item);
                @let start = mathml::expression(context, &line.start, Names::Symbols).markup;
                (row(line.label.as_deref(), &html! {
                    @if let Some(rate) = rate { (formula::stated(context, &derivative(&line.name.item), &rate.rate)) }
                    p.states {
                        (mathml::symbol(&line.name.item)) " starts at " (mathml::inline(&start)) "."
                    }
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
                                "The run ends when " (mathml::inline(&mathml::expression(context, event, Names::Symbols).markup))
                                ", after " (mathml::inline(&longest)) " at the latest."
                            }
                            None => { "The run ends after " (mathml::inline(&longest)) "." }
                        }
                    }
                    @if let Some(state) = state { (went(state)) }
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
fn went(state: &TransientState) -> Markup {
    let Some(run) = &state.run else { return html! {} };
    let ended = match run.ended_by {
        EndedBy::Event => Some("At the nominal values it ends after"),
        EndedBy::Time => None,
        EndedBy::NotReached => Some("At the nominal values this is not reached within"),
    };
    html! {
        @if let Some(ended) = ended { p.states { (ended) " " (run.unit.show(run.end, 4)) "." } }
        p.run-terms {
            "Integrated by " (run.method) ", in " (run.steps) " steps with " (run.evaluations) " evaluations of the rates; local error at most 10" sup { "−8" } " of the largest value."
        }
    }
}

fn measure(context: &PageContext<'_>, line: &MeasureLine, value: Option<&Value>) -> Markup {
    let of = |words: &str, expr: &Expr| {
        let formula = mathml::expression(context, expr, Names::Symbols).markup;
        html! { (words) " " (mathml::inline(&formula)) }
    };
    let what = match &line.measure {
        MeasureRequest::End => html! { "the time at the end" },
        MeasureRequest::Greatest(expr) => of("the greatest value of", expr),
        MeasureRequest::Least(expr) => of("the least value of", expr),
        MeasureRequest::First(expr) => of("the first time with", expr),
        MeasureRequest::Last(expr) => of("the value at the end of", expr),
        MeasureRequest::At(expr, time) => {
            let time = mathml::expression(context, time, Names::Symbols).markup;
            html! { (of("the value of", expr)) " at " (mathml::inline(&time)) }
        }
    };
    let reasoning = html! { p.states { (mathml::symbol(&line.name.item)) " is " (what) "." } };
    let margin = match value.filter(|value| value.nominal.is_finite()) {
        Some(value) => came_to(context, value),
        None => html! { p.not-evaluated { "not evaluated" } },
    };
    let anchor = value.map(|value| format!("value-{}", value.name));
    anchored(anchor, line.label.as_deref(), &reasoning, &margin)
}
