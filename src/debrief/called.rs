//! Who is known by DSC, or by a crew alarm on board: what a call or a notice tells of a casualty.

use std::time::Duration;

use super::labels::{moved, ms_of};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;
use crate::wire::nmea::{Dsc, EmitterStatus, Meaning, Mob};

/// A place that comes so soon after another of the same caller, and was told to whole minutes, is the
/// same with its decimals. The watch waits 10 s for an expansion. Our own.
const EXPANDED_WITHIN: Duration = Duration::from_secs(15);

/// A crew alarm says the same again every few seconds: what comes sooner than this after the last one
/// that is kept is left out. Our own.
const REPEATED_WITHIN: Duration = Duration::from_secs(10);

/// The place of a notice is the emitter's own (IEC 61162-1, MOB); else the ship reckoned it.
const EMITTERS_OWN: u16 = 1;

/// Who is in the water, as far as anything tells it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Who {
    /// The beacon's identity, or that of the ship that calls for somebody.
    pub mmsi: Option<Mmsi>,
    /// The emitter of a crew alarm, where nothing else tells who it is.
    pub emitter: Option<String>,
}

impl Who {
    /// A station, or somebody of whom nothing is told.
    pub(super) const fn station(mmsi: Option<Mmsi>) -> Self {
        Self { mmsi, emitter: None }
    }

    /// The kind of a casualty by its identity: who calls for a person in the name of a ship is a
    /// person.
    pub(super) fn kind(&self) -> BeaconKind {
        self.mmsi.and_then(Mmsi::beacon_kind).unwrap_or(BeaconKind::Mob)
    }
}

/// A DSC call, or a notice of a crew alarm, about a casualty.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Call {
    pub at: Utc,
    /// Who called.
    pub by: Option<Mmsi>,
    /// Where the casualty was, and when, as far as the call told it.
    pub place: Option<(Utc, Position)>,
    /// The emitter, where a crew alarm on board told of it.
    pub emitter: Option<String>,
    /// Whether that is told to whole minutes alone, for no expansion followed, or is where the ship
    /// reckoned the emitter of a crew alarm.
    pub is_rough: bool,
    /// Whether it took the distress back.
    pub is_cancel: bool,
}

/// Whom a call is about, as far as it tells that, and what it tells; `None` of one that is about
/// nobody in the water.
pub(super) fn told_by(call: &Dsc, at: Utc) -> Option<(Who, Call)> {
    let is_cancel = call.meaning == Meaning::DistressCancel;
    let mmsi = call.about();
    let is_by_another =
        matches!(call.meaning, Meaning::DistressRelay | Meaning::DistressAcknowledgement);
    if mmsi.is_none() && is_cancel {
        return None;
    }
    let alarms = is_by_another || call.meaning == Meaning::DistressAlert;
    let is_beacon = mmsi.is_some_and(|it| it.beacon_kind().is_some());
    if !(is_cancel || call.is_man_overboard() || alarms && is_beacon) {
        return None;
    }
    let then = determined(at, call.utc_hhmm.as_deref());
    let told = Call {
        at,
        by: call.caller_mmsi,
        emitter: None,
        place: call.position().map(|place| (then, place)),
        is_rough: !call.is_refined(),
        is_cancel,
    };
    Some((Who::station(mmsi), told))
}

/// Whom a notice of a crew alarm is about, and what it tells; `None` of one that is about nobody in the
/// water.
pub(super) fn noticed_by(notice: &Mob, at: Utc) -> Option<(Who, Call)> {
    let is_alarm =
        matches!(notice.status, Some(EmitterStatus::Activated | EmitterStatus::ManualButton));
    let emitter = notice.emitter.clone().unwrap_or_else(|| "unknown".to_owned());
    // The identity may be that of the ship the emitter belongs to.
    let who = match notice.mmsi.filter(|it| it.beacon_kind().is_some()) {
        None => Who { mmsi: None, emitter: Some(emitter.clone()) },
        beacon => Who::station(beacon),
    };
    let then = notice.position_time.map_or(at, |time| {
        let ago = (at.unix_ms() - i64::from(time.ms())).rem_euclid(24 * 3_600_000);
        // A place of more than half a day ago is one of a clock that is ahead.
        if ago < 12 * 3_600_000 { moved(at, -ago) } else { at }
    });
    let told = Call {
        at,
        by: None,
        emitter: Some(emitter),
        place: notice.position().map(|place| (then, place)),
        is_rough: notice.position_source != Some(EMITTERS_OWN),
        is_cancel: false,
    };
    is_alarm.then_some((who, told))
}

/// When a place was determined that a call tells to the minute: when the call came where that is the
/// minute of it or the one before, else the middle of its minute.
fn determined(at: Utc, hhmm: Option<&str>) -> Utc {
    // By definition.
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

    /// Whether a later one of the same crew alarm comes too soon to be kept.
    pub(super) fn is_repeated_by(&self, later: &Self) -> bool {
        let is_soon = later.at.ms_since(self.at) < ms_of(REPEATED_WITHIN);
        is_soon && later.emitter.is_some() && self.emitter == later.emitter
    }
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
