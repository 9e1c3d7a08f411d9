//! The drawn signs of the page, as inline SVG: the discs of verdicts and the general warning sign of safety notes.

use benchleaf_core::results::Status;
use benchleaf_words::{Words, key};
use maud::{Markup, html};

/// A verdict's shape: a filled disc, a half disc, a ring with a stroke.
pub(crate) fn verdict(status: Status) -> Markup {
    html! {
        svg.sign viewBox="0 0 16 16" aria-hidden="true" focusable="false" {
            @match status {
                Status::Holds => circle.solid cx="8" cy="8" r="6.5" {},
                Status::AtRisk => {
                    circle.open cx="8" cy="8" r="6" {}
                    path.solid d="M8 2a6 6 0 0 0 0 12z" {}
                },
                Status::Broken => {
                    circle.open cx="8" cy="8" r="6" {}
                    path.open d="M3.8 12.2l8.4-8.4" {}
                },
            }
        }
    }
}

/// A verdict's word on the page.
pub(crate) fn word(words: Words<'_>, status: Status) -> &str {
    words.text(match status {
        Status::Holds => key::VERDICT_HOLDS,
        Status::AtRisk => key::VERDICT_AT_RISK,
        Status::Broken => key::VERDICT_BROKEN,
    })
}

/// A triangle with an exclamation mark: the general warning sign, after ISO 7010 W001.
pub(crate) fn alert() -> Markup {
    html! {
        svg.alert viewBox="0 0 32 28" aria-hidden="true" focusable="false" {
            path.edge d="M16 1.2a2.6 2.6 0 0 1 2.25 1.3l12.2 21.2a2.6 2.6 0 0 1-2.25 3.9H3.8a2.6 2.6 0 0 1-2.25-3.9L13.75 2.5A2.6 2.6 0 0 1 16 1.2z" {}
            path.field d="M16 5.6 27 24.6H5z" {}
            path.mark d="M14.5 11.4h3l-.6 6.9h-1.8z" {}
            circle.mark cx="16" cy="21" r="1.5" {}
        }
    }
}
