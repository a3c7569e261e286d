//! Inputs that were found, written into the configuration file: looked at, shown, written.

use std::fs;
use std::path::{Path, PathBuf};

use super::Surveyed;
use crate::config::{Input, NotEntered, with_inputs};
use crate::edge::{InputUri, create, rewrite};
use crate::survey::Access;

/// What to do about a file that cannot be read or written.
const WHO_MAY: &str = "check who may read and write the file and its folder, then try again";

/// The inputs that were found and are not in the configuration as they were found: at another rate,
/// or not at all.
pub fn proposed<'a>(
    found: impl IntoIterator<Item = &'a Surveyed>,
    configured: &[Input],
) -> Vec<Input> {
    let mut inputs: Vec<Input> = Vec::new();
    for it in found.into_iter().filter(|it| it.access.word().is_none() && it.traffic.is_useful()) {
        let uri = it.uri().to_string();
        let Some(name) = &it.candidate.name else {
            let taken =
                |name: &str| configured.iter().chain(&inputs).any(|input| input.name == name);
            let role = role(it);
            let numbered = (2..).map(|n| format!("{role} {n}"));
            let mut names = std::iter::once(role.to_owned()).chain(numbered);
            if let Some(name) = names.find(|name| !taken(name)) {
                inputs.push(Input::new(name, uri));
            }
            continue;
        };
        // Heard through a watch it tells no rate.
        if it.access == Access::Open && it.uri() != it.candidate.uri {
            inputs.push(Input::new(name.clone(), uri));
        }
    }
    inputs
}

/// What an input is called after what it gives.
fn role(it: &Surveyed) -> &'static str {
    let traffic = &it.traffic;
    match () {
        () if traffic.hears_ais() || traffic.has_transponder => "ais",
        () if traffic.fix.is_some() => "gnss",
        () if traffic.calls > 0 => "radio",
        () if traffic.heading => "compass",
        () => "wind",
    }
}

impl Surveyed {
    /// The path that stays the same, of a serial port that is written by another.
    pub fn better_path(&self) -> Option<String> {
        let InputUri::Serial { path, .. } = &self.candidate.uri else { return None };
        let port = self.candidate.port.as_ref()?;
        let is_better = port.path != port.device && Path::new(path) == port.device;
        is_better.then(|| port.path.display().to_string())
    }
}

/// A configuration file with inputs, beside the file as it was when that was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputChange {
    /// The file.
    pub path: PathBuf,
    /// Its text; `None` if it is not there yet.
    before: Option<String>,
    after: String,
}

impl InputChange {
    /// Looks at the file now; at `new` if there is none.
    ///
    /// # Errors
    /// A file that cannot be read, or that cannot take the inputs.
    pub fn look(path: Option<&Path>, new: &Path, inputs: &[Input]) -> Result<Self, NotEntered> {
        let read = |path: &Path| {
            fs::read_to_string(path).map_err(|why| {
                NotEntered::new(format!("{} cannot be read: {why}", path.display()), WHO_MAY)
            })
        };
        let before = path.map(read).transpose()?;
        let path = path.unwrap_or(new);
        let after = with_inputs(before.as_deref().unwrap_or_default(), path, inputs)?;
        let after = if before.is_none() { after.trim_start().to_owned() } else { after };
        Ok(Self { path: path.to_owned(), before, after })
    }

    /// The text of the file as it was looked at; empty if it is not there.
    pub(super) fn before(&self) -> &str {
        self.before.as_deref().unwrap_or_default()
    }

    /// The lines that change: those that go with a minus, those that come with a plus.
    pub fn difference(&self) -> Vec<String> {
        let before: Vec<_> = self.before.iter().flat_map(|text| text.lines()).collect();
        let mut lines = Vec::new();
        for (place, line) in self.after.lines().enumerate() {
            match before.get(place) {
                Some(same) if *same == line => {}
                Some(other) => lines.extend([format!("- {other}"), format!("+ {line}")]),
                None => lines.push(format!("+ {line}")),
            }
        }
        lines
    }

    /// Writes it, if the file is still as it was.
    ///
    /// # Errors
    /// A file that has changed or come meanwhile, or that cannot be written: it is as it was.
    pub fn write(&self) -> Result<(), NotEntered> {
        let Self { path, before, after } = self;
        let written = match before {
            Some(before) => rewrite(path, before, after),
            None => create(path, after),
        };
        written.map_err(|why| {
            NotEntered::new(format!("{} was not written: {why}", path.display()), WHO_MAY)
        })
    }
}
