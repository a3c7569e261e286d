//! One page for whoever takes the watch over.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use super::draft::{Draft, Kind};
use super::entry::Filter;
use super::error::Error;
use super::reader::Reader;
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{AlertId, Cause, Priority, State};

/// What happened in a watch, gathered from its entries.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Handover {
    /// The first entry's time.
    pub begun: Option<Utc>,
    /// The last entry's time.
    pub ended: Option<Utc>,
    /// Alerts that are not over, with what they say.
    pub open: Vec<String>,
    /// Alerts of warning or above that are over.
    pub resolved: Vec<String>,
    /// Self-tests that were heard.
    pub tests: Vec<String>,
    /// Inputs that failed, with when.
    pub inputs: Vec<String>,
    /// What somebody did or wrote.
    pub notes: Vec<String>,
    /// Where the ship was first and last.
    pub own: Option<(Position, Position)>,
}

/// What to ask whoever goes, and what to look at: after the principles of STCW A-VIII/2 part 4-1,
/// 19 to 22, as a small crew can ask them (the small-boat form is advice, no source).
pub const QUESTIONS: [&str; 8] = [
    "Is the relief awake, dressed, clipped on, and used to the dark?",
    "Who is on deck, and wearing which beacon?",
    "Course, speed, sails; what the skipper has ordered",
    "Ships in sight, dangers ahead, tide and weather expected",
    "Is the receiver alive? (this screen: every input live)",
    "Which alarms are silenced or acknowledged, and why?",
    "Which VHF channel is watched? Is the DSC radio on?",
    "Is a beacon incident open? Who has been told?",
];

/// An alert through the watch.
struct Followed {
    first: Utc,
    last: Draft,
}

impl Reader {
    /// Gathers the watch that is to be handed over: since `since`, else since it began or was
    /// handed over last.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn handover(&self, since: Option<Utc>) -> Result<Handover, Error> {
        let from = match since {
            Some(_) => 0,
            None => self.last_change()?,
        };
        let mut page = Handover::default();
        let mut alerts: BTreeMap<AlertId, Followed> = BTreeMap::new();
        let mut tests: BTreeMap<Mmsi, (Utc, Option<String>, u64)> = BTreeMap::new();
        self.entries(&Filter { since, ..Filter::default() }, |entry| {
            let draft = entry.draft;
            if draft.entry < from {
                return;
            }
            let at = draft.at();
            page.begun = page.begun.or(Some(at));
            page.ended = Some(at);
            if let Some(own) = draft.own {
                page.own = Some((page.own.map_or(own, |(first, _)| first), own));
            }
            match draft.kind {
                Kind::Alert => {
                    if let Some(id) = draft.alert {
                        let first = alerts.get(&id).map_or(at, |followed| followed.first);
                        alerts.insert(id, Followed { first, last: draft });
                    }
                }
                Kind::Beacon if draft.mode == Some(crate::watch::Mode::Test) => {
                    if let Some(mmsi) = draft.mmsi {
                        let messages = draft.details["messages_heard"].as_u64().unwrap_or(1);
                        tests.insert(mmsi, (at, draft.person, messages));
                    }
                }
                Kind::Input if draft.details["state"] != "live" => {
                    page.inputs.push(format!("{}  {}", at.clock(), draft.text));
                }
                Kind::Operator | Kind::Check => {
                    let by = draft.operator.map(|by| format!(" ({by})")).unwrap_or_default();
                    page.notes.push(format!("{}  {}{by}", at.clock(), draft.text));
                }
                _ => {}
            }
        })?;
        for followed in alerts.into_values() {
            page.follow(&followed);
        }
        page.tests.extend(tests.into_iter().map(|(mmsi, (at, person, messages))| {
            let who = person.map_or(format!("beacon {mmsi}"), |who| format!("{who} ({mmsi})"));
            format!("{}  {who}: TEST, message {messages}", at.clock())
        }));
        Ok(page)
    }

    /// The entry with which the present watch began.
    fn last_change(&self) -> Result<i64, Error> {
        let mut last = 0;
        self.entries(&Filter { kind: Some(Kind::Watch), ..Filter::default() }, |entry| {
            let is_change = |key: &str| entry.draft.details[key] != Value::Null;
            if is_change("version") || is_change("handed_over_to") {
                last = entry.draft.entry;
            }
        })?;
        Ok(last)
    }
}

impl Handover {
    fn follow(&mut self, Followed { first, last }: &Followed) {
        let (Some(priority), Some(state)) = (last.priority, last.state) else { return };
        let said = format!("{}  {}", first.clock(), last.text);
        match state {
            State::Normal if priority > Priority::Caution => {
                self.resolved.push(format!("{said}, over at {}", last.at().clock()));
            }
            State::Normal => {}
            _ if last.cause == Some(Cause::BeaconTest) => {}
            State::ActiveAcknowledged if priority > Priority::Caution => {
                self.open.push(format!("{said}, acknowledged"));
            }
            State::ActiveAcknowledged => self.open.push(said),
            _ => self.open.push(format!("{said}, NOT ACKNOWLEDGED")),
        }
    }
}
