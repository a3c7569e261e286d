//! The parts around the watch.

use serde::{Deserialize, Serialize};

/// The parts around the watch whose failure is an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// The watch itself, or what shows and tells of it.
    Watch,
    /// The logbook.
    Logbook,
    /// A damaged logbook was set aside.
    SetAside,
    /// The logbook's folder, which one watch alone keeps.
    Folder,
    /// Entries of the logbook that cannot be read.
    OldEntries,
    /// The recorder.
    Recorder,
    /// Deleting recordings that are too old to keep.
    OldRecordings,
    /// One way of sounding an alarm; another is left.
    Sounder,
    /// Every way of sounding an alarm.
    EverySounder,
    /// A command that is told of alerts.
    Hook,
    /// The page at the helm.
    Helm,
    /// An output, by its number.
    Output(u16),
}
