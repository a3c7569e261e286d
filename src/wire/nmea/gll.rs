//! GLL: geographic position.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// `$--GLL,llll.ll,a,yyyyy.yy,a,hhmmss.ss,A,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gll {
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// The time of day of the position.
    pub time: Option<TimeOfDay>,
    /// Whether the talker vouches for it: status `A` and no mode `N`.
    pub valid: bool,
    /// Mode, as in RMC.
    pub mode: Option<char>,
}

impl Gll {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let (lat, lon) = field::position(&mut fields)?;
        let time = field::time_of_day(&mut fields);
        let status = fields.take();
        let mode = field::letter(&mut fields);
        Ok(Self { lat, lon, time, valid: status == Some(b"A") && mode != Some('N'), mode })
    }
}
