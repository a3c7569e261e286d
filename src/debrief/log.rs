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

/// What the watch wrote down, and what somebody did or wrote.
#[derive(Clone, Debug, PartialEq)]
pub enum Logged {
    /// This beacon was heard, and was active or may have been.
    Heard(Mmsi),
    /// An alarm about this station was raised, or raised again.
    Raised(Mmsi),
    /// An alert about this station was acknowledged.
    Acknowledged(Mmsi),
    /// An alert about this station was declared over by the operator.
    DeclaredOver(Mmsi),
    /// The same, and a remark corrects that entry.
    Withdrawn(Mmsi),
    /// A remark.
    Remark {
        /// Who wrote it.
        by: Option<String>,
        /// What it says. As it was typed: whoever shows it escapes it.
        text: String,
    },
    /// A remark that corrects another entry, or was corrected: nobody is out of the water by it.
    Correction {
        /// Who wrote it.
        by: Option<String>,
        /// What it says. As it was typed: whoever shows it escapes it.
        text: String,
    },
}

/// Words of a remark that say that somebody is out of the water.
const RECOVERED: [&str; 3] = ["recovered", "back on board", "out of the water"];

/// Words of one that say that somebody is not, whatever was said before.
const DENIED: [&str; 8] = [
    "by mistake",
    "mistaken",
    "in error",
    "still in the water",
    "not recovered",
    "not on board",
    "not aboard",
    "not out of the water",
];

/// Whom a remark may be about.
#[derive(Clone, Copy, Debug)]
pub(super) struct Subject<'a> {
    pub mmsi: Option<Mmsi>,
    pub person: Option<&'a str>,
    /// A remark that names nobody is about them: there is nobody else.
    pub is_only: bool,
}

impl Subject<'_> {
    fn is_named(self, text: &str) -> bool {
        let names = |name: &str| text.contains(&name.to_lowercase());
        self.is_only
            || self.person.is_some_and(names)
            || self.mmsi.is_some_and(|mmsi| names(&mmsi.to_string()))
    }
}

impl Logged {
    /// Whether it says that this casualty is out of the water.
    pub(super) fn is_recovery(&self, of: Subject<'_>) -> bool {
        match self {
            Self::DeclaredOver(about) | Self::Withdrawn(about) => Some(*about) == of.mmsi,
            Self::Remark { text, .. } => {
                let text = text.to_lowercase();
                let says = RECOVERED.iter().any(|word| text.contains(word));
                says && !text.contains("not ") && !is_denied(&text) && of.is_named(&text)
            }
            Self::Heard(_) | Self::Raised(_) | Self::Acknowledged(_) | Self::Correction { .. } => {
                false
            }
        }
    }

    /// Whether it says that this casualty is not, whatever was said before.
    pub(super) fn is_denial(&self, of: Subject<'_>) -> bool {
        match self {
            Self::Remark { text, .. } | Self::Correction { text, .. } => {
                let text = text.to_lowercase();
                is_denied(&text) && of.is_named(&text)
            }
            _ => false,
        }
    }
}

fn is_denied(text: &str) -> bool {
    DENIED.iter().any(|word| text.contains(word))
}
