//! What the logbook adds: all recordings of an incident, over any number of restarts, and what the
//! watch and people wrote down.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

use super::Source;
use crate::app::RECORDINGS;
use crate::capture;
use crate::cli::Error;
use crate::cli::logbook::{Recorded, reader, recorded};
use crate::debrief::{About, LogEntry, Logged};
use crate::logbook::{Act, AlertChange, Details, Draft, Entry, Filter, Kind, Reader};
use crate::time::Utc;
use crate::watch::{AlertId, Cause, Mode, Priority, State};

/// So long after the last entry the recordings are followed, and so far to either side what was
/// written down counts.
const AROUND_MS: i64 = 3 * 3600 * 1000;

/// Alarms no further apart than this are of one incident: as long as a casualty is looked for in a
/// debrief.
const SAME_MS: i64 = 30 * 60 * 1000;

/// A clock that goes on by more than this between two entries of an alert was set, and one that goes
/// back by more than this was set back: the times of the entries after that are not reckoned with.
const CLOCK_SET_MS: i64 = 24 * 3600 * 1000;

/// The first entry of the alert that each entry is about.
type Alerts = HashMap<i64, i64>;

/// Alarms about people that belong together, by the host's time.
#[derive(Clone, Debug)]
struct Incident {
    from_ms: i64,
    until_ms: i64,
    /// The first entry of each: a number alone may be that of another alert.
    alerts: BTreeSet<i64>,
    /// The recordings that its entries refer to.
    recordings: Vec<String>,
    /// The first entry that raised an alert about somebody in the water: a beacon's or a call's.
    beacon: Option<i64>,
}

/// The first entry of every drill whose recording is there: each is the alert of an active beacon or
/// of a call about somebody in the water.
pub(super) fn drills(folder: &Path) -> Result<Vec<i64>, Error> {
    let reader = reader(folder)?;
    let is_there = |name: &String| folder.join(RECORDINGS).join(name).exists();
    let recorded = |it: &Incident| it.recordings.iter().any(is_there);
    let incidents = incidents(&reader, &reader.alerts()?)?.into_iter().filter(recorded);
    let found: Vec<i64> = incidents.filter_map(|it| it.beacon).collect();
    if found.is_empty() {
        let what = format!("no drill is recorded in the logbook of {}", folder.display());
        return Err(Error::new(what, "a watch records what it hears: [storage] record"));
    }
    Ok(found)
}

/// The recordings of the incident that an entry is of, with what the logbook tells of it.
pub(super) fn source(entry: i64, folder: &Path, ship: Option<String>) -> Result<Source, Error> {
    let reader = reader(folder)?;
    let Recorded { draft, files, label } = recorded(&reader, entry, folder)?;
    let alerts = reader.alerts()?;
    let incident = incident_of(&reader, &alerts, (entry, &draft))?;
    // A recording's labels are those of the host's clock, as it went when the file was begun.
    let shift_ms = label.unix_ms().saturating_sub(draft.host_ms);
    let labelled = |ms: i64| Utc::from_unix_ms(ms.saturating_add(shift_ms)).unwrap_or(label);
    let until = labelled(incident.until_ms.saturating_add(AROUND_MS));
    let recordings = folder.join(RECORDINGS);
    let all = capture::spanning(&recordings, &incident.recordings, until)
        .map_err(|why| Error::unreadable(&recordings, &why))?;
    let log = log(&reader, &alerts, &incident, shift_ms)?;
    let about = About {
        recording: format!("logbook entry {entry}"),
        ship,
        log: Some(log),
        around: Some((labelled(incident.from_ms), labelled(incident.until_ms))),
        ..About::default()
    };
    let files = if all.is_empty() { files } else { all };
    Ok(Source { files, until: Some(until), about })
}

/// The incident that an alert is of; one of its moment alone for what is no alarm about people.
fn incident_of(
    reader: &Reader,
    alerts: &Alerts,
    (entry, draft): (i64, &Draft),
) -> Result<Incident, Error> {
    let alert = alerts.get(&entry).copied();
    let ms = draft.host_ms;
    let is_it = |it: &Incident| match alert {
        Some(alert) if it.alerts.contains(&alert) => true,
        _ => (it.from_ms - SAME_MS..=it.until_ms + SAME_MS).contains(&ms),
    };
    let alone = || Incident {
        from_ms: ms,
        until_ms: ms,
        alerts: alert.into_iter().collect(),
        recordings: draft.recording.iter().cloned().collect(),
        beacon: None,
    };
    let mut found = incidents(reader, alerts)?.into_iter().find(is_it).unwrap_or_else(alone);
    found.recordings.extend(draft.recording.clone());
    Ok(found)
}

/// All incidents, the earliest first.
fn incidents(reader: &Reader, alerts: &Alerts) -> Result<Vec<Incident>, Error> {
    let mut found: BTreeMap<i64, Incident> = BTreeMap::new();
    let wanted = Filter { kind: Some(Kind::Alert), ..Filter::default() };
    reader.entries::<Error>(&wanted, |entry| {
        let Entry { entry, draft, .. } = entry;
        let Some(change) = draft.alert() else { return Ok(()) };
        if !change.cause.is_about_people() || change.priority < Priority::Alarm {
            return Ok(());
        }
        let first = alerts.get(&entry).copied().unwrap_or(entry);
        let it = found.entry(first).or_insert_with(|| Incident {
            from_ms: draft.host_ms,
            until_ms: draft.host_ms,
            alerts: BTreeSet::from([first]),
            recordings: Vec::new(),
            beacon: None,
        });
        let ahead = draft.host_ms.saturating_sub(it.until_ms);
        if (0..=CLOCK_SET_MS).contains(&ahead) {
            it.until_ms = draft.host_ms;
        }
        let is_overboard = match change.cause {
            Cause::BeaconActive | Cause::DscRelay => true,
            Cause::DscDistress | Cause::MobNotice => change.priority >= Priority::EmergencyAlarm,
            _ => false,
        };
        if is_raised(change) && is_overboard {
            it.beacon.get_or_insert(entry);
        }
        let recording = draft.recording.filter(|name| it.recordings.last() != Some(name));
        it.recordings.extend(recording);
        Ok(())
    })?;
    let mut found: Vec<Incident> = found.into_values().collect();
    found.sort_by_key(|it| it.from_ms);
    let mut joined: Vec<Incident> = Vec::new();
    for next in found {
        match joined.last_mut().filter(|it| next.from_ms - it.until_ms <= SAME_MS) {
            Some(last) => {
                last.until_ms = last.until_ms.max(next.until_ms);
                last.alerts.extend(next.alerts);
                last.recordings.extend(next.recordings);
                last.beacon = last.beacon.into_iter().chain(next.beacon).min();
            }
            None => joined.push(next),
        }
    }
    Ok(joined)
}

fn is_raised(change: &AlertChange) -> bool {
    change.state == State::ActiveUnacknowledged
}

/// What the logbook tells, with the labels of the recordings. Each recording has its own step between
/// its labels and the host's clock: that of the last entry that refers to one holds.
fn log(
    reader: &Reader,
    alerts: &Alerts,
    incident: &Incident,
    shift_ms: i64,
) -> Result<Vec<LogEntry>, Error> {
    let corrected = corrected(reader)?;
    let mut entries = Vec::new();
    let mut shift_ms = shift_ms;
    // By the host's time: the one that is shown may be that of the position receiver.
    reader.entries::<Error>(&Filter::default(), |entry| {
        let draft = &entry.draft;
        let off = |around: i64| {
            draft.host_ms < incident.from_ms.saturating_sub(around)
                || draft.host_ms > incident.until_ms.saturating_add(around)
        };
        let is_of = alerts.get(&entry.entry).is_some_and(|it| incident.alerts.contains(it));
        if is_of && let Some(label) = draft.recording_ms {
            shift_ms = label.saturating_sub(draft.host_ms);
        }
        // What the watch heard and raised before belongs to another incident.
        let what = of_debrief(&entry, &corrected).filter(|what| match what {
            Logged::Heard(_) | Logged::Raised(_) => is_of || !off(1_000),
            _ => is_of || !off(AROUND_MS),
        });
        if let Some(what) = what
            && let Some(at) = Utc::from_unix_ms(draft.host_ms.saturating_add(shift_ms))
        {
            entries.push(LogEntry { at, what });
        }
        Ok(())
    })?;
    entries.sort_by_key(|it| it.at);
    Ok(entries)
}

/// What remarks correct: entries, and the alerts that they are about.
fn corrected(reader: &Reader) -> Result<Corrected, Error> {
    let mut found = Corrected::default();
    let wanted = Filter { kind: Some(Kind::Operator), ..Filter::default() };
    reader.entries::<Error>(&wanted, |entry| {
        if matches!(entry.draft.details, Details::Operator { alert: None, .. }) {
            found.entries.extend(entry.draft.refers_to);
        }
        Ok(())
    })?;
    // Who corrects the word that it is over may name the alert's own entry beside it.
    for &entry in &found.entries {
        let Some(Entry { session, draft, .. }) = reader.get(entry).ok().flatten() else { continue };
        let ended = draft.alert().filter(|it| it.state == State::Normal);
        found.alerts.extend(ended.map(|it| (session, it.alert)));
    }
    Ok(found)
}

/// What remarks correct.
#[derive(Debug, Default)]
struct Corrected {
    entries: BTreeSet<i64>,
    /// Those of which the end is corrected: the watch, and their number in it.
    alerts: BTreeSet<(Option<i64>, AlertId)>,
}

/// What of an entry belongs into a debrief.
fn of_debrief(
    Entry { entry, session, draft, .. }: &Entry,
    corrected: &Corrected,
) -> Option<Logged> {
    match &draft.details {
        Details::Alert(change) if change.state == State::ActiveAcknowledged => {
            draft.mmsi.map(Logged::Acknowledged)
        }
        Details::Alert(change) => {
            let raised = is_raised(change) && change.priority >= Priority::Alarm;
            draft.mmsi.filter(|_| raised && change.cause.is_about_people()).map(Logged::Raised)
        }
        Details::Beacon { mode: Some(Mode::Active | Mode::ActivePresumed), .. } => {
            draft.mmsi.map(Logged::Heard)
        }
        Details::Operator { act: Some(Act::DeclaredOver), alert } => {
            let ended = alert.is_some_and(|alert| corrected.alerts.contains(&(*session, alert)));
            let withdrawn = ended || corrected.entries.contains(entry);
            draft.mmsi.map(if withdrawn { Logged::Withdrawn } else { Logged::DeclaredOver })
        }
        // Acts in the watch carry the alert they are about; what is left was written by somebody.
        Details::Operator { alert: None, .. } => {
            let (by, text) = (draft.operator.clone(), draft.text.clone());
            let corrects = draft.refers_to.is_some() || corrected.entries.contains(entry);
            Some(if corrects {
                Logged::Correction { by, text }
            } else {
                Logged::Remark { by, text }
            })
        }
        _ => None,
    }
}
