//! What goes on over a panic of the watch, and that nothing ends by it.

use std::cell::Cell;
use std::io;

use super::*;
use crate::app::Plan;
use crate::edge::{InputUri, SounderSettings};
use crate::frontend::{Context, Frontend, Request};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, Seas};
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
    assert_eq!(emergencies.iter().map(|it| it.1).collect::<Vec<_>>(), [Some(MATE), Some(OTHER)]);
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

/// A position set by hand holds on, and is no younger for it.
#[test]
fn a_position_set_by_hand_is_where_it_was_after_it() {
    let (mut kept, input) = hearing(&report(MATE, 14));
    let place = Position::new(50.1, -5.0).unwrap();
    kept.handle(Input::Command { stamp: at(2), command: Command::PlaceShip(place) });
    let own = |kept: &Kept, s| {
        let own = kept.own(at(s).at);
        own.position.zip(own.age)
    };
    let expected = |age| Some((place, Duration::from_secs(age)));
    assert_eq!(own(&kept, 62), expected(60));
    kept.handle(Input::Line { stamp: at(62), input, bytes: BREAKS });
    assert_eq!(own(&kept, 62), expected(60));
    let said = open(&kept, Cause::InputSilent)[0].0;
    assert!(!told(&mut kept)[&said].text.contains(NOT_PLACED));
    assert_eq!(open(&kept, Cause::BeaconActive).len(), 1);
    // It is told to be lost as it would have been.
    assert_eq!(open(&kept, Cause::OwnPositionLost).len(), 0);
    kept.handle(Input::Tick { stamp: at(603) });
    assert_eq!(open(&kept, Cause::OwnPositionLost).len(), 1);
}

/// Who was parted from a beacon is another person, also after it.
#[test]
fn a_point_that_was_parted_from_its_beacon_stays_so() {
    let mate = Mmsi::new(MATE).unwrap();
    let (mut kept, input) = hearing(b"");
    kept.set(Settings { muster: [(mate, None)].into(), ..kept.settings().clone() }, at(1));
    let mut hear = |s, bytes: &[u8], command: Option<Command>| {
        let stamp = at(s);
        kept.handle(match command {
            Some(command) => Input::Command { stamp, command },
            None => Input::Line { stamp, input, bytes },
        });
        open(&kept, Cause::OverboardMarked).len()
    };
    assert_eq!(hear(2, b"", Some(Command::MarkOverboard)), 1);
    let active = report(MATE, 14);
    assert_eq!(hear(30, &active, None), 0, "it has taken its place");
    assert_eq!(hear(40, b"", Some(Command::Part(mate))), 1);
    // Switched off, and on again.
    let off = b"!AIVDM,1,1,,A,>>Nv;4@lt:0tHH,2*35";
    for bytes in [&off[..], BREAKS, &active] {
        assert_eq!(hear(60, bytes, None), 1);
    }
    assert_eq!(open(&kept, Cause::BeaconActive).len(), 1);
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
            outputs: Vec::new(),
            finds: None,
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
