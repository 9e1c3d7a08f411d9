//! What a site's own pages say of a worksheet: its headings, values, models, exercises and safety notes, each in plain words
//! and with the anchor of its place. A site's search and its lists of exercises and notes are made from these.

use std::collections::BTreeSet;

use benchleaf_core::{
    results::{Evaluation, Role},
    sheet::BlockBody,
    span::Span,
};
use serde::{Deserialize, Serialize};

use crate::{
    context::PageContext,
    notes,
    prose::{Prose, fragment},
    typography::apostrophes,
};

/// What stands on one page, in reading order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Register {
    /// Headings below the title.
    pub headings: Vec<Place>,
    /// Named values, but no fields of records: label and name, or the name alone.
    pub values: Vec<Place>,
    /// Handbook models that it calls, with what they work out.
    pub models: Vec<Place>,
    /// Exercises.
    pub exercises: Vec<RegisteredExercise>,
    /// Safety notes.
    pub notes: Vec<RegisteredNote>,
}

/// A place on a page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// Its anchor.
    pub id: String,
    /// What is said there, as plain text.
    pub text: String,
}

/// An exercise of the page.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RegisteredExercise {
    /// Where it stands, and its question.
    pub place: Place,
    /// What a right answer earns.
    pub points: f64,
}

/// A safety note of the page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RegisteredNote {
    /// Where it stands, and what it says.
    pub place: Place,
    /// Its signal word in lower case.
    pub signal: String,
    /// Whether it is shown in full: its condition can be met, or it has none.
    pub shown: bool,
}

/// The register of an evaluated worksheet.
pub fn register(evaluation: &Evaluation, source: &str) -> Register {
    let context = &PageContext::new(evaluation, source, evaluation.sheet.metadata.lang.words());
    let mut sections = Prose::of_worksheet(context).sections;
    sections.retain(|section| !section.text.is_empty());
    let headings = sections.into_iter().map(|section| Place { id: section.id, text: section.text });
    let values = evaluation.values.iter().filter(|value| value.role != Role::Field).map(|value| Place {
        id: format!("value-{}", value.name),
        text: match &value.label {
            Some(label) => format!("{}, {}", apostrophes(label), value.name),
            None => value.name.clone(),
        },
    });
    let mut called = BTreeSet::new();
    let models = evaluation.calls.iter().filter(|call| called.insert(call.model.name)).map(|call| Place {
        id: format!("value-{}", call.record),
        text: format!("{}: {}", call.model.name, call.model.summary),
    });
    let exercises = evaluation.exercises.iter().map(|task| RegisteredExercise {
        place: Place { id: format!("exercise-{}", task.name), text: words(context, &task.ask) },
        points: task.points,
    });
    Register {
        headings: headings.collect(),
        values: values.collect(),
        models: models.collect(),
        exercises: exercises.collect(),
        notes: noted(context),
    }
}

fn noted(context: &PageContext<'_>) -> Vec<RegisteredNote> {
    let mut found = Vec::new();
    for block in &context.evaluation.sheet.blocks {
        if !matches!(block.body, BlockBody::Note(_)) {
            continue;
        }
        let states = context.evaluation.notes.iter().enumerate();
        let Some((number, state)) = states.into_iter().find(|(_, state)| state.span == block.span) else { continue };
        found.push(RegisteredNote {
            place: Place { id: notes::anchor(number), text: words(context, &[block.content]) },
            signal: state.signal.word().to_owned(),
            shown: state.shown,
        });
    }
    found
}

/// Markdown as plain text on one line, with its inline results.
fn words(context: &PageContext<'_>, spans: &[Span]) -> String {
    let html: Vec<String> = spans.iter().map(|span| fragment(context, *span, "registered-").into_string()).collect();
    text_of(&html.join(" "))
}

/// The text of HTML that this crate wrote, its blanks made one.
fn text_of(html: &str) -> String {
    let mut text = String::with_capacity(html.len());
    for piece in html.split('<') {
        // What stands before the first tag has none.
        let behind =
            piece.split_once('>').map_or_else(|| if text.is_empty() { piece } else { "" }, |(_, behind)| behind);
        let is_inline =
            ["span", "/span", "data", "/data", "em", "/em", "strong", "/strong", "a ", "/a", "code", "/code"];
        if !is_inline.iter().any(|tag| piece.starts_with(tag)) {
            text.push(' ');
        }
        text.push_str(behind);
    }
    let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&#39;", "'");
    plain.replace("&amp;", "&").split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use super::*;

    #[test]
    fn all_that_a_site_lists_has_its_anchor_on_the_page() {
        let source = "# T\n\n## At {V} & more\n\n```calc\nV = 5 V ± 1 % \"the rail's supply, of any sort\"\nR = 1 kΩ\n\
            d = divider.loaded(supply = V, upper = R, lower = 2 kΩ, load = 10 kΩ)\n```\n\n```exercise e\nask \"What is *half* of {V} < 9 V?\"\n\
            answer [V] = V / 2\npoints 2\n```\n\n```warning when V > 4 V\nIt is {V}.\n\nKeep **off**.\n```\n\n```caution when V > 9 V\nQuiet.\n```\n";
        let evaluation = Evaluator::default().evaluate(source);
        let page = crate::render(&evaluation, source, &crate::PageOptions::default());
        let found = register(&evaluation, source);
        let texts = |places: &[Place]| places.iter().map(|place| place.text.clone()).collect::<Vec<_>>();
        assert_eq!(texts(&found.headings), ["At 5\u{202f}V & more"]);
        assert!(
            texts(&found.values).starts_with(&["the rail’s supply, of any sort, V".to_owned(), "R".to_owned()]),
            "{found:?}"
        );
        assert!(found.models[0].text.starts_with("divider.loaded: "), "{found:?}");
        assert_eq!(found.exercises[0].place.text, "What is half of 5 V < 9 V?");
        assert_eq!(found.notes[0].place.text, "It is 5 V. Keep off.");
        assert_eq!(found.notes.iter().map(|note| note.shown).collect::<Vec<_>>(), [true, false]);
        let exercises = found.exercises.iter().map(|exercise| &exercise.place);
        let notes = found.notes.iter().map(|note| &note.place);
        for place in found.headings.iter().chain(&found.values).chain(&found.models).chain(exercises).chain(notes) {
            assert!(page.body.contains(&format!("id=\"{}\"", place.id)), "{place:?}: {}", page.body);
        }
    }
}
