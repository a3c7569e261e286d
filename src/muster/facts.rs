//! What is known beside the register: self-tests that were judged, checks that somebody made.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::mmsi::Mmsi;
use crate::proof::Judgement;
use crate::time::Utc;

/// All that was written down, in any order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Self-tests that were judged.
    pub proofs: Vec<Proof>,
    /// Checks that no receiver can hear.
    pub checks: Vec<Check>,
}

/// A self-test that was judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proof {
    /// The beacon.
    pub mmsi: Mmsi,
    /// When it was judged.
    pub at: Utc,
    /// How it was judged.
    pub verdict: Judgement,
    /// How it was received, in a few words.
    pub summary: String,
    /// The number of its entry in the logbook.
    pub entry: i64,
}

/// A check that somebody made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// The name of a lifejacket, or the nine digits of a beacon.
    pub item: String,
    /// What was checked.
    pub kind: CheckKind,
    /// The day of the check.
    pub on: NaiveDate,
    /// Whether it was in order.
    pub ok: bool,
    /// Who made it, if that was said.
    pub by: Option<String>,
    /// The number of its entry in the logbook; of two checks of a day the higher is the later.
    pub entry: i64,
}

/// What can be checked without a receiver.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckKind {
    /// A lifejacket's gas cylinder, weighed against the minimum that is stamped on it.
    Cylinder,
    /// A lifejacket's service.
    Service,
    /// Whether a lifejacket, blown up by mouth or pump, holds its air for a day.
    Inflation,
    /// The date on a lifejacket's automatic head or cartridge.
    Cartridge,
    /// A lifejacket's crotch strap.
    CrotchStrap,
    /// A lifejacket's light.
    Light,
    /// A beacon's battery, as the beacon itself shows it.
    Battery,
    /// What a beacon's lamp shows at its functional test.
    Lamp,
}

impl CheckKind {
    /// Every kind, in the order of [`Self::NAMES`].
    pub const ALL: [Self; 8] = [
        Self::Cylinder,
        Self::Service,
        Self::Inflation,
        Self::Cartridge,
        Self::CrotchStrap,
        Self::Light,
        Self::Battery,
        Self::Lamp,
    ];

    /// Every kind, by the name it has in JSON.
    pub const NAMES: [&str; 8] = [
        "cylinder",
        "service",
        "inflation",
        "cartridge",
        "crotch_strap",
        "light",
        "battery",
        "lamp",
    ];

    /// The kind of this name.
    pub fn of_name(name: &str) -> Option<Self> {
        let place = Self::NAMES.iter().position(|it| *it == name)?;
        Some(Self::ALL[place])
    }

    /// Whether it is made on a beacon, not on a lifejacket.
    pub const fn is_of_beacon(self) -> bool {
        matches!(self, Self::Battery | Self::Lamp)
    }

    /// Its name for a person.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cylinder => "cylinder",
            Self::Service => "service",
            Self::Inflation => "inflation",
            Self::Cartridge => "cartridge",
            Self::CrotchStrap => "crotch strap",
            Self::Light => "light",
            Self::Battery => "battery",
            Self::Lamp => "lamp",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_name() {
        for (kind, name) in CheckKind::ALL.into_iter().zip(CheckKind::NAMES) {
            assert_eq!(serde_json::to_value(kind).unwrap(), name);
            assert_eq!(CheckKind::of_name(name), Some(kind));
        }
    }
}
