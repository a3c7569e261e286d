//! Aid to navigation report: type 21 (M.1371-5 table 73).

use serde::Serialize;

use super::super::letters::Text;
use super::super::sixbit::Bits;
use super::{latitude, longitude};

/// Type 21.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AidReport {
    /// Kind of aid, 0 (not specified) to 31 (table 74).
    pub aid_type: u8,
    /// The name with its extension, up to 34 characters.
    pub name: Option<Text<34>>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Whether it lies off its charted position; valid only with a time stamp.
    pub off_position: bool,
    /// Whether there is a signal and no object; `false` if the report ends before it says so.
    pub virtual_aid: bool,
}

impl AidReport {
    pub(super) fn decode(bits: &Bits) -> Self {
        // Joined before trimming: a blank at the end of the first twenty is part of the name.
        let name = bits.raw_text::<20>(43, 20);
        let whole = name.len() == 20;
        let more = if whole { bits.raw_text::<14>(272, 14) } else { Text::EMPTY };
        Self {
            aid_type: bits.unsigned(38, 5) as u8,
            name: name.joined(&more).some(),
            lon: longitude(bits, 164),
            lat: latitude(bits, 192),
            off_position: bits.flag(259),
            // A report of 268 bits has no such flag, and two fill bits in its place.
            virtual_aid: bits.len() > 269 && bits.flag(269),
        }
    }
}
