//! What does not change from minute to minute: types 5 (M.1371-5 table 52) and 24 (tables 78, 79).

use serde::Serialize;

use super::super::letters::Text;
use super::super::sixbit::{BitWriter, Bits};
use crate::mmsi::{Mmsi, Station};

/// Where the position's reference point lies in the ship, in metres. All four are `None` if all are
/// sent as zero; 511 (63 to the sides) means that or more.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Dimensions {
    /// To the bow.
    pub to_bow_m: Option<u16>,
    /// To the stern.
    pub to_stern_m: Option<u16>,
    /// To the port side.
    pub to_port_m: Option<u16>,
    /// To the starboard side.
    pub to_starboard_m: Option<u16>,
}

impl Dimensions {
    pub(super) fn decode(bits: &Bits, start: usize) -> Self {
        if bits.unsigned(start, 30) == 0 {
            return Self::default();
        }
        let field = |offset, count| Some(bits.unsigned(start + offset, count) as u16);
        Self {
            to_bow_m: field(0, 9),
            to_stern_m: field(9, 9),
            to_port_m: field(18, 6),
            to_starboard_m: field(24, 6),
        }
    }

    fn encode(self, bits: &mut BitWriter) {
        for (metres, count) in [
            (self.to_bow_m, 9),
            (self.to_stern_m, 9),
            (self.to_port_m, 6),
            (self.to_starboard_m, 6),
        ] {
            bits.put(metres.unwrap_or(0).into(), count);
        }
    }
}

/// Type of ship and cargo (table 53); 0 is not available.
pub(super) fn ship_type(bits: &Bits, start: usize) -> Option<u8> {
    Some(bits.unsigned(start, 8) as u8).filter(|&kind| kind != 0)
}

/// Type 5: who a class A ship is and where she is bound.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Voyage {
    /// IMO number, or a flag state's own number from 10 000 000.
    pub imo: Option<u32>,
    /// The radio call sign.
    pub call_sign: Option<Text<7>>,
    /// The ship's name.
    pub name: Option<Text<20>>,
    /// Type of ship and cargo, 1 to 255 (table 53).
    pub ship_type: Option<u8>,
    /// Her size.
    #[serde(flatten)]
    pub dimensions: Dimensions,
    /// Type of position-fixing device, 0 (undefined) to 15.
    pub epfd: u8,
    /// Estimated arrival, UTC: month, 1 to 12.
    pub eta_month: Option<u8>,
    /// Day of the month, 1 to 31.
    pub eta_day: Option<u8>,
    /// Hour, 0 to 23.
    pub eta_hour: Option<u8>,
    /// Minute, 0 to 59.
    pub eta_minute: Option<u8>,
    /// Greatest draught in metres; 25.5 means that or more.
    pub draught_m: Option<f64>,
    /// Where she is bound.
    pub destination: Option<Text<20>>,
}

impl Voyage {
    pub(super) fn decode(bits: &Bits) -> Self {
        let within = |start, count, range: std::ops::RangeInclusive<u8>| {
            Some(bits.unsigned(start, count) as u8).filter(|value| range.contains(value))
        };
        Self {
            imo: Some(bits.unsigned(40, 30) as u32).filter(|&imo| imo != 0),
            call_sign: bits.text(70, 7).some(),
            name: bits.text(112, 20).some(),
            ship_type: ship_type(bits, 232),
            dimensions: Dimensions::decode(bits, 240),
            epfd: bits.unsigned(270, 4) as u8,
            eta_month: within(274, 4, 1..=12),
            eta_day: within(278, 5, 1..=31),
            eta_hour: within(283, 5, 0..=23),
            eta_minute: within(288, 6, 0..=59),
            draught_m: Some(bits.unsigned(294, 8)).filter(|&d| d != 0).map(|d| d as f64 / 10.0),
            destination: bits.text(302, 20).some(),
        }
    }
}

/// Type 24 part A: a class B ship's name.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StaticA {
    /// Always `A`.
    pub part: char,
    /// The ship's name.
    pub name: Option<Text<20>>,
}

impl StaticA {
    /// The part with this name.
    pub fn new(name: Option<Text<20>>) -> Self {
        Self { part: 'A', name }
    }

    pub(super) fn decode(bits: &Bits) -> Self {
        Self::new(bits.text(40, 20).some())
    }

    pub(super) fn encode(&self, bits: &mut BitWriter) {
        bits.put(0, 2).put_text(self.name.as_deref().unwrap_or_default(), 20);
    }
}

/// Type 24 part B: what a class B ship is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StaticB {
    /// Always `B`.
    pub part: char,
    /// Type of ship and cargo, 1 to 255 (table 53).
    pub ship_type: Option<u8>,
    /// The maker's three letters.
    pub vendor: Option<Text<3>>,
    /// The radio call sign.
    pub call_sign: Option<Text<7>>,
    /// Her size. A craft of a parent ship (98…) sends the parent's identity in its place.
    #[serde(flatten)]
    pub dimensions: Dimensions,
    /// The parent ship of a 98… craft: bits 132 to 161, as five open decoders read them. M.1371-5
    /// has nothing of it.
    pub parent_mmsi: Option<Mmsi>,
}

impl StaticB {
    pub(super) fn decode(bits: &Bits, mmsi: Mmsi) -> Self {
        // Most such craft send their size all the same; a parent is a ship.
        let parent = Mmsi::new(bits.unsigned(132, 30) as u32).filter(|parent| {
            mmsi.station() == Station::ParentCraft && parent.station() == Station::Ship
        });
        Self {
            part: 'B',
            ship_type: ship_type(bits, 40),
            vendor: bits.text(48, 3).some(),
            call_sign: bits.text(90, 7).some(),
            dimensions: match parent {
                Some(_) => Dimensions::default(),
                None => Dimensions::decode(bits, 132),
            },
            parent_mmsi: parent,
        }
    }

    pub(super) fn encode(&self, bits: &mut BitWriter) {
        bits.put(1, 2).put(self.ship_type.unwrap_or(0).into(), 8);
        bits.put_text(self.vendor.as_deref().unwrap_or_default(), 3).put(0, 24);
        bits.put_text(self.call_sign.as_deref().unwrap_or_default(), 7);
        match self.parent_mmsi {
            Some(parent) => {
                bits.put(parent.value().into(), 30);
            }
            None => self.dimensions.encode(bits),
        }
        bits.put(0, 6);
    }
}
