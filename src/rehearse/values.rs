//! Values of a scenario's keys, each with the limits that its type names.

use std::time::Duration;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer};

use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::wire::Text;

/// A number from `LOW` to `HIGH`, both included.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[serde(try_from = "f64")]
pub(super) struct Within<const LOW: i32, const HIGH: i32>(pub f64);

/// A share of all, 0 to 1.
pub(super) type Share = Within<0, 1>;

/// Seconds since the start of the scenario, or from one event to another.
pub(super) type Seconds = Within<0, 86_400>;

/// The seconds between two sentences of a kind.
pub(super) type Every = Within<1, 3600>;

impl<const LOW: i32, const HIGH: i32> TryFrom<f64> for Within<LOW, HIGH> {
    type Error = String;

    fn try_from(value: f64) -> Result<Self, String> {
        if (f64::from(LOW)..=f64::from(HIGH)).contains(&value) {
            Ok(Self(value))
        } else {
            Err(format!("{value} is not from {LOW} to {HIGH}"))
        }
    }
}

impl Share {
    /// Everything.
    pub fn all() -> Self {
        Self(1.0)
    }
}

/// Everything.
pub(super) fn everything() -> Share {
    Share::all()
}

/// The shortest interval.
pub(super) fn every_second() -> Every {
    Within(1.0)
}

/// A text of at most `N` six-bit characters.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(try_from = "String")]
pub(super) struct SixBit<const N: usize>(pub Text<N>);

impl<const N: usize> TryFrom<String> for SixBit<N> {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse().map(Self).map_err(|_| {
            format!("must have at most {N} characters of six-bit ASCII: capitals, digits, signs")
        })
    }
}

/// The name of an input in a TAG block: 1 to 15 letters, digits, `_` or `-` (NMEA 0183 4.10).
#[derive(Clone, Debug, Deserialize)]
#[serde(try_from = "String")]
pub(super) struct SourceName(pub String);

impl TryFrom<String> for SourceName {
    type Error = &'static str;

    fn try_from(name: String) -> Result<Self, Self::Error> {
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
        if (1..=15).contains(&name.len()) && name.chars().all(plain) {
            Ok(Self(name))
        } else {
            Err("a name of an input has 1 to 15 letters, digits, _ or -")
        }
    }
}

/// A TOML date-time with its offset from UTC, so early that the longest rehearsal ends before the
/// year 10000.
pub(super) fn moment<'de, D: Deserializer<'de>>(from: D) -> Result<Utc, D::Error> {
    const ROOM: Duration = Duration::from_secs(3 * 86_400);
    let written = toml::value::Datetime::deserialize(from)?.to_string();
    Utc::parse_rfc3339(&written)
        .filter(|utc| utc.plus(ROOM).ms_since(*utc) == ROOM.as_millis() as i64)
        .ok_or_else(|| {
            D::Error::custom("needs date, time and offset, such as 2026-06-14T02:00:00Z")
        })
}

/// An identity of a survivor beacon.
pub(super) fn beacon_identity<'de, D: Deserializer<'de>>(from: D) -> Result<Mmsi, D::Error> {
    let mmsi = Mmsi::deserialize(from)?;
    mmsi.beacon_kind()
        .map(|_| mmsi)
        .ok_or_else(|| D::Error::custom("an identity of a beacon begins with 970, 972 or 974"))
}
