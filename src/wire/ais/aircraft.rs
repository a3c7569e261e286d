//! Report of an aircraft that searches: type 9 (M.1371-5 table 59).

use serde::Serialize;

use super::super::sixbit::Bits;
use super::{cog, latitude, longitude};

/// Type 9.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AircraftReport {
    /// Altitude in metres, 0 to 4094; 4094 means that or more.
    pub altitude_m: Option<u16>,
    /// Speed over ground in whole knots; 1022 means that or more.
    pub sog_kn: Option<u16>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// The UTC second of the fix, 0 to 59; 60 to 63 as in a position report.
    pub utc_second: u8,
}

impl AircraftReport {
    pub(super) fn decode(bits: &Bits) -> Self {
        let unless =
            |start, count, none| Some(bits.unsigned(start, count) as u16).filter(|&v| v != none);
        Self {
            altitude_m: unless(38, 12, 4095),
            sog_kn: unless(50, 10, 1023),
            lon: longitude(bits, 61),
            lat: latitude(bits, 89),
            cog_deg: cog(bits, 116),
            utc_second: bits.unsigned(128, 6) as u8,
        }
    }
}
