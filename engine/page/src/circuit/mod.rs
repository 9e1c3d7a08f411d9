//! A circuit on the page: its drawing, the connections in words, and its nets. The drawing is made once, when the page is
//! published: no value moves anything in it, and a live page changes the texts beside the symbols.

#[cfg(feature = "markdown")]
mod layout;
#[cfg(feature = "markdown")]
mod svg;
#[cfg(feature = "markdown")]
mod symbols;
mod words;

use benchleaf_core::circuit::Circuit;
#[cfg(feature = "markdown")]
use benchleaf_words::{key, say};
use maud::{Markup, html};

use crate::{context::PageContext, typography::apostrophes};
use words::Texts;

/// A circuit in the place of its block.
pub(crate) fn block(context: &PageContext<'_>, number: usize, circuit: &Circuit) -> Markup {
    let texts = Texts::new(context, number, circuit);
    html! {
        section.circuit id={ "circuit-" (number + 1) } data-circuit=(number) {
            @if let Some(title) = &circuit.title { p.what { (apostrophes(title)) } }
            @if !circuit.parts.is_empty() {
                div.scroll tabindex="0" data-kept { (drawing(context, circuit, &texts)) }
                (words::connections(context.words, circuit, &texts))
            }
        }
    }
}

/// The drawing; a live page keeps the one that it has.
#[cfg(feature = "markdown")]
fn drawing(context: &PageContext<'_>, circuit: &Circuit, texts: &Texts) -> Markup {
    let widths = layout::Widths {
        parts: (0..circuit.parts.len()).map(|part| texts.width(texts.part(part))).collect(),
        nets: (0..circuit.nets.len()).map(|net| texts.width(texts.net(net))).collect(),
        tests: circuit
            .nets
            .iter()
            .enumerate()
            .map(|(net, found)| (0..found.tests.len()).map(|test| texts.width(texts.test(net, test))).collect())
            .collect(),
    };
    let words = context.words;
    let name = match &circuit.title {
        Some(title) => say!(words, CIRCUIT_DRAWING_TITLED, title = title),
        None => words.text(key::CIRCUIT_DRAWING_NAME).to_owned(),
    };
    match layout::draw(circuit, &widths) {
        Some(drawing) => svg::set(words, circuit, &drawing, texts, &name),
        None => html! { p.not-evaluated { (words.text(key::CIRCUIT_DRAWING_NOT_DRAWN)) } },
    }
}

#[cfg(not(feature = "markdown"))]
fn drawing(_: &PageContext<'_>, _: &Circuit, _: &Texts) -> Markup {
    html! {}
}
