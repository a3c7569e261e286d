//! The keys of a beacon.

use serde::Deserialize;
use toml::Spanned;

use super::Current;
use crate::mmsi::Mmsi;
use crate::rehearse::values::{Seconds, Share, SixBit, Within, beacon_identity};

/// A survivor beacon: AIS-SART (970), MOB (972) or EPIRB-AIS (974), by its identity.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Beacon {
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
    /// How the water carries it; as the scenario's current does if not given.
    pub drift: Option<Current>,
    /// How the wind moves it through the water; not at all if not given.
    pub leeway: Option<Spanned<Leeway>>,
    /// From when it is on board again and goes where the ship goes.
    pub aboard_from_s: Option<Seconds>,
    /// How far its fixes are off, at most.
    #[serde(default)]
    pub jitter_m: Within<0, 1000>,
    #[serde(default)]
    pub text_variant: TextVariant,
    /// The edition of M.1371 after which it was made; by whether there is a suffix if not given.
    pub edition: Option<Edition>,
    /// Maker's suffix and prefix behind the text, after M.1371-6: `A01`. `A00` if the edition is 6
    /// and none is given.
    pub suffix: Option<Spanned<SixBit<3>>>,
    /// Whether the first message says a wrong number of fill bits, as some receivers do: a fault of
    /// the sentence, not of the message.
    #[serde(default)]
    pub wrong_fill: bool,
    /// It calls by DSC itself, in open loop: distress alerts, one at once and one with the first fix,
    /// then this often, and half as often after half an hour (every 5 min for 30 min, then every
    /// 10 min: a description of RTCM 11901.1). The radio on board hears all of them.
    pub dsc_repeats_s: Option<Spanned<Within<30, 3600>>>,
    /// It calls by DSC itself, in closed loop: one distress relay to own ship (a column that quotes
    /// the RTCM on 11901.1). A coast station acknowledges it some seconds later, and there are no
    /// more calls.
    pub closed_loop: Option<Spanned<bool>>,
    #[serde(default = "Reception::of_beacon")]
    pub reception: Reception,
    #[serde(default)]
    pub fades: Vec<Spanned<Fade>>,
}

/// What a beacon was switched on for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::rehearse) enum BeaconMode {
    Test,
    Active,
}

/// The text of the one burst after a beacon was switched off (M.1371-6), or none (M.1371-5).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::rehearse) enum LastWord {
    #[default]
    Off,
    Cancel,
    Nothing,
}

/// An edition of ITU-R M.1371.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(try_from = "u8")]
pub(in crate::rehearse) enum Edition {
    /// M.1371-5 (2014): `MOB ACTIVE`.
    Fifth,
    /// M.1371-6 (2026): `MOB ACTIVE A01`.
    Sixth,
}

impl TryFrom<u8> for Edition {
    type Error = &'static str;

    fn try_from(edition: u8) -> Result<Self, Self::Error> {
        match edition {
            5 => Ok(Self::Fifth),
            6 => Ok(Self::Sixth),
            _ => Err("the editions of M.1371 known here are 5 and 6"),
        }
    }
}

/// Which bursts of a cycle carry the text. The sources differ: M.1371-5 annex 9 section 5 wants
/// messages with a communication state in the first burst, which message 14 is not; EN 303 098
/// V2.2.1 (B.1, B.2), as reported, puts it into the first and fifth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::rehearse) enum TextVariant {
    FirstAndFifth,
    #[default]
    Later,
}

/// A bearing and range from somewhere.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Offset {
    pub bearing_deg: Within<0, 360>,
    pub range_nm: Within<0, 100>,
}

/// How the wind moves a casualty through the water, downwind: `leeway = {}` is enough.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Leeway {
    /// Its speed in percent of the wind's. Not given, that of a person in the water in unknown state
    /// (PIW-1): 0.96 without offset, the mean of the downwind component in Allen, "Leeway
    /// divergence", CG-D-05-05 (2005).
    #[serde(default = "Leeway::of_a_person")]
    pub percent: Within<0, 20>,
}

/// How probably a message is heard: `base` up to `sure_nm`, then less, and nothing from
/// `horizon_nm`.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Reception {
    #[serde(default = "Share::all")]
    pub base: Share,
    pub sure_nm: Within<0, 1000>,
    pub horizon_nm: Within<0, 1000>,
}

/// A time in which less is heard.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Fade {
    pub from_s: f64,
    pub until_s: f64,
    /// The share that is left.
    #[serde(default)]
    pub heard: Share,
}

/// A span of time.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Window {
    pub from_s: f64,
    pub until_s: f64,
}

impl Reception {
    /// Surely heard at 2 NM, and nothing from 4 NM, where a beacon in the water and a mast of 15 m
    /// have 0.45 of the radio horizon. Our own: no measured series was found.
    fn of_beacon() -> Self {
        Self { base: Share::all(), sure_nm: Within(2.0), horizon_nm: Within(4.0) }
    }

    /// Ships with high antennas: far beyond what any rehearsal needs. Our own.
    pub(super) fn of_ships() -> Self {
        Self { base: Share::all(), sure_nm: Within(15.0), horizon_nm: Within(30.0) }
    }
}

impl Leeway {
    fn of_a_person() -> Within<0, 20> {
        Within(0.96)
    }
}
