//! What a logbook adds to a recording: what people did and wrote.

use crate::mmsi::Mmsi;
use crate::time::Utc;

/// An entry of the logbook that belongs into a debrief, with its time in the recording's labels.
#[derive(Clone, Debug, PartialEq)]
pub struct LogEntry {
    /// When.
    pub at: Utc,
    /// What.
    pub what: Logged,
}

/// What somebody did or wrote.
#[derive(Clone, Debug, PartialEq)]
pub enum Logged {
    /// An alert about this station was acknowledged.
    Acknowledged(Mmsi),
    /// An alert about this station was declared over by the operator.
    DeclaredOver(Mmsi),
    /// A remark.
    Remark {
        /// Who wrote it.
        by: Option<String>,
        /// What it says. As it was typed: whoever shows it escapes it.
        text: String,
    },
}

/// Words of a remark that say that somebody is out of the water.
const RECOVERED: [&str; 3] = ["recovered", "back on board", "out of the water"];

impl Logged {
    /// Whether it says that this casualty is out of the water. A remark that names nobody counts
    /// when there is nobody else.
    pub(super) fn is_recovery(&self, mmsi: Mmsi, person: Option<&str>, is_only: bool) -> bool {
        match self {
            Self::DeclaredOver(about) => *about == mmsi,
            Self::Acknowledged(_) => false,
            Self::Remark { text, .. } => {
                let text = text.to_lowercase();
                let names = |name: &str| text.contains(&name.to_lowercase());
                RECOVERED.iter().any(|word| text.contains(word))
                    && !text.contains("not ")
                    && (is_only || person.is_some_and(names) || names(&mmsi.to_string()))
            }
        }
    }
}
