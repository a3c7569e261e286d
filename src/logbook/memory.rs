//! Events as drafts. What an alert does not say itself, such as how far the casualty is, is known
//! from the beacon's last report.

use std::collections::HashMap;

use serde_json::{Value, json};

use super::draft::{Draft, Kind, Moment};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::watch::{BeaconReport, Event, EventBody, InputState, Mode};

/// How many beacons are remembered.
const BEACONS: usize = 256;

/// The longest sentence that is kept, in bytes.
const SENTENCE: usize = 1024;

#[derive(Clone, Debug)]
struct Known {
    person: Option<String>,
    mode: Option<Mode>,
    position: Option<Position>,
}

/// What was said of each beacon last.
#[derive(Debug, Default)]
pub struct Memory {
    beacons: HashMap<Mmsi, Known>,
}

impl Memory {
    /// The draft of an event's entry; `None` for what is not written down. `line` is what was being
    /// taken when it happened.
    pub fn draft(&mut self, event: &Event, moment: &Moment, line: Option<&[u8]>) -> Option<Draft> {
        let mut draft = self.body(&event.body, moment)?;
        let sentence = match &event.body {
            EventBody::Alert(alert) => alert.sentence.clone(),
            EventBody::InputState { .. } | EventBody::BeaconSilent { .. } => None,
            _ => line.map(|line| String::from_utf8_lossy(&line[..line.len().min(SENTENCE)]).into()),
        };
        draft.sentences.extend(sentence);
        Some(draft)
    }

    fn body(&mut self, body: &EventBody, moment: &Moment) -> Option<Draft> {
        Some(match body {
            EventBody::Alert(alert) => {
                let mut draft = Draft::new(Kind::Alert, &*alert.text, moment);
                draft.alert = Some(alert.id);
                draft.cause = Some(alert.cause);
                draft.priority = Some(alert.priority);
                draft.state = Some(alert.state);
                draft.mmsi = alert.mmsi;
                if let Some(known) = alert.mmsi.and_then(|mmsi| self.beacons.get(&mmsi)) {
                    draft.person.clone_from(&known.person);
                    draft.mode = known.mode;
                    place(&mut draft, known.position);
                }
                draft
            }
            EventBody::BeaconHeard(report) => {
                let text = format!("Heard: {}", report.evidence.join(", "));
                self.beacon(report, text, json!({ "event": "beacon_heard" }), moment)
            }
            EventBody::BeaconUpdate(update) => {
                let (messages, bursts) = (update.messages_heard, update.bursts_heard);
                let text = format!("Message {messages} of burst {bursts}");
                let details = json!({
                    "event": "beacon_update", "messages_heard": messages, "bursts_heard": bursts,
                });
                self.beacon(&update.beacon, text, details, moment)
            }
            EventBody::BeaconSilent { mmsi, last_heard, position, fix_age_s } => {
                let text = format!("Not heard since {}", last_heard.clock());
                let mut draft = Draft::new(Kind::Beacon, text, moment);
                draft.mmsi = Some(*mmsi);
                if let Some(known) = self.beacons.get(mmsi) {
                    (draft.person, draft.mode) = (known.person.clone(), known.mode);
                }
                place(&mut draft, *position);
                draft.fix_age_s = *fix_age_s;
                draft.details = json!({ "event": "beacon_silent", "last_heard": last_heard });
                draft
            }
            EventBody::DscCall(call) => {
                let mut draft = Draft::new(Kind::Dsc, format!("DSC: {:?}", call.meaning), moment);
                draft.mmsi = call.casualty_mmsi.or(call.caller_mmsi);
                let at = call.lat.zip(call.lon).and_then(|(lat, lon)| Position::new(lat, lon));
                place(&mut draft, at);
                draft.details = serde_json::to_value(call).unwrap_or(Value::Null);
                draft
            }
            EventBody::MobNotice(notice) => {
                let text = format!("Crew alarm's notice: {:?}", notice.status);
                let mut draft = Draft::new(Kind::Dsc, text, moment);
                draft.mmsi = notice.mmsi;
                let at = notice.lat.zip(notice.lon).and_then(|(lat, lon)| Position::new(lat, lon));
                place(&mut draft, at);
                draft.details = serde_json::to_value(notice).unwrap_or(Value::Null);
                draft
            }
            EventBody::SafetyText { mmsi, text, addressed } => {
                let mut draft = Draft::new(Kind::SafetyText, &**text, moment);
                draft.mmsi = Some(*mmsi);
                draft.details = json!({ "addressed": addressed });
                draft
            }
            EventBody::InputState { input, state, text } => {
                let text = match state {
                    InputState::Live => format!("Input {input} is live"),
                    _ => format!("Input {input}: {text}"),
                };
                let mut draft = Draft::new(Kind::Input, text, moment);
                draft.details = json!({ "input": input, "state": state });
                draft
            }
            EventBody::AwakePrompt { .. } => {
                Draft::new(Kind::Watch, "Watchkeeper asked to answer", moment)
            }
            EventBody::Logged { .. } | EventBody::Summary(_) => return None,
        })
    }

    fn beacon(
        &mut self,
        report: &BeaconReport,
        text: String,
        details: Value,
        moment: &Moment,
    ) -> Draft {
        let known = Known {
            person: report.person.clone(),
            mode: Some(report.mode),
            position: report.position,
        };
        if self.beacons.len() < BEACONS || self.beacons.contains_key(&report.mmsi) {
            self.beacons.insert(report.mmsi, known);
        }
        let mut draft = Draft::new(Kind::Beacon, text, moment);
        draft.mmsi = Some(report.mmsi);
        draft.person.clone_from(&report.person);
        draft.mode = Some(report.mode);
        place(&mut draft, report.position);
        draft.fix_age_s = report.fix_age_s;
        draft.details = details;
        draft
    }
}

/// Where somebody is, and how far that is from the ship.
fn place(draft: &mut Draft, position: Option<Position>) {
    draft.position = position;
    if let Some((range, bearing)) = draft.own.zip(position).map(|(o, p)| range_and_bearing(o, p)) {
        draft.range_nm = Some((range.0 * 1000.0).round() / 1000.0);
        draft.bearing_deg = Some((bearing.value() * 10.0).round() / 10.0 % 360.0);
    }
}
