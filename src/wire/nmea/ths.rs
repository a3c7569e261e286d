//! THS: true heading and status.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--THS,x.x,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ths {
    /// Heading in degrees true.
    pub heading_deg: Option<f64>,
    /// Mode: A autonomous, E estimated, M manual, S simulator, V not valid.
    pub mode: Option<char>,
}

impl Ths {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let heading_deg = field::direction(&mut fields)?;
        Ok(Self { heading_deg, mode: field::letter(&mut fields) })
    }
}
