//! What the operator mutes: it is silent, counted and heard, and never a beacon of the muster.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::time::Duration;

use overside::app::entry_of_act;
use overside::logbook::{Act, Details};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    Cause, Command, Event, EventBody, Input, LeftOpen, Muted, Picture, Priority, Settings, State,
    Watch,
};

const MATE: u32 = 972_000_017;
const STRANGER: u32 = 972_000_091;

struct Scene {
    watch: Watch,
    at: Duration,
}

fn mmsi(value: u32) -> Mmsi {
    Mmsi::new(value).unwrap()
}

fn muster(all: &[u32]) -> Settings {
    let muster = all.iter().map(|&it| (mmsi(it), None)).collect();
    Settings { muster, ..Settings::default() }
}

impl Scene {
    fn new() -> Self {
        Self { watch: Watch::new(muster(&[MATE])), at: Duration::from_secs(1) }
    }

    fn stamp(&self) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + self.at, utc: begin.plus(self.at) }
    }

    fn told(&mut self) -> Vec<Event> {
        std::iter::from_fn(|| self.watch.poll_output()).collect()
    }

    fn line(&mut self, input: &str, line: &str) -> Vec<Event> {
        self.at += Duration::from_millis(50);
        let (stamp, input) = (self.stamp(), self.watch.input(input));
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        self.told()
    }

    fn active(&mut self, input: &str, of: u32) -> Vec<Event> {
        // Stations send on the two channels in turn.
        let channel = if of.is_multiple_of(2) { 'A' } else { 'B' };
        self.line(input, &support::vdm(&support::position(of, 14, Some((50.0, -1.5)), 17), channel))
    }

    fn command(&mut self, command: Command) -> Vec<Event> {
        self.at += Duration::from_secs(1);
        self.watch.handle(Input::Command { stamp: self.stamp(), command });
        self.told()
    }

    fn mute(&mut self, of: u32) -> Vec<Event> {
        self.command(Command::Mute(Muted::Station(mmsi(of))))
    }

    fn mute_input(&mut self, name: &str) -> Vec<Event> {
        let id = self.watch.input(name);
        self.command(Command::Mute(Muted::Input(id)))
    }

    fn wait(&mut self, seconds: u64) -> Vec<Event> {
        self.at += Duration::from_secs(seconds);
        self.watch.handle(Input::Tick { stamp: self.stamp() });
        self.told()
    }

    fn picture(&self) -> Picture {
        self.watch.picture(self.stamp())
    }

    /// The emergencies that are open.
    fn emergencies(&self) -> Vec<u32> {
        let open = self.watch.alerts().iter();
        let emergencies = open.filter(|it| it.priority == Priority::EmergencyAlarm);
        emergencies.filter_map(|it| Some(it.mmsi?.value())).collect()
    }
}

/// The alerts about people that are told to sound.
fn sounds(events: &[Event]) -> Vec<(Cause, Option<u32>)> {
    let alerts = events.iter().filter_map(|event| match &event.body {
        EventBody::Alert(it) if it.state == State::ActiveUnacknowledged => {
            Some((it.cause, it.mmsi.map(|mmsi| mmsi.value())))
        }
        _ => None,
    });
    alerts.filter(|(cause, _)| cause.is_about_people()).collect()
}

fn is_heard(events: &[Event], of: u32) -> bool {
    events.iter().any(|event| match &event.body {
        EventBody::BeaconHeard(it) => it.mmsi.value() == of,
        EventBody::BeaconUpdate(it) => it.beacon.mmsi.value() == of,
        _ => false,
    })
}

#[test]
fn a_muted_identity_is_heard_and_silent() {
    let mut scene = Scene::new();
    assert_eq!(sounds(&scene.active("ais", STRANGER)).len(), 1);
    let ended = scene.mute(STRANGER);
    let is_end =
        |event: &Event| matches!(&event.body, EventBody::Alert(it) if it.state == State::Normal);
    assert!(ended.iter().any(is_end), "{ended:?}");
    assert_eq!(scene.watch.alerts().len(), 0);
    assert_eq!(scene.picture().muted, [Muted::Station(mmsi(STRANGER))]);
    // It goes on for minutes, calls by DSC, is heard by another receiver, and falls silent.
    let mut heard = false;
    for _ in 0..3 {
        scene.wait(60);
        let events = scene.active("ais", STRANGER);
        heard |= is_heard(&events, STRANGER);
        assert_eq!(sounds(&events), []);
        let call = format!("CDDSC,12,{STRANGER}0,12,10,26,1500000130,0201,,,S,");
        assert_eq!(sounds(&scene.line("vhf", &support::sealed(&call))), []);
        assert_eq!(sounds(&scene.active("masthead", STRANGER)), []);
    }
    assert!(heard, "its messages are told as before");
    let silent = scene.wait(400);
    assert_eq!(sounds(&silent), []);
    assert!(!silent.iter().any(|it| matches!(it.body, EventBody::Datum(_))), "{silent:?}");
    let picture = scene.picture();
    assert!(picture.beacons.iter().any(|it| it.mmsi() == Mmsi::new(STRANGER) && !it.casualty));
    // Another stranger is none of it.
    assert_eq!(sounds(&scene.active("ais", STRANGER + 1)).len(), 1);
}

#[test]
fn what_is_heard_again_alarms_at_once() {
    let mut scene = Scene::new();
    scene.active("ais", STRANGER);
    scene.mute(STRANGER);
    scene.active("ais", STRANGER);
    let events = scene.command(Command::Unmute);
    assert_eq!(sounds(&events), [(Cause::BeaconActive, Some(STRANGER))]);
    assert!(scene.picture().muted.is_empty());
}

#[test]
fn a_beacon_of_the_muster_is_never_muted() {
    let mut scene = Scene::new();
    scene.active("ais", MATE);
    scene.mute(MATE);
    assert_eq!(scene.emergencies(), [MATE]);
    assert!(scene.picture().muted.is_empty());
    // Nor one that enters the muster later.
    scene.active("ais", STRANGER);
    scene.mute(STRANGER);
    scene.active("ais", STRANGER);
    assert_eq!(scene.emergencies(), [MATE]);
    scene.watch.set(muster(&[MATE, STRANGER]));
    assert_eq!(sounds(&scene.told()), [(Cause::BeaconActive, Some(STRANGER))]);
    assert_eq!(scene.emergencies(), [MATE, STRANGER]);
    assert!(scene.picture().muted.is_empty());
}

#[test]
fn through_a_muted_input_the_muster_and_the_crew_alarm_as_ever() {
    let mut scene = Scene::new();
    for number in 0..300 {
        scene.active("bad", 972_100_000 + number);
    }
    assert!(scene.watch.alerts().iter().any(|it| it.text.starts_with("More than")));
    scene.mute_input("bad");
    assert_eq!(scene.watch.alerts().len(), 0, "{:?}", scene.watch.alerts());
    for number in 200..600 {
        let of = 972_100_000 + number;
        assert_eq!(sounds(&scene.active("bad", of)), []);
        let call = format!("CDDSC,12,{of}0,12,10,26,1500000130,0201,,,S,");
        assert_eq!(sounds(&scene.line("bad", &support::sealed(&call))), []);
        let text = support::text(211_000_000 + number, "MAYDAY");
        assert_eq!(sounds(&scene.line("bad", &support::vdm(&text, 'A'))), []);
    }
    assert_eq!(scene.watch.alerts().len(), 0, "{:?}", scene.watch.alerts());
    assert_eq!(sounds(&scene.active("bad", MATE)), [(Cause::BeaconActive, Some(MATE))]);
    let notice = support::sealed("IIMOB,00017,A,020000,1,0,020000,5000.000,N,00130.000,W,,,,0");
    let crew = sounds(&scene.line("bad", &notice));
    assert_eq!(crew, [(Cause::MobNotice, None)], "a crew alarm on board is about the crew");
    // That an input is muted is no reason not to miss it.
    let missed = scene.wait(70);
    assert!(missed.iter().any(|it| matches!(it.body, EventBody::InputState { .. })));
    assert!(scene.watch.alerts().iter().any(|it| it.cause == Cause::InputSilent));
}

/// What another input hears too is not muted, whichever was first.
#[test]
fn a_stranger_that_another_input_hears_alarms() {
    let mut scene = Scene::new();
    scene.line("bad", &support::vdm(&support::class_b(211_000_001, 50.0, -1.5), 'A'));
    scene.mute_input("bad");
    assert_eq!(sounds(&scene.active("bad", STRANGER)), []);
    assert_eq!(sounds(&scene.active("ais", STRANGER)).len(), 1, "the same transmission");
    scene.active("bad", STRANGER);
    assert_eq!(scene.emergencies(), [STRANGER]);
    let call = support::sealed("CDDSC,12,2190000030,12,05,00,0500000130,0211,,,S,");
    assert_eq!(sounds(&scene.line("bad", &call)), []);
    assert_eq!(sounds(&scene.line("vhf", &call)).len(), 1, "the same call");

    // What both heard before one of them was muted is not ended.
    let mut scene = Scene::new();
    scene.active("bad", STRANGER);
    scene.active("ais", STRANGER);
    scene.mute_input("bad");
    assert_eq!(scene.emergencies(), [STRANGER]);
}

#[test]
fn a_restart_ends_it_and_there_is_a_limit() {
    let mut scene = Scene::new();
    for number in 0..100 {
        scene.mute(972_100_000 + number);
    }
    assert_eq!(scene.picture().muted.len(), Muted::STATIONS_LIMIT);
    assert_eq!(sounds(&scene.active("ais", 972_100_099)).len(), 1);
    let mut scene = Scene::new();
    scene.watch.resume(LeftOpen::default(), scene.stamp());
    assert_eq!(sounds(&scene.active("ais", 972_100_000)).len(), 1);
}

#[test]
fn it_is_written_down_as_the_operators_act() {
    let mut scene = Scene::new();
    scene.active("ais", STRANGER);
    let entry = |scene: &Scene, command| {
        let entry = entry_of_act(command, Some("Skipper"), &scene.watch, scene.stamp());
        entry.map(|it| (it.text.clone(), it.details.clone(), it.mmsi))
    };
    let ais = scene.watch.input("ais");
    let [station, input] = [Muted::Station(mmsi(STRANGER)), Muted::Input(ais)];
    let details = |act| Details::Operator { act: Some(act), alert: None };
    let muted = |text: &str, of| Some((text.to_owned(), details(Act::Muted), of));
    let told = entry(&scene, Command::Mute(station));
    assert_eq!(told, muted("Muted: 972000091", Some(mmsi(STRANGER))));
    assert_eq!(entry(&scene, Command::Mute(input)), muted("Muted: input ais", None));
    let ours = Command::Mute(Muted::Station(mmsi(MATE)));
    assert_eq!(entry(&scene, ours), None, "what is not done is not written down");
    assert_eq!(entry(&scene, Command::Unmute), None);
    scene.mute(STRANGER);
    scene.mute_input("ais");
    let again = "Heard again, muted before: 972000091, input ais".to_owned();
    let again = Some((again, details(Act::Unmuted), None));
    assert_eq!(entry(&scene, Command::Unmute), again);
}
