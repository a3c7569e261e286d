//! The watch, kept over a panic of its own.
//!
//! *Invariant:* what was told to be open is open after it, under its number; a line that it panics at
//! is not given to it again, and costs no other.

use std::collections::{BTreeMap, VecDeque};
use std::ops::Deref;
use std::time::Duration;

use crate::thread::caught;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{
    AlertId, Command, Event, EventBody, Input, LeftOpen, OpenAlert, Part, Settings, State, Watch,
};
use crate::wire::InputId;

/// One that fails again so soon, at nothing but the time, may fail at what is known of beacons. Our
/// own.
const SOON: Duration = Duration::from_secs(60);

/// What somebody has to do after it.
const AFTER: &str = "what is open is unacknowledged again";
const NOT_PLACED: &str = "; an own position set by hand is to be set again";

/// The watch, and what another needs to take its place.
pub(super) struct Kept {
    watch: Watch,
    settings: Settings,
    /// The alerts that it told to be open.
    open: BTreeMap<AlertId, OpenAlert>,
    /// The highest number from which it was told to go on.
    last_id: u32,
    /// Its inputs in the order in which they came.
    inputs: Vec<Source>,
    /// The parts that do not work, and why.
    faults: Vec<(Part, String)>,
    events: VecDeque<Event>,
    /// How often it has failed, and when it did last by the time alone.
    failures: u32,
    failed: Option<Mono>,
}

/// An input of the watch.
struct Source {
    id: InputId,
    name: String,
    /// That of a serial line.
    bit_rate: Option<u32>,
    /// The input by which a station's lines come.
    through: Option<InputId>,
    said: Said,
}

/// What was said of an input last.
#[derive(Clone, Debug)]
enum Said {
    Nothing,
    Opened,
    Lost(String),
    /// It was taken away.
    Forgotten,
}

impl Deref for Kept {
    type Target = Watch;

    fn deref(&self) -> &Watch {
        &self.watch
    }
}

impl Kept {
    /// A watch that has heard nothing; it keeps what is received of beacons, message by message, of
    /// the last minutes at least, and all if that is wanted.
    pub(super) fn new(settings: Settings, reception: bool) -> Self {
        let mut watch = Watch::new(settings.clone());
        if reception {
            watch.record_reception();
        } else {
            // For a test that somebody wants to be written down.
            watch.record_lately();
        }
        Self {
            watch,
            settings,
            open: BTreeMap::new(),
            last_id: 0,
            inputs: Vec::new(),
            faults: Vec::new(),
            events: VecDeque::new(),
            failures: 0,
            failed: None,
        }
    }

    /// The input with this name, new if need be; a serial line with its bits a second.
    pub(super) fn input(&mut self, name: &str, bit_rate: Option<u32>) -> InputId {
        let id = enter(&mut self.watch, name, bit_rate);
        match self.inputs.iter_mut().find(|it| it.name == name) {
            Some(known) => known.bit_rate = bit_rate,
            None => {
                let (name, said) = (name.to_owned(), Said::Nothing);
                self.inputs.push(Source { id, name, bit_rate, through: None, said });
            }
        }
        id
    }

    /// The station with this name, new if need be, whose lines come by another input.
    pub(super) fn station(&mut self, name: &str, through: InputId) -> InputId {
        let known = self.inputs.iter().find(|it| it.name == name);
        if let Some(Source { id, .. }) = known.filter(|it| it.through == Some(through)) {
            return *id;
        }
        let id = self.input(name, None);
        self.watch.station(name, through);
        if let Some(source) = self.inputs.iter_mut().find(|it| it.id == id) {
            source.through = Some(through);
        }
        id
    }

    /// Forgets an input that was taken away on purpose.
    pub(super) fn forget_input(&mut self, id: InputId, now: Stamp) {
        let stations = self.inputs.iter().filter(|it| it.through == Some(id)).map(|it| it.id);
        let gone: Vec<InputId> = stations.chain([id]).collect();
        for id in gone {
            self.note_input(id, Said::Forgotten);
            self.change(now, false, |watch| watch.forget_input(id));
        }
    }

    /// Other settings hold from now on.
    pub(super) fn set(&mut self, settings: Settings, now: Stamp) {
        self.settings = settings.clone();
        self.change(now, false, |watch| watch.set(settings));
    }

    /// Goes on with what a watch before this one left open.
    pub(super) fn resume(&mut self, left: LeftOpen, now: Stamp) {
        for alert in &left.alerts {
            self.open.entry(alert.id).or_insert_with(|| alert.clone());
        }
        self.last_id = self.last_id.max(left.last_id);
        self.change(now, false, |watch| watch.resume(left, now));
    }

    /// Takes one input. Whether it failed at the time alone: then it may at once again.
    pub(super) fn handle(&mut self, input: Input<'_>) -> bool {
        let now = input.stamp();
        let tick = matches!(input, Input::Tick { .. });
        let is_due = self.watch.next_deadline().is_some_and(|due| due <= now.at);
        // What is due by the time alone costs no line, should it fail.
        let failed = is_due && !tick && self.handle(Input::Tick { stamp: now });
        match &input {
            &Input::Opened { input, .. } => self.note_input(input, Said::Opened),
            &Input::Lost { input, reason, .. } => {
                self.note_input(input, Said::Lost(reason.to_owned()));
            }
            Input::Fault { part, fault, .. } => {
                self.faults.retain(|(it, _)| it != part);
                self.faults.extend(fault.map(|why| (*part, why.to_owned())));
            }
            _ => {}
        }
        let before = self.failures;
        self.change(now, tick, |watch| {
            #[cfg(test)]
            tests::break_at(&input);
            watch.handle(input);
        });
        failed || tick && self.failures > before
    }

    /// Something else around the watch has panicked, and goes on.
    pub(super) fn tell_failure(&mut self, why: &str, now: Stamp) {
        self.failures = self.failures.saturating_add(1);
        let why = self.counted(why);
        self.change(now, false, |watch| watch.handle(fault(Part::Watch, &why, now)));
    }

    /// The next event, oldest first. To be called until `None` after every input.
    pub(super) fn poll_output(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    fn note_input(&mut self, id: InputId, said: Said) {
        if let Some(input) = self.inputs.iter_mut().find(|it| it.id == id) {
            input.said = said;
        }
    }

    fn counted(&self, why: &str) -> String {
        let times = if self.failures == 1 { "once" } else { &format!("{} times", self.failures) };
        format!("{why}, {times}")
    }

    /// Changes the watch, at nothing but the time if it is `due`, and takes what it tells. If that
    /// panics, another takes its place.
    fn change(&mut self, now: Stamp, due: bool, work: impl FnOnce(&mut Watch)) {
        let Err(why) = caught(|| work(&mut self.watch)) else { return self.take_events() };
        self.failures = self.failures.saturating_add(1);
        let again = self.failed.is_some_and(|last| now.at.since(last) < SOON);
        if due {
            self.failed = Some(now.at);
        }
        self.begin_again(&why, now, due && again);
    }

    fn take_events(&mut self) {
        while let Some(event) = self.watch.poll_output() {
            if let EventBody::Alert(told) = &event.body {
                let alert = self.watch.alerts().iter().find(|it| it.id == told.id);
                match alert.filter(|_| told.state != State::Normal) {
                    Some(alert) => drop(self.open.insert(told.id, self.watch.left_open(alert))),
                    None => drop(self.open.remove(&told.id)),
                }
            }
            self.events.push_back(event);
        }
    }

    /// Another watch takes the place of one that has panicked, `without_beacons` if what is known of
    /// them may be why. Of what that one was about to tell, what begins counts, and nothing that ends.
    fn begin_again(&mut self, why: &str, now: Stamp, without_beacons: bool) {
        for alert in self.watch.alerts().iter().filter(|it| it.is_active()) {
            let left = self.watch.left_open(alert);
            let open = self.open.entry(alert.id).or_insert_with(|| left.clone());
            if open.rectified || open.priority <= left.priority {
                *open = left;
            }
        }
        let numbers = caught(|| self.watch.summary().alerts).unwrap_or_default();
        let told = self.open.keys().next_back().map_or(0, |id| id.0);
        self.last_id = self.last_id.max(numbers).max(told);
        let beacons = caught(|| self.watch.known_beacons()).unwrap_or_default();
        // What was asked for lately, and what not: it is plain to read, whatever failed.
        let seas = self.watch.settings().lookout.seas.map(Command::Seas);
        let muted = self.watch.muted().iter().map(|&it| Command::Mute(it));
        let asked: Vec<Command> = seas.into_iter().chain(muted).collect();
        let placed = self.watch.placed_by_hand().map(|(position, at)| {
            let age = i64::try_from(now.at.since(at).as_millis()).unwrap_or(0);
            let utc = Utc::from_unix_ms(now.utc.unix_ms() - age).unwrap_or(now.utc);
            Input::Command { stamp: Stamp { at, utc }, command: Command::PlaceShip(position) }
        });
        let nothing = LeftOpen { last_id: self.last_id, ..LeftOpen::default() };
        let alerts = LeftOpen { alerts: self.open.values().cloned().collect(), ..nothing.clone() };
        let all = LeftOpen { beacons, ..alerts.clone() };
        let why = self.counted(why);
        let less = [(all.clone(), placed), (all, None), (alerts, None), (nothing, None)];
        for (left, place) in less.into_iter().skip(if without_beacons { 2 } else { 0 }) {
            let mut next = Watch::new(self.settings.clone());
            next.take_reception_of(&mut self.watch);
            self.watch = next;
            let lost = if place.is_none() && placed.is_some() { NOT_PLACED } else { "" };
            let why = format!("{AFTER}{lost}; {why}");
            if caught(|| self.put_in_place(left, place, &asked, &why, now)).is_ok() {
                break;
            }
        }
        self.take_events();
    }

    fn put_in_place(
        &mut self,
        left: LeftOpen,
        placed: Option<Input<'_>>,
        asked: &[Command],
        why: &str,
        now: Stamp,
    ) {
        let (watch, stamp) = (&mut self.watch, now);
        // As old as it is.
        placed.into_iter().for_each(|it| watch.handle(it));
        watch.resume(left, now);
        for Source { name, bit_rate, through, said, .. } in &self.inputs {
            let input = enter(watch, name, *bit_rate);
            if let Some(through) = *through {
                watch.station(name, through);
            }
            match said {
                Said::Nothing => {}
                Said::Opened => watch.handle(Input::Opened { stamp, input }),
                Said::Lost(reason) => watch.handle(Input::Lost { stamp, input, reason }),
                Said::Forgotten => watch.forget_input(input),
            }
        }
        for (part, why) in &self.faults {
            watch.handle(fault(*part, why, now));
        }
        for &command in asked {
            watch.handle(Input::Command { stamp, command });
        }
        watch.handle(fault(Part::Watch, why, now));
    }
}

fn enter(watch: &mut Watch, name: &str, bit_rate: Option<u32>) -> InputId {
    let id = watch.input(name);
    if let Some(rate) = bit_rate {
        watch.set_bit_rate(id, rate);
    }
    id
}

const fn fault(part: Part, why: &str, stamp: Stamp) -> Input<'_> {
    Input::Fault { stamp, part, fault: Some(why) }
}

#[cfg(test)]
mod tests;
