//! The order of a site's worksheets, and the pages before and after each of them. Worksheets that name an `order` in their
//! metadata come first, the least first; the others follow by their path.

use serde::Serialize;

use crate::site::INDEX;

/// Where a page's reader may go on.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Neighbours {
    /// The worksheet before.
    pub previous: Option<Link>,
    /// The site's list.
    pub contents: Option<Link>,
    /// The worksheet after.
    pub next: Option<Link>,
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
    pub const NONE: Self = Self { previous: None, contents: None, next: None };
}

/// What a worksheet is sorted by: `link` leads from the site's list to its page. The author's own front page comes first.
pub fn key(link: &str, order: Option<u32>) -> (bool, u32, &str) {
    (link != INDEX, order.unwrap_or(u32::MAX), link)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbered_worksheets_come_first_and_the_others_by_name() {
        let mut sheets = [("b.html", None), ("a.html", None), ("z.html", Some(1)), ("c.html", Some(0)), (INDEX, None)];
        sheets.sort_by(|one, other| key(one.0, one.1).cmp(&key(other.0, other.1)));
        assert_eq!(sheets.map(|sheet| sheet.0), [INDEX, "c.html", "z.html", "a.html", "b.html"]);
    }
}
