//! Markdown to a [`Sheet`]: finds the fences that belong to the engine and the inline results between them. Every other
//! fence is left alone.

use std::collections::HashSet;

use pulldown_cmark::{CodeBlockKind, Event, Options, Parser, Tag, TagEnd, TextMergeWithOffset};

use super::{
    Block, BlockBody, BlockWord, Note, Sheet, Signal, exercise,
    inline::{Segment, split},
    metadata, plot, rust,
};
use crate::{
    lang::{lines, parse_calc, whole},
    nearest::nearest,
    problem::{Code, Problem},
    span::{Span, Spanned},
};

/// Reads a worksheet. Whatever is wrong with it, the rest is read all the same.
pub fn read(source: &str) -> (Sheet, Vec<Problem>) {
    let mut problems = Vec::new();
    let (metadata, body_start) = metadata::read(source, &mut problems);
    let mut reader = Reader {
        source,
        sheet: Sheet { metadata, body_start, blocks: Vec::new(), inlines: Vec::new() },
        problems,
        names: HashSet::new(),
        statements: 0,
    };
    reader.prose(Span::new(body_start, source.len()));
    (reader.sheet, reader.problems)
}

/// The Markdown of a part of a worksheet as events, each with its byte range in the whole source. Tables, footnotes,
/// task lists and strikethrough are on; this is the one place that says so.
pub fn markdown(source: &str, within: Span) -> impl Iterator<Item = (Event<'_>, std::ops::Range<usize>)> {
    let options =
        Options::ENABLE_TABLES | Options::ENABLE_FOOTNOTES | Options::ENABLE_TASKLISTS | Options::ENABLE_STRIKETHROUGH;
    let text = within.text(source);
    TextMergeWithOffset::new(Parser::new_ext(text, options).into_offset_iter())
        .map(move |(event, range)| (event, range.start + within.start..range.end + within.start))
}

struct Reader<'a> {
    source: &'a str,
    sheet: Sheet,
    problems: Vec<Problem>,
    names: HashSet<String>,
    statements: u32,
}

impl Reader<'_> {
    fn prose(&mut self, within: Span) {
        let mut fence: Option<Fence> = None;
        let mut in_code = false;
        for (event, range) in markdown(self.source, within) {
            match event {
                Event::Start(Tag::CodeBlock(kind)) => {
                    in_code = true;
                    if let CodeBlockKind::Fenced(info) = kind {
                        let span = Span::new(range.start, range.end);
                        fence = Some(Fence { info: info.to_string(), span, content: None });
                    }
                }
                Event::Text(_) if in_code => {
                    if let Some(fence) = &mut fence {
                        let piece = Span::new(range.start, range.end);
                        fence.content = Some(fence.content.map_or(piece, |content| content.to(piece)));
                    }
                }
                Event::End(TagEnd::CodeBlock) => {
                    in_code = false;
                    if let Some(fence) = fence.take() {
                        self.fence(&fence);
                    }
                }
                Event::Text(text) => self.inlines(&text, Span::new(range.start, range.end)),
                _ => {}
            }
        }
    }

    fn inlines(&mut self, text: &str, range: Span) {
        // Entities and escapes make the text differ from its source; the place is then found by looking for it.
        let verbatim = range.text(self.source) == text;
        for segment in split(text) {
            let Segment::Result { source, start, request } = segment else { continue };
            let start = if verbatim { Some(start) } else { range.text(self.source).find(source) };
            let span = start.map_or(range, |at| Span::new(range.start + at, range.start + at + source.len()));
            match request {
                Ok(request) => self.sheet.inlines.push(Spanned { item: request, span }),
                Err(message) => {
                    self.problems.push(Problem::new(Code::Inline, span, message).help("for a literal brace write {{"));
                }
            }
        }
    }

    fn fence(&mut self, fence: &Fence) {
        let info = fence.info.trim();
        let Some(word) = block_word(info) else { return self.near_word(fence, info) };
        let content = fence.content.unwrap_or_else(|| {
            let end = fence.span.text(self.source).find('\n').map_or(fence.span.end, |n| fence.span.start + n + 1);
            Span::new(end, end)
        });
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
                let name = self.behind_word(fence, word.text());
                let read = exercise::read(self.source, name, content, &mut self.problems);
                BlockBody::Exercise(Box::new(read))
            }
            BlockWord::RustCalc => {
                // `rust` and `calc` may stand further apart than the word is long.
                let words = info.find("calc").map_or("", |at| &info[..at + "calc".len()]);
                let block = rust::read(self.source, self.behind_word(fence, words), &mut self.problems);
                self.names.extend(block.outputs.iter().map(|output| output.name.item.clone()));
                BlockBody::Rust(block)
            }
            BlockWord::Parts | BlockWord::Builds | BlockWord::Bench => BlockBody::NotEvaluated(word),
        };
        // The parts of a block that are Markdown themselves.
        let prose = match &body {
            BlockBody::Note(_) => vec![content],
            BlockBody::Exercise(exercise) => exercise.ask.iter().chain(&exercise.hints).copied().collect(),
            _ => Vec::new(),
        };
        self.sheet.blocks.push(Block { span: fence.span, content, body });
        prose.into_iter().for_each(|span| self.prose(span));
    }

    fn note(&mut self, signal: Signal, fence: &Fence) -> BlockBody {
        let mut condition = None;
        let span = self.behind_word(fence, signal.word());
        let rest = span.text(self.source);
        if !rest.is_empty() {
            match rest.strip_prefix("when ") {
                Some(text) => condition = self.condition(Span::new(span.end - text.len(), span.end)),
                None => self.problems.push(
                    Problem::new(Code::Syntax, span, format!("`{rest}` does not belong behind `{}`", signal.word()))
                        .help(format!("a condition reads `{} when junction > 100 °C`", signal.word())),
                ),
            }
        }
        BlockBody::Note(Note { signal, condition })
    }

    /// What stands behind the word that opens a block.
    fn behind_word(&self, fence: &Fence, word: &str) -> Span {
        let rest = fence.info.trim().get(word.len()..).unwrap_or("").trim();
        let first_line = fence.span.text(self.source).lines().next().unwrap_or("");
        let end = fence.span.start + first_line.trim_end().len();
        Span::new(end.saturating_sub(rest.len()).max(fence.span.start), end)
    }

    fn condition(&mut self, span: Span) -> Option<crate::lang::ast::Expr> {
        let Some(line) = lines(self.source, span).into_iter().next() else {
            self.problems.push(Problem::new(Code::Syntax, span, "a condition should follow `when`"));
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
            let start = fence.span.start + first_line.find(word).unwrap_or(0);
            let span = Span::new(start, start + word.len());
            self.problems.push(
                Problem::new(
                    Code::NearWord,
                    span,
                    format!("`{word}` is shown as code; it is not a word of the engine"),
                )
                .help(format!("did you mean `{known}`?")),
            );
        }
    }
}

struct Fence {
    info: String,
    span: Span,
    content: Option<Span>,
}

fn block_word(info: &str) -> Option<BlockWord> {
    let mut words = info.split_whitespace();
    let first = words.next()?;
    if first == "rust" {
        return (words.next() == Some("calc")).then_some(BlockWord::RustCalc);
    }
    BlockWord::TABLE.iter().find(|row| row.1 == first).map(|row| row.0)
}
