//! The whole worksheet as HTML: its prose, and the engine's blocks in the place of their fences.

use std::cmp::Reverse;

use benchleaf_core::{parallel, sheet::Block};

use crate::{
    blocks,
    context::PageContext,
    prose::{Heading, Prose},
    sections::Section,
};

/// The prose of a worksheet with everything in it.
pub(crate) struct Body {
    /// The first heading, where it is the page's title; it is left out of `html` then.
    pub(crate) title: Option<Heading>,
    pub(crate) sections: Vec<Section>,
    pub(crate) html: String,
}

/// The whole worksheet.
pub(crate) fn body(context: &PageContext<'_>) -> Body {
    let sheet = &context.evaluation.sheet;
    // What a block says depends on no other part of the page. The long ones first, so that none is left over in the end.
    // A block inside another one is not shown, and what is wrong in it is shown with the outer one.
    let mut end = 0;
    let mut outermost = |block: &&Block| {
        let outside = block.span.start >= end;
        end = end.max(block.span.end);
        outside
    };
    let count = sheet.blocks.len();
    let mut blocks: Vec<(usize, &Block)> =
        sheet.blocks.iter().enumerate().filter(|(_, block)| outermost(block)).collect();
    blocks.sort_by_key(|(_, block)| Reverse(block.span.end - block.span.start));
    let (set, mut prose) = parallel::both(
        || parallel::each(blocks, |(index, block)| (index, blocks::block(context, index, block))),
        || Prose::of_worksheet(context),
    );
    let title = prose.take_title();
    let sections = std::mem::take(&mut prose.sections);
    let mut blocks = vec![None; count];
    set.into_iter().for_each(|(index, block)| blocks[index] = Some(block));
    Body { title, sections, html: prose.finish(&mut blocks) }
}
