//! The file that is written: opened, brought to the present version, appended to.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, OptionalExtension as _, Transaction, TransactionBehavior};

use super::chain::{self, FIRST_PREVIOUS};
use super::details::Details;
use super::draft::Draft;
use super::error::Error;
use super::hours;

/// The name of the logbook in its folder.
pub const FILE: &str = "logbook.db";

/// The steps that lead from an empty file to the present version; a step is never changed, only
/// followed by another.
const MIGRATIONS: &[&str] =
    &[include_str!("migrations/001.sql"), include_str!("migrations/002.sql")];

/// `application_id` of the file format: `ovsd` in ASCII, as the first migration sets it.
const APPLICATION_ID: i64 = 0x6F76_7364;

/// Above this a file is not read through when it is opened: it would hold up the first entry.
const QUICK_CHECK_BYTES: u64 = 64 << 20;

/// Closing moves nothing from the write-ahead log into the file.
const NO_CHECKPOINT: DbConfig = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;

/// How long the command line waits for a lock that another program holds.
const COMMAND_LOCK: Duration = Duration::from_secs(5);

/// The watch an entry belongs to.
#[derive(Clone, Copy, Debug)]
pub(super) enum Session {
    /// None: it is written from outside.
    Outside,
    /// The one that this append begins.
    BeginsHere,
    /// The one that this entry began.
    Of(i64),
}

/// The logbook, open for writing.
#[derive(Debug)]
pub(super) struct Store {
    connection: Connection,
    path: PathBuf,
    /// Which file of the system it is, to see when somebody puts another in its place.
    identity: Option<(u64, u64)>,
}

impl Store {
    /// Opens the logbook of a folder, makes both if need be, and brings it to the present version.
    /// `lock` is how long to wait for another program that writes.
    pub(super) fn open(folder: &Path, lock: Duration) -> Result<Self, Error> {
        fs::create_dir_all(folder)
            .map_err(|cause| Error::Folder { path: folder.to_owned(), cause })?;
        let path = folder.join(FILE);
        is_there(&path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(&path, flags).and_then(|connection| {
            connection.busy_timeout(lock)?;
            // A file that turns out damaged is left as it is.
            connection.set_db_config(NO_CHECKPOINT, true)?;
            Ok(connection)
        });
        let mut connection = opened.map_err(|cause| Error::of(&path, cause))?;
        migrate(&mut connection, &path)?;
        // A commit has reached the disk before it is reported: the power may fail at any time.
        durable(&connection).map_err(|cause| Error::of(&path, cause))?;
        connection.set_db_config(NO_CHECKPOINT, false).map_err(|cause| Error::of(&path, cause))?;
        let identity = identity(&path);
        Ok(Self { connection, path, identity })
    }

    /// Reads the file through, unless it is large.
    ///
    /// # Errors
    /// [`Error::Damaged`] if it is.
    pub(super) fn look_through(&self) -> Result<(), Error> {
        if fs::metadata(&self.path).is_ok_and(|file| file.len() >= QUICK_CHECK_BYTES) {
            return Ok(());
        }
        let said =
            self.connection.query_row("PRAGMA quick_check(1)", [], |row| row.get::<_, String>(0));
        match said.map_err(|cause| Error::of(&self.path, cause)) {
            Ok(said) if said == "ok" => Ok(()),
            Ok(what) => Err(Error::Damaged { path: self.path.clone(), what }),
            Err(why @ Error::Damaged { .. }) => Err(why),
            // An entry that is no JSON any more: the file holds the others.
            Err(_) => Ok(()),
        }
    }

    /// Whether the file was removed or replaced since it was opened.
    pub(super) fn is_replaced(&self) -> bool {
        identity(&self.path) != self.identity
    }

    /// Appends these drafts in one transaction, and gives back the number of the first; the others
    /// follow on it. Nothing is written if it fails.
    pub(super) fn append(&mut self, drafts: &[Draft], session: Session) -> Result<i64, Error> {
        let first = append_to(&mut self.connection, drafts, session)
            .map_err(|cause| Error::of(&self.path, cause))?;
        self.keep_hours(drafts);
        Ok(first)
    }

    /// Keeps what was heard in these hours, beside the entries and after them: if it fails, that costs
    /// no entry.
    fn keep_hours(&self, drafts: &[Draft]) {
        for draft in drafts {
            if let Details::Reach { hour: Some(hour), .. } = &draft.details
                && let Err(why) = hours::keep(&self.connection, draft.host(), hour)
            {
                tracing::warn!("what was heard in the last hour is not kept: {why}");
            }
        }
    }

    /// Lets go of a damaged file without writing to it once more.
    pub(super) fn abandon(self) {
        // If it cannot be set, the file is written to in closing: no worse than before.
        let _ = self.connection.set_db_config(NO_CHECKPOINT, true);
    }
}

/// Appends one entry from the command line and gives back its number.
///
/// # Errors
/// Where the logbook cannot be written, or another program holds it for more than 5 s.
pub fn append(folder: &Path, draft: Draft) -> Result<i64, Error> {
    Store::open(folder, COMMAND_LOCK)?.append(&[draft], Session::Outside)
}

/// Whether the logbook is there. What is no file is refused: opening a pipe would wait for ever.
///
/// # Errors
/// [`Error::NoFile`].
pub(super) fn is_there(path: &Path) -> Result<bool, Error> {
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => Err(Error::NoFile { path: path.to_owned() }),
        Err(why) if why.kind() == std::io::ErrorKind::NotFound => Ok(false),
        _ => Ok(true),
    }
}

/// The latest version of the file that this program knows.
pub(super) fn known_version() -> i64 {
    // A handful of migrations.
    MIGRATIONS.len() as i64
}

/// The version of the file.
///
/// # Errors
/// If it is another program's, or of a later version than is known.
pub(super) fn version(connection: &Connection, path: &Path) -> Result<i64, Error> {
    let number = |sql: &str| {
        connection
            .query_row(sql, [], |row| row.get::<_, i64>(0))
            .map_err(|cause| Error::of(path, cause))
    };
    let look = || {
        let version = number("PRAGMA user_version")?;
        let application = number("PRAGMA application_id")?;
        let is_empty =
            application == 0 && version == 0 && number("SELECT count(*) FROM sqlite_schema")? == 0;
        Ok::<_, Error>((version, application == APPLICATION_ID || is_empty))
    };
    let (mut version, mut is_ours) = look()?;
    if !is_ours {
        // Another program may have made it between the first look and the last: then it is ours by
        // now.
        (version, is_ours) = look()?;
    }
    if !is_ours {
        return Err(Error::Foreign { path: path.to_owned() });
    }
    if version > known_version() {
        return Err(Error::Newer { path: path.to_owned(), version, known: known_version() });
    }
    Ok(version)
}

/// An empty logbook in memory, to compare with.
pub(super) fn blank() -> rusqlite::Result<Connection> {
    let connection = Connection::open_in_memory()?;
    for step in MIGRATIONS {
        connection.execute_batch(step)?;
    }
    Ok(connection)
}

fn migrate(connection: &mut Connection, path: &Path) -> Result<(), Error> {
    if version(connection, path)? == known_version() {
        return Ok(());
    }
    let failed = |cause| Error::of(path, cause);
    loop {
        // Read again under the lock: another program may have been quicker.
        let step =
            connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
        let version = version(&step, path)?;
        let next = usize::try_from(version).ok().and_then(|done| MIGRATIONS.get(done));
        let Some(sql) = next else { return Ok(()) };
        step.execute_batch(sql).map_err(failed)?;
        step.pragma_update(None, "user_version", version + 1).map_err(failed)?;
        step.commit().map_err(failed)?;
    }
}

fn durable(connection: &Connection) -> rusqlite::Result<()> {
    // Where a file system cannot have it, another journal serves as well.
    connection.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))?;
    connection.query_row("PRAGMA journal_size_limit = 4194304", [], |_| Ok(()))?;
    connection.pragma_update(None, "synchronous", "FULL")
}

fn append_to(
    connection: &mut Connection,
    drafts: &[Draft],
    session: Session,
) -> rusqlite::Result<i64> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let (last, mut previous) = head(&transaction)?;
    let session = match session {
        Session::Outside => None,
        Session::BeginsHere => Some(last + 1),
        Session::Of(entry) => Some(entry),
    };
    {
        let mut insert = transaction.prepare_cached(
            "INSERT INTO entry (entry, body, previous, hash) VALUES (?1, ?2, ?3, ?4)",
        )?;
        for (draft, number) in drafts.iter().zip(last + 1..) {
            let body = draft
                .body(number, session)
                .map_err(|why| rusqlite::Error::ToSqlConversionFailure(Box::new(why)))?;
            let hash = chain::hash(&previous, &body);
            insert.execute((number, &body, &previous, &hash))?;
            previous = hash;
        }
    }
    transaction.commit()?;
    Ok(last + 1)
}

/// The highest number ever given, and the hash of the last entry that is there.
fn head(transaction: &Transaction<'_>) -> rusqlite::Result<(i64, String)> {
    let given: Option<i64> = transaction
        .query_row("SELECT seq FROM sqlite_sequence WHERE name = 'entry'", [], |row| row.get(0))
        .optional()?;
    let last: Option<(i64, String)> = transaction
        .query_row("SELECT entry, hash FROM entry ORDER BY entry DESC LIMIT 1", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .optional()?;
    let (last, hash) = last.unwrap_or_else(|| (0, FIRST_PREVIOUS.to_owned()));
    Ok((given.unwrap_or(0).max(last), hash))
}

#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt as _;
    fs::metadata(path).ok().map(|file| (file.dev(), file.ino()))
}

/// Only that it is there.
#[cfg(not(unix))]
fn identity(path: &Path) -> Option<(u64, u64)> {
    fs::metadata(path).ok().map(|_| (0, 0))
}
