//! Prose inside a block of the engine: the text of a note, a question, a hint. Where the page is worked out anew only its
//! inline results change, which the page's script puts in one by one; the text around them it keeps as it was set.

use benchleaf_core::span::Span;
use maud::{Markup, html};

use crate::manuscript::Manuscript;

/// A part of the worksheet that is Markdown too.
pub(crate) fn prose(manuscript: &Manuscript<'_>, class: &str, span: Span) -> Markup {
    html! { div class=(class) data-kept { (set(manuscript, span)) } }
}

#[cfg(feature = "markdown")]
fn set(manuscript: &Manuscript<'_>, span: Span) -> Markup {
    crate::prose::fragment(manuscript, span)
}

#[cfg(not(feature = "markdown"))]
fn set(_: &Manuscript<'_>, _: Span) -> Markup {
    html! {}
}
