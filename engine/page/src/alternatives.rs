//! Builds side by side: a column for each, a row for what is compared, for every requirement and for some numbers of builds;
//! then where the cheapest changes.

use benchleaf_core::results::BuildSet;
use maud::{Markup, html};

use crate::context::PageContext;

/// A block of builds.
pub(crate) fn block(_context: &PageContext<'_>, _number: usize, _set: &BuildSet) -> Markup {
    html! {}
}
