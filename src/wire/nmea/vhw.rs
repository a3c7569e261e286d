//! VHW: speed through the water and heading.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--VHW,x.x,T,x.x,M,x.x,N,x.x,K*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vhw {
    /// Heading in degrees true.
    pub heading_deg: Option<f64>,
    /// Heading in degrees magnetic.
    pub magnetic_deg: Option<f64>,
    /// Speed through the water in knots; made from km/h if that alone is given. Negative astern.
    pub speed_kn: Option<f64>,
}

impl Vhw {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let heading_deg = field::direction(&mut fields)?;
        let magnetic_deg = field::direction(fields.skip(1))?;
        let knots = field::number(fields.skip(1))?;
        let kmh = field::number(fields.skip(1))?;
        let speed_kn = knots.or(kmh.map(|v| v / 1.852));
        Ok(Self { heading_deg, magnetic_deg, speed_kn })
    }
}
