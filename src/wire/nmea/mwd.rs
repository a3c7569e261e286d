//! MWD: direction and speed of the true wind, over ground.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--MWD,x.x,T,x.x,M,x.x,N,x.x,M*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mwd {
    /// Where the wind comes from, in degrees true.
    pub from_deg: Option<f64>,
    /// Where the wind comes from, in degrees magnetic.
    pub from_magnetic_deg: Option<f64>,
    /// Wind speed in knots; made from metres a second if that alone is given.
    pub speed_kn: Option<f64>,
}

impl Mwd {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let from_deg = field::direction(&mut fields)?;
        let from_magnetic_deg = field::direction(fields.skip(1))?;
        let knots = field::magnitude(fields.skip(1))?;
        let metres = field::magnitude(fields.skip(1))?;
        let speed_kn = knots.or(metres.map(|speed| speed * 3600.0 / 1852.0));
        Ok(Self { from_deg, from_magnetic_deg, speed_kn })
    }
}
