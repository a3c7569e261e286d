//! DPT: depth.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--DPT,x.x,x.x,x.x*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dpt {
    /// Water under the transducer in metres.
    pub depth_m: Option<f64>,
    /// From the transducer up to the waterline (positive) or down to the keel (negative), metres.
    pub offset_m: Option<f64>,
    /// The range scale in use, metres.
    pub range_m: Option<f64>,
}

impl Dpt {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            depth_m: field::magnitude(&mut fields)?,
            offset_m: field::number(&mut fields)?,
            range_m: field::magnitude(&mut fields)?,
        })
    }
}
