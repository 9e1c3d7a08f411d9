//! A site's feed: what is new on it, in Atom (RFC 4287). Dates are those in the worksheets' metadata, so the same worksheets
//! give the same feed on any day; a worksheet without one is not in it.

use benchleaf_words::Language;
use serde::Serialize;

use crate::{
    address::BaseUrl,
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

/// Whether a worksheet with this date is in its site's feed.
pub fn is_dated(date: &str) -> bool {
    instant(date).is_some()
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

/// A date of TOML as a moment of RFC 3339 in UTC: a day begins at midnight. Nothing where the text is no date of the calendar,
/// or is a time of day somewhere else, which could not be put in order with the others.
fn instant(date: &str) -> Option<String> {
    let day = date.get(..10)?;
    let mut parts =
        day.split('-').map(|part| part.parse::<u32>().ok().filter(|_| part.bytes().all(|b| b.is_ascii_digit())));
    let (year, month, of_month) = (parts.next()??, parts.next()??, parts.next()??);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = [31, if leap { 29 } else { 28 }, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let last = *days.get((month as usize).checked_sub(1)?)?;
    if !(1..=last).contains(&of_month) || parts.next().is_some() || day.as_bytes().get(4) != Some(&b'-') {
        return None;
    }
    let time = match date.get(10..)? {
        "" => "00:00:00".to_owned(),
        time => {
            let time = time.strip_prefix(['T', 't', ' '])?.trim_end_matches(['Z', 'z']).get(..8)?;
            let clock = |range: std::ops::Range<usize>, most: u32| {
                time.get(range)?.parse::<u32>().ok().filter(|part| *part <= most)
            };
            let reads = clock(0..2, 23).and(clock(3..5, 59)).and(clock(6..8, 59)).is_some();
            (reads && date.ends_with(['Z', 'z'])).then(|| time.to_owned())?
        }
    };
    Some(format!("{day}T{time}Z"))
}

/// Text without the control characters that XML 1.0 does not know.
fn sound(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() && !('\u{fffe}'..='\u{ffff}').contains(c)).collect()
}

/// A feed says what is new; the site has the rest.
const MOST: usize = 50;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_days_of_the_calendar_or_moments_in_utc() {
        for (date, wanted) in [
            ("2026-11-25", Some("2026-11-25T00:00:00Z")),
            ("2024-02-29", Some("2024-02-29T00:00:00Z")),
            ("2026-11-25T10:20:30Z", Some("2026-11-25T10:20:30Z")),
            ("2026-02-29", None),
            ("2026-13-01", None),
            ("2026-1-01", None),
            ("last week", None),
            ("2026-11-25T10:20:30", None),
            ("2026-11-25T10:20:30+02:00", None),
            ("2026-11-25x", None),
            ("ääääääääää", None),
        ] {
            assert_eq!(instant(date).as_deref(), wanted, "{date}");
        }
    }
}
