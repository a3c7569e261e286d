//! Reads the logbook, also while a watch writes to it.

use std::borrow::Cow;
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, ErrorCode, OpenFlags, Row, params, params_from_iter};
use serde::de::DeserializeOwned;

use super::entry::Entry;
use super::error::Error;
use super::hours::LARGEST;
use super::kind::Kind;
use super::store::{self, FILE};
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::Priority;

/// How long to wait for a lock: a reader needs one for moments only.
const LOCK: Duration = Duration::from_secs(5);

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
        if !store::is_there(&path)? {
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

    /// Hands the entries that are wanted to `each`, the oldest first, one at a time. One that cannot
    /// be read is left out, which is said on standard error.
    ///
    /// # Errors
    /// That of `each`, which ends it; or a logbook that cannot be read.
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
            match self.entry(row) {
                Err(why @ Error::Unreadable { .. }) => tracing::warn!("left out: {why}"),
                entry => each(entry?)?,
            }
        }
        Ok(())
    }

    /// The entry of this number, if there is one.
    ///
    /// # Errors
    /// One that cannot be read.
    pub fn get(&self, entry: i64) -> Result<Option<Entry>, Error> {
        let sql = "SELECT entry, hash, body FROM entry WHERE entry = ?1";
        let failed = |cause| Error::of(&self.path, cause);
        let mut statement = self.connection.prepare(sql).map_err(failed)?;
        let mut rows = statement.query([entry]).map_err(failed)?;
        rows.next().map_err(failed)?.map(|row| self.entry(row)).transpose()
    }

    /// The names of the recordings that entries refer to.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn recordings(&self) -> Result<HashSet<String>, Error> {
        let sql = "SELECT DISTINCT CASE WHEN json_valid(body) THEN
                json_extract(body, '$.recording') END
            FROM entry WHERE kind = 'alert'";
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([], |row| row.get::<_, Option<String>>(0))?;
            rows.filter_map(rusqlite::Result::transpose).collect::<rusqlite::Result<_>>()
        };
        query().map_err(|cause| Error::of(&self.path, cause))
    }

    /// The hours that ended not before `since`, at most so many, the newest, in the order of their times;
    /// those that cannot be read are left out. None in a logbook that no watch of this version has
    /// written to.
    ///
    /// # Errors
    /// A table that cannot be read.
    pub fn hours<T: DeserializeOwned>(
        &self,
        since: Option<Utc>,
        newest: usize,
    ) -> Result<Vec<T>, Error> {
        let there = "SELECT count(*) FROM sqlite_schema WHERE name = 'reach_hour'";
        if self.optional(there)? == Some(0) {
            return Ok(Vec::new());
        }
        let sql = "SELECT hour FROM (
                SELECT hour, ended_ms, rowid AS place FROM reach_hour
                WHERE ended_ms >= ?1 AND length(hour) <= ?2 ORDER BY rowid DESC LIMIT ?3
            ) ORDER BY ended_ms, place";
        let since = since.map_or(i64::MIN, Utc::unix_ms);
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let mut rows = statement.query(params![since, LARGEST as i64, newest as i64])?;
            let mut hours = Vec::new();
            while let Some(row) = rows.next()? {
                hours.extend(serde_json::from_str(&text(row, 0)).ok());
            }
            Ok(hours)
        };
        query().map_err(|cause| Error::of(&self.path, cause))
    }

    /// The stations that are the subject of entries of this kind.
    pub(super) fn stations(&self, kind: &str) -> Result<Vec<Mmsi>, Error> {
        let sql = "SELECT DISTINCT mmsi FROM entry INDEXED BY entry_by_mmsi
            WHERE mmsi IS NOT NULL AND entry IN (
                SELECT entry FROM entry INDEXED BY entry_by_kind WHERE kind = ?1
            ) ORDER BY 1";
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([kind], |row| row.get::<_, i64>(0))?;
            rows.collect::<rusqlite::Result<Vec<_>>>()
        };
        let numbers = query().map_err(|cause| Error::of(&self.path, cause))?;
        let mmsi = |number| u32::try_from(number).ok().and_then(Mmsi::new);
        Ok(numbers.into_iter().filter_map(mmsi).collect())
    }

    pub(super) fn optional(&self, sql: &str) -> Result<Option<i64>, Error> {
        match self.connection.query_row(sql, [], |row| row.get(0)) {
            Err(rusqlite::Error::QueryReturnedNoRows) => Ok(None),
            found => found.map_err(|cause| Error::of(&self.path, cause)),
        }
    }

    /// The entries that can be read.
    pub(super) fn all(
        &self,
        sql: &str,
        values: impl rusqlite::Params,
    ) -> Result<Vec<Entry>, Error> {
        let failed = |cause| Error::of(&self.path, cause);
        let mut statement = self.connection.prepare(sql).map_err(failed)?;
        let mut rows = statement.query(values).map_err(failed)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next().map_err(failed)? {
            found.extend(self.entry(row).ok());
        }
        Ok(found)
    }

    pub(super) fn entry(&self, row: &Row<'_>) -> Result<Entry, Error> {
        let entry = row.get(0).map_err(|cause| Error::of(&self.path, cause))?;
        Entry::read(entry, text(row, 1).into_owned(), &text(row, 2)).map_err(|why| {
            Error::Unreadable { path: self.path.clone(), entry, what: why.to_string() }
        })
    }
}

/// A column's text; what is no text in it is replaced.
pub(super) fn text<'a>(row: &'a Row<'_>, column: usize) -> Cow<'a, str> {
    match row.get_ref(column) {
        Ok(ValueRef::Text(bytes) | ValueRef::Blob(bytes)) => String::from_utf8_lossy(bytes),
        _ => Cow::Borrowed(""),
    }
}

impl Filter {
    fn query(&self) -> (String, Vec<Value>) {
        let word = |word: Option<&str>| word.map(|word| Value::Text(word.to_owned()));
        let wanted = [
            // Each by its index alone: a body that is damaged is not looked into.
            ("entry IN (SELECT entry FROM entry WHERE kind = ?)", word(self.kind.map(Kind::word))),
            (
                "entry IN (SELECT entry FROM entry WHERE mmsi = ?)",
                self.mmsi.map(|it| Value::Integer(it.value().into())),
            ),
            (
                "entry IN (SELECT entry FROM entry WHERE priority = ?)",
                word(self.priority.map(Priority::word)),
            ),
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
