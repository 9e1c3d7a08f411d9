//! The list of a page's sections, each a link to its heading. On a wide screen it stands beside the text and goes along with
//! the reader, on a narrow one it is folded; paper has none.

use benchleaf_words::{Words, key};
use maud::{Markup, html};

/// A heading of the page.
pub(crate) struct Section {
    /// 2 for the uppermost, as in `h2`.
    pub(crate) depth: usize,
    /// Its anchor.
    pub(crate) id: String,
    /// Its words, with its inline results as they are set.
    pub(crate) text: String,
}

/// The list, of two levels; nothing where a page has few sections.
pub(crate) fn list(words: Words<'_>, sections: &[Section]) -> Markup {
    let listed = sections.iter().filter(|section| section.depth <= DEEPEST && !section.text.is_empty());
    let listed: Vec<&Section> = listed.collect();
    html! {
        @if listed.len() >= FEWEST {
            nav.sections aria-label=(words.text(key::SECTIONS_NAME)) {
                details {
                    summary { (words.text(key::SECTIONS_SUMMARY)) }
                    ol {
                        @for section in listed {
                            li class=[(section.depth > 2).then_some("inner")] { a href={ "#" (section.id) } { (section.text) } }
                        }
                    }
                }
            }
        }
    }
}

/// With fewer a list is of no help.
const FEWEST: usize = 3;
const DEEPEST: usize = 3;

#[cfg(test)]
mod tests {
    use benchleaf_core::Evaluator;

    use crate::{PageOptions, render};

    fn list(source: &str) -> String {
        render(&Evaluator::default().evaluate(source), source, &PageOptions::default()).sections
    }

    #[test]
    fn sections_and_their_parts_are_listed_with_their_numbers_and_the_title_is_not() {
        let source = "# Title\n\n## Two\n\n### At {V}\n\n#### Deep\n\n## A & B\n\n```calc\nV = 5 V\n```\n";
        let listed = list(source);
        for wanted in [r##"<li><a href="#two">Two</a>"##, "<li class=\"inner\"><a href=\"#at-v\">At 5\u{202f}V</a>"] {
            assert!(listed.contains(wanted), "{wanted}: {listed}");
        }
        assert!(!listed.contains("Title") && !listed.contains("Deep") && listed.contains("A &amp; B"), "{listed}");
    }

    #[test]
    fn a_short_page_has_no_list() {
        assert_eq!(list("# Title\n\n## One\n\n## Two\n"), "");
    }
}
