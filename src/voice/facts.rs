//! All that a text may need, each `None` where it is not known.

use std::time::Duration;

use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::units::{Degrees, Knots, NauticalMiles};

/// What is known at one moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// The own ship.
    pub ship: Ship,
    /// The present moment.
    pub now: Option<Utc>,
    /// Where the own ship is.
    pub own: Option<AgedPosition>,
    /// Who is in danger. `None` if nothing was heard of anybody.
    pub casualty: Option<Casualty>,
    /// When this ship's radio sent a DSC distress alert.
    pub alert_sent: Option<Utc>,
}

/// The own ship, as she calls herself on the radio.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ship {
    /// Her name.
    pub name: Option<String>,
    /// Her call sign.
    pub call_sign: Option<String>,
    /// Her maritime identity.
    pub mmsi: Option<Mmsi>,
    /// How many persons are aboard; those overboard count.
    pub persons_aboard: Option<u32>,
}

/// Somebody in danger.
#[derive(Clone, Debug, PartialEq)]
pub struct Casualty {
    /// Whose casualty it is: that decides who calls MAYDAY.
    pub whose: Whose,
    /// What has happened.
    pub nature: Option<Nature>,
    /// Whom the crew calls it, from the muster.
    pub name: Option<String>,
    /// The identity of the beacon, or of the ship in distress.
    pub identity: Option<Mmsi>,
    /// Where it is or was last.
    pub place: Option<AgedPosition>,
    /// Where it bears from the own ship.
    pub bearing: Option<Degrees>,
    /// How far it is from the own ship.
    pub range: Option<NauticalMiles>,
    /// How it drifts.
    pub drift: Option<Drift>,
    /// Where it is reckoned to be now, while it is silent.
    pub reckoned: Option<Position>,
    /// How long ago it was heard first: the beacon's first message, the call, or the point that was
    /// set by hand.
    pub since: Option<Duration>,
    /// How many others of the own crew are overboard.
    pub others: u32,
    /// Where each of these is or was last; `None` for one that has given no position.
    pub other_places: Vec<Option<AgedPosition>>,
    /// Whether the person wears a lifejacket.
    pub lifejacket: Option<bool>,
    /// Whether there is a light.
    pub light: Option<bool>,
    /// What a call said, as it is told on the watch page.
    pub report: Option<String>,
}

impl Casualty {
    /// One of which nothing is known but whose it is.
    pub const fn of(whose: Whose) -> Self {
        Self {
            whose,
            nature: None,
            name: None,
            identity: None,
            place: None,
            bearing: None,
            range: None,
            drift: None,
            reckoned: None,
            since: None,
            others: 0,
            other_places: Vec::new(),
            lifejacket: None,
            light: None,
            report: None,
        }
    }
}

/// Whose casualty it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whose {
    /// One of the own crew, or a beacon of the own ship.
    Own,
    /// Another ship, or a beacon that is not on the muster.
    Another,
}

/// What has happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nature {
    /// A person is overboard.
    PersonOverboard,
    /// A survival craft's transmitter is active.
    SurvivalCraft,
    /// A ship's emergency beacon is active.
    EmergencyBeacon,
    /// What a DSC call said it is, in plain words.
    Called(&'static str),
}

/// A position and how old it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AgedPosition {
    /// Where.
    pub position: Position,
    /// How long ago that was; `None` if nobody knows.
    pub age: Option<Duration>,
}

/// How somebody drifts over the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// Whither.
    pub set: Degrees,
    /// How fast.
    pub rate: Knots,
}
