//! A handbook model at work: what it is and where it is published, its arguments as a small table, and each field of its
//! record as a row with what it came to in the margin.

use benchleaf_core::{
    handbook::{self, Model},
    lang::ast::{Argument, Definition, Node, Statement},
    results::Value,
};
use maud::{Markup, html};

use crate::{
    calc::{came_to, sentence_case, two_columns},
    manuscript::Manuscript,
    mathml::{self, Names},
    problems,
};

/// The rows of a definition that came to a record.
pub(crate) fn rows(
    manuscript: &Manuscript<'_>,
    statement: &Statement,
    definition: &Definition,
    fields: &[&Value],
) -> Markup {
    let (called, arguments) = match &definition.value.node {
        Node::Call(function, arguments) => (Some(function.item.as_str()), arguments.as_slice()),
        _ => (None, [].as_slice()),
    };
    let model = called.and_then(handbook::find);
    let name = mathml::inline(&mathml::name(&definition.name.item));
    let head = html! {
        @if let Some(label) = &statement.label { p.what { (sentence_case(label)) } }
        p.model {
            (name) " from the handbook model "
            @match called {
                Some(called) => span.model-name { (called) },
                None => (mathml::inline(&mathml::expression(manuscript, &definition.value, Names::Symbols).markup)),
            }
            @if let Some(model) = model { ": " (model.summary.trim_end_matches('.')) ". " cite { (model.source) } }
        }
        @if !arguments.is_empty() { (argument_table(manuscript, arguments)) }
    };
    html! {
        div.row.record id={ "value-" (definition.name.item) } data-statement=(statement.id.0) {
            (two_columns(&head, &html! {}))
        }
        @for value in fields { (field(model, value)) }
        (problems::inside(manuscript, statement.span))
    }
}

fn argument_table(manuscript: &Manuscript<'_>, arguments: &[Argument]) -> Markup {
    html! {
        div.scroll {
            table.arguments {
                caption.unseen { "What the model is given" }
                thead.unseen { tr { th scope="col" { "Argument" } th scope="col" { "Given as" } th scope="col" { "That is" } } }
                tbody { @for argument in arguments { (argument_row(manuscript, argument)) } }
            }
        }
    }
}

fn argument_row(manuscript: &Manuscript<'_>, argument: &Argument) -> Markup {
    let symbols = mathml::expression(manuscript, &argument.value, Names::Symbols).markup;
    let numbers = mathml::expression(manuscript, &argument.value, Names::Values).markup;
    let differs = symbols.0 != numbers.0;
    html! {
        tr {
            th scope="row" { @if let Some(name) = &argument.name { (in_words(&name.item)) } }
            td { (mathml::inline(&symbols)) }
            td { @if differs { (mathml::inline(&numbers)) } }
        }
    }
}

fn field(model: Option<&Model>, value: &Value) -> Markup {
    let field = value.name.rsplit('.').next().unwrap_or(&value.name);
    let summary = value.label.as_deref().or_else(|| {
        model.and_then(|model| model.fields.iter().find(|known| known.name == field)).map(|known| known.summary)
    });
    let what = summary.map_or_else(|| in_words(field), str::to_owned);
    let reasoning = html! {
        p.field {
            (sentence_case(what.trim_end_matches('.'))) ", "
            (mathml::inline(&mathml::name(&value.name)))
        }
    };
    html! { div.row.of-record id={ "value-" (value.name) } { (two_columns(&reasoning, &came_to(value))) } }
}

fn in_words(name: &str) -> String {
    name.replace('_', " ")
}
