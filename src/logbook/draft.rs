//! What an entry says, and how it is made of events and acts.

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Value, json};

use super::details::{Act, AlertChange, BeaconEvent, Details, WatchEvent};
use super::kind::Kind;
use crate::advice::reach;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Utc};
use crate::units::{Degrees, Knots};
use crate::watch::{
    AlertReport, BeaconReport, BeaconUpdate, DatumReport, Event, EventBody, Mode, Reach, ReachHour,
    Rehearsed, SearchReport,
};
use crate::wire::nmea::{Dsc, Mob};

/// How far host and position receiver may be apart before the receiver's time is shown.
const CLOCKS_AGREE_MS: u64 = 2_000;
/// Where it stands how long ago what a station passed on was heard.
const HEARD_AGO: &str = "heard_ago_s";
/// Raw sentences kept with an entry.
const SENTENCES_LIMIT: usize = 16;
/// Bytes kept of a sentence. IEC 61162-1 allows 82; with a TAG block, still far fewer.
const SENTENCE_BYTES: usize = 1_024;

/// What is to be written down, or was. What does not apply or is not known is `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Draft {
    /// Arrival, in microseconds of the watch; `None` for what was written from outside of one.
    pub arrival_us: Option<u64>,
    /// What the host held to be UTC, in milliseconds since 1970.
    pub host_ms: i64,
    /// UTC of the position receiver, in milliseconds since 1970.
    pub gnss_ms: Option<i64>,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// Whose beacon that is, from the muster.
    pub person: Option<String>,
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
    /// The name of the input that an alert is about, else of the one that the sentence came by.
    pub input: Option<String>,
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
    /// What it is about, and what belongs to that alone.
    pub details: Details,
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
            EventBody::Alert(alert) => draft.on_alert(alert),
            EventBody::BeaconHeard(beacon) => {
                draft.on_beacon(beacon);
                let told = with_delay(json!({ "evidence": beacon.evidence }), beacon);
                draft.beacon(BeaconEvent::BeaconHeard, Some(beacon.mode), told);
            }
            EventBody::BeaconUpdate(update) => draft.on_update(update),
            EventBody::BeaconSilent { mmsi, last_heard, position, fix_age_s } => {
                draft.mmsi = Some(*mmsi);
                draft.text = format!("{mmsi} not heard since {}", last_heard.clock());
                draft.on_position(*position);
                draft.fix_age_s = *fix_age_s;
                let told = json!({ "last_heard": last_heard });
                draft.beacon(BeaconEvent::BeaconSilent, None, told);
            }
            EventBody::Datum(datum) => draft.on_datum(datum),
            EventBody::Search(search) => draft.on_search(search),
            EventBody::Passed { mmsi, range_nm } => {
                draft.mmsi = Some(*mmsi);
                draft.text = format!("{mmsi} passed at {range_nm}; the range opens");
                draft.beacon(BeaconEvent::Passed, None, json!({ "range_nm": range_nm }));
            }
            EventBody::DscCall(call) => draft.on_call(call),
            EventBody::MobNotice(notice) => draft.on_notice(notice),
            EventBody::SafetyText { mmsi, text, addressed } => {
                draft.mmsi = Some(*mmsi);
                draft.text.clone_from(text);
                draft.details = Details::SafetyText { addressed: Some(*addressed) };
            }
            EventBody::InputState { input, state, text } => {
                draft.text.clone_from(text);
                draft.details = Details::Input { input: input.clone(), state: *state };
            }
            EventBody::Reach(hour) => draft.on_reach(hour),
            EventBody::AwakePrompt { answer_within_s } => {
                draft.text = format!("watchkeeper asked to answer within {answer_within_s} s");
                let event = Some(WatchEvent::AwakePrompt);
                draft.details = Details::Watch { event, told: Value::Null };
            }
            // What was done by hand is written down as an act, and its alert as an alert.
            EventBody::OverboardMarked { .. }
            | EventBody::Logged { .. }
            | EventBody::Summary(_) => return None,
        }
        Some(draft)
    }

    /// What somebody did in the watch.
    pub fn operator(act: Act, text: impl Into<String>, who: Option<&str>, moment: &Moment) -> Self {
        let details = Details::Operator { act: Some(act), alert: None };
        let operator = who.map(str::to_owned);
        Self { text: text.into(), operator, details, ..Self::at_moment(moment) }
    }

    /// Something about the watch itself, and what else is known of it.
    pub fn watch(event: WatchEvent, text: impl Into<String>, told: Value, moment: &Moment) -> Self {
        let details = Details::Watch { event: Some(event), told };
        Self { text: text.into(), details, ..Self::at_moment(moment) }
    }

    /// Where the ship is.
    pub fn position(moment: &Moment) -> Self {
        let text = moment.own.map_or("position not known".to_owned(), |own| own.to_string());
        Self { text, details: Details::Position, ..Self::at_moment(moment) }
    }

    /// A remark from outside of a watch. `refers_to` is the entry it corrects.
    pub fn note(
        text: impl Into<String>,
        who: Option<&str>,
        refers_to: Option<i64>,
        host: Utc,
    ) -> Self {
        let operator = who.map(str::to_owned);
        let details = Details::Operator { act: Some(Act::Remark), alert: None };
        Self { operator, refers_to, ..Self::outside(details, text, host) }
    }

    /// Anything from outside of a watch.
    pub fn outside(details: Details, text: impl Into<String>, host: Utc) -> Self {
        Self { text: text.into(), details, host_ms: host.unix_ms(), ..Self::default() }
    }

    /// What it is about; `None` for what this version does not know.
    pub fn kind(&self) -> Option<Kind> {
        self.details.kind()
    }

    /// The alert whose state or priority changed, if that is what it is about.
    pub fn alert(&self) -> Option<&AlertChange> {
        match &self.details {
            Details::Alert(alert) => Some(alert),
            _ => None,
        }
    }

    /// Whether what it tells was only rehearsed.
    pub fn is_rehearsed(&self) -> bool {
        Rehearsed::unmarked(&self.text).0.is_some()
    }

    /// The name of the input, where the entry is of one or came by one.
    pub fn input(&self) -> Option<&str> {
        match &self.details {
            Details::Input { input, .. } => Some(input),
            _ => self.input.as_deref(),
        }
    }

    /// Whether a watch began with it.
    pub fn is_begin_of_watch(&self) -> bool {
        matches!(self.details, Details::Watch { event: Some(WatchEvent::Started), .. })
    }

    /// What a beacon did, where the entry is of one that told it.
    pub fn mode(&self) -> Option<Mode> {
        match self.details {
            Details::Beacon { mode, .. } => mode,
            _ => None,
        }
    }

    /// How long before it came in another station heard that, in seconds; 0 of what was not late.
    pub fn heard_ago_s(&self) -> u64 {
        match &self.details {
            Details::Beacon { told, .. } => told[HEARD_AGO].as_u64().unwrap_or(0),
            _ => 0,
        }
    }

    /// Whether it is an alert about a beacon, a call, a notice or a text: its recording is kept.
    pub fn is_about_people(&self) -> bool {
        self.alert().is_some_and(|alert| alert.cause.is_about_people())
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

    fn on_alert(&mut self, alert: &AlertReport) {
        let AlertReport { id, cause, priority, state, .. } = *alert;
        let matter = alert.matter.clone().filter(|_| cause.is_about_people());
        let joined_by = alert.known.joined_by;
        let change = AlertChange { alert: id, cause, priority, state, matter, joined_by };
        self.details = Details::Alert(change);
        self.mmsi = alert.mmsi;
        self.text = Rehearsed::marked(alert.rehearsed, &alert.text);
        let known = &alert.known;
        self.person.clone_from(&known.person);
        self.input.clone_from(&known.input);
        self.sentences = known.sentence.iter().map(|it| sentence(it.as_bytes())).collect();
        (self.own, self.own_age_s) = (known.own, known.own_age_s);
        self.on_position(known.position);
        self.fix_age_s = known.fix_age_s;
    }

    fn on_beacon(&mut self, beacon: &BeaconReport) {
        self.mmsi = Some(beacon.mmsi);
        self.person.clone_from(&beacon.person);
        self.text = match &beacon.person {
            Some(person) => format!("{person}'s {} {}", beacon.kind, beacon.mmsi),
            None => format!("{} {}", beacon.kind, beacon.mmsi),
        };
        let _ = write!(self.text, ", {}", beacon.mode.name());
        self.text = Rehearsed::marked(beacon.rehearsed, &self.text);
        // Range and bearing as they were told, from the own position they were made from.
        self.range_nm = beacon.range_nm.map(|range| thousandths(range.0));
        self.bearing_deg = beacon.bearing_deg.map(|bearing| tenths(bearing.value()));
        self.position = beacon.position;
        self.fix_age_s = beacon.fix_age_s;
        if beacon.own.is_some() {
            (self.own, self.own_age_s) = (beacon.own, beacon.own_age_s);
        }
    }

    fn on_update(&mut self, update: &BeaconUpdate) {
        self.on_beacon(&update.beacon);
        let told = json!({
            "evidence": update.beacon.evidence,
            "messages_heard": update.messages_heard,
            "bursts_heard": update.bursts_heard,
            "way": update.way,
        });
        let told = with_delay(told, &update.beacon);
        self.beacon(BeaconEvent::BeaconUpdate, Some(update.beacon.mode), told);
    }

    fn on_search(&mut self, search: &SearchReport) {
        self.mmsi = search.mmsi;
        self.text = format!("search planned: {}", search.why);
        self.beacon(BeaconEvent::Search, None, told(search));
    }

    fn on_datum(&mut self, datum: &DatumReport) {
        self.mmsi = datum.mmsi;
        let who = match (datum.mmsi, datum.mark) {
            (Some(mmsi), _) => mmsi.to_string(),
            (None, Some(mark)) => format!("point {mark}"),
            (None, None) => "casualty".to_owned(),
        };
        let DatumReport { radius50_m, radius95_m, text, .. } = datum;
        self.text = format!(
            "{who} estimated, half within {radius50_m} m, 95 % within {radius95_m} m: {text}"
        );
        self.beacon(BeaconEvent::Datum, None, told(datum));
        self.on_position(datum.position());
        self.fix_age_s = Some(datum.since_s);
    }

    fn on_call(&mut self, call: &Dsc) {
        self.mmsi = call.about();
        let meaning = call.meaning.name();
        self.details = Details::Dsc(told(call));
        let by = call.caller_mmsi.map_or("an unknown station".to_owned(), |it| it.to_string());
        self.text = format!("DSC {meaning} from {by}");
        self.on_position(call.position());
    }

    fn on_notice(&mut self, notice: &Mob) {
        self.mmsi = notice.mmsi;
        let told = told(notice);
        let status = told["status"].as_str().unwrap_or("unknown").replace('_', " ");
        let emitter = notice.emitter.as_deref().unwrap_or("unknown");
        self.text = format!("crew alarm, emitter {emitter}, status {status}");
        self.beacon(BeaconEvent::MobNotice, None, told);
        self.on_position(notice.position());
    }

    /// The estimate alone: what was counted is kept beside the entries.
    fn on_reach(&mut self, hour: &ReachHour) {
        self.text = format!("reach of a beacon {}", reach(&hour.reach));
        let Reach { range80_nm, low_nm, high_nm, stations, why_not, .. } = &hour.reach;
        let estimate = json!({
            "start": hour.start,
            "range80_nm": range80_nm,
            "low_nm": low_nm,
            "high_nm": high_nm,
            "stations": stations,
            "why_not": why_not,
        });
        self.details = Details::Reach { told: estimate, hour: Some(Box::new(told(hour))) };
    }

    fn beacon(&mut self, event: BeaconEvent, mode: Option<Mode>, told: Value) {
        self.details = Details::Beacon { event: Some(event), mode, told };
    }

    /// Where the casualty is, with range and bearing from the ship.
    fn on_position(&mut self, position: Option<Position>) {
        self.position = position;
        if let Some((own, position)) = self.own.zip(position) {
            let (range, bearing) = range_and_bearing(own, position);
            self.range_nm = Some(thousandths(range.0));
            self.bearing_deg = Some(tenths(bearing.value()));
        }
    }
}

/// What is told of a beacon, and how late another station passed it on, if it did.
fn with_delay(mut told: Value, beacon: &BeaconReport) -> Value {
    if let Some(ago) = beacon.heard_ago_s {
        told[HEARD_AGO] = ago.into();
    }
    told
}

/// What an event says, by its names.
fn told(event: &impl Serialize) -> Value {
    serde_json::to_value(event).unwrap_or_default()
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
    use super::super::entry::Entry;
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
    fn a_body_comes_back_as_it_was() {
        let mut draft = Draft::operator(Act::Acknowledged, "acknowledged", Some("Mate"), &moment());
        draft.sentences = vec![sentence(b"!AIVDM,\xff\n")];
        draft.on_position(Position::new(50.1, -5.0));
        let body = draft.body(0, None).unwrap();
        assert!(body.starts_with(r#"{"v":1,"entry":0,"session":null,"arrival_us":7,"#), "{body}");
        assert!(!body.contains('\n'));
        assert_eq!(Entry::read(0, String::new(), &body).unwrap().draft, draft);
        assert_eq!((draft.cog_deg, draft.sog_kn), (Some(0.0), Some(5.3)));
        // A tenth of a degree of latitude is 6 minutes, and at 50° N 6.006 NM on the ellipsoid.
        assert_eq!((draft.range_nm, draft.bearing_deg), (Some(6.006), Some(0.0)));
    }
}
