//! The life of alerts over restarts and in any order of events.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::collections::BTreeMap;
use std::time::Duration;

use overside::logbook::{Draft, Moment};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    About, AlertId, AlertReport, Cause, Command, Event, EventBody, Input, LeftOpen, Matter,
    OpenAlert, Priority, Settings, State, Watch,
};

const MATE: u32 = 972_000_017;
const SHIP: u32 = 211_000_001;

/// A watch, and what it told of each alert.
struct Scene {
    watch: Watch,
    at: Duration,
    told: BTreeMap<AlertId, AlertReport>,
}

impl Scene {
    fn new() -> Self {
        Self { watch: Self::watch(), at: Duration::ZERO, told: BTreeMap::new() }
    }

    fn watch() -> Watch {
        let muster = [(Mmsi::new(MATE).unwrap(), Some("Mate".to_owned()))].into();
        Watch::new(Settings { muster, ..Settings::default() })
    }

    fn stamp(&self) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + self.at, utc: begin.plus(self.at) }
    }

    fn drain(&mut self) -> Vec<Event> {
        let events: Vec<Event> = std::iter::from_fn(|| self.watch.poll_output()).collect();
        for event in &events {
            if let EventBody::Alert(alert) = &event.body {
                self.told.insert(alert.id, alert.clone());
            }
        }
        events
    }

    fn line(&mut self, line: &str) -> Vec<Event> {
        self.at += Duration::from_secs(2);
        let (stamp, input) = (self.stamp(), self.watch.input("ais"));
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        self.drain()
    }

    fn command(&mut self, command: Command) -> Vec<Event> {
        self.watch.handle(Input::Command { stamp: self.stamp(), command });
        self.drain()
    }

    /// What the logbook keeps of an alert.
    fn open(&self, report: &AlertReport) -> OpenAlert {
        let moment = Moment {
            arrival: self.stamp().at,
            host: self.stamp().utc,
            gnss: None,
            own: None,
            own_age_s: None,
            sog: None,
            cog: None,
        };
        let event = Event { at: self.stamp().utc, body: EventBody::Alert(report.clone()) };
        let body = serde_json::to_string(&Draft::of_event(&event, &moment, None).unwrap()).unwrap();
        let draft: Draft = serde_json::from_str(&body).unwrap();
        OpenAlert {
            id: draft.alert.unwrap(),
            cause: draft.cause.unwrap(),
            priority: draft.priority.unwrap(),
            rectified: draft.state == Some(State::RectifiedUnacknowledged),
            mmsi: draft.mmsi,
            text: draft.text,
            matter: draft.key,
            raised: self.stamp().at,
            place: draft.position,
            sentence: draft.sentences.first().cloned(),
        }
    }

    /// Another watch goes on with what this one leaves open.
    fn restart(&mut self) {
        let open = self.told.values().filter(|alert| alert.state != State::Normal);
        let left = LeftOpen {
            alerts: open.map(|alert| self.open(alert)).collect(),
            beacons: Vec::new(),
            last_id: self.told.keys().last().map_or(0, |id| id.0),
        };
        self.watch = Self::watch();
        self.watch.resume(left, self.stamp());
        self.drain();
    }

    fn count(&self, cause: Cause) -> usize {
        self.watch.alerts().iter().filter(|alert| alert.cause == cause).count()
    }
}

fn crew_alarm(emitter: &str) -> String {
    support::sealed(&format!("IIMOB,{emitter},A,020000,1,0,020000,5000.000,N,00130.000,W,,,,0"))
}

#[test]
fn a_crew_alarm_sent_again_after_a_restart_is_the_same_emergency() {
    let mut scene = Scene::new();
    scene.line(&crew_alarm("000FF"));
    assert_eq!(scene.count(Cause::MobNotice), 1);
    scene.restart();
    scene.line(&crew_alarm("000FF"));
    assert_eq!(scene.count(Cause::MobNotice), 1);
    scene.line(&crew_alarm("000FE"));
    assert_eq!(scene.count(Cause::MobNotice), 2, "another emitter is another person");
}

#[test]
fn a_text_sent_again_after_a_restart_is_the_same_alert() {
    let mut scene = Scene::new();
    let mayday = support::vdm(&support::text(SHIP, "MAYDAY SINKING"), 'A');
    scene.line(&mayday);
    scene.restart();
    scene.line(&mayday);
    assert_eq!(scene.count(Cause::SafetyText), 1);
}

/// Every cause that there is, by the names that serde knows.
fn causes() -> Vec<Cause> {
    let why = serde_json::from_str::<Cause>("\"\"").unwrap_err().to_string();
    let names: Vec<&str> = why.split('`').skip(3).step_by(2).collect();
    assert!(names.contains(&"beacon_active") && names.contains(&"watchkeeper_silent"), "{why}");
    names.iter().map(|name| serde_json::from_value((*name).into()).unwrap()).collect()
}

/// Without what it was about, as in older entries, and for the one alert that is about no station.
#[test]
fn whatever_is_about_people_goes_on_over_a_restart() {
    for cause in causes() {
        for (mmsi, matter) in [
            (Mmsi::new(MATE), None),
            (None, Some(Matter::TooManyBeacons)),
            (Mmsi::new(MATE), Some(Matter::Notice(Some("17".to_owned())))),
        ] {
            let mut scene = Scene::new();
            let open = OpenAlert {
                id: AlertId(7),
                cause,
                priority: Priority::Alarm,
                rectified: false,
                mmsi,
                text: "text".to_owned(),
                matter,
                raised: scene.stamp().at,
                place: None,
                sentence: None,
            };
            let left = LeftOpen { alerts: vec![open], beacons: Vec::new(), last_id: 7 };
            scene.watch.resume(left, scene.stamp());
            let found: Vec<AlertId> = scene.watch.alerts().iter().map(|alert| alert.id).collect();
            let people = cause.policy().about == About::People;
            assert_eq!(found, if people { vec![AlertId(7)] } else { vec![] }, "{cause:?}");
        }
    }
}

#[test]
fn more_beacons_than_can_be_followed_are_one_alert_over_a_restart() {
    let mut scene = Scene::new();
    let status =
        |number: u32| support::vdm(&support::position(972_100_000 + number, 0, None, 17), 'A');
    let flood = |scene: &Scene| {
        scene.watch.alerts().iter().filter(|it| it.matter == Matter::TooManyBeacons).count()
    };
    for number in 0..300 {
        scene.line(&status(number));
    }
    assert_eq!(flood(&scene), 1);
    scene.restart();
    assert_eq!(flood(&scene), 1);
    for number in 300..600 {
        scene.line(&status(number));
    }
    assert_eq!(flood(&scene), 1);
    let alert = scene.watch.alerts().iter().find(|it| it.matter == Matter::TooManyBeacons);
    let id = alert.unwrap().id;
    scene.command(Command::Resolve(id));
    assert_eq!(flood(&scene), 0);
}

/// What the logbook says of an alert is read by later versions: these forms stay.
#[test]
fn the_written_form_of_a_matter_stays() {
    let mmsi = Mmsi::new(MATE).unwrap();
    for (matter, form) in [
        (Matter::Emergency(mmsi), r#"{"emergency":972000017}"#),
        (Matter::Distress(None), r#"{"distress":null}"#),
        (Matter::Notice(Some("17".to_owned())), r#"{"notice":"17"}"#),
        (Matter::Mark(2), r#"{"mark":2}"#),
        (Matter::Text(Some(mmsi), "HELP".to_owned()), r#"{"text":[972000017,"HELP"]}"#),
        (Matter::TooManyBeacons, r#""too_many_beacons""#),
    ] {
        assert_eq!(serde_json::to_string(&matter).unwrap(), form);
        assert_eq!(serde_json::from_str::<Matter>(form).unwrap(), matter);
    }
}

/// Whatever a logbook says, numbers neither wrap nor come twice.
#[test]
fn the_highest_number_leaves_room_for_others() {
    let mut scene = Scene::new();
    let left = LeftOpen { last_id: u32::MAX, ..LeftOpen::default() };
    scene.watch.resume(left, scene.stamp());
    for emitter in 0..100 {
        scene.line(&crew_alarm(&format!("{emitter:05X}")));
    }
    let ids: Vec<AlertId> = scene.watch.alerts().iter().map(|alert| alert.id).collect();
    assert!(ids.len() == 100 && ids.windows(2).all(|pair| pair[0] < pair[1]), "{ids:?}");
}
