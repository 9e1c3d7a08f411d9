//! Where a reader of a page may go on: the pages before and after it, the site's front page and its search; and where the
//! page itself is published.

use serde::Serialize;

use crate::address::Address;

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
