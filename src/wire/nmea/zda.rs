//! ZDA: time and date.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};
use crate::time::Utc;

/// `$--ZDA,hhmmss.ss,xx,xx,xxxx,xx,xx*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Zda {
    /// The moment, if date and time are known.
    pub utc: Option<Utc>,
    /// The time of day.
    pub time: Option<TimeOfDay>,
    /// Hours to add to local time to get UTC, -13 to 13.
    pub zone_hours: Option<i8>,
}

impl Zda {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let time = field::time_of_day(&mut fields);
        let [day, month, year] = std::array::from_fn(|_| field::small(&mut fields));
        let utc = match (time, day, month, year) {
            (Some(time), Some(day), Some(month), Some(year)) => {
                time.on((year.into(), month.into(), day.into()))
            }
            _ => None,
        };
        let zone_hours = field::number(&mut fields)?.map(|hours| hours as i8);
        Ok(Self { utc, time, zone_hours })
    }
}
