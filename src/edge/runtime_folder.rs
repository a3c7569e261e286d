//! Where what lives no longer than a watch lies: locks of addresses, and sockets.

use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Where a service installed as the manual says keeps them (`docs/packaging/overside.service`).
const OF_THE_SERVICE: &str = "/run/overside/overside";

/// The folder of this user, made if need be: in the runtime folder of the session
/// (`$XDG_RUNTIME_DIR`, else `/run/user/UID`), else in the data folder, else a folder of the user's
/// alone among the temporary files.
///
/// # Errors
/// It cannot be made, or belongs to somebody else.
pub(super) fn runtime_folder(env: impl Fn(&str) -> Option<OsString>) -> io::Result<PathBuf> {
    let env = |name: &str| env(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let session = env("XDG_RUNTIME_DIR").or_else(of_session).map(|path| path.join("overside"));
    let data = || env("XDG_DATA_HOME").or_else(|| Some(env("HOME")?.join(".local/share")));
    let folder = session.or_else(|| data().map(|path| path.join("overside/run")));
    match folder {
        Some(folder) => fs::create_dir_all(&folder).map(|()| folder),
        None => own_temporary(),
    }
}

/// The folders of other users in which locks can be seen.
pub(super) fn others(own: &Path) -> impl Iterator<Item = PathBuf> {
    let service = PathBuf::from(OF_THE_SERVICE);
    Some(service).filter(|path| path != own).into_iter()
}

#[cfg(unix)]
fn of_session() -> Option<PathBuf> {
    let user = rustix::process::getuid().as_raw();
    Some(PathBuf::from(format!("/run/user/{user}"))).filter(|path| path.is_dir())
}

#[cfg(not(unix))]
fn of_session() -> Option<PathBuf> {
    None
}

/// Among the files of all users nobody else may have made it before.
#[cfg(unix)]
fn own_temporary() -> io::Result<PathBuf> {
    use std::os::unix::fs::{DirBuilderExt as _, MetadataExt as _};
    let user = rustix::process::getuid().as_raw();
    let folder = std::env::temp_dir().join(format!("overside-{user}"));
    if let Err(why) = fs::DirBuilder::new().mode(0o700).create(&folder)
        && why.kind() != io::ErrorKind::AlreadyExists
    {
        return Err(why);
    }
    let found = fs::symlink_metadata(&folder)?;
    if found.is_dir() && found.uid() == user && found.mode() & 0o077 == 0 {
        Ok(folder)
    } else {
        Err(io::Error::other(format!("{} is somebody else's", folder.display())))
    }
}

#[cfg(not(unix))]
fn own_temporary() -> io::Result<PathBuf> {
    let folder = std::env::temp_dir().join("overside");
    fs::create_dir_all(&folder).map(|()| folder)
}
