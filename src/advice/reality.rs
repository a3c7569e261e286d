//! Real or test, as far as it is known.

use serde::Serialize;

use super::Who;
use super::words::{in_capitals, name_of};
use crate::mmsi::BeaconKind;
use crate::watch::{BeaconView, CasualtyId, Mode};

/// Whether it is real.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reality {
    /// Somebody on board set the point by hand.
    Marked,
    /// One of the crew has called by DSC, and no beacon is heard.
    Called,
    /// ACTIVE when last heard, and silent since.
    SignalLost,
    /// Perhaps in danger when last heard, and silent since.
    PerhapsLost,
    /// It says ACTIVE.
    Active,
    /// It goes on for longer than a test does.
    TooLongForATest,
    /// Nothing says that it is not.
    PerhapsActive,
    /// It says TEST.
    Test,
    /// All that is heard of it fits a test, and its text has not come.
    ProbablyTest,
    /// It was switched off.
    Off,
}

impl Reality {
    /// That of a beacon, or of a point set by hand.
    pub fn of(beacon: &BeaconView) -> Self {
        match (beacon.id, beacon.mode) {
            (CasualtyId::Mark(_), _) => Self::Marked,
            (_, Some(Mode::Test)) if !beacon.casualty => Self::Test,
            (_, Some(Mode::TestPresumed)) if !beacon.casualty => Self::ProbablyTest,
            (_, Some(Mode::Off)) if !beacon.casualty => Self::Off,
            _ if beacon.is_call() => Self::Called,
            (_, Some(Mode::Active)) if beacon.silent => Self::SignalLost,
            _ if beacon.silent => Self::PerhapsLost,
            (_, Some(Mode::Active)) => Self::Active,
            (_, Some(Mode::Test | Mode::TestPresumed)) => Self::TooLongForATest,
            _ => Self::PerhapsActive,
        }
    }

    /// The sentence about somebody.
    pub fn headline(self, who: &Who) -> String {
        let name = in_capitals(who.kind, who.person.as_deref(), who.id);
        match self {
            Self::Marked => format!("{name} OVERBOARD"),
            Self::Called if who.person.is_none() => "ONE OF YOUR CREW OVERBOARD".to_owned(),
            Self::Called => format!("{name} OVERBOARD"),
            Self::Active if who.kind == BeaconKind::Mob => format!("{name} OVERBOARD"),
            Self::Active => format!("{name} ACTIVE"),
            Self::SignalLost if who.kind == BeaconKind::Mob => {
                format!("{name} OVERBOARD, SIGNAL LOST")
            }
            Self::SignalLost => format!("{name} ACTIVE, SIGNAL LOST"),
            Self::PerhapsLost => format!("{name}: PERHAPS ACTIVE, SIGNAL LOST"),
            Self::TooLongForATest => format!("{name}: TOO LONG FOR A TEST"),
            Self::PerhapsActive => format!("{name}: PERHAPS ACTIVE"),
            Self::Off => format!("{name}: beacon switched OFF"),
            Self::Test => format!("TEST of {}", name_of(who)),
            Self::ProbablyTest => format!("PROBABLY A TEST of {}", name_of(who)),
        }
    }
}
