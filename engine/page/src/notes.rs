//! Safety notes: the signal word in its signal colour with the alert triangle (ISO 3864-2; `notice`, for property alone,
//! without it, ANSI Z535.6). A note whose condition is not met is one quiet line that says so and can be opened.

use benchleaf_core::{
    case::capitalised,
    results::NoteState,
    sheet::{Block, Note, Signal},
};
use maud::{Markup, html};

use crate::{
    block_prose,
    context::PageContext,
    format::narrow,
    icons, labels,
    mathml::{self, Names},
    problems,
};

/// A note's block.
pub(crate) fn block(
    context: &PageContext<'_>,
    block: &Block,
    note: &Note,
    state: Option<(usize, &NoteState)>,
) -> Markup {
    let content = block_prose::prose(context, "note-text", block.content);
    let shown = state.is_none_or(|(_, state)| state.shown);
    let number = state.map(|(number, _)| number);
    let signal = note.signal.word();
    let condition = note
        .condition
        .as_ref()
        .map(|condition| mathml::inline(&mathml::expression(context, condition, Names::Symbols).markup));
    let below = problems::inside(context, block.span);
    if !shown {
        let looked = match state {
            Some((_, state)) if !state.proven => "was not found to be met within the tolerances; that is not proven.",
            _ => "is not met anywhere within the tolerances.",
        };
        return html! {
            details.note.quiet id=[number.map(anchor)] data-signal=(signal) data-note=[number] data-shown="false" {
                summary {
                    (capitalised(signal)) ", not shown: "
                    @match condition {
                        Some(condition) => { (condition) " " (looked) },
                        None => { "its condition " (looked) },
                    }
                }
                (content)
            }
            (below)
        };
    }
    let waits = note.condition.as_ref().is_some_and(|condition| context.waits(condition.span));
    html! {
        div.row.note-row data-waits[waits] {
            div.reasoning {
                div.note id=[number.map(anchor)] role="note" aria-label=(capitalised(signal)) data-signal=(signal) data-note=[number] data-shown="true" {
                    (signalled(note, &content))
                }
            }
            div.margin {
                @if waits { p.why { "Shown because its condition " (problems::WAITS) "." } }
                @else if let (Some(condition), Some((_, state))) = (&condition, state) { (reason(context, condition, state)) }
            }
        }
        (below)
    }
}

/// The place that a site's list of notes links to.
pub(crate) fn anchor(number: usize) -> String {
    format!("note-safety-{}", number + 1)
}

/// A note at another place than its own.
pub(crate) fn as_text(note: &Note, content: &Markup) -> Markup {
    let signal = note.signal.word();
    html! {
        div.note role="note" aria-label=(capitalised(signal)) data-signal=(signal) { (signalled(note, content)) }
    }
}

fn signalled(note: &Note, content: &Markup) -> Markup {
    html! {
        p.signal {
            @if note.signal != Signal::Notice { (icons::alert()) }
            strong { (note.signal.word().to_ascii_uppercase()) }
        }
        (content)
    }
}

/// Why a conditional note is shown: its condition, and the values that met it.
fn reason(context: &PageContext<'_>, condition: &Markup, state: &NoteState) -> Markup {
    if !state.proven {
        return html! {
            p.why { "Shown because nothing proves that " (condition) " is never met; no build was found that meets it." }
        };
    }
    html! {
        p.why { "Shown because " (condition) " can be met" @if state.met_by.is_empty() { "." } @else { ":" } }
        @for (name, text) in &state.met_by {
            p.why {
                @if let Some(label) = context.label(name) { (labels::opening(&labels::inside(label))) ", " }
                (mathml::symbol(name)) " = " strong { (narrow(text)) }
            }
        }
    }
}
