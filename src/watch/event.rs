//! What the watch tells. Field names and values are those of the JSON events.

use serde::Serialize;

use super::alert::{Alert, AlertId, Cause, Matter, Priority, State};
use super::health::InputState;
use super::mode::Mode;
use super::reach::ReachHour;
use super::rehearsed::Rehearsed;
use super::report::{DatumReport, SearchReport, WayReport};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;
use crate::units::{Degrees, NauticalMiles};
use crate::wire::nmea::{Dsc, Mob};

/// Something to tell, and when it happened.
#[derive(Clone, Debug, Serialize)]
pub struct Event {
    /// The moment, UTC as far as known.
    pub at: Utc,
    /// What happened.
    #[serde(flatten)]
    pub body: EventBody,
}

/// What happened.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum EventBody {
    /// A beacon is heard for the first time, again after silence, or in another mode.
    BeaconHeard(BeaconReport),
    /// A beacon goes on: once a burst.
    BeaconUpdate(BeaconUpdate),
    /// A beacon that was active has fallen silent.
    BeaconSilent {
        /// Which.
        mmsi: Mmsi,
        /// When it was heard last.
        last_heard: Utc,
        /// Where it was last known to be.
        position: Option<Position>,
        /// How old that is, in whole seconds.
        fix_age_s: Option<u64>,
    },
    /// Where a silent casualty, or one whose point was set by hand, is reckoned to be: once a minute.
    Datum(DatumReport),
    /// A search was planned: with the first datum of a casualty.
    Search(SearchReport),
    /// A casualty was passed near by: the range opens again.
    Passed {
        /// Which.
        mmsi: Mmsi,
        /// How near it was.
        range_nm: NauticalMiles,
    },
    /// Somebody set the point by hand where a person went overboard.
    OverboardMarked {
        /// The point's number.
        mark: u16,
        /// Where the ship was; `None` if nobody knew.
        position: Option<Position>,
    },
    /// An alert's state or priority changed.
    Alert(AlertReport),
    /// A DSC call came in, or its expansion.
    DscCall(Dsc),
    /// A MOB sentence came in.
    MobNotice(Mob),
    /// A safety text came in.
    SafetyText {
        /// From whom.
        mmsi: Mmsi,
        /// The text.
        text: String,
        /// Whether it was for one station (message 12) and not for all (message 14).
        addressed: bool,
    },
    /// An input is live, silent, lost or noisy.
    InputState {
        /// Its name.
        input: String,
        /// What it is now.
        state: InputState,
        /// The same for a person.
        text: String,
    },
    /// How far a beacon would have been heard, once an hour in which anything was heard.
    Reach(Box<ReachHour>),
    /// The watchkeeper is asked to say that they are awake.
    AwakePrompt {
        /// How long the answer may take before a warning is raised.
        answer_within_s: u64,
    },
    /// The logbook has committed an alert's entry; never told before it has.
    Logged {
        /// The entry's number.
        entry: i64,
        /// What the alert is about.
        cause: Cause,
        /// The station it is about.
        mmsi: Option<Mmsi>,
        /// The state that was written down.
        state: State,
    },
    /// The end of a replay.
    Summary(Summary),
}

/// A beacon as it was just heard.
#[derive(Clone, Debug, Serialize)]
pub struct BeaconReport {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Its kind.
    pub kind: BeaconKind,
    /// What it does.
    pub mode: Mode,
    /// Whose it is, from the muster.
    pub person: Option<String>,
    /// Where it is, as far as it said.
    pub position: Option<Position>,
    /// How old that position is, in whole seconds; `None` if the beacon never gave a fresh one.
    pub fix_age_s: Option<u64>,
    /// How far it is.
    pub range_nm: Option<NauticalMiles>,
    /// Where it bears, true.
    pub bearing_deg: Option<Degrees>,
    /// The ship's own position that range and bearing are made from; `None` if there is none or it
    /// is older than 10 min.
    pub own: Option<Position>,
    /// How old that is, in whole seconds.
    pub own_age_s: Option<u64>,
    /// What the mode rests on, in short words.
    pub evidence: Vec<String>,
    /// How long ago another station heard it, in whole seconds; `None`, and no key, if that is now.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heard_ago_s: Option<u64>,
    /// How it is rehearsed; `None`, and no key, if it is real.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rehearsed: Option<Rehearsed>,
}

/// How a beacon goes on.
#[derive(Clone, Debug, Serialize)]
pub struct BeaconUpdate {
    /// The beacon as it was just heard.
    #[serde(flatten)]
    pub beacon: BeaconReport,
    /// Transmissions heard, each once.
    pub messages_heard: u32,
    /// Bursts of which anything was heard.
    pub bursts_heard: u32,
    /// The way to it.
    #[serde(flatten)]
    pub way: WayReport,
}

/// An alert whose state or priority changed.
#[derive(Clone, Debug, Serialize)]
pub struct AlertReport {
    /// Its number.
    pub id: AlertId,
    /// What it is about.
    pub cause: Cause,
    /// How urgent it is.
    pub priority: Priority,
    /// How far it has been dealt with.
    pub state: State,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// What it says to a person.
    pub text: String,
    /// How it was rehearsed; `None`, and no key, if it is real.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rehearsed: Option<Rehearsed>,
    /// What makes it the same alert when it comes again; `None` if that was not written down.
    #[serde(skip)]
    pub matter: Option<Matter>,
    /// What else was known when it changed, for the logbook.
    #[serde(skip)]
    pub known: Known,
}

/// What was known of the matter of an alert at the moment it changed. What was not is `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// The line that changed it; `None` if the time or a person did.
    pub sentence: Option<String>,
    /// The name of the input that it is about, else of the one that the line came by.
    pub input: Option<String>,
    /// Whose beacon it is about, from the muster.
    pub person: Option<String>,
    /// Where the casualty or the calling station was.
    pub position: Option<Position>,
    /// How old that is, in whole seconds.
    pub fix_age_s: Option<u64>,
    /// Where the ship was; `None` if that is not known or older than 10 min.
    pub own: Option<Position>,
    /// How old that is, in whole seconds.
    pub own_age_s: Option<u64>,
    /// The beacon that has taken the place of the point set by hand which it was about.
    pub joined_by: Option<Mmsi>,
}

impl From<Alert> for AlertReport {
    fn from(alert: Alert) -> Self {
        let Alert { id, cause, priority, state, mmsi, text, rehearsed, matter, .. } = alert;
        let (matter, known) = (Some(matter), Known::default());
        Self { id, cause, priority, state, mmsi, text, rehearsed, matter, known }
    }
}

/// Totals of a watch.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// Lines, empty ones included.
    pub lines: u64,
    /// Sound sentences.
    pub sentences: u64,
    /// Whole AIS messages.
    pub messages: u64,
    /// Lines that were not taken.
    pub rejects: u64,
    /// Every beacon that was heard.
    pub beacons: Vec<BeaconSummary>,
    /// Alerts raised.
    pub alerts: u32,
    /// The time of the first line.
    pub first: Option<Utc>,
    /// The time of the last line.
    pub last: Option<Utc>,
    /// From the first line to the last by arrival, in whole seconds: right even where a recording
    /// learns its date on the way.
    pub elapsed_s: u64,
}

/// What was heard of one beacon.
#[derive(Clone, Debug, Serialize)]
pub struct BeaconSummary {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Its kind.
    pub kind: BeaconKind,
    /// Every mode it was in, in the order they came.
    pub modes: Vec<Mode>,
    /// Transmissions heard, each once.
    pub messages_heard: u32,
    /// Bursts of which anything was heard.
    pub bursts_heard: u32,
}
