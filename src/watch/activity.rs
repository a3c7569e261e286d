//! What a survivor beacon does, by its messages.
//!
//! ```text
//!                    status 15            TEST text
//!   (nothing) ──▶ test_presumed ─────────────▶ test
//!       │  │                                     │
//!       │  └─ any other status, damaged text ─▶ active_presumed
//!       └──── status 14, ACTIVE text ─────────▶ active
//!   any ─── OFF or CANCEL text, DSC cancel ───▶ off
//! ```
//! Doubt raises and never lowers: within eight minutes ACTIVE evidence beats every other, and
//! evidence of neither beats TEST. Silence changes no mode.

use super::left_open::OpenBeacon;
use super::mode::Mode;
use super::settings::{EVIDENCE_HOLDS, SELF_TEST_LONGEST};
use crate::mmsi::BeaconKind;
use crate::time::Mono;
use crate::wire::ais::BeaconWord;

/// What one message of a beacon says of its mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Evidence {
    /// The navigational status of a position report.
    Status(u8),
    /// The second word of a text.
    Word(BeaconWord),
    /// A text without a known word.
    DamagedText,
    /// The Cospas-Sarsat identity that an EPIRB-AIS sends between its texts (M.1371-6).
    HexIdentity,
    /// Another message type, which no survivor beacon sends (M.1371-5 annex 1, 2.1.6).
    OtherType,
}

impl Evidence {
    /// What a text says. From a 974 identity, 15 or 23 hexadecimal digits are the beacon's other
    /// identity.
    pub(super) fn of_text(kind: BeaconKind, text: &str, word: Option<BeaconWord>) -> Self {
        let is_hex = matches!(text.len(), 15 | 23) && text.bytes().all(|b| b.is_ascii_hexdigit());
        match word {
            Some(word) => Self::Word(word),
            None if kind == BeaconKind::Epirb && is_hex => Self::HexIdentity,
            None => Self::DamagedText,
        }
    }
}

/// What a beacon does, and what that rests on.
#[derive(Debug, Default)]
pub(super) struct Activity {
    /// `None` if it never said.
    pub mode: Option<Mode>,
    /// All that it has done.
    pub modes: Vec<Mode>,
    /// What the mode rests on, in short words.
    pub notes: Vec<String>,
    active_at: Option<Mono>,
    /// When ACTIVE was heard first since it was last over.
    pub first_active: Option<Mono>,
    /// It has taken the place of a point set by hand since then, or might have before a restart.
    pub took_point: bool,
    /// It was ACTIVE, and nobody has taken that back: whatever it says since, somebody is in danger.
    pub in_danger: bool,
    presumed_at: Option<Mono>,
    test_at: Option<Mono>,
    off_at: Option<Mono>,
    /// First and last of an unbroken series of status 15.
    undefined: Option<(Mono, Mono)>,
    /// Such a series went on for longer than a self-test.
    pub prolonged: bool,
    pub damaged_text: bool,
    /// Something came in its name that no beacon sends.
    pub misused: bool,
}

impl Activity {
    /// Takes what a message says.
    pub(super) fn judge(&mut self, evidence: Evidence, now: Mono) {
        let holds = |at: Option<Mono>| at.is_some_and(|at| now.since(at) < EVIDENCE_HOLDS);
        match evidence {
            Evidence::Status(14) | Evidence::Word(BeaconWord::Active) => {
                self.active_at = Some(now);
                self.first_active = self.first_active.or(self.active_at);
                self.in_danger = true;
            }
            Evidence::Status(15) => self.undefined_status(now),
            Evidence::Status(_) => self.presumed_at = Some(now),
            Evidence::DamagedText => {
                self.presumed_at = Some(now);
                self.damaged_text = true;
            }
            Evidence::Word(BeaconWord::Test) => self.test_at = Some(now),
            Evidence::Word(BeaconWord::Off | BeaconWord::Cancel) => {
                (self.active_at, self.presumed_at, self.test_at) = (None, None, None);
                (self.first_active, self.took_point, self.in_danger) = (None, false, false);
                (self.undefined, self.prolonged, self.damaged_text) = (None, false, false);
                self.off_at = Some(now);
            }
            Evidence::HexIdentity | Evidence::OtherType => return,
        }
        let mode = if holds(self.active_at) {
            Mode::Active
        } else if holds(self.presumed_at) {
            Mode::ActivePresumed
        } else if holds(self.test_at) {
            Mode::Test
        } else if holds(self.off_at) {
            // The rest of the burst that says OFF has status 15 like a test.
            Mode::Off
        } else {
            Mode::TestPresumed
        };
        if self.mode != Some(mode) {
            self.mode = Some(mode);
            self.misused = false;
            self.notes.clear();
            if !self.modes.contains(&mode) {
                self.modes.push(mode);
            }
        }
    }

    fn undefined_status(&mut self, now: Mono) {
        let begun = match self.undefined {
            Some((begun, last)) if now.since(last) < SELF_TEST_LONGEST => begun,
            _ => now,
        };
        self.undefined = Some((begun, now));
        if now.since(begun) > SELF_TEST_LONGEST {
            self.prolonged = true;
            self.note("status 15 for longer than a self-test".to_owned());
        }
    }

    /// Whether OFF or CANCEL was heard then or later.
    pub(super) fn is_taken_back_since(&self, moment: Mono) -> bool {
        self.off_at.is_some_and(|off| off >= moment)
    }

    /// Keeps a short word of evidence, once.
    pub(super) fn note(&mut self, evidence: String) {
        if self.notes.len() < 8 && !self.notes.contains(&evidence) {
            self.notes.push(evidence);
        }
    }

    /// The operator ended what went before: what comes now is judged for itself.
    pub(super) fn begin_afresh(&mut self) {
        (self.prolonged, self.undefined) = (false, None);
        (self.mode, self.active_at) = (None, None);
        (self.first_active, self.took_point, self.in_danger) = (None, false, false);
    }

    /// Goes on with what it did before a restart, its emergency having been `raised` if that is
    /// open. One that was ACTIVE and is `over` is judged afresh.
    pub(super) fn resume(
        &mut self,
        open: &OpenBeacon,
        over: bool,
        raised: Option<Mono>,
        prolonged: bool,
    ) {
        let at = Some(open.last.at);
        self.mode = Some(open.mode).filter(|mode| *mode != Mode::Active || !over);
        match self.mode {
            Some(Mode::Active) => self.active_at = at,
            Some(Mode::ActivePresumed) => self.presumed_at = at,
            Some(Mode::Test) => self.test_at = at,
            Some(Mode::Off) => self.off_at = at,
            Some(Mode::TestPresumed) | None => {}
        }
        self.first_active = raised.into_iter().chain(self.active_at.map(|_| open.since.at)).min();
        self.took_point = self.first_active.is_some();
        self.in_danger = raised.is_some();
        self.prolonged = prolonged;
        self.modes = vec![open.mode];
    }
}
