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

use super::Error;
use super::values::{
    Every, Seconds, Share, SixBit, SourceName, Within, beacon_identity, every_second, moment,
};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;

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
    pub(super) own: Own,
    #[serde(default, rename = "beacon")]
    pub(super) beacons: Vec<Beacon>,
    #[serde(default, rename = "call")]
    pub(super) calls: Vec<Call>,
    #[serde(default, rename = "text")]
    pub(super) texts: Vec<SafetyText>,
    pub(super) traffic: Option<Traffic>,
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
/// legs she lies still. There is no current: course is heading, and speed is speed through water.
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

/// A course and a speed over ground for some minutes.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Leg {
    pub course_deg: Within<0, 360>,
    pub speed_kn: Within<0, 60>,
    pub minutes: Within<0, 1440>,
    /// How fast she turns to it, the shorter way; at once if not given.
    pub turn_deg_min: Option<Within<1, 3600>>,
}

/// The true wind, for MWV sentences of the wind felt on board.
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

/// A survivor beacon: AIS-SART (970), MOB (972) or EPIRB-AIS (974), by its identity.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Beacon {
    #[serde(deserialize_with = "beacon_identity")]
    pub mmsi: Mmsi,
    pub mode: BeaconMode,
    /// When it is switched on or inflated: the moment its wearer goes overboard.
    pub activate_s: Seconds,
    /// When it is switched off; active to the end if not given.
    pub off_s: Option<Spanned<f64>>,
    /// What its last burst says.
    #[serde(default)]
    pub off_says: LastWord,
    /// How long it takes to its first fix.
    #[serde(default)]
    pub fix_delay_s: Seconds,
    /// When it has lost its fix and repeats its last place.
    #[serde(default)]
    pub fix_lost: Vec<Spanned<Window>>,
    /// Where it is when it is activated; own ship's place if not given.
    pub lat: Option<Within<-90, 90>>,
    pub lon: Option<Within<-180, 180>>,
    /// How far from that place, to begin with.
    pub offset: Option<Offset>,
    pub drift: Option<Drift>,
    /// From when it is on board again and goes where the ship goes.
    pub aboard_from_s: Option<Seconds>,
    /// How far its fixes are off, at most.
    #[serde(default)]
    pub jitter_m: Within<0, 1000>,
    #[serde(default)]
    pub text_variant: TextVariant,
    /// Maker's suffix and prefix behind the text, after M.1371-6: `A01`.
    pub suffix: Option<SixBit<3>>,
    #[serde(default = "Reception::of_beacon")]
    pub reception: Reception,
    #[serde(default)]
    pub fades: Vec<Spanned<Fade>>,
}

/// What a beacon was switched on for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum BeaconMode {
    Test,
    Active,
}

/// The text of the one burst after a beacon was switched off (M.1371-6), or none (M.1371-5).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum LastWord {
    #[default]
    Off,
    Cancel,
    Nothing,
}

/// Which bursts of a cycle carry the text. The sources differ: M.1371-5 annex 9 section 5 wants
/// messages with a communication state in the first burst, which message 14 is not; EN 303 098
/// V2.2.1 (B.1, B.2), as reported, puts it into the first and fifth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum TextVariant {
    FirstAndFifth,
    #[default]
    Later,
}

/// A bearing and range from somewhere.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Offset {
    pub bearing_deg: Within<0, 360>,
    pub range_nm: Within<0, 100>,
}

/// Where a casualty is carried.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Drift {
    pub set_deg: Within<0, 360>,
    pub rate_kn: Within<0, 20>,
}

/// How probably a message is heard: `base` up to `sure_nm`, then less, and nothing from
/// `horizon_nm`.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reception {
    #[serde(default = "Share::all")]
    pub base: Share,
    pub sure_nm: Within<0, 1000>,
    pub horizon_nm: Within<0, 1000>,
}

/// A time in which less is heard.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Fade {
    pub from_s: f64,
    pub until_s: f64,
    /// The share that is left.
    #[serde(default)]
    pub heard: Share,
}

/// A span of time.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Window {
    pub from_s: f64,
    pub until_s: f64,
}

/// A DSC call that the radio on board receives.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Call {
    pub at_s: Seconds,
    pub meaning: CallMeaning,
    pub caller: Mmsi,
    /// Whom a relay or an acknowledgement is about.
    pub casualty: Option<Mmsi>,
    /// Man overboard for 972 identities, else undesignated, if not given.
    pub nature: Option<Nature>,
    /// Whose place at that time it carries: own ship's, or a beacon's, which may have none yet.
    pub position_of: Option<Spanned<Mmsi>>,
    pub lat: Option<Within<-90, 90>>,
    pub lon: Option<Within<-180, 180>>,
    /// Whether a DSE with the decimals of the minutes follows.
    #[serde(default)]
    pub expansion: bool,
}

/// What a call means; its format, category and telecommands follow from that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum CallMeaning {
    DistressAlert,
    DistressRelay,
    DistressAcknowledgement,
    DistressCancel,
    Urgency,
    Safety,
    Test,
    Position,
}

/// Natures of distress.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Nature {
    Fire,
    Flooding,
    Collision,
    Grounding,
    Listing,
    Sinking,
    DisabledAdrift,
    Undesignated,
    Abandoning,
    Piracy,
    ManOverboard,
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
        scenario.check().map_err(|(span, reason)| Error::at(text, span, reason))?;
        Ok(scenario)
    }

    /// What no single key can tell.
    fn check(&self) -> Result<(), (std::ops::Range<usize>, &'static str)> {
        const BACKWARDS: &str = "`until_s` must be later than `from_s`";
        for lost in &self.own.gnss_lost {
            let GnssLost { from_s, until_s, .. } = lost.get_ref();
            ordered(*from_s, *until_s, lost.span(), BACKWARDS)?;
        }
        for beacon in &self.beacons {
            if let Some(off) = &beacon.off_s {
                const EARLY: &str = "a beacon is switched off after it was activated";
                ordered(beacon.activate_s.0, *off.get_ref(), off.span(), EARLY)?;
                if beacon.mode == BeaconMode::Test {
                    return Err((off.span(), "a test ends by itself after one burst"));
                }
                let is_sart = beacon.mmsi.beacon_kind() == Some(BeaconKind::Sart);
                if is_sart && beacon.off_says == LastWord::Cancel {
                    return Err((off.span(), "an AIS-SART says OFF, it has no CANCEL"));
                }
            }
            for lost in &beacon.fix_lost {
                ordered(lost.get_ref().from_s, lost.get_ref().until_s, lost.span(), BACKWARDS)?;
            }
            for fade in &beacon.fades {
                ordered(fade.get_ref().from_s, fade.get_ref().until_s, fade.span(), BACKWARDS)?;
            }
        }
        for of in self.calls.iter().filter_map(|call| call.position_of.as_ref()) {
            let is_beacon = self.beacons.iter().any(|beacon| beacon.mmsi == *of.get_ref());
            if !is_beacon && self.own.mmsi != *of.get_ref() {
                return Err((of.span(), "neither own ship nor a beacon of this scenario"));
            }
        }
        Ok(())
    }
}

fn ordered(
    early: f64,
    late: f64,
    span: std::ops::Range<usize>,
    reason: &'static str,
) -> Result<(), (std::ops::Range<usize>, &'static str)> {
    if early < late { Ok(()) } else { Err((span, reason)) }
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

impl Reception {
    /// A working range of 2 to 4 NM for a beacon in the water (seamanship: common practice, no
    /// measured series).
    fn of_beacon() -> Self {
        Self { base: Share::all(), sure_nm: Within(2.0), horizon_nm: Within(4.0) }
    }

    /// Ships with high antennas: far beyond what any rehearsal needs.
    fn of_ships() -> Self {
        Self { base: Share::all(), sure_nm: Within(15.0), horizon_nm: Within(30.0) }
    }
}

impl Default for Sources {
    fn default() -> Self {
        let name = |name: &str| SourceName(name.to_owned());
        Self { ais: name("ais"), gnss: name("gnss"), instruments: name("gnss"), vhf: name("vhf") }
    }
}
