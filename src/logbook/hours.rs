//! What was heard, hour by hour: a table beside the entries, by which a watch judges whether the ship
//! hears as she did.
//!
//! *Invariant:* it is memory and no evidence. It is in no chain; what is wrong with it costs no entry
//! and nobody waits for it; the oldest rows give way.

use rusqlite::{Connection, params};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::error::Error;
use super::reader::{Reader, text};
use crate::time::Utc;

/// Hours that are kept: those of 400 days. Our own.
const HOURS: i64 = 400 * 24;

/// Bytes of one; more is not what this program writes. Our own.
const LARGEST: usize = 256 << 10;

/// Adds an hour, and lets the oldest go by the order in which they were written: a clock that was
/// wrong for a while must not push out those of all the others.
///
/// # Errors
/// What is wrong with the table.
pub(super) fn keep(connection: &Connection, start: Utc, hour: &Value) -> rusqlite::Result<()> {
    let hour = hour.to_string();
    if hour.len() > LARGEST {
        return Ok(());
    }
    let add = "INSERT INTO reach_hour (start_ms, hour) VALUES (?1, ?2)";
    connection.execute(add, params![start.unix_ms(), hour])?;
    let room = "DELETE FROM reach_hour
        WHERE rowid <= (SELECT max(rowid) FROM reach_hour) - ?1";
    connection.execute(room, [HOURS])?;
    Ok(())
}

impl Reader {
    /// The hours that began not before `since`, the oldest first; those that cannot be read are left
    /// out. None in a logbook that no watch of this version has written to.
    ///
    /// # Errors
    /// A table that cannot be read.
    pub fn hours<T: DeserializeOwned>(&self, since: Option<Utc>) -> Result<Vec<T>, Error> {
        let there = "SELECT count(*) FROM sqlite_schema WHERE name = 'reach_hour'";
        if self.optional(there)? == Some(0) {
            return Ok(Vec::new());
        }
        let sql = "SELECT hour FROM reach_hour
            WHERE start_ms >= ?1 AND length(hour) <= ?2 ORDER BY start_ms, rowid LIMIT ?3";
        let since = since.map_or(i64::MIN, Utc::unix_ms);
        let query = || {
            let mut statement = self.connection.prepare(sql)?;
            let mut rows = statement.query(params![since, LARGEST as i64, HOURS])?;
            let mut hours = Vec::new();
            while let Some(row) = rows.next()? {
                hours.extend(serde_json::from_str(&text(row, 0)).ok());
            }
            Ok(hours)
        };
        query().map_err(|cause| Error::of(&self.path, cause))
    }
}
