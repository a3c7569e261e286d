//! The watch alarm, whether the watchkeeper is awake: asked every so often, if that is wanted. Whoever presses any
//! key has answered.
//!
//! ```text
//!  answered ── every ──▶ asked ── answer within ──▶ warning ── again as long ──▶ alarm
//!     ▲                    │                           │                          │
//!     └──────── any key ───┴───────────────────────────┴──────────────────────────┘
//! ```
//! Not while an emergency is open: it is dropped then, and the time begins again after it.

use std::time::Duration;

use super::alert::Priority;
use super::settings::Asking;
use crate::time::Mono;

/// When the watchkeeper was last known to be awake, and what was asked since.
#[derive(Debug, Default)]
pub(super) struct Wakefulness {
    answered: Mono,
    /// How far it has gone: asked, warned, alarmed.
    step: u32,
}

/// What has become due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Due {
    Ask,
    Raise(Priority),
}

impl Wakefulness {
    /// Somebody is there. Whether that answers a question.
    pub(super) fn answer(&mut self, now: Mono) -> bool {
        self.answered = now;
        std::mem::take(&mut self.step) > 0
    }

    /// While somebody is in danger nobody is asked, and what was asked is dropped: there is more to
    /// do than to answer. The time begins again when that is over.
    pub(super) fn rest(&mut self, now: Mono) {
        self.answered = now;
        self.step = 0;
    }

    /// When something will be due.
    pub(super) fn next_deadline(&self, asking: Option<Asking>) -> Option<Mono> {
        let Asking { every, answer_within } = asking?;
        (self.step < 3).then(|| self.answered + every + answer_within * self.step)
    }

    /// What has become due by now, one after the other.
    pub(super) fn due(&mut self, now: Mono, asking: Option<Asking>) -> Option<Due> {
        self.next_deadline(asking).filter(|&due| due <= now)?;
        self.step += 1;
        Some(match self.step {
            1 => Due::Ask,
            2 => Due::Raise(Priority::Warning),
            _ => Due::Raise(Priority::Alarm),
        })
    }

    /// How long the question has stood, if one stands.
    pub(super) fn asked_for(&self, now: Mono, asking: Option<Asking>) -> Option<Duration> {
        let asked = self.answered + asking?.every;
        (self.step > 0).then(|| now.since(asked))
    }
}
