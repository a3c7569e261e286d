//! The life of alerts over restarts and in any order of events.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::collections::BTreeMap;
use std::time::Duration;

use overside::advice::Advice;
use overside::logbook::{AlertChange, Draft, Entry, Moment};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    About, AlertId, AlertReport, BeaconView, Cause, Command, Declaration, Event, EventBody, Input,
    LeftOpen, Matter, Mode, OpenAlert, OpenBeacon, Priority, Settings, State, Watch,
};
use proptest::collection::vec;
use proptest::prelude::*;

const MATE: u32 = 972_000_017;
const SHIP: u32 = 211_000_001;

/// A watch, and what it told of each alert.
struct Scene {
    watch: Watch,
    at: Duration,
    told: BTreeMap<AlertId, AlertReport>,
    /// What it told last of the beacon.
    beacon: Option<OpenBeacon>,
    /// That the operator declared it safe.
    declared: Option<Declaration>,
    /// All that it told.
    bytes: String,
}

impl Scene {
    fn new() -> Self {
        Self {
            watch: Self::watch(),
            at: Duration::ZERO,
            told: BTreeMap::new(),
            beacon: None,
            declared: None,
            bytes: String::new(),
        }
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
            self.bytes += &serde_json::to_string(event).unwrap();
            let beacon = match &event.body {
                EventBody::Alert(alert) => {
                    self.told.insert(alert.id, alert.clone());
                    continue;
                }
                EventBody::BeaconHeard(beacon) => beacon,
                EventBody::BeaconUpdate(update) => &update.beacon,
                _ => continue,
            };
            let before = self.beacon.as_ref().filter(|before| before.mode == beacon.mode);
            self.beacon = Some(OpenBeacon {
                mmsi: beacon.mmsi,
                mode: beacon.mode,
                since: before.map_or(self.stamp(), |before| before.since),
                last: self.stamp(),
                position: beacon.position,
                fix_at: None,
                own_at_first: None,
                declared: None,
                joined: None,
            });
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
        self.at += Duration::from_secs(1);
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
        let body = Draft::of_event(&event, &moment, None).unwrap().body(1, None).unwrap();
        let draft = Entry::read(1, String::new(), &body).unwrap().draft;
        let AlertChange { alert: id, cause, priority, state, matter, .. } =
            draft.alert().unwrap().clone();
        OpenAlert {
            was: None,
            rehearsed: None,
            joined_by: None,
            id,
            cause,
            priority,
            rectified: state == State::RectifiedUnacknowledged,
            mmsi: draft.mmsi,
            text: draft.text,
            matter,
            raised: self.stamp().at,
            place: draft.position,
            heard: self.stamp().at,
            sentence: draft.sentences.first().cloned(),
        }
    }

    /// What the logbook keeps of the beacon: what it began to do later was not declared over.
    fn left(&self, beacon: &OpenBeacon) -> OpenBeacon {
        let declared = self.declared.filter(|it| beacon.since.at <= it.at);
        OpenBeacon { declared, ..beacon.clone() }
    }

    /// What this watch leaves open.
    fn left_open(&self) -> LeftOpen {
        let open = self.told.values().filter(|alert| alert.state != State::Normal);
        LeftOpen {
            alerts: open.map(|alert| self.open(alert)).collect(),
            beacons: self.beacon.iter().map(|it| self.left(it)).collect(),
            last_id: self.told.keys().last().map_or(0, |id| id.0),
        }
    }

    /// Another watch goes on with it.
    fn restart(&mut self) {
        let left = self.left_open();
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

/// The logbook cannot be read at the start, a test of the same crew alarm comes, and then the logbook
/// tells of an emergency.
#[test]
fn what_came_before_the_logbook_could_be_read_takes_the_place_of_nothing_more_urgent() {
    let mut scene = Scene::new();
    let body = "IIMOB,000FF,T,020000,1,0,020000,5000.000,N,00130.000,W,,,,0";
    scene.line(&support::sealed(body));
    assert_eq!(scene.count(Cause::MobNotice), 1);
    let open = OpenAlert {
        was: None,
        rehearsed: None,
        joined_by: None,
        id: AlertId(7),
        cause: Cause::MobNotice,
        priority: Priority::EmergencyAlarm,
        rectified: false,
        mmsi: None,
        text: "Person overboard: crew alarm 000FF".to_owned(),
        matter: Some(Matter::Notice(Some("000FF".to_owned()))),
        raised: scene.stamp().at,
        place: None,
        heard: scene.stamp().at,
        sentence: None,
    };
    let left = LeftOpen { alerts: vec![open], last_id: 7, ..LeftOpen::default() };
    let stamp = scene.stamp();
    scene.watch.resume(left, stamp);
    scene.drain();
    let priorities: Vec<_> = scene.watch.alerts().iter().map(|it| (it.id, it.priority)).collect();
    assert_eq!(priorities, [(AlertId(7), Priority::EmergencyAlarm)]);
}

/// One beacon is one person: it has taken the place of one point, is heard again before the logbook
/// tells so, and takes the other's no more. Found by a boat-year (seed 6184).
#[test]
fn a_beacon_that_took_one_point_takes_no_other_when_the_logbook_is_read_late() {
    let mut scene = Scene::new();
    scene.take(Step::Mark);
    scene.wait(4);
    scene.take(Step::Mark);
    scene.wait(100);
    scene.take(Step::Active);
    let marks = |scene: &Scene| {
        let emergencies = scene.emergencies();
        emergencies.iter().filter(|(_, cause)| *cause == Cause::OverboardMarked).count()
    };
    assert_eq!(marks(&scene), 1);
    let left = scene.left_open();
    scene.watch = Scene::watch();
    scene.wait(60);
    scene.take(Step::Active);
    let stamp = scene.stamp();
    scene.watch.resume(left, stamp);
    scene.drain();
    scene.take(Step::Active);
    assert_eq!(marks(&scene), 1, "{:?}", scene.watch.alerts());
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

/// An alert that was open.
fn open(id: u32, cause: Cause, matter: Option<Matter>, now: Stamp) -> OpenAlert {
    OpenAlert {
        was: None,
        rehearsed: None,
        joined_by: None,
        id: AlertId(id),
        cause,
        priority: Priority::Alarm,
        rectified: false,
        mmsi: None,
        text: "text".to_owned(),
        matter,
        raised: now.at,
        place: None,
        heard: now.at,
        sentence: None,
    }
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
            let open = OpenAlert { mmsi, matter, ..open(7, cause, None, scene.stamp()) };
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

/// What was open of the watch itself is over, and told so: no alert stays open in the book for ever.
#[test]
fn what_is_about_things_ends_with_a_restart_and_is_told() {
    for cause in causes().into_iter().filter(|cause| !cause.is_about_people()) {
        let mut scene = Scene::new();
        let open = open(7, cause, None, scene.stamp());
        let left = LeftOpen { alerts: vec![open], beacons: Vec::new(), last_id: 7 };
        scene.watch.resume(left, scene.stamp());
        scene.drain();
        assert_eq!(scene.told[&AlertId(7)].state, State::Normal, "{cause:?}");
    }
}

#[test]
fn every_point_goes_on_over_a_restart_whatever_the_limit_and_none_shares_a_number() {
    let mut scene = Scene::new();
    scene.command(Command::MarkOverboard);
    let matters = [5, 1, 5, u16::MAX].map(Some).into_iter().chain([None; 20]);
    let alerts = (10..).zip(matters).map(|(id, number)| {
        open(id, Cause::OverboardMarked, number.map(Matter::Mark), scene.stamp())
    });
    let left = LeftOpen { alerts: alerts.collect(), beacons: Vec::new(), last_id: 40 };
    scene.watch.resume(left, scene.stamp());
    scene.drain();
    let found: BTreeMap<AlertId, Matter> =
        scene.watch.alerts().iter().map(|it| (it.id, it.matter.clone())).collect();
    let ids: Vec<u32> = found.keys().map(|id| id.0).collect();
    assert_eq!(ids, [1].into_iter().chain(10..34).collect::<Vec<_>>());
    assert_eq!(found[&AlertId(10)], Matter::Mark(5), "it keeps its number");
    let numbers: std::collections::HashSet<&Matter> = found.values().collect();
    assert_eq!(numbers.len(), found.len(), "{found:?}");
}

/// What is told at the same moment is not told after it.
#[test]
fn a_beacon_that_was_active_already_takes_no_points_place() {
    let mut scene = Scene::new();
    scene.status(14);
    scene.watch.handle(Input::Command { stamp: scene.stamp(), command: Command::MarkOverboard });
    scene.status(14);
    scene.status(14);
    assert_eq!(scene.count(Cause::OverboardMarked), 1);
}

/// Nor one whose emergency is open, though it has said TEST since.
#[test]
fn nor_does_one_that_was_active_before_a_restart() {
    let wait = Step::Wait(8 * 60);
    judge(&[Step::Active, wait, Step::Test, Step::Mark, Step::Restart, Step::Active]);
}

/// A DSC call has cancelled it, and its other identity is no mode.
#[test]
fn what_was_cancelled_before_a_restart_is_judged_afresh() {
    const EPIRB: u32 = 974_000_094;
    let mut scene = Scene::new();
    scene.line(&support::vdm(&support::position(EPIRB, 14, Some((50.0, -1.5)), 17), 'A'));
    scene.line(&support::sealed("CDDSC,16,9740000940,12,10,26,1500100500,1349,9740000940,10,S,"));
    scene.restart();
    scene.line(&support::vdm(&support::text(EPIRB, "1D0A2B3C4D5E6F7"), 'A'));
    let emergency = scene.watch.alerts().iter().find(|it| it.cause == Cause::BeaconActive);
    assert_eq!(emergency.unwrap().state, State::RectifiedUnacknowledged);
    scene.line(&support::vdm(&support::position(EPIRB, 14, Some((50.0, -1.5)), 17), 'A'));
    let emergency = scene.watch.alerts().iter().find(|it| it.cause == Cause::BeaconActive);
    assert_eq!(emergency.unwrap().state, State::ActiveUnacknowledged);
}

/// What the logbook says of an alert is read by later versions: these forms stay.
#[test]
fn the_written_form_of_a_matter_stays() {
    let mmsi = Mmsi::new(MATE).unwrap();
    for (matter, form) in [
        (Matter::Emergency(mmsi), r#"{"emergency":972000017}"#),
        (Matter::Distress(None), r#"{"distress":null}"#),
        (Matter::UnnamedRelay(Some(mmsi)), r#"{"unnamed_relay":972000017}"#),
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

// ---- the life of one incident, in every order ----------------------------------------------------

/// What can happen to one person and the watch.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    Active,
    Test,
    Undefined,
    Off,
    Call,
    CallCancelled,
    Mark,
    Part,
    Restart,
    Acknowledge,
    Silence,
    Resolve,
    Wait(u64),
}

const STEPS: [Step; 16] = [
    Step::Active,
    Step::Test,
    Step::Undefined,
    Step::Off,
    Step::Call,
    Step::CallCancelled,
    Step::Mark,
    Step::Part,
    Step::Restart,
    Step::Acknowledge,
    Step::Silence,
    Step::Resolve,
    Step::Wait(30),
    Step::Wait(5 * 60),
    Step::Wait(8 * 60),
    Step::Wait(10 * 60),
];

impl Scene {
    fn status(&mut self, status: u8) {
        self.line(&support::vdm(&support::position(MATE, status, Some((50.0, -1.5)), 17), 'A'));
    }

    fn take(&mut self, step: Step) {
        match step {
            Step::Active => self.status(14),
            Step::Undefined => self.status(15),
            Step::Test => drop(self.line(&support::vdm(&support::text(MATE, "MOB TEST"), 'A'))),
            Step::Off => drop(self.line(&support::vdm(&support::text(MATE, "MOB OFF"), 'A'))),
            Step::Call => drop(self.line(&support::sealed(CALL))),
            Step::CallCancelled => drop(self.line(&support::sealed(CANCELLED))),
            Step::Mark => drop(self.command(Command::MarkOverboard)),
            Step::Part => drop(self.command(Command::Part(Mmsi::new(MATE).unwrap()))),
            Step::Restart => self.restart(),
            Step::Acknowledge => self.act(Command::Acknowledge),
            Step::Silence => self.act(Command::Silence),
            Step::Resolve => self.act(Command::Resolve),
            Step::Wait(seconds) => {
                self.at += Duration::from_secs(seconds);
                self.watch.handle(Input::Tick { stamp: self.stamp() });
                self.drain();
            }
        }
    }

    /// On the most urgent alert, the first of them.
    fn act(&mut self, command: fn(AlertId) -> Command) {
        let alerts = self.watch.alerts().iter().rev();
        let worst = alerts.max_by_key(|alert| alert.priority).map(|alert| alert.id);
        if let Some(id) = worst {
            let about = self.watch.alerts().iter().find(|it| it.id == id).and_then(|it| it.mmsi);
            self.command(command(id));
            if let (Command::Resolve(_), Some(_)) = (command(id), about) {
                self.declared = Some(Declaration::new(self.stamp().at, None));
            }
        }
    }

    /// The emergencies whose condition stands.
    fn emergencies(&self) -> Vec<(AlertId, Cause)> {
        let alerts = self.watch.alerts().iter();
        let active = alerts.filter(|it| it.is_active() && it.priority == Priority::EmergencyAlarm);
        active.map(|alert| (alert.id, alert.cause)).collect()
    }
}

const CALL: &str = "CDDSC,12,9720000170,12,10,26,1500000130,0201,,,S,";
/// The beacon cancels its own call (M.493: the caller is the casualty). A coast station that says the
/// same acknowledges.
const CANCELLED: &str = "CVDSC,16,9720000170,12,10,26,1500000130,0201,9720000170,10,S,";

/// Nothing but OFF, a DSC cancel and the operator ends an emergency; only another one of the same
/// person takes its place, as it opens.
fn judge(path: &[Step]) {
    let mut scene = Scene::new();
    let mut resolved = false;
    let mut declared: Option<Duration> = None;
    // When the beacon was heard ACTIVE first since it was switched off, and each point was set.
    let mut active = None;
    let mut marked = BTreeMap::new();
    for (done, &step) in path.iter().enumerate() {
        let before = scene.emergencies();
        let told = scene.told.clone();
        scene.take(step);
        let after = scene.emergencies();
        let what = || format!("{:?}: {before:?}, {after:?}", &path[..=done]);
        resolved |= step == Step::Resolve;
        match step {
            Step::Active => active = active.or(Some(done)),
            Step::Off | Step::CallCancelled => active = None,
            _ => {}
        }
        for (id, _) in after.iter().filter(|(_, it)| *it == Cause::OverboardMarked) {
            marked.entry(*id).or_insert(done);
        }
        for (id, cause) in &before {
            let goes_on = after.iter().any(|(other, _)| other == id);
            let over = match step {
                Step::Off | Step::CallCancelled => *cause != Cause::OverboardMarked,
                Step::Resolve => true,
                _ => false,
            };
            let beacon = after.iter().any(|(_, cause)| *cause == Cause::BeaconActive);
            let replaced = match cause {
                Cause::BeaconActive => false,
                Cause::OverboardMarked => beacon && (resolved || active > marked.get(id).copied()),
                _ => beacon,
            };
            assert!(goes_on || over || replaced, "{}", what());
        }
        if step == Step::CallCancelled {
            let left = after.iter().all(|(_, cause)| *cause == Cause::OverboardMarked);
            assert!(left, "a cancel that ends nothing: {}", what());
        }
        if step == Step::Part {
            // The point is open again, and nothing else is gone.
            assert!(before.iter().all(|it| after.contains(it)), "{}", what());
        }
        if step == Step::Mark {
            assert!(after.iter().any(|(_, it)| *it == Cause::OverboardMarked), "{}", what());
        }
        if [Step::Active, Step::Call].contains(&step) && !resolved {
            let people = [Cause::BeaconActive, Cause::DscDistress];
            let open = after.iter().filter(|(_, cause)| people.contains(cause)).count();
            assert_eq!(open, 1, "one incident, one emergency: {}", what());
        }
        if after.iter().any(|(_, cause)| *cause == Cause::BeaconActive) {
            assert!(scene.mate().casualty, "an emergency, and nobody to be found: {}", what());
        }
        if step == Step::Resolve {
            declared = Some(scene.at);
        }
        let lately = declared.is_some_and(|at| scene.at - at <= Duration::from_secs(10 * 60));
        if step == Step::Active && !lately {
            let open = after.iter().any(|(_, cause)| *cause == Cause::BeaconActive);
            assert!(open, "still ACTIVE ten minutes after it was declared safe: {}", what());
        }
        for (id, alert) in &scene.told {
            let known = told.get(id);
            let higher = known.is_none_or(|known| known.priority <= alert.priority);
            let same = known.is_none_or(|known| known.cause == alert.cause);
            assert!(higher && same, "{id:?} came again or fell: {}", what());
        }
    }
}

/// Every order of four things after an emergency has begun in each of three ways.
#[test]
fn no_order_of_events_ends_an_emergency() {
    for begun in [Step::Active, Step::Call, Step::Mark] {
        for first in STEPS {
            for second in STEPS {
                for third in STEPS {
                    judge(&[begun, first, second, third]);
                }
            }
        }
    }
}

// ---- declared safe, and still ACTIVE ------------------------------------------------------------

impl Scene {
    /// The ship, and so many hundredths of a mile north of her the mate's beacon.
    fn mate_off(&mut self, hundredths: u32) {
        self.own();
        let lat = 50.0 + f64::from(hundredths) / 6000.0;
        let message = support::position(MATE, 14, Some((lat, -1.5)), 17);
        self.line(&support::vdm(&message, 'A'));
    }

    fn own(&mut self) {
        let place = support::nmea_position(50.0, -1.5);
        self.line(&support::sealed(&format!("GPGLL,{place},020000,A,A")));
    }

    fn wait(&mut self, seconds: u64) {
        self.take(Step::Wait(seconds));
    }

    /// The mate at 0.97 NM, declared safe by mistake, and a minute later heard again.
    fn declared() -> Self {
        let mut scene = Self::new();
        scene.mate_off(97);
        scene.act(Command::Resolve);
        scene.wait(60);
        scene.mate_off(97);
        assert_eq!(scene.emergencies(), [], "{:?}", scene.told);
        scene
    }

    fn mate(&self) -> BeaconView {
        self.watch.picture(self.stamp()).beacons.remove(0)
    }

    /// The text of the one emergency, which is no alert from before.
    fn again(&self, before: u32) -> String {
        let open = self.emergencies();
        assert!(
            matches!(open[..], [(AlertId(id), Cause::BeaconActive)] if id > before),
            "{open:?}"
        );
        self.told[&open[0].0].text.clone()
    }
}

#[test]
fn who_is_declared_safe_stays_in_the_picture_while_the_beacon_goes_on() {
    let mut scene = Scene::declared();
    assert!(scene.mate().declared.is_some() && !scene.mate().casualty);
    let headline = Advice::of(&scene.watch.picture(scene.stamp()), None).headline();
    assert_eq!(headline, "MATE declared safe; the beacon is still ACTIVE 0.97 NM");
    scene.wait(4 * 60);
    assert!(scene.mate().declared.is_some());
    // Silence ends it, and nothing comes by the time alone.
    scene.wait(60);
    assert_eq!(scene.mate().declared, None);
    scene.wait(2 * 3600);
    assert_eq!(scene.emergencies(), []);
    let words = overside::advice::all_declared_safe(&scene.watch.picture(scene.stamp())).count();
    assert_eq!(words, 0);
    scene.mate_off(97);
    scene.again(1);

    let mut scene = Scene::declared();
    scene.take(Step::Off);
    assert_eq!(scene.mate().declared, None);
}

#[test]
fn who_is_to_be_declared_safe_is_asked_about_with_what_the_beacon_does() {
    let mut scene = Scene::new();
    scene.mate_off(97);
    let said = |scene: &Scene| overside::advice::still_heard(&scene.mate());
    assert_eq!(said(&scene).unwrap(), "The beacon is still ACTIVE 0.97 NM away.");
    scene.wait(6 * 60);
    assert_eq!(said(&scene).unwrap(), "The signal is lost, last 0.97 NM away.");
    scene.take(Step::Off);
    assert_eq!(said(&scene), None);
}

#[test]
fn when_nothing_is_heard_for_long_it_is_said_for_how_long() {
    let mut scene = Scene::new();
    scene.take(Step::Test);
    let quiet = |scene: &mut Scene| {
        scene.line(&support::vdm(&support::position(232_000_001, 0, None, 17), 'A'));
        scene.act(Command::Acknowledge);
        Advice::of(&scene.watch.picture(scene.stamp()), None).headline()
    };
    scene.wait(30 * 60);
    assert_eq!(quiet(&mut scene), "Listening. TEST heard 31 min ago.");
    scene.wait(90 * 60);
    assert_eq!(quiet(&mut scene), "Listening. Nothing heard for 2 h 01 min.");
}

/// After eight minutes of TEST alone the mode is TEST, and the emergency stays: whoever is meant is
/// still to be found, and missed when nothing more is heard (contract: after 8 min of TEST alone).
#[test]
fn whoever_is_in_an_open_emergency_stays_a_casualty_though_the_beacon_says_test() {
    let mut scene = Scene::new();
    scene.mate_off(97);
    let emergency = scene.emergencies();
    scene.wait(9 * 60);
    scene.take(Step::Test);
    assert_eq!((scene.mate().mode, scene.emergencies()), (Some(Mode::Test), emergency));
    assert!(scene.mate().casualty);
    scene.wait(6 * 60);
    assert!(scene.mate().casualty && scene.mate().silent);
    // After the operator's word a TEST is a test.
    scene.mate_off(97);
    scene.act(Command::Resolve);
    scene.wait(9 * 60);
    scene.take(Step::Test);
    assert!(!scene.mate().casualty, "{:?}", scene.watch.alerts());
    // And after a cancel by DSC.
    scene.mate_off(97);
    assert!(scene.mate().casualty);
    scene.take(Step::CallCancelled);
    scene.wait(9 * 60);
    scene.take(Step::Test);
    assert!(!scene.mate().casualty, "{:?}", scene.watch.alerts());
}

/// A lesser alert of the same beacon is over, and the emergency is not.
#[test]
fn a_lesser_alert_that_is_declared_over_leaves_a_casualty_one() {
    let mut scene = Scene::new();
    scene.mate_off(97);
    let emergency = scene.emergencies();
    scene.wait(9 * 60);
    scene.line(&support::vdm(&support::text(MATE, "MOB ACT"), 'A'));
    assert!(scene.mate().casualty);
    let lesser =
        scene.watch.alerts().iter().find(|it| {
            it.cause == Cause::BeaconUnverified && it.priority < Priority::EmergencyAlarm
        });
    let lesser = lesser.map(|it| it.id).unwrap();
    scene.command(Command::Resolve(lesser));
    assert_eq!(scene.emergencies(), emergency);
    assert!(scene.mate().casualty && scene.mate().declared.is_none());
}

#[test]
fn who_is_declared_safe_and_still_active_after_ten_minutes_is_an_emergency_again() {
    let mut scene = Scene::declared();
    for minute in 2..10 {
        scene.wait(53);
        scene.mate_off(97);
        assert_eq!(scene.emergencies(), [], "minute {minute}");
    }
    let due = scene.watch.next_deadline().unwrap().since(Mono::START);
    assert!(due < scene.at + Duration::from_secs(180), "{due:?}");
    scene.own();
    scene.wait(180);
    let text = scene.again(1);
    assert_eq!(
        text,
        "Mate (972000017): declared safe 10 min ago, still ACTIVE 0.97 NM away, bearing 000°T"
    );
    assert!(scene.mate().casualty && scene.mate().declared.is_none());
    // And the same clock begins again.
    scene.act(Command::Resolve);
    for _ in 0..9 {
        scene.wait(60);
        scene.mate_off(97);
        assert_eq!(scene.emergencies(), []);
    }
    scene.wait(60);
    scene.again(2);
}

#[test]
fn who_is_declared_safe_and_drifts_away_is_an_emergency_again() {
    let mut scene = Scene::declared();
    scene.mate_off(116);
    assert_eq!(scene.emergencies(), []);
    scene.mate_off(118);
    let text = scene.again(1);
    assert!(
        text.starts_with("Mate (972000017): declared safe 2 min ago, still ACTIVE 1.18 NM"),
        "{text}"
    );
    // The ship may be what moves.
    let mut scene = Scene::declared();
    let place = support::nmea_position(49.99, -1.5);
    scene.line(&support::sealed(&format!("GPGLL,{place},020000,A,A")));
    scene.again(1);
}

#[test]
fn who_is_declared_safe_comes_back_over_a_restart_too() {
    let mut scene = Scene::declared();
    scene.restart();
    assert!(scene.mate().declared.is_some());
    scene.wait(4 * 60);
    scene.mate_off(97);
    assert_eq!(scene.emergencies(), []);
    scene.restart();
    scene.wait(4 * 60);
    scene.mate_off(97);
    assert_eq!(scene.emergencies(), []);
    scene.wait(60);
    scene.again(1);
}

// ---- the same, longer and by chance --------------------------------------------------------------

fn step() -> impl Strategy<Value = Step> {
    (0..STEPS.len()).prop_map(|place| STEPS[place])
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 256,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_long_order_of_events_ends_an_emergency(path in vec(step(), 1..24)) {
        judge(&path);
    }

    /// Whoever keeps the last word of each alert knows what is open.
    #[test]
    fn what_was_told_is_what_is_open(path in vec(step(), 1..24)) {
        let mut scene = Scene::new();
        for step in path {
            scene.take(step);
            let told = scene.told.values().filter(|alert| alert.state != State::Normal);
            let told: Vec<_> = told.map(|it| (it.id, it.priority, it.state)).collect();
            let open = scene.watch.alerts().iter();
            let mut open: Vec<_> = open.map(|it| (it.id, it.priority, it.state)).collect();
            open.sort_by_key(|it| it.0);
            prop_assert_eq!(told, open, "{:?}", step);
        }
    }

    /// A tick at every deadline tells nothing else than none at all.
    #[test]
    fn ticks_change_nothing(path in vec(step(), 1..24)) {
        let run = |ticked: bool| {
            let mut scene = Scene::new();
            for &step in path.iter().filter(|&&step| step != Step::Restart) {
                let begun = scene.at;
                if let (Step::Wait(seconds), true) = (step, ticked) {
                    let until = Mono::START + begun + Duration::from_secs(seconds);
                    let due = |scene: &Scene| scene.watch.next_deadline().filter(|&it| it < until);
                    while let Some(due) = due(&scene) {
                        scene.at = due.since(Mono::START);
                        scene.watch.handle(Input::Tick { stamp: scene.stamp() });
                        scene.drain();
                    }
                }
                scene.at = begun;
                scene.take(step);
            }
            scene.bytes
        };
        prop_assert_eq!(run(true), run(false));
    }
}
