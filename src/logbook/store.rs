//! The database: opened so that a commit outlasts a power cut, brought to the present form, written
//! to at its end alone.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::chain::{FIRST, link};
use super::draft::Draft;
use super::error::Error;

/// The name of the database in its folder.
pub const FILE: &str = "logbook.db";

/// Marks the file as ours: the letters OVSD.
const APPLICATION: i64 = 0x4F56_5344;

/// Every change of form, in order; `user_version` counts those that were made. One that has been
/// released is never edited.
const MIGRATIONS: &[&str] = &[include_str!("migrations/0001_begin.sql")];

/// A file up to this size is looked through when it is opened: a few hundred milliseconds at most.
const LOOKED_THROUGH: u64 = 64 * 1024 * 1024;

/// An open logbook that can be written.
pub(super) struct Store {
    connection: Connection,
    path: PathBuf,
}

impl Store {
    /// Opens the logbook in a folder, and makes both if need be. A lock of somebody else is waited
    /// for as long as `patience`.
    pub(super) fn open(folder: &Path, patience: Duration) -> Result<Self, Error> {
        let path = folder.join(FILE);
        std::fs::create_dir_all(folder)
            .map_err(|source| Error::Folder { path: folder.to_owned(), source })?;
        let fault = |source| Error::Database { path: path.clone(), source };
        let mut connection = Connection::open(&path).map_err(fault)?;
        connection.busy_timeout(patience).map_err(fault)?;
        let application = pragma(&connection, "application_id").map_err(fault)?;
        let found = pragma(&connection, "user_version").map_err(fault)?;
        let known = MIGRATIONS.len() as i64;
        if application != APPLICATION && (application != 0 || found != 0) {
            return Err(Error::Foreign { path });
        }
        if found > known {
            return Err(Error::Newer { path, found, known });
        }
        // A commit is on the disk when it returns: NORMAL would lose the last ones in a power cut.
        let set = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;";
        connection.execute_batch(set).map_err(fault)?;
        if std::fs::metadata(&path).is_ok_and(|file| file.len() <= LOOKED_THROUGH) {
            let check = "PRAGMA quick_check(1)";
            let what: String = connection.query_row(check, [], |row| row.get(0)).map_err(fault)?;
            if what != "ok" {
                return Err(Error::Damaged { path, what });
            }
        }
        migrate(&mut connection).map_err(fault)?;
        Ok(Self { connection, path })
    }

    /// Appends the drafts in one transaction; gives each its number and place in the chain. Either
    /// all are on the disk when this returns, or none. `session` is the number of the entry with
    /// which the watch began; the first entry of a watch sets it.
    pub(super) fn append<'a>(
        &mut self,
        drafts: impl IntoIterator<Item = &'a mut Draft>,
        session: &mut Option<i64>,
    ) -> Result<(), Error> {
        let fault = |source| Error::Database { path: self.path.clone(), source };
        *session = append_all(&mut self.connection, drafts, *session).map_err(fault)?;
        Ok(())
    }
}

/// Appends one draft to the logbook in a folder, from outside of a watch. Waits for another writer
/// for five seconds. The number of the entry.
///
/// # Errors
/// The logbook cannot be written.
pub fn append(folder: &Path, mut draft: Draft) -> Result<i64, Error> {
    Store::open(folder, Duration::from_secs(5))?.append([&mut draft], &mut None)?;
    Ok(draft.entry)
}

fn pragma(connection: &Connection, name: &str) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, name, |row| row.get(0))
}

/// Makes each change of form that was not made yet, whole or not at all.
fn migrate(connection: &mut Connection) -> rusqlite::Result<()> {
    if pragma(connection, "user_version")? == MIGRATIONS.len() as i64 {
        return Ok(());
    }
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another process may have been faster.
    let done = pragma(&change, "user_version")?;
    for sql in MIGRATIONS.iter().skip(usize::try_from(done).unwrap_or(0)) {
        change.execute_batch(sql)?;
    }
    change.pragma_update(None, "application_id", APPLICATION)?;
    change.pragma_update(None, "user_version", MIGRATIONS.len() as i64)?;
    change.commit()
}

fn append_all<'a>(
    connection: &mut Connection,
    drafts: impl IntoIterator<Item = &'a mut Draft>,
    mut session: Option<i64>,
) -> rusqlite::Result<Option<i64>> {
    // The last entry is read inside: another process may have written since.
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let last = change.query_row(
        "SELECT entry, hash FROM entries ORDER BY entry DESC LIMIT 1",
        [],
        |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)),
    );
    let (mut entry, mut previous) = match last {
        Err(rusqlite::Error::QueryReturnedNoRows) => (0, FIRST.to_owned()),
        last => last?,
    };
    {
        let sql = "INSERT INTO entries (entry, body, previous, hash) VALUES (?1, ?2, ?3, ?4)";
        let mut insert = change.prepare_cached(sql)?;
        for draft in drafts {
            entry += 1;
            draft.entry = entry;
            // What has no place in the count of a watch is a note from outside.
            draft.session = draft.arrival_us.is_some().then(|| *session.get_or_insert(entry));
            let body = serde_json::to_string(draft)
                .map_err(|why| rusqlite::Error::ToSqlConversionFailure(Box::new(why)))?;
            let hash = link(&previous, &body);
            insert.execute((entry, &body, &previous, &hash))?;
            previous = hash;
        }
    }
    change.commit()?;
    Ok(session)
}

/// Opens a logbook to be read, while a watch may write it; `None` if there is none.
pub(super) fn open_to_read(folder: &Path) -> Result<Option<(Connection, PathBuf)>, Error> {
    let path = folder.join(FILE);
    if !path.exists() {
        return Ok(None);
    }
    let fault = |source| Error::Database { path: path.clone(), source };
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
    let open = |uri: &str| -> rusqlite::Result<Connection> {
        let connection = Connection::open_with_flags(uri, flags)?;
        connection.busy_timeout(Duration::from_secs(5))?;
        pragma(&connection, "schema_version")?;
        Ok(connection)
    };
    let plain = format!("file:{}?mode=ro", escaped(&path));
    let connection = match open(&plain) {
        // A folder that cannot be written has no place for the shared index of the journal.
        Err(why) if why.sqlite_error_code() == Some(rusqlite::ErrorCode::CannotOpen) => {
            open(&format!("file:{}?mode=ro&immutable=1", escaped(&path)))
        }
        opened => opened,
    };
    let connection = connection.map_err(fault)?;
    let found = pragma(&connection, "user_version").map_err(fault)?;
    let known = MIGRATIONS.len() as i64;
    if pragma(&connection, "application_id").map_err(fault)? != APPLICATION {
        return if found == 0 { Ok(None) } else { Err(Error::Foreign { path }) };
    }
    if found > known {
        return Err(Error::Newer { path, found, known });
    }
    Ok(Some((connection, path)))
}

/// A path inside a URI.
fn escaped(path: &Path) -> String {
    path.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23")
}
