//! The date of evaluation that a page shows. It is today's date in UTC, or the moment in `SOURCE_DATE_EPOCH` where that
//! is set (the convention of reproducible-builds.org), so that the same worksheet can give the same bytes on any day. And the date
//! of a worksheet as a moment, for a feed.

use std::{
    ffi::OsStr,
    time::{SystemTime, UNIX_EPOCH},
};

use benchleaf_core::Day;

use crate::failure::Failure;

/// The date of an evaluation: of `SOURCE_DATE_EPOCH` where the environment sets it, else today's.
pub fn of_evaluation() -> Result<Day, Failure> {
    match std::env::var_os(SOURCE_DATE_EPOCH) {
        Some(value) => of_source_date(&value),
        None => {
            // A clock before 1970 is a clock that was never set.
            let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
            Ok(Day::of_unix_seconds(since.as_secs()))
        }
    }
}

/// The date of evaluation where the environment sets it.
pub fn fixed() -> Option<Day> {
    std::env::var_os(SOURCE_DATE_EPOCH).and_then(|value| of_source_date(&value).ok())
}

/// Whether a worksheet with this date is in its site's feed.
pub fn is_dated(date: &str) -> bool {
    instant(date).is_some()
}

/// A date of TOML as a moment of RFC 3339 in UTC: a day begins at midnight. Nothing where the text is no date of the calendar,
/// or is a time of day somewhere else, which could not be put in order with the others.
pub(crate) fn instant(date: &str) -> Option<String> {
    let day = date.get(..10).filter(|day| Day::parse(day).is_some())?;
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

fn of_source_date(value: &OsStr) -> Result<Day, Failure> {
    let seconds = value.to_str().and_then(|text| text.parse().ok()).filter(|seconds| *seconds <= LAST_SECOND);
    seconds.map(Day::of_unix_seconds).ok_or_else(|| Failure::SourceDate { value: value.to_string_lossy().into_owned() })
}

const SOURCE_DATE_EPOCH: &str = "SOURCE_DATE_EPOCH";
/// The end of the year 9999, the last that ISO 8601 writes without agreement.
const LAST_SECOND: u64 = 253_402_300_799;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_source_date_is_a_count_of_seconds() {
        assert_eq!(of_source_date(OsStr::new("951782400")).unwrap().to_string(), "2000-02-29");
        for wrong in ["", "tomorrow", "-1", "1.5", "253402300800", "99999999999999999999"] {
            assert!(of_source_date(OsStr::new(wrong)).is_err(), "{wrong}");
        }
    }

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
