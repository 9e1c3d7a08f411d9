//! The fence of a Rust block: `rust calc -> t_on [s] "pulse length", series v [V]`.

use super::RustBlock;
use crate::{
    lang::{lines, whole},
    problem::{Code, Problem},
    span::Span,
};

/// Reads what stands behind `rust calc`.
pub(super) fn read(source: &str, behind: Span, problems: &mut Vec<Problem>) -> RustBlock {
    let mut block = RustBlock::default();
    let text = behind.text(source);
    if text.is_empty() {
        return block;
    }
    let Some(results) = text.strip_prefix("->").or_else(|| text.strip_prefix('→')) else {
        let message = format!("`{text}` does not belong behind `rust calc`");
        problems.push(Problem::new(Code::Syntax, behind, message).help(WANTED));
        block.broken = true;
        return block;
    };
    let span = Span::new(behind.end - results.len(), behind.end);
    let Some(line) = lines(source, span).into_iter().next() else {
        problems.push(Problem::new(Code::Syntax, behind, "results should follow the arrow").help(WANTED));
        block.broken = true;
        return block;
    };
    if let Err(problem) = whole(line, |parser| block.results(parser)) {
        problems.push(problem.help(WANTED));
        block.broken = true;
    }
    block
}

const WANTED: &str = "the fence reads `rust calc -> t_on [s], I_c [mA], series v [V]`";
