//! MTW: water temperature.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--MTW,x.x,C*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mtw {
    /// Water temperature in degrees Celsius.
    pub temperature_c: Option<f64>,
}

impl Mtw {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self { temperature_c: field::number(&mut fields)? })
    }
}
