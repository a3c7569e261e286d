//! What was heard of survivor beacons, bounded: at the limit those of the muster and those in
//! distress survive.

use std::time::Duration;

use super::labels::{moved, ms_of};
use crate::beacon;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Priority, Statement};
use crate::wire::ais::BeaconWord;

/// Beacons followed at a time.
const BEACONS: usize = 32;

/// Messages kept of one beacon: more than a day of eight a minute.
const MESSAGES: usize = 12_288;

/// Messages kept of one that was not in distress so far.
const IDLE_MESSAGES: usize = 256;

/// What was heard within this time before a beacon was known to be active is of the same burst.
const SAME_BURST: Duration = beacon::ANOTHER_BURST;

/// A message of a beacon.
#[derive(Clone, Copy, Debug)]
pub(super) struct Message {
    pub at: Utc,
    pub channel: Option<char>,
    pub word: Option<BeaconWord>,
    /// Where it said it was, if it knew that afresh.
    pub fix: Option<Position>,
    /// Whether it said that it has not found its place yet, and knows none from before.
    pub is_searching: bool,
}

/// One beacon, from its activation until it said OFF.
#[derive(Clone, Debug)]
pub(super) struct Beacon {
    pub mmsi: Mmsi,
    pub kind: BeaconKind,
    pub person: Option<String>,
    /// Whether somebody was or may have been in the water.
    pub is_casualty: bool,
    pub messages: Vec<Message>,
    /// Messages heard that were not kept.
    pub beyond: u32,
    /// The last message, kept or not.
    pub last: Option<Utc>,
    /// DSC calls in its name.
    pub calls: Vec<Utc>,
    /// The first alert about it, and how urgent.
    pub alarm: Option<(Utc, Priority)>,
    pub off: Option<Utc>,
}

/// All of them.
#[derive(Debug, Default)]
pub(super) struct Beacons {
    table: Vec<Beacon>,
    /// Whether there were more than are followed.
    pub overflown: bool,
}

impl Message {
    /// A message of a beacon, from what was received of it.
    pub(super) fn of(at: Utc, channel: Option<char>, statement: &Statement) -> Self {
        let (word, fix) = match statement {
            Statement::Text { word, .. } => (*word, None),
            // 60 to 63: not determined now (M.1371-5 table 48).
            Statement::Report { position, utc_second: 0..=59, .. } => (None, *position),
            Statement::Report { .. } | Statement::Other(_) => (None, None),
        };
        let is_searching = matches!(statement, Statement::Report { position: None, .. });
        Self { at, channel, word, fix, is_searching }
    }
}

impl Beacons {
    /// The entry of a beacon, a new one if need be; `None` if there is no room.
    pub(super) fn enter(&mut self, mmsi: Mmsi, kind: BeaconKind) -> Option<&mut Beacon> {
        if let Some(place) = self.table.iter().rposition(|it| it.mmsi == mmsi) {
            return self.table.get_mut(place);
        }
        if self.table.len() >= BEACONS {
            self.overflown = true;
            let idle = self.table.iter().position(|it| !it.is_casualty)?;
            self.table.remove(idle);
        }
        self.table.push(Beacon::new(mmsi, kind));
        self.table.last_mut()
    }

    /// A beacon is active, or may be: its incident begins. After it said OFF, it is another one.
    pub(super) fn distress(&mut self, mmsi: Mmsi, kind: BeaconKind, person: Option<&str>) {
        if self.enter(mmsi, kind).is_none() && person.is_some() {
            // Somebody of the crew is followed before any stranger.
            let stranger = self.table.iter().rposition(|it| it.person.is_none());
            let Some(stranger) = stranger else { return };
            self.table.remove(stranger);
        }
        let Some(beacon) = self.enter(mmsi, kind) else { return };
        beacon.person = beacon.person.take().or_else(|| person.map(str::to_owned));
        if beacon.is_casualty && beacon.off.is_none() {
            return;
        }
        let Some(last) = beacon.messages.last().copied() else {
            beacon.is_casualty = true;
            return;
        };
        let first = beacon
            .messages
            .iter()
            .position(|it| last.at.ms_since(it.at) <= ms_of(SAME_BURST))
            .unwrap_or_default();
        let begun = beacon.messages.split_off(first);
        if beacon.is_casualty {
            let mut next = Beacon::new(mmsi, kind);
            next.person.clone_from(&beacon.person);
            next.last = Some(last.at);
            (next.messages, next.is_casualty) = (begun, true);
            if self.table.len() < BEACONS {
                self.table.push(next);
            } else {
                self.overflown = true;
            }
        } else {
            (beacon.messages, beacon.is_casualty) = (begun, true);
            beacon.off = None;
        }
    }

    /// The last message of anybody in the water, or who was.
    pub(super) fn last_of_casualties(&self) -> Option<Utc> {
        let casualties = self.table.iter().filter(|it| it.is_casualty);
        casualties.filter_map(|it| it.last).max()
    }

    /// Moves all that was kept so far in time.
    pub(super) fn shift(&mut self, ms: i64) {
        for beacon in &mut self.table {
            beacon.messages.iter_mut().for_each(|it| it.at = moved(it.at, ms));
            beacon.calls.iter_mut().for_each(|at| *at = moved(*at, ms));
            beacon.alarm = beacon.alarm.map(|(at, priority)| (moved(at, ms), priority));
            beacon.off = beacon.off.map(|at| moved(at, ms));
            beacon.last = beacon.last.map(|at| moved(at, ms));
        }
    }

    /// Those that were or may have been in distress, in the order they were heard, and the others.
    pub(super) fn finish(self) -> (Vec<Beacon>, Vec<Beacon>) {
        self.table.into_iter().partition(|it| it.is_casualty)
    }
}

impl Beacon {
    fn new(mmsi: Mmsi, kind: BeaconKind) -> Self {
        Self {
            mmsi,
            kind,
            person: None,
            is_casualty: false,
            messages: Vec::new(),
            beyond: 0,
            last: None,
            calls: Vec::new(),
            alarm: None,
            off: None,
        }
    }

    /// Takes a message.
    pub(super) fn hear(&mut self, message: Message) {
        self.last = Some(message.at);
        if matches!(message.word, Some(BeaconWord::Off | BeaconWord::Cancel)) {
            self.off = self.off.or(Some(message.at));
        }
        if !self.is_casualty && self.messages.len() >= IDLE_MESSAGES {
            self.messages.drain(..IDLE_MESSAGES / 2);
        }
        if self.messages.len() < MESSAGES {
            self.messages.push(message);
        } else {
            self.beyond += 1;
        }
    }

    /// Takes a DSC call in its name.
    pub(super) fn call(&mut self, at: Utc) {
        if self.calls.len() < IDLE_MESSAGES {
            self.calls.push(at);
        }
    }

    /// Whether anything was heard of it, or raised, within a time and a span to either side.
    pub(super) fn is_heard_within(&self, from: Utc, until: Utc, span: Duration) -> bool {
        let times = self.messages.iter().map(|it| it.at).chain(self.calls.iter().copied());
        let mut times = times.chain(self.alarm.map(|(at, _)| at));
        times.any(|at| from.ms_since(at) <= ms_of(span) && at.ms_since(until) <= ms_of(span))
    }

    /// When it was heard first, on AIS or by DSC.
    pub(super) fn first(&self) -> Option<Utc> {
        self.messages.first().map(|it| it.at).into_iter().chain(self.calls.first().copied()).min()
    }
}
