//! The date of evaluation that a page shows. It is today's date in UTC, or the moment in `SOURCE_DATE_EPOCH` where that
//! is set (the convention of reproducible-builds.org), so that the same worksheet can give the same bytes on any day.
//! Days become a calendar date by Howard Hinnant's `civil_from_days` ("chrono-Compatible Low-Level Date Algorithms").

use std::{
    ffi::OsStr,
    fmt,
    time::{SystemTime, UNIX_EPOCH},
};

use crate::failure::Failure;

/// A date of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Date {
    /// Year.
    pub year: i64,
    /// Month, from 1.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
}

impl Date {
    /// The date of an evaluation: of `SOURCE_DATE_EPOCH` where the environment sets it, else today's.
    pub fn of_evaluation() -> Result<Self, Failure> {
        match std::env::var_os(SOURCE_DATE_EPOCH) {
            Some(value) => Self::of_source_date(&value),
            None => {
                // A clock before 1970 is a clock that was never set.
                let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
                Ok(Self::of_unix_seconds(since.as_secs()))
            }
        }
    }

    /// The date of a moment, in seconds since 1970-01-01 00:00 UTC.
    pub fn of_unix_seconds(seconds: u64) -> Self {
        let days = i64::try_from(seconds / SECONDS_A_DAY).unwrap_or(i64::MAX / 2);
        let since_march_0 = days + DAYS_TO_EPOCH;
        let era = since_march_0.div_euclid(DAYS_AN_ERA);
        let day_of_era = since_march_0.rem_euclid(DAYS_AN_ERA);
        let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let month_from_march = (5 * day_of_year + 2) / 153;
        let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
        let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
        let year = year_of_era + era * 400 + i64::from(month <= 2);
        Self { year, month: month as u8, day: day as u8 }
    }

    fn of_source_date(value: &OsStr) -> Result<Self, Failure> {
        let seconds = value.to_str().and_then(|text| text.parse().ok()).filter(|seconds| *seconds <= LAST_SECOND);
        seconds
            .map(Self::of_unix_seconds)
            .ok_or_else(|| Failure::SourceDate { value: value.to_string_lossy().into_owned() })
    }
}

/// As ISO 8601 writes it: `2026-02-28`.
impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

const SOURCE_DATE_EPOCH: &str = "SOURCE_DATE_EPOCH";
const SECONDS_A_DAY: u64 = 86_400;
/// Days in 400 years.
const DAYS_AN_ERA: i64 = 146_097;
/// Days from 0000-03-01 to 1970-01-01.
const DAYS_TO_EPOCH: i64 = 719_468;
/// The end of the year 9999, the last that ISO 8601 writes without agreement.
const LAST_SECOND: u64 = 253_402_300_799;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_moments_have_their_dates() {
        // Moments and dates as `date -u -d @SECONDS +%F` of the GNU core utilities gives them.
        for (seconds, date) in [
            (0, "1970-01-01"),
            (86_399, "1970-01-01"),
            (86_400, "1970-01-02"),
            (951_782_400, "2000-02-29"),
            (951_868_800, "2000-03-01"),
            (1_709_164_800, "2024-02-29"),
            (1_735_689_599, "2024-12-31"),
            (4_107_542_400, "2100-03-01"),
            (4_107_542_399, "2100-02-28"),
            (LAST_SECOND, "9999-12-31"),
        ] {
            assert_eq!(Date::of_unix_seconds(seconds).to_string(), date, "{seconds}");
        }
    }

    #[test]
    fn every_day_follows_the_one_before() {
        let mut last = Date::of_unix_seconds(0);
        for day in 1..150_000 {
            let date = Date::of_unix_seconds(day * SECONDS_A_DAY);
            let leap = last.year % 4 == 0 && (last.year % 100 != 0 || last.year % 400 == 0);
            let length = match last.month {
                2 => 28 + u8::from(leap),
                4 | 6 | 9 | 11 => 30,
                _ => 31,
            };
            let next = match (last.day < length, last.month < 12) {
                (true, _) => Date { day: last.day + 1, ..last },
                (false, true) => Date { month: last.month + 1, day: 1, ..last },
                (false, false) => Date { year: last.year + 1, month: 1, day: 1 },
            };
            assert_eq!(date, next);
            last = date;
        }
    }

    #[test]
    fn the_source_date_is_a_count_of_seconds() {
        assert_eq!(Date::of_source_date(OsStr::new("951782400")).unwrap().to_string(), "2000-02-29");
        for wrong in ["", "tomorrow", "-1", "1.5", "253402300800", "99999999999999999999"] {
            assert!(Date::of_source_date(OsStr::new(wrong)).is_err(), "{wrong}");
        }
    }

    #[test]
    fn no_moment_panics() {
        Date::of_unix_seconds(u64::MAX);
    }
}
