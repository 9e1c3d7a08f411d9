//! Givens, set apart as a short table: what each is, its symbol, its value with the decimal points under one another,
//! its tolerance in signs and words. A learner reads here what may be changed.

use benchleaf_core::{
    lang::ast::{Bounds, Definition, Distribution, Quantity, Statement, StatementBody},
    results::Outcome,
};
use benchleaf_words::{Words, key, say};
use maud::{Markup, html};

use crate::{
    aligned::{self, Columns},
    context::PageContext,
    labels, mathml, problems,
};

/// The definition in a statement, where that is a given.
pub(crate) fn given(statement: &Statement) -> Option<&Definition> {
    match &statement.body {
        StatementBody::Definition(definition) if definition.is_given() => Some(definition),
        _ => None,
    }
}

/// A run of givens as a table, with their problems below.
pub(crate) fn table(context: &PageContext<'_>, statements: &[Statement]) -> Markup {
    let row = |statement| {
        let definition = given(statement)?;
        Some(Row {
            name: &definition.name.item,
            label: statement.label.as_deref(),
            anchor: anchor(context, statement, definition),
            statement,
            definition,
        })
    };
    html! {
        (rows(context, &statements.iter().filter_map(row).collect::<Vec<_>>()))
        @for statement in statements { (problems::inside(context, statement.span)) }
    }
}

/// A row of a table of givens.
pub(crate) struct Row<'a> {
    /// The given's name in this worksheet.
    pub(crate) name: &'a str,
    /// The label that a reader sees.
    pub(crate) label: Option<&'a str>,
    /// The place that other parts of the page link to.
    pub(crate) anchor: Option<String>,
    /// The statement that gives it here.
    pub(crate) statement: &'a Statement,
    /// Its definition, here or in another worksheet.
    pub(crate) definition: &'a Definition,
}

/// Givens as a table.
pub(crate) fn rows(context: &PageContext<'_>, rows: &[Row<'_>]) -> Markup {
    let values: Vec<(String, String)> = rows.iter().map(|row| value(context, row.name)).collect();
    let (columns, words) = (columns(context), context.words);
    let has_tolerance = |row: &Row<'_>| row.definition.tolerance.is_some() || code_tolerance(row.definition).is_some();
    let tolerances = rows.iter().any(has_tolerance);
    html! {
        div.scroll {
            table class={ "givens " (columns.words) } {
                caption.unseen { (words.text(key::GIVENS_CAPTION)) }
                thead.unseen { tr {
                    th scope="col" { (words.text(key::GIVENS_WHAT)) }
                    th scope="col" { (words.text(key::GIVENS_SYMBOL)) }
                    th scope="col" { (words.text(key::GIVENS_VALUE)) }
                    @if tolerances { th scope="col" { (words.text(key::GIVENS_TOLERANCE)) } }
                } }
                tbody {
                    @for (row, (number, unit)) in rows.iter().zip(&values) {
                        tr id=[row.anchor.as_deref()] data-given=(row.name) data-statement=(row.statement.id.0) {
                            (what_and_symbol(row.label, row.name))
                            td.value data-name=(row.name) { (aligned::aligned(number, unit, columns.whole)) }
                            @if tolerances { td.tolerance { (tolerance(words, row.definition)) } }
                        }
                    }
                }
            }
        }
    }
}

/// The columns of all givens of a worksheet, parts among them.
pub(crate) fn columns(context: &PageContext<'_>) -> Columns {
    context.columns(|| {
        let givens = || context.evaluation.sheet.statements().filter_map(|one| Some((one, given(one)?)));
        let taken = || context.evaluation.taken.iter().map(|given| given.name.as_str());
        let names = givens().map(|(_, definition)| definition.name.item.as_str()).chain(taken());
        let numbers: Vec<String> = names.map(|name| value(context, name).0).collect();
        let labels = givens().filter_map(|(statement, _)| statement.label.as_deref());
        let labels = labels.chain(taken().filter_map(|name| context.label(name)));
        Columns::of(numbers.iter().map(String::as_str), labels)
    })
}

/// The place that other parts of the page link to: that of a value, not of a statement which came to none.
pub(crate) fn anchor(context: &PageContext<'_>, statement: &Statement, definition: &Definition) -> Option<String> {
    let came_to_one = matches!(context.evaluation.outcome(statement.id), Outcome::Value(_));
    came_to_one.then(|| format!("value-{}", definition.name.item))
}

/// A row is headed by what it is, or else by its symbol.
pub(crate) fn what_and_symbol(text: Option<&str>, name: &str) -> Markup {
    let symbol = mathml::symbol(name);
    match text {
        Some(text) => html! { th scope="row" { (label(text)) } td.symbol { (symbol) } },
        None => html! { td {} th.symbol scope="row" { (symbol) } },
    }
}

/// What it is; what follows the first comma (how it was come by, of what sort it is) stands back.
pub(crate) fn label(label: &str) -> Markup {
    let capital = labels::opening(label);
    match capital.split_once(", ") {
        Some((what, origin)) => html! { (what) span.origin { ", " (origin) } },
        None => html! { (capital) },
    }
}

/// Number and unit as the author wrote them.
pub(crate) fn value(context: &PageContext<'_>, name: &str) -> (String, String) {
    if let Some((quantity, negative)) = context.literal(name) {
        let (number, unit) = mathml::written(quantity);
        return (if negative { format!("−{number}") } else { number }, unit);
    }
    context
        .value(name)
        .map_or_else(Default::default, |value| mathml::number_and_unit(context.words, value, value.nominal))
}

pub(crate) fn tolerance(words: Words<'_>, definition: &Definition) -> Markup {
    let Some(tolerance) = &definition.tolerance else {
        return html! { @if let Some(fraction) = code_tolerance(definition) { "±\u{202f}" (short(fraction * 100.0)) "\u{202f}%" } };
    };
    let bounds = match &tolerance.bounds {
        Bounds::Symmetric(by) => format!("±\u{202f}{}", text(by)),
        Bounds::Asymmetric { below, above } => format!("−{}\u{2002}+{}", text(below), text(above)),
        Bounds::MinTypMax { min: Some(min), max: Some(max), .. } => {
            say!(words, FORMAT_RANGE, low = text(min), high = text(max))
        }
        Bounds::MinTypMax { min: Some(min), .. } => say!(words, GIVENS_AT_LEAST, value = text(min)),
        Bounds::MinTypMax { max: Some(max), .. } => say!(words, GIVENS_AT_MOST, value = text(max)),
        Bounds::MinTypMax { .. } => String::new(),
    };
    let shape = match tolerance.distribution {
        Distribution::Rectangular => String::new(),
        Distribution::Triangular => words.text(key::GIVENS_TRIANGULAR).to_owned(),
        Distribution::Arcsine => words.text(key::GIVENS_ARCSINE).to_owned(),
        Distribution::Normal(k) => say!(words, GIVENS_NORMAL, k = short(k)),
    };
    html! { (bounds) @if !shape.is_empty() { span.origin { ", " (shape) } } }
}

pub(crate) fn code_tolerance(definition: &Definition) -> Option<f64> {
    definition.literal()?.0.code_tolerance
}

fn text(quantity: &Quantity) -> String {
    let (number, unit) = mathml::written(quantity);
    match unit.as_str() {
        "" | "°" | "′" | "″" => format!("{number}{unit}"),
        _ => format!("{number}\u{202f}{unit}"),
    }
}

fn short(number: f64) -> String {
    let rounded = (number * 1e6).round() / 1e6;
    rounded.to_string().replace('-', "−")
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;
    use crate::sample::definition;

    #[test]
    fn a_given_without_a_label_is_headed_by_its_symbol_and_a_second_one_is_no_anchor() {
        let source = "```calc\nR = 5 Ω\nR = 6 Ω\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        let page = crate::render(&evaluation, source, &crate::PageOptions::default()).body;
        assert_eq!(page.matches(r#"id="value-R""#).count(), 1, "{page}");
        assert_eq!(page.matches(r#"<td></td><th class="symbol" scope="row">"#).count(), 2, "{page}");
    }

    #[test]
    fn tables_of_one_page_share_their_columns() {
        let source = "```calc\nR = 910 Ω \"short\"\n```\n\n```calc\nC = 5 nF \"capacitor: datasheet value of a typical part\"\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        let page = crate::render(&evaluation, source, &crate::PageOptions::default()).body;
        assert_eq!(page.matches(r#"class="givens many-words""#).count(), 2, "{page}");
        assert_eq!(page.matches(r#"class="whole whole-3""#).count(), 2, "{page}");
    }

    #[test]
    fn tolerances_read_as_the_trade_writes_them() {
        for (written, wanted) in [
            ("1 kΩ ± 5 %", "± 5 %"),
            ("1 kΩ ± 5 % normal(2)", r#"± 5 %<span class="origin">, normal, k = 2</span>"#),
            ("1 kΩ -20 % +50 %", "−20 %\u{2002}+50 %"),
            ("min 0.6 V max 0.8 V", "0.6 V to 0.8 V"),
            ("typ 0.7 V max 0.8 V", "at most 0.8 V"),
            ("1 kΩ", ""),
        ] {
            let source = format!("```calc\nx = {written}\n```\n");
            let evaluation = Evaluator::default().evaluate(&source);
            let set = tolerance(Words::ENGLISH, definition(&evaluation, 0)).into_string().replace('\u{202f}', " ");
            assert_eq!(set, wanted, "{written}");
        }
    }
}
