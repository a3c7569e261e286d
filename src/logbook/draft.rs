//! What an entry says: the body that is hashed, and how it is made of events and acts.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Utc};
use crate::units::{Degrees, Knots};
use crate::watch::{
    AlertId, AlertReport, BeaconReport, BeaconUpdate, Cause, DatumReport, Event, EventBody, Matter,
    Mode, Priority, SearchReport, State,
};
use crate::wire::nmea::{Dsc, Mob};

/// The text of the entry that begins a watch.
pub const STARTED: &str = "watch started";
/// The text of the entry that ends one in good order.
pub const ENDED: &str = "watch ended";
/// How the text of an entry begins that hands a watch over.
pub const HANDED_OVER: &str = "watch handed over";

/// How far host and position receiver may be apart before the receiver's time is shown.
const CLOCKS_AGREE_MS: u64 = 2_000;
/// Raw sentences kept with an entry.
const SENTENCES_LIMIT: usize = 16;
/// Bytes kept of a sentence. IEC 61162-1 allows 82; with a TAG block, still far fewer.
const SENTENCE_BYTES: usize = 1_024;

/// What an entry is about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// An alert's state or priority changed.
    Alert,
    /// A beacon was heard, goes on or fell silent, or a crew alarm told of a person overboard.
    Beacon,
    /// A DSC call came in.
    Dsc,
    /// A safety text came in.
    SafetyText,
    /// An input is live, silent, lost or noisy.
    Input,
    /// Somebody did or noted something.
    Operator,
    /// A watch began, ended or was handed over, or the logbook tells of itself.
    #[default]
    Watch,
    /// Where the ship was.
    Position,
    /// A self-test was judged.
    Test,
    /// A check of the register.
    Check,
}

impl Kind {
    /// Every kind.
    pub const ALL: &[Self] = &[
        Self::Alert,
        Self::Beacon,
        Self::Dsc,
        Self::SafetyText,
        Self::Input,
        Self::Operator,
        Self::Watch,
        Self::Position,
        Self::Test,
        Self::Check,
    ];

    /// The word that JSON has for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Alert => "alert",
            Self::Beacon => "beacon",
            Self::Dsc => "dsc",
            Self::SafetyText => "safety_text",
            Self::Input => "input",
            Self::Operator => "operator",
            Self::Watch => "watch",
            Self::Position => "position",
            Self::Test => "test",
            Self::Check => "check",
        }
    }
}

/// The body of an entry, in the order in which it is hashed. What does not apply or is not known is
/// `None`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Draft {
    /// The version of this form: 1. Filled by the writer.
    pub v: u32,
    /// The entry's own number, from 1. Filled by the writer.
    pub entry: i64,
    /// The number of the entry that began the watch; `None` for what was written from outside of
    /// one. Filled by the writer.
    pub session: Option<i64>,
    /// Arrival, in microseconds of that watch; `None` from outside.
    pub arrival_us: Option<u64>,
    /// What the host held to be UTC, in milliseconds since 1970.
    pub host_ms: i64,
    /// UTC of the position receiver, in milliseconds since 1970.
    pub gnss_ms: Option<i64>,
    /// What it is about.
    pub kind: Kind,
    /// The alert's priority.
    pub priority: Option<Priority>,
    /// The alert's cause.
    pub cause: Option<Cause>,
    /// The alert's state.
    pub state: Option<State>,
    /// The alert's number.
    pub alert: Option<AlertId>,
    /// What makes it the same alert when it comes again: of those that go on over a restart. Left
    /// out of older entries.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<Matter>,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// Whose beacon that is, from the muster.
    pub person: Option<String>,
    /// What the beacon does.
    pub mode: Option<Mode>,
    /// The same for a person.
    pub text: String,
    /// How far the casualty is, in nautical miles.
    pub range_nm: Option<f64>,
    /// Where it bears, true, 0 up to 360 degrees.
    pub bearing_deg: Option<f64>,
    /// Where it is.
    pub position: Option<Position>,
    /// How old that is, in whole seconds.
    pub fix_age_s: Option<u64>,
    /// Where the ship is.
    pub own: Option<Position>,
    /// How old that is, in whole seconds.
    pub own_age_s: Option<u64>,
    /// Her speed over ground, in knots.
    pub sog_kn: Option<f64>,
    /// Her course over ground, true, 0 up to 360 degrees.
    pub cog_deg: Option<f64>,
    /// Who did or wrote it.
    pub operator: Option<String>,
    /// The entry that this one corrects or belongs to.
    pub refers_to: Option<i64>,
    /// The recording that holds what was received then.
    pub recording: Option<String>,
    /// The time label in that recording, in milliseconds since 1970.
    pub recording_ms: Option<i64>,
    /// The sentences that caused it, at most 16; what is no text in them is replaced.
    pub sentences: Vec<String>,
    /// What else is known, by the names of the events.
    pub details: Value,
}

/// When something happened, and how the ship was under way then.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// Arrival.
    pub arrival: Mono,
    /// What the host holds to be UTC.
    pub host: Utc,
    /// UTC of the position receiver.
    pub gnss: Option<Utc>,
    /// Where the ship is.
    pub own: Option<Position>,
    /// How old that is, in whole seconds.
    pub own_age_s: Option<u64>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground.
    pub cog: Option<Degrees>,
}

impl Draft {
    /// The entry of an event; `None` for events that are not logged. `line` is what was being
    /// taken, if anything.
    pub fn of_event(event: &Event, moment: &Moment, line: Option<&[u8]>) -> Option<Self> {
        let mut draft = Self::at_moment(moment);
        draft.sentences = line.map(sentence).into_iter().take(SENTENCES_LIMIT).collect();
        match &event.body {
            EventBody::Alert(alert) => draft.take_alert(alert),
            EventBody::BeaconHeard(beacon) => {
                draft.take_beacon(beacon);
                draft.details = json!({ "event": "beacon_heard", "evidence": beacon.evidence });
            }
            EventBody::BeaconUpdate(update) => draft.take_update(update),
            EventBody::BeaconSilent { mmsi, last_heard, position, fix_age_s } => {
                draft.kind = Kind::Beacon;
                draft.mmsi = Some(*mmsi);
                draft.text = format!("{mmsi} not heard since {}", last_heard.clock());
                draft.take_position(*position);
                draft.fix_age_s = *fix_age_s;
                draft.details = json!({ "event": "beacon_silent", "last_heard": last_heard });
            }
            EventBody::Datum(datum) => draft.take_datum(datum),
            EventBody::Search(search) => draft.take_search(search),
            EventBody::Passed { mmsi, range_nm } => {
                draft.kind = Kind::Beacon;
                draft.mmsi = Some(*mmsi);
                draft.text = format!("{mmsi} passed at {range_nm}; the range opens");
                draft.details = json!({ "event": "passed", "range_nm": range_nm });
            }
            EventBody::DscCall(call) => draft.take_call(call),
            EventBody::MobNotice(notice) => draft.take_notice(notice),
            EventBody::SafetyText { mmsi, text, addressed } => {
                draft.kind = Kind::SafetyText;
                draft.mmsi = Some(*mmsi);
                draft.text.clone_from(text);
                draft.details = json!({ "addressed": addressed });
            }
            EventBody::InputState { input, state, text } => {
                draft.kind = Kind::Input;
                draft.text.clone_from(text);
                draft.details = json!({ "input": input, "state": state });
            }
            EventBody::AwakePrompt { answer_within_s } => {
                draft.kind = Kind::Watch;
                draft.text = format!("watchkeeper asked to answer within {answer_within_s} s");
            }
            // What was done by hand is written down as an act, and its alert as an alert.
            EventBody::OverboardMarked { .. }
            | EventBody::Logged { .. }
            | EventBody::Summary(_) => return None,
        }
        Some(draft)
    }

    /// What somebody did in the watch.
    pub fn operator(text: impl Into<String>, who: Option<&str>, moment: &Moment) -> Self {
        let operator = who.map(str::to_owned);
        Self { kind: Kind::Operator, text: text.into(), operator, ..Self::at_moment(moment) }
    }

    /// Something about the watch itself: [`STARTED`], [`ENDED`] and the like.
    pub fn watch(text: impl Into<String>, details: Value, moment: &Moment) -> Self {
        Self { kind: Kind::Watch, text: text.into(), details, ..Self::at_moment(moment) }
    }

    /// Where the ship is.
    pub fn position(moment: &Moment) -> Self {
        let text = moment.own.map_or("position not known".to_owned(), |own| own.to_string());
        Self { kind: Kind::Position, text, ..Self::at_moment(moment) }
    }

    /// A remark from outside of a watch. `refers_to` is the entry it corrects.
    pub fn note(
        text: impl Into<String>,
        who: Option<&str>,
        refers_to: Option<i64>,
        host: Utc,
    ) -> Self {
        Self {
            kind: Kind::Operator,
            text: text.into(),
            operator: who.map(str::to_owned),
            refers_to,
            host_ms: host.unix_ms(),
            ..Self::default()
        }
    }

    /// Whether it is an alert about a beacon, a call, a notice or a text: its recording is kept.
    pub fn is_about_people(&self) -> bool {
        self.kind == Kind::Alert && self.cause.is_some_and(Cause::is_about_people)
    }

    /// The time that is shown: the host's, or the later of the two clocks where
    /// [`Self::clocks_differ`], for a clock that has lost the time begins in the past.
    pub fn at(&self) -> Utc {
        let later = self.gnss_ms.filter(|_| self.clocks_differ()).max(Some(self.host_ms));
        Utc::from_unix_ms(later.unwrap_or(self.host_ms)).unwrap_or(Utc::EPOCH)
    }

    /// What the host held the time to be.
    pub fn host(&self) -> Utc {
        Utc::from_unix_ms(self.host_ms).unwrap_or(Utc::EPOCH)
    }

    /// Whether host and position receiver were more than 2 s apart.
    pub fn clocks_differ(&self) -> bool {
        self.gnss_ms.is_some_and(|gnss| gnss.abs_diff(self.host_ms) > CLOCKS_AGREE_MS)
    }

    fn at_moment(moment: &Moment) -> Self {
        Self {
            arrival_us: Some(moment.arrival.micros()),
            host_ms: moment.host.unix_ms(),
            gnss_ms: moment.gnss.map(Utc::unix_ms),
            own: moment.own,
            own_age_s: moment.own_age_s,
            sog_kn: moment.sog.map(|speed| tenths(speed.0)),
            cog_deg: moment.cog.map(|course| tenths(course.value())),
            ..Self::default()
        }
    }

    fn take_alert(&mut self, alert: &AlertReport) {
        self.kind = Kind::Alert;
        self.priority = Some(alert.priority);
        self.cause = Some(alert.cause);
        self.state = Some(alert.state);
        self.alert = Some(alert.id);
        self.key = alert.matter.clone().filter(|_| alert.cause.is_about_people());
        self.mmsi = alert.mmsi;
        self.text.clone_from(&alert.text);
        if alert.place.is_some() {
            self.take_position(alert.place);
        }
        if let Some(raised_by) = &alert.sentence {
            self.sentences = vec![sentence(raised_by.as_bytes())];
        }
    }

    fn take_beacon(&mut self, beacon: &BeaconReport) {
        self.kind = Kind::Beacon;
        self.mmsi = Some(beacon.mmsi);
        self.person.clone_from(&beacon.person);
        self.mode = Some(beacon.mode);
        self.text = match &beacon.person {
            Some(person) => format!("{person}'s {} {}", beacon.kind, beacon.mmsi),
            None => format!("{} {}", beacon.kind, beacon.mmsi),
        };
        let _ = write!(self.text, ", {}", beacon.mode.name());
        // Range and bearing as they were told, from the own position they were made from.
        self.range_nm = beacon.range_nm.map(|range| thousandths(range.0));
        self.bearing_deg = beacon.bearing_deg.map(|bearing| tenths(bearing.value()));
        self.position = beacon.position;
        self.fix_age_s = beacon.fix_age_s;
        if beacon.own.is_some() {
            (self.own, self.own_age_s) = (beacon.own, beacon.own_age_s);
        }
    }

    fn take_update(&mut self, update: &BeaconUpdate) {
        self.take_beacon(&update.beacon);
        self.details = json!({
            "event": "beacon_update",
            "evidence": update.beacon.evidence,
            "messages_heard": update.messages_heard,
            "bursts_heard": update.bursts_heard,
            "way": update.way,
        });
    }

    fn take_search(&mut self, search: &SearchReport) {
        self.kind = Kind::Beacon;
        self.mmsi = search.mmsi;
        self.text = format!("search planned: {}", search.why);
        self.details = serde_json::to_value(search).unwrap_or_default();
        if let Some(details) = self.details.as_object_mut() {
            details.insert("event".to_owned(), json!("search"));
        }
    }

    fn take_datum(&mut self, datum: &DatumReport) {
        self.kind = Kind::Beacon;
        self.mmsi = datum.mmsi;
        let who = match (datum.mmsi, datum.mark) {
            (Some(mmsi), _) => mmsi.to_string(),
            (None, Some(mark)) => format!("point {mark}"),
            (None, None) => "casualty".to_owned(),
        };
        let DatumReport { radius50_m, radius95_m, text, .. } = datum;
        self.text =
            format!("{who} reckoned, 50 % in {radius50_m} m, 95 % in {radius95_m} m: {text}");
        self.details = serde_json::to_value(datum).unwrap_or_default();
        if let Some(details) = self.details.as_object_mut() {
            details.insert("event".to_owned(), json!("datum"));
        }
        self.take_position(datum.position());
        self.fix_age_s = Some(datum.since_s);
    }

    fn take_call(&mut self, call: &Dsc) {
        self.kind = Kind::Dsc;
        self.mmsi = call.casualty_mmsi.or(call.caller_mmsi);
        self.details = serde_json::to_value(call).unwrap_or_default();
        let meaning = call.meaning.name();
        let by = call.caller_mmsi.map_or("an unknown station".to_owned(), |it| it.to_string());
        self.text = format!("DSC {meaning} from {by}");
        self.take_position(call.position());
    }

    fn take_notice(&mut self, notice: &Mob) {
        self.kind = Kind::Beacon;
        self.mmsi = notice.mmsi;
        self.details = serde_json::to_value(notice).unwrap_or_default();
        let status = self.details["status"].as_str().unwrap_or("unknown").replace('_', " ");
        let emitter = notice.emitter.as_deref().unwrap_or("unknown");
        self.text = format!("crew alarm, emitter {emitter}, status {status}");
        if let Some(details) = self.details.as_object_mut() {
            details.insert("event".to_owned(), json!("mob_notice"));
        }
        self.take_position(notice.position());
    }

    /// Where the casualty is, with range and bearing from the ship.
    pub(super) fn take_position(&mut self, position: Option<Position>) {
        self.position = position;
        if let Some((own, position)) = self.own.zip(position) {
            let (range, bearing) = range_and_bearing(own, position);
            self.range_nm = Some(thousandths(range.0));
            self.bearing_deg = Some(tenths(bearing.value()));
        }
    }
}

/// A received line as text.
fn sentence(line: &[u8]) -> String {
    String::from_utf8_lossy(&line[..line.len().min(SENTENCE_BYTES)]).into_owned()
}

/// A direction or speed as it is written down; 359.97 degrees are none of 360.
fn tenths(value: f64) -> f64 {
    let tenths = (value * 10.0).round() / 10.0;
    if tenths == 360.0 { 0.0 } else { tenths }
}

/// A range as it is written down: to the metre or so.
fn thousandths(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moment() -> Moment {
        Moment {
            arrival: Mono::from_micros(7),
            host: Utc::from_unix_ms(1_000).unwrap(),
            gnss: None,
            own: Position::new(50.0, -5.0),
            own_age_s: Some(1),
            sog: Some(Knots(5.34)),
            cog: Some(Degrees::new(359.97)),
        }
    }

    #[test]
    fn the_later_time_is_shown_where_the_clocks_differ() {
        let mut draft = Draft { host_ms: 10_000, ..Draft::default() };
        assert_eq!((draft.at().unix_ms(), draft.clocks_differ()), (10_000, false));
        for (gnss_ms, shown) in [(12_000, 10_000), (12_001, 12_001), (7_999, 10_000)] {
            draft.gnss_ms = Some(gnss_ms);
            assert_eq!(draft.at().unix_ms(), shown);
        }
    }

    #[test]
    fn every_kind_has_its_name() {
        for kind in Kind::ALL {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.word());
        }
    }

    #[test]
    fn a_body_comes_back_as_it_was() {
        let mut draft = Draft::operator("acknowledged", Some("Mate"), &moment());
        draft.sentences = vec![sentence(b"!AIVDM,\xff\n")];
        draft.take_position(Position::new(50.1, -5.0));
        let body = serde_json::to_string(&draft).unwrap();
        assert!(body.starts_with(r#"{"v":0,"entry":0,"session":null,"arrival_us":7,"#), "{body}");
        assert!(!body.contains('\n'));
        assert_eq!(serde_json::from_str::<Draft>(&body).unwrap(), draft);
        assert_eq!((draft.cog_deg, draft.sog_kn), (Some(0.0), Some(5.3)));
        // A tenth of a degree of latitude is 6 minutes, and at 50° N 6.006 NM on the ellipsoid.
        assert_eq!((draft.range_nm, draft.bearing_deg), (Some(6.006), Some(0.0)));
    }
}
