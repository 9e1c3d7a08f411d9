//! What an editor shows of the word under the pointer: a value with its range, a handbook model, a function, a unit, a key of
//! the metadata.

use std::fmt::Write;

use benchleaf_core::{
    check::{BUILTINS, CONSTANTS},
    handbook::{self, Input, Model, Output, Parameter},
    results::Value as Result,
    sheet::METADATA,
    units,
};
use benchleaf_words::{Word, Words, key, say};
use serde_json::{Value, json};

use super::{
    document::Document,
    names::{self, around},
};

/// What is to be said of the word at a place.
pub(super) fn hover(document: &Document, offset: usize) -> Option<Value> {
    let text = &document.text;
    let mut span = around(text, offset);
    let (word, evaluation, words) = (span.text(text), document.evaluation()?, document.words);
    if word.is_empty() {
        return None;
    }
    let said = if offset < evaluation.sheet.body_start {
        METADATA.iter().find(|key| key.name == word).map(|key| key.summary.to_owned())
    } else if let Some(value) = evaluation.value(word) {
        Some(value_text(words, value))
    } else if let Some(record) = record(document, word) {
        Some(record)
    } else if let Some(model) = handbook::find(word) {
        Some(model_text(words, model))
    } else if let Some(function) = BUILTINS.iter().find(|function| function.name == word) {
        Some(format!("`{}({})`\n\n{}", function.name, function.arguments, sentence(function.summary)))
    } else if let Some(parameter) = parameter(text, span.start, word) {
        Some(parameter_text(words, parameter))
    } else if let Some(constant) = CONSTANTS.iter().find(|constant| constant.name == word) {
        Some(format!("`{}` = {:e} {}\n\n{}", constant.name, constant.value, constant.unit, sentence(constant.summary)))
    } else {
        let unit = unit_around(text, offset);
        span = unit;
        unit_text(words, unit.text(text))
    };
    let said = said?;
    Some(json!({"contents": {"kind": "markdown", "value": said}, "range": document.range(span)}))
}

/// A value with its range, and where it comes from.
fn value_text(words: Words<'_>, value: &Result) -> String {
    let label = value.label.as_ref().map(|label| format!("{}\n\n", sentence(label))).unwrap_or_default();
    let (name, shown) = (&value.name, value.shown_in(words));
    let stands = match value.shown_range_in(words) {
        Some(range) => say!(words, EDITOR_VALUE_IN_RANGE, name = name, value = shown, range = range),
        None => say!(words, EDITOR_VALUE, name = name, value = shown),
    };
    let quantity = value.value_type.describe().say(words);
    format!("{label}{stands}\n\n{}", say!(words, EDITOR_THIS_IS, quantity = quantity))
}

/// The fields of a record.
fn record(document: &Document, name: &str) -> Option<String> {
    let evaluation = document.evaluation()?;
    let fields: Vec<&Result> = evaluation
        .values
        .iter()
        .filter(|value| value.name.strip_prefix(name).is_some_and(|rest| rest.starts_with('.')))
        .collect();
    names::statement(&evaluation.sheet, &evaluation.values, &document.text, name).filter(|_| !fields.is_empty())?;
    let words = document.words;
    let mut said = say!(words, EDITOR_HAS_SEVERAL_VALUES, name = name) + "\n";
    for field in fields {
        let range = field.shown_range_in(words);
        let range =
            range.map(|range| format!(", {}", say!(words, EDITOR_WORST_CASE, range = range))).unwrap_or_default();
        let _ = write!(said, "\n- `{}` = {}{range}", field.name, field.shown_in(words));
    }
    Some(said)
}

/// A handbook model: what it takes and gives, its formulas, its source, and what it is good for.
pub(super) fn model_text(words: Words<'_>, model: &Model) -> String {
    let takes = words.text(key::EDITOR_IT_TAKES);
    let mut said = format!("`{}`\n\n{}\n\n{takes}\n", model.name, sentence(model.summary));
    for parameter in model.parameters {
        let _ = write!(said, "\n- {}", parameter_text(words, parameter));
    }
    let _ = writeln!(said, "\n\n{}", words.text(key::EDITOR_IT_GIVES));
    for field in model.fields {
        let unit = match field.output {
            Output::Quantity("") => String::new(),
            Output::Quantity(unit) => format!(" [{unit}]"),
            Output::Condition => format!(" ({})", words.text(key::EDITOR_YES_OR_NO)),
        };
        let _ = write!(said, "\n- `{}`{unit}: {}: `{}`", field.name, field.summary, field.formula);
    }
    for (i, step) in model.steps.iter().enumerate() {
        let begins = heading(words, key::EDITOR_IN_BETWEEN, i);
        let _ = write!(said, "{begins}\n- `{}`: {}: `{}`", step.name, step.summary, step.formula);
    }
    for (i, condition) in model.conditions.iter().enumerate() {
        let begins = heading(words, key::EDITOR_IS_GOOD, i);
        let _ = write!(said, "{begins}\n- {}", condition.says);
    }
    let _ = write!(said, "\n\n{}", say!(words, EDITOR_SOURCE, source = model.source));
    said
}

/// What stands above the first line of a list.
fn heading(words: Words<'_>, heading: Word<0>, line: usize) -> String {
    if line == 0 { format!("\n\n{}\n", words.text(heading)) } else { String::new() }
}

/// An argument with its unit, its range and its default.
pub(super) fn parameter_text(words: Words<'_>, parameter: &Parameter) -> String {
    let mut said = format!("`{}`", parameter.name);
    let unit = match parameter.input {
        Input::Quantity("") => "",
        Input::Quantity(unit) => unit,
        Input::Choice(choices) => {
            let _ = write!(said, " ({})", choices.join(", "));
            ""
        }
    };
    if !unit.is_empty() {
        let _ = write!(said, " [{unit}]");
    }
    let _ = write!(said, ": {}", parameter.summary);
    if let Some((low, high)) = parameter.valid {
        let _ = write!(said, "; {}", say!(words, EDITOR_GOOD_RANGE, low = low, high = high, unit = unit));
    }
    match (parameter.default, &parameter.input) {
        (Some(index), Input::Choice(choices)) => {
            let word = choices.get(index as usize).copied().unwrap_or_default();
            let _ = write!(said, "; {}", say!(words, EDITOR_DEFAULT, value = word));
        }
        (Some(default), _) => {
            let default = format!("{default} {unit}");
            let _ = write!(said, "; {}", say!(words, EDITOR_DEFAULT, value = default));
        }
        (None, _) => {}
    }
    said.trim_end().to_owned()
}

/// The argument of the model whose call a place is in.
fn parameter(text: &str, offset: usize, word: &str) -> Option<&'static Parameter> {
    call_around(text, offset)?.parameters.iter().find(|parameter| parameter.name == word)
}

/// The model whose brackets are open at a place.
pub(super) fn call_around(text: &str, offset: usize) -> Option<&'static Model> {
    let before = text.get(offset.saturating_sub(CALL)..offset).unwrap_or(&text[..offset]);
    let mut closed = 0;
    for (at, c) in before.char_indices().rev() {
        match c {
            ')' => closed += 1,
            '(' if closed > 0 => closed -= 1,
            '(' => return handbook::find(around(before, at).text(before)),
            '`' => return None,
            _ => {}
        }
    }
    None
}

/// Where a unit stands: everything that a unit is written with.
fn unit_around(text: &str, offset: usize) -> benchleaf_core::span::Span {
    let is_part = |c: &char| !c.is_whitespace() && !"[]{}(),;:\"'`=+|<>#@!?".contains(*c);
    let before: usize = text[..offset].chars().rev().take_while(is_part).map(char::len_utf8).sum();
    let after: usize = text[offset..].chars().take_while(is_part).map(char::len_utf8).sum();
    benchleaf_core::span::Span::new(offset - before, offset + after)
}

fn unit_text(words: Words<'_>, symbol: &str) -> Option<String> {
    let unit = units::parse(symbol).filter(|_| !symbol.is_empty())?;
    Some(say!(words, EDITOR_IS_A_UNIT, unit = symbol, quantity = unit.quantity.describe_kind().say(words)))
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}

/// How far back a call may begin.
const CALL: usize = 4000;
