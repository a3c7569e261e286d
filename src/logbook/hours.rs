//! What was heard, hour by hour: a table beside the entries, by which a watch judges whether the ship
//! hears as she did.
//!
//! *Invariant:* it is memory and no evidence. It is in no chain; what is wrong with it costs no entry
//! and nobody waits for it; the oldest rows give way.

use rusqlite::{Connection, params};
use serde_json::Value;

use crate::time::Utc;

/// Hours that are kept: those of 400 days. Our own.
pub const HOURS: usize = 400 * 24;

/// Bytes of one; more is not what this program writes. Our own.
pub(super) const LARGEST: usize = 256 << 10;

/// Adds an hour, and lets the oldest go by the order in which they were written: a clock that was
/// wrong for a while must not push out those of all the others.
///
/// # Errors
/// What is wrong with the table.
pub(super) fn keep(connection: &Connection, ended: Utc, hour: &Value) -> rusqlite::Result<()> {
    let hour = hour.to_string();
    if hour.len() > LARGEST {
        return Ok(());
    }
    let add = "INSERT INTO reach_hour (ended_ms, hour) VALUES (?1, ?2)";
    connection.execute(add, params![ended.unix_ms(), hour])?;
    let room = "DELETE FROM reach_hour
        WHERE rowid <= (SELECT max(rowid) FROM reach_hour) - ?1";
    connection.execute(room, [HOURS as i64])?;
    Ok(())
}
