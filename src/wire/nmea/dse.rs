//! DSE: the expansion of a DSC call (IEC 61162-1; Recommendation ITU-R M.821-1).

use serde::ser::SerializeMap as _;
use serde::{Serialize, Serializer};

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::dsc::identity;
use crate::mmsi::Mmsi;

/// The most pairs that are kept; the standard has seven codes.
const PAIRS: usize = 8;

/// `$--DSE,x,x,a,xxxxxxxxxx,xx,c--c,…,xx,c--c*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dse {
    /// The station whose call it expands; may be null in later sentences.
    pub mmsi: Option<Mmsi>,
    /// Decimals of a minute to append to the call's latitude, 0 up to 1.
    pub lat_minutes: Option<f64>,
    /// Decimals of a minute to append to the call's longitude, 0 up to 1.
    pub lon_minutes: Option<f64>,
    /// The other codes with their data, as sent.
    #[serde(serialize_with = "as_map")]
    pub pairs: Vec<(String, String)>,
    #[serde(skip)]
    decimals: Option<(u32, u32)>,
}

impl Dse {
    /// The decimals in ten thousandths of a minute.
    pub(super) fn decimals(&self) -> Option<(u32, u32)> {
        self.decimals
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let mmsi = fields.skip(3).take().and_then(identity);
        let mut decimals = None;
        let mut pairs = Vec::new();
        while !fields.is_at_end() {
            let (Some(code), data) = (fields.take(), fields.take().unwrap_or_default()) else {
                continue;
            };
            if code == b"00" && decimals.is_none() {
                decimals = enhanced_position(data);
            } else if pairs.len() < PAIRS {
                let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
                pairs.push((text(code), text(data)));
            }
        }
        let (lat_minutes, lon_minutes) = decimals
            .map(|(lat, lon)| (f64::from(lat) / 10_000.0, f64::from(lon) / 10_000.0))
            .unzip();
        Ok(Self { mmsi, lat_minutes, lon_minutes, pairs, decimals })
    }
}

/// Code 00: four decimals of the minutes of latitude, four of longitude.
fn enhanced_position(data: &[u8]) -> Option<(u32, u32)> {
    let value = |digits: &[u8]| std::str::from_utf8(digits).ok()?.parse().ok();
    if data.len() != 8 || !data.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Some((value(&data[..4])?, value(&data[4..])?))
}

fn as_map<S: Serializer>(pairs: &[(String, String)], serializer: S) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(Some(pairs.len()))?;
    for (code, data) in pairs {
        map.serialize_entry(code, data)?;
    }
    map.end()
}
