//! `[voice]`: what is read aloud.

use std::io;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::Error;
use crate::voice::Words;

/// What is read aloud, and whether figures of survival are shown beside it.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Voice {
    /// A file of texts, in place of those that are built in; relative to the configuration file.
    pub words: Option<PathBuf>,
    /// Whether figures of survival are shown where the water temperature is known. `false` if left
    /// out.
    pub survival_figures: bool,
    /// What stands in the file; the built-in texts if none is named.
    #[serde(skip)]
    pub texts: Words,
}

impl Voice {
    /// Reads the file of texts, if one is named in the configuration at `configuration`.
    ///
    /// # Errors
    /// It is not there, cannot be read, or a line of it is wrong.
    pub(super) fn read_words(&mut self, configuration: &Path) -> Result<(), Error> {
        let Some(words) = &self.words else { return Ok(()) };
        let path = configuration.parent().unwrap_or(Path::new("")).join(words);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(why) if why.kind() == io::ErrorKind::NotFound => {
                return Err(Error::Missing { path, named_by: "voice.words" });
            }
            Err(source) => return Err(Error::Unreadable { path, source }),
        };
        self.texts = Words::parse(&text).map_err(|why| Error::Invalid {
            path,
            line: why.line,
            excerpt: why.excerpt,
            what: why.what,
        })?;
        Ok(())
    }
}
