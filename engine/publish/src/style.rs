//! The stylesheet of all pages.

/// CSS: the page's, then what a live page adds.
pub const STYLE: &str = concat!(include_str!("../templates/style.css"), include_str!("../templates/live/style.css"));
