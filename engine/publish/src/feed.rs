//! A site's feed: what is new on it, in Atom (RFC 4287). Dates are those in the worksheets' metadata, so the same worksheets
//! give the same feed on any day; a worksheet without one is not in it.

use benchleaf_words::Language;
use serde::Serialize;

use crate::{
    address::BaseUrl,
    date::instant,
    failure::Failure,
    kept::Kept,
    template::{FEED, fill},
};

/// The name of its file.
pub const FEED_NAME: &str = "feed.xml";

/// The feed of a site: its title, and its pages with their links from the front page. Nothing where no page has a date.
pub fn feed(
    title: &str,
    language: Language,
    pages: &[(&str, &Kept)],
    base: &BaseUrl,
) -> Result<Option<String>, Failure> {
    let mut entries: Vec<Entry> = pages.iter().filter_map(|(link, kept)| Entry::of(link, kept, base)).collect();
    entries.sort_by(|one, other| (&other.updated, &one.id).cmp(&(&one.updated, &other.id)));
    entries.truncate(MOST);
    let Some(latest) = entries.first() else { return Ok(None) };
    let updated = latest.updated.clone();
    let title = sound(title);
    fill(&FEED, &Feed { lang: language.code(), site: base.to(""), own: base.to(FEED_NAME), title, updated, entries })
        .map(Some)
}

#[derive(Serialize)]
struct Feed {
    lang: &'static str,
    site: String,
    own: String,
    title: String,
    updated: String,
    entries: Vec<Entry>,
}

#[derive(Serialize)]
struct Entry {
    id: String,
    title: String,
    summary: Option<String>,
    author: Option<String>,
    updated: String,
}

impl Entry {
    fn of(link: &str, kept: &Kept, base: &BaseUrl) -> Option<Self> {
        let updated = instant(kept.date.as_deref()?)?;
        let (summary, author) = (kept.summary.as_deref().map(sound), kept.author.as_deref().map(sound));
        Some(Self { id: base.to(link), title: sound(&kept.title), summary, author, updated })
    }
}

/// Text without the control characters that XML 1.0 does not know.
fn sound(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() && !('\u{fffe}'..='\u{ffff}').contains(c)).collect()
}

/// A feed says what is new; the site has the rest.
const MOST: usize = 50;
