//! What can go wrong with a logbook, in words for the person who asked.

use std::io;
use std::path::PathBuf;

/// Why a logbook cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The folder or a file in it.
    #[error("logbook {}: {source}", path.display())]
    Folder {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The database.
    #[error("logbook {}: {source}", path.display())]
    Database {
        /// Which.
        path: PathBuf,
        /// Why.
        source: rusqlite::Error,
    },
    /// Another version of the program has written it.
    #[error(
        "logbook {}: written by a newer overside (form {found}, this one knows {known}); use that one",
        path.display()
    )]
    Newer {
        /// Which.
        path: PathBuf,
        /// The form it has.
        found: i64,
        /// The form that is known.
        known: i64,
    },
    /// A file that is no logbook.
    #[error("logbook {}: this is a database of another program", path.display())]
    Foreign {
        /// Which.
        path: PathBuf,
    },
    /// Damaged: what SQLite says of it.
    #[error("logbook {}: damaged: {what}", path.display())]
    Damaged {
        /// Which.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
}

impl Error {
    /// Whether the file itself is beyond use, not only out of reach just now.
    pub(super) fn is_damage(&self) -> bool {
        use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
        match self {
            Self::Damaged { .. } => true,
            Self::Database { source, .. } => {
                matches!(source.sqlite_error_code(), Some(DatabaseCorrupt | NotADatabase))
            }
            _ => false,
        }
    }
}
