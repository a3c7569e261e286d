//! Floods of forged traffic: no table grows without end, and the casualty of the muster and the
//! earliest ones stay (issue: bounded tables; design, invariant 6).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    Cause, Command, Dropped, Event, EventBody, Input, Priority, Settings, Signal, State, Watch,
};

const MATE: u32 = 972_000_017;
const COOK: u32 = 972_000_018;
const SHIP: u32 = 200_000_000;
/// Room for some hundred beacons is plenty; the bounds asserted here are on the generous side.
const BEACONS_BOUND: usize = 512;
const ALERTS_BOUND: usize = 2048;

struct Scene {
    watch: Watch,
    at: Duration,
}

impl Scene {
    fn new() -> Self {
        Self::with(|_| {})
    }

    fn with(set: impl FnOnce(&mut Settings)) -> Self {
        let muster = [(MATE, "Mate"), (COOK, "Cook")];
        let muster = muster.map(|(mmsi, person)| (Mmsi::new(mmsi).unwrap(), person.to_owned()));
        let mut settings = Settings {
            muster: muster.into_iter().map(|(mmsi, person)| (mmsi, Some(person))).collect(),
            own_mmsi: Mmsi::new(SHIP),
            ..Settings::default()
        };
        set(&mut settings);
        Self { watch: Watch::new(settings), at: Duration::ZERO }
    }

    fn stamp(&self) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + self.at, utc: begin.plus(self.at) }
    }

    /// Feeds a line 13 ms after the one before, as fast as two channels carry them.
    fn line(&mut self, line: &str) -> Vec<Event> {
        self.at += Duration::from_micros(13_333);
        let (stamp, input) = (self.stamp(), self.watch.input("ais"));
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        std::iter::from_fn(|| self.watch.poll_output()).collect()
    }

    fn wait(&mut self, seconds: u64) -> Vec<Event> {
        self.at += Duration::from_secs(seconds);
        self.watch.handle(Input::Tick { stamp: self.stamp() });
        std::iter::from_fn(|| self.watch.poll_output()).collect()
    }

    fn status(&mut self, mmsi: u32, status: u8) -> Vec<Event> {
        self.line(&support::vdm(&support::position(mmsi, status, Some((50.0, -1.5)), 17), 'A'))
    }

    fn text(&mut self, mmsi: u32, text: &str) -> Vec<Event> {
        // Stations send on the two channels in turn.
        let channel = if mmsi.is_multiple_of(2) { 'A' } else { 'B' };
        self.line(&support::vdm(&support::text(mmsi, text), channel))
    }

    fn is_open(&self, mmsi: u32, cause: Cause) -> bool {
        let mut alerts = self.watch.alerts().iter();
        alerts.any(|a| a.mmsi == Mmsi::new(mmsi) && a.cause == cause && a.is_active())
    }

    fn heard(&self, mmsi: u32) -> Option<u32> {
        let summary = self.watch.summary();
        let beacon = summary.beacons.iter().find(|beacon| beacon.mmsi.value() == mmsi)?;
        Some(beacon.messages_heard)
    }

    #[track_caller]
    fn is_bounded(&self) {
        let (beacons, alerts) = (self.watch.summary().beacons.len(), self.watch.alerts().len());
        assert!(beacons <= BEACONS_BOUND && alerts <= ALERTS_BOUND, "{beacons}, {alerts}");
    }
}

fn forged(number: u32) -> u32 {
    972_100_000 + number
}

#[track_caller]
fn raised(events: &[Event], cause: Cause, priority: Priority) {
    let found = events.iter().any(|event| match &event.body {
        EventBody::Alert(alert) => {
            (alert.cause, alert.priority, alert.state)
                == (cause, priority, State::ActiveUnacknowledged)
        }
        _ => false,
    });
    assert!(found, "{events:?}");
}

/// Ten thousand forged identities of one kind, or of every kind in turn.
fn flood_of_beacons(kinds: &[u8]) {
    const TEST: u8 = 100;
    let mut scene = Scene::new();
    raised(&scene.status(MATE, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    raised(&scene.status(forged(0), 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    raised(&scene.status(forged(1), 0), Cause::BeaconUnverified, Priority::Warning);
    for number in 2..10_000 {
        match kinds[number as usize % kinds.len()] {
            TEST => scene.text(forged(number), "MOB TEST"),
            status => scene.status(forged(number), status),
        };
        if number % 1000 == 0 {
            scene.is_bounded();
        }
    }
    scene.is_bounded();
    for (mmsi, cause) in [
        (MATE, Cause::BeaconActive),
        (forged(0), Cause::BeaconActive),
        (forged(1), Cause::BeaconUnverified),
    ] {
        assert!(scene.is_open(mmsi, cause), "{mmsi} {cause:?} {kinds:?}");
        assert_eq!(scene.heard(mmsi), Some(1), "{mmsi} was forgotten, {kinds:?}");
    }
    // A beacon of the muster that is heard only now, and the first one going on.
    raised(&scene.status(COOK, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    assert_eq!(scene.heard(COOK), Some(1));
    scene.wait(60);
    scene.status(MATE, 14);
    assert_eq!(scene.heard(MATE), Some(2));
    scene.wait(301);
    assert!(scene.is_open(MATE, Cause::BeaconSilent), "{kinds:?}");
    assert!(scene.is_open(COOK, Cause::BeaconSilent), "{kinds:?}");
    assert!(scene.is_open(MATE, Cause::BeaconActive));
    scene.is_bounded();
}

#[test]
fn forged_beacons_push_nobody_out() {
    for kinds in [&[14, 15, 100, 0][..], &[14], &[15], &[100], &[0]] {
        flood_of_beacons(kinds);
    }
}

#[test]
fn a_flood_says_that_it_is_one() {
    let mut scene = Scene::new();
    let events: Vec<Event> =
        (0..2000).flat_map(|number| scene.status(forged(number), 14)).collect();
    let emergencies = events.iter().filter(|event| match &event.body {
        EventBody::Alert(alert) => alert.priority == Priority::EmergencyAlarm,
        _ => false,
    });
    assert!(emergencies.count() < BEACONS_BOUND, "at the limit no more are told one by one");
    let told = scene.watch.alerts().iter().any(|alert| alert.text.starts_with("More than"));
    assert!(told);
}

#[test]
fn forged_calls_hide_no_beacon_of_the_muster() {
    let mut scene = Scene::new();
    scene.status(MATE, 14);
    for number in 0..10_000 {
        let body = format!("CDDSC,12,{}0,12,10,26,1500000130,0201,,,S,", forged(number));
        scene.line(&support::sealed(&body));
    }
    scene.is_bounded();
    assert!(scene.is_open(MATE, Cause::BeaconActive));
    raised(&scene.status(COOK, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    assert!(scene.is_open(forged(0), Cause::DscDistress), "the earliest stays");
}

#[test]
fn texts_hide_neither_beacons_nor_a_deaf_receiver() {
    let mut scene = Scene::new();
    scene.status(forged(0), 0);
    for number in 0..10_000 {
        scene.text(211_000_000 + number, &format!("MAYDAY {number}"));
    }
    scene.is_bounded();
    assert!(scene.is_open(forged(0), Cause::BeaconUnverified), "the earliest stays");
    raised(&scene.status(forged(1), 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    raised(&scene.status(COOK, 0), Cause::BeaconUnverified, Priority::Alarm);
    raised(&scene.wait(61), Cause::InputSilent, Priority::Alarm);
    // When the texts are over, though nobody took note, the next one is raised again.
    scene.wait(600);
    raised(&scene.text(211_999_999, "MAYDAY MAYDAY"), Cause::SafetyText, Priority::Warning);
    scene.is_bounded();
}

#[test]
fn misuse_of_many_identities_is_bounded() {
    let mut scene = Scene::new();
    scene.status(MATE, 14);
    for number in 0..10_000 {
        scene.line(&support::vdm(&support::class_b(forged(number), 50.0, -1.5), 'A'));
    }
    scene.is_bounded();
    assert!(scene.is_open(MATE, Cause::BeaconActive));
    raised(&scene.status(COOK, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
}

/// Ships that are not there, each with its level, and alarms and alerts of a set without number: what
/// the set reports of itself is one alert a condition, and none of it ends, lowers or hides a casualty.
#[test]
fn forged_stations_levels_and_alerts_of_a_set_hide_no_casualty() {
    let mut scene = Scene::new();
    scene.status(MATE, 14);
    let sealed = |body: String| support::sealed(&body);
    for number in 0..10_000_u32 {
        let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
        let place = 50.0 + f64::from(number % 100) / 1000.0;
        scene.line(&support::vdm(&support::class_b(211_000_000 + number, place, -1.5), channel));
        scene.line(&sealed(format!(
            "AIVSI,x{number},{},,{},-{},",
            number % 10,
            number,
            number % 140
        )));
        let id = number % 100;
        let (state, holds) = [("V", "A"), ("N", "V"), ("U", "V"), ("A", "A")][number as usize % 4];
        scene.line(&sealed(format!("AIALR,,{id:03},{holds},V,MOB OFF {MATE}")));
        scene.line(&sealed(format!("AIALF,1,1,,,B,E,{state},,{id},{number},1,0,VSWR")));
        scene.line(&sealed(format!("AIALC,1,1,,1,,{id},{number},1")));
        scene.line(&sealed(format!("AIHBT,1.0,V,{}", number % 10)));
    }
    scene.is_bounded();
    let of_set = scene.watch.alerts().iter().filter(|it| it.cause == Cause::SetAlarm);
    assert!(of_set.clone().count() <= 8, "one a condition");
    assert!(of_set.clone().all(|it| it.priority == Priority::Warning));
    // The list of nothing, and every alarm over.
    scene.line(&sealed("AIALC,1,1,,0".to_owned()));
    for id in 0..1_000 {
        scene.line(&sealed(format!("AIALR,,{id:03},V,A,")));
    }
    let mate = scene.watch.alerts().iter().find(|it| it.mmsi == Mmsi::new(MATE)).unwrap();
    assert_eq!(
        (mate.cause, mate.priority, mate.state),
        (Cause::BeaconActive, Priority::EmergencyAlarm, State::ActiveUnacknowledged)
    );
    raised(&scene.status(COOK, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
    assert_eq!(scene.heard(MATE), Some(1));
}

#[test]
fn inputs_without_number_share_the_last_place() {
    let mut scene = Scene::new();
    let ids: Vec<u16> =
        (0..10_000).map(|number| scene.watch.input(&format!("forged {number}")).0).collect();
    assert!(ids.iter().all(|&id| id < 512));
    assert_eq!(scene.watch.input("forged 0").0, ids[0], "the earliest keep theirs");
    // An input beyond the limit is still heard.
    raised(&scene.status(MATE, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
}

fn call(caller: u32, nature: &str) -> String {
    support::sealed(&format!("CDDSC,12,{caller}0,12,{nature},26,1500000130,0201,,,S,"))
}

/// Emergencies, alarms or texts fill the table: what is worse is raised all the same, nothing of
/// the muster is ended, and it is told once.
#[test]
fn a_full_table_refuses_no_emergency_and_ends_nothing_of_the_muster() {
    type Line = fn(u32) -> String;
    let storms: [(&str, Line); 3] = [
        ("emergencies", |number| call(forged(10_000 + number), "10")),
        ("alarms", |number| call(211_000_000 + number, "05")),
        ("texts", |number| {
            support::vdm(&support::text(211_000_000 + number, "MAYDAY SINKING"), 'A')
        }),
    ];
    for (what, line) in storms {
        let mut scene = Scene::new();
        raised(&scene.status(COOK, 0), Cause::BeaconUnverified, Priority::Alarm);
        scene.text(MATE, "MOB TEST");
        let told: Vec<Event> = (0..1_100).flat_map(|number| scene.line(&line(number))).collect();
        let flood = told.iter().filter(|event| match &event.body {
            EventBody::Alert(alert) => alert.text.starts_with("More than"),
            _ => false,
        });
        assert_eq!(flood.count(), 1, "{what}");
        raised(&scene.status(forged(1), 14), Cause::BeaconActive, Priority::EmergencyAlarm);
        let events = scene.line(&call(forged(2), "10"));
        if what == "emergencies" {
            let one = |it: &overside::watch::Alert| it.text.starts_with("More than");
            let one = scene.watch.alerts().iter().find(|it| one(it)).unwrap();
            assert_eq!(one.priority, Priority::EmergencyAlarm, "it stands for all that follow");
        } else {
            raised(&events, Cause::DscDistress, Priority::EmergencyAlarm);
        }
        assert!(scene.is_open(COOK, Cause::BeaconUnverified), "{what}");
        assert!(scene.is_open(MATE, Cause::BeaconTest), "{what}");
        raised(&scene.status(MATE, 14), Cause::BeaconActive, Priority::EmergencyAlarm);
        scene.is_bounded();
    }
}

/// The crew's beacons call by DSC with the ship's own identity: a storm of strangers' calls refuses
/// neither their emergency nor ends what else is open of the ship.
#[test]
fn a_storm_of_calls_takes_nothing_from_the_ships_own() {
    let mut scene = Scene::new();
    let urgency = support::sealed(&format!("CDDSC,16,{SHIP}0,10,00,26,,,,,S,"));
    scene.line(&urgency);
    let open = scene.is_open(SHIP, Cause::DscUrgency);
    for number in 0..1_100 {
        scene.line(&call(forged(10_000 + number), "10"));
        scene.line(&call(211_000_000 + number, "05"));
    }
    raised(&scene.line(&call(SHIP, "10")), Cause::DscDistress, Priority::EmergencyAlarm);
    assert!(scene.is_open(SHIP, Cause::DscDistress));
    assert_eq!(scene.is_open(SHIP, Cause::DscUrgency), open);
    scene.is_bounded();
}

/// Of strangers the least urgent gives way, and of these the oldest.
#[test]
fn the_least_urgent_gives_way_and_of_these_the_oldest() {
    let mut scene = Scene::new();
    let [sailing, cautious, warning, alarm] = [211_000_000, 212_000_000, 213_000_000, 214_000_000];
    scene.text(cautious, "SAILING RACE");
    scene.text(cautious + 1, "SAILING RACE");
    scene.line(&call(alarm, "05"));
    for number in 0..1_021 {
        scene.text(warning + number, "MAYDAY");
    }
    let gone = |events: Vec<Event>| -> Vec<u32> {
        let ended = events.iter().filter_map(|event| match &event.body {
            EventBody::Alert(alert) if alert.state == State::Normal => alert.mmsi,
            _ => None,
        });
        ended.map(|mmsi| mmsi.value()).collect()
    };
    // A caution gives way to no other, but to the warning that tells of it.
    assert_eq!(gone(scene.text(sailing, "SAILING RACE")), [cautious]);
    assert_eq!(gone(scene.status(forged(1), 14)), [cautious + 1]);
    assert_eq!(gone(scene.line(&call(alarm + 1, "05"))), [warning]);
    assert_eq!(gone(scene.status(forged(2), 14)), [warning + 1]);
    assert!(scene.is_open(forged(1), Cause::BeaconActive));
}

/// One line whose time is a day later, with many silent casualties: what is told of them
/// is bounded, and it is the same whether or not the watch was ticked in between.
#[test]
fn a_day_without_a_line_is_told_in_few_datums() {
    const CASUALTIES: u32 = 24;
    let day = |ticked: bool| {
        let mut scene = Scene::new();
        for number in 0..CASUALTIES {
            scene.status(972_000_100 + number, 14);
        }
        let end = scene.at + Duration::from_secs(86_400);
        let mut events = Vec::new();
        while let Some(due) = scene.watch.next_deadline().filter(|_| ticked) {
            let due = due.since(Mono::START);
            if due >= end {
                break;
            }
            scene.at = due;
            events.extend(scene.wait(0));
        }
        scene.at = end;
        events.extend(scene.line("no sentence"));
        let datums = events.into_iter().filter_map(|event| match event.body {
            EventBody::Datum(datum) => Some((datum.mmsi, datum.since_s, datum.radius95_m)),
            _ => None,
        });
        datums.collect::<Vec<_>>()
    };
    let told = day(false);
    // For an hour a minute each, and after that each time the silence has grown by half.
    let each = told.len() / CASUALTIES as usize;
    assert!((56..66).contains(&each), "{each} datums of each casualty");
    assert!(told == day(true), "a watch that is ticked tells otherwise");
}

/// A tick may be as far ahead as time goes, as of a computer that slept or whose clock is broken:
/// with every beacon silent and every warning unacknowledged the work is bounded (the core counts its
/// steps in a test), no emergency is over, and whoever ticks on is told each minute again.
#[test]
fn a_jump_of_any_length_is_bounded_work_and_ends_no_emergency() {
    for live in [false, true] {
        let mut scene = Scene::with(|settings| settings.expects_inputs = live);
        scene.wait(3600);
        for number in 0..256 {
            scene.status(972_000_100 + number, 14);
        }
        let emergencies = |scene: &Scene| {
            let open = scene.watch.alerts().iter();
            open.filter(|it| it.priority == Priority::EmergencyAlarm && it.is_active()).count()
        };
        assert_eq!(emergencies(&scene), 256);
        for exponent in [4, 7, 11, 15] {
            let told = scene.wait(10_u64.pow(exponent)).len();
            assert!((256..256 * 130).contains(&told), "10^{exponent} s: {told} events");
            assert_eq!(emergencies(&scene), 256);
        }
    }
}

/// A live watch that is ticked tells where the silent are each minute, though no line comes for
/// hours; after a jump it tells it at once and then each minute.
#[test]
fn a_live_watch_without_lines_tells_a_datum_each_minute() {
    let mut scene = Scene::with(|settings| settings.expects_inputs = true);
    scene.status(MATE, 14);
    let mut hour = |jump: u64| {
        scene.wait(jump);
        let end = scene.at + Duration::from_secs(3600);
        let mut datums = 0;
        while let Some(due) = scene.watch.next_deadline() {
            scene.at = scene.at.max(due.since(Mono::START));
            if scene.at > end {
                break;
            }
            let events = scene.wait(0);
            datums += events.iter().filter(|it| matches!(it.body, EventBody::Datum(_))).count();
        }
        datums
    };
    hour(0);
    for jump in [0, 0, 0, 7200, 1_000_000] {
        let datums = hour(jump);
        assert!((59..=61).contains(&datums), "{datums} datums in an hour, after {jump} s");
    }
}

/// Datagrams that were lost make the input noisy, as a warning; a minute after the last it is sound
/// again, and how many were lost is told. Nothing is left unheard by it: it is no alarm.
#[test]
fn datagrams_that_were_lost_are_counted_and_told() {
    let mut scene = Scene::with(|settings| settings.expects_inputs = true);
    let input = scene.watch.input("ais");
    scene.watch.handle(Input::Opened { stamp: scene.stamp(), input });
    scene.status(972_001_000, 14);
    let mut told: Vec<(String, String)> = Vec::new();
    for second in 0..120 {
        if second < 5 {
            let dropped = Dropped { by_us: 1000, by_system: 7 };
            scene.watch.handle(Input::Dropped { stamp: scene.stamp(), input, dropped });
        }
        let heard = scene.status(972_001_000, 14);
        for event in heard.into_iter().chain(scene.wait(1)) {
            match event.body {
                EventBody::InputState { state, text, .. } => {
                    told.push((format!("{state:?}"), text));
                }
                EventBody::Alert(alert) if alert.cause == Cause::InputSilent => {
                    told.push((format!("{:?} {:?}", alert.priority, alert.state), alert.text));
                }
                _ => {}
            }
        }
    }
    let told: Vec<_> = told.iter().map(|(what, text)| (what.as_str(), text.as_str())).collect();
    let first = "flood: 1007 datagrams dropped, 7 of them by the system";
    let warning = format!("Input ais: {first}");
    assert_eq!(
        told,
        [
            ("Warning ActiveUnacknowledged", warning.as_str()),
            ("Noisy", first),
            ("Warning RectifiedUnacknowledged", warning.as_str()),
            ("Live", "live; in the flood 5035 datagrams dropped, 35 of them by the system"),
        ]
    );
}

/// In danger before over, the muster's before strangers', then the nearest, then the first.
#[test]
fn casualties_come_in_the_order_in_which_they_matter() {
    let mut scene = Scene::new();
    let heard = |scene: &mut Scene, mmsi: u32, status: u8, lat: f64| {
        scene.line(&support::vdm(&support::position(mmsi, status, Some((lat, -1.5)), 17), 'A'));
    };
    let here = Command::PlaceShip(Position::new(50.0, -1.5).unwrap());
    scene.watch.handle(Input::Command { stamp: scene.stamp(), command: here });
    heard(&mut scene, 972_000_201, 14, 50.4);
    heard(&mut scene, 972_000_202, 14, 50.1);
    heard(&mut scene, 972_000_203, 14, 50.1);
    heard(&mut scene, COOK, 15, 50.001);
    heard(&mut scene, MATE, 14, 50.9);
    let picture = scene.watch.picture(scene.stamp());
    let order: Vec<u32> =
        picture.beacons.iter().filter_map(|it| Some(it.mmsi()?.value())).collect();
    assert_eq!(order, [MATE, 972_000_202, 972_000_203, 972_000_201, COOK]);
}

/// What a self-test is judged by is there when it is asked for, whatever else is on the air; and for
/// a quarter of an hour alone.
#[test]
fn the_tests_of_the_muster_are_kept_for_a_while() {
    let mut scene = Scene::new();
    scene.watch.record_lately();
    for _ in 0..8 {
        scene.status(MATE, 15);
    }
    for number in 0..5_000 {
        scene.status(970_010_000 + number, 15);
    }
    let of_mate = |scene: &Scene| {
        let mate = Mmsi::new(MATE).unwrap();
        let received = scene.watch.received();
        received
            .iter()
            .filter(|it| matches!(it.signal, Signal::Beacon { mmsi, .. } if mmsi == mate))
            .count()
    };
    assert_eq!(of_mate(&scene), 8);
    assert!(scene.watch.received().len() <= 512, "{}", scene.watch.received().len());
    scene.wait(16 * 60);
    scene.status(COOK, 15);
    assert_eq!(scene.watch.received().len(), 1);
}
