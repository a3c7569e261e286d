//! What the watch tells. Field names and values are those of the JSON events.

use serde::Serialize;

use super::alert::{Alert, AlertId, Cause, Priority, State};
use super::beacon::Mode;
use super::health::InputState;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{AheadFrom, Basis, Datum, Drift, Medium, Position, Way, range_and_bearing};
use crate::time::Utc;
use crate::units::{Degrees, Knots, NauticalMiles};
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
    /// The watchkeeper is asked to say that he is awake.
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

/// The way to a casualty. What is not known is `None`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct WayReport {
    /// Where it bears from the bow, -180 to 180, starboard positive.
    pub relative_bearing_deg: Option<f64>,
    /// What the bow was taken from.
    pub relative_bearing_from: Option<AheadFrom>,
    /// Where it bears by a steering compass, deviation apart.
    pub magnetic_bearing_deg: Option<Degrees>,
    /// The true course to steer at the present speed: a heading if `steer_through` is `water`.
    pub course_to_steer_deg: Option<Degrees>,
    /// The same by a steering compass, deviation apart.
    pub course_to_steer_magnetic_deg: Option<Degrees>,
    /// How long that takes, in minutes.
    pub time_to_reach_min: Option<f64>,
    /// What the course is steered through: `water` with heading and log, else `ground`.
    pub steer_through: Option<Medium>,
    /// How close it comes if the present course is held, in metres.
    pub closest_approach_m: Option<f64>,
    /// In how many seconds that is; negative if it is past.
    pub closest_approach_in_s: Option<f64>,
    /// How it drifts over ground, by its own fixes.
    pub drift: Option<DriftReport>,
}

impl WayReport {
    pub(super) fn of(way: &Way) -> Self {
        let tenths = |value: f64| (value * 10.0).round() / 10.0;
        Self {
            relative_bearing_deg: way.relative.map(|(degrees, _)| tenths(degrees)),
            relative_bearing_from: way.relative.map(|(_, from)| from),
            magnetic_bearing_deg: way.magnetic,
            course_to_steer_deg: way.steer.map(|steer| steer.course),
            course_to_steer_magnetic_deg: way.steer.and_then(|steer| steer.magnetic),
            time_to_reach_min: way.steer.map(|steer| tenths(steer.time.as_secs_f64() / 60.0)),
            steer_through: way.steer.map(|_| way.medium),
            closest_approach_m: way.approach.map(|approach| approach.range.metres().round()),
            closest_approach_in_s: way.approach.and_then(|it| it.in_s).map(f64::round),
            drift: None,
        }
    }
}

/// A drift over ground.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct DriftReport {
    /// Where to, true.
    pub set_deg: Degrees,
    /// How fast.
    pub rate_kn: Knots,
    /// How many fixes it is made from.
    pub fixes: usize,
    /// Over which time, in whole seconds.
    pub over_s: u64,
    /// How far the rate may be off: the standard deviation along each axis.
    pub rate_sd_kn: Knots,
}

impl DriftReport {
    pub(super) fn of(drift: &Drift) -> Self {
        Self {
            set_deg: drift.velocity.towards(),
            rate_kn: drift.velocity.speed(),
            fixes: drift.fixes,
            over_s: drift.span.as_secs(),
            rate_sd_kn: drift.rate_sd(),
        }
    }
}

/// Where a casualty is reckoned to be.
#[derive(Clone, Debug, Serialize)]
pub struct DatumReport {
    /// The beacon's identity; `None` for a point set by hand.
    pub mmsi: Option<Mmsi>,
    /// The number of the point that was set by hand.
    pub mark: Option<u16>,
    /// The likeliest place, in degrees.
    pub lat: f64,
    /// See `lat`.
    pub lon: f64,
    /// Half of all such casualties are within this, in whole metres.
    pub radius50_m: f64,
    /// Nineteen of twenty are within this, in whole metres.
    pub radius95_m: f64,
    /// What it is made from.
    pub basis: Basis,
    /// How old the last fix is, in whole seconds.
    pub since_s: u64,
    /// Where it moves to over ground, true.
    pub set_deg: Degrees,
    /// How fast.
    pub rate_kn: Knots,
    /// How far it is from the ship.
    pub range_nm: Option<NauticalMiles>,
    /// Where it bears from her, true.
    pub bearing_deg: Option<Degrees>,
    /// What it is made from, for a person.
    pub text: String,
}

impl DatumReport {
    pub(super) fn of(
        datum: &Datum,
        mmsi: Option<Mmsi>,
        mark: Option<u16>,
        text: String,
        own: Option<Position>,
    ) -> Self {
        let (range_nm, bearing_deg) = own.map(|own| range_and_bearing(own, datum.position)).unzip();
        Self {
            mmsi,
            mark,
            lat: datum.position.lat(),
            lon: datum.position.lon(),
            radius50_m: datum.radius50.metres().round(),
            radius95_m: datum.radius95.metres().round(),
            basis: datum.basis,
            since_s: datum.at.since(datum.since).as_secs(),
            set_deg: datum.velocity.towards(),
            rate_kn: datum.velocity.speed(),
            range_nm,
            bearing_deg,
            text,
        }
    }

    /// The likeliest place.
    pub fn position(&self) -> Option<Position> {
        Position::new(self.lat, self.lon)
    }
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
    /// The line that raised it, if it was one.
    #[serde(skip)]
    pub sentence: Option<String>,
    /// The place that was set by hand, if it is about one.
    #[serde(skip)]
    pub place: Option<Position>,
}

impl From<Alert> for AlertReport {
    fn from(alert: Alert) -> Self {
        let Alert { id, cause, priority, state, mmsi, text, sentence, .. } = alert;
        Self { id, cause, priority, state, mmsi, text, sentence, place: None }
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
