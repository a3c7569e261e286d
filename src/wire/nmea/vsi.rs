//! VSI: with what signal a receiver heard a message (IEC 62320-1).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// The slots of a frame are numbered from 0 (M.1371-5 annex 2, 3.1.2).
const LAST_SLOT: u16 = 2249;

/// `$--VSI,c--c,x,hhmmss.ss,xxxx,x.x,x.x*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vsi {
    /// The receiver, as it calls itself.
    pub receiver: Option<String>,
    /// The sequential number of the VDM it belongs to, 0 to 9; `None` for most of one sentence.
    pub link: Option<u16>,
    /// When the message came in.
    pub time: Option<TimeOfDay>,
    /// The first slot, 0 to 2249; `None` also if beyond.
    pub slot: Option<u16>,
    /// Signal strength in dBm.
    pub signal_dbm: Option<f64>,
    /// Signal to noise ratio in dB.
    pub signal_to_noise_db: Option<f64>,
}

impl Vsi {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            receiver: field::text(&mut fields),
            link: field::small(&mut fields),
            time: field::time_of_day(&mut fields),
            slot: field::small(&mut fields).filter(|&slot| slot <= LAST_SLOT),
            signal_dbm: field::number(&mut fields)?,
            signal_to_noise_db: field::number(&mut fields)?,
        })
    }
}
