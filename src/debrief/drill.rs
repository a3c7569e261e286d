//! What a debrief is made of: a recording measured, as plain data. Pages, plots and JSON are drawn
//! from it, and nothing else.
//!
//! Times are UTC labels of the recording; those that were counted before the recording told the time
//! are moved to where they belong. Texts (names, remarks) come from people and from the air: whoever
//! shows them escapes them.

use serde::Serialize;

use super::measured::Measured;
use super::measures::Measures;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{Offset, Position};
use crate::time::Utc;
use crate::units::{Degrees, Knots, NauticalMiles};
use crate::wire::ais::BeaconWord;
use crate::zone::Zone;

/// One recording, measured.
#[derive(Clone, Debug, Serialize)]
pub struct Drill {
    /// What the recording is called: its file, or its place in the logbook.
    pub recording: String,
    /// The ship's name, from the configuration.
    pub ship: Option<String>,
    /// The zone of the local time that stands beside UTC.
    #[serde(skip)]
    pub zone: Option<Zone>,
    /// The time of its first line; `None` if it has no sound line.
    pub begun: Option<Utc>,
    /// The time of its last line.
    pub ended: Option<Utc>,
    /// Whether the lines were marked as those of a rehearsal (`t:DRILL`).
    pub rehearsed: bool,
    /// Where own ship was, in the order of time: every second around an incident, else every 10 s
    /// or more. A gap means that her position was not known.
    pub own_track: Vec<OwnPoint>,
    /// The mean true wind during the incident.
    pub wind: Measured<Wind>,
    /// When nothing was recorded, between recordings or where one has a gap, in the order of time:
    /// from shortly before the first message on. What was sent then is not counted as lost.
    pub not_watched: Vec<Unwatched>,
    /// What happened, in the order of time, numbered from 1.
    pub events: Vec<DrillEvent>,
    /// Everybody who was, or may have been, in the water, in the order they were heard.
    pub casualties: Vec<Casualty>,
    /// What is to be said of the recording as a whole, in plain sentences.
    pub findings: Vec<String>,
}

/// A time in which nothing was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Unwatched {
    /// When the last line before it came.
    pub from: Utc,
    /// When the first line after it came.
    pub until: Utc,
}

/// Own ship at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnPoint {
    /// When.
    pub at: Utc,
    /// Where she was.
    #[serde(flatten)]
    pub position: Position,
    /// Speed over ground; `None` if not known.
    pub sog_kn: Option<Knots>,
    /// Course over ground, true; `None` if not known.
    pub cog_deg: Option<Degrees>,
    /// Heading, true; `None` if there is no compass in the recording.
    pub heading_deg: Option<Degrees>,
    /// Speed through the water; `None` if there is no log in the recording.
    pub water_speed_kn: Option<Knots>,
}

/// The true wind over ground.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Wind {
    /// Where it comes from, true.
    pub from_deg: Degrees,
    /// Its mean speed.
    pub speed_kn: Knots,
}

/// Something that happened.
#[derive(Clone, Debug, Serialize)]
pub struct DrillEvent {
    /// Its number in the list, from 1: what stands beside it on the chart.
    pub number: usize,
    /// When.
    pub at: Utc,
    /// What.
    pub kind: DrillEventKind,
    /// Whom it is about, if one casualty.
    pub mmsi: Option<Mmsi>,
    /// Where own ship was; `None` if not known then.
    pub own: Option<Position>,
    /// How far the casualty was; `None` if not known then.
    pub range_nm: Option<NauticalMiles>,
    /// How far that may be off, in metres.
    #[serde(skip)]
    pub range_off_m: Option<f64>,
    /// The same for a person, in a few words.
    pub text: String,
}

/// What may happen in a drill.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DrillEventKind {
    /// The first message of a beacon.
    Activated,
    /// The watch raised the alarm.
    Alarm,
    /// Somebody acknowledged it: from the logbook alone.
    Acknowledged,
    /// The first message with a position.
    FirstPosition,
    /// Own ship tacked, gybed or went on another course, before the turn back.
    Manoeuvre,
    /// Own ship began to turn back.
    TurnBegun,
    /// Her bow points at the casualty.
    Pointing,
    /// She was nearer than ever before she was alongside, or ever.
    ClosestApproach,
    /// She came near and went away again.
    PassMissed,
    /// Nothing was heard of the beacon from here on, for more than five minutes.
    Silent,
    /// It was heard again after that.
    HeardAgain,
    /// She is close to the casualty, and slow.
    AtCasualty,
    /// The casualty is out of the water.
    Recovered,
    /// The beacon said OFF or CANCEL.
    Off,
    /// Somebody wrote a remark into the logbook.
    Remark,
    /// Nothing was recorded from here on, for a time.
    NotWatched,
    /// Somebody said that it was over: from the logbook alone.
    DeclaredOver,
    /// The alarm was raised again after that.
    RaisedAgain,
}

/// How far a drill has come at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Nothing has been heard of a beacon.
    Before,
    /// From the first message until she turns.
    GoingOn,
    /// From the turn until she is at the casualty.
    Returning,
    /// At the casualty until the recovery.
    AtCasualty,
    /// After the recovery.
    After,
}

/// Somebody in the water, as the beacon told it.
#[derive(Clone, Debug, Serialize)]
pub struct Casualty {
    /// The beacon's identity, or that of the ship it called for; `None` where a call that was passed on
    /// does not tell it.
    pub mmsi: Option<Mmsi>,
    /// What kind of beacon it is.
    pub kind: BeaconKind,
    /// Whose it is, from the muster.
    pub person: Option<String>,
    /// Where the beacon said it was, in the order of time: every fresh position that was heard.
    pub fixes: Vec<CasualtyFix>,
    /// Where it was between: one place a burst, of the mean of its fixes. The line to draw.
    pub track: Vec<CasualtyFix>,
    /// Every message that was heard, in the order of time; at most as many as are kept.
    pub receptions: Vec<Received>,
    /// Every DSC call about it, and every notice of a crew alarm, in the order of time.
    pub calls: Vec<Called>,
    /// Every burst from the first message to the last, those of which nothing was heard included.
    pub bursts: Vec<Burst>,
    /// How far own ship was from it, in the order of time, one for each point of her track while
    /// both are known. Between bursts the casualty's place is interpolated, outside them drift
    /// carries it.
    pub ranges: Vec<RangeAt>,
    /// What was measured.
    pub measures: Measures,
    /// The same in plain sentences, each from a number of [`Self::measures`].
    pub findings: Vec<String>,
}

/// A place of a casualty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CasualtyFix {
    /// When.
    pub at: Utc,
    /// Where.
    #[serde(flatten)]
    pub position: Position,
}

/// A message of a beacon that was heard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Received {
    /// When.
    pub at: Utc,
    /// `A` or `B`; `None` if the receiver does not tell.
    pub channel: Option<char>,
    /// The word of a text; `None` for a position report, or a text without a known word.
    #[serde(serialize_with = "word")]
    pub word: Option<BeaconWord>,
    /// How far the casualty was from own ship; `None` if either place is not known.
    pub range_nm: Option<NauticalMiles>,
}

/// A DSC call, or a notice of a crew alarm on board, about a casualty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Called {
    /// When it came.
    pub at: Utc,
    /// Who called: the beacon, the ship, or who passed it on; `None` if the call does not tell.
    pub by: Option<Mmsi>,
    /// The emitter, where a crew alarm told it (IEC 61162-1 MOB); `None` of a call.
    pub emitter: Option<String>,
    /// Where the casualty was; `None` if the call told no place.
    #[serde(flatten)]
    pub position: Option<Position>,
    /// Whether no range is measured from that: it is to whole minutes alone, up to 1.4 NM off, for no
    /// expansion followed, or is where the ship reckoned the emitter.
    pub is_rough: bool,
    /// Whether it took the distress back.
    pub is_cancel: bool,
}

/// A burst of eight messages within 14 s, one a minute (ITU-R M.1371-5 annex 9, section 5).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Burst {
    /// When its first message was heard, or when it is held to have been sent.
    pub at: Utc,
    /// Messages heard of it, 0 to 8.
    pub heard: u32,
    /// Messages that could have been heard: 8, fewer where the recording cuts the burst, 0 where
    /// there is none.
    pub expected: u32,
    /// Whether anybody listened.
    pub watched: bool,
    /// Those of them on channel A.
    pub heard_a: u32,
    /// Those of them on channel B.
    pub heard_b: u32,
    /// How far the casualty was; `None` if either place is not known.
    pub range_nm: Option<NauticalMiles>,
}

/// The range at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RangeAt {
    /// When.
    pub at: Utc,
    /// How far.
    pub range_nm: NauticalMiles,
    /// Where own ship was, as seen from the casualty.
    #[serde(skip)]
    pub beside: Offset,
}

impl Drill {
    /// The casualty whose drift the set on the chart is: the one heard first.
    pub fn first_casualty(&self) -> Option<&Casualty> {
        self.casualties.first()
    }

    /// How far the drill has come at a moment: with whoever is still in the water where there are
    /// several, and after the recovery only when nobody is. A step that is not known is never reached.
    pub fn phase(&self, at: Utc) -> Phase {
        let phases = || self.casualties.iter().map(|it| it.phase(at));
        let in_water = phases().filter(|phase| *phase != Phase::After);
        let furthest = in_water.max().filter(|phase| *phase != Phase::Before);
        furthest.or_else(|| phases().max()).unwrap_or(Phase::Before)
    }
}

impl Casualty {
    /// How far the way to this casualty has come at a moment.
    pub fn phase(&self, at: Utc) -> Phase {
        let Measures { turn, recovery, .. } = &self.measures;
        let reached = |step: &Measured<Utc>| step.value().is_some_and(|&step| at >= step);
        if reached(&recovery.recovered_at) {
            Phase::After
        } else if reached(&recovery.at_casualty_at) {
            Phase::AtCasualty
        } else if reached(&turn.turn_begun_at) {
            Phase::Returning
        } else if self.first_heard().is_some_and(|first| at >= first) {
            Phase::GoingOn
        } else {
            Phase::Before
        }
    }

    /// When it was heard first, on AIS, by DSC or by a crew alarm.
    pub fn first_heard(&self) -> Option<Utc> {
        let called = self.calls.first().map(|it| it.at);
        self.receptions.first().map(|it| it.at).into_iter().chain(called).min()
    }

    /// Whether it is known by DSC, or a crew alarm, alone.
    pub fn is_called_only(&self) -> bool {
        self.receptions.is_empty() && !self.calls.is_empty()
    }

    /// What it is called: the person, else the beacon's identity, else the crew alarm's emitter. Not
    /// escaped.
    pub fn name(&self) -> String {
        let emitter = self.calls.first().and_then(|it| it.emitter.as_deref());
        name(self.person.as_deref(), self.mmsi, emitter)
    }
}

/// What a casualty is called.
pub(super) fn name(person: Option<&str>, mmsi: Option<Mmsi>, emitter: Option<&str>) -> String {
    match (person, mmsi, emitter) {
        (Some(person), ..) => person.to_owned(),
        (None, Some(mmsi), _) => mmsi.to_string(),
        (None, None, Some(emitter)) => format!("the person of crew alarm {emitter}"),
        (None, None, None) => "an unknown person".to_owned(),
    }
}

/// A sentence begins with a capital letter, whatever the name is that it begins with.
pub(super) fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A beacon's word as the contract writes it.
fn word<S: serde::Serializer>(word: &Option<BeaconWord>, to: S) -> Result<S::Ok, S::Error> {
    word.map(|word| match word {
        BeaconWord::Active => "active",
        BeaconWord::Test => "test",
        BeaconWord::Off => "off",
        BeaconWord::Cancel => "cancel",
    })
    .serialize(to)
}
