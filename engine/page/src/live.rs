//! What of a published page depends on numbers, for setting it anew after a reader's change: the line at its head, the
//! engine's blocks, and the inline results of the prose. The prose itself stays as it was set.

use benchleaf_core::{
    results::Evaluation,
    sheet::{Part, inline::request_of},
    summary::Summary,
};

use crate::{blocks, context::PageContext, head, results};

/// The parts of a page that may change. All are HTML.
#[derive(Clone, Debug)]
pub struct Update {
    /// The summing-up at the head.
    pub head: String,
    /// The same sum in numbers.
    pub tally: Summary,
    /// The engine's blocks, in the order of the worksheet. Prose inside them is left empty (`data-kept`).
    pub blocks: Vec<String>,
    /// The inline results, in the order of the worksheet.
    pub inlines: Vec<String>,
}

/// Sets what depends on numbers.
pub fn update(evaluation: &Evaluation, source: &str) -> Update {
    let context = PageContext::new(evaluation, source);
    let tally = Summary::of(evaluation);
    let head = head::line(&context, &tally).into_string();
    let inlines = inlines(&context).map(|(_, html)| html).collect();
    let blocks = evaluation.sheet.blocks.iter().enumerate();
    let blocks = blocks.map(|(index, block)| blocks::block(&context, index, block).into_string()).collect();
    Update { head, tally, blocks, inlines }
}

/// The inline results with where they stand.
pub(crate) fn inlines(context: &PageContext<'_>) -> impl Iterator<Item = (usize, String)> {
    let inlines = context.evaluation.sheet.parts.iter().filter_map(|part| match part {
        Part::Inline(inline) => Some(inline),
        Part::Fence(_) => None,
    });
    inlines.enumerate().map(|(number, inline)| {
        let place = inline.span.start..inline.span.end;
        let set = results::inline(context, Some(number), &inline.written, request_of(&inline.written), place);
        (inline.span.start, set.markup.into_string())
    })
}
