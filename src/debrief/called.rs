//! Who is known by DSC: what a call tells of a casualty.

use std::time::Duration;

use super::labels::ms_of;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;
use crate::wire::nmea::{Dsc, Meaning};

/// A place that comes so soon after another of the same caller, and was told to whole minutes, is the
/// same with its decimals. The watch waits 10 s for an expansion. Our own.
const EXPANDED_WITHIN: Duration = Duration::from_secs(15);

/// A DSC call about a casualty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Call {
    pub at: Utc,
    /// Who called.
    pub by: Option<Mmsi>,
    /// Where the casualty was, and when, as far as the call told it.
    pub place: Option<(Utc, Position)>,
    /// Whether that is told to whole minutes alone: no expansion followed.
    pub is_rough: bool,
    /// Whether it took the distress back.
    pub is_cancel: bool,
}

/// Whom a call is about, as far as it tells that, and what it tells; `None` of one that is about
/// nobody in the water.
pub(super) fn told_by(call: &Dsc, at: Utc) -> Option<(Option<Mmsi>, Call)> {
    let is_cancel = call.meaning == Meaning::DistressCancel;
    // Who passes a distress on, or acknowledges it, is not who is in the water.
    let is_by_another =
        matches!(call.meaning, Meaning::DistressRelay | Meaning::DistressAcknowledgement);
    let caller = call.caller_mmsi.filter(|it| !is_by_another || it.beacon_kind().is_some());
    let mmsi = call.casualty_mmsi.or(caller);
    if mmsi.is_none() && !is_by_another {
        return None;
    }
    let alarms = matches!(
        call.meaning,
        Meaning::DistressAlert | Meaning::DistressRelay | Meaning::DistressAcknowledgement
    );
    let is_beacon = mmsi.is_some_and(|it| it.beacon_kind().is_some());
    if !(is_cancel || call.is_man_overboard() || alarms && is_beacon) {
        return None;
    }
    let then = determined(at, call.utc_hhmm.as_deref());
    let told = Call {
        at,
        by: call.caller_mmsi,
        place: call.position().map(|place| (then, place)),
        is_rough: !call.is_refined(),
        is_cancel,
    };
    Some((mmsi, told))
}

/// When a place was determined that a call tells to the minute: when the call came where that is the
/// minute of it or the one before, else the middle of its minute.
fn determined(at: Utc, hhmm: Option<&str>) -> Utc {
    const DAY_MIN: i64 = 24 * 60;
    let digits = hhmm.and_then(|it| it.parse::<i64>().ok());
    let Some(hhmm) = digits else { return at };
    let minute = at.unix_ms().div_euclid(60_000);
    let age = (minute - (hhmm / 100 * 60 + hhmm % 100)).rem_euclid(DAY_MIN);
    // A place of more than half a day ago is one of a clock that is ahead.
    if !(2..DAY_MIN / 2).contains(&age) {
        return at;
    }
    Utc::from_unix_ms((minute - age) * 60_000 + 30_000).unwrap_or(at)
}

impl Call {
    /// Whether a later call is this one with its decimals.
    pub(super) fn is_expanded_by(&self, later: &Self) -> bool {
        let is_soon = later.at.ms_since(self.at) <= ms_of(EXPANDED_WITHIN);
        is_soon && self.by == later.by && self.is_rough && !later.is_rough && self.place.is_some()
    }
}

/// The kind of a casualty by its identity: who calls for a person in the name of a ship is a person.
pub(super) fn kind_of(mmsi: Option<Mmsi>) -> BeaconKind {
    mmsi.and_then(Mmsi::beacon_kind).unwrap_or(BeaconKind::Mob)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_dated_by_its_minute() {
        let at = Utc::parse_rfc3339("2026-06-14T00:02:10Z").unwrap();
        for (told, then) in [
            (None, "2026-06-14T00:02:10.000Z"),
            (Some("0002"), "2026-06-14T00:02:10.000Z"),
            (Some("0001"), "2026-06-14T00:02:10.000Z"),
            (Some("0000"), "2026-06-14T00:00:30.000Z"),
            (Some("2355"), "2026-06-13T23:55:30.000Z"),
            // A clock that is ahead of ours.
            (Some("0004"), "2026-06-14T00:02:10.000Z"),
        ] {
            assert_eq!(determined(at, told).to_string(), then);
        }
    }
}
