//! One watch alone keeps a logbook.

use std::fs::{self, File, TryLockError};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

/// A folder that this watch has for itself, until it ends, however it ends.
#[derive(Debug)]
pub struct Instance {
    _lock: File,
}

/// Why a folder cannot be had.
#[derive(Debug)]
pub enum Taken {
    /// Another watch has it.
    By {
        /// Its process, if it can be told.
        pid: Option<u32>,
        /// The file that says so.
        path: PathBuf,
    },
    /// It cannot be claimed at all.
    Not(io::Error),
}

impl Instance {
    /// Claims a folder, and makes it if need be. The second line of its file is where the watch can
    /// be looked at.
    ///
    /// # Errors
    /// Another watch has it, or it cannot be written.
    pub fn claim(folder: &Path, door: Option<&Path>) -> Result<Self, Taken> {
        fs::create_dir_all(folder).map_err(Taken::Not)?;
        let path = folder.join("watch.lock");
        let mut options = File::options();
        options.read(true).write(true).create(true).truncate(false);
        let mut lock = options.open(&path).map_err(Taken::Not)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut text = String::new();
                let _ = lock.read_to_string(&mut text);
                return Err(Taken::By {
                    pid: text.lines().next().and_then(|pid| pid.trim().parse().ok()),
                    path,
                });
            }
            Err(TryLockError::Error(why)) => return Err(Taken::Not(why)),
        }
        // For people and for who wants to look on: the lock is what counts.
        let _ = lock.set_len(0);
        let _ = lock.rewind();
        let door = door.map(|path| format!("{}\n", path.display())).unwrap_or_default();
        let _ = write!(lock, "{}\n{door}", std::process::id());
        Ok(Self { _lock: lock })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_had_once_and_free_again() {
        let folder = tempfile::tempdir().unwrap();
        let first = Instance::claim(folder.path(), None).unwrap();
        let Err(Taken::By { pid, .. }) = Instance::claim(folder.path(), None) else {
            panic!("it was had twice")
        };
        assert_eq!(pid, Some(std::process::id()));
        drop(first);
        Instance::claim(folder.path(), None).unwrap();
    }
}
