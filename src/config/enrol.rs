//! Entering a beacon in the configuration: its lines are added at the end, and no byte that is there
//! is changed.

use std::path::Path;

use super::{Config, DueDate};
use crate::mmsi::Mmsi;
use crate::text::is_hostile;

/// Letters of a name, at most. Our own.
const LETTERS: usize = 60;

/// What to do about what is there already.
const BY_EDITOR: &str = "nothing is overwritten; if it has changed, correct it with an editor";

/// A beacon that is to be in the muster.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Enrolment {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Who carries it, added as a `[[person]]` if there is none of that name. `None` for a spare.
    pub holder: Option<String>,
    /// What it is fitted to, added as a `[[lifejacket]]` if there is none of that name.
    pub jacket: Option<String>,
    /// The battery's date on the label, if known.
    pub battery: Option<DueDate>,
    /// How long a proven self-test holds, in months, 1 or more; as without the key if `None`.
    pub test_every_months: Option<u32>,
    /// The ship identity programmed into it, if it has DSC.
    pub dsc_mmsi: Option<Mmsi>,
}

/// Why a beacon is not entered, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}: {hint}")]
pub struct NotEntered {
    /// What is in the way.
    pub what: String,
    /// What to do.
    pub hint: String,
}

impl NotEntered {
    /// What is in the way, and what to do.
    pub fn new(what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { what: what.into(), hint: hint.into() }
    }
}

impl Enrolment {
    /// The lines to be added at the end of a configuration, so that it holds the beacon and all
    /// that it held. `path` names it in errors.
    ///
    /// # Errors
    /// A configuration that cannot be read; something that is there already; one that could not be
    /// read afterwards.
    pub fn lines(&self, text: &str, path: &Path) -> Result<String, NotEntered> {
        let before = Config::parse(text, path)
            .map_err(|why| NotEntered::new(why.to_string(), "correct the file first"))?;
        for name in [&self.holder, &self.jacket].into_iter().flatten() {
            check_name(name).map_err(|what| NotEntered::new(what, "write another name"))?;
        }
        if let Some(beacon) = before.beacons.iter().find(|it| it.mmsi == self.mmsi) {
            let whose = beacon.holder.as_deref().unwrap_or("a spare");
            let what = format!("beacon {} is in the muster already: {whose}", self.mmsi);
            return Err(NotEntered::new(what, BY_EDITOR));
        }
        check_free(&before, self.holder.as_deref(), self.jacket.as_deref())?;
        let lines = fitted(&self.written(&before), text);
        let after = Config::parse(&format!("{text}{lines}"), path).map_err(|why| {
            let what = format!("with these lines the file could not be read: {why}");
            NotEntered::new(what, "correct what is named, or write the beacon with an editor")
        })?;
        match self.is_all_that_was_added(before, &after) {
            true => Ok(lines),
            false => Err(NotEntered::new(
                "these lines would change something else in the file",
                "write the beacon with an editor",
            )),
        }
    }

    /// The tables, with a blank line before each.
    fn written(&self, config: &Config) -> String {
        let is_there = |name: &String| config.persons.iter().any(|it| it.name == *name);
        let person = self.holder.as_ref().filter(|name| !is_there(name));
        let is_there = |name: &String| config.lifejackets.iter().any(|it| it.name == *name);
        let jacket = self.jacket.as_ref().filter(|name| !is_there(name));
        let mut lines = String::new();
        for (table, name) in [("person", person), ("lifejacket", jacket)] {
            if let Some(name) = name {
                lines.push_str(&format!("\n[[{table}]]\nname = {}\n", quoted(name)));
            }
        }
        lines.push_str(&format!("\n[[beacon]]\nmmsi = {}\n", self.mmsi.value()));
        let values = [
            ("holder", self.holder.as_deref().map(quoted)),
            ("fitted_to", self.jacket.as_deref().map(quoted)),
            ("battery_expires", self.battery.map(|date| quoted(&date.to_string()))),
            ("test_every_months", self.test_every_months.map(|months| months.to_string())),
            ("dsc_mmsi", self.dsc_mmsi.map(|mmsi| mmsi.value().to_string())),
        ];
        for (key, value) in values {
            if let Some(value) = value {
                lines.push_str(&format!("{key} = {value}\n"));
            }
        }
        lines
    }

    /// Whether a configuration is another one with this beacon.
    fn is_all_that_was_added(&self, mut before: Config, after: &Config) -> bool {
        let Some(beacon) = after.beacons.last() else { return false };
        before
            .persons
            .extend(after.persons.get(before.persons.len()..).unwrap_or_default().to_vec());
        let jackets = after.lifejackets.get(before.lifejackets.len()..).unwrap_or_default();
        before.lifejackets.extend(jackets.to_vec());
        before.beacons.push(beacon.clone());
        beacon.mmsi == self.mmsi
            && beacon.holder == self.holder
            && beacon.fitted_to == self.jacket
            && before == *after
    }
}

/// Whether neither a person nor a lifejacket has a beacon yet.
///
/// # Errors
/// Which of them has which beacon, and what to do.
pub fn check_free(
    config: &Config,
    holder: Option<&str>,
    jacket: Option<&str>,
) -> Result<(), NotEntered> {
    for beacon in &config.beacons {
        let theirs = [(holder, &beacon.holder), (jacket, &beacon.fitted_to)];
        for (name, taken) in theirs {
            if let Some(name) = name.filter(|_| name == taken.as_deref()) {
                let what = format!("{name} has a beacon in the muster already: {}", beacon.mmsi);
                return Err(NotEntered::new(what, BY_EDITOR));
            }
        }
    }
    Ok(())
}

/// Whether a name can be one of the muster: what is wrong with it otherwise.
///
/// # Errors
/// In a few words, what would be right.
pub fn check_name(name: &str) -> Result<(), String> {
    let length = name.chars().count();
    if name.trim() != name || !(1..=LETTERS).contains(&length) || name.chars().any(is_hostile) {
        return Err(format!("a name has 1 to {LETTERS} letters, without blanks around it"));
    }
    Ok(())
}

/// Lines as they can be added to the end of a text, whose lines end as they do there.
pub(super) fn fitted(lines: &str, text: &str) -> String {
    let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut lines = lines.replace('\n', newline);
    if !text.is_empty() && !text.ends_with('\n') {
        lines.insert_str(0, newline);
    }
    lines
}

/// A text as a TOML string.
pub fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
