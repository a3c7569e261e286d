//! Names, ages and directions as a person reads and says them.

use std::time::Duration;

use super::Who;
use crate::mmsi::BeaconKind;
use crate::time::rounded_up;
use crate::units::Degrees;
use crate::watch::{BeaconView, CasualtyId};

/// An age: `12 s`, `4 min 12 s`, `2 h 05 min`; rounded up.
pub fn age(span: Duration) -> String {
    match rounded_up(span, 1) {
        seconds @ 0..60 => format!("{seconds} s"),
        seconds @ 60..3600 => format!("{} min {:02} s", seconds / 60, seconds % 60),
        _ => {
            let minutes = rounded_up(span, 60);
            format!("{} h {:02} min", minutes / 60, minutes % 60)
        }
    }
}

/// An age in one unit, for narrow places: `12 s`, `4 min`, `2 h`; rounded up, so that 2 min 59 s are
/// `3 min`.
pub fn short_age(span: Duration) -> String {
    match rounded_up(span, 1) {
        seconds @ 0..120 => format!("{seconds} s"),
        120..=7200 => format!("{} min", rounded_up(span, 60)),
        _ => format!("{} h", rounded_up(span, 3600)),
    }
}

/// How long something takes: `40 s`, `11 min`, `2 h 05 min`.
pub fn minutes(time: Duration) -> String {
    match time.as_secs() {
        seconds @ 0..90 => format!("{seconds} s"),
        seconds @ 90..5400 => format!("{} min", (seconds + 30) / 60),
        seconds => format!("{} h {:02} min", seconds / 3600, seconds / 60 % 60),
    }
}

/// Who it is, in capitals, as a headline begins.
pub fn headline_name(beacon: &BeaconView) -> String {
    in_capitals(beacon.kind, beacon.person.as_deref(), beacon.id)
}

pub(super) fn in_capitals(kind: BeaconKind, person: Option<&str>, id: CasualtyId) -> String {
    let kind = match (person, kind) {
        (Some(person), _) => return person.to_uppercase(),
        (None, BeaconKind::Mob) => "PERSON",
        (None, BeaconKind::Sart) => "SURVIVAL CRAFT",
        (None, BeaconKind::Epirb) => "EMERGENCY BEACON",
    };
    match id {
        CasualtyId::Beacon(mmsi) => format!("{kind} {mmsi}"),
        CasualtyId::Mark(1) => kind.to_owned(),
        CasualtyId::Mark(number) => format!("{kind} {number}"),
    }
}

/// Who it is, in a list.
pub fn name(beacon: &BeaconView) -> String {
    in_a_list(beacon.kind, beacon.person.as_deref(), beacon.id)
}

pub(super) fn name_of(who: &Who) -> String {
    in_a_list(who.kind, who.person.as_deref(), who.id)
}

fn in_a_list(kind: BeaconKind, person: Option<&str>, id: CasualtyId) -> String {
    match (person, id) {
        (Some(person), _) => person.to_owned(),
        (None, CasualtyId::Beacon(mmsi)) => format!("{} {mmsi}", kind.word()),
        (None, CasualtyId::Mark(number)) => format!("point {number}"),
    }
}

/// Its identity, or the number of the point.
pub fn identity(beacon: &BeaconView) -> String {
    match beacon.id {
        CasualtyId::Beacon(mmsi) => mmsi.to_string(),
        CasualtyId::Mark(number) => format!("point {number}"),
    }
}

/// A magnetic direction: `219°M`.
pub fn magnetic(direction: Degrees) -> String {
    format!("{:03}°M", direction.value().round() as u32 % 360)
}

/// Where to look from the bow, as a crew says it: `2 o'clock`, from -180 to 180 degrees.
pub(super) fn clock(relative: f64) -> String {
    let hour = (relative.rem_euclid(360.0) / 30.0).round() as u32 % 12;
    format!("{} o'clock", if hour == 0 { 12 } else { hour })
}

/// The side of a turn.
pub fn side(turn: f64) -> &'static str {
    if turn < 0.0 { "port" } else { "starboard" }
}

/// A relative bearing, -180 to 180, starboard positive: `71° to port`.
pub fn relative(degrees: f64) -> String {
    let whole = degrees.abs().round() as u32;
    match whole {
        0..=2 => "dead ahead".to_owned(),
        178..=180 => "dead astern".to_owned(),
        _ if degrees < 0.0 => format!("{whole}° to port"),
        _ => format!("{whole}° to starboard"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_age_never_looks_younger_than_it_is() {
        let of = |ms| Duration::from_millis(ms);
        for (ms, long, short) in [
            (0, "0 s", "0 s"),
            (1, "1 s", "1 s"),
            (59_001, "1 min 00 s", "60 s"),
            (119_500, "2 min 00 s", "2 min"),
            (179_000, "2 min 59 s", "3 min"),
            (180_000, "3 min 00 s", "3 min"),
            (3_599_500, "1 h 00 min", "60 min"),
            (3_661_000, "1 h 02 min", "62 min"),
            (7_200_000, "2 h 00 min", "120 min"),
            (7_201_000, "2 h 01 min", "3 h"),
        ] {
            assert_eq!((age(of(ms)).as_str(), short_age(of(ms)).as_str()), (long, short), "{ms}");
        }
    }

    #[test]
    fn the_clock_goes_by_the_bow() {
        for (relative, said) in
            [(0.0, "12"), (-14.0, "12"), (59.0, "2"), (-90.0, "9"), (180.0, "6"), (-30.0, "11")]
        {
            assert_eq!(clock(relative), format!("{said} o'clock"), "{relative}");
        }
    }
}
