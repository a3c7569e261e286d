//! What was heard of survivor beacons, bounded: at the limit those of the muster and those in
//! distress survive.

use std::cmp::Reverse;
use std::time::Duration;

use super::called::{Call, Who};
use super::labels::{moved, ms_of};
use crate::beacon;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Priority, Reach, Statement};
use crate::wire::ais::BeaconWord;

/// Beacons followed at a time. Our own.
const BEACONS: usize = 32;

/// Messages kept of one beacon: more than a day of eight a minute. Our own.
const MESSAGES: usize = 12_288;

/// Messages kept of one that was not in distress so far. Our own.
const IDLE_MESSAGES: usize = 256;

/// An incident is over when nothing was heard of any casualty for this long … Our own.
pub(super) const OVER: Duration = Duration::from_secs(30 * 60);

/// … and of one that is known by DSC alone for this long: it may have called once. Our own.
const OVER_CALLED: Duration = Duration::from_secs(2 * 3600);

/// What was heard within this time before a beacon was known to be active is of the same burst.
const SAME_BURST: Duration = beacon::ANOTHER_BURST;

/// A position this much older than its message is taken for one of the clocks being wrong: a burst of
/// one position takes 14 s, and receivers determine one every few seconds. Our own.
const OLDEST: Duration = Duration::from_secs(30);

/// A message of a beacon.
#[derive(Clone, Copy, Debug)]
pub(super) struct Message {
    pub at: Utc,
    pub channel: Option<char>,
    pub word: Option<BeaconWord>,
    /// Where it said it was, if it knew that afresh, and when it was there.
    pub fix: Option<(Utc, Position)>,
    /// Whether it said that it has not found its place yet, and knows none from before.
    pub is_searching: bool,
}

/// One beacon, from its activation until it said OFF.
#[derive(Clone, Debug)]
pub(super) struct Beacon {
    pub mmsi: Option<Mmsi>,
    /// The emitter of the crew alarm that alone tells of it.
    pub emitter: Option<String>,
    pub kind: BeaconKind,
    pub person: Option<String>,
    /// Whether somebody was or may have been in the water.
    pub is_casualty: bool,
    pub messages: Vec<Message>,
    /// Messages heard that were not kept.
    pub beyond: u32,
    /// The last message, kept or not.
    pub last: Option<Utc>,
    /// DSC calls about it.
    pub calls: Vec<Call>,
    /// The first alert about it, and how urgent.
    pub alarm: Option<(Utc, Priority)>,
    pub off: Option<Utc>,
    /// How far a beacon was reckoned to be heard when this one was heard first.
    pub reach: Option<Reach>,
}

/// All of them.
#[derive(Debug, Default)]
pub(super) struct Beacons {
    table: Vec<Beacon>,
    /// Whether there were more than are followed.
    pub overflown: bool,
}

impl Message {
    /// A message of a beacon, from what was received of it at `at`, when it was `clock` by the clock
    /// that the beacon goes by.
    pub(super) fn of(at: Utc, clock: Utc, channel: Option<char>, statement: &Statement) -> Self {
        let (word, fix) = match statement {
            Statement::Text { word, .. } => (*word, None),
            // 60 to 63: not determined now (M.1371-5 table 48).
            Statement::Report { position, utc_second: second @ 0..=59, .. } => {
                let then = determined(at, clock, *second);
                (None, position.map(|position| (then, position)))
            }
            Statement::Report { .. } | Statement::Other(_) => (None, None),
        };
        let is_searching = matches!(statement, Statement::Report { position: None, .. });
        Self { at, channel, word, fix, is_searching }
    }
}

/// When a position was determined: in the middle of its UTC second, as far as that agrees with its
/// arrival.
fn determined(at: Utc, clock: Utc, second: u8) -> Utc {
    let age = (clock.unix_ms() - i64::from(second) * 1000).rem_euclid(60_000);
    if age <= ms_of(OLDEST) { moved(at, -(age - 500).max(0)) } else { at }
}

impl Beacons {
    /// The entry of a beacon, a new one if need be; `None` if there is no room.
    pub(super) fn enter(&mut self, who: &Who) -> Option<&mut Beacon> {
        if let Some(place) = self.table.iter().rposition(|it| it.is(who)) {
            return self.table.get_mut(place);
        }
        if self.table.len() >= BEACONS {
            self.overflown = true;
            let idle = self.table.iter().position(|it| !it.is_casualty)?;
            self.table.remove(idle);
        }
        self.table.push(Beacon::new(who));
        self.table.last_mut()
    }

    /// Takes a DSC call about somebody. One that comes after the end of an incident begins another; a
    /// cancel of what is not known begins nothing.
    pub(super) fn call(&mut self, who: &Who, call: Call) {
        let full = self.table.len() >= BEACONS;
        let Some(known) = self.table.iter_mut().rfind(|it| it.is(who)) else {
            if !call.is_cancel
                && let Some(beacon) = self.enter(who)
            {
                beacon.call(call);
            }
            return;
        };
        if call.is_cancel || known.off.is_none_or(|off| off >= call.at) {
            known.call(call);
            return;
        }
        let person = known.person.clone();
        let mut next = Beacon { person, is_casualty: true, ..Beacon::new(who) };
        next.call(call);
        self.overflown |= full;
        if !full {
            self.table.push(next);
        }
    }

    /// A beacon is active, or may be: its incident begins. After it said OFF, it is another one.
    pub(super) fn distress(&mut self, who: &Who, person: Option<&str>) {
        if self.enter(who).is_none() && person.is_some() {
            // Somebody of the crew is followed before any stranger.
            let stranger = self.table.iter().rposition(|it| it.person.is_none());
            let Some(stranger) = stranger else { return };
            self.table.remove(stranger);
        }
        let Some(beacon) = self.enter(who) else { return };
        beacon.person = beacon.person.take().or_else(|| person.map(str::to_owned));
        if beacon.is_casualty && beacon.off.is_none() {
            return;
        }
        let Some(last) = beacon.messages.last().copied() else {
            beacon.is_casualty = true;
            return;
        };
        // The word holds for its burst: what follows in it begins nothing.
        let off = beacon.off.filter(|_| beacon.is_casualty);
        if off.is_some_and(|off| last.at.ms_since(off) <= ms_of(SAME_BURST)) {
            return;
        }
        let first = beacon
            .messages
            .iter()
            .position(|it| last.at.ms_since(it.at) <= ms_of(SAME_BURST))
            .unwrap_or_default();
        let begun = beacon.messages.split_off(first);
        if beacon.is_casualty {
            let mut next = Beacon::new(who);
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

    /// Whether everybody who was in the water has not been heard for so long that it is over.
    pub(super) fn are_over(&self, at: Utc) -> bool {
        self.table.iter().filter(|it| it.is_casualty).all(|it| it.is_over(at))
    }

    /// Moves all that was kept so far in time.
    pub(super) fn shift(&mut self, ms: i64) {
        for beacon in &mut self.table {
            for message in &mut beacon.messages {
                message.at = moved(message.at, ms);
                message.fix = message.fix.map(|(at, place)| (moved(at, ms), place));
            }
            for call in &mut beacon.calls {
                call.at = moved(call.at, ms);
                call.place = call.place.map(|(at, place)| (moved(at, ms), place));
            }
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
    fn new(who: &Who) -> Self {
        Self {
            mmsi: who.mmsi,
            emitter: who.emitter.clone(),
            kind: who.kind(),
            person: None,
            is_casualty: false,
            messages: Vec::new(),
            beyond: 0,
            last: None,
            calls: Vec::new(),
            alarm: None,
            off: None,
            reach: None,
        }
    }

    fn is(&self, who: &Who) -> bool {
        self.mmsi == who.mmsi && self.emitter == who.emitter
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

    /// Takes a DSC call about it.
    pub(super) fn call(&mut self, call: Call) {
        if call.is_cancel {
            self.off = self.off.or(Some(call.at));
        }
        if let Some(last) = self.calls.last_mut()
            && last.is_expanded_by(&call)
        {
            *last = Call { at: last.at, ..call };
        } else if self.calls.last().is_none_or(|last| !last.is_repeated_by(&call))
            && self.calls.len() < MESSAGES
        {
            self.calls.push(call);
        }
    }

    /// Takes in what another entry knows of the same casualty.
    pub(super) fn join(&mut self, other: Self) {
        self.calls.extend(other.calls);
        self.calls.sort_by_key(|call| call.at);
        self.off = self.off.or(other.off);
        let alarms = self.alarm.into_iter().chain(other.alarm);
        self.alarm = alarms.min_by_key(|(at, priority)| (Reverse(*priority), *at));
        self.is_casualty |= other.is_casualty;
    }

    /// Every place it told afresh, by AIS and by DSC, in the order of time; of those that DSC told to
    /// whole minutes alone none: that is more than a mile.
    pub(super) fn places(&self) -> Vec<(Utc, Position)> {
        let fine = self.calls.iter().filter(|it| !it.is_rough).filter_map(|it| it.place);
        let heard = self.messages.iter().filter_map(|it| it.fix);
        let mut places: Vec<(Utc, Position)> = heard.chain(fine).collect();
        places.sort_by_key(|(at, _)| *at);
        places
    }

    /// When it was heard last, on AIS or by DSC.
    pub(super) fn last_of_all(&self) -> Option<Utc> {
        self.last.into_iter().chain(self.calls.last().map(|call| call.at)).max()
    }

    /// Whether a recording goes on so long after all that it is over. A beacon that is heard says so
    /// once a minute; who called by DSC alone need not call again.
    pub(super) fn is_over(&self, at: Utc) -> bool {
        let is_called = self.messages.is_empty() && self.off.is_none();
        let span = if is_called { OVER_CALLED } else { OVER };
        self.last_of_all().is_none_or(|last| at.ms_since(last) > ms_of(span))
    }

    /// Whether anything was heard of it, or raised, within a time and a span to either side.
    pub(super) fn is_heard_within(&self, from: Utc, until: Utc, span: Duration) -> bool {
        let times = self.messages.iter().map(|it| it.at).chain(self.calls.iter().map(|it| it.at));
        let mut times = times.chain(self.alarm.map(|(at, _)| at));
        times.any(|at| from.ms_since(at) <= ms_of(span) && at.ms_since(until) <= ms_of(span))
    }

    /// When it was heard first, on AIS or by DSC.
    pub(super) fn first(&self) -> Option<Utc> {
        let called = self.calls.first().map(|it| it.at);
        self.messages.first().map(|it| it.at).into_iter().chain(called).min()
    }
}
