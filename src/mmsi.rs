//! Maritime identities: nine digits, and what they say of the station behind them
//! (Recommendation ITU-R M.585-10).

use std::fmt;

use serde::{Deserialize, Serialize};

/// A maritime identity of nine digits, leading zeros included.
///
/// On the air it is a 30-bit number (ITU-R M.1371-5, table 48); values above 999 999 999 are no
/// identity. In JSON and TOML it is a plain integer; printed, it has all nine digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u32", into = "u32")]
pub struct Mmsi(u32);

/// A number that has more than nine digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0} is no maritime identity: it has more than nine digits")]
pub struct NotAnIdentity(pub u32);

impl Mmsi {
    /// The identity with this value, or `None` above 999 999 999.
    pub const fn new(value: u32) -> Option<Self> {
        if value <= 999_999_999 { Some(Self(value)) } else { None }
    }

    /// The identity as a number.
    pub const fn value(self) -> u32 {
        self.0
    }

    /// The kind of station the digits stand for.
    pub const fn station(self) -> Station {
        let v = self.0;
        // The first digit of a MID, the three-digit country code, is 2 to 7.
        const fn mid(first: u32) -> bool {
            first >= 2 && first <= 7
        }
        match v / 100_000_000 {
            2..=7 => Station::Ship,
            0 if v == 9_990_000 => Station::Coast, // 009990000, all coast stations
            0 => {
                let second = v / 10_000_000;
                let third = v / 1_000_000 % 10;
                if mid(second) {
                    Station::Group
                } else if second == 0 && mid(third) {
                    Station::Coast
                } else {
                    Station::Unassigned
                }
            }
            1 if v / 1_000_000 == 111 && mid(v / 100_000 % 10) => Station::SarAircraft,
            8 if mid(v / 10_000_000 % 10) => Station::Handheld,
            9 => match v / 1_000_000 {
                970 => Station::Sart,
                972 => Station::Mob,
                974 => Station::Epirb,
                979 => Station::Amrd,
                prefix => match (prefix / 10, mid(prefix % 10)) {
                    (98, true) => Station::ParentCraft,
                    (99, true) => Station::AidToNavigation,
                    _ => Station::Unassigned,
                },
            },
            _ => Station::Unassigned,
        }
    }

    /// The kind of survivor beacon, if the identity is one's: 970, 972 or 974.
    /// 979 is an autonomous radio device, not a survivor.
    pub const fn beacon_kind(self) -> Option<BeaconKind> {
        match self.station() {
            Station::Sart => Some(BeaconKind::Sart),
            Station::Mob => Some(BeaconKind::Mob),
            Station::Epirb => Some(BeaconKind::Epirb),
            _ => None,
        }
    }
}

impl fmt::Display for Mmsi {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:09}", self.0)
    }
}

impl TryFrom<u32> for Mmsi {
    type Error = NotAnIdentity;

    fn try_from(value: u32) -> Result<Self, NotAnIdentity> {
        Self::new(value).ok_or(NotAnIdentity(value))
    }
}

impl From<Mmsi> for u32 {
    fn from(mmsi: Mmsi) -> u32 {
        mmsi.0
    }
}

/// What kind of station an identity belongs to (ITU-R M.585-10, annexes 1 and 2).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Station {
    /// `MIDxxxxxx`: a ship station.
    Ship,
    /// `00MIDxxxx`: a coast station.
    Coast,
    /// `0MIDxxxxx`: a group of ship stations.
    Group,
    /// `111MIDxxx`: an aircraft for search and rescue.
    SarAircraft,
    /// `8MIDxxxxx`: a handheld VHF transceiver with DSC and GNSS.
    Handheld,
    /// `98MIDxxxx`: a craft that belongs to a parent ship.
    ParentCraft,
    /// `99MIDxxxx`: an aid to navigation.
    AidToNavigation,
    /// `970xxyyyy`: an AIS search and rescue transmitter.
    Sart,
    /// `972xxyyyy`: a man-overboard device.
    Mob,
    /// `974xxyyyy`: an emergency beacon with AIS.
    Epirb,
    /// `979yyyyyy`: an autonomous maritime radio device, group B. Not a distress device.
    Amrd,
    /// No kind is assigned to these digits.
    Unassigned,
}

/// The three kinds of survivor beacon that transmit on AIS.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BeaconKind {
    /// Identity 972: a person in the water.
    Mob,
    /// Identity 970: a survival craft's AIS search and rescue transmitter.
    Sart,
    /// Identity 974: a ship's emergency beacon.
    Epirb,
}

impl BeaconKind {
    /// The word that begins its texts (ITU-R M.1371-5 annex 9, section 6).
    pub const fn word(self) -> &'static str {
        match self {
            Self::Mob => "MOB",
            Self::Sart => "SART",
            Self::Epirb => "EPIRB",
        }
    }
}

impl fmt::Display for BeaconKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mob => "man-overboard beacon",
            Self::Sart => "survival craft transmitter",
            Self::Epirb => "emergency beacon",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The patterns of ITU-R M.585-10, one row each.
    #[test]
    fn the_digits_tell_the_kind_of_station() {
        for (value, station) in [
            (200_000_000, Station::Ship),
            (775_999_999, Station::Ship),
            (23_200_001, Station::Group),
            (2_320_001, Station::Coast),
            (9_990_000, Station::Coast),
            (111_232_511, Station::SarAircraft),
            (111_832_511, Station::Unassigned),
            (110_232_511, Station::Unassigned),
            (823_200_001, Station::Handheld),
            (982_581_440, Station::ParentCraft),
            (992_599_919, Station::AidToNavigation),
            (970_000_001, Station::Sart),
            (972_000_001, Station::Mob),
            (974_000_001, Station::Epirb),
            (979_324_783, Station::Amrd),
            (971_000_001, Station::Unassigned),
            (977_582_822, Station::Unassigned),
            (0, Station::Unassigned),
        ] {
            assert_eq!(Mmsi::new(value).unwrap().station(), station, "{value:09}");
        }
    }

    #[test]
    fn more_than_nine_digits_are_no_identity() {
        assert_eq!(Mmsi::new(1_000_000_000), None);
        assert_eq!(Mmsi::new(2_320_001).unwrap().to_string(), "002320001");
    }
}
