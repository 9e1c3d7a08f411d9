//! Sentences with names in them, said once for the page (symbols and links) and for a terminal (plain text).

use maud::{Markup, html};

use crate::{context::PageContext, labels, mathml, results::held_together};

/// A run of sentences.
#[derive(Default)]
pub(crate) struct Sentences(Vec<Words>);

enum Words {
    Text(String),
    /// A name.
    Symbol(String),
    /// A name that the page links to its place, with its label where it has one.
    Given(String, Option<String>),
}

impl Sentences {
    /// Adds plain words.
    pub(crate) fn say(&mut self, text: &str) {
        self.0.push(Words::Text(text.to_owned()));
    }

    /// Adds a name.
    pub(crate) fn symbol(&mut self, name: &str) {
        self.0.push(Words::Symbol(name.to_owned()));
    }

    /// Adds a value's label and name. A label may be a singular or a plural, with an article or without one: the words
    /// before it end in a colon, and no verb follows.
    pub(crate) fn given(&mut self, context: &PageContext<'_>, name: &str) {
        self.0.push(Words::Given(name.to_owned(), context.label(name).map(labels::inside)));
    }

    /// As the page sets them.
    pub(crate) fn markup(&self) -> Markup {
        html! {
            @for words in &self.0 {
                @match words {
                    Words::Text(text) => (held_together(text)),
                    Words::Symbol(name) => (mathml::symbol(name)),
                    Words::Given(name, Some(label)) => {
                        a href={ "#value-" (name) } { (label) } ", " (mathml::symbol(name))
                    },
                    Words::Given(name, None) => a href={ "#value-" (name) } { (mathml::symbol(name)) },
                }
            }
        }
    }

    /// As a terminal shows them: names in backticks, plain spaces.
    #[cfg(feature = "markdown")]
    pub(crate) fn plain(&self) -> String {
        let mut out = String::new();
        for words in &self.0 {
            match words {
                Words::Text(text) => out.push_str(text),
                Words::Symbol(name) | Words::Given(name, None) => out.extend(["`", name, "`"]),
                Words::Given(name, Some(label)) => out.extend([label, ", `", name, "`"]),
            }
        }
        out.replace(['\u{202f}', '\u{a0}'], " ")
    }
}
