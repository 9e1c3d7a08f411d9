//! What the rows of all blocks share: two columns, a result in the margin, a label at the start of a line, and an equals
//! sign before a formula.

use benchleaf_core::{case::capitalised, results::Value};
use maud::{Markup, html};

use crate::{context::PageContext, mathml, rangebar::RangeBar, results::apostrophes, variation};

/// A row of two columns.
pub(crate) fn two_columns(reasoning: &Markup, margin: &Markup) -> Markup {
    html! {
        div.reasoning { (reasoning) }
        div.margin { (margin) }
    }
}

/// The margin's entry for a value: the number, its bar where it varies, and behind a disclosure how.
pub(crate) fn came_to(context: &PageContext<'_>, value: &Value) -> Markup {
    let (number, unit) = mathml::number_and_unit(value, value.nominal);
    html! {
        p.came-to { data value=(value.nominal) data-name=(value.name) { (number) @if !unit.is_empty() { "\u{202f}" (unit) } } }
        @if let Some(bar) = RangeBar::of_value(value) { (bar.draw()) }
        (variation::disclosure(context, value))
    }
}

/// A label as the start of a line: a capital, unless its first word is a symbol or an acronym; apostrophes as they are set.
pub(crate) fn sentence_case(label: &str) -> String {
    let first = label.split_whitespace().next().unwrap_or("");
    let plain = first.chars().count() > 1 && first.chars().all(|c| c.is_lowercase() || "-,:’'".contains(c));
    apostrophes(&if plain { capitalised(label) } else { label.to_owned() })
}

pub(crate) fn equals(right: &Markup) -> Markup {
    mathml::display(&html! { mrow { mo form="infix" lspace="0" { "=" } (right) } })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_begin_lines_with_a_capital_but_symbols_do_not() {
        for (label, wanted) in [
            ("pulse length", "Pulse length"),
            ("LED current", "LED current"),
            ("mA through the coil", "mA through the coil"),
            ("e", "e"),
            ("base-emitter drop, datasheet", "Base-emitter drop, datasheet"),
            ("", ""),
        ] {
            assert_eq!(sentence_case(label), wanted);
        }
    }
}
