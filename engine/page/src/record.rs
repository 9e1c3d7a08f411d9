//! A handbook model at work: what it is and where it is published, its arguments as a small table, and each field of its
//! record as a row with what it came to in the margin.

use std::iter;

use benchleaf_core::{
    case::lower,
    handbook::{self, Input, Model, Parameter},
    lang::ast::{Argument, Definition, Expr, Node, Statement},
    results::Value,
    typical::{self, TYPICAL, TypicalPart},
};
use benchleaf_words::{key, set};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    drawn::uses,
    labels,
    mathml::{self, Names},
    model::Call,
    problems,
    rows::{came_to, two_columns},
    typography::apostrophes,
};

/// The rows of a definition that came to a record.
pub(crate) fn rows(
    context: &PageContext<'_>,
    statement: &Statement,
    definition: &Definition,
    fields: &[&Value],
) -> Markup {
    let (called, arguments) = match &definition.value.node {
        Node::Call(function, arguments) => (Some(function.item.as_str()), arguments.as_slice()),
        _ => (None, [].as_slice()),
    };
    let model = called.and_then(handbook::find);
    let typical = typical_part(called, arguments);
    let name = mathml::symbol(&definition.name.item);
    let words = context.words;
    let english = |text: &str| problems::in_english(words, html! { (text) });
    let from = match called {
        Some(called) => html! { span.model-name { (called) } },
        None => mathml::inline(&mathml::expression(context, &definition.value, Names::Symbols).markup),
    };
    let modelled = match model {
        Some(model) => {
            let summary = english(&apostrophes(&running(model.summary.trim_end_matches('.'))));
            set!(words, RECORD_FROM_MODEL, name = name, model = from, summary = summary)
        }
        None => set!(words, RECORD_FROM, name = name, model = from),
    };
    let head = html! {
        @if let Some(label) = &statement.label { p.what { (labels::opening(label)) } }
        @if let Some(part) = typical { p.model { (set!(words, RECORD_TYPICAL, name = name, summary = english(part.summary))) } } @else { p.model { (modelled) } }
        @if typical.is_none() && !arguments.is_empty() { (argument_table(context, model, arguments)) }
    };
    let source = html! {
        @if let Some(model) = model { p.source { cite { (english(&labels::opening(model.source))) } } }
        @if let Some(part) = typical { p.source { cite { (english(&labels::opening(part.source))) } } }
    };
    let call = Call::of(context, &definition.name.item, arguments);
    // The fields that nothing reads stand back, where others are read; but for those that the others are worked out from.
    let read = fields.iter().filter(|value| context.uses_field(&value.name)).map(|value| field_name(value));
    let rested_on = call.as_ref().map_or_else(Vec::new, |call| call.rest_on(read));
    let stays = |value: &&&Value| context.uses_field(&value.name) || rested_on.contains(&field_name(value));
    let (shown, others): (Vec<&Value>, Vec<&Value>) = fields.iter().partition(stays);
    html! {
        div.row.record id={ "value-" (definition.name.item) } data-statement=(statement.id.0) data-uses=[uses(context, statement)] {
            (two_columns(&head, &source))
        }
        @for value in &shown { (field(context, call.as_ref(), value)) }
        @if !others.is_empty() {
            details.more {
                summary { (words.text(if shown.is_empty() { key::RECORD_COMES_TO } else { key::RECORD_COMES_TO_ELSE })) }
                @for value in &others { (field(context, call.as_ref(), value)) }
            }
        }
        (problems::inside(context, statement.span))
    }
}

/// The part that a call of `parts.typical` names.
fn typical_part(called: Option<&str>, arguments: &[Argument]) -> Option<&'static TypicalPart> {
    match arguments {
        [Argument { value: Expr { node: Node::Name(name), .. }, .. }] if called == Some(TYPICAL) => typical::find(name),
        _ => None,
    }
}

fn argument_table(context: &PageContext<'_>, model: Option<&Model>, arguments: &[Argument]) -> Markup {
    let words = context.words;
    let given = |parameter: &Parameter| {
        arguments.iter().any(|argument| argument.name.as_ref().is_some_and(|name| name.item == parameter.name))
    };
    let defaults = model.map_or([].as_slice(), |model| model.parameters).iter().filter(|parameter| !given(parameter));
    html! {
        div.scroll {
            table.arguments {
                caption.unseen { (words.text(key::RECORD_GIVEN)) }
                thead.unseen { tr { th scope="col" { (words.text(key::RECORD_ARGUMENT)) } th scope="col" { (words.text(key::RECORD_GIVEN_AS)) } th scope="col" { (words.text(key::RECORD_THAT_IS)) } } }
                tbody {
                    @for argument in arguments { (argument_row(context, model, argument)) }
                    @for (parameter, default) in defaults.filter_map(|parameter| Some((parameter, default(parameter)?))) {
                        tr.by-default {
                            th scope="row" { (problems::in_english(words, html! { (in_words(parameter.name)) })) ", " (mathml::symbol(parameter.symbol)) }
                            td { (mathml::inline(&default)) }
                            td { (words.text(key::RECORD_BY_DEFAULT)) }
                        }
                    }
                }
            }
        }
    }
}

/// What a parameter is taken to be where the worksheet says nothing.
fn default(parameter: &Parameter) -> Option<Markup> {
    let default = parameter.default?;
    Some(match parameter.input {
        Input::Quantity(unit) => mathml::quantity_text(&default.to_string().replace('-', "−"), unit),
        Input::Choice(words) => mathml::words(words.get(default as usize).copied().unwrap_or("")),
    })
}

fn argument_row(context: &PageContext<'_>, model: Option<&Model>, argument: &Argument) -> Markup {
    let named = argument.name.as_ref().map(|name| name.item.as_str());
    let parameter = model.and_then(|model| model.parameters.iter().find(|known| Some(known.name) == named));
    let symbols = mathml::expression(context, &argument.value, Names::Symbols).markup;
    let numbers = mathml::expression(context, &argument.value, Names::Values).markup;
    let differs = symbols.0 != numbers.0;
    html! {
        tr {
            th scope="row" {
                @if let Some(name) = named { (problems::in_english(context.words, html! { (in_words(name)) })) }
                @if let Some(parameter) = parameter { ", " (mathml::symbol(parameter.symbol)) }
            }
            td { (mathml::inline(&symbols)) }
            td { @if differs { (mathml::inline(&numbers)) } }
        }
    }
}

fn field(context: &PageContext<'_>, call: Option<&Call<'_, '_>>, value: &Value) -> Markup {
    let field = field_name(value);
    let what = value.label.clone().unwrap_or_else(|| in_words(field));
    let reasoning = html! {
        p.field {
            (problems::in_english(context.words, html! { (labels::opening(what.trim_end_matches('.'))) })) ", "
            (mathml::symbol(&value.name))
        }
        @if let Some(call) = call { (call.worked(context, field)) }
    };
    html! { div.row.of-record id={ "value-" (value.name) } { (two_columns(&reasoning, &came_to(context, value))) } }
}

fn field_name(value: &Value) -> &str {
    value.name.rsplit('.').next().unwrap_or(&value.name)
}

/// The start of a sentence as it stands inside another.
fn running(sentence: &str) -> String {
    let first = sentence.split(' ').next().unwrap_or("");
    let word = first.chars().skip(1).all(char::is_lowercase);
    let mut chars = sentence.chars();
    match chars.next() {
        Some(letter) if word => iter::once(lower(letter)).chain(chars).collect(),
        _ => sentence.to_owned(),
    }
}

fn in_words(name: &str) -> String {
    name.replace('_', " ")
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use crate::{PageOptions, render};

    /// Everything that reads a field keeps it in view: formulas, requirements, notes, every statement of a plot, prose.
    #[test]
    fn a_field_that_anything_reads_is_not_folded_away() {
        let model = "V = 9 V ± 5 %\nreg = regulator.linear(input = V, output = 5 V, load = 60 mA, ambient = 35 °C, \
                     junction_to_ambient = 65 K/W)";
        let readers = [
            "```calc\nx = reg.junction\n```",
            "```calc\nkeep reg.junction below 100 °C\n```",
            "```warning when reg.junction > 100 °C\nHot.\n```",
            "```plot\nspread of reg.junction\n```",
            "```plot\nshares of reg.junction\n```",
            "It comes to {reg.junction}.",
        ];
        for reader in readers.into_iter().chain([""]) {
            let source = format!("```calc\n{model}\n```\n\n{reader}\n");
            let evaluation = Evaluator::default().evaluate(&source);
            assert_eq!(evaluation.problems, [], "{reader}");
            let page = render(&evaluation, &source, &PageOptions::default()).body;
            let folded = page.find("<details class=\"more\"").unwrap();
            let field = page.find("id=\"value-reg.junction\"").unwrap();
            assert_eq!(field < folded, !reader.is_empty(), "{reader}");
        }
    }
}
