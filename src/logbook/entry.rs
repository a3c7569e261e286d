//! The body of an entry: the text that is hashed, how a draft becomes one, and how one is read.
//!
//! The keys and their order are those of the first version; a key is added, never changed. What a
//! later version writes is read as far as this one knows it.

use serde::de::DeserializeOwned;
use serde::ser::SerializeMap as _;
use serde::{Serialize, Serializer};
use serde_json::{Map, Value};

use super::details::{self, Details, Keys};
use super::draft::Draft;
use crate::mmsi::Mmsi;

/// The version of the body that is written.
const VERSION: u32 = 1;

/// An entry as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its number, from 1.
    pub entry: i64,
    /// The number of the entry that began the watch; `None` for what was written from outside of
    /// one.
    pub session: Option<i64>,
    /// Its hash.
    pub hash: String,
    /// What it says.
    pub draft: Draft,
}

impl Entry {
    /// The beacon that has taken the place of the point set by hand whose alert ended with this
    /// entry.
    pub(super) fn joined_by(&self) -> Option<Mmsi> {
        self.draft.alert()?.joined_by
    }

    /// Reads the body of this entry: the common fields as far as they are known, the rest by its kind.
    ///
    /// # Errors
    /// A body that is no JSON object.
    pub fn read(entry: i64, hash: String, body: &str) -> serde_json::Result<Self> {
        let body: Map<String, Value> = serde_json::from_str(body)?;
        let draft = Draft {
            arrival_us: of(&body, "arrival_us"),
            host_ms: of(&body, "host_ms").unwrap_or_default(),
            gnss_ms: of(&body, "gnss_ms"),
            mmsi: of(&body, "mmsi"),
            person: of(&body, "person"),
            text: of(&body, "text").unwrap_or_default(),
            range_nm: of(&body, "range_nm"),
            bearing_deg: of(&body, "bearing_deg"),
            position: of(&body, "position"),
            fix_age_s: of(&body, "fix_age_s"),
            own: of(&body, "own"),
            own_age_s: of(&body, "own_age_s"),
            sog_kn: of(&body, "sog_kn"),
            cog_deg: of(&body, "cog_deg"),
            input: of(&body, "input"),
            operator: of(&body, "operator"),
            refers_to: of(&body, "refers_to"),
            recording: of(&body, "recording"),
            recording_ms: of(&body, "recording_ms"),
            sentences: of(&body, "sentences").unwrap_or_default(),
            details: Details::of_body(&body),
        };
        Ok(Self { entry, session: of(&body, "session"), hash, draft })
    }
}

fn of<T: DeserializeOwned>(body: &Map<String, Value>, key: &str) -> Option<T> {
    details::read(body.get(key)?)
}

impl Draft {
    /// The body of the entry of this number in this watch, as it is hashed.
    ///
    /// # Errors
    /// A number that JSON cannot hold.
    pub fn body(&self, entry: i64, session: Option<i64>) -> serde_json::Result<String> {
        serde_json::to_string(&Body { entry, session, draft: self })
    }
}

/// A draft with its numbers.
struct Body<'a> {
    entry: i64,
    session: Option<i64>,
    draft: &'a Draft,
}

impl Serialize for Body<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Draft { position, own, .. } = self.draft;
        let draft = self.draft;
        let Keys { kind, priority, cause, state, alert, key, mode, details } = draft.details.keys();
        let mut body = serializer.serialize_map(None)?;
        body.serialize_entry("v", &VERSION)?;
        body.serialize_entry("entry", &self.entry)?;
        body.serialize_entry("session", &self.session)?;
        body.serialize_entry("arrival_us", &draft.arrival_us)?;
        body.serialize_entry("host_ms", &draft.host_ms)?;
        body.serialize_entry("gnss_ms", &draft.gnss_ms)?;
        body.serialize_entry("kind", &kind)?;
        body.serialize_entry("priority", &priority)?;
        body.serialize_entry("cause", &cause)?;
        body.serialize_entry("state", &state)?;
        body.serialize_entry("alert", &alert)?;
        // Left out by the first watches, and of what does not go on over a restart.
        if !key.is_null() {
            body.serialize_entry("key", &key)?;
        }
        body.serialize_entry("mmsi", &draft.mmsi)?;
        body.serialize_entry("person", &draft.person)?;
        body.serialize_entry("mode", &mode)?;
        body.serialize_entry("text", &draft.text)?;
        body.serialize_entry("range_nm", &draft.range_nm)?;
        body.serialize_entry("bearing_deg", &draft.bearing_deg)?;
        body.serialize_entry("position", position)?;
        body.serialize_entry("fix_age_s", &draft.fix_age_s)?;
        body.serialize_entry("own", own)?;
        body.serialize_entry("own_age_s", &draft.own_age_s)?;
        body.serialize_entry("sog_kn", &draft.sog_kn)?;
        body.serialize_entry("cog_deg", &draft.cog_deg)?;
        if let Some(input) = &draft.input {
            body.serialize_entry("input", input)?;
        }
        body.serialize_entry("operator", &draft.operator)?;
        body.serialize_entry("refers_to", &draft.refers_to)?;
        body.serialize_entry("recording", &draft.recording)?;
        body.serialize_entry("recording_ms", &draft.recording_ms)?;
        body.serialize_entry("sentences", &draft.sentences)?;
        body.serialize_entry("details", &details)?;
        body.end()
    }
}
