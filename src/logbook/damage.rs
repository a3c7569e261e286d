//! Sets a damaged logbook aside: renamed beside itself, never overwritten, never deleted.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::error::Error;
use super::store::FILE;
use crate::time::Utc;

/// What SQLite keeps beside the file.
const COMPANIONS: [&str; 2] = ["-wal", "-shm"];

/// Renames the logbook of a folder, with what belongs to it, and gives back its new path.
///
/// # Errors
/// If the system does not let it.
pub(super) fn set_aside(folder: &Path, now: Utc) -> Result<PathBuf, Error> {
    let path = folder.join(FILE);
    rename(folder, &path, now).map_err(|cause| Error::NotSetAside { path, cause })
}

fn rename(folder: &Path, path: &Path, now: Utc) -> io::Result<PathBuf> {
    let stamp: String = now.to_string().chars().filter(|c| c.is_ascii_alphanumeric()).collect();
    let names = (1_u32..).map(|nth| match nth {
        1 => format!("logbook-{stamp}.damaged.db"),
        _ => format!("logbook-{stamp}-{nth}.damaged.db"),
    });
    for name in names {
        let aside = folder.join(&name);
        let beside = COMPANIONS.map(|end| folder.join(format!("{name}{end}")));
        if fs::symlink_metadata(&aside).is_ok() || beside.iter().any(|it| it.exists()) {
            continue;
        }
        // The write-ahead log goes first: if the power fails in between, the damaged file is still
        // there to be set aside, and no new one ever meets an old log.
        for (end, aside) in COMPANIONS.iter().zip(&beside) {
            match fs::rename(folder.join(format!("{FILE}{end}")), aside) {
                Err(why) if why.kind() != io::ErrorKind::NotFound => return Err(why),
                _ => {}
            }
        }
        fs::rename(path, &aside)?;
        return Ok(aside);
    }
    Err(io::ErrorKind::AlreadyExists.into())
}
