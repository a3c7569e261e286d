//! Dates as they stand on a label: a day, or a month.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike as _, Months, NaiveDate};
use serde::de::{self, Deserialize, Deserializer, Visitor};

/// A date from a label: `2029-05` or `2029-05-14`. A month ends with its last day.
///
/// ```
/// let expires: overside::config::DueDate = "2028-02".parse()?;
/// assert_eq!(expires.last_day().to_string(), "2028-02-29");
/// # Ok::<(), overside::config::NotADate>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct DueDate {
    last_day: NaiveDate,
    whole_month: bool,
}

/// A text that is no date of a label.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is no date: write \"YYYY-MM-DD\", or \"YYYY-MM\" for the end of a month")]
pub struct NotADate(pub String);

impl DueDate {
    /// The last day on which it holds.
    pub const fn last_day(self) -> NaiveDate {
        self.last_day
    }

    /// A date as it is read off a label by a person: as in the configuration, or the month before
    /// the year, as `05/2029` or `5.2029`.
    ///
    /// # Errors
    /// A text that is neither. Two figures of a year are none: `05/29` may be a day.
    pub fn of_label(text: &str) -> Result<Self, NotADate> {
        let turned = || {
            let (month, year) = text.split_once(['/', '.', '-', ' '])?;
            let month = digits(month, 1).or_else(|| digits(month, 2))?;
            read(&format!("{:04}-{month:02}", digits(year, 4)?))
        };
        let slashes = || read(&text.replace(['/', '.'], "-"));
        read(text).or_else(turned).or_else(slashes).ok_or_else(|| NotADate(text.to_owned()))
    }

    /// The last day on which it holds, said back: `to the end of May 2029`, `to 14 May 2029`.
    pub fn words(self) -> String {
        let form = if self.whole_month { "to the end of %B %Y" } else { "to %-d %B %Y" };
        self.last_day.format(form).to_string()
    }

    /// The last day of what holds for so many months from it: a month leads to the end of a month.
    /// `None` after the year 9999.
    pub fn months_after(self, months: u32) -> Option<NaiveDate> {
        let after = |day: NaiveDate, months| day.checked_add_months(Months::new(months));
        let day = match self.whole_month {
            true => after(self.last_day.with_day(1)?, months.checked_add(1)?)?.pred_opt()?,
            false => after(self.last_day, months)?,
        };
        (day.year() <= 9999).then_some(day)
    }
}

impl FromStr for DueDate {
    type Err = NotADate;

    fn from_str(text: &str) -> Result<Self, NotADate> {
        read(text).ok_or_else(|| NotADate(text.to_owned()))
    }
}

impl<'de> Deserialize<'de> for DueDate {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Label;

        impl Visitor<'_> for Label {
            type Value = DueDate;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                // TOML's own dates have no quotes, and no months.
                f.write_str("a date in quotes: \"YYYY-MM-DD\", or \"YYYY-MM\" for a whole month")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<DueDate, E> {
                text.parse().map_err(E::custom)
            }
        }

        deserializer.deserialize_str(Label)
    }
}

impl fmt::Display for DueDate {
    /// As it was written.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.last_day.format(if self.whole_month { "%Y-%m" } else { "%Y-%m-%d" }))
    }
}

fn read(text: &str) -> Option<DueDate> {
    let mut parts = text.split('-');
    let year = digits(parts.next()?, 4)?;
    let month = digits(parts.next()?, 2)?;
    let day = match parts.next() {
        Some(day) => Some(digits(day, 2)?),
        None => None,
    };
    if parts.next().is_some() {
        return None;
    }
    let first = NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day.unwrap_or(1))?;
    let last_day = match day {
        Some(_) => first,
        None => first.checked_add_months(Months::new(1))?.pred_opt()?,
    };
    Some(DueDate { last_day, whole_month: day.is_none() })
}

fn digits(text: &str, length: usize) -> Option<u32> {
    let plain = text.len() == length && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_ends_with_its_last_day() {
        for (text, last) in [
            ("2029-05", "2029-05-31"),
            ("2029-12", "2029-12-31"),
            ("2027-02", "2027-02-28"),
            ("2028-02", "2028-02-29"),
            ("2026-10-02", "2026-10-02"),
        ] {
            let date: DueDate = text.parse().unwrap();
            assert_eq!(date.last_day().to_string(), last);
            assert_eq!(date.to_string(), text);
        }
    }

    #[test]
    fn a_label_is_read_and_said_back() {
        for (text, read, said) in [
            ("2029-05", "2029-05", "to the end of May 2029"),
            ("05/2029", "2029-05", "to the end of May 2029"),
            ("5/2029", "2029-05", "to the end of May 2029"),
            ("12.2030", "2030-12", "to the end of December 2030"),
            ("05 2029", "2029-05", "to the end of May 2029"),
            ("2029/05", "2029-05", "to the end of May 2029"),
            ("2029-05-14", "2029-05-14", "to 14 May 2029"),
        ] {
            let date = DueDate::of_label(text).unwrap();
            assert_eq!((date.to_string().as_str(), date.words().as_str()), (read, said), "{text}");
        }
        for text in
            ["", "05/29", "13/2029", "0/2029", "05/06/2029", "2029", "14/05/2029", "May 2029"]
        {
            assert!(DueDate::of_label(text).is_err(), "{text}");
        }
    }

    #[test]
    fn months_are_added_by_the_calendar() {
        for (text, months, last) in [
            ("2027-02", 12, Some("2028-02-29")),
            ("2028-02", 12, Some("2029-02-28")),
            ("2028-02-29", 12, Some("2029-02-28")),
            ("2026-08-31", 6, Some("2027-02-28")),
            ("2026-12", 12, Some("2027-12-31")),
            ("9999-01", 12, None),
            ("2026-01", u32::MAX, None),
        ] {
            let date: DueDate = text.parse().unwrap();
            let found = date.months_after(months).map(|day| day.to_string());
            assert_eq!(found.as_deref(), last, "{text} + {months}");
        }
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for text in [
            "",
            "2029",
            "2029-13",
            "2029-00",
            "2027-02-29",
            "29-05",
            "2029-5",
            "2029-05-1",
            "05/2029",
            "2029-05-14-1",
            "2029-05-",
            "+029-05",
            "2029-05-14T00:00",
        ] {
            assert_eq!(text.parse::<DueDate>(), Err(NotADate(text.to_owned())), "{text}");
        }
    }
}
