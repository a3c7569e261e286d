//! HDT: true heading (superseded by THS).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--HDT,x.x,T*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hdt {
    /// Heading in degrees true.
    pub heading_deg: Option<f64>,
}

impl Hdt {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self { heading_deg: field::direction(&mut fields)? })
    }
}
