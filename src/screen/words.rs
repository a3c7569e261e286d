//! Ages, names and states as they are read on the screen.

use std::time::Duration;

use crate::mmsi::BeaconKind;
use crate::units::Degrees;
use crate::watch::{BeaconView, CasualtyId, Priority, State};

/// An age: `12 s`, `4 min 12 s`, `2 h 05 min`.
pub(super) fn age(span: Duration) -> String {
    let seconds = span.as_secs();
    match seconds {
        0..60 => format!("{seconds} s"),
        60..3600 => format!("{} min {:02} s", seconds / 60, seconds % 60),
        _ => format!("{} h {:02} min", seconds / 3600, seconds / 60 % 60),
    }
}

/// An age in one unit, for narrow places: `12 s`, `4 min`, `2 h`.
pub(super) fn short_age(span: Duration) -> String {
    let seconds = span.as_secs();
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7200 => format!("{} min", seconds / 60),
        _ => format!("{} h", seconds / 3600),
    }
}

/// Who it is, in capitals, as a headline begins.
pub(super) fn headline_name(beacon: &BeaconView) -> String {
    let kind = match (&beacon.person, beacon.kind) {
        (Some(person), _) => return person.to_uppercase(),
        (None, BeaconKind::Mob) => "PERSON",
        (None, BeaconKind::Sart) => "SURVIVAL CRAFT",
        (None, BeaconKind::Epirb) => "EMERGENCY BEACON",
    };
    match beacon.id {
        CasualtyId::Beacon(mmsi) => format!("{kind} {mmsi}"),
        CasualtyId::Mark(1) => kind.to_owned(),
        CasualtyId::Mark(number) => format!("{kind} {number}"),
    }
}

/// Who it is, in a list.
pub(super) fn name(beacon: &BeaconView) -> String {
    match (&beacon.person, beacon.id) {
        (Some(person), _) => person.clone(),
        (None, CasualtyId::Beacon(mmsi)) => format!("{} {mmsi}", beacon.kind.word()),
        (None, CasualtyId::Mark(number)) => format!("point {number}"),
    }
}

/// Its identity, or the number of the point.
pub(super) fn identity(beacon: &BeaconView) -> String {
    match beacon.id {
        CasualtyId::Beacon(mmsi) => mmsi.to_string(),
        CasualtyId::Mark(number) => format!("point {number}"),
    }
}

/// A priority in a column of nine.
pub(super) fn priority(priority: Priority) -> &'static str {
    match priority {
        Priority::EmergencyAlarm => "EMERGENCY",
        Priority::Alarm => "ALARM",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    }
}

/// How far an alert has been dealt with.
pub(super) fn state(state: State, priority: Priority) -> &'static str {
    match state {
        State::ActiveUnacknowledged => "not ackn.",
        State::ActiveSilenced => "silenced",
        State::ActiveAcknowledged if priority == Priority::Caution => "",
        State::ActiveAcknowledged => "ackn.",
        State::RectifiedUnacknowledged => "over, not ackn.",
        State::Normal => "over",
    }
}

/// Whether a text is a relative bearing.
pub(super) fn is_relative(text: &str) -> bool {
    text.contains(" to port") || text.contains(" to starboard") || text.starts_with("right a")
}

/// A magnetic direction: `219°M`.
pub(super) fn magnetic(direction: Degrees) -> String {
    format!("{:03}°M", direction.value().round() as u32 % 360)
}

/// How long something takes: `40 s`, `11 min`, `2 h 05 min`.
pub(super) fn minutes(time: Duration) -> String {
    match time.as_secs() {
        seconds @ 0..90 => format!("{seconds} s"),
        seconds @ 90..5400 => format!("{} min", (seconds + 30) / 60),
        seconds => format!("{} h {:02} min", seconds / 3600, seconds / 60 % 60),
    }
}

/// The side of a turn.
pub(super) fn side(turn: f64) -> &'static str {
    if turn < 0.0 { "port" } else { "starboard" }
}

/// A relative bearing: `71° to port`.
pub(super) fn relative(degrees: f64) -> String {
    let whole = degrees.abs().round() as u32;
    match whole {
        0..=2 => "right ahead".to_owned(),
        178..=180 => "right astern".to_owned(),
        _ if degrees < 0.0 => format!("{whole}° to port"),
        _ => format!("{whole}° to starboard"),
    }
}
