//! Finds the file and reads it.

use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};

use toml::de::DeTable;

use super::{Config, Error, check};
use crate::text::plainly;

/// The name of the file in the working folder, and in ours of the XDG configuration folder.
const FILE: &str = "overside.toml";

impl Config {
    /// Finds the configuration and reads it: `explicit` (from `--config`), else the path in
    /// `$OVERSIDE_CONFIG`, else `overside.toml` in the working folder, else
    /// `overside/overside.toml` in the XDG configuration folder. `None` if there is none.
    ///
    /// `env` gives a variable of the environment; an empty one counts as not set.
    ///
    /// # Errors
    /// The first two paths must lead to a file; whichever file is found must be readable, and
    /// right in every line.
    pub fn load(
        explicit: Option<&Path>,
        env: impl Fn(&str) -> Option<OsString>,
    ) -> Result<Option<(Self, PathBuf)>, Error> {
        load_from(Path::new(""), explicit, env)
    }

    /// The file that [`Self::load`] would read, and its text, whether it is right or not; `None` if there
    /// is none.
    ///
    /// # Errors
    /// As there, but for what is wrong in it.
    pub fn find(
        explicit: Option<&Path>,
        env: impl Fn(&str) -> Option<OsString>,
    ) -> Result<Option<(String, PathBuf)>, Error> {
        find(Path::new(""), explicit, env, text)
    }

    /// Where a configuration is written that is not there yet: as [`Self::load`] would find it, but not in
    /// the working folder; `None` if the system names no home.
    pub fn new_file(
        explicit: Option<&Path>,
        env: impl Fn(&str) -> Option<OsString>,
    ) -> Option<PathBuf> {
        let env = |name: &str| env(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        explicit.map(Path::to_owned).or_else(|| env("OVERSIDE_CONFIG")).or_else(|| xdg_file(env))
    }

    /// Reads the text of a configuration. `path` names it in errors.
    ///
    /// # Errors
    /// [`Error::Invalid`] at the first line that is wrong.
    pub fn parse(text: &str, path: &Path) -> Result<Self, Error> {
        let config: Self = toml::from_str(text)
            .map_err(|error| Error::at(path, text, error.span(), plainly(error.message())))?;
        match check::faults(&config).into_iter().next() {
            None => Ok(config),
            Some(fault) => {
                let document = DeTable::parse(text).ok();
                let span = document.and_then(|it| fault.span(it.get_ref()));
                Err(Error::at(path, text, span, fault.what))
            }
        }
    }
}

fn load_from(
    working_folder: &Path,
    explicit: Option<&Path>,
    env: impl Fn(&str) -> Option<OsString>,
) -> Result<Option<(Config, PathBuf)>, Error> {
    find(working_folder, explicit, env, read)
}

/// The first file in the order that is there, as `read` reads it.
fn find<T>(
    working_folder: &Path,
    explicit: Option<&Path>,
    env: impl Fn(&str) -> Option<OsString>,
    read: impl Fn(&Path) -> Result<Option<T>, Error>,
) -> Result<Option<(T, PathBuf)>, Error> {
    let env = |name: &str| env(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let named = explicit
        .map(|path| (path.to_owned(), "--config"))
        .or_else(|| env("OVERSIDE_CONFIG").map(|path| (path, "$OVERSIDE_CONFIG")));
    if let Some((path, named_by)) = named {
        return match read(&path)? {
            Some(config) => Ok(Some((config, path))),
            None => Err(Error::Missing { path, named_by }),
        };
    }
    let xdg = xdg_file(env);
    for path in [Some(working_folder.join(FILE)), xdg].into_iter().flatten() {
        if let Some(config) = read(&path)? {
            return Ok(Some((config, path)));
        }
    }
    Ok(None)
}

/// The file in our folder of the XDG configuration folder; `None` if the system names no home.
fn xdg_file(env: impl Fn(&str) -> Option<PathBuf>) -> Option<PathBuf> {
    // A relative path in an XDG variable is to be ignored (XDG Base Directory Specification 0.8).
    env("XDG_CONFIG_HOME")
        .filter(|folder| folder.is_absolute())
        .or_else(|| env("HOME").map(|home| home.join(".config")))
        .map(|folder| folder.join("overside").join(FILE))
}

/// Reads a file, `None` if it is not there.
fn read(path: &Path) -> Result<Option<Config>, Error> {
    let Some(text) = text(path)? else { return Ok(None) };
    let mut config = Config::parse(&text, path)?;
    config.voice.read_words(path)?;
    Ok(Some(config))
}

/// The text of a file, `None` if it is not there.
fn text(path: &Path) -> Result<Option<String>, Error> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Some(text)),
        Err(error)
            if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) =>
        {
            Ok(None)
        }
        Err(source) => Err(Error::Unreadable { path: path.to_owned(), source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::TempDir;

    /// A folder with a configuration under each of these paths; the vessel's name is the path.
    fn folder(files: &[&str]) -> TempDir {
        let folder = tempfile::tempdir().unwrap();
        for file in files {
            let path = folder.path().join(file);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, format!("[vessel]\nname = {file:?}\n")).unwrap();
        }
        folder
    }

    /// Which of the files is loaded, with these variables set to paths in the folder.
    fn found(folder: &TempDir, explicit: Option<&str>, env: &[(&str, &str)]) -> Option<String> {
        load(folder, explicit, env).unwrap().map(|(config, path)| {
            let name = config.vessel.name.unwrap();
            assert_eq!(path, folder.path().join(&name));
            name
        })
    }

    fn load(
        folder: &TempDir,
        explicit: Option<&str>,
        env: &[(&str, &str)],
    ) -> Result<Option<(Config, PathBuf)>, Error> {
        let explicit = explicit.map(|file| folder.path().join(file));
        load_from(&folder.path().join("work"), explicit.as_deref(), |name| {
            let (_, value) = env.iter().find(|(key, _)| *key == name)?;
            Some(if value.is_empty() { "".into() } else { folder.path().join(value).into() })
        })
    }

    #[test]
    fn the_first_file_in_the_order_is_taken() {
        let all = folder(&[
            "given.toml",
            "variable.toml",
            "work/overside.toml",
            "xdg/overside/overside.toml",
            "home/.config/overside/overside.toml",
        ]);
        let env =
            [("OVERSIDE_CONFIG", "variable.toml"), ("XDG_CONFIG_HOME", "xdg"), ("HOME", "home")];
        assert_eq!(found(&all, Some("given.toml"), &env).unwrap(), "given.toml");
        assert_eq!(found(&all, None, &env).unwrap(), "variable.toml");
        assert_eq!(found(&all, None, &env[1..]).unwrap(), "work/overside.toml");
        std::fs::remove_file(all.path().join("work/overside.toml")).unwrap();
        assert_eq!(found(&all, None, &env[1..]).unwrap(), "xdg/overside/overside.toml");
        let home = "home/.config/overside/overside.toml";
        assert_eq!(found(&all, None, &env[2..]).unwrap(), home);
        let unset = [("OVERSIDE_CONFIG", ""), ("XDG_CONFIG_HOME", ""), ("HOME", "home")];
        assert_eq!(found(&all, None, &unset).unwrap(), home);
    }

    #[test]
    fn a_relative_xdg_folder_is_ignored() {
        let none = load_from(Path::new("/nowhere"), None, |name| {
            (name == "XDG_CONFIG_HOME").then(|| "src".into())
        });
        assert!(none.unwrap().is_none());
    }

    #[test]
    fn none_at_all_is_fine() {
        assert_eq!(found(&folder(&[]), None, &[("HOME", "home")]), None);
        assert_eq!(found(&folder(&[]), None, &[]), None);
    }

    #[test]
    fn a_file_that_was_asked_for_must_be_there() {
        let empty = folder(&["work/overside.toml"]);
        let error = load(&empty, Some("given.toml"), &[]).unwrap_err();
        assert!(matches!(error, Error::Missing { named_by: "--config", .. }));
        let error = load(&empty, None, &[("OVERSIDE_CONFIG", "variable.toml")]).unwrap_err();
        let message = error.to_string();
        for part in ["variable.toml", "$OVERSIDE_CONFIG", "is not there", "correct the path"] {
            assert!(message.contains(part), "{message}");
        }
    }

    #[test]
    fn a_file_that_cannot_be_read_is_not_passed_over() {
        let folder = folder(&[]);
        std::fs::create_dir_all(folder.path().join("work/overside.toml")).unwrap();
        let message = load(&folder, None, &[]).unwrap_err().to_string();
        assert!(message.contains("work/overside.toml cannot be read"), "{message}");
    }
}
