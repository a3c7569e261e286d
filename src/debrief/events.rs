//! The time line.

use super::approach::{metres, metres_within};
use super::drill::{DrillEvent, DrillEventKind as Kind, OwnPoint, Unwatched, Wind, capital, name};
use super::found::Found;
use super::labels::{seconds, span};
use super::log::{LogEntry, Logged};
use super::scene::Scene;
use super::turn::DOES;
use crate::navigation::Position;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::wire::ais::BeaconWord;
use crate::zone::Zone;

/// Remarks listed. Our own.
const REMARKS: usize = 200;

/// Two manoeuvres no further apart than this are one, in milliseconds. Our own.
const SAME_MS: i64 = 3_000;

/// An own position further off in time than this is none for a remark. Our own.
const NEAR_S: f64 = 35.0;

/// What happened to a casualty.
pub(super) fn of_casualty(
    scene: &Scene<'_>,
    found: &Found,
    wind: Option<&Wind>,
    events: &mut Vec<DrillEvent>,
) {
    let beacon = scene.beacon;
    let name = name(beacon.person.as_deref(), beacon.mmsi, beacon.emitter.as_deref());
    let mut tell = |t: Option<f64>, kind: Kind, text: String| {
        let Some(t) = t.filter(|t| t.is_finite()) else { return };
        events.push(DrillEvent {
            number: 0,
            at: scene.utc(t),
            kind,
            mmsi: beacon.mmsi,
            own: scene.own_at(t).and_then(|own| scene.position(own)),
            range_nm: scene.range_at(t).map(NauticalMiles::from_metres),
            range_off_m: scene.range_off(t),
            text: capital(&text),
        });
    };
    let heard = beacon.messages.first().map(|it| scene.t(it.at));
    let first = match beacon.calls.first() {
        Some(call) if heard.is_none_or(|heard| heard > scene.t(call.at)) => match &call.emitter {
            Some(emitter) => {
                let whom = beacon.person.as_deref().unwrap_or("a person overboard");
                format!("Crew alarm {emitter} first tells of {whom}")
            }
            None => format!("First DSC call about {name}"),
        },
        _ => format!("{name}'s beacon is heard first"),
    };
    tell(Some(found.first), Kind::Activated, first);
    tell(found.alarm, Kind::Alarm, format!("Alarm about {name}"));
    tell(found.acknowledged, Kind::Acknowledged, format!("Alarm about {name} acknowledged"));
    tell(found.first_fix, Kind::FirstPosition, format!("First position of {name}"));
    for manoeuvre in &found.turns.manoeuvres {
        let text = format!("The boat {}", manoeuvre.words(DOES, wind));
        tell(Some(manoeuvre.begun), Kind::Manoeuvre, text);
    }
    tell(found.turns.back, Kind::TurnBegun, format!("The turn back to {name} begins"));
    tell(found.pointing, Kind::Pointing, format!("The bow points at {name}"));
    for &(t, range) in found.passes.iter().flat_map(|it| &it.at) {
        tell(
            Some(t),
            Kind::PassMissed,
            format!("The boat passes {name} at {} and goes on", metres(range)),
        );
    }
    if let Some(closest) = found.closest {
        let closest_m = metres_within(closest.m, Some(closest.off_m));
        let text = format!("Closest approach to {name}: {closest_m}");
        tell(Some(closest.t), Kind::ClosestApproach, text);
    }
    for &(from, until) in &found.silences {
        tell(Some(from), Kind::Silent, format!("{name}'s beacon falls silent"));
        tell(Some(until), Kind::HeardAgain, format!("{name}'s beacon is heard again"));
    }
    for over in found.said_over.iter().filter(|it| it.by_key) {
        let doubt = over.against.map(|why| format!("; not taken as the recovery: {why}"));
        let text = format!("Alarm about {name} declared over{}", doubt.unwrap_or_default());
        tell(Some(over.t), Kind::DeclaredOver, text);
    }
    for &t in &found.raised_again {
        tell(Some(t), Kind::RaisedAgain, format!("Alarm about {name} raised again"));
    }
    tell(
        found.there.map(|it| it.t),
        Kind::AtCasualty,
        format!("Alongside {name} (within 50 m), slow"),
    );
    let recovery = found.recovery.as_ref().map(|it| it.t);
    let is_sure = found.there.is_some() || found.recovery.as_ref().is_none_or(|it| !it.is_word());
    let counts = if is_sure { "out of the water" } else { "counts as out of the water" };
    tell(recovery, Kind::Recovered, format!("{name} {counts}"));
    let is_cancel = beacon.calls.iter().any(|it| it.is_cancel && Some(it.at) == beacon.off);
    let off = if is_cancel {
        format!("The distress of {name} is cancelled by DSC")
    } else {
        let mut last = beacon.messages.iter().filter(|it| Some(it.at) == beacon.off);
        let word =
            if last.any(|it| it.word == Some(BeaconWord::Cancel)) { "CANCEL" } else { "OFF" };
        format!("{name}'s beacon says {word}")
    };
    tell(beacon.off.map(|off| scene.t(off)), Kind::Off, off);
}

/// When nobody listened.
pub(super) fn of_gaps(
    gaps: &[Unwatched],
    own: &[OwnPoint],
    zone: Option<&Zone>,
    events: &mut Vec<DrillEvent>,
) {
    events.extend(gaps.iter().take(REMARKS).map(|gap| DrillEvent {
        number: 0,
        at: gap.from,
        kind: Kind::NotWatched,
        mmsi: None,
        own: near(own, gap.from),
        range_nm: None,
        range_off_m: None,
        text: format!(
            "Not watched until {} ({}): nothing was recorded",
            Zone::both(zone, gap.until),
            span(seconds(gap.from, gap.until))
        ),
    }));
}

/// What people wrote.
pub(super) fn of_log(
    log: &[LogEntry],
    span: (Utc, Utc),
    own: &[OwnPoint],
    events: &mut Vec<DrillEvent>,
) {
    let within = log.iter().filter(|it| it.at >= span.0 && it.at <= span.1);
    let remarks = within.filter_map(|it| match &it.what {
        Logged::Remark { by, text } => Some((it.at, "Note", by, text)),
        Logged::Correction { by, text } => Some((it.at, "Correction", by, text)),
        Logged::Heard(_)
        | Logged::Raised(_)
        | Logged::Acknowledged(_)
        | Logged::DeclaredOver(_)
        | Logged::Withdrawn(_) => None,
    });
    events.extend(remarks.take(REMARKS).map(|(at, what, by, text)| DrillEvent {
        number: 0,
        at,
        kind: Kind::Remark,
        mmsi: None,
        own: near(own, at),
        range_nm: None,
        range_off_m: None,
        // Said by a person, and not observed: by whom, and at the time it was written down.
        text: match by {
            Some(by) => format!("{what} in the logbook by {by}: {text}"),
            None => format!("{what} in the logbook: {text}"),
        },
    }));
}

/// In the order of time, numbered.
pub(super) fn numbered(mut events: Vec<DrillEvent>) -> Vec<DrillEvent> {
    events.sort_by_key(|event| (event.at, event.kind));
    // What the boat did is found once for each casualty.
    events.dedup_by(|later, event| {
        let is_same = later.kind == Kind::Manoeuvre && event.kind == Kind::Manoeuvre;
        is_same && later.at.ms_since(event.at) <= SAME_MS
    });
    for (number, event) in (1..).zip(&mut events) {
        event.number = number;
    }
    events
}

fn near(own: &[OwnPoint], at: Utc) -> Option<Position> {
    let before = own.get(own.partition_point(|point| point.at <= at).checked_sub(1)?)?;
    (seconds(before.at, at) <= NEAR_S).then_some(before.position)
}
