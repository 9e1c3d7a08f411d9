//! Headings: levels that go down one at a time, and anchors that stay the same as long as their text does.

use std::collections::HashSet;

use pulldown_cmark::HeadingLevel;

/// The headings met so far.
#[derive(Default)]
pub struct Headings {
    anchors: HashSet<String>,
    depth: usize,
    titled: bool,
}

impl Headings {
    /// Whether none has been met.
    pub fn is_first(&self) -> bool {
        self.depth == 0 && !self.titled
    }

    /// Whether this heading, by its text, becomes the page's title: the first one, where it is of the first level and the
    /// metadata have no title that says something else.
    pub fn is_title(&self, written: HeadingLevel, text: &str, title: Option<&str>) -> bool {
        self.is_first() && written == HeadingLevel::H1 && title.is_none_or(|title| super::is_title(text, title))
    }

    /// The first one became the page's title.
    pub fn title(&mut self) {
        self.titled = true;
    }

    /// The depth and the anchor of the next heading. The page's title alone is of the first level. In `text` inline results
    /// stand as they are written, so that an anchor does not change with a number.
    pub fn next(&mut self, written: HeadingLevel, text: &str) -> (usize, String) {
        let wanted = (written as usize).max(2);
        self.depth = wanted.min(self.depth.max(1) + 1);
        (self.depth, self.anchor(text))
    }

    fn anchor(&mut self, text: &str) -> String {
        let mut slug = String::new();
        for c in text.chars().flat_map(char::to_lowercase) {
            if c.is_alphanumeric() {
                slug.push(c);
            } else if !slug.is_empty() && !slug.ends_with('-') {
                slug.push('-');
            }
        }
        let slug = slug.trim_end_matches('-');
        let stem = if slug.is_empty()
            || RESERVED.iter().any(|taken| slug == *taken || slug.starts_with(&format!("{taken}-")))
        {
            format!("section-{slug}").trim_end_matches('-').to_owned()
        } else {
            slug.to_owned()
        };
        let mut anchor = stem.clone();
        let mut count = 1;
        while !self.anchors.insert(anchor.clone()) {
            count += 1;
            anchor = format!("{stem}-{count}");
        }
        anchor
    }
}

/// A heading level by its depth.
pub fn level(depth: usize) -> HeadingLevel {
    match depth {
        0 | 1 => HeadingLevel::H1,
        2 => HeadingLevel::H2,
        3 => HeadingLevel::H3,
        4 => HeadingLevel::H4,
        5 => HeadingLevel::H5,
        _ => HeadingLevel::H6,
    }
}

/// Whether an anchor belongs to another part of the page than a heading: a value, a requirement, a note.
pub(super) fn is_reserved(anchor: &str) -> bool {
    RESERVED.iter().any(|word| {
        anchor.strip_prefix(word).is_some_and(|rest| rest.is_empty() || rest.starts_with('-')) && *word != "section"
    })
}

/// First words of the ids that other parts of the page use.
const RESERVED: &[&str] = &["value", "keep", "problem", "note", "ref", "plot", "main", "foot", "contents", "section"];
