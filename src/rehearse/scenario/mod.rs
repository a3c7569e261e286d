//! The form of a scenario: a TOML file, seconds counted from its start.
//!
//! ```toml
//! about = "The Mate's beacon is tested alongside."
//! start = 2026-06-14T08:00:00Z
//! duration_s = 180
//! seed = 1
//!
//! [own]
//! mmsi = 200000000
//! lat = 57.7
//! lon = 10.583
//!
//! [[beacon]]
//! mmsi = 972000017
//! mode = "test"
//! activate_s = 60
//! ```

use serde::Deserialize;
use toml::Spanned;

mod beacon;
mod call;
mod check;

use super::Error;
use super::values::{
    Every, Seconds, Share, SixBit, SourceName, Within, every_second, everything, moment,
};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
pub(super) use beacon::{Beacon, BeaconMode, Edition, LastWord, Reception, TextVariant};
pub(super) use call::{Call, CallMeaning, Nature};

/// A scenario that can be played. Every key but those without a default may be left out.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What happens, for whoever reads the file.
    pub about: String,
    /// When it begins.
    #[serde(deserialize_with = "moment")]
    pub(super) start: Utc,
    /// How long it goes on; at most a day.
    pub(super) duration_s: Within<1, 86_400>,
    /// What decides everything that chance does.
    pub(super) seed: u64,
    /// The share of lines in which one character comes in wrong.
    #[serde(default)]
    pub(super) damage: Share,
    /// The names of the inputs.
    #[serde(default)]
    pub(super) sources: Sources,
    /// The AIS receivers; one that is called as `sources` says if none is given. All hear the same
    /// transmissions, each with its own losses.
    #[serde(default, rename = "receiver")]
    pub(super) receivers: Vec<Receiver>,
    /// Where the water goes, with whatever floats in it: own ship under way, and casualties.
    pub(super) current: Option<Current>,
    /// The share of an active beacon's messages that the waves let through, beside `reception`:
    /// its antenna is close to the water. Ships' antennas are high.
    #[serde(default = "everything")]
    pub(super) sea: Share,
    /// Whether identities of beacons may be those of real ones (any manufacturer code) when this is
    /// played live on this computer. On a network they never may.
    #[serde(default)]
    pub(super) real_identities: bool,
    pub(super) own: Own,
    #[serde(default, rename = "beacon")]
    pub(super) beacons: Vec<Beacon>,
    #[serde(default, rename = "call")]
    pub(super) calls: Vec<Call>,
    #[serde(default, rename = "text")]
    pub(super) texts: Vec<SafetyText>,
    pub(super) traffic: Option<Traffic>,
    /// Whether each line says that it is one of a drill: [`Scenario::drill`] decides.
    #[serde(skip)]
    pub(super) is_drill: bool,
}

/// An AIS receiver on board.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Receiver {
    pub name: Spanned<SourceName>,
    /// Its own part in what is heard, beside the senders'; it hears everything if not given.
    pub reception: Option<Reception>,
    /// The share of its lines in which one character comes in wrong; as the scenario says if not
    /// given.
    pub damage: Option<Share>,
    /// The channel that it does not hear at all.
    pub deaf_channel: Option<DeafChannel>,
}

/// AIS 1 or AIS 2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub(super) enum DeafChannel {
    A,
    B,
}

impl DeafChannel {
    /// As sentences write it.
    pub const fn letter(self) -> char {
        match self {
            Self::A => 'A',
            Self::B => 'B',
        }
    }
}

/// A current: the direction towards which the water goes, and how fast.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Current {
    pub set_deg: Within<0, 360>,
    pub rate_kn: Within<0, 20>,
}

/// What the inputs are called: the AIS receiver, the GNSS receiver, the instruments and the radio.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Sources {
    pub ais: SourceName,
    pub gnss: SourceName,
    pub instruments: SourceName,
    pub vhf: SourceName,
}

/// Own ship. She begins at a place and follows her legs; the last one goes on to the end. Without
/// legs she lies still, moored, whatever the current.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Own {
    pub mmsi: Mmsi,
    pub name: Option<SixBit<20>>,
    pub call_sign: Option<SixBit<7>>,
    pub lat: Within<-90, 90>,
    pub lon: Within<-180, 180>,
    /// Where her bow points before the first leg.
    #[serde(default)]
    pub heading_deg: Within<0, 360>,
    #[serde(default, rename = "leg")]
    pub legs: Vec<Leg>,
    /// How far the GNSS receiver is off, at most.
    #[serde(default)]
    pub jitter_m: Within<0, 1000>,
    #[serde(default = "every_second")]
    pub rmc_every_s: Every,
    pub hdt_every_s: Option<Every>,
    pub vhw_every_s: Option<Every>,
    pub wind: Option<Wind>,
    /// Her own position report (message 18) as the AIS unit tells it on board.
    pub vdo_every_s: Option<Every>,
    /// When the GNSS receiver has no position.
    #[serde(default)]
    pub gnss_lost: Vec<Spanned<GnssLost>>,
}

/// A course and a speed for some minutes: those of bow and log, through the water. Without a current
/// they are the same over ground.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Leg {
    pub course_deg: Within<0, 360>,
    pub speed_kn: Within<0, 60>,
    pub minutes: Within<0, 1440>,
    /// How fast she turns to it, the shorter way; at once if not given.
    pub turn_deg_min: Option<Within<1, 3600>>,
}

/// The true wind, over ground, for MWV sentences of the wind felt on board and for a casualty's
/// leeway.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wind {
    pub from_deg: Within<0, 360>,
    pub speed_kn: Within<0, 100>,
    #[serde(default = "every_second")]
    pub every_s: Every,
}

/// Some time without a GNSS position.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct GnssLost {
    pub from_s: f64,
    pub until_s: f64,
    /// Whether the receiver says so (status V) instead of nothing at all.
    #[serde(default)]
    pub says_so: bool,
}

/// A message 14 of a ship or a coast station.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SafetyText {
    pub at_s: Seconds,
    pub mmsi: Mmsi,
    pub text: SixBit<161>,
}

/// Ships around, on straight courses; where they are and go is left to chance.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Traffic {
    /// The names of class A ships.
    #[serde(default)]
    pub class_a: Vec<SixBit<20>>,
    /// The names of class B ships.
    #[serde(default)]
    pub class_b: Vec<SixBit<20>>,
    /// The first ship's identity, 200000101 if not given; the others count up from it.
    pub first_mmsi: Option<Mmsi>,
    /// How far from own ship they begin, at most.
    #[serde(default = "Traffic::within_nm")]
    pub within_nm: Within<1, 100>,
    #[serde(default = "Reception::of_ships")]
    pub reception: Reception,
}

impl Scenario {
    /// Reads a scenario.
    ///
    /// # Errors
    /// The first key that is unknown, missing or impossible, with its line.
    pub fn parse(text: &str) -> Result<Self, Error> {
        let scenario: Self = toml::from_str(text).map_err(|e| Error::of_toml(text, &e))?;
        check::check(&scenario).map_err(|(span, reason)| Error::at(text, span, reason))?;
        Ok(scenario)
    }
}

/// The place that two keys give together.
pub(super) fn place(
    lat: Option<Within<-90, 90>>,
    lon: Option<Within<-180, 180>>,
) -> Option<Position> {
    Position::new(lat?.0, lon?.0)
}

impl Traffic {
    fn within_nm() -> Within<1, 100> {
        Within(8.0)
    }
}

impl Default for Sources {
    fn default() -> Self {
        let name = |name: &str| SourceName(name.to_owned());
        Self { ais: name("ais"), gnss: name("gnss"), instruments: name("gnss"), vhf: name("vhf") }
    }
}
