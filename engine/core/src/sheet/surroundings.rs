//! What a worksheet shows or links to that is not in it: pictures, other worksheets, headings. Its author is warned of what is
//! missing; a page is made all the same. Paths are read as links are: `my%20photo.jpg` is `my photo.jpg`.

use std::{borrow::Cow, collections::HashSet, ops::Range};

use benchleaf_words::{Phrase, Word, key, phrase};

use percent_encoding::percent_decode_str;
use pulldown_cmark::{Event, LinkType, Tag, TagEnd};

use super::{
    BlockBody, Metadata, Sheet, Worksheet,
    headings::{Headings, is_reserved},
    outline::markdown,
};
use crate::{
    host::{FileFault, Host},
    problem::{Code, Problem},
    span::Span,
    suggest::nearest,
};

/// What is wrong with the pictures and links of a worksheet. `host` looks files up; of what it cannot know nothing is said.
pub fn problems(worksheet: &Worksheet, sheet: &Sheet, host: &dyn Host) -> Vec<Problem> {
    let mut look = Look { worksheet, host, anchors: None, problems: Vec::new() };
    for part in prose(worksheet, sheet) {
        look.over(part);
    }
    for block in &sheet.blocks {
        let BlockBody::Steps(steps) = &block.body else { continue };
        steps.pictures().for_each(|picture| look.picture(&picture.file.span, &picture.file.item, true));
    }
    look.problems
}

/// A path of a picture or a link as a path of files, relative to the worksheet, and what follows its `#`; nothing where it
/// leads elsewhere: to the network, to a mailbox, into the page itself as data.
pub fn file_of(url: &str) -> Option<(Cow<'_, str>, Option<&str>)> {
    let (path, fragment) = match url.split_once('#') {
        Some((path, fragment)) => (path, Some(fragment)),
        None => (url, None),
    };
    let path = path.split('?').next().unwrap_or(path);
    let first = path.split('/').next().unwrap_or(path);
    if first.contains(':') || path.starts_with("//") {
        return None;
    }
    Some((percent_decode_str(path).decode_utf8().ok()?, fragment))
}

/// Whether a path stays in the folder that it begins in, whatever system reads it.
pub fn stays_inside(path: &str) -> bool {
    let parts = path.split(['/', '\\']);
    !path.starts_with(['/', '\\']) && !path.contains([':', '\0']) && parts.clone().all(|part| part != "..")
}

/// The anchors of a text's headings, in reading order.
pub fn anchors(source: &str, within: Span, metadata: &Metadata) -> Vec<String> {
    let mut headings = Headings::default();
    let mut anchors = Vec::new();
    let mut open = None;
    for (event, _) in markdown(source, within) {
        match event {
            Event::Start(Tag::Heading { level, .. }) => open = Some((level, String::new())),
            Event::Text(piece) | Event::Code(piece) => {
                if let Some((_, text)) = &mut open {
                    text.push_str(&piece);
                }
            }
            Event::End(TagEnd::Heading(_)) => {
                let Some((level, text)) = open.take() else { continue };
                if headings.is_title(level, &text, metadata.title.as_deref()) {
                    headings.title();
                } else {
                    anchors.push(headings.next(level, &text).1);
                }
            }
            _ => {}
        }
    }
    anchors
}

/// The parts of a worksheet that are Markdown: all but the fences, and what stands in notes, exercises and steps.
fn prose(worksheet: &Worksheet, sheet: &Sheet) -> Vec<Span> {
    let mut parts = vec![Span::new(worksheet.body_start, worksheet.source.len())];
    for block in &sheet.blocks {
        match &block.body {
            BlockBody::Note(_) => parts.push(block.content),
            BlockBody::Exercise(exercise) => parts.extend(exercise.ask.iter().chain(&exercise.hints)),
            BlockBody::Steps(steps) => parts.extend(steps.texts()),
            _ => {}
        }
    }
    parts
}

struct Look<'a> {
    worksheet: &'a Worksheet,
    host: &'a dyn Host,
    /// The worksheet's own anchors, once they are wanted.
    anchors: Option<Vec<String>>,
    problems: Vec<Problem>,
}

impl Look<'_> {
    fn over(&mut self, part: Span) {
        let worksheet = self.worksheet;
        // Images that are open: where each is from, its path, and whether it has a word.
        let mut images: Vec<(Range<usize>, String, bool)> = Vec::new();
        for (event, range) in markdown(&worksheet.source, part) {
            match event {
                Event::Start(Tag::Image { dest_url, .. }) => images.push((range, dest_url.into_string(), false)),
                Event::Text(text) | Event::Code(text) if !text.trim().is_empty() => {
                    images.iter_mut().for_each(|image| image.2 = true);
                }
                Event::End(TagEnd::Image) => {
                    if let Some((range, url, described)) = images.pop() {
                        self.picture(&Span::new(range.start, range.end), &url, described);
                    }
                }
                Event::Start(Tag::Link { link_type, dest_url, .. }) if link_type != LinkType::Email => {
                    self.link(Span::new(range.start, range.end), &dest_url);
                }
                _ => {}
            }
        }
    }

    fn picture(&mut self, span: &Span, url: &str, described: bool) {
        let mut warn = |message: Phrase, help: Phrase| {
            self.problems.push(Problem::new(Code::Picture, *span, message).help(help));
        };
        if !described {
            warn(
                phrase!(SHEET_SURROUNDINGS_THE_PICTURE_HAS_NO_ALTERNATIVE, url = url),
                phrase!(SHEET_SURROUNDINGS_SAY_BETWEEN_THE_SQUARE_BRACKETS),
            );
        }
        if url.starts_with("data:") {
            return;
        }
        let Some((path, _)) = file_of(url) else {
            warn(
                phrase!(SHEET_SURROUNDINGS_THE_PICTURE_IS_NOT_SHOWN, url = url),
                phrase!(SHEET_SURROUNDINGS_PUT_THE_FILE_BESIDE),
            );
            return;
        };
        let found = if stays_inside(&path) { self.host.picture(&path).map(drop) } else { Err(FileFault::Outside) };
        match found {
            Ok(()) | Err(FileFault::NoFiles) => {}
            Err(FileFault::Missing) => warn(
                phrase!(SHEET_SURROUNDINGS_THE_PICTURE_IS_NOT_SHOWN_2, path = path),
                phrase!(SHEET_SURROUNDINGS_PUT_IT_INTO_THE_WORKSHEETS),
            ),
            Err(FileFault::Outside) => warn(
                phrase!(SHEET_SURROUNDINGS_THE_PICTURE_IS_NOT_SHOWN_3, path = path),
                phrase!(SHEET_SURROUNDINGS_PUT_A_COPY_INTO),
            ),
            Err(FileFault::Unusable(why)) => {
                warn(phrase!(SHEET_SURROUNDINGS_THE_PICTURE_IS_NOT_SHOWN_4, path = path, why = why), PICTURES.into());
            }
        }
    }

    fn link(&mut self, span: Span, url: &str) {
        let Some((path, fragment)) = file_of(url) else { return };
        let is_worksheet = path.rsplit_once('.').is_some_and(|(_, ending)| ending.eq_ignore_ascii_case("md"));
        let of_other = match (path.is_empty(), is_worksheet) {
            (true, _) => None,
            (false, false) => {
                return match self.host.file(&path) {
                    Ok(()) | Err(FileFault::NoFiles) => {}
                    Err(fault) => self.leads_nowhere(span, &path, &fault, FILE),
                };
            }
            (false, true) => match self.host.linked(&path) {
                Ok(text) => Some(text),
                Err(FileFault::NoFiles) => return,
                Err(fault) => return self.leads_nowhere(span, &path, &fault, WORKSHEET),
            },
        };
        let Some(fragment) = fragment.filter(|fragment| !fragment.is_empty() && !is_reserved(fragment)) else { return };
        let Ok(fragment) = percent_decode_str(fragment).decode_utf8() else { return };
        let found = match &of_other {
            Some(text) => {
                let (other, _) = Worksheet::new(text);
                anchors(text, Span::new(other.body_start, text.len()), &other.metadata)
            }
            None => self.own_anchors().to_vec(),
        };
        let known: HashSet<&str> = found.iter().map(String::as_str).collect();
        if !known.contains(&*fragment) {
            let place = if of_other.is_some() {
                format!("`{path}`").into()
            } else {
                phrase!(SHEET_SURROUNDINGS_THIS_WORKSHEET)
            };
            let message = phrase!(SHEET_SURROUNDINGS_THE_LINK_LEADS, fragment = fragment, place = place);
            let help = match (nearest(&fragment, found.iter().map(String::as_str)), found.as_slice()) {
                (Some(near), _) => phrase!(SHEET_SURROUNDINGS_DID_YOU_MEAN, near = near),
                (None, []) => phrase!(SHEET_SURROUNDINGS_HAS_NO_HEADING_BUT, place = place),
                (None, [first, ..]) => {
                    phrase!(SHEET_SURROUNDINGS_A_HEADING_IS_LINKED, first = first)
                }
            };
            self.problems.push(Problem::new(Code::Link, span, message).help(help));
        }
    }

    fn leads_nowhere(&mut self, span: Span, path: &str, fault: &FileFault, [missing, unusable]: [Word<0>; 2]) {
        let help = if matches!(fault, FileFault::Missing) { missing } else { unusable };
        let message = phrase!(SHEET_SURROUNDINGS_THE_LINK_LEADS_TO_BUT, path = path, fault = fault.phrase());
        self.problems.push(Problem::new(Code::Link, span, message).help(help));
    }

    fn own_anchors(&mut self) -> &[String] {
        let Worksheet { source, metadata, body_start, .. } = self.worksheet;
        self.anchors.get_or_insert_with(|| anchors(source, Span::new(*body_start, source.len()), metadata))
    }
}

/// What to do about a link to a worksheet: where there is none, and where it is of no use.
const WORKSHEET: [Word<0>; 2] =
    [key::SHEET_SURROUNDINGS_CORRECT_THE_PATH_WHICH_BEGINS, key::SHEET_SURROUNDINGS_RENDER_THAT_WORKSHEET];
/// The same for a link to another file.
const FILE: [Word<0>; 2] =
    [key::SHEET_SURROUNDINGS_CORRECT_THE_PATH_WHICH_BEGINS_AT_THIS, key::SHEET_SURROUNDINGS_COPY_THE_FILE];
const PICTURES: Word<0> = key::SHEET_SURROUNDINGS_SAVE_IT_AS_PNG_JPEG;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_read_as_links_are_and_stay_inside() {
        for (url, wanted) in [
            ("a%20b.png", Some(("a b.png", None))),
            ("x.md#top", Some(("x.md", Some("top")))),
            ("#top", Some(("", Some("top")))),
            ("x/y:z.png", Some(("x/y:z.png", None))),
            ("https://example.org/x.png", None),
            ("//example.org/x.png", None),
            ("C:/x.png", None),
        ] {
            let found = file_of(url);
            assert_eq!(found.as_ref().map(|(path, fragment)| (&**path, *fragment)), wanted, "{url}");
        }
        for outside in ["../x.png", "a/../../x.png", "/x.png", "\\x.png", "a\\..\\x", "C:x.png", "a\0b"] {
            assert!(!stays_inside(outside), "{outside}");
        }
        assert!(stays_inside("a/b..c.png") && stays_inside("./x.png"));
    }

    #[test]
    fn anchors_do_not_change_with_numbers() {
        let source = "# Title\n\n## It takes {t_on:ms}\n\n## Same\n\n## Same\n";
        let anchors = anchors(source, Span::new(0, source.len()), &Metadata::default());
        assert_eq!(anchors, ["it-takes-t-on-ms", "same", "same-2"]);
    }
}
