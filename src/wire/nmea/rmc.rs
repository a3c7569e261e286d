//! RMC: recommended minimum GNSS data.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};
use crate::time::Utc;

/// `$--RMC,hhmmss.ss,A,llll.ll,a,yyyyy.yy,a,x.x,x.x,ddmmyy,x.x,a,a,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rmc {
    /// The moment of the fix, if both date and time are known.
    pub utc: Option<Utc>,
    /// Its time of day.
    pub time: Option<TimeOfDay>,
    /// Whether the receiver vouches for the fix: status `A`, and no mode `N`. A position may be
    /// sent that is not valid.
    pub valid: bool,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Speed over ground in knots.
    pub sog_kn: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Magnetic variation in degrees, east positive.
    pub variation_deg: Option<f64>,
    /// Mode: A autonomous, D differential, E estimated, M manual, S simulator, N not valid, and
    /// others for better fixes.
    pub mode: Option<char>,
}

impl Rmc {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let time = field::time_of_day(&mut fields);
        let status = fields.take();
        let (lat, lon) = field::position(&mut fields)?;
        let sog_kn = field::magnitude(&mut fields)?;
        let cog_deg = field::direction(&mut fields)?;
        let date = fields.take().and_then(field::date);
        let variation_deg = field::east_or_west(&mut fields)?;
        let mode = field::letter(&mut fields);
        let utc = time.zip(date).and_then(|(time, date)| time.on(date));
        let valid = status == Some(b"A") && mode != Some('N');
        Ok(Self { utc, time, valid, lat, lon, sog_kn, cog_deg, variation_deg, mode })
    }
}
