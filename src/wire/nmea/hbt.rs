//! HBT: the heartbeat of a device (IEC 61162-1 8.3.49).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--HBT,x.x,A,x*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hbt {
    /// How often it is sent, in seconds.
    pub interval_s: Option<f64>,
    /// Whether the device says that it works: `A` or `V`.
    pub normal: Option<bool>,
    /// Counts them, 0 to 9.
    pub sequence: Option<u16>,
}

impl Hbt {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            interval_s: field::magnitude(&mut fields)?,
            normal: field::a_or_v(&mut fields),
            sequence: field::small(&mut fields),
        })
    }
}
