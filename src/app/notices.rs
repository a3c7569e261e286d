//! What the parts around a watch have to say: how each is doing, and what is to be told of it.

use std::io;

use super::enrol::Answer;
use super::entries::damaged;
use super::keeping::Kept;
use super::reread::Reread;
use super::resume::Found;
use super::self_tests;
use crate::capture;
use crate::edge::output::OutputReport;
use crate::edge::{Claims, HookReport, InUse, Instance, Port, SounderReport, Taken};
use crate::frontend::{NewBeacon, Parts};
use crate::logbook;
use crate::watch::{EventBody, Part};

/// A part that works again, or does not.
pub(super) type Fault = (Part, Option<String>);

/// What a part has to say.
#[derive(Debug)]
pub(super) enum Notice {
    Sounder(SounderReport),
    /// No thread could be had for the sounder.
    NoSounder(io::Error),
    Hook(HookReport),
    Output(OutputReport),
    Logbook(logbook::WriterReport),
    Recorder(capture::RecorderReport),
    /// The recorder has begun, or not, later than anybody waited for.
    Recording(io::Result<capture::Recorder>),
    /// Which recordings the logbook refers to cannot be read: why; `None` if it can.
    Unreferred(Option<String>),
    /// The logbook's folder is this watch's own, or not; `None` if the disk does not answer yet.
    Folder(Option<Result<Instance, Taken>>),
    /// What the folder of the locks of inputs says, later than anybody waited for: whether another
    /// reads one.
    Locks(Box<(Claims, Result<(), InUse>)>),
    /// What became of a request to read the plan again.
    Reread(Box<Reread>),
    /// What is found of the watch before.
    Before(Found),
    /// What became of the route of a search.
    Route(String),
    /// What the configuration file said to a beacon that was to be entered.
    Enrolled(NewBeacon, Answer),
    /// The serial ports that are there, and whether another program has each.
    Ports(Vec<(Port, bool)>),
    /// What the configuration file said to inputs that were found.
    Kept(Kept),
    /// The terminal's bell is to be rung.
    Ring,
}

impl Notice {
    /// What is to be told of an entry that was committed: of an alert's alone.
    pub(super) fn committed(&self) -> Option<EventBody> {
        let Self::Logbook(logbook::WriterReport::Committed { entry, draft }) = self else {
            return None;
        };
        let change = draft.alert()?;
        let (cause, state) = (change.cause, change.state);
        Some(EventBody::Logged { entry: *entry, cause, mmsi: draft.mmsi, state })
    }

    /// Whether it is of an entry about what was only rehearsed.
    pub(super) fn is_rehearsed(&self) -> bool {
        match self {
            Self::Logbook(logbook::WriterReport::Committed { draft, .. }) => draft.is_rehearsed(),
            _ => false,
        }
    }

    /// Shows how the part is doing: which parts fail or work, and what is to be told.
    pub(super) fn show(self, parts: &mut Parts) -> (Vec<Fault>, Option<EventBody>) {
        let logged = self.committed();
        match self {
            // Those who can do more with these have them.
            Self::Ring
            | Self::Enrolled(..)
            | Self::Ports(_)
            | Self::Kept(_)
            | Self::Recording(_)
            | Self::Folder(_)
            | Self::Locks(..)
            | Self::Reread(_)
            | Self::Output(OutputReport::Asked { .. })
            | Self::Before(Found::LeftOpen(_) | Found::Hours(_) | Found::NotYet) => {
                (Vec::new(), None)
            }
            Self::Before(Found::Failed(why)) => {
                let why = format!("what was open before cannot be read: {why}");
                (vec![(Part::OldEntries, Some(why))], None)
            }
            Self::Before(Found::Damaged(entries)) => {
                (vec![(Part::OldEntries, Some(damaged(&entries)))], None)
            }
            Self::Before(Found::Unchecked(entries, why)) => {
                let rest = format!("its entries cannot be checked: {why}");
                let known = Some(entries).filter(|it| !it.is_empty()).map(|it| damaged(&it));
                let why = known.map_or(rest.clone(), |known| format!("{known}; {rest}"));
                (vec![(Part::OldEntries, Some(why))], None)
            }
            Self::Unreferred(why) => (vec![(Part::OldRecordings, why)], None),
            Self::Route(text) => {
                parts.route = text;
                (Vec::new(), None)
            }
            Self::Sounder(report) => (on_sounder(report, parts), None),
            Self::NoSounder(why) => {
                "NONE".clone_into(&mut parts.sound);
                (vec![(Part::EverySounder, Some(format!("no thread for it: {why}")))], None)
            }
            Self::Hook(HookReport::Failed { command, why }) => {
                (vec![(Part::Hook, Some(format!("{command}: {why}")))], None)
            }
            Self::Output(OutputReport::Does { number, fault }) => {
                (vec![(Part::Output(number), fault)], None)
            }
            Self::Hook(HookReport::Works) => (vec![(Part::Hook, None)], None),
            Self::Recorder(capture::RecorderReport::Failed(why)) => {
                "FAILED".clone_into(&mut parts.recording);
                (vec![(Part::Recorder, Some(why))], None)
            }
            Self::Recorder(capture::RecorderReport::Works) => {
                "on".clone_into(&mut parts.recording);
                (vec![(Part::Recorder, None)], None)
            }
            Self::Logbook(report) => (on_logbook(report, parts), logged),
        }
    }
}

/// Shows how the logbook is doing.
fn on_logbook(report: logbook::WriterReport, parts: &mut Parts) -> Vec<Fault> {
    match report {
        logbook::WriterReport::Committed { entry, draft } => {
            parts.logbook = format!("entry {entry} at {}", draft.at().clock());
            if matches!(draft.details, logbook::Details::Test(_)) {
                self_tests::committed(&mut parts.verdicts, draft.mmsi, entry);
            }
            Vec::new()
        }
        logbook::WriterReport::Failed(why) => {
            "NOT WRITTEN".clone_into(&mut parts.logbook);
            vec![(Part::Logbook, Some(why))]
        }
        logbook::WriterReport::Works => vec![(Part::Logbook, None)],
        logbook::WriterReport::SetAside(path) => {
            let why = format!("the old one was damaged and is kept as {}", path.display());
            vec![(Part::SetAside, Some(why))]
        }
    }
}

/// Shows how the sounder is doing.
fn on_sounder(report: SounderReport, parts: &mut Parts) -> Vec<Fault> {
    match report {
        SounderReport::Ring | SounderReport::CheckEnded => Vec::new(),
        SounderReport::Uses(way) => {
            parts.sound = way.to_string();
            vec![(Part::EverySounder, None)]
        }
        SounderReport::Failed { way, why } => {
            vec![(Part::Sounder, Some(format!("{way} fails: {why}; the next way is used")))]
        }
        SounderReport::Recovered => vec![(Part::Sounder, None)],
        SounderReport::Off => {
            "off by configuration".clone_into(&mut parts.sound);
            vec![(Part::Sounder, None), (Part::EverySounder, None)]
        }
        SounderReport::Checked { way, heard } => {
            let word = if heard.is_ok() { "works" } else { "FAILS" };
            parts.sound = format!("{way} {word}");
            Vec::new()
        }
        SounderReport::Mute => {
            "NONE".clone_into(&mut parts.sound);
            let why = "no command, player or bell works; see overside watch --sound-check";
            vec![(Part::EverySounder, Some(why.to_owned()))]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_that_cannot_be_checked_are_told() {
        let told = |entries: Vec<i64>| {
            let found = Notice::Before(Found::Unchecked(entries, "disk I/O error".to_owned()));
            let (faults, _) = found.show(&mut Parts::default());
            let [(Part::OldEntries, Some(why))] = faults.as_slice() else { panic!("{faults:?}") };
            why.clone()
        };
        assert_eq!(told(vec![]), "its entries cannot be checked: disk I/O error");
        assert!(told(vec![7]).contains('7'));
    }
}
