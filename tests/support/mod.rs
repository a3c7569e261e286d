//! What several tests need: sentences made from plain words, and the recordings beside the project.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::path::PathBuf;

use overside::mmsi::Mmsi;
use overside::wire::ais::{Body, ClassBReport, Message, PositionReport, SafetyText};
use overside::wire::checksum;

/// The folder of real recordings, which is no part of the project.
///
/// `None`, said loudly, if it is missing; under CI that is a failure.
pub fn recordings() -> Option<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/captures");
    if folder.is_dir() {
        return Some(folder);
    }
    assert!(std::env::var_os("CI").is_none(), "../shared/captures is missing under CI");
    eprintln!("NOT RUN: ../shared/captures is missing, and with it every check on real recordings");
    None
}

/// A TAG block with its checksum.
pub fn tag(body: &str) -> String {
    format!("\\{body}*{:02X}\\", checksum(body.as_bytes()))
}

/// The same for a sentence that carries six-bit armour.
pub fn sealed_armour(body: &str) -> String {
    format!("!{body}*{:02X}", checksum(body.as_bytes()))
}

/// A file with this text, for the program to read; written once.
pub fn file(name: &str, text: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    if std::fs::read_to_string(&path).is_ok_and(|found| found == text) {
        return path;
    }
    // Whole or not at all: another test may be reading it.
    let made = tempfile::NamedTempFile::new_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    std::fs::write(made.path(), text).unwrap();
    made.persist(&path).unwrap();
    path
}

/// A sentence with its checksum, from its body with or without the start character.
pub fn sealed(body: &str) -> String {
    let (start, body) = match body.split_at(1) {
        ("!" | "$", _) => body.split_at(1),
        _ => ("$", body),
    };
    format!("{start}{body}*{:02X}", checksum(body.as_bytes()))
}

/// A VDM sentence for a message.
pub fn vdm(message: &Message, channel: char) -> String {
    let (payload, fill) = message.encode().unwrap().armoured();
    assert!(payload.len() <= 61, "more than one sentence");
    sealed(&format!("!AIVDM,1,1,,{channel},{payload},{fill}"))
}

/// A message 1 of a beacon or ship.
pub fn position(mmsi: u32, nav_status: u8, place: Option<(f64, f64)>, utc_second: u8) -> Message {
    let report = PositionReport {
        nav_status,
        lat: place.map(|(lat, _)| lat),
        lon: place.map(|(_, lon)| lon),
        utc_second,
        ..PositionReport::unavailable()
    };
    message(1, mmsi, Body::Position(report))
}

/// A message 14.
pub fn text(mmsi: u32, text: &str) -> Message {
    let body = SafetyText::new(text.parse().unwrap(), Mmsi::new(mmsi).unwrap());
    message(14, mmsi, Body::SafetyText(body))
}

/// A message 18 under way at no particular speed.
pub fn class_b(mmsi: u32, lat: f64, lon: f64) -> Message {
    let report = ClassBReport {
        sog_kn: Some(5.0),
        position_accuracy: false,
        lon: Some(lon),
        lat: Some(lat),
        cog_deg: Some(90.0),
        heading_deg: None,
        utc_second: 10,
        carrier_sense: true,
        raim: false,
    };
    message(18, mmsi, Body::ClassB(report))
}

fn message(kind: u8, mmsi: u32, body: Body) -> Message {
    Message { kind, repeat: 0, mmsi: Mmsi::new(mmsi).unwrap(), body }
}

/// Degrees as `ddmm.mmmm,N,dddmm.mmmm,E`.
pub fn nmea_position(lat: f64, lon: f64) -> String {
    let minutes = |value: f64| {
        let tenths = (value.abs() * 60.0 * 1e5).round() as u64;
        (tenths / 6_000_000, tenths % 6_000_000)
    };
    let (lat_deg, lat_min) = minutes(lat);
    let (lon_deg, lon_min) = minutes(lon);
    let print = |min: u64| format!("{:02}.{:05}", min / 100_000, min % 100_000);
    format!(
        "{lat_deg:02}{},{},{lon_deg:03}{},{}",
        print(lat_min),
        if lat < 0.0 { 'S' } else { 'N' },
        print(lon_min),
        if lon < 0.0 { 'W' } else { 'E' },
    )
}
