//! What the rows of all blocks share: two columns, a result in the margin, and an equals sign before a
//! formula.

use benchleaf_core::results::Value;
use benchleaf_words::Words;
use maud::{Markup, html};

use crate::{context::PageContext, mathml, rangebar::RangeBar, variation};

/// A row of two columns.
pub(crate) fn two_columns(reasoning: &Markup, margin: &Markup) -> Markup {
    html! {
        div.reasoning { (reasoning) }
        div.margin { (margin) }
    }
}

/// The margin's entry for a value: the number, its bar where it varies, and behind a disclosure how.
pub(crate) fn came_to(context: &PageContext<'_>, value: &Value) -> Markup {
    html! {
        (number_alone(context.words, value))
        @if let Some(bar) = RangeBar::of_value(value) { (bar.draw(context.words)) }
        (variation::disclosure(context, value))
    }
}

/// The same for another name of a value: the number alone.
pub(crate) fn number_alone(words: Words<'_>, value: &Value) -> Markup {
    let (number, unit) = mathml::number_and_unit(words, value, value.nominal);
    html! {
        p.came-to { data value=(value.nominal) data-name=(value.name) { (number) @if !unit.is_empty() { "\u{202f}" (unit) } } }
    }
}

pub(crate) fn equals(right: &Markup) -> Markup {
    mathml::display(&html! { mrow { mo form="infix" lspace="0" { "=" } (right) } })
}
