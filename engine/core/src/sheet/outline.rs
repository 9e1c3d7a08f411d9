//! The first look at a worksheet: TOML metadata and Markdown, for the places of fences and inline results. Every other
//! part of the Markdown stays in the source; the renderer reads it with [`markdown`], the one place that sets
//! Markdown's options.

use benchleaf_words::phrase;

use pulldown_cmark::{CodeBlockKind, Event, HeadingLevel, Options, Parser, Tag, TagEnd, TextMergeWithOffset};

use super::{
    BlockWord, Metadata, Sheet, exercise,
    inline::{Segment, split},
    metadata,
    read::{behind_word, block_word},
    steps,
    worksheet::{Fence, Inline, Part, Worksheet},
};
use crate::{
    case::lower,
    problem::{Code, Problem},
    span::Span,
};

/// Reads a worksheet. Whatever is wrong with it, the rest is read all the same.
pub fn read(source: &str) -> (Sheet, Vec<Problem>) {
    let (worksheet, mut problems) = Worksheet::new(source);
    let (sheet, found) = worksheet.read();
    problems.extend(found);
    (sheet, problems)
}

/// The metadata of a worksheet alone. What is wrong with it is reported by [`Worksheet::new`].
pub fn metadata_of(source: &str) -> Metadata {
    metadata::read(source, &mut Vec::new()).0
}

impl Worksheet {
    /// Takes the first look at a worksheet's text; problems of the metadata are returned beside it.
    pub fn new(source: &str) -> (Self, Vec<Problem>) {
        let mut problems = Vec::new();
        let (metadata, body_start) = metadata::read(source, &mut problems);
        let mut parts = Vec::new();
        let body = Span::new(body_start, source.len());
        prose(source, body, &mut parts);
        problems.extend(metadata.title.as_deref().and_then(|title| other_title(source, body, title)));
        // Hints may stand above the question, which is set first.
        parts.sort_by_key(Part::start);
        (Self { source: source.to_owned(), metadata, body_start, parts, files: Vec::new(), used: Vec::new() }, problems)
    }
}

/// Whether a heading is the title once more: case, blanks and the style of quotation marks make no difference.
pub fn is_title(heading: &str, title: &str) -> bool {
    let plain = |text: &str| {
        let straight = |c| match c {
            '’' | '‘' | 'ʼ' | '`' => '\'',
            '“' | '”' => '"',
            c => lower(c),
        };
        text.split_whitespace().collect::<Vec<_>>().join(" ").chars().map(straight).collect::<String>()
    };
    plain(heading) == plain(title)
}

/// What is wrong where the worksheet opens with a heading of the first level that is not the title. One that holds a result
/// is left alone: it has no fixed text.
fn other_title(source: &str, body: Span, title: &str) -> Option<Problem> {
    let heading = first_heading(source, body);
    let (span, _) = heading.filter(|(_, said)| !said.contains('{') && !is_title(said, title))?;
    let line = Span::new(span.start, span.start + span.text(source).trim_end().len());
    let message = phrase!(SHEET_OUTLINE_THE_FIRST_HEADING_IS_NOT);
    Some(Problem::new(Code::Title, line, message).help(phrase!(SHEET_OUTLINE_MAKE_THE_TWO_ALIKE)))
}

/// The heading of the first level that a text opens with, and what it says.
fn first_heading(source: &str, body: Span) -> Option<(Span, String)> {
    let mut heading = None;
    for (event, range) in markdown(source, body) {
        match (event, &mut heading) {
            (Event::Start(Tag::Heading { level: HeadingLevel::H1, .. }), None) => {
                heading = Some((Span::new(range.start, range.end), String::new()));
            }
            (Event::Start(Tag::Heading { .. }), None) => return None,
            (Event::Text(text) | Event::Code(text), Some((_, said))) => said.push_str(&text),
            (Event::End(TagEnd::Heading(_)), _) => break,
            _ => {}
        }
    }
    heading
}

/// The title of a worksheet: that of its metadata, or the heading that it opens with, unless that holds a result.
pub(super) fn title(worksheet: &Worksheet) -> Option<String> {
    worksheet.metadata.title.clone().or_else(|| {
        let body = Span::new(worksheet.body_start, worksheet.source.len());
        Some(first_heading(&worksheet.source, body)?.1).filter(|said| !said.contains('{'))
    })
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

fn prose(source: &str, within: Span, parts: &mut Vec<Part>) {
    let mut fence: Option<(String, Span, Option<Span>)> = None;
    let mut in_code = false;
    for (event, range) in markdown(source, within) {
        match event {
            Event::Start(Tag::CodeBlock(kind)) => {
                in_code = true;
                if let CodeBlockKind::Fenced(info) = kind {
                    fence = Some((info.trim().to_owned(), Span::new(range.start, range.end), None));
                }
            }
            Event::Text(_) if in_code => {
                if let Some((_, _, content)) = &mut fence {
                    let piece = Span::new(range.start, range.end);
                    *content = Some(content.map_or(piece, |content| content.to(piece)));
                }
            }
            Event::End(TagEnd::CodeBlock) => {
                in_code = false;
                if let Some((info, span, content)) = fence.take() {
                    let content = content.unwrap_or_else(|| {
                        let end = span.text(source).find('\n').map_or(span.end, |n| span.start + n + 1);
                        Span::new(end, end)
                    });
                    block(source, Fence { span, content, info }, parts);
                }
            }
            Event::Text(text) => inlines(source, &text, Span::new(range.start, range.end), parts),
            _ => {}
        }
    }
}

/// A fence, and what stands in the parts of it that are Markdown themselves.
fn block(source: &str, fence: Fence, parts: &mut Vec<Part>) {
    let word = block_word(&fence.info);
    let within = match word {
        Some(BlockWord::Danger | BlockWord::Warning | BlockWord::Caution | BlockWord::Notice) => vec![fence.content],
        Some(BlockWord::Exercise) => {
            // What is wrong with it is reported at the second look.
            let name = behind_word(source, &fence, BlockWord::Exercise.text());
            let exercise = exercise::read(source, name, fence.content, &mut Vec::new());
            exercise.ask.into_iter().chain(exercise.hints).collect()
        }
        Some(BlockWord::Steps) => {
            let behind = behind_word(source, &fence, BlockWord::Steps.text());
            steps::read(source, behind, fence.content, &mut Vec::new()).texts().collect()
        }
        _ => Vec::new(),
    };
    parts.push(Part::Fence(fence));
    within.into_iter().for_each(|span| prose(source, span, parts));
}

fn inlines(source: &str, text: &str, range: Span, parts: &mut Vec<Part>) {
    if !text.contains('{') {
        return;
    }
    // Entities and escapes make the text differ from its source; the place is then found by looking for it.
    let verbatim = range.text(source) == text;
    for segment in split(text) {
        let Segment::Result { source: written, start, .. } = segment else { continue };
        let start = if verbatim { Some(start) } else { range.text(source).find(written) };
        let span = start.map_or(range, |at| Span::new(range.start + at, range.start + at + written.len()));
        parts.push(Part::Inline(Inline { span, text_start: range.start, written: written.to_owned() }));
    }
}
