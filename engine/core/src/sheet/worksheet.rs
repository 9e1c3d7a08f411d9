//! A worksheet's text after the first look at it: where its Markdown begins, and where in it the fences and the inline
//! results stand. The second look, at the language of these, needs nothing else; so a published page, which carries
//! both, is worked out anew without a reader of Markdown or TOML.

use std::{fmt::Write, sync::Arc};

use super::{
    BlockWord, Metadata, Sheet, Used, bench,
    read::{assemble, behind_word, block_word},
};
use crate::{host::Host, problem::Problem, span::Span};

/// A worksheet's text, and what its Markdown was found to hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Worksheet {
    /// The text.
    pub source: String,
    /// The metadata, defaults filled in.
    pub metadata: Metadata,
    /// Where the CommonMark begins: after the metadata, if any.
    pub body_start: usize,
    /// Fences and inline results, in the order in which they begin.
    pub parts: Vec<Part>,
    /// Files beside the worksheet that it carries with it; others are asked of the host.
    pub files: Vec<Carried>,
    /// The worksheets that it uses, and those that these use, each once.
    pub used: Vec<Used>,
}

/// A file that a worksheet reads from, carried with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Carried {
    /// Its path relative to the worksheet.
    pub path: Arc<str>,
    /// Its text.
    pub text: Arc<str>,
}

/// Something in the Markdown that the engine may have to do with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// A fenced block.
    Fence(Fence),
    /// An inline result.
    Inline(Inline),
}

/// A fenced block of any language.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fence {
    /// From the opening fence to the end of the closing one.
    pub span: Span,
    /// The text between the fences.
    pub content: Span,
    /// Its info string.
    pub info: String,
}

/// An inline result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inline {
    /// Where it stands; the whole text around it where entities or escapes hide its place.
    pub span: Span,
    /// Where the text around it begins.
    pub text_start: usize,
    /// The request as written, braces included.
    pub written: String,
}

/// Another text in the place of a part of a worksheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// What is replaced; no part of the worksheet begins or ends inside.
    pub span: Span,
    /// What takes its place.
    pub text: String,
}

impl Worksheet {
    /// Reads the engine's language in the parts. Whatever is wrong with it, the rest is read all the same.
    pub fn read(&self) -> (Sheet, Vec<Problem>) {
        assemble(&self.source, 0, self)
    }

    /// The worksheet with the files that it reads from, as far as the host has them: so a published page needs none of
    /// them beside it. What is wrong with one is reported where it is read.
    pub fn carrying(mut self, host: &dyn Host) -> Self {
        for part in &self.parts {
            let Part::Fence(fence) = part else { continue };
            if block_word(&fence.info) != Some(BlockWord::Bench) {
                continue;
            }
            let behind = behind_word(&self.source, fence, BlockWord::Bench.text());
            for path in bench::paths(&self.source, behind, fence.content) {
                if self.files.iter().all(|file| *file.path != *path)
                    && let Ok(text) = host.read(&path)
                {
                    self.files.push(Carried { path: path.into(), text: text.into() });
                }
            }
        }
        self.using(host)
    }

    /// The worksheet with other texts in the place of some of its own. Edits that overlap one before them are left out.
    pub fn edited(&self, edits: &[Edit]) -> Self {
        let mut edits: Vec<&Edit> = edits.iter().collect();
        edits.sort_by_key(|edit| edit.span.start);
        let mut source = String::with_capacity(self.source.len() + 16 * edits.len());
        let mut made: Vec<&Edit> = Vec::with_capacity(edits.len());
        let mut done = 0;
        for edit in edits {
            let Some(between) = self.source.get(done..edit.span.start) else { continue };
            if edit.span.end < edit.span.start || !self.source.is_char_boundary(edit.span.end) {
                continue;
            }
            source.push_str(between);
            source.push_str(&edit.text);
            done = edit.span.end;
            made.push(edit);
        }
        source.push_str(&self.source[done..]);
        let moved = |place: usize| {
            let before = made.iter().take_while(|edit| edit.span.end <= place);
            before.fold(place, |place, edit| place + edit.text.len() - (edit.span.end - edit.span.start))
        };
        let span = |span: Span| Span::new(moved(span.start), moved(span.end));
        let parts = self.parts.iter().map(|part| match part {
            Part::Fence(fence) => {
                Part::Fence(Fence { span: span(fence.span), content: span(fence.content), info: fence.info.clone() })
            }
            Part::Inline(inline) => Part::Inline(Inline {
                span: span(inline.span),
                text_start: moved(inline.text_start),
                written: inline.written.clone(),
            }),
        });
        Self {
            parts: parts.collect(),
            source,
            metadata: self.metadata.clone(),
            body_start: moved(self.body_start),
            files: self.files.clone(),
            used: self.used.clone(),
        }
    }

    /// The parts and what of the metadata bears on numbers, as text that [`Worksheet::from_outline`] reads.
    pub fn outline(&self) -> String {
        let Metadata { samples, seed, digits, .. } = self.metadata;
        let mut text = format!("{samples}\t{seed}\t{digits}\t{}\n", self.body_start);
        for part in &self.parts {
            let _ = match part {
                Part::Fence(Fence { span, content, info }) => {
                    let (from, to) = (content.start, content.end);
                    writeln!(text, "fence\t{}\t{}\t{from}\t{to}\t{}", span.start, span.end, one_line(info))
                }
                Part::Inline(Inline { span, text_start, written }) => {
                    writeln!(text, "inline\t{}\t{}\t{text_start}\t{}", span.start, span.end, one_line(written))
                }
            };
        }
        for Carried { path, text: carried } in &self.files {
            let _ = writeln!(text, "file\t{}\t{}", escaped(path), escaped(carried));
        }
        for Used { path, title, worksheet } in &self.used {
            let fields = [path, title, worksheet.source.as_str(), &worksheet.outline()].map(escaped);
            let _ = writeln!(text, "used\t{}", fields.join("\t"));
        }
        text
    }

    /// A worksheet from its text and [`Worksheet::outline`] of it; nothing where the two do not go together.
    pub fn from_outline(source: String, outline: &str) -> Option<Self> {
        let mut lines = outline.lines();
        let mut head = lines.next()?.split('\t');
        let metadata = Metadata {
            samples: head.next()?.parse().ok()?,
            seed: head.next()?.parse().ok()?,
            digits: head.next()?.parse().ok()?,
            ..Metadata::default()
        };
        let body_start = head.next()?.parse().ok()?;
        let span = |start: &str, end: &str| {
            let (start, end) = (start.parse().ok()?, end.parse().ok()?);
            source.get(start..end).map(|_| Span::new(start, end))
        };
        let part = |fields: &[&str]| {
            Some(match *fields {
                ["fence", start, end, from, to, info] => {
                    Part::Fence(Fence { span: span(start, end)?, content: span(from, to)?, info: info.to_owned() })
                }
                ["inline", start, end, text_start, written] => Part::Inline(Inline {
                    span: span(start, end)?,
                    text_start: text_start.parse().ok()?,
                    written: written.to_owned(),
                }),
                _ => return None,
            })
        };
        let (mut parts, mut files, mut used) = (Vec::new(), Vec::new(), Vec::new());
        for line in lines {
            let fields: Vec<&str> = line.split('\t').collect();
            match *fields.as_slice() {
                ["file", path, text] => {
                    files.push(Carried { path: unescaped(path).into(), text: unescaped(text).into() });
                }
                ["used", path, title, text, outline] => {
                    let worksheet = Self::from_outline(unescaped(text), &unescaped(outline))?;
                    used.push(Used {
                        path: unescaped(path).into(),
                        title: unescaped(title).into(),
                        worksheet: worksheet.into(),
                    });
                }
                _ => parts.push(part(&fields)?),
            }
        }
        Some(Self { source, metadata, body_start, parts, files, used })
    }

    /// A worksheet of one `calc` block and nothing else.
    pub(crate) fn of_calculations(calculations: &str) -> Self {
        let source = format!("```calc\n{calculations}\n```\n");
        let content = Span::new("```calc\n".len(), source.len() - "```\n".len());
        let fence = Fence { span: Span::new(0, source.len() - 1), content, info: "calc".to_owned() };
        Self {
            metadata: Metadata::default(),
            body_start: 0,
            parts: vec![Part::Fence(fence)],
            files: Vec::new(),
            used: Vec::new(),
            source,
        }
    }
}

impl Part {
    /// The same in a text that has so many bytes more before it.
    pub(super) fn moved(&self, by: usize) -> Self {
        let span = |span: Span| Span::new(span.start + by, span.end + by);
        match self {
            Part::Fence(fence) => {
                Part::Fence(Fence { span: span(fence.span), content: span(fence.content), info: fence.info.clone() })
            }
            Part::Inline(inline) => Part::Inline(Inline {
                span: span(inline.span),
                text_start: inline.text_start + by,
                written: inline.written.clone(),
            }),
        }
    }

    /// Where it begins.
    #[cfg(feature = "markdown")]
    pub(super) fn start(&self) -> usize {
        match self {
            Part::Fence(fence) => fence.span.start,
            Part::Inline(inline) => inline.span.start,
        }
    }
}

/// A text without line ends and tabs, which [`unescaped`] gives back.
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "\\r").replace('\t', "\\t")
}

fn unescaped(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        plain.push(match c {
            '\\' => match chars.next() {
                Some('n') => '\n',
                Some('r') => '\r',
                Some('t') => '\t',
                Some(c) => c,
                None => break,
            },
            c => c,
        });
    }
    plain
}

fn one_line(text: &str) -> String {
    text.replace(['\t', '\n', '\r'], " ")
}

#[cfg(feature = "markdown")]
#[cfg(test)]
mod tests {
    use super::*;

    const SOURCE: &str = "+++\ndigits = 4\n+++\n# {a} is &amp; {a:2}\n\n```calc\na = 2 V # µ\nb = 3 V\n```\n\n\
        - text {b\n\n```warning when b > 1 V\nIt is {b}.\n```\n\n```exercise x\nhint \"then {b}\"\nask \"What {a}?\"\n\
        answer = b within 1 %\n```\n\n~~~rust\n{a}\n~~~\n";

    #[test]
    fn an_outline_says_all_that_the_markdown_was_read_for() {
        let worksheet = Worksheet::new(SOURCE).0;
        let again = Worksheet::from_outline(SOURCE.to_owned(), &worksheet.outline()).unwrap();
        assert_eq!(again, worksheet);
        assert_eq!(worksheet.parts.iter().filter(|part| matches!(part, Part::Inline(_))).count(), 6, "{worksheet:#?}");
        assert!(worksheet.parts.is_sorted_by_key(Part::start));
        for wrong in [
            "",
            "1\t2",
            "1\t1\t3\t0\nfence\t0\t99999\t0\t1\tcalc",
            "1\t1\t3\t0\nfence\t4\t3\t0\t1\tcalc",
            "1\t1\t3\t0\nx",
        ] {
            assert_eq!(Worksheet::from_outline(SOURCE.to_owned(), wrong), None, "{wrong}");
        }
    }

    #[test]
    fn an_edit_moves_what_stands_behind_it() {
        let worksheet = Worksheet::new(SOURCE).0;
        let edit = |old: &str, new: &str| {
            let start = SOURCE.find(old).unwrap();
            Edit { span: Span::new(start, start + old.len()), text: new.to_owned() }
        };
        let edits = [edit("3 V", "12.5 kV"), edit("2 V", "µV")];
        let edited = worksheet.edited(&edits);
        assert_eq!(edited.source, SOURCE.replace("2 V", "µV").replace("3 V", "12.5 kV"));
        assert_eq!(edited, Worksheet::new(&edited.source).0);
        let overlapping = [edit("2 V", "4 V"), edit("V # µ", "x")];
        assert_eq!(worksheet.edited(&overlapping).source, SOURCE.replace("2 V", "4 V"));
    }

    #[test]
    fn a_worksheet_of_calculations_alone_is_what_it_would_be_read_to() {
        let made = Worksheet::of_calculations("x = 5 Ω ± 1 %");
        assert_eq!(made, Worksheet::new(&made.source).0);
    }
}
