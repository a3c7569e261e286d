//! HDM: magnetic heading (not for new designs since 2008, and still on many boats).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--HDM,x.x,M*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hdm {
    /// Heading in degrees magnetic.
    pub magnetic_deg: Option<f64>,
}

impl Hdm {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self { magnetic_deg: field::direction(&mut fields)? })
    }
}
