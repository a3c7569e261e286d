//! Proves that no entry is missing or altered, as far as the file alone can prove it.

use rusqlite::{Connection, OptionalExtension as _};
use serde::Deserialize;

use super::chain::{self, FIRST_PREVIOUS};
use super::error::Error;
use super::reader::Reader;
use super::store;

/// What a check found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// Entries that are there.
    pub entries: u64,
    /// Whether nothing is missing or altered.
    pub whole: bool,
    /// The first entry that is missing or not as it was written; `None` if that is no single one.
    pub first_bad: Option<i64>,
    /// What is wrong, for a person.
    pub why: Option<String>,
    /// The last entry and its hash: written down elsewhere, they prove later that nothing up to
    /// there was made anew.
    pub last: Option<(i64, String)>,
}

/// What is read of a body: the number that was hashed with it.
#[derive(Deserialize)]
struct Numbered {
    entry: i64,
}

/// What is wrong, and with which entry.
type Fault = (Option<i64>, String);

impl Reader {
    /// Recomputes every hash, looks for gaps and for entries cut off at the end, and has SQLite
    /// look for damage. Stops at the first fault; holds one entry at a time.
    ///
    /// # Errors
    /// Where the file cannot be read at all.
    pub fn check(&self) -> Result<Check, Error> {
        let failed = |cause| Error::of(&self.path, cause);
        // One view of the file, though a watch may be writing.
        let view = self.connection.unchecked_transaction().map_err(failed)?;
        let mut expected = Expected { entry: 1, previous: FIRST_PREVIOUS.to_owned() };
        let fault = match expected.follow(&view) {
            Ok(None) => cut_off(&view, expected.entry)
                .and_then(|fault| match fault {
                    None => damage(&view),
                    fault => Ok(fault),
                })
                .map_err(failed)?,
            Ok(fault) => fault,
            // What cannot be read any more is where it breaks.
            Err(cause) => Some((Some(expected.entry), cause.to_string())),
        };
        let entries: i64 = view
            .query_row("SELECT count(*) FROM entry", [], |row| row.get(0))
            .unwrap_or(expected.entry - 1);
        let last = view
            .query_row("SELECT entry, hash FROM entry ORDER BY entry DESC LIMIT 1", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()
            .unwrap_or_default();
        let (first_bad, why) = fault.clone().unzip();
        Ok(Check {
            entries: u64::try_from(entries).unwrap_or_default(),
            whole: fault.is_none(),
            first_bad: first_bad.flatten(),
            why,
            last,
        })
    }
}

/// What the next entry must be.
struct Expected {
    entry: i64,
    previous: String,
}

impl Expected {
    /// Follows the chain to its end, or to the first fault.
    fn follow(&mut self, connection: &Connection) -> rusqlite::Result<Option<Fault>> {
        let mut statement =
            connection.prepare("SELECT entry, previous, hash, body FROM entry ORDER BY entry")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (entry, previous, hash, body): (i64, String, String, String) =
                (row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?);
            if let Some(why) = self.fault(entry, &previous, &hash, &body) {
                return Ok(Some((Some(self.entry.min(entry)), why)));
            }
            self.entry = entry + 1;
            self.previous = hash;
        }
        Ok(None)
    }

    fn fault(&self, entry: i64, previous: &str, hash: &str, body: &str) -> Option<String> {
        let wanted = self.entry;
        if entry != wanted {
            return Some(format!("entry {wanted} is missing: {entry} is there instead"));
        }
        if chain::hash(previous, body) != hash {
            return Some(format!("entry {entry} was altered: its hash is another"));
        }
        if previous != self.previous {
            return Some(format!("entry {entry} does not follow on the one before it"));
        }
        match serde_json::from_str::<Numbered>(body) {
            Ok(numbered) if numbered.entry == entry => None,
            Ok(numbered) => Some(format!("entry {entry} was written as {}", numbered.entry)),
            Err(why) => Some(format!("entry {entry} cannot be read: {why}")),
        }
    }
}

/// Entries whose numbers were given and which are not there any more.
fn cut_off(connection: &Connection, next: i64) -> rusqlite::Result<Option<Fault>> {
    let given: Option<i64> = connection
        .query_row("SELECT seq FROM sqlite_sequence WHERE name = 'entry'", [], |row| row.get(0))
        .optional()?;
    // Once an entry was written, its number is kept; only a hand takes it away.
    Ok(match given.unwrap_or(0) {
        given if given >= next => {
            Some((Some(next), format!("entries from {next} to {given} were cut off")))
        }
        given if given < next - 1 => {
            Some((None, format!("the numbers given end with {given}, the entries do not")))
        }
        _ => None,
    })
}

/// Damage to the file, or tables that are not as this program makes them.
fn damage(connection: &Connection) -> rusqlite::Result<Option<Fault>> {
    let said: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if said != "ok" {
        return Ok(Some((None, format!("the file is damaged: {said}"))));
    }
    let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if version == store::known_version() && schema(connection)? != schema(&store::blank()?)? {
        let why = "its tables or the guards of them are not as this program makes them";
        return Ok(Some((None, why.to_owned())));
    }
    Ok(None)
}

fn schema(connection: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut statement = connection.prepare(
        "SELECT name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'
         ORDER BY name",
    )?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    rows.collect()
}
