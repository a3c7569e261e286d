//! Proves that no entry is missing or altered, as far as the file alone can prove it.

use std::collections::BTreeSet;

use rusqlite::{Connection, OptionalExtension as _};
use serde::Deserialize;

use super::chain::{self, FIRST_PREVIOUS};
use super::details::{Details, WatchEvent};
use super::error::Error;
use super::kind::Kind;
use super::reader::{Filter, Reader, text};
use super::store;

/// Bad entries that are named; further ones are only counted.
const NAMED: usize = 1_000;

/// What an entry about the logbook itself calls the damaged ones that somebody has taken note of.
pub const KNOWN_DAMAGE: &str = "damaged";

/// What a check found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// Entries that are there.
    pub entries: u64,
    /// Whether nothing is missing or altered.
    pub whole: bool,
    /// The first entry that is missing or not as it was written; `None` if that is no single one.
    pub first_bad: Option<i64>,
    /// The entries that are missing or not as they were written.
    pub bad: BadEntries,
    /// What is wrong with the file, if that is no single entry, for a person.
    pub why: Option<String>,
    /// The last entry and its hash: written down elsewhere, they prove later that nothing up to
    /// there was made anew.
    pub last: Option<(i64, String)>,
}

/// Entries that are missing or not as they were written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BadEntries {
    /// The first thousand of them, in order, and what is wrong with each, for a person.
    pub named: Vec<(i64, String)>,
    /// How many there are.
    pub count: u64,
}

/// What is read of a body: the number that was hashed with it.
#[derive(Deserialize)]
struct Numbered {
    entry: i64,
}

impl Reader {
    /// Recomputes every hash, looks for gaps and for entries cut off at the end, and has SQLite
    /// look for damage where every entry is good. Holds one entry at a time.
    ///
    /// # Errors
    /// Where the file cannot be read at all.
    pub fn check(&self) -> Result<Check, Error> {
        let failed = |cause| Error::of(&self.path, cause);
        // One view of the file, though a watch may be writing.
        let view = self.connection.unchecked_transaction().map_err(failed)?;
        let bad = bad_entries(&view);
        let why = match bad.count {
            0 => damage(&view).map_err(failed)?,
            _ => None,
        };
        let entries: i64 =
            view.query_row("SELECT count(*) FROM entry", [], |row| row.get(0)).unwrap_or_default();
        let last = view
            .query_row("SELECT entry, hash FROM entry ORDER BY entry DESC LIMIT 1", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()
            .unwrap_or_default();
        Ok(Check {
            entries: u64::try_from(entries).unwrap_or_default(),
            whole: bad.count == 0 && why.is_none(),
            first_bad: bad.named.first().map(|(entry, _)| *entry),
            bad,
            why,
            last,
        })
    }

    /// The entries that are missing or not as they were written: the first thousand.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn damaged(&self) -> Result<Vec<i64>, Error> {
        let view = self.connection.unchecked_transaction();
        let view = view.map_err(|cause| Error::of(&self.path, cause))?;
        Ok(bad_entries(&view).named.into_iter().map(|(entry, _)| entry).collect())
    }

    /// The damaged entries, and of `others`, those that nobody has taken note of yet, in order.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn damage_not_known(&self, others: &[i64]) -> Result<Vec<i64>, Error> {
        let mut damaged = BTreeSet::from_iter(self.damaged()?);
        damaged.extend(others);
        let about_watch = Filter { kind: Some(Kind::Watch), ..Filter::default() };
        self.entries::<Error>(&about_watch, |entry| {
            if let Details::Watch { event: Some(WatchEvent::Logbook), told } = entry.draft.details
                && let Some(known) = told[KNOWN_DAMAGE].as_array()
            {
                damaged.retain(|&entry| !known.contains(&entry.into()));
            }
            Ok(())
        })?;
        Ok(damaged.into_iter().collect())
    }
}

/// Follows the chain to its end.
fn bad_entries(connection: &Connection) -> BadEntries {
    let mut chain =
        Chain { next: 1, previous: FIRST_PREVIOUS.to_owned(), bad: BadEntries::default() };
    if let Err(cause) = chain.follow(connection) {
        // What cannot be read any more is where it breaks.
        chain.bad.add(chain.next, format!("cannot be read, nor what follows: {cause}"));
    }
    chain.bad
}

impl BadEntries {
    fn add(&mut self, entry: i64, why: String) {
        self.add_all(entry..entry.saturating_add(1), &why);
    }

    fn add_all(&mut self, entries: std::ops::Range<i64>, why: &str) {
        self.count = self.count.saturating_add(entries.end.abs_diff(entries.start));
        let room = NAMED.saturating_sub(self.named.len());
        self.named.extend(entries.take(room).map(|entry| (entry, why.to_owned())));
    }
}

/// The chain of entries, as far as it was followed.
struct Chain {
    /// The number that the next entry must have.
    next: i64,
    /// The hash that it must follow on.
    previous: String,
    bad: BadEntries,
}

impl Chain {
    fn follow(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        let mut statement =
            connection.prepare("SELECT entry, previous, hash, body FROM entry ORDER BY entry")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            self.take(row.get(0)?, &text(row, 1), &text(row, 2), &text(row, 3));
        }
        // Once an entry was written, its number is kept; only a hand takes it away.
        let given: Option<i64> = connection
            .query_row("SELECT seq FROM sqlite_sequence WHERE name = 'entry'", [], |row| row.get(0))
            .optional()?;
        let after = given.unwrap_or(0).saturating_add(1);
        if after > self.next {
            self.bad.add_all(self.next..after, "was cut off at the end");
        } else if after < self.next {
            let why = format!("is there, though the numbers given end with {}", after - 1);
            self.bad.add_all(after..self.next, &why);
        }
        Ok(())
    }

    fn take(&mut self, entry: i64, previous: &str, hash: &str, body: &str) {
        if entry < self.next {
            self.bad.add(entry, "was put in before the first".to_owned());
            return;
        }
        if entry > self.next {
            self.bad.add_all(self.next..entry, "is missing");
            previous.clone_into(&mut self.previous);
        }
        if let Some(why) = self.fault(entry, previous, hash, body) {
            self.bad.add(entry, why);
        }
        self.next = entry.saturating_add(1);
        hash.clone_into(&mut self.previous);
    }

    fn fault(&self, entry: i64, previous: &str, hash: &str, body: &str) -> Option<String> {
        let altered = chain::hash(previous, body) != hash;
        match serde_json::from_str::<Numbered>(body) {
            Err(why) => Some(format!("cannot be read: {why}")),
            Ok(_) if altered => Some("was altered: its hash is another".to_owned()),
            Ok(_) if previous != self.previous => {
                Some("does not follow on the one before it".to_owned())
            }
            Ok(numbered) if numbered.entry == entry => None,
            Ok(numbered) => Some(format!("was written as {}", numbered.entry)),
        }
    }
}

/// Damage to the file, or tables that are not as this program makes them.
fn damage(connection: &Connection) -> rusqlite::Result<Option<String>> {
    let said: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if said != "ok" {
        return Ok(Some(format!("the file is damaged: {said}")));
    }
    let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if version == store::known_version() && schema(connection)? != schema(&store::blank()?)? {
        let why = "its tables or the guards of them are not as this program makes them";
        return Ok(Some(why.to_owned()));
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
