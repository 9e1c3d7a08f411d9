//! Safety notes: the signal word in its signal colour with the alert triangle (ISO 3864-2; `notice`, for property alone,
//! without it, ANSI Z535.6). A note whose condition is not met is one quiet line that says so and can be opened.

use benchleaf_core::{
    results::NoteState,
    sheet::{Block, Note, Signal},
};
use benchleaf_words::{Words, key, set};
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
    let (words, spoken) = (context.words, spoken(context.words, note.signal));
    let condition = note
        .condition
        .as_ref()
        .map(|condition| mathml::inline(&mathml::expression(context, condition, Names::Symbols).markup));
    let below = problems::inside(context, block.span);
    if !shown {
        let proven = state.is_none_or(|(_, state)| state.proven);
        let why = match (proven, condition) {
            (true, Some(condition)) => set!(words, NOTE_NEVER_MET, signal = spoken, condition = condition),
            (true, None) => set!(words, NOTE_OWN_NEVER_MET, signal = spoken),
            (false, Some(condition)) => set!(words, NOTE_NOT_FOUND_MET, signal = spoken, condition = condition),
            (false, None) => set!(words, NOTE_OWN_NOT_FOUND_MET, signal = spoken),
        };
        return html! {
            details.note.quiet id=[number.map(anchor)] data-signal=(signal) data-note=[number] data-shown="false" {
                summary { (why) }
                (content)
            }
            (below)
        };
    }
    let waits = note.condition.as_ref().is_some_and(|condition| context.waits(condition.span));
    html! {
        div.row.note-row data-waits[waits] {
            div.reasoning {
                div.note id=[number.map(anchor)] role="note" aria-label=(spoken) data-signal=(signal) data-note=[number] data-shown="true" {
                    (signalled(words, note, &content))
                }
            }
            div.margin {
                @if waits { p.why { (words.text(key::NOTE_WAITS)) } }
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

/// The signal word, as it is said.
pub fn spoken(words: Words<'_>, signal: Signal) -> &str {
    words.text(match signal {
        Signal::Danger => key::NOTE_DANGER,
        Signal::Warning => key::NOTE_WARNING,
        Signal::Caution => key::NOTE_CAUTION,
        Signal::Notice => key::NOTE_NOTICE,
    })
}

/// A note at another place than its own.
pub(crate) fn as_text(words: Words<'_>, note: &Note, content: &Markup) -> Markup {
    let signal = note.signal.word();
    html! {
        div.note role="note" aria-label=(spoken(words, note.signal)) data-signal=(signal) { (signalled(words, note, content)) }
    }
}

fn signalled(words: Words<'_>, note: &Note, content: &Markup) -> Markup {
    html! {
        p.signal {
            @if note.signal != Signal::Notice { (icons::alert()) }
            strong { (spoken(words, note.signal).to_uppercase()) }
        }
        (content)
    }
}

/// Why a conditional note is shown: its condition, and the values that met it.
fn reason(context: &PageContext<'_>, condition: &Markup, state: &NoteState) -> Markup {
    let words = context.words;
    if !state.proven {
        return html! {
            p.why { (set!(words, NOTE_NOT_PROVEN, condition = condition)) }
        };
    }
    html! {
        p.why {
            @if state.met_by.is_empty() { (set!(words, NOTE_CAN_BE_MET, condition = condition)) }
            @else { (set!(words, NOTE_CAN_BE_MET_BY, condition = condition)) }
        }
        @for (name, text) in &state.met_by {
            p.why {
                @if let Some(label) = context.label(name) { (labels::opening(&labels::inside(label))) ", " }
                (mathml::symbol(name)) " = " strong { (narrow(text)) }
            }
        }
    }
}
