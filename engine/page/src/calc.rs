//! A block of calculations: its givens as a table, then each statement as a row of two columns, the reasoning on the left
//! and in the margin what it came to and whether it holds.

use benchleaf_core::{
    lang::ast::{Correlation, Definition, Function, Node, Statement, StatementBody},
    results::{Outcome, Value},
};
use benchleaf_words::{key, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    drawn::uses,
    formula, givens, labels,
    mathml::{self, Names},
    problems, record,
    rows::{came_to, number_alone, two_columns},
    solve, used, verdicts,
};

/// All statements of a block.
pub(crate) fn block(context: &PageContext<'_>, index: usize, statements: &[Statement]) -> Markup {
    html! {
        div.calc data-block=(index) {
            @for run in statements.chunk_by(|a, b| givens::given(a).is_some() == givens::given(b).is_some()) {
                @if run.first().is_some_and(|statement| givens::given(statement).is_some()) {
                    (givens::table(context, run))
                } @else {
                    @for statement in run { (row(context, statement)) }
                }
            }
        }
    }
}

fn row(context: &PageContext<'_>, statement: &Statement) -> Markup {
    let outcome = context.evaluation.outcome(statement.id);
    let value = |index: &usize| context.evaluation.values.get(*index);
    let what = html! { @if let Some(label) = &statement.label { p.what { (labels::opening(label)) } } };
    let inside = match (&statement.body, outcome) {
        (StatementBody::Definition(definition), Outcome::Record(fields)) => {
            let fields: Vec<&Value> = fields.iter().filter_map(value).collect();
            return record::rows(context, statement, definition, &fields);
        }
        (StatementBody::Definition(definition), Outcome::Value(index)) => {
            let value = value(index);
            let reasoning = html! { (what) (steps(context, definition, value)) };
            // A field under another name: its range stands with the field.
            let renamed = definition.tolerance.is_none() && matches!(definition.value.node, Node::Field(..));
            let margin = html! {
                @match value {
                    Some(value) if renamed => (number_alone(context.words, value)),
                    Some(value) => (came_to(context, value)),
                    None => {},
                }
            };
            let content = two_columns(&reasoning, &margin);
            let uses = uses(context, statement);
            html! {
                div.row id={ "value-" (definition.name.item) } data-statement=(statement.id.0) data-uses=[uses] { (content) }
            }
        }
        (StatementBody::Definition(definition), _) => {
            let reasoning = html! { (what) (steps(context, definition, None)) };
            failed(context, statement, &reasoning)
        }
        (StatementBody::Keep(keep), Outcome::Keep(index)) => match context.evaluation.keeps.get(*index) {
            Some(verdict) => {
                let reasoning = html! { (what) (verdicts::relation(context, keep, verdict)) };
                let content = two_columns(&reasoning, &verdicts::margin(context.words, verdict));
                let number = context.keep_number(verdict);
                html! {
                    div.row.keep id=(verdicts::anchor(number)) data-keep=(number) data-statement=(statement.id.0)
                        data-status=(verdict.status.word()) data-uses=[uses(context, statement)] { (content) (verdicts::sentence(context, verdict)) }
                }
            }
            None => failed(context, statement, &what),
        },
        (StatementBody::Keep(_), _) => failed(context, statement, &what),
        (StatementBody::Function(function), outcome) => {
            let reasoning = html! { (what) (function_formula(context, function)) };
            stated(context, statement, outcome, &reasoning)
        }
        (StatementBody::Correlation(correlation), outcome) => {
            let reasoning = html! { (what) (correlated(context, correlation)) };
            stated(context, statement, outcome, &reasoning)
        }
        (StatementBody::Solve(solve), Outcome::Value(index)) => {
            solve::solved(context, statement, solve, value(index), &what)
        }
        (StatementBody::Choose(choose), Outcome::Choice(index)) => match context.evaluation.choices.get(*index) {
            Some(table) => solve::chosen(context, statement, choose, table, &what),
            None => failed(context, statement, &what),
        },
        (StatementBody::Solve(_) | StatementBody::Choose(_), _) => failed(context, statement, &what),
        (StatementBody::Use(used), outcome) => used::rows(context, statement, used, outcome),
        (StatementBody::Unreadable, _) => html! {},
    };
    html! { (inside) (problems::inside(context, statement.span)) }
}

fn stated(context: &PageContext<'_>, statement: &Statement, outcome: &Outcome, reasoning: &Markup) -> Markup {
    if *outcome == Outcome::Failed {
        return failed(context, statement, reasoning);
    }
    let content = two_columns(reasoning, &html! {});
    html! { div.row data-statement=(statement.id.0) { (content) } }
}

fn failed(context: &PageContext<'_>, statement: &Statement, reasoning: &Markup) -> Markup {
    let waits = context.waits(statement.span);
    let said = context.words.text(if waits { key::PROBLEM_WAITS } else { key::FORMAT_NOT_EVALUATED });
    let content = two_columns(reasoning, &html! { p.not-evaluated { (said) } });
    html! { div.row.failed data-statement=(statement.id.0) data-waits[waits] { (content) } }
}

fn steps(context: &PageContext<'_>, definition: &Definition, value: Option<&Value>) -> Markup {
    formula::worked(context, &mathml::name(&definition.name.item), &definition.value, value)
}

fn function_formula(context: &PageContext<'_>, function: &Function) -> Markup {
    let left = html! {
        mrow {
            (mathml::name(&function.name.item)) mo { "(" }
            @for (i, parameter) in function.parameters.iter().enumerate() {
                @if i > 0 { mo separator="true" { "," } }
                (mathml::name(&parameter.item))
            }
            mo { ")" }
        }
    };
    formula::stated(context, &left, &function.value)
}

fn correlated(context: &PageContext<'_>, correlation: &Correlation) -> Markup {
    let coefficient = mathml::expression(context, &correlation.coefficient, Names::Symbols).markup;
    let (first, second) = (mathml::symbol(&correlation.first.item), mathml::symbol(&correlation.second.item));
    let coefficient = mathml::inline(&coefficient);
    let said = set!(context.words, CALC_CORRELATED, first = first, second = second, coefficient = coefficient);
    html! { p.states { (said) } }
}
