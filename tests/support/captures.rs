//! Real recordings, which lie beside the project and are no part of it.

use std::path::{Path, PathBuf};

/// The recording or folder of this name, or `None`, said aloud, if the recordings are not there.
///
/// # Panics
/// Under CI: what was not checked must not pass for checked.
pub fn path(name: &str) -> Option<PathBuf> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/captures").join(name);
    if path.exists() {
        return Some(path);
    }
    let missing = format!("NOT CHECKED: {} is missing", path.display());
    assert!(std::env::var_os("CI").is_none(), "{missing}");
    eprintln!("{missing}");
    None
}
