//! Steps of a build: time and tools at the head, then each step with a box to tick, the parts to place, pictures, and test
//! points with the range that a sound build shows. A step that applies power shows first the safety notes that hold. And
//! what the page's script asks the engine for, [`judged`]: what a reading says of the build.

use benchleaf_core::{
    case::lower,
    results::{JudgedReading, JudgedReadings, Role, Shows, Step, StepSet, TestPoint, Value, duration},
    sheet::{BlockBody, StepItem, StepLines, StepPicture, StepsBlock},
    summary::counted,
    units::ValueType,
};
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
    let head = html! {
        p.what {
            (counted(set.steps.len(), "step"))
            @if seconds > 0.0 { ", about " (held_together(&duration(seconds))) @if unsaid > 0 { " for those that say how long they take" } }
        }
        @if !tools.is_empty() { p.says { "Tools: " (apostrophes(&tools.join(", "))) "." } }
    };
    let steps = block.steps.iter().zip(&set.steps).enumerate();
    let name = if number == 0 { "Steps".to_owned() } else { format!("Steps, list {}", number + 1) };
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
                    StepItem::Pause(text) => p.pause { strong { "Wait: " } (apostrophes(text)) },
                    StepItem::Power(text) => p.power { strong { "Switch on: " } (apostrophes(text)) },
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
                (notes::as_text(note, &block_prose::copy(&quoted, "note-text", block.content, &format!("step-{step}-"))))
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
        return crate::pictures::image(context.pictures, &file.item, "", words);
    }
    crate::pictures::described(&file.item, words)
}

#[cfg(not(feature = "markdown"))]
fn drawn(_: &PageContext<'_>, _: &StepPicture) -> Markup {
    html! {}
}

fn test_point(context: &PageContext<'_>, point: &TestPoint) -> Markup {
    let Some(value) = context.evaluation.values.get(point.value) else { return html! {} };
    let reasoning = html! {
        p.what {
            strong { "Measure " } (mathml::symbol(&value.name))
            @if let Some(label) = &value.label { ", " (called(value, label)) "," }
            " at: " strong { (apostrophes(&point.at)) }
        }
        p.expected {
            "Expected: " (held_together(&value.shown()))
            @if let Some(ends) = likely(value) { "; in 95 % of sound builds " (held_together(&span_of(value, ends))) }
            @if let Some(ends) = worst(value) { ", in all of them " (held_together(&span_of(value, ends))) }
            "."
        }
        p.reading data-reading=(value.name) data-at=(point.at) { "Reading: " span.blank {} }
    };
    let margin = html! { @if let Some(bar) = RangeBar::of_value(value) { (bar.draw()) } };
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

fn span_of(value: &Value, ends: (f64, f64)) -> String {
    range(&value.unit, ends, value.digits)
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
pub fn judged(found: &JudgedReadings) -> Vec<SaidOfReading> {
    let said = |reading: &Result<JudgedReading, String>| match reading {
        Ok(reading) => said_of(reading, &found.values),
        Err(why) => Some(SaidOfReading {
            word: "trouble",
            message: html! { p { (problems::message(why)) } }.into_string(),
            bar: String::new(),
        }),
    };
    found.readings.iter().filter_map(said).collect()
}

fn said_of(reading: &JudgedReading, values: &[Value]) -> Option<SaidOfReading> {
    let value = values.get(reading.value)?;
    let all = worst(value).map(|ends| span_of(value, ends)).unwrap_or_default();
    let most = likely(value).map(|ends| span_of(value, ends)).unwrap_or_default();
    let (word, text) = match reading.shows {
        Shows::Usual => ("usual", format!("A sound build shows this: 95 % of builds lie within {most}.")),
        Shows::Rare => (
            "rare",
            format!(
                "A sound build can show this, but few do: 95 % of builds lie within {most}, all of them within {all}. Look again at the parts and the meter."
            ),
        ),
        Shows::Unsound => (
            "unsound",
            format!(
                "No sound build shows this: with every part within its tolerance the reading is {all}. Switch off, and look for the cause before you go on."
            ),
        ),
    };
    let message = html! {
        p { (held_together(&text)) }
        @if let Some(suspects) = &reading.suspects {
            @if !suspects.ranked.is_empty() {
                p { "What would explain it, each alone; the likeliest first. A wrong part, a bad joint or a short may be likelier than all of them." }
                (bench::suspected(values, suspects))
            }
            (bench::cleared(suspects))
        }
    };
    let bar = RangeBar::of_readings(value, vec![reading.si]).draw().into_string();
    Some(SaidOfReading { word, message: message.into_string(), bar })
}
