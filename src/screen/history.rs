//! What has happened, for the eye: every alert with when it was raised, acknowledged and ended. The
//! logbook, not this, is the evidence.

use std::collections::VecDeque;

use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::{AlertId, AlertReport, Cause, Event, EventBody, Priority, State};

/// How many entries are kept; the oldest of the least urgent go first. Our own.
const ENTRIES: usize = 500;

/// One alert, from raised to ended.
#[derive(Clone, Debug)]
pub struct HistoryEntry {
    /// Its number.
    pub id: AlertId,
    /// When it was raised.
    pub raised: Utc,
    /// When somebody acknowledged it.
    pub acknowledged: Option<Utc>,
    /// When it ended.
    pub ended: Option<Utc>,
    /// It was about the watch before this one, or her ship, and ended with that.
    pub ended_with_watch: bool,
    /// How urgent it is or was.
    pub priority: Priority,
    /// What it is about.
    pub cause: Cause,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// How far it was dealt with.
    pub state: State,
    /// What it says.
    pub text: String,
    /// The sentence that raised it.
    pub sentence: Option<String>,
}

/// All alerts since the watch began, bounded.
#[derive(Clone, Debug, Default)]
pub struct History {
    entries: VecDeque<HistoryEntry>,
}

impl History {
    /// Takes an event. Whether it is about an alert that was known, no more urgent than it was, and not
    /// raised again after it had ended or been acknowledged.
    pub fn tell(&mut self, event: &Event) -> bool {
        let EventBody::Alert(alert) = &event.body else { return true };
        let mut known = true;
        let found = self.entries.iter_mut().rev().find(|entry| entry.is_of(alert));
        let entry = match found {
            Some(entry) => entry,
            None => {
                known = false;
                self.make_room();
                self.entries.push_back(HistoryEntry::new(alert, event.at));
                let Some(entry) = self.entries.back_mut() else { return false };
                entry
            }
        };
        let again = |before| !matches!(before, State::ActiveUnacknowledged | State::ActiveSilenced);
        known &= alert.priority <= entry.priority
            && !(alert.state == State::ActiveUnacknowledged && again(entry.state));
        entry.priority = alert.priority;
        entry.state = alert.state;
        entry.text.clone_from(&alert.text);
        match alert.state {
            State::ActiveAcknowledged if alert.priority > Priority::Caution => {
                entry.acknowledged = entry.acknowledged.or(Some(event.at));
            }
            State::RectifiedUnacknowledged => entry.ended = Some(event.at),
            State::Normal => {
                if entry.ended.is_some() && !entry.ended_with_watch {
                    entry.acknowledged = entry.acknowledged.or(Some(event.at));
                }
                if !entry.ended_with_watch {
                    entry.ended = entry.ended.or(Some(event.at));
                }
            }
            // Raised again: it has not ended.
            State::ActiveUnacknowledged => entry.ended = None,
            _ => {}
        }
        known
    }

    /// Takes an event of a watch before this one. People survive that; what was wrong with the watch
    /// itself ended with it.
    pub fn recall(&mut self, event: &Event) {
        self.tell(event);
        let EventBody::Alert(alert) = &event.body else { return };
        let found = self.entries.iter_mut().rev().find(|entry| entry.is_of(alert));
        if let Some(entry) = found.filter(|it| !it.cause.is_about_people()) {
            entry.ended_with_watch = entry.state != State::Normal;
            entry.state = State::Normal;
        }
    }

    /// The entries, newest first; alarms alone, or all.
    pub fn newest(&self, alarms_only: bool) -> impl Iterator<Item = &HistoryEntry> {
        let wanted = move |entry: &&HistoryEntry| !alarms_only || entry.priority >= Priority::Alarm;
        self.entries.iter().rev().filter(wanted)
    }

    fn make_room(&mut self) {
        if self.entries.len() >= ENTRIES {
            let least =
                self.entries.iter().enumerate().min_by_key(|(place, e)| (e.priority, *place));
            if let Some((place, _)) = least {
                self.entries.remove(place);
            }
        }
    }
}

impl HistoryEntry {
    fn new(alert: &AlertReport, at: Utc) -> Self {
        Self {
            id: alert.id,
            raised: at,
            acknowledged: None,
            ended: None,
            ended_with_watch: false,
            priority: alert.priority,
            cause: alert.cause,
            mmsi: alert.mmsi,
            state: alert.state,
            text: alert.text.clone(),
            sentence: alert.known.sentence.clone(),
        }
    }

    /// Whether an alert is this one. Two watches that could not read the logbook may have given one
    /// number to two alerts.
    fn is_of(&self, alert: &AlertReport) -> bool {
        (self.id, self.cause, self.mmsi) == (alert.id, alert.cause, alert.mmsi)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::Known;

    fn event(id: u32, cause: Cause, state: State, text: &str, at: i64) -> Event {
        let body = EventBody::Alert(AlertReport {
            id: AlertId(id),
            cause,
            priority: Priority::Warning,
            state,
            mmsi: None,
            text: text.to_owned(),
            matter: None,
            known: Known::default(),
            rehearsed: Default::default(),
        });
        Event { at: Utc::from_unix_ms(at).unwrap(), body }
    }

    #[test]
    fn what_was_wrong_with_the_last_watch_ended_with_it() {
        let mut history = History::default();
        let open = State::ActiveUnacknowledged;
        history.recall(&event(1, Cause::InputSilent, open, "Input ais: no AIS for 60 s", 1));
        history.recall(&event(2, Cause::BeaconUnverified, open, "Mate: beacon heard", 2));
        let state =
            |history: &History| history.newest(false).map(|it| it.state).collect::<Vec<_>>();
        assert_eq!(state(&history), [State::ActiveUnacknowledged, State::Normal]);
        // The new watch says that it is over: when it ended is not known.
        history.tell(&event(1, Cause::InputSilent, State::Normal, "Input ais: unplugged", 9));
        let entry = history.newest(false).last().unwrap();
        assert!(entry.ended_with_watch && entry.ended.is_none() && entry.acknowledged.is_none());
        assert_eq!(entry.text, "Input ais: unplugged");
    }

    #[test]
    fn two_alerts_of_one_number_have_a_row_each() {
        let mut history = History::default();
        let of = |mmsi, state, at| {
            let mut event = event(7, Cause::BeaconActive, state, "beacon ACTIVE", at);
            let EventBody::Alert(alert) = &mut event.body else { panic!("no alert") };
            alert.mmsi = Mmsi::new(mmsi);
            event
        };
        // A watch that could not read the logbook has raised one, and reads of another that is over.
        assert!(!history.tell(&of(972_000_017, State::ActiveUnacknowledged, 9)));
        history.recall(&of(972_000_018, State::ActiveUnacknowledged, 1));
        history.recall(&of(972_000_018, State::Normal, 2));
        let rows: Vec<_> = history.newest(false).map(|it| (it.mmsi, it.state)).collect();
        let open = (Mmsi::new(972_000_017), State::ActiveUnacknowledged);
        assert_eq!(rows, [(Mmsi::new(972_000_018), State::Normal), open]);
        // One that is open there keeps none that is new here out of view.
        let mut history = History::default();
        history.recall(&of(972_000_018, State::ActiveUnacknowledged, 1));
        assert!(!history.tell(&of(972_000_017, State::ActiveUnacknowledged, 9)));
    }
}
