//! Where a reader of a page may go on: the pages before and after it, the site's front page and its search; and where the
//! page itself is published.

use benchleaf_core::sheet::metadata_of;
use serde::Serialize;

use crate::{address::Address, date::is_dated, sections::Section, site::heading};

/// Where a page's reader may go on.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Neighbours {
    /// The worksheet before.
    pub previous: Option<Link>,
    /// The site's list.
    pub contents: Option<Link>,
    /// The worksheet after.
    pub next: Option<Link>,
    /// The site's search.
    pub search: Option<Link>,
    /// The page's own address.
    pub address: Option<Address>,
}

/// A link with the title of the page that it leads to.
#[derive(Clone, Debug, Serialize)]
pub struct Link {
    /// Relative to the page that it stands on.
    pub href: String,
    /// Plain text.
    pub title: String,
}

impl Neighbours {
    /// Of a page that stands alone.
    pub const NONE: Self = Self { previous: None, contents: None, next: None, search: None, address: None };
}

/// What a worksheet's metadata say of it, before its page is made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Its place among the worksheets of its folder.
    pub order: Option<u32>,
    /// Its title, as plain text.
    pub title: String,
    /// Whether it has a date that a feed can have.
    pub dated: bool,
}

impl Head {
    /// Of a worksheet's text; `stem` is its title where it has no other.
    pub fn of(source: &str, stem: &str) -> Self {
        let metadata = metadata_of(source);
        let dated = metadata.date.as_deref().is_some_and(is_dated);
        let title = metadata.title.or_else(|| heading(source)).unwrap_or_else(|| stem.to_owned());
        Self { order: metadata.order, title, dated }
    }
}

/// The pages of a site as a reader goes through them, as indices.
pub fn reading_order(sections: &[Section]) -> Vec<usize> {
    sections.iter().flat_map(|section| section.pages.iter().copied()).collect()
}

/// The links to the pages before and after the one at this place of a reading order; `to` makes the link to a page.
pub fn before_and_after(
    order: &[usize],
    at: usize,
    to: &dyn Fn(usize) -> Option<Link>,
) -> (Option<Link>, Option<Link>) {
    let link = |at: Option<usize>| to(*order.get(at?)?);
    (link(at.checked_sub(1)), link(at.checked_add(1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_lies_between_the_one_before_and_the_one_after() {
        let to = |page: usize| Some(Link { href: page.to_string(), title: String::new() });
        let beside = |at| {
            let (before, after) = before_and_after(&[2, 0, 1], at, &to);
            [before, after].map(|link| link.map(|link| link.href))
        };
        let link = |page: &str| Some(page.to_owned());
        assert_eq!(beside(0), [None, link("0")]);
        assert_eq!(beside(1), [link("2"), link("1")]);
        assert_eq!(beside(2), [link("0"), None]);
    }

    #[test]
    fn a_worksheet_is_called_by_its_metadata_its_heading_or_its_file() {
        let title = |source| Head::of(source, "file").title;
        assert_eq!(title("+++\ntitle = \"T\"\n+++\n\n# H\n"), "T");
        assert_eq!(title("# H\n"), "H");
        assert_eq!(title("text\n"), "file");
        assert_eq!(Head::of("+++\norder = 3\ndate = 2026-11-27\n+++\n", "x").order, Some(3));
    }
}
