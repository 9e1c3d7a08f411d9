//! A formula in up to three steps: in symbols, with numbers put in, and its result.

use benchleaf_core::{
    lang::ast::{Expr, Node},
    results::Value,
};
use benchleaf_words::{Words, key};
use maud::{Markup, html};

use crate::{
    context::PageContext,
    mathml::{self, Names, Piece},
    rows::equals,
};

/// A formula in symbols alone.
pub(crate) fn stated(context: &PageContext<'_>, left: &Markup, right: &Expr) -> Markup {
    let right = mathml::expression(context, right, Names::Symbols).markup;
    html! { div.formula { div.left { (mathml::display(left)) } div.step { (equals(&right)) } } }
}

/// A formula in symbols, with numbers put in, and its result. A middle step that is long folds away.
pub(crate) fn worked(context: &PageContext<'_>, left: &Markup, right: &Expr, value: Option<&Value>) -> Markup {
    let symbols = mathml::expression(context, right, Names::Symbols);
    let numbers = value.map(|_| mathml::expression(context, right, Names::Values));
    let result = value.map(|value| mathml::value(context.words, value));
    in_steps(context.words, left, symbols, numbers, result, right)
}

/// The three steps of a formula, set.
pub(crate) fn in_steps(
    words: Words<'_>,
    left: &Markup,
    symbols: Piece,
    numbers: Option<Piece>,
    result: Option<Markup>,
    right: &Expr,
) -> Markup {
    // A step that only repeats its neighbour is left out: no names to put numbers in for, or one name alone.
    let numbers = numbers.filter(|numbers| {
        let same_as = |other: &str| numbers.markup.0 == other;
        !same_as(&symbols.markup.0) && !result.as_ref().is_some_and(|result| same_as(&result.0)) && !is_name(right)
    });
    html! {
        div.formula {
            div.left { (mathml::display(left)) }
            div.step { (equals(&symbols.markup)) }
            @if let Some(numbers) = numbers {
                @if numbers.width > LONG { (folded(words, &numbers)) } @else { div.step { (equals(&numbers.markup)) } }
            }
            @if let Some(result) = result { div.step { (equals(&result)) } }
        }
    }
}

fn folded(words: Words<'_>, step: &Piece) -> Markup {
    html! {
        details.step {
            summary { (words.text(key::FORMULA_WITH_NUMBERS)) }
            div.scroll { (equals(&step.markup)) }
        }
    }
}

fn is_name(expr: &Expr) -> bool {
    matches!(expr.node, Node::Name(_) | Node::Field(..))
}

/// A step wider than this, in characters, folds away.
const LONG: usize = 56;
