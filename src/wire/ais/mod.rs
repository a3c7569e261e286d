//! AIS messages (Recommendation ITU-R M.1371-5, annex 8): one file per family.
//!
//! A value the message says is not available, or that lies outside its range, is `None` and never a
//! number. Field names are those of the JSON that `overside decode` prints.

mod aid;
mod aircraft;
mod base;
mod long_range;
mod motion;
mod position;
mod safety_text;
mod statics;

pub use aid::AidReport;
pub use aircraft::AircraftReport;
pub use base::BaseReport;
pub use long_range::LongRangeReport;
pub use motion::Motion;
pub use position::{ClassBExtended, ClassBReport, CommState, PositionReport};
pub use safety_text::{AddressedText, BeaconWord, SafetyText};
pub use statics::{Dimensions, StaticA, StaticB, Voyage};

use serde::Serialize;

use super::reject::Reject;
use super::sixbit::{BitWriter, Bits};
use crate::mmsi::Mmsi;

/// One AIS message.
#[derive(Clone, Debug, PartialEq)]
pub struct Message {
    /// The message type, 0 to 63; the standard has 1 to 27 (M.1371-6: 28 too).
    pub kind: u8,
    /// The repeat indicator, 0 to 3: how often it was repeated; 3 means no more.
    pub repeat: u8,
    /// The sender.
    pub mmsi: Mmsi,
    /// What the message says.
    pub body: Body,
}

/// The content of a message, by family.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Body {
    /// Types 1, 2 and 3.
    Position(PositionReport),
    /// Types 4 and 11.
    Base(BaseReport),
    /// Type 5.
    Voyage(Voyage),
    /// Type 9.
    Aircraft(AircraftReport),
    /// Type 12.
    AddressedText(AddressedText),
    /// Type 14.
    SafetyText(SafetyText),
    /// Type 18.
    ClassB(ClassBReport),
    /// Type 19.
    ClassBExtended(ClassBExtended),
    /// Type 21.
    Aid(AidReport),
    /// Type 24, part A.
    StaticA(StaticA),
    /// Type 24, part B.
    StaticB(StaticB),
    /// Type 27.
    LongRange(LongRangeReport),
    /// Any other type: its head alone was read.
    Other {},
}

impl Message {
    /// Reads a message.
    ///
    /// # Errors
    /// `TooShort` if it ends before the fields its type cannot do without: no field is ever read
    /// half. `BadField` if the sender's identity has more than nine digits.
    #[inline]
    pub fn decode(bits: &Bits) -> Result<Self, Reject> {
        let (kind, repeat, mmsi) = head(bits)?;
        Ok(Body::decode(bits, kind, mmsi, |body| Self { kind, repeat, mmsi, body }))
    }

    /// Writes a message of type 1, 2, 3, 14, 18 or 24, or `None` for the others: what tests and
    /// rehearsals send.
    pub fn encode(&self) -> Option<BitWriter> {
        let mut bits = BitWriter::default();
        bits.put(self.kind.into(), 6).put(self.repeat.into(), 2);
        bits.put(self.mmsi.value().into(), 30);
        match &self.body {
            Body::Position(report) => report.encode(&mut bits),
            Body::SafetyText(text) => text.encode(&mut bits),
            Body::ClassB(report) => report.encode(&mut bits),
            Body::StaticA(part) => part.encode(&mut bits),
            Body::StaticB(part) => part.encode(&mut bits),
            _ => return None,
        }
        Some(bits)
    }
}

impl Body {
    /// Reads what follows the head of a message and gives it to `finish`: each family where it is
    /// read, since a body is large, and one that is first made and then moved costs more than all
    /// the reading.
    #[inline]
    pub(super) fn decode<T>(bits: &Bits, kind: u8, mmsi: Mmsi, finish: impl Fn(Self) -> T) -> T {
        match kind {
            1..=3 => finish(Self::Position(PositionReport::decode(bits, kind))),
            4 | 11 => finish(Self::Base(BaseReport::decode(bits))),
            5 => finish(Self::Voyage(Voyage::decode(bits))),
            9 => finish(Self::Aircraft(AircraftReport::decode(bits))),
            12 => finish(Self::AddressedText(AddressedText::decode(bits))),
            14 => finish(Self::SafetyText(SafetyText::decode(bits, mmsi))),
            18 => finish(Self::ClassB(ClassBReport::decode(bits))),
            19 => finish(Self::ClassBExtended(ClassBExtended::decode(bits))),
            21 => finish(Self::Aid(AidReport::decode(bits))),
            24 => match bits.unsigned(38, 2) {
                0 => finish(Self::StaticA(StaticA::decode(bits))),
                1 => finish(Self::StaticB(StaticB::decode(bits, mmsi))),
                // Parts 2 and 3 are undefined: no failure.
                _ => finish(Self::Other {}),
            },
            27 => finish(Self::LongRange(LongRangeReport::decode(bits))),
            _ => finish(Self::Other {}),
        }
    }
}

/// Reads type, repeat indicator and sender of a message that is long enough for its type.
///
/// # Errors
/// As [`Message::decode`].
#[inline]
pub(super) fn head(bits: &Bits) -> Result<(u8, u8, Mmsi), Reject> {
    let kind = bits.unsigned(0, 6) as u8;
    if bits.gross_len() < minimum(kind, bits) {
        return Err(Reject::TooShort);
    }
    let mmsi = Mmsi::new(bits.unsigned(8, 30) as u32).ok_or(Reject::BadField)?;
    Ok((kind, bits.unsigned(6, 2) as u8, mmsi))
}

/// Whether a message places its sender where nobody can be, or tells a time that never comes: what
/// a corrupt payload looks like whose checksum is right.
pub(super) fn is_nonsense(bits: &Bits) -> bool {
    let (lon, lat, per_degree) = match bits.unsigned(0, 6) {
        1..=3 | 9 => (bits.signed(61, 28), bits.signed(89, 27), 600_000),
        4 | 11 => (bits.signed(79, 28), bits.signed(107, 27), 600_000),
        18 | 19 => (bits.signed(57, 28), bits.signed(85, 27), 600_000),
        21 => (bits.signed(164, 28), bits.signed(192, 27), 600_000),
        27 => (bits.signed(44, 18), bits.signed(62, 17), 600),
        _ => return false,
    };
    let impossible =
        |raw: i64, limit: i64| raw.abs() > limit * per_degree && raw != (limit + 1) * per_degree;
    let is_base = matches!(bits.unsigned(0, 6), 4 | 11);
    impossible(lon, 180)
        || impossible(lat, 90)
        || (is_base && BaseReport::decode(bits).impossible_time)
}

/// The fewest bits a type is read from, fill bits included. Longer than the table is fine.
///
/// Real aids send 268 bits of type 21, real ships 420 of type 5 and 162 of type 24 part B; a
/// position report is whole with its RAIM flag, since nothing after it places anybody.
#[inline]
fn minimum(kind: u8, bits: &Bits) -> usize {
    const HEAD: usize = 38;
    match kind {
        1..=3 | 18 => 149,
        4 | 9 | 11 => 168,
        5 => 420,
        12 => 72,
        14 => 40,
        19 => 312,
        21 => 268,
        24 => match bits.unsigned(38, 2) {
            _ if bits.gross_len() < 40 => 40,
            0 => 160,
            1 => 162,
            _ => 40,
        },
        27 => 96,
        _ => HEAD,
    }
}

/// Longitude in degrees, east positive; 1/10 000 minute, 28 bits. 181° and all beyond 180 are none.
#[inline]
fn longitude(bits: &Bits, start: usize) -> Option<f64> {
    coordinate(bits.signed(start, 28), 600_000.0, 180.0)
}

/// Latitude in degrees, north positive; 1/10 000 minute, 27 bits. 91° and all beyond 90 are none.
#[inline]
fn latitude(bits: &Bits, start: usize) -> Option<f64> {
    coordinate(bits.signed(start, 27), 600_000.0, 90.0)
}

#[inline]
fn coordinate(raw: i64, resolution: f64, limit: f64) -> Option<f64> {
    let degrees = raw as f64 / resolution;
    (degrees.abs() <= limit).then_some(degrees)
}

/// Speed over ground in knots; 1/10 knot, 10 bits. 1023 is not available; 1022 is that or more.
#[inline]
fn sog(bits: &Bits, start: usize) -> Option<f64> {
    let raw = bits.unsigned(start, 10);
    (raw != 1023).then_some(raw as f64 / 10.0)
}

/// Course over ground in degrees; 1/10 degree, 12 bits. 3600 is not available, more is not used.
#[inline]
fn cog(bits: &Bits, start: usize) -> Option<f64> {
    let raw = bits.unsigned(start, 12);
    (raw < 3600).then_some(raw as f64 / 10.0)
}

/// True heading in whole degrees, 9 bits. 511 is not available, 360 to 510 are not used.
#[inline]
fn heading(bits: &Bits, start: usize) -> Option<u16> {
    let raw = bits.unsigned(start, 9) as u16;
    (raw < 360).then_some(raw)
}

fn put_longitude(bits: &mut BitWriter, degrees: Option<f64>) {
    bits.put(raw_coordinate(degrees.unwrap_or(181.0)), 28);
}

fn put_latitude(bits: &mut BitWriter, degrees: Option<f64>) {
    bits.put(raw_coordinate(degrees.unwrap_or(91.0)), 27);
}

fn raw_coordinate(degrees: f64) -> u64 {
    (degrees * 600_000.0).round() as i64 as u64
}

fn raw_tenths(value: Option<f64>, none: u64) -> u64 {
    value.map_or(none, |v| (v * 10.0).round() as u64)
}
