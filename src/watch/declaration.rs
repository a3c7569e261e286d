//! The operator's word that an incident is over, and how it is seen while the beacon goes on.

use std::time::Duration;

use serde::Serialize;

use crate::time::{Mono, rounded_up, seconds};
use crate::units::NauticalMiles;

/// How long it holds while the beacon goes on. Our own.
pub const DECLARED_HOLDS: Duration = Duration::from_secs(10 * 60);

/// The operator's word that the incident of a beacon is over.
#[derive(Clone, Copy, Debug)]
pub struct Declaration {
    /// When it was given.
    pub at: Mono,
    /// How far off the beacon was then, or when that was first known; `None` if it never was.
    pub range: Option<NauticalMiles>,
    /// Whether it still holds: if not, the emergency has come again since.
    pub(super) holds: bool,
}

impl Declaration {
    /// One that holds.
    pub const fn new(at: Mono, range: Option<NauticalMiles>) -> Self {
        Self { at, range, holds: true }
    }

    /// `declared safe 10 min ago`, the minutes rounded up.
    pub(super) fn words(&self, now: Mono) -> String {
        let minutes = rounded_up(now.since(self.at), 60);
        format!("declared safe {minutes} min ago")
    }
}

/// A casualty that is declared safe and whose beacon goes on, as it is seen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DeclaredSafe {
    /// How long ago it was declared.
    #[serde(rename = "ago_s", serialize_with = "seconds")]
    pub ago: Duration,
    /// When it is an emergency again, if the beacon goes on.
    #[serde(rename = "again_in_s", serialize_with = "seconds")]
    pub again_in: Duration,
}
