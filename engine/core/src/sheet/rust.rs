//! The fence of a Rust block: `rust calc -> t_on [s] "pulse length", series v [V]`.

use benchleaf_words::{Word, key, phrase};

use crate::{
    lang::{Item, Parser, lines, whole},
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// What the fence of a Rust block says: `rust calc -> t_on [s], series v [V]`.
#[derive(Clone, Debug, Default)]
pub struct RustBlock {
    /// The values that it gives.
    pub outputs: Vec<RustResult>,
    /// The series that it gives.
    pub series: Vec<RustResult>,
    /// Whether the fence did not read.
    pub broken: bool,
}

impl RustBlock {
    /// Reads results behind the arrow, up to what is none.
    fn results(&mut self, parser: &mut Parser) -> Result<(), Problem> {
        loop {
            let series = parser.is_word("series") && matches!(parser.peek_at(1), Some(Item::Word(_)));
            if series {
                parser.next();
            }
            let name = parser.name(phrase!(SHEET_RUST_THE_NAME_OF_A_RESULT))?;
            let result = RustResult { name, unit: parser.bracket(), label: parser.label() };
            if series { &mut self.series } else { &mut self.outputs }.push(result);
            if parser.take(&Item::Comma).is_none() {
                return Ok(());
            }
        }
    }
}

/// `t_on [s] "pulse length"`.
#[derive(Clone, Debug)]
pub struct RustResult {
    /// Its name.
    pub name: Spanned<String>,
    /// Its unit; a plain number where absent.
    pub unit: Option<Spanned<String>>,
    /// What the reader sees.
    pub label: Option<String>,
}

/// Reads what stands behind `rust calc`.
pub(super) fn read(source: &str, behind: Span, problems: &mut Vec<Problem>) -> RustBlock {
    let mut block = RustBlock::default();
    let text = behind.text(source);
    if text.is_empty() {
        return block;
    }
    let Some(results) = text.strip_prefix("->").or_else(|| text.strip_prefix('→')) else {
        let message = phrase!(SHEET_RUST_DOES_NOT_BELONG_BEHIND, text = text);
        problems.push(Problem::new(Code::Syntax, behind, message).help(WANTED));
        block.broken = true;
        return block;
    };
    let span = Span::new(behind.end - results.len(), behind.end);
    let Some(line) = lines(source, span).into_iter().next() else {
        problems
            .push(Problem::new(Code::Syntax, behind, phrase!(SHEET_RUST_RESULTS_SHOULD_FOLLOW_THE_ARROW)).help(WANTED));
        block.broken = true;
        return block;
    };
    if let Err(problem) = whole(line, |parser| block.results(parser)) {
        problems.push(problem.help(WANTED));
        block.broken = true;
    }
    block
}

const WANTED: Word<0> = key::SHEET_RUST_THE_FENCE_READS;
