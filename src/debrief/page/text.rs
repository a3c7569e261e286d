//! Text for the page: dates and numbers.

pub(super) use crate::debrief::approach::metres_off;
use crate::time::Utc;

/// The day as people write it: `14 June 2026`.
pub(super) fn day(at: Utc) -> String {
    at.date().format("%-d %B %Y").to_string()
}

/// Hours and minutes: `14:05`.
pub(super) fn hour_minute(at: Utc) -> String {
    at.clock().chars().take(5).collect()
}

/// Three figures and a degree sign.
pub(super) fn degrees(degrees: f64) -> String {
    format!("{:03.0}°", degrees.round().rem_euclid(360.0))
}

/// A share of a whole in per cent; `None` if there is no whole.
pub(super) fn percent(part: u32, whole: u32) -> Option<f64> {
    (whole > 0).then(|| f64::from(part) / f64::from(whole) * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_times_are_written_as_people_do() {
        let at = Utc::parse_rfc3339("2026-06-04T14:05:59Z").unwrap();
        assert_eq!((day(at), hour_minute(at)), ("4 June 2026".to_owned(), "14:05".to_owned()));
        assert_eq!(degrees(359.7), "000°");
    }
}
