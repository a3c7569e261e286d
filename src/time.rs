//! The times of the program, kept apart: [`Mono`] counts arrival and drives every timer and age;
//! [`Utc`] labels. Nothing here reads a clock.

use std::fmt;
use std::ops::Add;
use std::time::Duration;

use chrono::{DateTime, NaiveDate, SecondsFormat};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A moment of arrival: microseconds since the watch began. Never goes back. Serialised in seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mono(u64);

impl Mono {
    /// The moment the watch began.
    pub const START: Self = Self(0);

    /// The last moment that can be told, some 580 000 years on.
    pub const END: Self = Self(u64::MAX);

    /// The moment this many microseconds after the start.
    pub const fn from_micros(micros: u64) -> Self {
        Self(micros)
    }

    /// Microseconds since the start.
    pub const fn micros(self) -> u64 {
        self.0
    }

    /// How long ago `earlier` was, zero if it lies ahead.
    pub const fn since(self, earlier: Self) -> Duration {
        Duration::from_micros(self.0.saturating_sub(earlier.0))
    }
}

impl Add<Duration> for Mono {
    type Output = Self;

    /// Saturates at [`Self::END`].
    fn add(self, span: Duration) -> Self {
        Self(self.0.saturating_add(u64::try_from(span.as_micros()).unwrap_or(u64::MAX)))
    }
}

impl Serialize for Mono {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.since(Self::START).as_secs_f64())
    }
}

/// An age in whole units of so many seconds, rounded up: it never looks younger than it is.
pub fn rounded_up(age: Duration, unit_s: u64) -> u64 {
    let units = age.as_micros().div_ceil(u128::from(unit_s) * 1_000_000);
    u64::try_from(units).unwrap_or(u64::MAX)
}

/// Serialises a span, or one that may not be known, as seconds or null.
///
/// # Errors
/// That of the serialiser.
pub fn seconds<S: Serializer>(
    span: &(impl Copy + Into<Option<Duration>>),
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let span: Option<Duration> = (*span).into();
    span.map(|span| span.as_secs_f64()).serialize(serializer)
}

/// A moment in UTC: milliseconds since 1970-01-01T00:00:00Z, years 1 to 9999.
///
/// Printed and serialised after RFC 3339 with milliseconds: `2026-06-14T02:09:55.000Z`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Utc(i64);

impl Utc {
    /// 1970-01-01T00:00:00Z.
    pub const EPOCH: Self = Self(0);
    /// The first and last millisecond that RFC 3339 can print.
    const RANGE: std::ops::RangeInclusive<i64> = -62_135_596_800_000..=253_402_300_799_999;

    /// The moment this many milliseconds after 1970, or `None` outside years 1 to 9999.
    pub fn from_unix_ms(ms: i64) -> Option<Self> {
        Self::RANGE.contains(&ms).then_some(Self(ms))
    }

    /// Milliseconds since 1970.
    pub const fn unix_ms(self) -> i64 {
        self.0
    }

    /// The moment of a date and a time of day in milliseconds, or `None` if there is no such day.
    /// 86 400 000 and a little more are taken: a leap second has a place.
    pub fn from_date_and_ms(year: i32, month: u32, day: u32, ms_of_day: u32) -> Option<Self> {
        let midnight = NaiveDate::from_ymd_opt(year, month, day)?.and_hms_opt(0, 0, 0)?;
        Self::from_unix_ms(midnight.and_utc().timestamp_millis() + i64::from(ms_of_day))
    }

    /// Reads RFC 3339, with any offset, also with a space for the T.
    pub fn parse_rfc3339(text: &str) -> Option<Self> {
        Self::from_unix_ms(DateTime::parse_from_rfc3339(text).ok()?.timestamp_millis())
    }

    /// This moment plus a span, held at the last printable one.
    pub fn plus(self, span: Duration) -> Self {
        let ms = i64::try_from(span.as_millis()).unwrap_or(i64::MAX);
        Self(self.0.saturating_add(ms).min(*Self::RANGE.end()))
    }

    /// Milliseconds from `earlier` to this moment, negative if `earlier` is later.
    pub const fn ms_since(self, earlier: Self) -> i64 {
        self.0 - earlier.0
    }

    /// The day it falls on.
    pub fn date(self) -> NaiveDate {
        self.chrono().date_naive()
    }

    /// Hours, minutes and seconds alone: `02:09:55Z`.
    pub fn clock(self) -> String {
        self.chrono().format("%H:%M:%SZ").to_string()
    }

    fn chrono(self) -> DateTime<chrono::Utc> {
        // The range was checked when the value was made.
        DateTime::from_timestamp_millis(self.0).unwrap_or_default()
    }
}

impl fmt::Display for Utc {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.chrono().to_rfc3339_opts(SecondsFormat::Millis, true))
    }
}

impl Serialize for Utc {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Utc {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse_rfc3339(&text).ok_or_else(|| de::Error::custom("not a time after RFC 3339"))
    }
}

/// The moment something came in: when by our own count, and what UTC that was held to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Stamp {
    /// Arrival, monotonic: drives timers and ages.
    #[serde(rename = "at_s")]
    pub at: Mono,
    /// The label on everything this arrival causes.
    pub utc: Utc,
}

impl Stamp {
    /// The stamp of a later moment, if both times went on evenly.
    pub fn at(self, later: Mono) -> Self {
        Self { at: later, utc: self.utc.plus(later.since(self.at)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn utc_prints_and_reads_rfc_3339_with_milliseconds() {
        let utc = Utc::from_unix_ms(1_425_327_424_060).unwrap();
        assert_eq!(utc.to_string(), "2015-03-02T20:17:04.060Z");
        assert_eq!(Utc::parse_rfc3339("2015-03-02T21:17:04.060+01:00"), Some(utc));
        assert_eq!(Utc::from_unix_ms(i64::MAX), None);
    }

    #[test]
    fn a_moment_never_lies_before_an_earlier_one() {
        let early = Mono::from_micros(10);
        assert_eq!(early.since(Mono::from_micros(20)), Duration::ZERO);
        assert_eq!(early + Duration::MAX, Mono::from_micros(u64::MAX));
    }
}
