//! What is told of how far a beacon would be heard.

use serde::{Deserialize, Serialize};

use crate::time::Utc;
use crate::units::NauticalMiles;

/// How far a beacon at the water would be heard now, by what was heard of ships whose next report
/// was due.
///
/// The range is that within which eight of ten messages of a beacon come in, of those that no other
/// station speaks over: 1 W radiated, 0.2 m above the water. Of a burst of eight something is heard
/// further off. Either the range and both its limits are known, or [`Self::why_not`] says why not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reach {
    /// The range, in the middle of what is likely; `None` if not known.
    pub range80_nm: Option<NauticalMiles>,
    /// Nineteen in twenty: not less. Known alone where every ship is so near that all is heard.
    pub low_nm: Option<NauticalMiles>,
    /// Nineteen in twenty: not more.
    pub high_nm: Option<NauticalMiles>,
    /// The stations from which it is made.
    pub stations: u16,
    /// Their reports that were due in the time it is made from.
    pub expected: u32,
    /// How many of those came.
    pub received: u32,
    /// The time it is made from, in minutes up to 60.
    pub minutes: u16,
    /// Which share of all messages is lost however near the sender is, 0 to 1: others speak over it.
    pub lost_nearby: Option<f64>,
    /// By how many decibels a ship of class A one mile off is above what is heard half the time: the
    /// receiver and its antenna in one number, the same whatever is assumed of a beacon.
    pub level_db: Option<f64>,
    /// The standard deviation of that.
    pub level_sd_db: Option<f64>,
    /// Why nothing can be said; `None` if it can.
    pub why_not: Option<NotKnown>,
}

impl Reach {
    /// Nothing can be said.
    pub(super) const fn not_known(why: NotKnown) -> Self {
        Self {
            range80_nm: None,
            low_nm: None,
            high_nm: None,
            stations: 0,
            expected: 0,
            received: 0,
            minutes: 0,
            lost_nearby: None,
            level_db: None,
            level_sd_db: None,
            why_not: Some(why),
        }
    }

    /// The range and its limits, low and high, if they are known.
    pub fn interval(&self) -> Option<(NauticalMiles, NauticalMiles, NauticalMiles)> {
        Some((self.range80_nm?, self.low_nm?, self.high_nm?))
    }
}

/// Why nothing can be said of how far a beacon would be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NotKnown {
    /// No AIS came in lately.
    NoAis,
    /// The ship's own position is not known.
    NoOwnPosition,
    /// No ship was heard whose range is known.
    NoStation,
    /// One ship alone was heard: she may be odd.
    OneStation,
    /// Ships are heard, and not yet for long enough.
    TooFewReports,
    /// Ships that were heard are not heard any more.
    HeardNoMore,
    /// All ships are so near that all of them are heard: a lower limit may be known.
    AllNear,
    /// Near or far, most reports do not come: the input passes on a part of them alone.
    Thinned,
}

impl NotKnown {
    /// Why, for a person: what follows "not known: ".
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoAis => "no AIS is coming in",
            Self::NoOwnPosition => "own position not known",
            Self::NoStation => "no ship heard that gives her position",
            Self::OneStation => "only one ship heard",
            Self::TooFewReports => "too few reports of ships so far",
            Self::HeardNoMore => "ships that were heard are not heard any more",
            Self::AllNear => "only ships near by are heard",
            Self::Thinned => "the input leaves out most reports",
        }
    }
}

/// A class of AIS, as far as its power differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AisClass {
    /// Class A, 12.5 W.
    A,
    /// Class B with reserved slots ("SO"), 5 W.
    BSo,
    /// Class B that waits for a free slot ("CS"), 2 W.
    BCs,
}

/// How an hour was: what was due, what came, and how far a beacon would have been heard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReachHour {
    /// When it began.
    pub start: Utc,
    /// The estimate from all of it.
    #[serde(flatten)]
    pub reach: Reach,
    /// By class and range, nearest first; only what was due at all.
    pub by_range: Vec<RangeCount>,
    /// By direction from the bow, clockwise from ahead, then from north; only what was due at all.
    pub by_sector: Vec<SectorCount>,
    /// By channel, as far as the receiver tells it.
    pub by_channel: Vec<ChannelCount>,
    /// By input: what each of them heard of what was due.
    pub by_input: Vec<InputCount>,
}

/// Reports of ships of one class at about one range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RangeCount {
    /// Their class.
    pub class: AisClass,
    /// No nearer than this.
    pub from_nm: NauticalMiles,
    /// Nearer than this.
    pub to_nm: NauticalMiles,
    /// Reports that were due.
    pub expected: u32,
    /// How many of those came.
    pub received: u32,
}

/// From where a direction is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SectorFrom {
    /// From the bow: by heading, else by course over ground.
    Bow,
    /// From true north, where nothing tells where the bow points.
    North,
}

/// Reports of ships in 30 degrees of the horizon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectorCount {
    /// From where it is counted.
    pub from: SectorFrom,
    /// Where it begins, clockwise: 0, 30, to 330.
    pub sector_deg: u16,
    /// Reports that were due.
    pub expected: u32,
    /// How many of those came.
    pub received: u32,
    /// How far a beacon would be heard there; `None` if that can't be told.
    pub range80_nm: Option<NauticalMiles>,
}

/// What came on a channel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChannelCount {
    /// `A` or `B`.
    pub channel: char,
    /// Half of what was due: stations send on both in turn.
    pub expected: u32,
    /// How many came on it.
    pub received: u32,
}

/// What an input heard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct InputCount {
    /// Its name.
    pub input: String,
    /// Reports that were due: the same for all inputs.
    pub expected: u32,
    /// How many of those it heard.
    pub received: u32,
    /// How far a beacon would be heard by it alone; `None` if that can't be told.
    pub range80_nm: Option<NauticalMiles>,
}

/// What is kept of an hour, to compare later ones with.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PastHour {
    /// From how many stations it was made.
    pub stations: u16,
    /// See [`Reach::level_db`].
    pub level_db: f64,
    /// Its standard deviation.
    pub level_sd_db: f64,
    /// See [`Reach::lost_nearby`].
    #[serde(default)]
    pub lost_nearby: f64,
    /// See [`Reach::range80_nm`].
    pub range80_nm: NauticalMiles,
}

impl Reach {
    /// What later hours are compared with; `None` if nothing could be said of this one.
    pub fn past(&self) -> Option<PastHour> {
        Some(PastHour {
            stations: self.stations,
            level_db: self.level_db?,
            level_sd_db: self.level_sd_db?,
            lost_nearby: self.lost_nearby?,
            range80_nm: self.range80_nm?,
        })
    }
}
