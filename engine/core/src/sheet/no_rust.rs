//! The fence of a Rust block in an engine that runs none: the names of its results. What is wrong with it was told where the
//! page was made.

use super::{RustBlock, RustResult};
use crate::{
    lang::{Item, Parser, lines},
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
    let mut parser = Parser::new(line);
    loop {
        let series = parser.is_word("series") && matches!(parser.peek_at(1), Some(Item::Word(_)));
        if series {
            parser.next();
        }
        let Ok(name) = parser.name("") else { return block };
        let result = RustResult { name, unit: parser.bracket(), label: parser.label() };
        if series { &mut block.series } else { &mut block.outputs }.push(result);
        if parser.take(&Item::Comma).is_none() {
            return block;
        }
    }
}
