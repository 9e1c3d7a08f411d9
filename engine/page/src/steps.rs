//! Steps of a build: time and tools at the head, then each step with a box to tick, the parts to place, pictures, and test
//! points with the range that a sound build shows. A step that applies power shows first the safety notes that hold. And
//! what the page's script asks the engine for, [`judged`]: what a reading says of the build.

use benchleaf_core::{
    case::lower,
    results::{JudgedReading, JudgedReadings, Role, Shows, Step, StepSet, TestPoint, Value, duration},
    sheet::{BlockBody, StepItem, StepLines, StepPicture, StepsBlock},
    units::ValueType,
};
use benchleaf_words::{Phrase, Words, count, key, say, set};
use maud::{Markup, html};

use crate::{
    bench, block_prose,
    context::PageContext,
    format::range,
    labels, mathml, notes, problems,
    rangebar::RangeBar,
    rows::two_columns,
    typography::{apostrophes, held_together},
};

/// A block of steps.
pub(crate) fn block(context: &PageContext<'_>, number: usize, block: &StepsBlock, set: &StepSet) -> Markup {
    let before: usize = context.evaluation.steps.iter().take(number).map(|set| set.steps.len()).sum();
    let (seconds, unsaid) = set.seconds();
    let tools = set.tools();
    let (words, n, time) = (context.words, set.steps.len(), held_together(&duration(seconds)));
    let long = match (seconds > 0.0, unsaid > 0) {
        (false, _) => count!(words, STEPS_COUNT, n, n = n),
        (true, false) => count!(words, STEPS_COUNT_TIME, n, n = n, time = time),
        (true, true) => count!(words, STEPS_COUNT_SOME_TIME, n, n = n, time = time),
    };
    let head = html! {
        p.what {
            (long)
        }
        @if !tools.is_empty() { p.says { (say!(words, STEPS_TOOLS, tools = apostrophes(&tools.join(", ")))) } }
    };
    let steps = block.steps.iter().zip(&set.steps).enumerate();
    let name = match number {
        0 => words.text(key::STEPS_NAME).to_owned(),
        _ => say!(words, STEPS_LIST, n = number + 1),
    };
    html! {
        section.building aria-label=(name) data-steps=(number) {
            div.row { (two_columns(&head, &html! {})) }
            ol.steps { @for (i, (lines, step)) in steps { (one(context, before + i + 1, lines, step)) } }
        }
    }
}

fn one(context: &PageContext<'_>, number: usize, lines: &StepLines, step: &Step) -> Markup {
    let title = html! {
        p.step-title {
            label { input type="checkbox" data-tick; " " span { (number) ". " (apostrophes(&step.title)) } }
        }
    };
    let margin = html! {
        @if let Some(seconds) = step.seconds { p { (held_together(&duration(seconds))) } }
        @if !step.tools.is_empty() { p { (apostrophes(&step.tools.join(", "))) } }
    };
    let mut points = step.checks.iter().peekable();
    html! {
        li.step id={ "step-" (number) } data-step=(step.title) {
            div.row { (two_columns(&title, &margin)) }
            @if !step.power.is_empty() { (first_of_all(context, number)) }
            @for item in &lines.items {
                @match item {
                    StepItem::Text(span) => (block_prose::prose(context, "step-text", *span)),
                    StepItem::Place(places) => ul.places { @for place in places { (placed(context, &place.item)) } },
                    StepItem::Picture(picture) => figure.step-picture data-kept { (drawn(context, picture)) },
                    StepItem::Pause(text) => p.pause { (set!(context.words, STEPS_WAIT, what = apostrophes(text))) },
                    StepItem::Power(text) => p.power { (set!(context.words, STEPS_SWITCH_ON, what = apostrophes(text))) },
                    StepItem::Check(asked) => @if let Some(point) = points.next_if(|point| point.span == asked.span) {
                        (test_point(context, point))
                    } @else if context.waits(asked.span) {
                        div.row.test-point data-waits {}
                    },
                }
            }
        }
    }
}

/// The safety notes of the worksheet. Those whose condition is not met are there too, hidden: a reader's change may show them,
/// and their text stays as it was set.
fn first_of_all(context: &PageContext<'_>, step: usize) -> Markup {
    // What is wrong in a note is reported where it stands.
    let quoted = context.again();
    let blocks = &context.evaluation.sheet.blocks;
    let notes = blocks.iter().filter_map(|block| match &block.body {
        BlockBody::Note(note) => Some((block, note)),
        _ => None,
    });
    html! {
        @for (block, note) in notes {
            @let state = context.evaluation.notes.iter().find(|state| state.span == block.span);
            div.step-note hidden[state.is_some_and(|state| !state.shown)] {
                (notes::as_text(context.words, note, &block_prose::copy(&quoted, "note-text", block.content, &format!("step-{step}-"))))
            }
        }
    }
}

fn placed(context: &PageContext<'_>, designator: &str) -> Markup {
    let part = context.evaluation.parts.iter().find(|part| part.designators.iter().any(|own| own == designator));
    html! {
        li data-designators=(designator) {
            strong { (designator) }
            @if let Some(part) = part {
                @if let Some(label) = &part.label { " " (labels::inside(label)) }
                @if let Some(value) = &part.value { ", " (held_together(value)) }
            }
        }
    }
}

#[cfg(feature = "markdown")]
fn drawn(context: &PageContext<'_>, picture: &StepPicture) -> Markup {
    let StepPicture { file, words } = picture;
    if crate::pictures::may_be_shown(&file.item) {
        return crate::pictures::image(context.words, context.pictures, &file.item, "", words);
    }
    crate::pictures::described(context.words, &file.item, words)
}

#[cfg(not(feature = "markdown"))]
fn drawn(_: &PageContext<'_>, _: &StepPicture) -> Markup {
    html! {}
}

fn test_point(context: &PageContext<'_>, point: &TestPoint) -> Markup {
    let Some(value) = context.evaluation.values.get(point.value) else { return html! {} };
    let (words, name, at) = (context.words, mathml::symbol(&value.name), apostrophes(&point.at));
    let what = match &value.label {
        Some(label) => set!(words, STEPS_MEASURE_LABELLED, name = name, label = called(value, label), at = at),
        None => set!(words, STEPS_MEASURE, name = name, at = at),
    };
    let shown = held_together(&value.shown_in(words));
    let of = |ends| held_together(&span_of(words, value, ends));
    let expected = match (likely(value).map(of), worst(value).map(of)) {
        (Some(most), Some(all)) => say!(words, STEPS_EXPECTED_BOTH, value = shown, most = most, all = all),
        (Some(most), None) => say!(words, STEPS_EXPECTED_MOST, value = shown, most = most),
        (None, Some(all)) => say!(words, STEPS_EXPECTED_ALL, value = shown, all = all),
        (None, None) => say!(words, STEPS_EXPECTED, value = shown),
    };
    let reasoning = html! {
        p.what { (what) }
        p.expected { (expected) }
        p.reading data-reading=(value.name) data-at=(point.at) { (words.text(key::STEPS_READING)) " " span.blank {} }
    };
    let margin = html! { @if let Some(bar) = RangeBar::of_value(value) { (bar.draw(words)) } };
    html! { div.row.test-point { (two_columns(&reasoning, &margin)) } }
}

/// What a value is inside a sentence; what a model's outputs are begins with a capital.
fn called(value: &Value, label: &str) -> String {
    let label = labels::inside(label);
    let mut letters = label.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if value.role == Role::Field && lower(second) == second => {
            lower(first).to_string() + letters.as_str()
        }
        _ => label,
    }
}

fn worst(value: &Value) -> Option<(f64, f64)> {
    let worst = value.worst.as_ref().filter(|_| value.value_type != ValueType::Condition)?;
    Some((worst.low, worst.high))
}

fn likely(value: &Value) -> Option<(f64, f64)> {
    value.spread.map(|spread| spread.interval.ends())
}

fn span_of(words: Words<'_>, value: &Value, ends: (f64, f64)) -> String {
    range(words, &value.unit, ends, value.digits)
}

/// What a page says of a reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SaidOfReading {
    /// What it is, in a word: `usual`, `rare`, `unsound`, or `trouble` where it cannot be judged.
    pub word: &'static str,
    /// What is said to the reader, as HTML.
    pub message: String,
    /// The range bar with the reading as a dot, as SVG.
    pub bar: String,
}

/// What is said of readings at test points.
pub fn judged(found: &JudgedReadings, words: Words<'_>) -> Vec<SaidOfReading> {
    let said = |reading: &Result<JudgedReading, Phrase>| match reading {
        Ok(reading) => said_of(words, reading, &found.values),
        Err(why) => Some(SaidOfReading {
            word: "trouble",
            message: html! { p { (problems::message(&why.say(words))) } }.into_string(),
            bar: String::new(),
        }),
    };
    found.readings.iter().filter_map(said).collect()
}

fn said_of(words: Words<'_>, reading: &JudgedReading, values: &[Value]) -> Option<SaidOfReading> {
    let value = values.get(reading.value)?;
    let all = worst(value).map(|ends| span_of(words, value, ends)).unwrap_or_default();
    let most = likely(value).map(|ends| span_of(words, value, ends)).unwrap_or_default();
    let (word, text) = match reading.shows {
        Shows::Usual => ("usual", say!(words, STEPS_USUAL, most = most)),
        Shows::Rare => ("rare", say!(words, STEPS_RARE, most = most, all = all)),
        Shows::Unsound => ("unsound", say!(words, STEPS_UNSOUND, all = all)),
    };
    let message = html! {
        p { (held_together(&text)) }
        @if let Some(suspects) = &reading.suspects {
            @if !suspects.ranked.is_empty() {
                p { (words.text(key::STEPS_EXPLAINS)) }
                (bench::suspected(words, values, suspects))
            }
            (bench::cleared(words, suspects))
        }
    };
    let bar = RangeBar::of_readings(value, vec![reading.si]).draw(words).into_string();
    Some(SaidOfReading { word, message: message.into_string(), bar })
}
