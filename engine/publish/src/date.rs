//! The date of evaluation that a page shows. It is today's date in UTC, or the moment in `SOURCE_DATE_EPOCH` where that
//! is set (the convention of reproducible-builds.org), so that the same worksheet can give the same bytes on any day.

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
}
