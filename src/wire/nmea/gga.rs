//! GGA: GNSS fix data.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// `$--GGA,hhmmss.ss,llll.ll,a,yyyyy.yy,a,x,xx,x.x,x.x,M,x.x,M,x.x,xxxx*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gga {
    /// The time of day of the fix; GGA has no date.
    pub time: Option<TimeOfDay>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Quality: 0 none, 1 to 5 a fix, 6 estimated, 7 manual, 8 simulator.
    pub quality: Option<u16>,
    /// Satellites in use.
    pub satellites: Option<u16>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Antenna height above mean sea level in metres.
    pub altitude_m: Option<f64>,
}

impl Gga {
    /// Whether the position is a satellite fix.
    pub fn is_fix(&self) -> bool {
        matches!(self.quality, Some(1..=5))
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let time = field::time_of_day(&mut fields);
        let (lat, lon) = field::position(&mut fields)?;
        Ok(Self {
            time,
            lat,
            lon,
            quality: field::small(&mut fields),
            satellites: field::small(&mut fields),
            hdop: field::number(&mut fields)?,
            altitude_m: field::number(&mut fields)?,
        })
    }
}
