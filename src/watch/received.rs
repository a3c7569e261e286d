//! What was received of survivor beacons and of DSC calls, message by message: what a self-test is
//! judged by and a drill measured from. Kept only where somebody asks for it, all of it or that of the
//! last minutes.

use std::time::Duration;

use super::Watch;
use super::rehearsed::Rehearsed;
use crate::mmsi::Mmsi;
use crate::navigation::{OwnShip, Position};
use crate::time::Stamp;
use crate::wire::ais::{BeaconWord, Body};
use crate::wire::nmea::Dsc;

/// How many are kept: a round of tests has some hundred. Our own.
const LIMIT: usize = 4_096;

/// How long that is kept which is kept for a while, and how much of it: a self-test is on the screen
/// for two minutes, and as long before it counts. The muster's stays longest. Our own.
const LATELY: Duration = Duration::from_secs(15 * 60);
const LATELY_LIMIT: usize = 512;

/// The longest line that is kept, in bytes. Our own.
const LINE: usize = 1_024;

/// What is kept.
#[derive(Debug, Default)]
pub(super) struct Received {
    all: Vec<Transmission>,
    /// That of the last minutes alone.
    lately: bool,
}

/// One transmission, each once however many receivers heard it.
#[derive(Clone, Debug, PartialEq)]
pub struct Transmission {
    /// When it came in.
    pub at: Stamp,
    /// Where the ship was then, if known within ten minutes.
    pub own: Option<Position>,
    /// The line it came in; what is no text in it is replaced.
    pub line: String,
    /// How it was rehearsed; `None` if it was heard really.
    pub rehearsed: Option<Rehearsed>,
    /// What it was.
    pub signal: Signal,
}

/// What was transmitted.
#[derive(Clone, Debug, PartialEq)]
pub enum Signal {
    /// A message of a survivor beacon.
    Beacon {
        /// Its identity.
        mmsi: Mmsi,
        /// `A` or `B`, as far as the receiver tells.
        channel: Option<char>,
        /// What it said.
        statement: Statement,
    },
    /// A DSC call.
    Call(Dsc),
}

/// What a beacon's message said.
#[derive(Clone, Debug, PartialEq)]
pub enum Statement {
    /// A position report.
    Report {
        /// Navigational status: 14 active, 15 undefined or under test (M.1371-5 table 48).
        nav_status: u8,
        /// Where; `None` for 91/181, "not available".
        position: Option<Position>,
        /// UTC second, 0 to 59; 60 not available, 61 manual, 62 estimated, 63 inoperative.
        utc_second: u8,
    },
    /// A text.
    Text {
        /// As it was sent.
        text: String,
        /// Its second word, if that is a known one.
        word: Option<BeaconWord>,
    },
    /// Another type of message, which no survivor beacon sends.
    Other(u8),
}

impl Statement {
    /// Whether it says, for itself alone, that somebody is in distress.
    pub fn is_active(&self) -> bool {
        match self {
            Self::Report { nav_status, .. } => *nav_status == 14,
            Self::Text { word, .. } => *word == Some(BeaconWord::Active),
            Self::Other(_) => false,
        }
    }
}

impl Watch {
    /// Keeps from now on what is received of survivor beacons, and DSC calls.
    pub fn record_reception(&mut self) {
        self.received.get_or_insert_default();
    }

    /// Goes on with what another has received.
    pub fn take_reception_of(&mut self, before: &mut Self) {
        self.received = before.received.take();
    }

    /// Keeps from now on what was received in the last quarter of an hour.
    pub fn record_lately(&mut self) {
        self.received.get_or_insert(Received { lately: true, ..Received::default() });
    }

    /// What was received since, oldest first; nothing if nobody asked for it.
    pub fn received(&self) -> &[Transmission] {
        self.received.as_ref().map(|it| it.all.as_slice()).unwrap_or_default()
    }

    /// What was received since it was asked for last, which is forgotten here: for whoever follows a
    /// watch that may hear more than is kept.
    pub fn take_received(&mut self) -> Vec<Transmission> {
        self.received.as_mut().map(|it| std::mem::take(&mut it.all)).unwrap_or_default()
    }

    /// Own ship as her instruments tell of her.
    pub const fn own_ship(&self) -> &OwnShip {
        &self.own
    }

    pub(super) fn receive(&mut self, signal: impl FnOnce() -> Signal) {
        let own = self.own_position().0;
        let (at, line, rehearsed) = (self.now, self.alerts.line(), self.alerts.rehearsed);
        let Some(Received { all: received, lately }) = &mut self.received else { return };
        if *lately {
            let old = received.iter().take_while(|it| at.at.since(it.at.at) > LATELY).count();
            received.drain(..old);
            if received.len() >= LATELY_LIMIT {
                let is_ours = |it: &Transmission| match it.signal {
                    Signal::Beacon { mmsi, .. } => self.settings.is_ours(mmsi),
                    Signal::Call(_) => false,
                };
                let first = received.iter().position(|it| !is_ours(it)).unwrap_or(0);
                received.remove(first);
            }
        }
        if received.len() >= LIMIT {
            return;
        }
        let line = String::from_utf8_lossy(&line[..line.len().min(LINE)]).into_owned();
        received.push(Transmission { at, own, line, rehearsed, signal: signal() });
    }
}

impl Statement {
    pub(super) fn of(body: &Body, kind: u8) -> Self {
        match body {
            Body::Position(report) => Self::Report {
                nav_status: report.nav_status,
                position: report.position(),
                utc_second: report.utc_second,
            },
            Body::SafetyText(text) => Self::Text { text: text.text.to_string(), word: text.word() },
            _ => Self::Other(kind),
        }
    }
}
