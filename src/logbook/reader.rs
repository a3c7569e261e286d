//! Reads the logbook, also while a watch writes to it.

use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, OpenFlags, Row, params_from_iter};

use super::entry::Entry;
use super::error::Error;
use super::kind::Kind;
use super::store::{self, FILE};
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::{AlertId, Mode, Priority};

/// How long to wait for a lock: a reader needs one for moments only.
const LOCK: Duration = Duration::from_secs(5);

/// Alert entries that a watch is given for its history.
const HISTORY: u32 = 500;

/// Which entries are wanted: those that meet all that is given.
#[derive(Clone, Debug, Default)]
pub struct Filter {
    /// Not before this time, as it is shown.
    pub since: Option<Utc>,
    /// Not after this time, as it is shown.
    pub until: Option<Utc>,
    /// Of this kind.
    pub kind: Option<Kind>,
    /// About this station.
    pub mmsi: Option<Mmsi>,
    /// Of this very priority.
    pub priority: Option<Priority>,
    /// With a higher number than this.
    pub after: Option<i64>,
    /// Only so many, the newest.
    pub newest: Option<u32>,
}

/// What a watch that begins again goes on with.
#[derive(Clone, Debug, Default)]
pub struct Incidents {
    /// The last entry of every alert that is not over, in the order of the alerts' numbers.
    pub open: Vec<Entry>,
    /// When each of them was raised, by the host.
    pub raised: Vec<Utc>,
    /// The last report of each beacon among them.
    pub beacons: Vec<Entry>,
    /// The first of an unbroken series of reports of each that say the same of its mode.
    pub beacons_began: Vec<Entry>,
    /// The highest number of an alert.
    pub highest_alert: Option<AlertId>,
    /// The last 500 entries of alerts, the oldest first.
    pub history: Vec<Entry>,
}

/// A logbook that is read and never changed.
#[derive(Debug)]
pub struct Reader {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    lacks_newest: bool,
}

impl Reader {
    /// Opens the logbook of a folder; `None` if there is none yet.
    ///
    /// # Errors
    /// A file that cannot be read, is damaged, another program's or of a later version.
    pub fn open(folder: &Path) -> Result<Option<Self>, Error> {
        let path = folder.join(FILE);
        if matches!(path.try_exists(), Ok(false)) {
            return Ok(None);
        }
        let (opened, lacks_newest) = match Self::connect(&path, false) {
            // Where nothing may be written, SQLite reads a file that it may take to be at rest.
            Err(Error::Unusable { cause, .. }) if is_forbidden(&cause) => {
                let waiting = fs::metadata(folder.join(format!("{FILE}-wal")));
                (Self::connect(&path, true)?, waiting.is_ok_and(|log| log.len() > 0))
            }
            opened => (opened?, false),
        };
        let Some(connection) = opened else { return Ok(None) };
        Ok(Some(Self { connection, path, lacks_newest }))
    }

    fn connect(path: &Path, at_rest: bool) -> Result<Option<Connection>, Error> {
        let failed = |cause| Error::of(path, cause);
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = if at_rest {
            let flags = flags | OpenFlags::SQLITE_OPEN_URI;
            Connection::open_with_flags(at_rest_uri(path), flags)
        } else {
            Connection::open_with_flags(path, flags)
        };
        let connection = connection.map_err(failed)?;
        connection.busy_timeout(LOCK).map_err(failed)?;
        // The first step of a new logbook may be under way.
        let version = store::version(&connection, path)?;
        Ok((version > 0).then_some(connection))
    }

    /// Whether the newest entries may be missing: the folder may not be written, and what waits in
    /// the write-ahead log cannot be read without that.
    pub fn lacks_newest(&self) -> bool {
        self.lacks_newest
    }

    /// Hands the entries that are wanted to `each`, the oldest first, one at a time.
    ///
    /// # Errors
    /// That of `each`, which ends it; or an entry that cannot be read.
    pub fn entries<E: From<Error>>(
        &self,
        filter: &Filter,
        mut each: impl FnMut(Entry) -> Result<(), E>,
    ) -> Result<(), E> {
        let (sql, values) = filter.query();
        let failed = |cause| Error::of(&self.path, cause);
        let mut statement = self.connection.prepare(&sql).map_err(failed)?;
        let mut rows = statement.query(params_from_iter(values)).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            each(self.entry(row)?)?;
        }
        Ok(())
    }

    /// The entry of this number, if there is one.
    ///
    /// # Errors
    /// One that cannot be read.
    pub fn get(&self, entry: i64) -> Result<Option<Entry>, Error> {
        let found = self.all("SELECT entry, hash, body FROM entry WHERE entry = ?1", [entry])?;
        Ok(found.into_iter().next())
    }

    /// What a watch that begins again goes on with; ask before it writes its first entry.
    ///
    /// An alert about people is open until an entry says that it is over, however often the
    /// program was started since; another only if it was open in the last watch.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn open_incidents(&self) -> Result<Incidents, Error> {
        // The plus keeps SQLite to the index that holds all of it.
        const OPEN: &str = "SELECT entry, hash, body FROM entry WHERE entry IN (
            SELECT last FROM (
                SELECT max(entry) AS last, state FROM entry
                WHERE alert IS NOT NULL AND +kind = 'alert' GROUP BY alert
            ) WHERE state <> 'normal'
        ) ORDER BY alert";
        const BEACON: &str = "SELECT entry, hash, body FROM entry
            WHERE mmsi = ?1 AND kind = 'beacon' AND json_extract(body, '$.mode') IS NOT NULL
            ORDER BY entry DESC LIMIT 1";
        let mut open = self.all(OPEN, [])?;
        let session: Option<i64> = self.optional(
            "SELECT json_extract(body, '$.session') FROM entry
             WHERE json_extract(body, '$.session') IS NOT NULL ORDER BY entry DESC LIMIT 1",
        )?;
        open.retain(|it| it.draft.is_about_people() || it.session == session);
        let mut beacons: Vec<Entry> = Vec::new();
        for mmsi in open.iter().filter_map(|it| it.draft.mmsi) {
            if beacons.iter().all(|it| it.draft.mmsi != Some(mmsi)) {
                beacons.extend(self.all(BEACON, [i64::from(mmsi.value())])?);
            }
        }
        let mut raised = Vec::new();
        for entry in &open {
            raised.push(self.raised(entry)?);
        }
        let mut beacons_began = Vec::new();
        for last in &beacons {
            beacons_began.push(self.began(last)?);
        }
        // Numbers go on where none follows for long: a damaged one at the end of all numbers
        // would leave none.
        let highest: Option<i64> = self.optional(&format!(
            "SELECT alert FROM entry AS it WHERE alert <= {last} AND NOT EXISTS (
                SELECT 1 FROM entry WHERE alert > it.alert AND alert <= it.alert + {room}
            ) ORDER BY alert DESC LIMIT 1",
            room = AlertId::ROOM,
            last = u32::MAX - AlertId::ROOM,
        ))?;
        let mut history = self.all(
            "SELECT entry, hash, body FROM entry WHERE kind = 'alert' ORDER BY entry DESC LIMIT ?1",
            [HISTORY],
        )?;
        history.reverse();
        let highest_alert = highest.and_then(|id| u32::try_from(id).ok()).map(AlertId);
        Ok(Incidents { open, raised, beacons, beacons_began, highest_alert, history })
    }

    /// When an alert was raised: its first entry, in whichever watch.
    fn raised(&self, last: &Entry) -> Result<Utc, Error> {
        const FIRST: &str = "SELECT entry, hash, body FROM entry
            WHERE alert = ?1 AND +kind = 'alert' ORDER BY entry LIMIT 1";
        let id = last.draft.alert().map_or(0, |change| change.alert.0);
        let first = self.all(FIRST, [id])?;
        Ok(first.first().unwrap_or(last).draft.host())
    }

    /// Since when a beacon has been in the mode of its last report.
    fn began(&self, last: &Entry) -> Result<Entry, Error> {
        const FIRST: &str = "SELECT entry, hash, body FROM entry
            WHERE mmsi = ?1 AND kind = 'beacon' AND json_extract(body, '$.mode') = ?2 AND entry > (
                SELECT coalesce(max(entry), 0) FROM entry WHERE mmsi = ?1 AND kind = 'beacon'
                AND json_extract(body, '$.mode') IS NOT NULL AND json_extract(body, '$.mode') <> ?2
            ) ORDER BY entry LIMIT 1";
        let mmsi = last.draft.mmsi.map_or(0, |mmsi| i64::from(mmsi.value()));
        let mode = last.draft.mode().map_or("", Mode::word);
        let first = self.all(FIRST, (mmsi, mode))?;
        Ok(first.into_iter().next().unwrap_or_else(|| last.clone()))
    }

    /// The names of the recordings that entries refer to.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn recordings(&self) -> Result<HashSet<String>, Error> {
        let sql = "SELECT DISTINCT json_extract(body, '$.recording') FROM entry
            WHERE kind = 'alert' AND json_extract(body, '$.recording') IS NOT NULL";
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([], |row| row.get(0))?;
            rows.collect::<rusqlite::Result<_>>()
        };
        query().map_err(|cause| Error::of(&self.path, cause))
    }

    /// The stations that are the subject of entries of this kind.
    pub(super) fn stations(&self, kind: &str) -> Result<Vec<Mmsi>, Error> {
        let sql = "SELECT DISTINCT mmsi FROM entry WHERE kind = ?1 AND mmsi IS NOT NULL ORDER BY 1";
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([kind], |row| row.get::<_, i64>(0))?;
            rows.collect::<rusqlite::Result<Vec<_>>>()
        };
        let numbers = query().map_err(|cause| Error::of(&self.path, cause))?;
        let mmsi = |number| u32::try_from(number).ok().and_then(Mmsi::new);
        Ok(numbers.into_iter().filter_map(mmsi).collect())
    }

    fn optional(&self, sql: &str) -> Result<Option<i64>, Error> {
        match self.connection.query_row(sql, [], |row| row.get(0)) {
            Err(rusqlite::Error::QueryReturnedNoRows) => Ok(None),
            found => found.map_err(|cause| Error::of(&self.path, cause)),
        }
    }

    fn all(&self, sql: &str, values: impl rusqlite::Params) -> Result<Vec<Entry>, Error> {
        let failed = |cause| Error::of(&self.path, cause);
        let mut statement = self.connection.prepare(sql).map_err(failed)?;
        let mut rows = statement.query(values).map_err(failed)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next().map_err(failed)? {
            found.push(self.entry(row)?);
        }
        Ok(found)
    }

    fn entry(&self, row: &Row<'_>) -> Result<Entry, Error> {
        let columns = || Ok::<_, rusqlite::Error>((row.get(0)?, row.get(1)?, row.get(2)?));
        let (entry, hash, body): (i64, String, String) =
            columns().map_err(|cause| Error::of(&self.path, cause))?;
        Entry::read(entry, hash, &body).map_err(|why| Error::Unreadable {
            path: self.path.clone(),
            entry,
            what: why.to_string(),
        })
    }
}

impl Filter {
    fn query(&self) -> (String, Vec<Value>) {
        let word = |word: &str| Value::Text(word.to_owned());
        let wanted = [
            ("kind = ?", self.kind.map(|it| word(it.word()))),
            ("mmsi = ?", self.mmsi.map(|it| Value::Integer(it.value().into()))),
            ("priority = ?", self.priority.map(|it| word(it.word()))),
            ("entry > ?", self.after.map(Value::Integer)),
        ];
        let (mut conditions, mut values): (Vec<&str>, Vec<Value>) =
            wanted.into_iter().filter_map(|(sql, value)| Some((sql, value?))).unzip();
        let mut sql = "SELECT entry, hash, body FROM entry".to_owned();
        if self.since.is_some() || self.until.is_some() {
            // By the index of times alone: the clock may have been set while entries were written,
            // so that they do not lie together.
            conditions.push("entry IN (SELECT entry FROM entry WHERE at_ms BETWEEN ? AND ?)");
            values.push(Value::Integer(self.since.map_or(i64::MIN, Utc::unix_ms)));
            values.push(Value::Integer(self.until.map_or(i64::MAX, Utc::unix_ms)));
        }
        if !conditions.is_empty() {
            sql = format!("{sql} WHERE {}", conditions.join(" AND "));
        }
        if let Some(newest) = self.newest {
            sql = format!("SELECT * FROM ({sql} ORDER BY entry DESC LIMIT ?)");
            values.push(Value::Integer(newest.into()));
        }
        (format!("{sql} ORDER BY entry"), values)
    }
}

/// Whether the system forbids what SQLite needs beside the file.
fn is_forbidden(cause: &rusqlite::Error) -> bool {
    matches!(
        cause.sqlite_error_code(),
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied)
    )
}

/// The path as SQLite's URI, with the promise that nobody writes (SQLite, "Uniform Resource
/// Identifiers").
fn at_rest_uri(path: &Path) -> String {
    use std::fmt::Write as _;
    let mut uri = "file:".to_owned();
    for &byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                uri.push(char::from(byte));
            }
            _ => {
                let _ = write!(uri, "%{byte:02X}");
            }
        }
    }
    uri + "?mode=ro&immutable=1"
}
