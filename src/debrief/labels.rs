//! The times on everything: the recording's own labels, in one line without steps back.

use std::time::Duration;

use crate::time::{Stamp, Utc};

/// Labels before this were counted by somebody who did not know the time. Our own.
const FIRST_REAL_YEAR: i32 = 2000;

/// A step of the labels beside the arrival that is none: rounding. Our own.
const NO_STEP_MS: i64 = 2_000;

/// Turns the stamps of a replay into labels that only go forward.
///
/// A recording that learns its date on the way has counted from 1970 until then: what came before is
/// moved. A part that follows a gap keeps its own times; one whose times lie before those of the
/// last part goes on behind it.
#[derive(Debug, Default)]
pub(super) struct Labels {
    last: Option<Stamp>,
    added_ms: i64,
}

impl Labels {
    /// Takes the stamp of a line: by how much all earlier labels are to be moved, mostly 0.
    pub(super) fn see(&mut self, stamp: Stamp) -> i64 {
        let Some(last) = self.last.replace(stamp) else { return 0 };
        let step = stamp.utc.ms_since(last.utc) - ms_of(stamp.at.since(last.at));
        if step.abs() <= NO_STEP_MS {
            return 0;
        }
        if !is_real(last.utc) {
            return step;
        }
        if step < 0 {
            self.added_ms = self.added_ms.saturating_sub(step);
        }
        0
    }

    /// The label of a moment of the present part.
    pub(super) fn of(&self, utc: Utc) -> Utc {
        if self.added_ms == 0 { utc } else { moved(utc, self.added_ms) }
    }
}

/// Whether a label is a time that somebody knew.
pub(super) fn is_real(utc: Utc) -> bool {
    use chrono::Datelike as _;
    utc.date().year() >= FIRST_REAL_YEAR
}

/// A moment so many milliseconds later, held within what can be printed.
pub(super) fn moved(utc: Utc, ms: i64) -> Utc {
    Utc::from_unix_ms(utc.unix_ms().saturating_add(ms)).unwrap_or(utc)
}

/// The same in seconds.
pub(super) fn after(utc: Utc, seconds: f64) -> Utc {
    // A cast of a number that is too large is held at the largest.
    moved(utc, (seconds * 1000.0).round() as i64)
}

/// The milliseconds of a span.
pub(super) fn ms_of(span: Duration) -> i64 {
    i64::try_from(span.as_millis()).unwrap_or(i64::MAX)
}

/// The seconds from one moment to another, negative if it lies before.
pub(super) fn seconds(from: Utc, to: Utc) -> f64 {
    to.ms_since(from) as f64 / 1000.0
}

/// Minutes and seconds as they are said: `45 s`, `2 min 5 s`, `1 h 4 min`.
pub fn span(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    let (hours, minutes, rest) = (whole / 3600, whole / 60 % 60, whole % 60);
    match (hours, minutes) {
        (0, 0) => format!("{rest} s"),
        (0, _) if rest == 0 => format!("{minutes} min"),
        (0, _) => format!("{minutes} min {rest} s"),
        _ => format!("{hours} h {minutes} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Mono;

    fn stamp(at_s: u64, utc: &str) -> Stamp {
        let utc = Utc::parse_rfc3339(utc).unwrap();
        Stamp { at: Mono::from_micros(at_s * 1_000_000), utc }
    }

    #[test]
    fn what_was_counted_is_moved_and_a_gap_is_kept() {
        let mut labels = Labels::default();
        assert_eq!(labels.see(stamp(0, "1970-01-01T00:00:00Z")), 0);
        let learnt = stamp(1, "2026-06-14T02:00:01Z");
        let step = labels.see(learnt);
        assert_eq!(moved(Utc::EPOCH, step).to_string(), "2026-06-14T02:00:00.000Z");
        assert_eq!(labels.see(stamp(2, "2026-06-14T02:10:00Z")), 0, "another part, after a gap");
        assert_eq!(labels.of(stamp(2, "2026-06-14T02:10:00Z").utc).clock(), "02:10:00Z");
    }

    #[test]
    fn a_part_of_an_earlier_time_goes_on_behind() {
        let mut labels = Labels::default();
        labels.see(stamp(0, "2026-06-14T02:00:00Z"));
        let earlier = stamp(1, "2026-06-13T02:00:00Z");
        assert_eq!(labels.see(earlier), 0);
        assert_eq!(labels.of(earlier.utc).to_string(), "2026-06-14T02:00:01.000Z");
    }

    #[test]
    fn spans_are_said_as_people_say_them() {
        let said = [0.4, 45.0, 120.0, 125.4, 3840.0].map(span);
        assert_eq!(said, ["0 s", "45 s", "2 min", "2 min 5 s", "1 h 4 min"]);
    }
}
