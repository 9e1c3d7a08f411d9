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
                div.scroll tabindex="0" data-kept { (drawing(circuit, &texts)) }
                (words::connections(circuit, &texts))
            }
        }
    }
}

/// The drawing; a live page keeps the one that it has.
#[cfg(feature = "markdown")]
fn drawing(circuit: &Circuit, texts: &Texts) -> Markup {
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
    let name = circuit.title.as_deref().map_or_else(|| "Circuit".to_owned(), |title| format!("Circuit: {title}"));
    match layout::draw(circuit, &widths) {
        Some(drawing) => svg::set(circuit, &drawing, texts, &name),
        None => html! { p.not-evaluated { "This circuit could not be drawn; its connections stand below." } },
    }
}

#[cfg(not(feature = "markdown"))]
fn drawing(_: &Circuit, _: &Texts) -> Markup {
    html! {}
}
