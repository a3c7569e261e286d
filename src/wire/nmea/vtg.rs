//! VTG: course and speed over ground.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--VTG,x.x,T,x.x,M,x.x,N,x.x,K,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vtg {
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Course over ground in degrees magnetic.
    pub cog_magnetic_deg: Option<f64>,
    /// Speed over ground in knots; made from km/h if that alone is given.
    pub sog_kn: Option<f64>,
    /// Mode, as in RMC.
    pub mode: Option<char>,
}

impl Vtg {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let cog_deg = field::direction(&mut fields)?;
        let cog_magnetic_deg = field::direction(fields.skip(1))?;
        let knots = field::magnitude(fields.skip(1))?;
        let kmh = field::magnitude(fields.skip(1))?;
        let mode = field::letter(fields.skip(1));
        let sog_kn = knots.or(kmh.map(|v| v / 1.852));
        Ok(Self { cog_deg, cog_magnetic_deg, sog_kn, mode })
    }
}
