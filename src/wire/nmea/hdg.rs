//! HDG: magnetic heading, deviation and variation.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--HDG,x.x,x.x,a,x.x,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hdg {
    /// What the compass shows, in degrees.
    pub compass_deg: Option<f64>,
    /// Its deviation in degrees, east positive.
    pub deviation_deg: Option<f64>,
    /// Magnetic variation in degrees, east positive.
    pub variation_deg: Option<f64>,
}

impl Hdg {
    /// Heading in degrees magnetic: the compass corrected for deviation, 0 up to 360.
    pub fn magnetic_deg(&self) -> Option<f64> {
        Some((self.compass_deg? + self.deviation_deg.unwrap_or(0.0)).rem_euclid(360.0))
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            compass_deg: field::direction(&mut fields)?,
            deviation_deg: field::east_or_west(&mut fields)?,
            variation_deg: field::east_or_west(&mut fields)?,
        })
    }
}
