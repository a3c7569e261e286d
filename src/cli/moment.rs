//! Times as a person types them: a moment, or how long ago.

use std::time::Duration;

use chrono::{NaiveDate, NaiveTime, Timelike as _};

use crate::edge::Clock;
use crate::time::Utc;

const HOW: &str = "give a time such as 2026-06-14T02:09:55Z, 2026-06-14, 02:09 (UTC), or how long \
                   ago it was: 2h, 90min, 1d";

/// A time, or how far into a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// This moment.
    At(Utc),
    /// So long after the beginning.
    After(Duration),
}

/// The time by this computer's clock.
pub(super) fn host_time() -> Utc {
    Clock::start().now().utc
}

/// A moment: one that is named, or so long before now.
pub(super) fn moment(text: &str) -> Result<Utc, &'static str> {
    read(text, host_time()).ok_or(HOW)
}

/// A moment of a recording: one that is named in full, or so long after its beginning.
pub(super) fn when(text: &str) -> Result<When, &'static str> {
    const HOW: &str =
        "give a time such as 2026-06-14T02:09:55Z, or how far into the recording: 10min, 1h30min";
    let named = || dated(text).map(When::At);
    span(text).map(When::After).or_else(named).ok_or(HOW)
}

fn read(text: &str, now: Utc) -> Option<Utc> {
    if let Some(span) = span(text) {
        let ms = i64::try_from(span.as_millis()).ok()?;
        return Utc::from_unix_ms(now.unix_ms().checked_sub(ms)?);
    }
    dated(text).or_else(|| {
        // A time of day is the last one that it was.
        let time = clock(text)?;
        let today = on(now.date(), time)?;
        if today <= now { Some(today) } else { on(now.date().pred_opt()?, time) }
    })
}

/// RFC 3339, a day, or a day and a time of it in UTC.
fn dated(text: &str) -> Option<Utc> {
    let day = |text: &str| text.parse::<NaiveDate>().ok();
    Utc::parse_rfc3339(text).or_else(|| match text.split_once([' ', 'T']) {
        Some((date, time)) => on(day(date)?, clock(time)?),
        None => on(day(text)?, NaiveTime::MIN),
    })
}

fn clock(text: &str) -> Option<NaiveTime> {
    let text = text.strip_suffix(['Z', 'z']).unwrap_or(text);
    let read = |format| NaiveTime::parse_from_str(text, format).ok();
    read("%H:%M:%S").or_else(|| read("%H:%M"))
}

fn on(day: NaiveDate, time: NaiveTime) -> Option<Utc> {
    use chrono::Datelike as _;
    let ms = time.num_seconds_from_midnight().checked_mul(1000)?;
    Utc::from_date_and_ms(day.year(), day.month(), day.day(), ms)
}

/// `12min`, `90s`, `1h30min`, `2d`; an amount may be a fraction.
pub(super) fn span(text: &str) -> Option<Duration> {
    let (mut seconds, mut rest) = (0.0, text);
    while !rest.is_empty() {
        let (amount, after) = rest.split_at(rest.find(|c: char| c.is_ascii_alphabetic())?);
        let end = after.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(after.len());
        let (unit, after) = after.split_at(end);
        let factor = match unit {
            "d" => 86_400.0,
            "h" => 3600.0,
            "min" | "m" => 60.0,
            "s" => 1.0,
            _ => return None,
        };
        let amount: f64 = amount.parse().ok().filter(|it| (0.0..=1e9).contains(it))?;
        seconds += amount * factor;
        rest = after;
    }
    Duration::try_from_secs_f64(seconds).ok().filter(|_| !text.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_a_moment_or_how_long_ago() {
        let now = Utc::parse_rfc3339("2026-06-14T02:09:55Z").unwrap();
        for (text, told) in [
            ("2h", Some("2026-06-14T00:09:55.000Z")),
            ("90min", Some("2026-06-14T00:39:55.000Z")),
            ("1h30min", Some("2026-06-14T00:39:55.000Z")),
            ("1d", Some("2026-06-13T02:09:55.000Z")),
            ("02:09", Some("2026-06-14T02:09:00.000Z")),
            ("23:10:05Z", Some("2026-06-13T23:10:05.000Z")),
            ("2026-06-12", Some("2026-06-12T00:00:00.000Z")),
            ("2026-06-12 22:30", Some("2026-06-12T22:30:00.000Z")),
            ("2026-06-12T22:30:00+02:00", Some("2026-06-12T20:30:00.000Z")),
            ("yesterday", None),
            ("2", None),
            ("", None),
            ("-2h", None),
            ("9999999999999d", None),
            ("25:00", None),
            ("2026-02-30", None),
        ] {
            let read = read(text, now).map(|it| it.to_string());
            assert_eq!(read.as_deref(), told, "{text}");
        }
        assert_eq!(when("10min"), Ok(When::After(Duration::from_secs(600))));
        assert!(when("02:09").is_err(), "of which day?");
    }
}
