//! What an entry says, before it has its number and its place in the chain.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::{Mono, Utc};
use crate::units::{Degrees, Knots};
use crate::watch::{AlertId, Cause, Mode, Priority, State};

/// What an entry is about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// An alert changed its state or priority.
    Alert,
    /// A beacon was heard, goes on, or fell silent.
    Beacon,
    /// A DSC call or a crew alarm's notice came in.
    Dsc,
    /// A safety text came in.
    SafetyText,
    /// An input is live, silent, lost or noisy.
    Input,
    /// Somebody did something.
    Operator,
    /// A watch began, ended, was handed over.
    #[default]
    Watch,
    /// Where the ship was.
    Position,
    /// A self-test was judged.
    Test,
    /// Something was checked by hand.
    Check,
}

/// The body of an entry. Times are integers; what is not known is null. The order of the fields is
/// that of the text the hash is made from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Draft {
    /// The form of this body.
    pub v: u32,
    /// The entry's own number.
    pub entry: i64,
    /// The entry with which the watch began that wrote this; null for a note from outside.
    pub session: Option<i64>,
    /// Arrival by that watch's count, in microseconds.
    pub arrival_us: Option<u64>,
    /// The computer's clock, in milliseconds since 1970.
    pub host_ms: i64,
    /// The position receiver's UTC, in milliseconds since 1970.
    pub gnss_ms: Option<i64>,
    /// What it is about.
    pub kind: Kind,
    /// Of an alert: how urgent.
    pub priority: Option<Priority>,
    /// Of an alert: about what.
    pub cause: Option<Cause>,
    /// Of an alert: how far dealt with.
    pub state: Option<State>,
    /// Of an alert, or an act upon one: its number.
    pub alert: Option<AlertId>,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// Whose beacon that is.
    pub person: Option<String>,
    /// What the beacon did.
    pub mode: Option<Mode>,
    /// The same for a person.
    pub text: String,
    /// How far the casualty was, in nautical miles.
    pub range_nm: Option<f64>,
    /// Where it bore, in degrees true.
    pub bearing_deg: Option<f64>,
    /// Where it was.
    pub position: Option<Position>,
    /// How old that was, in seconds.
    pub fix_age_s: Option<u64>,
    /// Where the ship was.
    pub own: Option<Position>,
    /// How old that was, in seconds.
    pub own_age_s: Option<u64>,
    /// Her speed over ground, in knots.
    pub sog_kn: Option<f64>,
    /// Her course over ground, in degrees true.
    pub cog_deg: Option<f64>,
    /// Who did it.
    pub operator: Option<String>,
    /// The entry that this one corrects or belongs to.
    pub refers_to: Option<i64>,
    /// The recording that was being written.
    pub recording: Option<String>,
    /// The label of this moment in it, in milliseconds since 1970.
    pub recording_ms: Option<i64>,
    /// The sentences that caused it.
    pub sentences: Vec<String>,
    /// Whatever else there is.
    pub details: Value,
}

/// All that is known of a moment.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// Arrival by the watch's count, if a watch is kept.
    pub arrival: Option<Mono>,
    /// The computer's clock.
    pub host: Utc,
    /// The position receiver's.
    pub gnss: Option<Utc>,
    /// Where the ship is.
    pub own: Option<Position>,
    /// How old that is, in seconds.
    pub own_age_s: Option<u64>,
    /// Her speed over ground.
    pub sog: Option<Knots>,
    /// Her course over ground.
    pub cog: Option<Degrees>,
}

impl Moment {
    /// A moment of which only the computer's clock is known.
    pub const fn at(host: Utc) -> Self {
        let (own, own_age_s, sog, cog) = (None, None, None, None);
        Self { arrival: None, host, gnss: None, own, own_age_s, sog, cog }
    }
}

impl Draft {
    /// An entry of this kind that says this.
    pub fn new(kind: Kind, text: impl Into<String>, moment: &Moment) -> Self {
        let round = |value: f64, by: f64| (value * by).round() / by;
        Self {
            v: 1,
            entry: 0,
            session: None,
            arrival_us: moment.arrival.map(Mono::micros),
            host_ms: moment.host.unix_ms(),
            gnss_ms: moment.gnss.map(Utc::unix_ms),
            kind,
            priority: None,
            cause: None,
            state: None,
            alert: None,
            mmsi: None,
            person: None,
            mode: None,
            text: text.into(),
            range_nm: None,
            bearing_deg: None,
            position: None,
            fix_age_s: None,
            own: moment.own,
            own_age_s: moment.own_age_s,
            sog_kn: moment.sog.map(|sog| round(sog.0, 100.0)),
            cog_deg: moment.cog.map(|cog| round(cog.value(), 10.0)),
            operator: None,
            refers_to: None,
            recording: None,
            recording_ms: None,
            sentences: Vec::new(),
            details: Value::Null,
        }
    }

    /// The same with who did it.
    pub fn by(self, operator: Option<&str>) -> Self {
        Self { operator: operator.map(str::to_owned), ..self }
    }

    /// When it happened: by the position receiver where the two clocks differ by more than two
    /// seconds, for it is the one that is set; else by the computer.
    pub fn at(&self) -> Utc {
        let gnss = self.gnss_ms.filter(|gnss| gnss.abs_diff(self.host_ms) > 2_000);
        // The later of the two: clocks that lose the time begin in the past.
        let ms = gnss.map_or(self.host_ms, |gnss| gnss.max(self.host_ms));
        Utc::from_unix_ms(ms).unwrap_or(Utc::EPOCH)
    }

    /// The computer's clock when it happened.
    pub fn host(&self) -> Utc {
        Utc::from_unix_ms(self.host_ms).unwrap_or(Utc::EPOCH)
    }

    /// Whether it is an alert about people, whose recording is kept.
    pub fn is_about_people(&self) -> bool {
        self.kind == Kind::Alert && self.cause.is_some_and(Cause::is_about_people)
    }

    /// What is given up first when too much waits for the disk, the lowest first.
    pub(super) fn weight(&self) -> u8 {
        match self.kind {
            Kind::Position | Kind::Input => 0,
            Kind::Beacon => 1,
            Kind::SafetyText | Kind::Dsc => 2,
            Kind::Alert if self.priority < Some(Priority::Warning) => 2,
            Kind::Alert if self.priority < Some(Priority::EmergencyAlarm) => 3,
            _ => 4,
        }
    }
}
