//! A day of the calendar: of a reading, of an evaluation. Days are counted by Howard Hinnant's `days_from_civil`
//! and `civil_from_days` ("chrono-Compatible Low-Level Date Algorithms").

use std::fmt;

/// A day of the Gregorian calendar, from the year 0 to 9999.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    /// Year.
    pub year: u16,
    /// Month, from 1.
    pub month: u8,
    /// Day of the month, from 1.
    pub day: u8,
}

impl Day {
    /// A day as ISO 8601 writes it, `2026-11-25`; a time behind it (`T14:30`, or after a blank) is left aside.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (date, rest) = text.split_at_checked("2026-11-25".len())?;
        if !(rest.is_empty() || rest.starts_with('T') || rest.starts_with(' ')) {
            return None;
        }
        let mut fields = date.split('-');
        let mut field = |length: usize| {
            let field = fields.next().filter(|field| field.len() == length)?;
            field.bytes().all(|byte| byte.is_ascii_digit()).then(|| field.parse::<u16>().ok())?
        };
        let (year, month, day) = (field(4)?, field(2)? as u8, field(2)? as u8);
        let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let length = match month {
            2 => 28 + u8::from(leap),
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => return None,
        };
        (1..=length).contains(&day).then_some(Self { year, month, day })
    }

    /// Days since 1970-01-01; below 0 before it.
    pub fn number(self) -> i64 {
        let (month, day) = (i64::from(self.month), i64::from(self.day));
        let year = i64::from(self.year) - i64::from(month <= 2);
        let era = year.div_euclid(400);
        let year_of_era = year.rem_euclid(400);
        let month_from_march = (month + 9) % 12;
        let day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
        era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
    }

    /// The day of a moment, in seconds since 1970-01-01 00:00 UTC; the last day there is for any later moment.
    pub fn of_unix_seconds(seconds: u64) -> Self {
        let days = i64::try_from(seconds / 86_400).unwrap_or(i64::MAX).min(Self::LAST.number());
        let since_march_0 = days + 719_468;
        let era = since_march_0.div_euclid(146_097);
        let day_of_era = since_march_0.rem_euclid(146_097);
        let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
        let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let month_from_march = (5 * day_of_year + 2) / 153;
        let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
        let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
        let year = year_of_era + era * 400 + i64::from(month <= 2);
        Self { year: year as u16, month: month as u8, day: day as u8 }
    }

    /// The last day that ISO 8601 writes without agreement.
    pub const LAST: Self = Self { year: 9999, month: 12, day: 31 };

    /// `25 November 2026`.
    pub fn in_words(self) -> String {
        let month = MONTHS.get(usize::from(self.month).wrapping_sub(1)).copied().unwrap_or_default();
        format!("{} {month} {}", self.day, self.year)
    }
}

/// As ISO 8601 writes it.
impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_read_counted_and_written() {
        // Days since 1970 as `date -u -d DAY +%s` of the GNU core utilities gives them, divided by 86 400.
        for (text, number) in [
            ("1970-01-01", 0),
            ("1969-12-31", -1),
            ("2000-02-29", 11_016),
            ("2026-11-25", 20_782),
            ("2100-03-01", 47_541),
        ] {
            let day = Day::parse(text).unwrap();
            assert_eq!((day.number(), day.to_string().as_str()), (number, text));
        }
        assert_eq!(Day::parse(" 2026-11-25T14:30").unwrap().in_words(), "25 November 2026");
        assert_eq!(Day::parse("2026-11-25 14:30"), Day::parse("2026-11-25"));
        for wrong in [
            "",
            "2026-2-29",
            "2026-02-29",
            "2100-02-29",
            "2026-13-01",
            "2026-00-10",
            "2026-04-31",
            "25.11.2026",
            "2026-11-2é",
            "2026-11-25x",
            "2026-11-00",
        ] {
            assert_eq!(Day::parse(wrong), None, "{wrong}");
        }
    }

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
            (253_402_300_799, "9999-12-31"),
        ] {
            assert_eq!(Day::of_unix_seconds(seconds).to_string(), date, "{seconds}");
        }
    }

    #[test]
    fn every_day_follows_the_one_before() {
        let mut last = Day::of_unix_seconds(0);
        for day in 1..150_000 {
            let date = Day::of_unix_seconds(day * 86_400);
            let leap = last.year.is_multiple_of(4) && (!last.year.is_multiple_of(100) || last.year.is_multiple_of(400));
            let length = match last.month {
                2 => 28 + u8::from(leap),
                4 | 6 | 9 | 11 => 30,
                _ => 31,
            };
            let next = match (last.day < length, last.month < 12) {
                (true, _) => Day { day: last.day + 1, ..last },
                (false, true) => Day { month: last.month + 1, day: 1, ..last },
                (false, false) => Day { year: last.year + 1, month: 1, day: 1 },
            };
            assert_eq!(date, next);
            last = date;
        }
    }

    #[test]
    fn a_moment_beyond_the_calendar_is_its_last_day() {
        assert_eq!(Day::of_unix_seconds(u64::MAX), Day::LAST);
    }
}
