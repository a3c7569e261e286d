//! What can be wrong with a logbook, with its path and what to do next.

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Why the logbook could not be written or read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The folder is not there and cannot be made.
    #[error(
        "the logbook's folder {} cannot be made ({cause}): check the path and who may write there, \
         or name another with `[storage] folder`",
        .path.display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// The file cannot be written or read as things are.
    #[error("logbook {}: {cause}: {hint}", .path.display())]
    Unusable {
        /// The file.
        path: PathBuf,
        /// What SQLite says.
        cause: rusqlite::Error,
        /// What to do.
        hint: &'static str,
    },
    /// The file is no sound database.
    #[error(
        "logbook {} is damaged ({what}): keep a copy of it; the next watch sets it aside and \
         begins a new one",
        .path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// The damaged file cannot be set aside.
    #[error(
        "logbook {} is damaged and cannot be renamed ({cause}): move it away, or check who may \
         write in its folder",
        .path.display()
    )]
    NotSetAside {
        /// The file.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// Somebody took the file away or put another in its place while it was in use.
    #[error(
        "logbook {} was removed or replaced while it was in use: entries written before are in the \
         file that was there; the watch goes on in the one that is there now",
        .path.display()
    )]
    Replaced {
        /// The file.
        path: PathBuf,
    },
    /// A later version of this program wrote the file.
    #[error(
        "logbook {} is of version {version}, this program knows up to {known}: use the later \
         program, or name another folder; nothing was changed",
        .path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: i64,
        /// The latest version this program knows.
        known: i64,
    },
    /// The file is a database of something else.
    #[error(
        "{} is a database of another program: name another folder; nothing was changed",
        .path.display()
    )]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// What is there is a folder, a pipe or a device.
    #[error("logbook {} is no file: move it away, or name another folder", .path.display())]
    NoFile {
        /// What is there.
        path: PathBuf,
    },
    /// An entry's body is not what this program writes.
    #[error(
        "logbook {}, entry {entry}: it cannot be read ({what}); `overside logbook check` tells \
         whether it was altered",
        .path.display()
    )]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The entry.
        entry: i64,
        /// What is wrong with it.
        what: String,
    },
}

impl Error {
    /// What SQLite says about this file.
    pub(super) fn of(path: &Path, cause: rusqlite::Error) -> Self {
        let path = path.to_owned();
        let hint = match cause.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                return Self::Damaged { path, what: cause.to_string() };
            }
            Some(ErrorCode::DiskFull) => "make room on the disk",
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
                "another program holds it: end that one"
            }
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                "check that the file and its folder are there and may be written"
            }
            _ => "check the disk",
        };
        Self::Unusable { path, cause, hint }
    }
}
