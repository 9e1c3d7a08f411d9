//! What of a published page depends on numbers, for setting it anew after a reader's change: the line at its head, the
//! engine's blocks, and the inline results of the prose. The prose itself stays as it was set.

use benchleaf_core::{
    results::Evaluation,
    sheet::{Part, inline::request_of},
    tally::Tally,
};

use crate::{blocks, head, manuscript::Manuscript, results};

/// The parts of a page that may change. All are HTML.
#[derive(Clone, Debug)]
pub struct Update {
    /// The summing-up at the head.
    pub head: String,
    /// The same sum in numbers.
    pub tally: Tally,
    /// The engine's blocks, in the order of the worksheet. Prose inside them is left empty (`data-kept`).
    pub blocks: Vec<String>,
    /// The inline results, in the order of the worksheet.
    pub inlines: Vec<String>,
}

/// Sets what depends on numbers.
pub fn update(evaluation: &Evaluation, source: &str) -> Update {
    let manuscript = Manuscript::new(evaluation, source);
    let tally = Tally::of(evaluation);
    let head = head::line(&manuscript, &tally).into_string();
    let inlines = inlines(&manuscript).map(|(_, html)| html).collect();
    let blocks = evaluation.sheet.blocks.iter().enumerate();
    let blocks = blocks.map(|(index, block)| blocks::block(&manuscript, index, block).into_string()).collect();
    Update { head, tally, blocks, inlines }
}

/// The inline results with where they stand.
pub(crate) fn inlines(manuscript: &Manuscript<'_>) -> impl Iterator<Item = (usize, String)> {
    let inlines = manuscript.evaluation.sheet.parts.iter().filter_map(|part| match part {
        Part::Inline(inline) => Some(inline),
        Part::Fence(_) => None,
    });
    inlines.enumerate().map(|(number, inline)| {
        let place = inline.span.start..inline.span.end;
        let set = results::inline(manuscript, Some(number), &inline.written, request_of(&inline.written), place);
        (inline.span.start, set.markup.into_string())
    })
}
