//! The second look at a worksheet: the engine's language, in the fences and inline results that the first one found. Every
//! other fence is left alone.

use std::collections::HashSet;

use benchleaf_words::{Phrase, phrase};

use super::{
    Block, BlockBody, BlockWord, Note, Sheet, Signal, bench, builds, circuit, exercise, inline, parts, plot, rust,
    steps, transient,
    worksheet::{Fence, Part, Worksheet},
};
use crate::{
    lang::{lines, parse_calc, whole},
    problem::{Code, Problem},
    span::{Span, Spanned},
    suggest::nearest,
};

/// Reads the parts of a worksheet whose text begins at this byte of `source`.
pub(super) fn assemble(source: &str, begin: usize, worksheet: &Worksheet) -> (Sheet, Vec<Problem>) {
    let Worksheet { metadata, body_start, parts, files, used, .. } = worksheet;
    let parts: Vec<Part> = parts.iter().map(|part| part.moved(begin)).collect();
    let mut reader = Reader {
        source,
        sheet: Sheet {
            metadata: metadata.clone(),
            body_start: begin + *body_start,
            parts: Vec::new(),
            blocks: Vec::new(),
            inlines: Vec::new(),
            files: files.clone(),
            used: used.clone(),
        },
        problems: Vec::new(),
        names: HashSet::new(),
        statements: 0,
    };
    for part in &parts {
        match part {
            Part::Fence(fence) => reader.fence(fence),
            Part::Inline(inline) => reader.inline(inline),
        }
    }
    reader.sheet.parts = parts;
    (reader.sheet, reader.problems)
}

struct Reader<'a> {
    source: &'a str,
    sheet: Sheet,
    problems: Vec<Problem>,
    names: HashSet<String>,
    statements: u32,
}

impl Reader<'_> {
    fn inline(&mut self, found: &super::Inline) {
        match inline::request_of(&found.written) {
            Ok(request) => self.sheet.inlines.push(Spanned { item: request, span: found.span }),
            Err(message) => {
                let problem = Problem::new(Code::Inline, found.span, message)
                    .help(phrase!(SHEET_READ_FOR_A_LITERAL_BRACE, braces = "{{"));
                self.problems.push(problem);
            }
        }
    }

    fn fence(&mut self, fence: &Fence) {
        let info = fence.info.trim();
        let Some(word) = block_word(info) else { return self.near_word(fence, info) };
        let content = fence.content;
        if let Some(cure) = unclosed(self.source, fence, word) {
            let opening = fence.span.text(self.source).lines().next().unwrap_or("").trim_end();
            let span = Span::new(fence.span.start, fence.span.start + opening.len());
            let message = phrase!(SHEET_READ_THIS_BLOCK_IS_NEVER_CLOSED, word = word.text());
            self.problems.push(Problem::new(Code::Unclosed, span, message).help(cure));
            self.sheet.blocks.push(Block { span: fence.span, content, body: BlockBody::Calc(Vec::new()) });
            return;
        }
        let body = match word {
            BlockWord::Calc => {
                let read = parse_calc(self.source, content, self.statements, &mut self.names);
                self.statements += read.statements.len() as u32;
                self.problems.extend(read.problems);
                BlockBody::Calc(read.statements)
            }
            BlockWord::Danger => self.note(Signal::Danger, fence),
            BlockWord::Warning => self.note(Signal::Warning, fence),
            BlockWord::Caution => self.note(Signal::Caution, fence),
            BlockWord::Notice => self.note(Signal::Notice, fence),
            BlockWord::Plot => BlockBody::Plot(plot::read(self.source, content, &mut self.problems)),
            BlockWord::Exercise => {
                let name = behind_word(self.source, fence, word.text());
                let read = exercise::read(self.source, name, content, &mut self.problems);
                BlockBody::Exercise(Box::new(read))
            }
            BlockWord::RustCalc => {
                // `rust` and `calc` may stand further apart than the word is long.
                let words = info.find("calc").map_or("", |at| &info[..at + "calc".len()]);
                let block = rust::read(self.source, behind_word(self.source, fence, words), &mut self.problems);
                self.names.extend(block.outputs.iter().map(|output| output.name.item.clone()));
                BlockBody::Rust(block)
            }
            BlockWord::Bench => {
                let behind = behind_word(self.source, fence, word.text());
                BlockBody::Bench(Box::new(bench::read(self.source, behind, content, &mut self.problems)))
            }
            BlockWord::Steps => {
                let behind = behind_word(self.source, fence, word.text());
                BlockBody::Steps(steps::read(self.source, behind, content, &mut self.problems))
            }
            BlockWord::Transient => {
                let read = transient::read(self.source, content, &mut self.names, &mut self.problems);
                BlockBody::Transient(Box::new(read))
            }
            BlockWord::Circuit => BlockBody::Circuit(Box::new(circuit::read(self.source, content, &mut self.problems))),
            BlockWord::Parts => {
                let read = parts::read(self.source, content, self.statements, &mut self.names, &mut self.problems);
                self.statements += read.statements.len() as u32;
                BlockBody::Parts(read)
            }
            BlockWord::Builds => {
                let read = builds::read(self.source, content, &self.names, &mut self.problems);
                BlockBody::Builds(Box::new(read))
            }
        };
        self.sheet.blocks.push(Block { span: fence.span, content, body });
    }

    fn note(&mut self, signal: Signal, fence: &Fence) -> BlockBody {
        let mut condition = None;
        let span = behind_word(self.source, fence, signal.word());
        let rest = span.text(self.source);
        if !rest.is_empty() {
            match rest.strip_prefix("when ") {
                Some(text) => condition = self.condition(Span::new(span.end - text.len(), span.end)),
                None => self.problems.push(
                    Problem::new(
                        Code::Syntax,
                        span,
                        phrase!(SHEET_READ_DOES_NOT_BELONG_BEHIND, rest = rest, word = signal.word()),
                    )
                    .help(phrase!(SHEET_READ_A_CONDITION_READS, word = signal.word())),
                ),
            }
        }
        BlockBody::Note(Note { signal, condition })
    }

    fn condition(&mut self, span: Span) -> Option<crate::lang::ast::Expr> {
        let Some(line) = lines(self.source, span).into_iter().next() else {
            self.problems.push(Problem::new(Code::Syntax, span, phrase!(SHEET_READ_A_CONDITION_SHOULD_FOLLOW)));
            return None;
        };
        whole(line, crate::lang::Parser::expression).map_err(|problem| self.problems.push(problem)).ok()
    }

    fn near_word(&mut self, fence: &Fence, info: &str) {
        let word = info.split_whitespace().next().unwrap_or("");
        let words = BlockWord::TABLE.iter().map(|row| row.1).filter(|word| !word.contains(' '));
        let known = nearest(word, words).filter(|_| word.chars().count() >= 4);
        if let Some(known) = known {
            let first_line = fence.span.text(self.source).lines().next().unwrap_or("");
            // A reader of Markdown puts another character in the place of some that mean nothing, so it may not be found.
            let start = fence.span.start + first_line.find(word).unwrap_or(0);
            let length = if first_line.contains(word) { word.len() } else { first_line.len() };
            let span = Span::new(start, start + length);
            self.problems.push(
                Problem::new(Code::NearWord, span, phrase!(SHEET_READ_IS_SHOWN_AS_CODE, word = word))
                    .help(phrase!(SHARED_DID_YOU_MEAN, known = known)),
            );
        }
    }
}

/// What to do about a fence without an end: it would take in the prose below, line by line. None where the fence ends.
fn unclosed(source: &str, fence: &Fence, word: BlockWord) -> Option<Phrase> {
    let behind = Span::new(fence.content.end.min(fence.span.end), fence.span.end).text(source);
    if behind.trim().is_empty() {
        return Some(phrase!(SHEET_READ_END_IT_WITH_A_LINE));
    }
    let holds_markdown = !matches!(word, BlockWord::Calc | BlockWord::Plot | BlockWord::Transient);
    let within = fence.content.text(source);
    let opens = |line: &str| ["```", "~~~"].iter().any(|fence| line.trim_start().starts_with(fence));
    let opens_another = !holds_markdown && within.lines().any(opens);
    opens_another.then(|| phrase!(SHEET_READ_END_IT_WITH_A_LINE_OF))
}

/// What stands behind the word that opens a block.
pub(super) fn behind_word(source: &str, fence: &Fence, word: &str) -> Span {
    let rest = fence.info.trim().get(word.len()..).unwrap_or("").trim();
    let first_line = fence.span.text(source).lines().next().unwrap_or("");
    let end = fence.span.start + first_line.trim_end().len();
    Span::new(end.saturating_sub(rest.len()).max(fence.span.start), end)
}

/// The engine's word that an info string begins with.
pub(super) fn block_word(info: &str) -> Option<BlockWord> {
    let mut words = info.split_whitespace();
    let first = words.next()?;
    if first == "rust" {
        return (words.next() == Some("calc")).then_some(BlockWord::RustCalc);
    }
    BlockWord::TABLE.iter().find(|row| row.1 == first).map(|row| row.0)
}
