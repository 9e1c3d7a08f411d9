//! Markdown's tables and task lists: columns aligned by class, heads with a scope, wide tables in a box of their own that
//! scrolls; a task's state as a word, not as a control that does nothing.

use std::borrow::Cow;

use benchleaf_words::{Words, key};
use maud::{Markup, html};
use pulldown_cmark::{Alignment, Tag, TagEnd};

/// A table while it is read.
#[derive(Default)]
pub(crate) struct Table {
    alignments: Vec<Alignment>,
    column: usize,
    head: bool,
    in_cell: bool,
}

impl Table {
    pub(crate) fn start(&mut self, alignments: Vec<Alignment>) -> String {
        self.alignments = alignments;
        "<div class=\"scroll\"><table>".to_owned()
    }

    /// The opening of a head, a row or a cell.
    pub(crate) fn open(&mut self, tag: &Tag<'_>) -> String {
        match tag {
            Tag::TableHead => {
                (self.head, self.column) = (true, 0);
                "<thead><tr>".to_owned()
            }
            Tag::TableRow => {
                self.column = 0;
                "<tr>".to_owned()
            }
            _ => {
                self.in_cell = true;
                let class = match self.alignments.get(self.column) {
                    Some(Alignment::Right) => " class=\"right\"",
                    Some(Alignment::Center) => " class=\"centre\"",
                    _ => "",
                };
                self.column += 1;
                if self.head { format!("<th scope=\"col\"{class}>") } else { format!("<td{class}>") }
            }
        }
    }

    /// The closing of the same.
    pub(crate) fn close(&mut self, tag: TagEnd) -> &'static str {
        match tag {
            TagEnd::Table => "</tbody></table></div>\n",
            TagEnd::TableHead => {
                self.head = false;
                "</tr></thead><tbody>"
            }
            TagEnd::TableRow => "</tr>",
            _ => {
                self.in_cell = false;
                if self.head { "</th>" } else { "</td>" }
            }
        }
    }

    /// Text as it stands in a cell: a negative number has a true minus.
    pub(crate) fn cell_text<'t>(&self, text: &'t str) -> Cow<'t, str> {
        match text.strip_prefix('-') {
            Some(rest) if self.in_cell && rest.starts_with(|c: char| c.is_ascii_digit() || c == '.') => {
                Cow::Owned(format!("−{rest}"))
            }
            _ => Cow::Borrowed(text),
        }
    }
}

/// The box before a task.
pub(crate) fn task(words: Words<'_>, done: bool) -> Markup {
    html! {
        span.task role="img" aria-label=(words.text(if done { key::TASK_DONE } else { key::TASK_TO_DO })) { (if done { "☑" } else { "☐" }) } " "
    }
}
