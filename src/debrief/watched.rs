//! When somebody listened. Between two recordings, and where one has a gap, nobody did: what was sent
//! then is not known, and not lost.

use super::drill::Unwatched;
use super::labels::{is_real, moved, ms_of};
use crate::time::{Mono, Stamp, Utc};

/// Between two parts of a recording, a time as short as this is none: a file is begun while the next
/// line is waited for. Our own.
const PARTS_MS: i64 = 10_000;

/// Where own position comes all the time, nothing at all for this long is no quiet: an input gives
/// nothing. That of the watch for AIS (`ais_silence_s`). Our own.
const WITH_OWN_MS: i64 = 60_000;

/// Elsewhere it may be quiet for longer. Our own.
const WITHOUT_OWN_MS: i64 = 300_000;

/// An own position of no longer ago than this before a gap comes all the time. Our own.
const OWN_FLOWS_MS: i64 = 30_000;

/// A step of the labels beside the arrival: another part begins. Our own.
const STEP_MS: i64 = 2_000;

/// Gaps that are kept; the last one takes in what comes after it. Our own.
const GAPS: usize = 512;

/// Follows the lines of a recording.
#[derive(Debug, Default)]
pub(super) struct Watched {
    last: Option<(Utc, Mono)>,
    gaps: Vec<Unwatched>,
}

impl Watched {
    /// Takes a line that came at `stamp` and is labelled `at`; `own` is when own position came last.
    pub(super) fn on_line(&mut self, at: Utc, stamp: Stamp, own: Option<Mono>) {
        let Some((from, arrival)) = self.last.replace((at, stamp.at)) else { return };
        let passed = at.ms_since(from);
        let is_next_part = passed - ms_of(stamp.at.since(arrival)) > STEP_MS;
        let own_flows = own.is_some_and(|own| ms_of(arrival.since(own)) <= OWN_FLOWS_MS);
        let least = match (is_next_part, own_flows) {
            (true, _) => PARTS_MS,
            (false, true) => WITH_OWN_MS,
            (false, false) => WITHOUT_OWN_MS,
        };
        if passed <= least || !is_real(from) {
            return;
        }
        let is_full = self.gaps.len() >= GAPS;
        match self.gaps.last_mut().filter(|_| is_full) {
            Some(last) => last.until = at,
            None => self.gaps.push(Unwatched { from, until: at }),
        }
    }

    /// Moves all that was kept so far in time.
    pub(super) fn shift(&mut self, ms: i64) {
        self.last = self.last.map(|(at, arrival)| (moved(at, ms), arrival));
        for gap in &mut self.gaps {
            (gap.from, gap.until) = (moved(gap.from, ms), moved(gap.until, ms));
        }
    }

    /// The times in which nobody listened, in their order.
    pub(super) fn finish(self) -> Vec<Unwatched> {
        self.gaps
    }
}
