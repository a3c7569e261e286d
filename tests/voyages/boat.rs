//! The boat: the real watch, fed by a script in fast time, with a clock, a disk, inputs and a power
//! supply that fail as the script says. The order of a step is that of the live watch: sound,
//! record, log, tell.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::time::Duration;

use overside::app;
use overside::logbook::{Draft, Incidents, Moment, Reader, WatchEvent};
use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    AlertId, Command, Event, EventBody, Input, LeftOpen, Part, Priority, Settings, State, Watch,
};
use serde_json::Value;

use crate::air::{self, Truth};
use crate::books::{Books, Done, Row};
use crate::judge::{Breach, Figures, Judge};
use crate::saboteur::{Cue, Meddling, Sabotage, Saboteur};
use crate::script::{BEGIN, Cut, Fault, HOUR, Hand, Happening, MUSTER, SILENCE_S, What};

/// How a voyage went.
pub struct Voyage {
    pub breach: Option<Breach>,
    pub figures: Figures,
    /// What went in and what came out near the end, if that was wanted.
    pub trace: Vec<Noted>,
}

/// Something to be printed.
pub enum Noted {
    /// In the short form of a scenario.
    In(u64, String),
    Out(u64, Box<Event>),
    /// What a scenario cannot carry.
    Beside(u64, String),
}

/// An input.
#[derive(Clone, Copy, Default)]
struct Wire {
    open: bool,
    silent: bool,
    noise: u8,
    late: u64,
}

const NAMES: [&str; 4] = ["ais", "second", "vhf", "gnss"];

pub struct Boat {
    now: u64,
    watch: Option<Watch>,
    boot: u64,
    clock: i64,
    wires: BTreeMap<&'static str, Wire>,
    late: BinaryHeap<Reverse<(u64, usize)>>,
    late_lines: Vec<(&'static str, Vec<u8>, Option<air::Said>)>,
    books: Books,
    judge: Judge,
    saboteur: Saboteur,
    whole_muster: bool,
    /// The power fails with the next writing.
    armed: Option<(u64, Cut)>,
    alter: Option<(u8, u64)>,
    /// For how long the next watch cannot read its logbook.
    hold: Option<u64>,
    /// When this one can, and the number after which it began to count.
    readable: Option<(u64, u32)>,
    /// The power comes back then, with such a clock.
    dark: Option<(u64, i64)>,
    trace: Option<Vec<Noted>>,
}

impl Boat {
    pub fn new(sabotage: Option<Sabotage>, traced: bool) -> Self {
        Self {
            now: 0,
            watch: None,
            boot: 0,
            clock: 0,
            wires: NAMES.map(|name| (name, Wire::default())).into(),
            late: BinaryHeap::new(),
            late_lines: Vec::new(),
            books: Books::new(),
            judge: Judge::new(),
            saboteur: Saboteur::new(sabotage),
            whole_muster: true,
            armed: None,
            alter: None,
            hold: None,
            readable: None,
            dark: Some((0, 0)),
            trace: traced.then(Vec::new),
        }
    }

    /// Sails to the end of the script, or to the first breach.
    pub fn sail(mut self, script: &[Happening]) -> Voyage {
        let first = script.first().map_or(0, |it| it.at);
        self.now = first;
        self.dark = Some((first, 0));
        for it in script {
            self.run_until(it.at);
            if self.judge.breach.is_some() {
                break;
            }
            self.happen(it);
        }
        let end = script.last().map_or(0, |it| it.at) + HOUR;
        self.run_until(end);
        let days = (end - first).div_ceil(24 * HOUR);
        Voyage {
            breach: self.judge.breach.clone(),
            figures: self.judge.figures(days),
            trace: self.trace.unwrap_or_default(),
        }
    }

    fn run_until(&mut self, until: u64) {
        while self.judge.breach.is_none() {
            let deadline = self.watch.as_ref().and_then(Watch::next_deadline);
            let deadline = deadline.map(|due| self.moment(due));
            let power = self.dark.map(|(at, _)| at);
            let late = self.late.peek().map(|Reverse((at, _))| *at);
            let readable = self.readable.map(|(at, _)| at);
            let around = [self.books.due(), self.saboteur.due(), self.judge.next_due(), readable];
            // A watch that is off does nothing at all.
            let on = self.watch.is_some();
            let mut dues = vec![power];
            dues.extend([deadline, late].into_iter().chain(around).filter(|_| on));
            let Some(due) = dues.into_iter().flatten().min().filter(|due| *due <= until) else {
                break;
            };
            self.now = self.now.max(due);
            if power.is_some_and(|at| at <= self.now) {
                self.boot();
            } else if readable.is_some_and(|at| at <= self.now) {
                self.read_late();
            } else if late.is_some_and(|at| at <= self.now) {
                self.late_line();
            } else if deadline.is_some_and(|at| at <= self.now) {
                let stamp = self.stamp();
                self.give(Input::Tick { stamp }, Cue::Time, None);
            } else {
                let held = self.saboteur.tell_held(self.now);
                self.tell(held);
                self.judge.pass(self.now);
                self.disk();
            }
        }
        self.now = self.now.max(until);
    }

    /// The true time of a moment of the watch's count, not before it.
    fn moment(&self, due: Mono) -> u64 {
        let passed = due.micros().saturating_sub(app::LONGEST.as_micros() as u64);
        self.now.max(self.boot + passed.div_ceil(1000))
    }

    fn stamp(&self) -> Stamp {
        let at = Mono::START + app::LONGEST + Duration::from_millis(self.now - self.boot);
        Stamp { at, utc: self.utc() }
    }

    fn utc(&self) -> Utc {
        Utc::from_unix_ms(BEGIN + self.now as i64 + self.clock).unwrap_or(Utc::EPOCH)
    }

    fn settings(&self) -> Settings {
        let count = MUSTER.len() - usize::from(!self.whole_muster);
        let muster = MUSTER[..count].iter().filter_map(|mmsi| Mmsi::new(*mmsi));
        Settings {
            muster: muster
                .map(|mmsi| (mmsi, Some(format!("Crew {}", mmsi.value() % 10))))
                .collect(),
            ais_silence: Duration::from_secs(SILENCE_S),
            gnss_silence: Duration::from_secs(SILENCE_S),
            own_mmsi: Mmsi::new(200_000_000),
            expects_inputs: true,
            ..Settings::default()
        }
    }

    /// The power comes back.
    fn boot(&mut self) {
        let Some((_, clock)) = self.dark.take() else { return };
        self.books.settle();
        if let Some((back, salt)) = self.alter.take()
            && self.books.alter(back, salt)
        {
            self.beside("a byte of an entry is altered");
        }
        (self.boot, self.clock) = (self.now, clock);
        let (reader, incidents) = self.read();
        let mut left = app::place(incidents, &app::Ours::default(), self.stamp()).open;
        let held = self.hold.take();
        if let Some(span) = held {
            let last_id = app::number_without_a_book(self.utc(), self.now as u32);
            left = LeftOpen { last_id, ..LeftOpen::default() };
            self.readable = Some((self.now + span, last_id));
            self.books.held = true;
            self.beside("another program holds the logbook");
        }
        self.beside("the watch begins");
        self.judge.begin(self.now, held.unwrap_or(0), &self.books.rows);
        self.saboteur.begin(self.now, &mut left);
        let (gnss, own, own_age_s, sog, cog) = (None, None, None, None, None);
        let Stamp { at: arrival, utc: host } = self.stamp();
        let moment = Moment { arrival, host, gnss, own, own_age_s, sog, cog };
        let begun = Draft::watch(WatchEvent::Started, "watch started", Value::Null, &moment);
        self.books.write(begun, None, self.now);
        let mut watch = Watch::new(self.settings());
        watch.resume(left, self.stamp());
        self.watch = Some(watch);
        self.judge.begin_step(self.now);
        self.settle(None);
        if let Some(reader) = reader.filter(|_| held.is_none()) {
            // Looked for while the watch goes on.
            self.tell_damage(&reader.damaged().unwrap());
        }
        for name in NAMES {
            if self.wires[name].open {
                self.open(name);
            }
        }
    }

    fn read(&self) -> (Option<Reader>, Incidents) {
        let reader = Reader::open(&self.books.folder()).unwrap();
        let incidents = reader.as_ref().map(|it| it.open_incidents().unwrap());
        (reader, incidents.unwrap_or_default())
    }

    /// The logbook can be read at last, and what it tells goes on beside what was heard since.
    fn read_late(&mut self) {
        let Some((_, last)) = self.readable.take() else { return };
        self.beside("the logbook can be read");
        self.books.held = false;
        let stamp = self.stamp();
        let (reader, incidents) = self.read();
        let given = self.watch.as_ref().map_or(last, |watch| watch.summary().alerts);
        // Nothing of this watch is written yet.
        let ours = app::Ours { numbers: last + 1..given + 1, session: None };
        let mut left = app::place(incidents, &ours, stamp).open;
        self.saboteur.begin(self.now, &mut left);
        self.judge.begin_step(self.now);
        if let Some(watch) = &mut self.watch {
            watch.resume(left, stamp);
        }
        self.settle(None);
        if let Some(reader) = reader.filter(|_| self.watch.is_some()) {
            self.tell_damage(&reader.damaged().unwrap());
        }
    }

    fn tell_damage(&mut self, damaged: &[i64]) {
        if damaged.is_empty() || self.watch.is_none() || self.saboteur.hides_damage() {
            return;
        }
        let (stamp, part) = (self.stamp(), Part::OldEntries);
        let fault = app::damaged(damaged);
        self.note(|| format!("fails old_entries {fault}"));
        self.give(Input::Fault { stamp, part, fault: Some(&fault) }, Cue::Time, None);
    }

    fn power_off(&mut self, down: u64, clock: i64, written: usize) {
        self.books.power_off(written);
        if self.saboteur.loses_the_last_entry() {
            self.books.lose_last();
        }
        self.judge.power_lost(self.now, self.books.last());
        self.beside("the power fails");
        (self.watch, self.armed, self.readable) = (None, None, None);
        self.late.clear();
        self.dark = Some((self.now + down, clock));
    }

    fn happen(&mut self, it: &Happening) {
        match &it.what {
            What::Said(input, said) => self.said(input, said, it.salt),
            What::Overboard(mmsi) => {
                self.judge.pass(self.now);
                self.judge.overboard(*mmsi);
            }
            What::Hand(hand) => self.hand(*hand),
            What::Fault(fault) => self.fault(*fault, it.salt),
        }
    }

    /// A sentence reaches an input, as that is now.
    fn said(&mut self, input: &'static str, said: &air::Said, salt: u64) {
        let wire = self.wires[input];
        if wire.silent || !wire.open {
            return;
        }
        let damaged = (salt % 100) < u64::from(wire.noise);
        let (bytes, truth) = match damaged {
            true => (air::damaged(&said.line, salt >> 8), None),
            false => (said.line.clone().into_bytes(), Some(said.clone())),
        };
        if wire.late == 0 {
            self.line(input, &bytes, truth.as_ref());
        } else {
            self.late.push(Reverse((self.now + wire.late, self.late_lines.len())));
            self.late_lines.push((input, bytes, truth));
        }
    }

    fn late_line(&mut self) {
        let Some(Reverse((_, place))) = self.late.pop() else { return };
        let (input, bytes, truth) = self.late_lines[place].clone();
        if self.wires[input].open {
            self.line(input, &bytes, truth.as_ref());
        }
    }

    fn line(&mut self, name: &'static str, bytes: &[u8], intact: Option<&air::Said>) {
        let (now, stamp) = (self.now, self.stamp_if_on());
        let Some((stamp, input)) = stamp.zip(self.watch.as_mut().map(|it| it.input(name))) else {
            return;
        };
        self.note(|| format!("by {name}: {}", String::from_utf8_lossy(bytes)));
        self.judge.begin_step(now);
        let truth = intact.map_or(Truth::Other, |said| said.truth);
        if let Some(said) = intact {
            self.judge.heard(name, &said.line, said.truth);
        }
        let open = self.watch.as_ref().map_or(&[][..], Watch::alerts);
        if self.saboteur.swallows(truth, open, now) {
            self.give_on(Input::Tick { stamp }, Cue::Time, None);
            return;
        }
        let line = std::str::from_utf8(bytes).unwrap_or_default();
        let cue = Cue::Line { truth, line, doubled: name == "second" };
        self.give_on(Input::Line { stamp, input, bytes }, cue, Some(bytes));
    }

    fn stamp_if_on(&self) -> Option<Stamp> {
        self.watch.is_some().then(|| self.stamp())
    }

    fn hand(&mut self, hand: Hand) {
        if self.watch.is_none() {
            return;
        }
        let command = match hand {
            Hand::Acknowledge => self
                .worst(|_, state| !matches!(state, State::ActiveAcknowledged))
                .map(Command::Acknowledge),
            Hand::Silence => {
                self.worst(|_, state| state == State::ActiveUnacknowledged).map(Command::Silence)
            }
            Hand::DeclareOver => {
                self.worst(|priority, _| priority == Priority::EmergencyAlarm).map(Command::Resolve)
            }
            Hand::DeclareLesserOver => {
                self.worst(|priority, _| priority < Priority::EmergencyAlarm).map(Command::Resolve)
            }
            Hand::DeclareAllOver => {
                while let Some(id) = self.worst(|_, _| true).filter(|_| self.watch.is_some()) {
                    let before = self.judge.board.len();
                    self.command(Command::Resolve(id));
                    if self.judge.board.len() >= before || self.judge.breach.is_some() {
                        break;
                    }
                }
                return;
            }
            Hand::Mark => Some(Command::MarkOverboard),
            Hand::PlaceShip => Position::new(50.0, -5.0).map(Command::PlaceShip),
            Hand::Present => Some(Command::Present),
        };
        if let Some(command) = command {
            self.command(command);
        }
    }

    /// The worst alert of this kind that was told, of equals the first.
    fn worst(&self, which: impl Fn(Priority, State) -> bool) -> Option<AlertId> {
        let of_kind = self.judge.board.iter().filter(|(_, it)| which(it.priority, it.state));
        of_kind.max_by_key(|(id, it)| (it.priority, Reverse(**id))).map(|(id, _)| AlertId(*id))
    }

    fn command(&mut self, command: Command) {
        let stamp = self.stamp();
        match command {
            Command::Acknowledge(id) => self.note(|| format!("do acknowledge {}", id.0)),
            Command::Silence(id) => self.note(|| format!("do silence {}", id.0)),
            Command::Resolve(id) => self.note(|| format!("do resolve {}", id.0)),
            Command::MarkOverboard => self.note(|| "do mark".to_owned()),
            Command::PlaceShip(at) => self.note(|| format!("do place {} {}", at.lat(), at.lon())),
            Command::Present => self.note(|| "do answer".to_owned()),
            Command::Mute(_) | Command::Unmute | Command::Seas(_) | Command::Part(_) => {}
        }
        self.judge.begin_step(self.now);
        self.judge.hand(command);
        if self.saboteur.swallows_command(command) {
            self.give_on(Input::Tick { stamp }, Cue::Time, None);
            return;
        }
        if let Some(watch) = &self.watch
            && let Some(draft) = app::entry_of_act(command, None, watch, stamp)
        {
            self.books.write(draft, None, self.now);
        }
        self.give_on(Input::Command { stamp, command }, Cue::Hand(command), None);
    }

    fn open(&mut self, name: &'static str) {
        let Some(stamp) = self.stamp_if_on() else { return };
        let Some(input) = self.watch.as_mut().map(|watch| watch.input(name)) else { return };
        self.note(|| format!("by {name}: opened"));
        self.give(Input::Opened { stamp, input }, Cue::Time, None);
    }

    fn fault(&mut self, fault: Fault, salt: u64) {
        self.judge.figures.faults += 1;
        match fault {
            Fault::Opened(name) => {
                self.wires.entry(name).or_default().open = true;
                self.open(name);
            }
            Fault::Lost(name) => {
                self.wires.entry(name).or_default().open = false;
                let Some(stamp) = self.stamp_if_on() else { return };
                let Some(input) = self.watch.as_mut().map(|watch| watch.input(name)) else {
                    return;
                };
                self.note(|| format!("by {name}: lost unplugged"));
                let reason = "unplugged";
                self.give(Input::Lost { stamp, input, reason }, Cue::Lost, None);
            }
            Fault::Silent(name, silent) => self.wires.entry(name).or_default().silent = silent,
            Fault::Noisy(name, noise) => self.wires.entry(name).or_default().noise = noise,
            Fault::Late(name, late) => self.wires.entry(name).or_default().late = late,
            Fault::Clock(clock) => {
                self.clock = clock;
                self.beside(&format!("the clock is wrong by {clock} ms"));
                if let Some(stamp) = self.stamp_if_on() {
                    self.give(Input::Tick { stamp }, Cue::ClockSet, None);
                }
            }
            Fault::Disk(disk) => {
                self.books.set(disk);
                self.beside(&format!("the disk: {disk:?}"));
                self.disk();
            }
            Fault::Kill { down, clock } if self.watch.is_some() => self.power_off(down, clock, 0),
            Fault::KillAtWrite { down, at } => self.armed = Some((down, at)),
            Fault::Kill { .. } => {}
            Fault::Alter(back) => self.alter = Some((back, salt)),
            Fault::Held(span) => self.hold = Some(span),
            Fault::Muster(whole) => {
                self.whole_muster = whole;
                let settings = self.settings();
                self.judge.muster(settings.muster.keys().map(|mmsi| mmsi.value()));
                self.beside(&format!("the muster is read, whole: {whole}"));
                if let Some(watch) = &mut self.watch {
                    watch.set(settings);
                    let stamp = self.stamp();
                    self.give(Input::Tick { stamp }, Cue::MusterRead, None);
                }
            }
        }
    }

    /// One input in a step of its own.
    fn give(&mut self, input: Input<'_>, cue: Cue<'_>, line: Option<&[u8]>) {
        self.judge.begin_step(self.now);
        self.give_on(input, cue, line);
    }

    fn give_on(&mut self, input: Input<'_>, cue: Cue<'_>, line: Option<&[u8]>) {
        let stamp = self.stamp();
        let Some(watch) = &mut self.watch else { return };
        watch.handle(input);
        let meddling = self.saboteur.meddle(cue, watch.alerts(), stamp.at.micros());
        for meddling in meddling {
            match meddling {
                Meddling::Command(command) => watch.handle(Input::Command { stamp, command }),
                Meddling::Line(line) => {
                    let input = watch.input("ais");
                    watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
                }
            }
        }
        self.settle(line);
    }

    /// After an input: log, then tell; then the disk writes.
    fn settle(&mut self, line: Option<&[u8]>) {
        let stamp = self.stamp();
        let Some(watch) = &mut self.watch else { return };
        let events: Vec<Event> = std::iter::from_fn(|| watch.poll_output()).collect();
        let Some(watch) = &self.watch else { return };
        let mut logged = 0;
        for event in &events {
            let line = line.filter(|_| event.at >= stamp.utc);
            if let Some(draft) = app::entry_of(event, watch, stamp, line) {
                self.books.write(draft, Row::of(event), self.now);
                logged += 1;
            }
        }
        let cut = self.armed.filter(|_| logged > 0);
        if let Some((down, Cut::Untold)) = cut {
            return self.power_off(down, 0, usize::MAX);
        }
        let events = self.saboteur.tell(self.now, events);
        self.tell(events);
        self.judge.settle(self.watch.as_ref().map_or(&[][..], Watch::alerts));
        match cut {
            Some((down, Cut::Unwritten)) => self.power_off(down, 0, 0),
            Some((down, Cut::Torn(written))) => self.power_off(down, 0, written.into()),
            Some((down, _)) => {
                self.disk();
                self.power_off(down, 0, usize::MAX);
            }
            None => self.disk(),
        }
    }

    fn tell(&mut self, events: Vec<Event>) {
        for event in events {
            self.judge.told(&event, &self.books.rows);
            if let Some(trace) = &mut self.trace {
                trace.push(Noted::Out(self.now, Box::new(event)));
            }
        }
    }

    /// Lets the disk write, and tells what it says.
    fn disk(&mut self) {
        if self.watch.is_none() {
            return;
        }
        if let Some((entry, row)) = self.books.first_waiting()
            && self.saboteur.says_logged_too_soon()
        {
            let mmsi = row.mmsi.and_then(Mmsi::new);
            let body = EventBody::Logged { entry, cause: row.cause, mmsi, state: row.state };
            self.tell(vec![Event { at: self.utc(), body }]);
        }
        for done in self.books.work(self.now) {
            let at = self.utc();
            match done {
                Done::Committed(entry, Row { cause, mmsi, state, .. }) => {
                    let mmsi = mmsi.and_then(Mmsi::new);
                    let body = EventBody::Logged { entry, cause, mmsi, state };
                    self.tell(vec![Event { at, body }]);
                }
                Done::Failed => self.disk_is(Some("no space left")),
                Done::Works => self.disk_is(None),
            }
        }
    }

    fn disk_is(&mut self, fault: Option<&str>) {
        let stamp = self.stamp();
        let cue = if fault.is_some() { Cue::DiskFailed } else { Cue::Time };
        self.note(|| match fault {
            Some(why) => format!("fails logbook {why}"),
            None => "works logbook".to_owned(),
        });
        self.give(Input::Fault { stamp, part: Part::Logbook, fault }, cue, None);
    }

    fn note(&mut self, what: impl FnOnce() -> String) {
        let now = self.now;
        if let Some(trace) = &mut self.trace {
            trace.push(Noted::In(now, what()));
        }
    }

    fn beside(&mut self, what: &str) {
        let now = self.now;
        if let Some(trace) = &mut self.trace {
            trace.push(Noted::Beside(now, what.to_owned()));
        }
    }
}
