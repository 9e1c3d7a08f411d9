//! Chapter 10 of the guide: the engine's tables of blocks, operators, functions, constants, preferred values, units and
//! handbook models. Names, arguments, defaults, ranges and sources are read from the tables that the engine works by.

#[path = "examples.rs"]
mod examples;

use std::fmt::Write;

use benchleaf_core::{
    Evaluator,
    check::{BUILTINS, CONSTANTS},
    circuit::Kind,
    handbook::{self, Input, Model, Output, Parameter},
    lang::ast::BinaryOp,
    preferred::Series,
    results::Value,
    sheet::{BlockWord, Metadata},
    typical::{PART, PARTS, TYPICAL},
    units::{CURRENCIES, QuantityType, number, parse, table},
};
use benchleaf_words::Language;

/// The chapter as Markdown.
pub(crate) fn chapter() -> String {
    let mut text = HEAD.to_owned();
    metadata(&mut text);
    blocks(&mut text);
    kinds(&mut text);
    operators(&mut text);
    functions(&mut text);
    constants(&mut text);
    preferred(&mut text);
    units(&mut text);
    models(&mut text);
    typical_parts(&mut text);
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}

/// The models that have no example, or one that the engine finds fault with.
pub(crate) fn without_example() -> Vec<&'static str> {
    handbook::models().iter().filter(|model| example(model).is_none()).map(|model| model.name).collect()
}

fn metadata(text: &mut String) {
    let Metadata { samples, seed, digits, lang, language, .. } = Metadata::default();
    let languages =
        Language::all().map(|known| format!("{} ({})", code(&format!("\"{}\"", known.code())), known.name()));
    let languages: Vec<String> = languages.collect();
    text.push_str("## Metadata\n\nTOML between two `+++` lines, before anything else. Every key may be left out.\n\n");
    row(text, &["key", "takes", "without it"]);
    row(text, &["---", "---", "---"]);
    for (key, takes, without) in [
        ("title", "text", "the first heading".to_owned()),
        ("summary", "text, a paragraph for lists of pages", "none".to_owned()),
        ("author", "text", "none".to_owned()),
        ("date", "a date, `2026-11-25`, or text", "none".to_owned()),
        ("samples", "whole number: Monte Carlo samples", samples.to_string()),
        ("seed", "whole number: seed of the random numbers", seed.to_string()),
        ("digits", "whole number, 1 to 15: significant digits shown", digits.to_string()),
        ("lang", &format!("language of the page's own words: {}", languages.join(", ")), lang.code().to_owned()),
        ("language", "version of the language of worksheets", language.to_string()),
        (
            "order",
            "whole number: place in the list of the folder's pages, the least first",
            "by the file's name".to_owned(),
        ),
    ] {
        row(text, &[&code(key), takes, &without]);
    }
    text.push('\n');
}

fn blocks(text: &mut String) {
    text.push_str(
        "## Blocks\n\nThe first word behind the three backticks decides. Every other fence is shown as code.\n\n",
    );
    row(text, &["word", "what it holds"]);
    row(text, &["---", "---"]);
    for (word, written) in BlockWord::TABLE {
        let holds = match word {
            BlockWord::Calc => "calculations and requirements",
            BlockWord::Danger => "a safety note: will kill or seriously injure if not avoided (ISO 3864-2)",
            BlockWord::Warning => "a safety note: could kill or seriously injure (ISO 3864-2)",
            BlockWord::Caution => "a safety note: could injure lightly or moderately (ISO 3864-2)",
            BlockWord::Notice => "a note on damage to property alone (ANSI Z535.6)",
            BlockWord::Plot => "curves",
            BlockWord::Parts => "a parts list",
            BlockWord::Builds => "builds side by side",
            BlockWord::Exercise => "an exercise with its answer",
            BlockWord::Bench => "readings from the bench",
            BlockWord::Transient => "states that change over time, until an event",
            BlockWord::Steps => "the building, step by step",
            BlockWord::Circuit => "how parts are joined: drawn, checked and solved",
            BlockWord::RustCalc => "a calculation in Rust",
        };
        row(text, &[&code(written), holds]);
    }
    text.push('\n');
}

fn kinds(text: &mut String) {
    text.push_str(
        "## Parts of a circuit\n\nThe kinds of parts in a `circuit` block, each with the letters of its designator, its pins, and the number \
         of its symbol in IEC 60617 (in the numbering of its printed parts, from memory). The first pin is the one towards the beginning \
         of a path.\n\n",
    );
    row(text, &["word", "what it is", "designator", "pins", "symbol"]);
    row(text, &["---", "---", "---", "---", "---"]);
    for kind in Kind::TABLE {
        let pins: Vec<&str> = kind.pins.iter().map(|pin| pin.0).collect();
        let pins = if pins.is_empty() { "named behind it".to_owned() } else { pins.join(", ") };
        row(text, &[&code(kind.word), kind.what, kind.letters, &pins, kind.symbol]);
    }
    row(text, &[&code("ground"), "ground", "", "", "02-15-01"]);
    text.push('\n');
}

fn operators(text: &mut String) {
    text.push_str(
        "## Operators\n\nThe tightest first; those of one row bind alike and group from the left, powers from the right. A minus \
         sign before a value binds a little looser than a power, so that `-2^2` is −4; `not` binds looser than a comparison \
         and tighter than `and`. `if … then … else …` is the loosest of all.\n\n",
    );
    row(text, &["operators", "what they do"]);
    row(text, &["---", "---"]);
    let mut bindings: Vec<u8> = BinaryOp::TABLE.iter().map(|row| row.2).collect();
    bindings.sort_unstable_by(|a, b| b.cmp(a));
    bindings.dedup();
    for binding in bindings {
        let alike = || BinaryOp::TABLE.iter().filter(move |row| row.2 == binding);
        let spelled = alike().map(|row| row.1.iter().map(|text| code(text)).collect::<Vec<_>>().join(" or "));
        let mut done: Vec<&str> = alike().map(|row| does(row.0)).collect();
        done.dedup();
        row(text, &[&spelled.collect::<Vec<_>>().join(", "), &done.join(", ")]);
    }
    text.push('\n');
}

fn does(operator: BinaryOp) -> &'static str {
    match operator {
        BinaryOp::Or => "true if either is",
        BinaryOp::And => "true if both are",
        BinaryOp::Less
        | BinaryOp::LessOrEqual
        | BinaryOp::Greater
        | BinaryOp::GreaterOrEqual
        | BinaryOp::Equal
        | BinaryOp::NotEqual => "compare two values of one kind; they do not chain",
        BinaryOp::Add => "sum",
        BinaryOp::Subtract => "difference",
        BinaryOp::Parallel => "values in parallel: capacitances and conductances add, all else by reciprocals",
        BinaryOp::Multiply => "product",
        BinaryOp::Divide => "quotient",
        BinaryOp::Power => "power, with a plain number as exponent",
    }
}

fn typical_parts(text: &mut String) {
    let _ = write!(
        text,
        "## Typical parts\n\nParts in general use, for a worksheet to start from: `D_1 = {TYPICAL}({PART} = {})` gives a record whose values \
         vary as stated here. They take the place of no datasheet: put in the values of your own part as soon as you have them.\n\n",
        PARTS[0].name
    );
    for part in PARTS {
        let _ = write!(
            text,
            "### `{}`\n\nA part in general use: {}. Source: {}.\n\n",
            part.name, part.summary, part.source
        );
        row(text, &["value", "as a given", "what it is"]);
        row(text, &["---", "---", "---"]);
        for value in part.values {
            row(text, &[&code(value.name), value.written, value.summary]);
        }
        text.push('\n');
    }
}

fn functions(text: &mut String) {
    text.push_str("## Functions\n\nThey take their arguments by place.\n\n");
    row(text, &["function", "what it gives"]);
    row(text, &["---", "---"]);
    for builtin in BUILTINS {
        row(text, &[&code(&format!("{}({})", builtin.name, builtin.arguments)), builtin.summary]);
    }
    text.push('\n');
}

fn constants(text: &mut String) {
    text.push_str("## Constants\n\nThose of the SI are exact by definition (SI brochure, 9th edition, table 1).\n\n");
    row(text, &["name", "value", "what it is"]);
    row(text, &["---", "---", "---"]);
    for constant in CONSTANTS {
        let value = format!("{} {}", exact(constant.value), constant.unit);
        row(text, &[&code(constant.name), value.trim(), constant.summary]);
    }
    text.push('\n');
}

fn preferred(text: &mut String) {
    text.push_str(
        "## Preferred values\n\nThe series of IEC 60063 between 10 and 100; every decade repeats them. E48, E96 and E192 are \
         10^(i/n) rounded to three figures, with the one exception that the standard makes (9.20 in E192).\n\n",
    );
    row(text, &["series", "values"]);
    row(text, &["---", "---"]);
    for (series, name) in Series::TABLE {
        let values = series.values();
        let reported = if values.len() <= 24 {
            values.iter().map(|value| (value / 10).to_string()).collect::<Vec<_>>().join(" ")
        } else {
            format!("{} values, from {} to {}", values.len(), tenth(values.first()), tenth(values.last()))
        };
        row(text, &[&code(name), &reported]);
    }
    text.push('\n');
}

fn tenth(value: Option<&u16>) -> String {
    value.map_or_else(String::new, |value| format!("{}.{}", value / 10, value % 10))
}

fn units(text: &mut String) {
    text.push_str(
        "## Units\n\nBy the quantity they measure. A unit of a longer name is written as a product or a quotient of these: \
         `V/A`, `N·m`, `Ω·mm²/m`, `m^2`. Powers (`m²`) and units that only add a prefix to \
         another are left out here.\n\n",
    );
    let prefixes: Vec<String> = table().prefixes().iter().map(|(prefix, _)| code(prefix)).collect();
    let _ = writeln!(text, "**Prefixes**, the largest first: {}. `u` may stand for `µ`.\n", prefixes.join(" "));
    let money: Vec<String> = CURRENCIES.iter().map(|currency| code(currency)).collect();
    let _ = writeln!(text, "**Money**, each a dimension of its own (ISO 4217): {}.\n", money.join(" "));
    let mut groups: Vec<(QuantityType, Vec<&str>)> = Vec::new();
    for symbol in table().symbols() {
        let Some(unit) = parse(symbol) else { continue };
        if is_prefixed(symbol, unit.factor)
            || symbol.contains(['/', '·', '²', '³', '⁻'])
            || CURRENCIES.contains(&symbol)
        {
            continue;
        }
        match groups.iter_mut().find(|group| group.0 == unit.quantity) {
            Some(group) => group.1.push(symbol),
            None => groups.push((unit.quantity, vec![symbol])),
        }
    }
    row(text, &["quantity", "units"]);
    row(text, &["---", "---"]);
    for (quantity, symbols) in groups {
        let name = table().quantity_name(quantity).unwrap_or("plain number");
        let symbols: Vec<String> = symbols.into_iter().map(code).collect();
        row(text, &[name, &symbols.join(" ")]);
    }
    text.push('\n');
}

/// Whether a symbol is another one with an SI prefix in front.
fn is_prefixed(symbol: &str, factor: f64) -> bool {
    table().prefixes().iter().any(|(prefix, by)| {
        let base = symbol.strip_prefix(prefix.as_str()).filter(|rest| !rest.is_empty()).and_then(parse);
        base.is_some_and(|base| (base.factor * by / factor - 1.0).abs() < 1e-9)
    })
}

fn models(text: &mut String) {
    text.push_str(
        "## Handbook models\n\nCalled by name with named arguments; what they give is read with a dot. An argument with a \
         default may be left out. Outside its range a model still gives a number, with the warning `W-validity`. A source \
         that says *common practice* or *from memory* is just that. The formulas are those that pages show, in the language of \
         worksheets; what stands *on the way* is used by them and cannot be read.\n\n",
    );
    for model in handbook::models() {
        one_model(model, text);
    }
}

fn one_model(model: &Model, text: &mut String) {
    let _ = write!(text, "### {}\n\n{}.\n\n", model.name, model.summary);
    row(text, &["argument", "symbol", "what it is", "takes", "good from … to …", "default"]);
    row(text, &["---", "---", "---", "---", "---", "---"]);
    for parameter in model.parameters {
        let takes = match parameter.input {
            Input::Quantity("") => "a plain number".to_owned(),
            Input::Quantity(unit) => unit.to_owned(),
            Input::Choice(words) => words.iter().map(|word| code(word)).collect::<Vec<_>>().join(" or "),
        };
        let (range, default) = (range(parameter), default(parameter));
        row(text, &[&code(parameter.name), parameter.symbol, parameter.summary, &takes, &range, &default]);
    }
    text.push('\n');
    for condition in model.conditions {
        let _ = writeln!(text, "It needs that {}.\n", condition.says);
    }
    if !model.steps.is_empty() {
        row(text, &["on the way", "symbol", "what it is", "formula"]);
        row(text, &["---", "---", "---", "---"]);
        for step in model.steps {
            row(text, &[&code(step.name), step.symbol, step.summary, &code(step.formula)]);
        }
        text.push('\n');
    }
    row(text, &["field", "symbol", "what it is", "in", "formula"]);
    row(text, &["---", "---", "---", "---", "---"]);
    for field in model.fields {
        let unit = match field.output {
            Output::Quantity("") => "plain number",
            Output::Quantity(unit) => unit,
            Output::Condition => "yes or no",
        };
        row(text, &[&code(field.name), field.symbol.unwrap_or("none"), field.summary, unit, &code(field.formula)]);
    }
    let _ = writeln!(text, "\n{}\n", example(model).unwrap_or_default());
    let _ = write!(text, "Source: {}.\n\n", model.source.split_whitespace().collect::<Vec<_>>().join(" "));
}

/// A call and all that it gives, as the engine evaluates it.
fn example(model: &Model) -> Option<String> {
    let call = format!("{}({})", model.name, examples::arguments(model.name)?);
    let evaluation = Evaluator::default().evaluate(&format!("```calc\nit = {call}\n```\n"));
    let sound = evaluation.problems.is_empty() && evaluation.values.len() == model.fields.len();
    let given = |value: &Value| format!("{} {}", code(value.name.trim_start_matches("it.")), value.shown());
    let given: Vec<String> = evaluation.values.iter().map(given).collect();
    sound.then(|| format!("Example: {} gives {}.", code(&call), given.join(", ")))
}

fn range(parameter: &Parameter) -> String {
    match parameter.valid {
        None => "any".to_owned(),
        Some((low, high)) if high.is_infinite() => format!("{} up", exact(low)),
        Some((low, high)) => format!("{} to {}", exact(low), exact(high)),
    }
}

fn default(parameter: &Parameter) -> String {
    match (parameter.default, &parameter.input) {
        (None, _) => "none".to_owned(),
        (Some(default), Input::Quantity(unit)) => format!("{} {unit}", exact(default)).trim().to_owned(),
        (Some(default), Input::Choice(words)) => {
            words.get(default as usize).map_or_else(String::new, |word| code(word))
        }
    }
}

/// A number to its last figure, by powers of ten where it is very large or small.
fn exact(value: f64) -> String {
    (1..=17)
        .map(|digits| number(value, digits))
        .zip(1_usize..)
        .find(|(_, digits)| format!("{value:.*e}", digits - 1).parse() == Ok(value))
        .map_or_else(|| number(value, 17), |(text, _)| text)
}

fn code(text: &str) -> String {
    format!("`{text}`")
}

/// A line of a table. A bar inside a cell would end it.
fn row(text: &mut String, cells: &[&str]) {
    let cells: Vec<String> = cells.iter().map(|cell| cell.replace('|', "\\|").replace('\n', " ")).collect();
    let _ = writeln!(text, "| {} |", cells.join(" | "));
}

const HEAD: &str = r#"+++
title = "Reference tables"
summary = "Metadata, blocks, operators, functions, constants, preferred values, units, and every handbook model with its arguments, defaults, validity, fields and source."
author = "The Benchleaf authors"
date = 2026-11-25
language = 1
+++

# Reference tables

This chapter is printed by the engine from the tables that it works by.

"#;
