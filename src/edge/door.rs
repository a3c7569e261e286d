//! The door of a watch: a socket in the runtime folder, for its user alone, by which others on this
//! computer look at it.

use std::ffi::OsString;
use std::fs::{self, File, Permissions, TryLockError};
use std::io::{self, Read as _};
use std::os::unix::fs::PermissionsExt as _;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};

use super::runtime_folder::{others, runtime_folder};

/// How the name of a socket ends.
const END: &str = "sock";

/// A socket that is open; its file goes with it.
#[derive(Debug)]
pub struct Door {
    path: PathBuf,
}

impl Door {
    /// Opens the door of this process. What killed ones have left is cleared away.
    ///
    /// # Errors
    /// There is no folder for it, or no socket can be made there.
    pub fn open(env: impl Fn(&str) -> Option<OsString>) -> io::Result<(Self, UnixListener)> {
        let folder = runtime_folder(env)?;
        for left in sockets(&folder).filter(|path| is_left(path)) {
            let _ = fs::remove_file(left);
        }
        let process = std::process::id();
        let making = folder.join(format!(".watch-{process}"));
        let path = folder.join(format!("watch-{process}.{END}"));
        let _ = fs::remove_file(&making);
        let listener = UnixListener::bind(&making)?;
        // Nobody finds it under its name before it is for its user alone.
        let ready = fs::set_permissions(&making, Permissions::from_mode(0o600))
            .and_then(|()| fs::rename(&making, &path))
            .and_then(|()| listener.set_nonblocking(true));
        if let Err(why) = ready {
            let _ = fs::remove_file(&making);
            return Err(why);
        }
        Ok((Self { path }, listener))
    }

    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

/// The door of the watch that keeps the logbook in this folder.
pub fn door_of(folder: &Path) -> Option<PathBuf> {
    let mut lock = File::open(folder.join("watch.lock")).ok()?;
    if !matches!(lock.try_lock_shared(), Err(TryLockError::WouldBlock)) {
        return None;
    }
    let mut text = String::new();
    lock.read_to_string(&mut text).ok()?;
    text.lines().nth(1).map(PathBuf::from)
}

/// The doors of all watches that run and that this user may enter.
pub fn doors(env: impl Fn(&str) -> Option<OsString>) -> Vec<PathBuf> {
    let Ok(own) = runtime_folder(env) else { return Vec::new() };
    let folders = others(&own).chain([own.clone()]);
    let open = |path: &PathBuf| UnixStream::connect(path).is_ok();
    folders.flat_map(|folder| sockets(&folder).collect::<Vec<_>>()).filter(open).collect()
}

/// Whether nobody is behind a door any more. Any other error says nothing of that: of too many open
/// files, say, in this process.
fn is_left(path: &Path) -> bool {
    UnixStream::connect(path).is_err_and(|why| why.kind() == io::ErrorKind::ConnectionRefused)
}

fn sockets(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let found = fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    found.filter(|path| path.extension().is_some_and(|end| end == END))
}

#[cfg(test)]
mod tests {
    use std::os::unix::net::UnixDatagram;

    use super::*;

    #[test]
    fn only_a_door_that_nobody_is_behind_is_cleared_away() {
        let folder = tempfile::tempdir().unwrap();
        let [open, left, other] = ["open", "left", "other"].map(|it| folder.path().join(it));
        let _listener = UnixListener::bind(&open).unwrap();
        drop(UnixListener::bind(&left).unwrap());
        // It cannot be entered, for another reason.
        let _datagrams = UnixDatagram::bind(&other).unwrap();
        assert_eq!([&open, &left, &other].map(|path| is_left(path)), [false, true, false]);
    }
}
