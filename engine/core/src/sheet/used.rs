//! The worksheets that a worksheet uses values of. They travel with it, each once, by their paths from its folder. For the
//! check and the evaluation their texts stand behind its own in one text, so that a place is a place wherever it lies.

use std::{borrow::Cow, sync::Arc};

use super::{
    BlockWord, Sheet,
    read::{assemble, block_word},
    worksheet::{Part, Worksheet},
};
use crate::{
    host::Host,
    lang::ast::Definition,
    problem::{FilePlace, Problem},
    span::Span,
};

/// A worksheet that another one uses, directly or by way of others.
#[derive(Clone, Debug, PartialEq)]
pub struct Used {
    /// Its path from the folder of the one that uses it.
    pub path: Arc<str>,
    /// Its title; its path where it has none.
    pub title: Arc<str>,
    /// The worksheet.
    pub worksheet: Arc<Worksheet>,
}

/// Most worksheets that one worksheet uses, those included that they use themselves.
pub(crate) const MOST_USED: usize = 200;

impl Worksheet {
    /// The worksheet with those that it uses, as far as the host has them; what is wrong with one is reported where it is
    /// used.
    #[must_use]
    pub fn using(mut self, host: &dyn Host) -> Self {
        let mut wanted = paths(&self, "");
        while let Some(path) = wanted.pop() {
            if self.used.len() < MOST_USED
                && self.used.iter().all(|used| *used.path != *path)
                && let Some(used) = read(&path, host)
            {
                wanted.extend(paths(&used.worksheet, &path));
                self.used.push(used);
            }
        }
        self.used.sort_by(|a, b| a.path.cmp(&b.path));
        self
    }

    /// The same; a copy only where it uses any that it does not have yet.
    pub(crate) fn with_used(&self, host: &dyn Host) -> Cow<'_, Self> {
        if self.used.is_empty() && !paths(self, "").is_empty() {
            Cow::Owned(self.clone().using(host))
        } else {
            Cow::Borrowed(self)
        }
    }
}

#[cfg(feature = "markdown")]
fn read(path: &str, host: &dyn Host) -> Option<Used> {
    let (worksheet, _) = Worksheet::new(&host.used(path).ok()?);
    let title = super::outline::title(&worksheet).unwrap_or_else(|| path.to_owned());
    Some(Used { path: path.into(), title: title.into(), worksheet: worksheet.into() })
}

/// A published page carries what it uses.
#[cfg(not(feature = "markdown"))]
fn read(_: &str, _: &dyn Host) -> Option<Used> {
    None
}

/// The paths of the worksheets that one uses, which itself has this path. A line that begins as a `use` does counts, whether
/// or not the rest of it reads.
fn paths(worksheet: &Worksheet, own: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for part in &worksheet.parts {
        let Part::Fence(fence) = part else { continue };
        if block_word(&fence.info) != Some(BlockWord::Calc) {
            continue;
        }
        for line in fence.content.text(&worksheet.source).lines() {
            let quoted = || line.trim_start().strip_prefix("use")?.trim_start().strip_prefix('"')?.split('"').next();
            found.extend(quoted().and_then(|path| from_folder_of(own, path.trim())));
        }
    }
    found
}

/// The path of a worksheet that stands in another as `path`, where that one has the path `own`; nothing where it leads out
/// of that one's folder, or is not one of a worksheet.
pub(crate) fn from_folder_of(own: &str, path: &str) -> Option<String> {
    let is_plain = |part: &str| !part.is_empty() && !part.starts_with('.') && !part.contains(['\\', ':', '\0']);
    let ending = path.len().checked_sub(".md".len())?;
    let is_worksheet = path.get(ending..).is_some_and(|ending| ending.eq_ignore_ascii_case(".md"));
    let folder = own.rfind('/').map_or("", |slash| &own[..=slash]);
    (is_worksheet && path.split('/').all(is_plain)).then(|| format!("{folder}{path}"))
}

/// A worksheet's text with the texts behind it of those that it uses.
#[derive(Debug)]
pub(crate) struct Joined<'a> {
    pub(crate) text: Cow<'a, str>,
    /// The worksheets that it uses, in the order of their texts.
    pub(crate) files: Vec<JoinedFile>,
}

/// A used worksheet as read.
#[derive(Debug)]
pub(crate) struct JoinedFile {
    pub(crate) path: Arc<str>,
    /// Where its text stands in the joined one.
    pub(crate) span: Span,
    pub(crate) sheet: Sheet,
    /// What did not read.
    pub(crate) problems: Vec<Problem>,
}

impl<'a> Joined<'a> {
    /// The text of a worksheet with those of the worksheets that it carries.
    pub(crate) fn new(worksheet: &'a Worksheet) -> Self {
        let mut text = Cow::Borrowed(worksheet.source.as_str());
        let mut places = Vec::new();
        for used in &worksheet.used {
            let text = text.to_mut();
            // What stands at the very end of one is not in the next.
            text.push('\n');
            let start = text.len();
            text.push_str(&used.worksheet.source);
            places.push(Span::new(start, text.len()));
        }
        let file = |(used, span): (&super::Used, Span)| {
            let (sheet, problems) = assemble(&text, span.start, &used.worksheet);
            JoinedFile { path: Arc::clone(&used.path), span, sheet, problems }
        };
        let files = worksheet.used.iter().zip(places).map(file).collect();
        Self { text, files }
    }

    /// The definition of a given of one of the worksheets that are used.
    pub(crate) fn given(&self, file: &str, name: &str) -> Option<&Definition> {
        let file = self.files.iter().find(|known| *known.path == *file)?;
        file.sheet.givens().into_iter().find(|given| given.name.item == name)
    }

    /// A problem with its place, be it in the worksheet or in one of the others; `used_at` says which line of the worksheet
    /// brought each of these in.
    pub(crate) fn placed(&self, problem: Problem, used_at: &[Span]) -> Problem {
        let Some(file) = self.file_at(problem.span) else { return problem };
        let file = &self.files[file];
        let within = |at: usize| at.saturating_sub(file.span.start);
        let span = Span::new(within(problem.span.start), within(problem.span.end));
        let place = FilePlace::new(&file.path, file.span.text(&self.text), span);
        Problem { file: Some(place.into()), span: self.here(problem.span, used_at), ..problem }
    }

    /// A place in the worksheet, or the line of it that brought in the one that a place is in.
    pub(crate) fn here(&self, span: Span, used_at: &[Span]) -> Span {
        self.file_at(span).and_then(|file| used_at.get(file)).copied().unwrap_or(span)
    }

    /// The place of the used worksheet that a span is in.
    fn file_at(&self, span: Span) -> Option<usize> {
        let own = self.files.first().map_or(self.text.len(), |first| first.span.start - 1);
        let file = self.files.partition_point(|file| file.span.end < span.start);
        (span.start > own && file < self.files.len()).then_some(file)
    }
}
