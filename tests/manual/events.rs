//! The table of events in `docs/reference.md` against one event of each kind.

use std::collections::BTreeMap;

use overside::mmsi::{BeaconKind, Mmsi};
use overside::navigation::{Basis, Pattern, Position};
use overside::time::{Mono, Utc};
use overside::units::{Degrees, Knots, NauticalMiles};
use overside::watch::{
    AlertReport, BeaconReport, BeaconUpdate, Cause, DatumReport, Event, EventBody, InputState,
    Known, Mode, Priority, ReachHour, Rehearsed, SearchReport, State, Summary, WayReport,
};
use overside::wire::nmea::Nmea;
use overside::wire::{Content, Decoder, InputId, checksum};

use crate::pages::{self, page, section};
use crate::reference::{Names, keys};

/// One event of each kind, with every key that it can have.
fn every_event() -> Vec<EventBody> {
    let mmsi = Mmsi::new(972_000_017).unwrap();
    let place = Position::new(57.7, 10.6);
    let (range_nm, bearing_deg) = (Some(NauticalMiles(1.0)), Some(Degrees::new(90.0)));
    let rehearsed = Some(Rehearsed::Drill);
    let beacon = BeaconReport {
        mmsi,
        kind: BeaconKind::Mob,
        mode: Mode::Active,
        person: None,
        position: place,
        fix_age_s: None,
        range_nm,
        bearing_deg,
        own: place,
        own_age_s: None,
        evidence: Vec::new(),
        heard_ago_s: Some(180),
        rehearsed,
    };
    let update = BeaconUpdate {
        beacon: beacon.clone(),
        messages_heard: 1,
        bursts_heard: 1,
        way: WayReport::default(),
    };
    let datum = DatumReport {
        mmsi: None,
        mark: Some(1),
        lat: 57.7,
        lon: 10.6,
        radius50_m: 100.0,
        radius95_m: 200.0,
        basis: Basis::Fixes,
        since_s: 60,
        set_deg: Degrees::new(0.0),
        rate_kn: Knots(1.0),
        range_nm,
        bearing_deg,
        text: String::new(),
    };
    let search = SearchReport {
        mmsi: None,
        mark: Some(1),
        pattern: Pattern::Square,
        size_nm: NauticalMiles(0.1),
        first_leg_deg: Degrees::new(0.0),
        sweep_width_nm: NauticalMiles(0.1),
        speed_kn: Knots(5.0),
        why: String::new(),
        assumed: String::new(),
        legs: Vec::new(),
    };
    let alert = AlertReport {
        id: serde_json::from_value(1.into()).unwrap(),
        cause: Cause::BeaconActive,
        priority: Priority::EmergencyAlarm,
        state: State::ActiveUnacknowledged,
        mmsi: None,
        text: String::new(),
        rehearsed,
        matter: None,
        known: Known::default(),
    };
    let summary = Summary {
        lines: 1,
        sentences: 1,
        messages: 1,
        rejects: 0,
        beacons: Vec::new(),
        alerts: 0,
        first: None,
        last: None,
        elapsed_s: 0,
    };
    let sentence = |line: &str| {
        let mut decoder = Decoder::new();
        match decoder.decode(InputId(0), Mono::START, line.as_bytes()).unwrap().unwrap().content {
            Content::Nmea(fact) => fact,
            other => panic!("{other:?}"),
        }
    };
    let call = "$CVDSC,12,9720001230,12,10,26,9999999999,8888,,,S,*37";
    let Nmea::Dsc(call) = sentence(call) else { panic!("{call}") };
    let notice = "$CVMOB,00A1B,A,120000.00,1,140626,120000.00,5742.07,N,01035.89,E,90.0,0.5,,0";
    let Nmea::Mob(notice) =
        sentence(&format!("{notice}*{:02X}", checksum(&notice.as_bytes()[1..])))
    else {
        panic!("{notice}")
    };
    vec![
        EventBody::BeaconHeard(beacon),
        EventBody::BeaconUpdate(update),
        EventBody::BeaconSilent { mmsi, last_heard: Utc::EPOCH, position: place, fix_age_s: None },
        EventBody::Datum(datum),
        EventBody::Search(search),
        EventBody::Passed { mmsi, range_nm: NauticalMiles(0.1) },
        EventBody::OverboardMarked { mark: 1, position: place },
        EventBody::Alert(alert),
        EventBody::DscCall(call),
        EventBody::MobNotice(notice),
        EventBody::SafetyText { mmsi, text: String::new(), addressed: false },
        EventBody::InputState {
            input: String::new(),
            state: InputState::Live,
            text: String::new(),
        },
        EventBody::Reach(Box::new(reach_hour())),
        EventBody::AwakePrompt { answer_within_s: 60 },
        EventBody::Logged {
            entry: 1,
            cause: Cause::BeaconActive,
            mmsi: None,
            state: State::Normal,
        },
        EventBody::Summary(summary),
    ]
}

/// An hour of which nothing is known.
fn reach_hour() -> ReachHour {
    let hour = serde_json::json!({
        "start": "2026-06-14T02:00:00.000Z", "stations": 0, "expected": 0, "received": 0,
        "minutes": 0, "why_not": "no_ais",
        "by_range": [], "by_sector": [], "by_channel": [], "by_input": [],
    });
    serde_json::from_value(hour).unwrap()
}

/// A kind of event that is not in [`every_event`] has to be told of here, too.
const fn is_told_of(event: &EventBody) -> bool {
    use EventBody as E;
    match event {
        E::BeaconHeard(_) | E::BeaconUpdate(_) | E::BeaconSilent { .. } | E::Datum(_) => true,
        E::Search(_) | E::Passed { .. } | E::OverboardMarked { .. } | E::Alert(_) => true,
        E::DscCall(_) | E::MobNotice(_) | E::SafetyText { .. } | E::InputState { .. } => true,
        E::Reach(_) | E::AwakePrompt { .. } | E::Logged { .. } | E::Summary(_) => true,
    }
}

#[test]
fn every_event_has_the_keys_that_are_told() {
    let page = page("docs/reference.md");
    let told: BTreeMap<String, Names> = pages::table(section(&page, "Events"), "event")
        .iter()
        .map(|row| (row.quoted(0)[0].clone(), row.quoted(2).into_iter().collect()))
        .collect();
    let mut made = BTreeMap::new();
    for body in every_event() {
        assert!(is_told_of(&body));
        let value = serde_json::to_value(Event { at: Utc::EPOCH, body }).unwrap();
        let mut keys = keys(&value);
        assert!(keys.remove("at") && keys.remove("event"));
        let name = value["event"].as_str().unwrap().to_owned();
        if name == "beacon_update" {
            // The page names them once.
            keys = keys.difference(&made["beacon_heard"]).cloned().collect();
            keys.insert("beacon_heard".to_owned());
        }
        made.insert(name, keys);
    }
    assert_eq!(told, made);
}
