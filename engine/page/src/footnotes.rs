//! Footnotes, gathered at the end in the order they are first referred to, each with a way back.

use benchleaf_words::{Words, key, say};
use maud::{Markup, html};
use pulldown_cmark::{CowStr, Event, html::push_html};

/// The footnotes of a page or of a part of it.
pub(crate) struct Footnotes<'s> {
    prefix: String,
    /// Names in the order of their first reference.
    order: Vec<String>,
    definitions: Vec<(String, Vec<Event<'s>>)>,
    /// The definition that is being read, and where it begins among the events.
    open: Option<(String, usize)>,
}

impl<'s> Footnotes<'s> {
    /// `prefix` keeps the ids of parts apart.
    pub(crate) fn new(prefix: String) -> Self {
        Self { prefix, order: Vec::new(), definitions: Vec::new(), open: None }
    }

    /// The raised number in the text.
    pub(crate) fn reference(&mut self, name: &str) -> Markup {
        let known = self.order.iter().position(|other| other == name);
        let number = known.unwrap_or_else(|| {
            self.order.push(name.to_owned());
            self.order.len() - 1
        }) + 1;
        let id = known.is_none().then(|| format!("ref-{}{number}", self.prefix));
        html! {
            sup.footnote { a id=[id] href={ "#note-" (self.prefix) (number) } role="doc-noteref" { (number) } }
        }
    }

    /// A definition begins: what follows is its text.
    pub(crate) fn begin(&mut self, name: CowStr<'s>, out: &mut [Event<'s>]) {
        self.open = Some((name.into_string(), out.len()));
    }

    /// A definition ends: its text is taken out of the page's.
    pub(crate) fn end(&mut self, out: &mut Vec<Event<'s>>) {
        if let Some((name, start)) = self.open.take() {
            self.definitions.push((name, out.split_off(start.min(out.len()))));
        }
    }

    /// The list at the end; empty where nothing was referred to. `placed` puts blocks in their places.
    pub(crate) fn finish(
        mut self,
        words: Words<'_>,
        mut placed: impl FnMut(Vec<Event<'s>>) -> Vec<Event<'s>>,
    ) -> String {
        let mut notes = Vec::new();
        for name in &self.order {
            let Some(at) = self.definitions.iter().position(|(defined, _)| defined == name) else { continue };
            let mut text = String::new();
            push_html(&mut text, placed(self.definitions.swap_remove(at).1).into_iter());
            notes.push(text);
        }
        if notes.is_empty() {
            return String::new();
        }
        let list = html! {
            section.footnotes role="doc-endnotes" aria-label=(words.text(key::FOOTNOTE_NOTES)) {
                ol {
                    @for (i, text) in notes.iter().enumerate() {
                        li id={ "note-" (self.prefix) (i + 1) } {
                            (maud::PreEscaped(text))
                            a.back href={ "#ref-" (self.prefix) (i + 1) } role="doc-backlink" aria-label=(say!(words, FOOTNOTE_BACK, n = i + 1)) { "↩" }
                        }
                    }
                }
            }
        };
        list.into_string()
    }
}
