//! GNS: fix data of several satellite systems.

use serde::Serialize;

use super::super::letters::Text;
use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// `$--GNS,hhmmss.ss,llll.ll,a,yyyyy.yy,a,c--c,xx,x.x,x.x,x.x,x.x,x.x,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gns {
    /// The time of day of the fix.
    pub time: Option<TimeOfDay>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// One mode letter a satellite system, as in RMC; at most eight are kept.
    pub modes: Text<8>,
    /// Satellites in use.
    pub satellites: Option<u16>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Antenna height above mean sea level in metres.
    pub altitude_m: Option<f64>,
}

impl Gns {
    /// Whether any system has a fix of its own: neither none, nor estimated, manual or simulated.
    pub fn is_fix(&self) -> bool {
        self.modes.contains(['A', 'D', 'P', 'R', 'F'])
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let time = field::time_of_day(&mut fields);
        let (lat, lon) = field::position(&mut fields)?;
        let modes = fields.take().unwrap_or_default();
        let modes = std::str::from_utf8(&modes[..modes.len().min(8)]);
        Ok(Self {
            time,
            lat,
            lon,
            modes: modes.ok().and_then(|m| m.parse().ok()).ok_or(Reject::BadField)?,
            satellites: field::small(&mut fields),
            hdop: field::number(&mut fields)?,
            altitude_m: field::number(&mut fields)?,
        })
    }
}
