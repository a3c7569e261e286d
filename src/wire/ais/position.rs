//! Position reports of ships and beacons: types 1, 2 and 3 (M.1371-5 table 48), 18 (table 70) and
//! 19 (table 71).

use serde::Serialize;

use super::super::letters::Text;
use super::super::sixbit::{BitWriter, Bits};
use super::{Dimensions, cog, heading, latitude, longitude, sog};
use super::{put_latitude, put_longitude, raw_tenths};
use crate::position::Position;

/// Types 1, 2, 3: class A ships, and survivor beacons (type 1).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PositionReport {
    /// Navigational status, raw. 14: AIS-SART, MOB or EPIRB-AIS active. 15: undefined, the default,
    /// also sent by those devices under test.
    pub nav_status: u8,
    /// Rate of turn as sent, -128 (not available) to 127; positive to starboard.
    pub rate_of_turn_raw: i8,
    /// Rate of turn in degrees a minute, positive to starboard, at most 708.7; `None` if not
    /// available or if only the direction is known (raw ±127).
    pub rate_of_turn_deg_min: Option<f64>,
    /// Speed over ground in knots; 102.2 means that or more.
    pub sog_kn: Option<f64>,
    /// Whether the position is better than 10 m.
    pub position_accuracy: bool,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Heading in degrees true.
    pub heading_deg: Option<u16>,
    /// The UTC second of the fix, 0 to 59; 60 not available, 61 manual input, 62 dead reckoning,
    /// 63 the positioning system is inoperative.
    pub utc_second: u8,
    /// Special manoeuvre: 0 not available, 1 not engaged, 2 engaged.
    pub manoeuvre: u8,
    /// Whether RAIM is in use.
    pub raim: bool,
    /// The communication state.
    #[serde(flatten)]
    pub comm_state: CommState,
}

/// The communication state of a position report (M.1371-5 tables 18 and 20); all `None` if the
/// message ends before it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum CommState {
    /// Types 1 and 2.
    Sotdma {
        /// 0 UTC direct, 1 UTC indirect, 2 base station, 3 another station.
        sync_state: Option<u8>,
        /// Frames until a new slot is chosen, 7 to 0. A beacon under test sends 0.
        slot_timeout: Option<u8>,
        /// What it means depends on the time-out (table 19), 0 to 16383.
        slot_submessage: Option<u16>,
    },
    /// Type 3.
    Itdma {
        /// 0 UTC direct, 1 UTC indirect, 2 base station, 3 another station.
        sync_state: Option<u8>,
        /// Slots to the next transmission, 0 to 8191.
        slot_increment: Option<u16>,
    },
}

impl PositionReport {
    /// A report that has nothing to tell: every field at its default.
    pub fn unavailable() -> Self {
        Self {
            nav_status: 15,
            rate_of_turn_raw: -128,
            rate_of_turn_deg_min: None,
            sog_kn: None,
            position_accuracy: false,
            lon: None,
            lat: None,
            cog_deg: None,
            heading_deg: None,
            utc_second: 60,
            manoeuvre: 0,
            raim: false,
            comm_state: CommState::sotdma(0, 0, 0),
        }
    }

    /// Where it says it is; `None` for 91/181, "not available".
    pub fn position(&self) -> Option<Position> {
        Position::of(self.lat, self.lon)
    }

    #[inline(always)]
    pub(super) fn decode(bits: &Bits, kind: u8) -> Self {
        let rate_of_turn_raw = bits.signed(42, 8) as i8;
        Self {
            nav_status: bits.unsigned(38, 4) as u8,
            rate_of_turn_raw,
            rate_of_turn_deg_min: rate_of_turn(rate_of_turn_raw),
            sog_kn: sog(bits, 50),
            position_accuracy: bits.flag(60),
            lon: longitude(bits, 61),
            lat: latitude(bits, 89),
            cog_deg: cog(bits, 116),
            heading_deg: heading(bits, 128),
            utc_second: bits.unsigned(137, 6) as u8,
            manoeuvre: bits.unsigned(143, 2) as u8,
            raim: bits.flag(148),
            comm_state: CommState::decode(bits, kind),
        }
    }

    pub(super) fn encode(&self, bits: &mut BitWriter) {
        bits.put(self.nav_status.into(), 4);
        bits.put(self.rate_of_turn_raw as u64, 8);
        bits.put(raw_tenths(self.sog_kn, 1023), 10);
        bits.put(self.position_accuracy.into(), 1);
        put_longitude(bits, self.lon);
        put_latitude(bits, self.lat);
        bits.put(raw_tenths(self.cog_deg, 3600), 12);
        bits.put(self.heading_deg.unwrap_or(511).into(), 9);
        bits.put(self.utc_second.into(), 6);
        bits.put(self.manoeuvre.into(), 2);
        bits.put(0, 3).put(self.raim.into(), 1);
        self.comm_state.encode(bits);
    }
}

impl CommState {
    /// The state of a type 1 or 2 message.
    pub const fn sotdma(sync_state: u8, slot_timeout: u8, slot_submessage: u16) -> Self {
        Self::Sotdma {
            sync_state: Some(sync_state),
            slot_timeout: Some(slot_timeout),
            slot_submessage: Some(slot_submessage),
        }
    }

    #[inline]
    fn decode(bits: &Bits, kind: u8) -> Self {
        let whole = bits.gross_len() >= 168;
        let field = |start, count| whole.then(|| bits.unsigned(start, count) as u16);
        let sync_state = field(149, 2).map(|v| v as u8);
        if kind == 3 {
            Self::Itdma { sync_state, slot_increment: field(151, 13) }
        } else {
            Self::Sotdma {
                sync_state,
                slot_timeout: field(151, 3).map(|v| v as u8),
                slot_submessage: field(154, 14),
            }
        }
    }

    fn encode(&self, bits: &mut BitWriter) {
        match *self {
            Self::Sotdma { sync_state, slot_timeout, slot_submessage } => {
                bits.put(sync_state.unwrap_or(0).into(), 2);
                bits.put(slot_timeout.unwrap_or(0).into(), 3);
                bits.put(slot_submessage.unwrap_or(0).into(), 14);
            }
            Self::Itdma { sync_state, slot_increment } => {
                bits.put(sync_state.unwrap_or(0).into(), 2);
                bits.put(slot_increment.unwrap_or(0).into(), 13);
                // One slot, not kept.
                bits.put(0, 4);
            }
        }
    }
}

/// The sensor's rate from the sent one, which is 4.733 times its square root (M.1371-5 table 48).
/// ±127 only tells that the ship turns faster than 5° in 30 s, and is not squared.
#[inline]
fn rate_of_turn(raw: i8) -> Option<f64> {
    if matches!(raw, -128 | -127 | 127) {
        return None;
    }
    let root = f64::from(raw) / 4.733;
    Some(root * root.abs())
}

/// Type 18: class B ships.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassBReport {
    /// Speed over ground in knots; 102.2 means that or more.
    pub sog_kn: Option<f64>,
    /// Whether the position is better than 10 m.
    pub position_accuracy: bool,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Heading in degrees true.
    pub heading_deg: Option<u16>,
    /// As [`PositionReport::utc_second`].
    pub utc_second: u8,
    /// Whether the unit waits for a free slot (CS) instead of reserving one (SO).
    pub carrier_sense: bool,
    /// Whether RAIM is in use.
    pub raim: bool,
}

impl ClassBReport {
    #[inline(always)]
    pub(super) fn decode(bits: &Bits) -> Self {
        Self {
            sog_kn: sog(bits, 46),
            position_accuracy: bits.flag(56),
            lon: longitude(bits, 57),
            lat: latitude(bits, 85),
            cog_deg: cog(bits, 112),
            heading_deg: heading(bits, 124),
            utc_second: bits.unsigned(133, 6) as u8,
            carrier_sense: bits.flag(141),
            raim: bits.flag(147),
        }
    }

    pub(super) fn encode(&self, bits: &mut BitWriter) {
        bits.put(0, 8).put(raw_tenths(self.sog_kn, 1023), 10);
        bits.put(self.position_accuracy.into(), 1);
        put_longitude(bits, self.lon);
        put_latitude(bits, self.lat);
        bits.put(raw_tenths(self.cog_deg, 3600), 12);
        bits.put(self.heading_deg.unwrap_or(511).into(), 9);
        bits.put(self.utc_second.into(), 6);
        bits.put(0, 2).put(self.carrier_sense.into(), 1);
        // No display, DSC in the whole band, answers message 22, autonomous.
        bits.put(0b01110, 5).put(self.raim.into(), 1);
        // The state a carrier-sense unit fills in (table 70): 1 and 1100000000000000110b.
        bits.put(1, 1).put(393_222, 19);
    }
}

/// Type 19: the older extended report of class B ships.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClassBExtended {
    /// Speed over ground in knots; 102.2 means that or more.
    pub sog_kn: Option<f64>,
    /// Whether the position is better than 10 m.
    pub position_accuracy: bool,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Heading in degrees true.
    pub heading_deg: Option<u16>,
    /// As [`PositionReport::utc_second`].
    pub utc_second: u8,
    /// Type 19 has no such flag: always `None`.
    pub carrier_sense: Option<bool>,
    /// Whether RAIM is in use.
    pub raim: bool,
    /// The ship's name.
    pub name: Option<Text<20>>,
    /// Type of ship and cargo, 1 to 255 (table 53).
    pub ship_type: Option<u8>,
    /// Her size.
    #[serde(flatten)]
    pub dimensions: Dimensions,
}

impl ClassBExtended {
    pub(super) fn decode(bits: &Bits) -> Self {
        Self {
            sog_kn: sog(bits, 46),
            position_accuracy: bits.flag(56),
            lon: longitude(bits, 57),
            lat: latitude(bits, 85),
            cog_deg: cog(bits, 112),
            heading_deg: heading(bits, 124),
            utc_second: bits.unsigned(133, 6) as u8,
            carrier_sense: None,
            raim: bits.flag(305),
            name: bits.text(143, 20).some(),
            ship_type: super::statics::ship_type(bits, 263),
            dimensions: Dimensions::decode(bits, 271),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values computed from the formula of M.1371-5 table 48.
    #[test]
    fn rate_of_turn_is_squared_with_its_sign() {
        let near = |raw, expected: f64| (rate_of_turn(raw).unwrap() - expected).abs() < 0.05;
        assert!(near(15, 10.04) && near(60, 160.7) && near(126, 708.7) && near(-126, -708.7));
        assert_eq!(rate_of_turn(0), Some(0.0));
        for raw in [-128, -127, 127] {
            assert_eq!(rate_of_turn(raw), None);
        }
    }
}
