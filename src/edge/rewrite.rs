//! Writes a file anew, whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Writes a file that is not there, whole or not at all.
///
/// # Errors
/// A file that is there, or that cannot be written: nothing is left of it then.
pub fn create(path: &Path, text: &str) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    if written.is_err() {
        let _ = fs::remove_file(path);
    }
    written
}

/// Replaces the text of a file, if that is still `before`: with its mode and its owner, and through
/// a symbolic link its target. A power cut leaves the one or the other.
///
/// # Errors
/// A file that has changed meanwhile, that may not be written, or that is being written by another;
/// what the disk says. The file is as it was then.
pub fn rewrite(path: &Path, before: &str, after: &str) -> io::Result<()> {
    let target = fs::canonicalize(path)?;
    let file = OpenOptions::new().read(true).write(true).open(&target)?;
    let is = file.metadata()?;
    if is.permissions().readonly() {
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, "the file is read-only"));
    }
    // Two programs of ours do not come between each other's look and writing.
    file.try_lock().map_err(|_| io::Error::other("another program is writing the file"))?;
    let (new, mut writer) = beside(&target)?;
    let done = (|| {
        writer.write_all(after.as_bytes())?;
        writer.set_permissions(is.permissions())?;
        keep_owner(&writer, &is)?;
        writer.sync_all()?;
        if fs::read_to_string(&target)? != before {
            return Err(io::Error::other("the file was changed meanwhile; try again"));
        }
        fs::rename(&new, &target)
    })();
    if done.is_err() {
        let _ = fs::remove_file(&new);
    }
    done?;
    // The name too is to last; not every file system can say so.
    let _ = target.parent().map(File::open).transpose().map(|it| it.map(|it| it.sync_all()));
    Ok(())
}

/// A new file beside another, read by nobody else before it has that one's mode.
fn beside(target: &Path) -> io::Result<(PathBuf, File)> {
    let mut name = target.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.new", std::process::id()));
    let new = target.with_file_name(name);
    // One of a program of the same number that was killed.
    let _ = fs::remove_file(&new);
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let file = options.open(&new)?;
    Ok((new, file))
}

/// Gives a file the owner of another, if it has not that already.
#[cfg(unix)]
fn keep_owner(file: &File, other: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt as _, fchown};
    let ours = file.metadata()?;
    if (ours.uid(), ours.gid()) == (other.uid(), other.gid()) {
        return Ok(());
    }
    fchown(file, Some(other.uid()), Some(other.gid()))?;
    // A change of the owner may take bits of the mode away.
    file.set_permissions(other.permissions())
}

#[cfg(not(unix))]
fn keep_owner(_: &File, _: &fs::Metadata) -> io::Result<()> {
    Ok(())
}

#[cfg(all(test, unix))]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
mod tests {
    use super::*;
    use std::os::unix::fs::{PermissionsExt as _, symlink};

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<String> =
            entries.map(|it| it.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn the_target_of_a_link_is_written_and_keeps_its_mode() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real"), folder.path().join("link"));
        fs::write(&real, "old").unwrap();
        fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).unwrap();
        symlink("real", &link).unwrap();
        rewrite(&link, "old", "old and new").unwrap();
        assert_eq!(fs::read_to_string(&real).unwrap(), "old and new");
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o7777, 0o640);
        assert_eq!(names(folder.path()), ["link", "real"]);
    }

    #[test]
    fn what_was_changed_meanwhile_or_is_read_only_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        fs::write(&path, "somebody else's").unwrap();
        let why = rewrite(&path, "old", "new").unwrap_err().to_string();
        assert!(why.contains("changed meanwhile"), "{why}");
        fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
        let why = rewrite(&path, "somebody else's", "new").unwrap_err();
        assert_eq!(why.kind(), io::ErrorKind::PermissionDenied);
        assert_eq!(fs::read_to_string(&path).unwrap(), "somebody else's");
        assert_eq!(names(folder.path()), ["file"]);
    }
}
