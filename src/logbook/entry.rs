//! An entry as it stands in the logbook, and which are wanted.

use serde::Serialize;

use super::draft::{Draft, Kind};
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::Priority;

/// An entry with its place in the chain.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// What it says, its number included.
    pub draft: Draft,
    /// The hash of the entry before.
    pub previous: String,
    /// Its own.
    pub hash: String,
}

/// Which entries are wanted; everything if nothing is set.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// From this moment on, by the computer's clock.
    pub since: Option<Utc>,
    /// Up to this moment.
    pub until: Option<Utc>,
    /// Of this kind.
    pub kind: Option<Kind>,
    /// About this station.
    pub mmsi: Option<Mmsi>,
    /// Of this priority.
    pub priority: Option<Priority>,
    /// Only the newest so many.
    pub newest: Option<u32>,
}

/// An entry as scripts see it: the keys of `logbook list --json`.
#[derive(Serialize)]
struct Line<'a> {
    entry: i64,
    at: Utc,
    kind: Kind,
    priority: Option<Priority>,
    cause: Option<crate::watch::Cause>,
    state: Option<crate::watch::State>,
    mmsi: Option<Mmsi>,
    person: Option<&'a str>,
    text: &'a str,
    range_nm: Option<f64>,
    bearing_deg: Option<f64>,
    own: Option<crate::navigation::Position>,
    // Beyond what is promised, in an order of no meaning.
    host: Utc,
    gnss: Option<Utc>,
    alert: Option<crate::watch::AlertId>,
    mode: Option<crate::watch::Mode>,
    position: Option<crate::navigation::Position>,
    operator: Option<&'a str>,
    refers_to: Option<i64>,
    recording: Option<&'a str>,
    sentences: &'a [String],
    hash: &'a str,
}

impl Entry {
    /// The entry as one JSON object, with the keys that scripts may rely on.
    ///
    /// # Errors
    /// Never for an entry that was read; the type is that of the serialiser.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let draft = &self.draft;
        serde_json::to_string(&Line {
            entry: draft.entry,
            at: draft.at(),
            kind: draft.kind,
            priority: draft.priority,
            cause: draft.cause,
            state: draft.state,
            mmsi: draft.mmsi,
            person: draft.person.as_deref(),
            text: &draft.text,
            range_nm: draft.range_nm,
            bearing_deg: draft.bearing_deg,
            own: draft.own,
            host: draft.host(),
            gnss: draft.gnss_ms.and_then(Utc::from_unix_ms),
            alert: draft.alert,
            mode: draft.mode,
            position: draft.position,
            operator: draft.operator.as_deref(),
            refers_to: draft.refers_to,
            recording: draft.recording.as_deref(),
            sentences: &draft.sentences,
            hash: &self.hash,
        })
    }
}
