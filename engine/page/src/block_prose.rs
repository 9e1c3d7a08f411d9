//! Prose inside a block of the engine: the text of a note, a question, a hint. Where the page is worked out anew only its
//! inline results change, which the page's script puts in one by one; the text around them it keeps as it was set.

use benchleaf_core::span::Span;
use maud::{Markup, html};

use crate::context::PageContext;

/// A part of the worksheet that is Markdown too.
pub(crate) fn prose(context: &PageContext<'_>, class: &str, span: Span) -> Markup {
    copy(context, class, span, "")
}

/// The same once more at another place; `prefix` keeps its anchors apart from the others.
pub(crate) fn copy(context: &PageContext<'_>, class: &str, span: Span, prefix: &str) -> Markup {
    html! { div class=(class) data-kept { (set(context, span, prefix)) } }
}

#[cfg(feature = "markdown")]
fn set(context: &PageContext<'_>, span: Span, prefix: &str) -> Markup {
    crate::prose::fragment(context, span, prefix)
}

#[cfg(not(feature = "markdown"))]
fn set(_: &PageContext<'_>, _: Span, _: &str) -> Markup {
    html! {}
}
