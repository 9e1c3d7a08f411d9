//! What of a published page depends on numbers, for setting it again after a reader's change: the line at its head, the
//! engine's blocks, and the inline results of the prose. The prose itself stays as it was set.

use benchleaf_core::{results::Evaluation, summary::Summary};
use benchleaf_words::Words;

use crate::{blocks, context::PageContext, head, results::inlines};

/// The parts of a page that may change. All are HTML.
#[derive(Clone, Debug)]
pub struct Update {
    /// The summing-up at the head.
    pub head: String,
    /// The same sum in numbers.
    pub counts: Summary,
    /// The engine's blocks, in the order of the worksheet. Prose inside them is left empty (`data-kept`).
    pub blocks: Vec<String>,
    /// The inline results, in the order of the worksheet.
    pub inlines: Vec<String>,
}

/// Sets what depends on numbers.
pub fn update(evaluation: &Evaluation, source: &str, words: Words<'_>) -> Update {
    let context = PageContext::new(evaluation, source, words);
    let counts = Summary::of(evaluation);
    let head = head::line(&context, &counts).into_string();
    let inlines = inlines(&context).map(|(_, html)| html).collect();
    let blocks = evaluation.sheet.blocks.iter().enumerate();
    let blocks = blocks.map(|(index, block)| blocks::block(&context, index, block).into_string()).collect();
    Update { head, counts, blocks, inlines }
}
