//! The watch, kept over a panic of its own.
//!
//! *Invariant:* what was told to be open is open after it, under its number; a line that it panics at
//! is not given to it again, and costs no other.

use std::collections::{BTreeMap, VecDeque};
use std::ops::Deref;
use std::time::Duration;

use crate::thread::caught;
use crate::time::{Mono, Stamp};
use crate::watch::{
    AlertId, Command, Event, EventBody, Input, LeftOpen, OpenAlert, Part, Settings, State, Watch,
};
use crate::wire::InputId;

/// One that fails again so soon, at nothing but the time, may fail at what is known of beacons. Our
/// own.
const SOON: Duration = Duration::from_secs(60);

/// What somebody has to do after it.
const AFTER: &str =
    "what is open is unacknowledged again; an own position set by hand is to be set again";

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
                self.inputs.push(Source { id, name, bit_rate, said });
            }
        }
        id
    }

    /// Forgets an input that was taken away on purpose.
    pub(super) fn forget_input(&mut self, id: InputId, now: Stamp) {
        self.note_input(id, Said::Forgotten);
        self.change(now, false, |watch| watch.forget_input(id));
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
                    Some(alert) => drop(self.open.insert(told.id, OpenAlert::from(alert))),
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
            let open = self.open.entry(alert.id).or_insert_with(|| alert.into());
            if open.rectified || open.priority <= alert.priority {
                *open = alert.into();
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
        let nothing = LeftOpen { last_id: self.last_id, ..LeftOpen::default() };
        let alerts = LeftOpen { alerts: self.open.values().cloned().collect(), ..nothing.clone() };
        let all = LeftOpen { beacons, ..alerts.clone() };
        let why = format!("{AFTER}; {}", self.counted(why));
        for left in [all, alerts, nothing].into_iter().skip(usize::from(without_beacons)) {
            let mut next = Watch::new(self.settings.clone());
            next.take_reception_of(&mut self.watch);
            self.watch = next;
            if caught(|| self.put_in_place(left, &asked, &why, now)).is_ok() {
                break;
            }
        }
        self.take_events();
    }

    fn put_in_place(&mut self, left: LeftOpen, asked: &[Command], why: &str, now: Stamp) {
        let (watch, stamp) = (&mut self.watch, now);
        watch.resume(left, now);
        for Source { name, bit_rate, said, .. } in &self.inputs {
            let input = enter(watch, name, *bit_rate);
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
mod tests {
    use std::cell::Cell;
    use std::io;

    use super::*;
    use crate::app::Plan;
    use crate::edge::{InputUri, SounderSettings};
    use crate::frontend::{Context, Frontend, Request};
    use crate::mmsi::Mmsi;
    use crate::navigation::Seas;
    use crate::time::Utc;
    use crate::watch::{AlertReport, Cause, Mode, Muted, Priority};
    use crate::wire::ais::{Body, Message, PositionReport};
    use crate::wire::checksum;

    /// A line at which the watch panics.
    const BREAKS: &[u8] = b"!BREAKS";

    thread_local! {
        /// It panics as soon as something is due.
        static TICKS_BREAK: Cell<bool> = const { Cell::new(false) };
    }

    /// The fault that is put in.
    pub(super) fn break_at(input: &Input<'_>) {
        match input {
            Input::Line { bytes, .. } => assert!(*bytes != BREAKS, "as the test wants"),
            Input::Tick { .. } => assert!(!TICKS_BREAK.get(), "as the test wants"),
            _ => {}
        }
    }

    fn at(s: u64) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        let since = Duration::from_secs(s);
        Stamp { at: Mono::START + since, utc: begin.plus(since) }
    }

    /// A position report of a beacon with this navigational status.
    fn report(mmsi: u32, nav_status: u8) -> Vec<u8> {
        let report = PositionReport {
            nav_status,
            lat: Some(50.0),
            lon: Some(-5.0),
            utc_second: 7,
            ..PositionReport::unavailable()
        };
        let mmsi = Mmsi::new(mmsi).unwrap();
        let message = Message { kind: 1, repeat: 0, mmsi, body: Body::Position(report) };
        let (payload, fill) = message.encode().unwrap().armoured();
        let body = format!("AIVDM,1,1,,A,{payload},{fill}");
        format!("!{body}*{:02X}", checksum(body.as_bytes())).into_bytes()
    }

    const MATE: u32 = 972_000_017;
    const OTHER: u32 = 972_000_016;

    /// A watch by one input, which hears this at its first second.
    fn hearing(line: &[u8]) -> (Kept, InputId) {
        let settings = Settings { expects_inputs: true, ..Settings::default() };
        let mut kept = Kept::new(settings, true);
        let input = kept.input("ais", None);
        kept.handle(Input::Opened { stamp: at(0), input });
        kept.handle(Input::Line { stamp: at(1), input, bytes: line });
        (kept, input)
    }

    fn told(kept: &mut Kept) -> BTreeMap<AlertId, AlertReport> {
        let events = std::iter::from_fn(|| kept.poll_output());
        let alerts = events.filter_map(|event| match event.body {
            EventBody::Alert(alert) => Some((alert.id, alert)),
            _ => None,
        });
        alerts.collect()
    }

    /// The open alert of this cause.
    fn open(kept: &Kept, cause: Cause) -> Vec<(AlertId, Option<u32>, State)> {
        let of_cause = kept.alerts().iter().filter(|it| it.cause == cause);
        of_cause.map(|it| (it.id, it.mmsi.map(Mmsi::value), it.state)).collect()
    }

    const NOT_NOTED: State = State::ActiveUnacknowledged;

    #[test]
    fn an_emergency_goes_on_over_a_panic_and_what_comes_after_is_heard() {
        let (mut kept, input) = hearing(&report(MATE, 14));
        let (first, ..) = open(&kept, Cause::BeaconActive)[0];
        kept.handle(Input::Command { stamp: at(2), command: Command::Acknowledge(first) });
        for s in [3, 4] {
            kept.handle(Input::Line { stamp: at(s), input, bytes: BREAKS });
        }
        let expected = [(first, Some(MATE), NOT_NOTED)];
        assert_eq!(open(&kept, Cause::BeaconActive), expected);
        let mate = kept.known_beacons()[0].clone();
        assert!(mate.position.is_some() && mate.mode == Mode::Active, "{mate:?}");
        assert_eq!(kept.received().len(), 1, "what was received is kept");
        let failures = open(&kept, Cause::InputSilent);
        assert_eq!(failures.len(), 1, "{failures:?}");
        let told = told(&mut kept);
        let text = &told[&failures[0].0].text;
        assert!(text.contains("it panicked: as the test wants") && text.ends_with("2 times"));
        // Numbers never return, keys act, and the next is heard.
        kept.handle(Input::Command { stamp: at(5), command: Command::Acknowledge(first) });
        assert_eq!(open(&kept, Cause::BeaconActive)[0].2, State::ActiveAcknowledged);
        kept.handle(Input::Line { stamp: at(6), input, bytes: &report(OTHER, 14) });
        let (second, mmsi, _) = open(&kept, Cause::BeaconActive)[1];
        assert_eq!(mmsi, Some(OTHER));
        assert!(!told.contains_key(&second) && second.0 > told.keys().next_back().unwrap().0);
    }

    /// What it has raised before it panics counts; that something ended does not.
    #[test]
    fn what_a_panic_breaks_off_is_taken_for_the_worse() {
        let (mut kept, input) = hearing(&report(MATE, 14));
        let breaks_off = |kept: &mut Kept, s, bytes: &[u8]| {
            let stamp = at(s);
            kept.change(stamp, false, |watch| {
                watch.handle(Input::Line { stamp, input, bytes });
                assert!(bytes.is_empty(), "after all of it");
            });
        };
        breaks_off(&mut kept, 2, &report(OTHER, 14));
        let (mate, _, _) = open(&kept, Cause::BeaconActive)[0];
        assert_eq!(open(&kept, Cause::BeaconActive)[1].1, Some(OTHER));
        let alert = |kept: &mut Kept, stamp| {
            kept.change(stamp, false, |watch| {
                watch.handle(Input::Command { stamp, command: Command::Resolve(mate) });
                assert!(watch.alerts().is_empty(), "after all of it");
            });
        };
        alert(&mut kept, at(3));
        assert_eq!(open(&kept, Cause::BeaconActive)[0], (mate, Some(MATE), NOT_NOTED));
        assert!(told(&mut kept).values().all(|it| it.mmsi.is_none() || it.state != State::Normal));
    }

    /// What fails by the time alone costs no line, and in the end no more than what is known of beacons.
    #[test]
    fn a_panic_by_the_time_alone_costs_no_line() {
        let (mut kept, input) = hearing(&report(MATE, 14));
        TICKS_BREAK.set(true);
        let due = kept.next_deadline().unwrap();
        assert!(kept.handle(Input::Tick { stamp: Stamp { at: due, ..at(0) } }));
        assert_eq!(kept.known_beacons().len(), 1);
        let stamp = at(3600);
        assert!(kept.handle(Input::Line { stamp, input, bytes: &report(OTHER, 14) }));
        assert!(kept.handle(Input::Tick { stamp: at(3601) }));
        TICKS_BREAK.set(false);
        let emergencies = open(&kept, Cause::BeaconActive);
        assert_eq!(
            emergencies.iter().map(|it| it.1).collect::<Vec<_>>(),
            [Some(MATE), Some(OTHER)]
        );
        assert!(kept.known_beacons().is_empty());
    }

    #[test]
    fn what_was_wrong_with_inputs_and_parts_is_wrong_after_it() {
        let (mut kept, input) = hearing(&report(MATE, 15));
        let stamp = at(2);
        let gone = kept.input("gone", None);
        kept.forget_input(gone, stamp);
        let lost = kept.input("vhf", None);
        kept.handle(Input::Lost { stamp, input: lost, reason: "unplugged" });
        kept.handle(fault(Part::Logbook, "disk full", stamp));
        kept.handle(Input::Line { stamp: at(3), input, bytes: BREAKS });
        assert_eq!(open(&kept, Cause::LogbookFailed).len(), 1);
        let texts: Vec<&str> = kept.alerts().iter().map(|it| it.text.as_str()).collect();
        assert!(texts.iter().any(|it| it.starts_with("Input vhf: unplugged")), "{texts:?}");
        assert_eq!((kept.input("ais", None), kept.input("vhf", None)), (input, lost));
        // The muster's own priorities come from the settings, which stay.
        assert!(kept.alerts().iter().all(|it| it.priority < Priority::EmergencyAlarm));
    }

    /// What the operator asked for holds on, and what does not is told.
    #[test]
    fn seas_and_what_is_muted_are_as_asked_for_after_it() {
        let (mut kept, input) = hearing(&report(MATE, 14));
        let seas = Seas::of_height(2.0);
        let muted = [Muted::Station(Mmsi::new(OTHER).unwrap()), Muted::Input(input)];
        for command in [Command::Seas(seas), Command::Mute(muted[0]), Command::Mute(muted[1])] {
            kept.handle(Input::Command { stamp: at(2), command });
        }
        let emergencies = open(&kept, Cause::BeaconActive).len();
        kept.handle(Input::Line { stamp: at(3), input, bytes: BREAKS });
        assert_eq!(kept.settings().lookout.seas, Some(seas));
        assert_eq!(kept.muted(), muted);
        assert!(open(&kept, Cause::BeaconActive).len() >= emergencies);
        let said = open(&kept, Cause::InputSilent)[0].0;
        assert!(told(&mut kept)[&said].text.contains(AFTER));
    }

    /// A front that keeps what it is told.
    #[derive(Default)]
    struct Told(Vec<Event>);

    impl Frontend for Told {
        fn tell(&mut self, event: &Event) -> io::Result<()> {
            self.0.push(event.clone());
            Ok(())
        }

        fn show(&mut self, _: &Watch, _: Stamp, _: Context<'_>) -> io::Result<()> {
            Ok(())
        }

        fn next_frame(&self) -> Option<Duration> {
            None
        }

        async fn request(&mut self) -> Request {
            std::future::pending().await
        }
    }

    /// The whole of a live watch, with and without a logbook.
    #[test]
    fn a_live_watch_goes_on_over_a_panic() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("feed.nmea");
        let lines = [report(MATE, 14), BREAKS.to_vec(), report(OTHER, 14)];
        std::fs::write(&file, lines.join(&b'\n')).unwrap();
        for keeps_logbook in [false, true] {
            let plan = Plan {
                inputs: vec![("ais".to_owned(), InputUri::File(file.clone()))],
                settings: Settings::default(),
                muster: Vec::new(),
                sounder: SounderSettings {
                    command: None,
                    sound: false,
                    bell: false,
                    path: Default::default(),
                    hangs_after: Duration::from_secs(1),
                },
                hooks: Vec::new(),
                keeps_logbook,
                folder: Some(folder.path().to_owned()),
                configuration: None,
                record: None,
                door: None,
                watchkeeper: None,
            };
            let mut front = Told::default();
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
            runtime.unwrap().block_on(crate::app::watch(plan, || None, &mut front)).unwrap();
            let mut open = BTreeMap::new();
            for event in front.0 {
                let EventBody::Alert(alert) = event.body else { continue };
                open.insert(alert.id, alert);
            }
            open.retain(|_, it| it.cause == Cause::BeaconActive && it.state == NOT_NOTED);
            let mates: Vec<_> = open.values().filter_map(|it| it.mmsi.map(Mmsi::value)).collect();
            assert_eq!(mates, [MATE, OTHER], "logbook: {keeps_logbook}");
        }
        let book = crate::logbook::Reader::open(folder.path()).unwrap().unwrap();
        let open = book.open_incidents().unwrap().open;
        assert_eq!(open.iter().filter(|it| it.draft.is_about_people()).count(), 2, "{open:?}");
    }
}
