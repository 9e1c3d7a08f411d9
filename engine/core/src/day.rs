//! A day of the calendar, as a bench log dates its readings. Days are counted by Howard Hinnant's `days_from_civil`
//! ("chrono-Compatible Low-Level Date Algorithms").

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
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
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
}
