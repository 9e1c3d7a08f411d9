//! The fence of a Rust block in an engine that runs none: the names of its results. What is wrong with it was told where the
//! page was made.

use super::RustBlock;
use crate::{
    lang::{Parser, lines},
    problem::Problem,
    span::Span,
};

/// Reads the names behind the arrow.
pub(super) fn read(source: &str, behind: Span, _: &mut Vec<Problem>) -> RustBlock {
    let mut block = RustBlock::default();
    let text = behind.text(source);
    let results = text.trim_start_matches(['-', '>', '→']);
    let span = Span::new(behind.end - results.len(), behind.end);
    let Some(line) = lines(source, span).into_iter().next() else { return block };
    // As far as it reads.
    let _ = block.results(&mut Parser::new(line));
    block
}
