//! What is rehearsed alarms like anything else and is told as what it is; and nothing rehearsed touches
//! who is really in danger.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Alert, Cause, Command, Input, Rehearsed, Settings, State, Watch};

const MATE: u32 = 972_000_017;
const HERE: (f64, f64) = (57.70, 10.58);
const CALL: &str = "CDDSC,12,9720000170,12,10,26,9999999999,8888,,,S,";
/// The beacon cancels its own call (M.493: the caller is the casualty). A coast station that says the
/// same acknowledges.
const CANCELLED: &str = "CVDSC,16,9720000170,12,10,26,1500000130,0201,9720000170,10,S,";
const DRILL: Option<&str> = Some("DRILL");
const REALLY: Option<&str> = None;

struct Scene {
    watch: Watch,
    at: Duration,
}

impl Scene {
    fn new() -> Self {
        let muster = [(Mmsi::new(MATE).unwrap(), Some("Mate".to_owned()))].into();
        let watch = Watch::new(Settings { muster, ..Settings::default() });
        Self { watch, at: Duration::from_secs(1) }
    }

    fn stamp(&self) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + self.at, utc: begin.plus(self.at) }
    }

    /// A line two seconds later, by this input, marked with this word.
    fn line_by(&mut self, input: &str, mark: Option<&str>, sentence: &str) {
        self.at += Duration::from_secs(2);
        let tag = mark.map_or_else(String::new, |mark| support::tag(&format!("s:ais,t:{mark}")));
        let (stamp, input) = (self.stamp(), self.watch.input(input));
        let line = format!("{tag}{sentence}");
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
    }

    fn line(&mut self, mark: Option<&str>, sentence: &str) {
        self.line_by("ais", mark, sentence);
    }

    fn active(&mut self, mark: Option<&str>) {
        self.line(mark, &support::vdm(&support::position(MATE, 14, Some(HERE), 17), 'A'));
    }

    fn says(&mut self, mark: Option<&str>, text: &str) {
        self.line(mark, &support::vdm(&support::text(MATE, text), 'A'));
    }

    fn acknowledge(&mut self) {
        self.at += Duration::from_secs(1);
        let all: Vec<_> = self.watch.alerts().iter().map(|it| it.id).collect();
        for id in all {
            let stamp = self.stamp();
            self.watch.handle(Input::Command { stamp, command: Command::Acknowledge(id) });
        }
    }

    fn alert(&self, cause: Cause) -> Option<&Alert> {
        self.watch.alerts().iter().find(|it| it.cause == cause)
    }

    fn emergency(&self) -> &Alert {
        self.alert(Cause::BeaconActive).expect("there is an emergency")
    }

    /// How the beacon is rehearsed, and all that is shown.
    fn rehearsed(&self) -> [Option<Rehearsed>; 2] {
        let picture = self.watch.picture(self.stamp());
        [picture.beacons.first().and_then(|it| it.rehearsed), picture.rehearsed]
    }
}

#[test]
fn a_rehearsed_emergency_sounds_and_is_told_as_what_it_is() {
    for (mark, word) in [("DRILL", Rehearsed::Drill), ("REHEARSAL", Rehearsed::Rehearsal)] {
        let mut scene = Scene::new();
        scene.active(Some(mark));
        assert_eq!(scene.emergency().state, State::ActiveUnacknowledged);
        assert_eq!(scene.emergency().rehearsed, Some(word));
        assert_eq!(scene.rehearsed(), [Some(word); 2]);
        scene.says(Some(mark), "MOB OFF");
        assert!(!scene.emergency().is_active(), "what was rehearsed ends as it began");
    }
}

#[test]
fn a_real_message_takes_over_from_a_rehearsed_one() {
    let mut scene = Scene::new();
    scene.active(DRILL);
    scene.acknowledge();
    let (rehearsed, state) = (scene.emergency().id, scene.emergency().state);
    assert_eq!(state, State::ActiveAcknowledged);
    scene.active(REALLY);
    let real = scene.emergency();
    assert_ne!(real.id, rehearsed, "the word said to the drill does not hold for it");
    assert_eq!((real.state, real.rehearsed), (State::ActiveUnacknowledged, None));
    assert_eq!(scene.rehearsed(), [None, None]);
    // And the drill goes on.
    scene.active(DRILL);
    assert_eq!(scene.emergency().rehearsed, None);
    assert_eq!(scene.rehearsed(), [None, None]);
}

#[test]
fn a_beacon_declared_safe_in_a_drill_alarms_when_it_is_real() {
    let mut scene = Scene::new();
    scene.active(DRILL);
    let id = scene.emergency().id;
    scene.at += Duration::from_secs(1);
    let stamp = scene.stamp();
    scene.watch.handle(Input::Command { stamp, command: Command::Resolve(id) });
    scene.active(REALLY);
    assert_eq!(scene.emergency().state, State::ActiveUnacknowledged);
    assert_eq!(scene.emergency().rehearsed, None);
}

#[test]
fn nothing_rehearsed_ends_or_moves_a_real_emergency() {
    let mut scene = Scene::new();
    scene.active(REALLY);
    let id = scene.emergency().id;
    let place = scene.watch.picture(scene.stamp()).beacons[0].position;
    assert!(place.is_some());
    scene.says(DRILL, "MOB OFF");
    scene.says(DRILL, "MOB CANCEL");
    scene.line(DRILL, &support::sealed(CANCELLED));
    let far = support::position(MATE, 15, Some((57.9, 10.9)), 17);
    scene.line(DRILL, &support::vdm(&far, 'B'));
    assert_eq!((scene.emergency().id, scene.emergency().state), (id, State::ActiveUnacknowledged));
    let picture = scene.watch.picture(scene.stamp());
    assert_eq!(picture.beacons[0].position, place, "and it is where it is");
    assert_eq!(scene.rehearsed(), [None, None]);
    // Nor does it take the casualty away when the beacon says TEST at last.
    scene.at += Duration::from_secs(9 * 60);
    scene.says(REALLY, "MOB TEST");
    assert!(scene.watch.picture(scene.stamp()).beacons[0].casualty);
    // The real one does.
    scene.says(REALLY, "MOB OFF");
    assert!(!scene.emergency().is_active());
}

#[test]
fn a_rehearsed_call_acknowledged_hides_no_real_beacon_and_no_real_call() {
    let mut scene = Scene::new();
    scene.line(DRILL, &support::sealed(CALL));
    scene.acknowledge();
    scene.active(REALLY);
    assert_eq!(scene.emergency().state, State::ActiveUnacknowledged);
    let mut scene = Scene::new();
    scene.line(DRILL, &support::sealed(CALL));
    scene.acknowledge();
    scene.line(REALLY, &support::sealed(CALL));
    let call = scene.watch.alerts().iter().find(|it| it.rehearsed.is_none());
    assert_eq!(call.expect("the real call is told").state, State::ActiveUnacknowledged);
}

/// A rehearsal that says the same as the air does not swallow it.
#[test]
fn a_real_message_is_no_repetition_of_a_rehearsed_one() {
    let mut scene = Scene::new();
    let text = support::vdm(&support::text(MATE, "MOB ACTIVE"), 'A');
    scene.line_by("loopback", DRILL, &text);
    scene.line_by("ais", REALLY, &text);
    assert_eq!(scene.emergency().rehearsed, None);
    assert_eq!(scene.rehearsed(), [None, None]);
}
