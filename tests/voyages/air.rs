//! What is on the air and on the wires of the boat: sentences, each with what it truly says.

use crate::support;

/// What a sentence truly says; the judge knows it, the watch must find it out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Truth {
    /// A message in a survivor beacon's name.
    Beacon(u32, Says),
    /// A DSC call about this station.
    Call(u32, Call),
    /// A crew alarm's notice: its emitter and its status.
    Notice(u32, char),
    /// Anything else: nobody is overboard because of it.
    Other,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Says {
    Active,
    Test,
    Off,
    /// Neither, or it cannot be told.
    Doubt,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// A distress alert of a person overboard.
    Overboard,
    /// The station takes its own distress back.
    Cancel,
    /// Any other: distress of another nature, relay, urgency, test, position.
    Lesser,
}

/// A sentence and what it says.
#[derive(Clone, Debug)]
pub struct Said {
    pub line: String,
    pub truth: Truth,
}

/// The first word of a beacon's texts.
fn word(mmsi: u32) -> &'static str {
    match mmsi / 1_000_000 {
        970 => "SART",
        972 => "MOB",
        _ => "EPIRB",
    }
}

/// A position report with this status. Without a place it has no fix yet.
pub fn report(mmsi: u32, status: u8, place: Option<(f64, f64)>, at_ms: u64, channel: char) -> Said {
    let second = if place.is_some() { (at_ms / 1000 % 60) as u8 } else { 60 };
    let line = support::vdm(&support::position(mmsi, status, place, second), channel);
    let says = if status == 14 { Says::Active } else { Says::Doubt };
    Said { line, truth: Truth::Beacon(mmsi, says) }
}

/// A text of a beacon, such as `MOB ACTIVE`.
pub fn text(mmsi: u32, second_word: &str, channel: char) -> Said {
    let says = match second_word {
        "ACTIVE" => Says::Active,
        "TEST" => Says::Test,
        "OFF" | "CANCEL" => Says::Off,
        _ => Says::Doubt,
    };
    let words = format!("{} {second_word}", word(mmsi));
    Said {
        line: support::vdm(&support::text(mmsi, &words), channel),
        truth: Truth::Beacon(mmsi, says),
    }
}

/// A message that no beacon sends, in a beacon's name.
pub fn misused(mmsi: u32) -> Said {
    let message = support::class_b(mmsi, 50.02, -5.02);
    Said { line: support::vdm(&message, 'A'), truth: Truth::Beacon(mmsi, Says::Doubt) }
}

/// The Cospas-Sarsat identity of an EPIRB-AIS.
pub fn hexadecimal(mmsi: u32) -> Said {
    let message = support::text(mmsi, "1D0A2B3C4D5E6F7");
    Said { line: support::vdm(&message, 'B'), truth: Truth::Beacon(mmsi, Says::Doubt) }
}

/// A ship's position: traffic.
pub fn ship(mmsi: u32, lat: f64) -> Said {
    Said { line: support::vdm(&support::class_b(mmsi, lat, -5.1), 'A'), truth: Truth::Other }
}

/// A safety text of a ship or a coast station.
pub fn strangers_text(mmsi: u32, words: &str) -> Said {
    Said { line: support::vdm(&support::text(mmsi, words), 'B'), truth: Truth::Other }
}

/// An own position with its time.
pub fn fix(utc: overside::time::Utc, lat: f64) -> Said {
    let time = utc.to_string();
    let digits = |range: std::ops::Range<usize>| time[range].replace([':', '-'], "");
    let date = [digits(8..10), digits(5..7), digits(2..4)].concat();
    let (place, clock) = (support::nmea_position(lat, -5.0), digits(11..19));
    let body = format!("GPRMC,{clock}.00,A,{place},5.0,090.0,{date},,,A");
    Said { line: support::sealed(&body), truth: Truth::Other }
}

/// What a call is made for (codes of M.493-16 less 100, as a radio puts them into a sentence).
#[derive(Clone, Copy, Debug)]
pub enum Made {
    Overboard,
    Fire,
    Relay,
    Cancel,
    SelfCancel,
    Urgency,
    Test,
    Position,
}

/// A DSC call as the radio tells it.
pub fn call(mmsi: u32, made: Made, minute: u64) -> Said {
    const COAST: &str = "0020000000";
    let place = "1500100500";
    let time = format!("{:02}{:02}", minute / 60 % 24, minute % 60);
    let body = match made {
        Made::Overboard => format!("12,{mmsi}0,12,10,26,{place},{time},,,S,"),
        Made::Fire => format!("12,{mmsi}0,12,00,00,{place},{time},,,S,"),
        Made::Relay => format!("16,{COAST},12,12,00,{place},{time},{mmsi}0,10,S,"),
        Made::Cancel => format!("16,{mmsi}0,12,10,26,{place},{time},{mmsi}0,10,S,"),
        Made::SelfCancel => format!("12,{mmsi}0,12,10,26,{place},{time},{mmsi}0,10,S,"),
        Made::Urgency => format!("16,{mmsi}0,10,00,26,,,,,S,"),
        Made::Test => format!("20,{mmsi}0,08,18,26,,,,,R,"),
        Made::Position => format!("20,{mmsi}0,00,21,26,{place},{time},,,B,"),
    };
    let overboard = mmsi / 1_000_000 == 972;
    let truth = match made {
        Made::Overboard => Call::Overboard,
        // Whatever a MOB beacon is in distress of, somebody is overboard.
        Made::Fire | Made::Urgency if overboard => Call::Overboard,
        Made::Cancel | Made::SelfCancel => Call::Cancel,
        _ => Call::Lesser,
    };
    Said { line: support::sealed(&format!("CVDSC,{body}")), truth: Truth::Call(mmsi, truth) }
}

/// A notice of a crew alarm on board.
pub fn notice(emitter: u32, status: char, second: u64) -> Said {
    let time = format!("{:02}{:02}{:02}.00", second / 3600 % 24, second / 60 % 60, second % 60);
    let body = format!(
        "IIMOB,{emitter:05X},{status},{time},0,0,{time},5000.00,N,00500.00,W,90.0,5.0,200000000,0"
    );
    Said { line: support::sealed(&body), truth: Truth::Notice(emitter, status) }
}

/// Flips the lowest bit of a letter or digit before the checksum, which is wrong then.
pub fn damaged(line: &str, salt: u64) -> Vec<u8> {
    let mut bytes = line.as_bytes().to_vec();
    let end = line.find('*').unwrap_or(line.len());
    let letters: Vec<usize> =
        (0..end).filter(|&place| bytes[place].is_ascii_alphanumeric()).collect();
    let hit = letters[salt as usize % letters.len()];
    bytes[hit] ^= 1;
    bytes
}
