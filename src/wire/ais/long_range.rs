//! Long-range report: type 27 (M.1371-5 table 84).

use serde::Serialize;

use super::super::sixbit::Bits;
use super::coordinate;

/// Type 27, coarse and short, meant for satellites.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LongRangeReport {
    /// Navigational status, raw, as in a position report.
    pub nav_status: u8,
    /// Longitude in degrees, east positive, to a tenth of a minute.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive, to a tenth of a minute.
    pub lat: Option<f64>,
    /// Speed over ground in whole knots, 0 to 62.
    pub sog_kn: Option<u8>,
    /// Course over ground in whole degrees true.
    pub cog_deg: Option<u16>,
}

impl LongRangeReport {
    pub(super) fn decode(bits: &Bits) -> Self {
        Self {
            nav_status: bits.unsigned(40, 4) as u8,
            lon: coordinate(bits.signed(44, 18), 600.0, 180.0),
            lat: coordinate(bits.signed(62, 17), 600.0, 90.0),
            sog_kn: Some(bits.unsigned(79, 6) as u8).filter(|&sog| sog != 63),
            cog_deg: Some(bits.unsigned(85, 9) as u16).filter(|&cog| cog < 360),
        }
    }
}
