//! Reads the logbook, also while a watch writes it.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use rusqlite::types::Value;
use rusqlite::{Connection, Row, params_from_iter};

use super::chain::{Check, FIRST, link};
use super::draft::Draft;
use super::entry::{Entry, Filter};
use super::error::Error;
use super::store::open_to_read;

/// A logbook that is read.
pub struct Reader {
    connection: Connection,
    path: PathBuf,
}

const COLUMNS: &str = "entry, body, previous, hash";

impl Reader {
    /// Opens the logbook in a folder; `None` if there is none.
    ///
    /// # Errors
    /// One that cannot be read, is damaged, or was written by a newer version.
    pub fn open(folder: &Path) -> Result<Option<Self>, Error> {
        Ok(open_to_read(folder)?.map(|(connection, path)| Self { connection, path }))
    }

    pub(super) fn fault(&self, source: rusqlite::Error) -> Error {
        Error::Database { path: self.path.clone(), source }
    }

    pub(super) fn connection(&self) -> &Connection {
        &self.connection
    }

    /// Hands over each entry that is wanted, oldest first.
    ///
    /// # Errors
    /// The logbook cannot be read, or an entry in it not be understood.
    pub fn entries(&self, filter: &Filter, mut each: impl FnMut(Entry)) -> Result<(), Error> {
        self.try_entries::<std::convert::Infallible>(filter, |entry| {
            each(entry);
            Ok(())
        })
        .map(|_| ())
    }

    /// As [`Self::entries`], until one hands an error back.
    ///
    /// # Errors
    /// As there. What came back is in the inner result.
    pub fn try_entries<E>(
        &self,
        filter: &Filter,
        mut each: impl FnMut(Entry) -> Result<(), E>,
    ) -> Result<Result<(), E>, Error> {
        let (conditions, values) = conditions(filter);
        let all = format!("SELECT {COLUMNS} FROM entries WHERE {conditions}");
        let sql = match filter.newest {
            Some(newest) => {
                format!("SELECT * FROM ({all} ORDER BY entry DESC LIMIT {newest}) ORDER BY entry")
            }
            None => format!("{all} ORDER BY entry"),
        };
        let mut query = self.connection.prepare(&sql).map_err(|why| self.fault(why))?;
        let mut rows = query.query(params_from_iter(values)).map_err(|why| self.fault(why))?;
        while let Some(row) = rows.next().map_err(|why| self.fault(why))? {
            let entry = self.entry(row)?;
            if let Err(back) = each(entry) {
                return Ok(Err(back));
            }
        }
        Ok(Ok(()))
    }

    /// The entry with this number, if there is one.
    ///
    /// # Errors
    /// As [`Self::entries`].
    pub fn get(&self, number: i64) -> Result<Option<Entry>, Error> {
        let sql = format!("SELECT {COLUMNS} FROM entries WHERE entry = ?1");
        let mut query = self.connection.prepare(&sql).map_err(|why| self.fault(why))?;
        let mut rows = query.query([number]).map_err(|why| self.fault(why))?;
        match rows.next().map_err(|why| self.fault(why))? {
            Some(row) => self.entry(row).map(Some),
            None => Ok(None),
        }
    }

    /// The recordings that entries refer to.
    ///
    /// # Errors
    /// As [`Self::entries`].
    pub fn recordings(&self) -> Result<HashSet<String>, Error> {
        let sql = "SELECT DISTINCT recording FROM entries WHERE recording IS NOT NULL";
        let mut query = self.connection.prepare(sql).map_err(|why| self.fault(why))?;
        let rows = query.query_map([], |row| row.get(0)).map_err(|why| self.fault(why))?;
        rows.collect::<Result<_, _>>().map_err(|why| self.fault(why))
    }

    /// Proves that nothing is missing or altered: every hash, every joint, every number, the end,
    /// and the database itself by its own check. Reads entry by entry.
    ///
    /// # Errors
    /// The logbook cannot be read at all.
    pub fn check(&self) -> Result<Check, Error> {
        let mut check =
            Check { entries: 0, whole: true, first_bad: None, why: None, last_hash: None };
        let sql = format!("SELECT {COLUMNS} FROM entries ORDER BY entry");
        let mut query = self.connection.prepare(&sql).map_err(|why| self.fault(why))?;
        let mut rows = query.query([]).map_err(|why| self.fault(why))?;
        let (mut last, mut previous) = (0, FIRST.to_owned());
        while let Some(row) = rows.next().map_err(|why| self.fault(why))? {
            let raw = RawEntry::of(row).map_err(|why| self.fault(why))?;
            check.entries += 1;
            if check.whole
                && let Some(why) = raw.wrong_after(last, &previous)
            {
                // What follows on a missing entry shows it; the missing one is the bad one.
                let bad = if raw.entry > last + 1 { last + 1 } else { raw.entry };
                (check.whole, check.first_bad, check.why) = (false, Some(bad), Some(why));
            }
            (last, previous) = (raw.entry, raw.hash);
        }
        check.last_hash = (last > 0).then_some(previous);
        if check.whole {
            self.check_end(&mut check, last)?;
        }
        Ok(check)
    }

    fn check_end(&self, check: &mut Check, last: i64) -> Result<(), Error> {
        let sql = "SELECT seq FROM sqlite_sequence WHERE name = 'entries'";
        let highest = match self.connection.query_row(sql, [], |row| row.get::<_, i64>(0)) {
            Err(rusqlite::Error::QueryReturnedNoRows) => 0,
            highest => highest.map_err(|why| self.fault(why))?,
        };
        if highest > last {
            check.whole = false;
            check.first_bad = Some(last + 1);
            check.why = Some(format!("there were {highest} entries: the last are cut off"));
            return Ok(());
        }
        let sql = "PRAGMA integrity_check(1)";
        let what: String =
            self.connection.query_row(sql, [], |row| row.get(0)).map_err(|why| self.fault(why))?;
        if what != "ok" {
            (check.whole, check.why) = (false, Some(format!("SQLite says: {what}")));
        }
        Ok(())
    }

    pub(super) fn entry(&self, row: &Row<'_>) -> Result<Entry, Error> {
        let raw = RawEntry::of(row).map_err(|why| self.fault(why))?;
        let draft: Draft = serde_json::from_str(&raw.body).map_err(|why| Error::Damaged {
            path: self.path.clone(),
            what: format!("entry {}: {why}", raw.entry),
        })?;
        Ok(Entry { draft, previous: raw.previous, hash: raw.hash })
    }
}

/// A row as it is.
struct RawEntry {
    entry: i64,
    body: String,
    previous: String,
    hash: String,
}

impl RawEntry {
    fn of(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { entry: row.get(0)?, body: row.get(1)?, previous: row.get(2)?, hash: row.get(3)? })
    }

    /// What is wrong with it, following on this entry.
    fn wrong_after(&self, last: i64, previous: &str) -> Option<String> {
        if self.entry > last + 1 {
            return Some(format!("missing: entry {} follows on {last}", self.entry));
        }
        if self.previous != previous {
            return Some(format!("does not follow on entry {last}"));
        }
        if self.hash != link(&self.previous, &self.body) {
            return Some("altered: its hash is another".to_owned());
        }
        let numbered =
            serde_json::from_str::<Draft>(&self.body).is_ok_and(|b| b.entry == self.entry);
        (!numbered).then(|| "carries another number, or cannot be read".to_owned())
    }
}

/// The conditions of a filter, and their values.
fn conditions(filter: &Filter) -> (String, Vec<Value>) {
    let name = |value: serde_json::Result<serde_json::Value>| match value {
        Ok(serde_json::Value::String(name)) => Value::Text(name),
        _ => Value::Null,
    };
    let wanted = [
        ("host_ms >= ?", filter.since.map(|it| Value::Integer(it.unix_ms()))),
        ("host_ms <= ?", filter.until.map(|it| Value::Integer(it.unix_ms()))),
        ("kind = ?", filter.kind.map(|it| name(serde_json::to_value(it)))),
        ("mmsi = ?", filter.mmsi.map(|it| Value::Integer(it.value().into()))),
        ("priority = ?", filter.priority.map(|it| name(serde_json::to_value(it)))),
    ];
    let mut sql = vec!["1"];
    let mut values = Vec::new();
    for (condition, value) in wanted {
        if let Some(value) = value {
            sql.push(condition);
            values.push(value);
        }
    }
    (sql.join(" AND "), values)
}
