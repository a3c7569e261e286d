//! Small choices that outlive the program, such as the colours: one word a file.

use std::ffi::OsString;
use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use crate::thread;

/// A key waits no longer than this for the disk. Our own.
const PATIENCE: Duration = Duration::from_millis(100);

/// The folder for it: `$XDG_STATE_HOME/overside`, else `~/.local/state/overside`.
pub fn folder(env: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let named = env("XDG_STATE_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let state = named.or_else(|| Some(PathBuf::from(env("HOME")?).join(".local/state")))?;
    Some(state.join("overside"))
}

/// The word kept under this name, if any.
pub fn recall(name: &str, env: impl Fn(&str) -> Option<OsString>) -> Option<String> {
    let text = fs::read_to_string(folder(env)?.join(name)).ok()?;
    Some(text.trim().chars().take(32).collect())
}

/// Keeps a word under this name. Nothing is lost if that fails: it is asked for again.
pub fn remember(name: &str, word: &str, env: impl Fn(&str) -> Option<OsString>) {
    let Some(folder) = folder(env) else { return };
    let (name, word) = (name.to_owned(), word.to_owned());
    let keep = move || {
        let kept = fs::create_dir_all(&folder).and_then(|()| fs::write(folder.join(&name), word));
        if let Err(why) = kept {
            tracing::debug!("cannot remember {name} in {}: {why}", folder.display());
        }
    };
    if let Err(why) = thread::in_time("remember", PATIENCE, keep, |()| {}) {
        tracing::debug!("no thread to remember it: {why}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let env = |name: &str| (name == "XDG_STATE_HOME").then(|| folder.path().into());
        assert_eq!(recall("colours", env), None);
        remember("colours", "night", env);
        assert_eq!(recall("colours", env).as_deref(), Some("night"));
    }
}
