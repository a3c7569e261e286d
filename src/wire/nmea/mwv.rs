//! MWV: wind speed and angle.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--MWV,x.x,a,x.x,a,A*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mwv {
    /// Where the wind comes from, in degrees from the bow, clockwise.
    pub angle_deg: Option<f64>,
    /// Whether it is the wind felt on board or the true wind.
    pub reference: Option<WindReference>,
    /// Wind speed in knots.
    pub speed_kn: Option<f64>,
    /// Whether the talker vouches for it.
    pub valid: bool,
}

/// Which wind an MWV sentence tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WindReference {
    /// `R`: as felt on the moving boat.
    Relative,
    /// `T`: as felt at rest; its angle still counts from the bow.
    True,
}

impl Mwv {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let angle_deg = field::direction(&mut fields)?;
        let reference = match field::letter(&mut fields) {
            Some('R') => Some(WindReference::Relative),
            Some('T') => Some(WindReference::True),
            _ => None,
        };
        let speed = field::magnitude(&mut fields)?;
        let knots_per_unit = match field::letter(&mut fields) {
            Some('N') => Some(1.0),
            Some('K') => Some(1.0 / 1.852),
            Some('M') => Some(3600.0 / 1852.0),
            _ => None,
        };
        let speed_kn = speed.zip(knots_per_unit).map(|(speed, factor)| speed * factor);
        Ok(Self { angle_deg, reference, speed_kn, valid: fields.take() == Some(b"A") })
    }
}
