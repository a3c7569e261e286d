//! Base station report and UTC response: types 4 and 11 (M.1371-5 table 51).

use serde::Serialize;

use super::super::sixbit::Bits;
use super::{latitude, longitude};
use crate::time::Utc;

/// Types 4 and 11: a station that tells the time and where it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BaseReport {
    /// The station's UTC; `None` if any part of it is not available or there is no such moment.
    pub utc: Option<Utc>,
    /// Whether the position is better than 10 m.
    pub position_accuracy: bool,
    /// Longitude in degrees, east positive.
    pub lon: Option<f64>,
    /// Latitude in degrees, north positive.
    pub lat: Option<f64>,
    /// Type of position-fixing device, 0 (undefined) to 15.
    pub epfd: u8,
    /// Whether the date and time were given and yet are no moment: month 13, 31 February, hour 25.
    #[serde(skip)]
    pub impossible_time: bool,
}

impl BaseReport {
    pub(super) fn decode(bits: &Bits) -> Self {
        let field = |start, count| bits.unsigned(start, count) as u32;
        let [year, month, day] = [field(38, 14), field(52, 4), field(56, 5)];
        let [hour, minute, second] = [field(61, 5), field(66, 6), field(72, 6)];
        let given =
            year != 0 && month != 0 && day != 0 && hour != 24 && minute != 60 && second != 60;
        let utc = (hour < 24 && minute < 60 && second < 60)
            .then(|| (hour * 3600 + minute * 60 + second) * 1000)
            .and_then(|ms| Utc::from_date_and_ms(year as i32, month, day, ms));
        Self {
            utc: utc.filter(|_| given),
            position_accuracy: bits.flag(78),
            lon: longitude(bits, 79),
            lat: latitude(bits, 107),
            epfd: bits.unsigned(134, 4) as u8,
            impossible_time: given && utc.is_none(),
        }
    }
}
