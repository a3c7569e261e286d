//! What the logbook adds: the recordings around an entry, and what people did and wrote.

use std::path::Path;

use super::Source;
use crate::app::RECORDINGS;
use crate::cli::Error;
use crate::cli::logbook::{Recorded, reader, recorded};
use crate::debrief::{About, LogEntry, Logged};
use crate::logbook::{Act, Details, Draft, Filter, Kind, Reader};
use crate::time::Utc;
use crate::watch::{Cause, State};

/// So long after the entry the recording is followed, and so far to either side what was written
/// down counts.
const AROUND_MS: i64 = 3 * 3600 * 1000;

/// The first entry of every drill whose recording is there: each is an active beacon's alert, three
/// hours or more after the one before.
pub(super) fn drills(folder: &Path) -> Result<Vec<i64>, Error> {
    let reader = reader(folder)?;
    let mut found: Vec<(i64, i64)> = Vec::new();
    let wanted = Filter { kind: Some(Kind::Alert), ..Filter::default() };
    reader.entries::<Error>(&wanted, |entry| {
        let draft = &entry.draft;
        let raised = draft.alert().is_some_and(|it| {
            it.cause == Cause::BeaconActive && it.state == State::ActiveUnacknowledged
        });
        let recorded = |name: &String| folder.join(RECORDINGS).join(name).exists();
        let raised = raised && draft.recording.as_ref().is_some_and(recorded);
        let begins =
            found.last().is_none_or(|&(_, last)| draft.host_ms.saturating_sub(last) > AROUND_MS);
        if raised && begins {
            found.push((entry.entry, draft.host_ms));
        }
        Ok(())
    })?;
    if found.is_empty() {
        let what = format!("no drill is recorded in the logbook of {}", folder.display());
        return Err(Error::new(what, "a watch records what it hears: [storage] record"));
    }
    Ok(found.into_iter().map(|(entry, _)| entry).collect())
}

/// The recordings around an entry, with what the logbook tells of that time.
pub(super) fn source(entry: i64, folder: &Path, ship: Option<String>) -> Result<Source, Error> {
    let reader = reader(folder)?;
    let Recorded { draft, files, label } = recorded(&reader, entry, folder)?;
    let until = Utc::from_unix_ms(label.unix_ms() + AROUND_MS);
    // A recording's labels are those of the host's clock, as it went when the file was begun.
    let log = log(&reader, draft.host_ms, label.unix_ms().saturating_sub(draft.host_ms))?;
    let recording = format!("logbook entry {entry}");
    let about = About { recording, ship, log: Some(log), around: Some(label) };
    Ok(Source { files, until, about })
}

fn log(reader: &Reader, host_ms: i64, shift_ms: i64) -> Result<Vec<LogEntry>, Error> {
    let mut entries = Vec::new();
    // By the host's time: the one that is shown may be that of the position receiver.
    reader.entries::<Error>(&Filter::default(), |entry| {
        let draft = entry.draft;
        if draft.host_ms.abs_diff(host_ms) <= AROUND_MS.unsigned_abs()
            && let Some(what) = of_debrief(&draft)
            && let Some(at) = Utc::from_unix_ms(draft.host_ms.saturating_add(shift_ms))
        {
            entries.push(LogEntry { at, what });
        }
        Ok(())
    })?;
    Ok(entries)
}

/// What of an entry belongs into a debrief.
fn of_debrief(draft: &Draft) -> Option<Logged> {
    match &draft.details {
        Details::Alert(change) if change.state == State::ActiveAcknowledged => {
            draft.mmsi.map(Logged::Acknowledged)
        }
        Details::Operator { act: Some(Act::DeclaredOver), .. } => {
            draft.mmsi.map(Logged::DeclaredOver)
        }
        // Acts in the watch carry the alert they are about; what is left was written by somebody.
        Details::Operator { alert: None, .. } => {
            Some(Logged::Remark { by: draft.operator.clone(), text: draft.text.clone() })
        }
        _ => None,
    }
}
