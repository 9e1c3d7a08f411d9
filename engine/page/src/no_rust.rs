//! A Rust block where none is run: the page keeps what stands there.

use benchleaf_core::sheet::{Block, RustBlock};
use maud::{Markup, html};

use crate::context::PageContext;

/// The place of a block.
pub(crate) fn block(_: &PageContext<'_>, _: usize, _: &Block, _: &RustBlock) -> Markup {
    html! { div.rust-calc data-waits {} }
}
