//! What a watch before this one left open, read back from the logbook.

use std::path::Path;
use std::time::Duration;

use crate::logbook::{AlertChange, Draft, Entry, Incidents, Reader};
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{AlertReport, Cause, Event, EventBody, LeftOpen, OpenAlert, OpenBeacon, State};

/// Nothing older than this is reckoned with: then the clocks are wrong.
const LONGEST: Duration = Duration::from_secs(30 * 86_400);

/// What goes on, and what is only remembered.
#[derive(Default)]
pub(super) struct Left {
    /// How long before this watch the first of it happened.
    pub before: Duration,
    /// What goes on.
    pub open: LeftOpen,
    /// The alerts of the watch before, for the eye.
    pub history: Vec<Event>,
}

/// Reads it. A logbook that cannot be read leaves nothing open: it is an alert of its own.
pub(super) fn read(folder: Option<&Path>, now: Utc) -> Left {
    let found = folder.and_then(|folder| match Reader::open(folder) {
        Ok(reader) => reader?.open_incidents().ok(),
        Err(why) => {
            tracing::debug!("cannot read what was open before: {why}");
            None
        }
    });
    found.map(|incidents| place(incidents, now)).unwrap_or_default()
}

/// Gives what happened its place in the count of this watch. A clock that was set back in between
/// makes nothing younger than now.
fn place(incidents: Incidents, now: Utc) -> Left {
    let Incidents { open, raised, beacons, beacons_began, highest_alert, history } = incidents;
    let ago = |utc: Utc| {
        let ms = u64::try_from(now.ms_since(utc)).unwrap_or(0);
        Duration::from_millis(ms).min(LONGEST)
    };
    let times = raised.iter().copied().chain(beacons_began.iter().map(|it| it.draft.host()));
    let before = times.map(ago).max().unwrap_or_default();
    let at = |utc: Utc| Mono::START + before.saturating_sub(ago(utc));
    let alerts = open.into_iter().zip(raised).filter_map(|(Entry { draft, .. }, raised)| {
        let AlertChange { alert: id, cause, priority, state, matter } = draft.alert()?.clone();
        Some(OpenAlert {
            id,
            cause,
            priority,
            rectified: state == State::RectifiedUnacknowledged,
            mmsi: draft.mmsi,
            text: draft.text.clone(),
            matter,
            raised: at(raised),
            place: draft.position.filter(|_| cause == Cause::OverboardMarked),
            sentence: draft.sentences.first().cloned(),
        })
    });
    let beacons = beacons.into_iter().zip(beacons_began).filter_map(|(last, first)| {
        let (draft, first) = (last.draft, first.draft);
        let last = Stamp { at: at(draft.host()), utc: draft.host() };
        let fix_at = draft.fix_age_s.map(|age| {
            let age = Duration::from_secs(age);
            Mono::START + last.at.since(Mono::START).saturating_sub(age)
        });
        Some(OpenBeacon {
            mmsi: draft.mmsi?,
            mode: draft.mode()?,
            since: Stamp { at: at(first.host()), utc: first.host() },
            last,
            position: draft.position,
            fix_at,
            own_at_first: first.own,
        })
    });
    Left {
        before,
        open: LeftOpen {
            alerts: alerts.collect(),
            beacons: beacons.collect(),
            last_id: highest_alert.map_or(0, |id| id.0),
        },
        history: history.iter().filter_map(|entry| event(&entry.draft)).collect(),
    }
}

/// An entry about an alert as the event that it was.
fn event(draft: &Draft) -> Option<Event> {
    let AlertChange { alert: id, cause, priority, state, matter } = draft.alert()?.clone();
    let body = EventBody::Alert(AlertReport {
        id,
        cause,
        priority,
        state,
        mmsi: draft.mmsi,
        text: draft.text.clone(),
        matter,
        sentence: draft.sentences.first().cloned(),
        place: None,
    });
    Some(Event { at: draft.host(), body })
}
