//! Where something stands in a worksheet. Spans are byte ranges of the source text; a [`LineIndex`] turns an offset
//! into the line and column that a reader counts.

use serde::Serialize;

/// A half-open byte range of the worksheet's text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// The range `start..end`.
    pub fn new(start: usize, end: usize) -> Self {
        Self { start, end }
    }

    /// The smallest span that covers both.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// Whether `other` lies wholly inside.
    pub fn contains(self, other: Self) -> bool {
        self.start <= other.start && other.end <= self.end
    }

    /// The text it covers; empty where the span does not fit the text.
    pub fn text(self, source: &str) -> &str {
        source.get(self.start..self.end).unwrap_or("")
    }
}

/// Something with the place it was read from.
#[derive(Clone, Debug, PartialEq)]
pub struct Spanned<T> {
    /// What was read.
    pub item: T,
    /// Where.
    pub span: Span,
}

/// A line and a column, both counted from 1; the column counts characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// The starts of all lines, for turning offsets into positions.
#[derive(Clone, Debug)]
pub struct LineIndex {
    starts: Vec<usize>,
}

impl LineIndex {
    /// Index the lines of a text.
    pub fn new(text: &str) -> Self {
        let mut starts = vec![0];
        starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        Self { starts }
    }

    /// The line (from 1) that holds a byte offset.
    pub fn line(&self, offset: usize) -> usize {
        self.starts.partition_point(|start| *start <= offset)
    }

    /// Line and column of a byte offset in the text that was indexed.
    pub fn position(&self, text: &str, offset: usize) -> Position {
        let line = self.line(offset);
        let start = self.starts.get(line - 1).copied().unwrap_or(0);
        let column = text.get(start..offset).map_or(0, |before| before.chars().count()) + 1;
        Position { line, column }
    }
}
