//! MOB: man-overboard notification of a crew alarm on board (IEC 61162-1, from edition 4).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::dsc::identity;
use super::field::{self, TimeOfDay};
use crate::mmsi::Mmsi;
use crate::position::Position;

/// `$--MOB,hhhhh,a,hhmmss.ss,x,x.x,hhmmss.ss,llll.ll,a,yyyyy.yy,a,x.x,x.x,xxxxxxxxx,x*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mob {
    /// The emitter, five hexadecimal digits; `None` if unknown.
    pub emitter: Option<String>,
    /// What it does; `None` if the letter is unknown.
    pub status: Option<EmitterStatus>,
    /// The time of day it was activated.
    pub activated: Option<TimeOfDay>,
    /// Where the position is from: 0 estimated by the ship, 1 the emitter's own, 6 an error.
    pub position_source: Option<u16>,
    /// The time of day of the position.
    pub position_time: Option<TimeOfDay>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Course over ground in degrees true.
    pub cog_deg: Option<f64>,
    /// Speed over ground in knots.
    pub sog_kn: Option<f64>,
    /// The ship it belongs to.
    pub mmsi: Option<Mmsi>,
    /// Battery: 0 good, 1 low, 6 an error.
    pub battery: Option<u16>,
}

/// The status letter of a MOB sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EmitterStatus {
    /// `A`: it was activated.
    Activated,
    /// `T`: it is tested.
    Test,
    /// `M`: somebody pressed a button on board.
    ManualButton,
    /// `V`: it is not in use.
    NotInUse,
    /// `E`: it is faulty.
    Error,
}

impl Mob {
    /// Where it says the emitter is or was.
    pub fn position(&self) -> Option<Position> {
        Position::of(self.lat, self.lon)
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let emitter =
            fields.take().filter(|id| id.len() <= 8 && id.iter().all(u8::is_ascii_hexdigit));
        let status = match fields.take() {
            Some(b"A") => Some(EmitterStatus::Activated),
            Some(b"T") => Some(EmitterStatus::Test),
            Some(b"M") => Some(EmitterStatus::ManualButton),
            Some(b"V") => Some(EmitterStatus::NotInUse),
            Some(b"E") => Some(EmitterStatus::Error),
            _ => None,
        };
        let activated = field::time_of_day(&mut fields);
        let position_source = field::small(&mut fields);
        // Days since the activation; one library reads a date here. Neither decides anything.
        let position_time = field::time_of_day(fields.skip(1));
        // A notice with a damaged position is still a notice: somebody may be in the water.
        let (lat, lon) = field::position(&mut fields.clone()).unwrap_or((None, None));
        fields.skip(4);
        Ok(Self {
            emitter: emitter.map(|id| String::from_utf8_lossy(id).into_owned()),
            status,
            activated,
            position_source,
            position_time,
            lat,
            lon,
            cog_deg: field::direction(&mut fields).unwrap_or(None),
            sog_kn: field::magnitude(&mut fields).unwrap_or(None),
            mmsi: fields.take().and_then(identity),
            battery: field::small(&mut fields),
        })
    }
}
