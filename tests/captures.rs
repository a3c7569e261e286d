//! Real recordings through the core: whole days of traffic raise no emergency, the few real beacons
//! among them do, and how a recording is cut into reads changes nothing.
//!
//! The recordings lie in `../shared/captures`; `SOURCES.md` there says what is in each.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};
use std::time::Duration;

use overside::app::hear;
use overside::capture::Reader;
use overside::hearing::Hearing;
use overside::mmsi::Mmsi;
use overside::position::Position;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    AlertReport, Cause, Event, EventBody, Input, Mode, Priority, RangeCount, Settings, State,
    Summary, Watch,
};
use overside::wire::Splitter;

/// The events of a recording read `chunk` bytes at a time, and its totals.
fn replay(path: &Path, chunk: usize) -> (Vec<Event>, Summary) {
    replay_of(path, chunk, Settings::default(), |_| true)
}

/// The same of the lines that are heard.
fn replay_of(
    path: &Path,
    chunk: usize,
    settings: Settings,
    heard: fn(&[u8]) -> bool,
) -> (Vec<Event>, Summary) {
    let mut watch = Watch::new(settings);
    let mut reader = Reader::new(&mut watch, "recording");
    let mut splitter = Splitter::new();
    let mut events = Vec::new();
    let mut each = |line: &[u8]| {
        if !heard(line) {
            return;
        }
        let moment = reader.place(&mut watch, line);
        watch.handle(Input::Line { stamp: moment.stamp, input: moment.input, bytes: line });
        events.extend(std::iter::from_fn(|| watch.poll_output()));
    };
    for bytes in std::fs::read(path).unwrap().chunks(chunk) {
        splitter.push(bytes, &mut each);
    }
    splitter.finish(&mut each);
    (events, watch.summary())
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> = entries.filter(|path| path.is_file()).collect();
    files.sort();
    files
}

/// The alerts as they were when first raised.
fn raised(events: &[Event]) -> Vec<&AlertReport> {
    let mut seen = Vec::new();
    let alerts = events.iter().filter_map(|event| match &event.body {
        EventBody::Alert(alert) => Some(alert),
        _ => None,
    });
    for alert in alerts {
        if !seen.iter().any(|before: &&AlertReport| before.id == alert.id) {
            seen.push(alert);
        }
    }
    seen
}

fn is_beacons(cause: Cause) -> bool {
    matches!(
        cause,
        Cause::BeaconActive | Cause::BeaconUnverified | Cause::BeaconTest | Cause::BeaconSilent
    )
}

#[track_caller]
fn no_emergency(path: &Path) -> Summary {
    let (events, summary) = replay(path, 1 << 16);
    assert!(summary.sentences > 100, "{} was hardly read", path.display());
    for event in &events {
        match &event.body {
            EventBody::Alert(alert) => assert!(
                alert.priority != Priority::EmergencyAlarm
                    && !is_beacons(alert.cause)
                    && alert.cause != Cause::ChannelSilent,
                "{}: {alert:?}",
                path.display()
            ),
            EventBody::BeaconHeard(beacon) => panic!("{}: {beacon:?}", path.display()),
            _ => {}
        }
    }
    assert!(summary.beacons.is_empty());
    summary
}

/// One ship sends status 14 all day (226001610, 1,586 times, Vernon), another once (273432500, the
/// world feed): SOURCES.md.
/// A real gateway without a fix says 1970, evenly. The computer's clock is right: one caution says
/// that they differ, and no time of the watch is moved by it.
#[test]
fn a_gateway_in_1970_moves_no_time() {
    let Some(folder) = support::recordings() else { return };
    let bytes = std::fs::read(folder.join("ownship/gothenburg_n2k_gateway.txt")).unwrap();
    let begun = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
    let mut watch = Watch::new(Settings::default());
    let input = watch.input("gateway");
    let mut clock = Vec::new();
    let mut last = begun;
    for (place, line) in (0..).zip(bytes.split(|&byte| byte == b'\n')) {
        // The gateway sends some thirty lines a second.
        let span = Duration::from_millis(place * 33);
        let stamp = Stamp { at: Mono::START + span, utc: begun.plus(span) };
        watch.handle(Input::Line { stamp, input, bytes: line });
        while let Some(event) = watch.poll_output() {
            assert!(event.at >= last && event.at <= stamp.utc, "{} after {last}", event.at);
            last = event.at;
            if let EventBody::Alert(alert) = event.body
                && alert.cause == Cause::ClockSuspect
            {
                clock.push((alert.priority, alert.state, alert.text));
            }
        }
    }
    assert!(watch.gnss_utc().is_some_and(|utc| utc.to_string().starts_with("1970-01-0")));
    let [(Priority::Caution, State::ActiveAcknowledged, text)] = &clock[..] else {
        panic!("{clock:?}")
    };
    assert!(text.contains("56 years ahead of GNSS"), "{text}");
}

#[test]
fn whole_days_of_traffic_raise_no_emergency() {
    let Some(folder) = support::recordings() else { return };
    let files = files(&folder.join("ais"));
    assert!(files.len() >= 5, "recordings are missing");
    let messages: u64 = files.iter().map(|path| no_emergency(path).messages).sum();
    assert!(messages > 70_000, "{messages}");
}

/// The same recordings by a receiver that is deaf on one channel: told within ten minutes where the
/// other is busy (norway: 877 messages in half a minute), and within a hundred messages anywhere.
#[test]
fn a_dead_channel_is_found_in_real_traffic() {
    let Some(folder) = support::recordings() else { return };
    let deaf_on_b = |line: &[u8]| !line.windows(3).any(|it| it == b",B,");
    for name in ["norway_tagblock_20190807.nm4", "vernon_seine_20160331.log"] {
        let path = folder.join("ais").join(name);
        let (events, summary) = replay_of(&path, 1 << 16, Settings::default(), deaf_on_b);
        let dead: Vec<_> = raised(&events)
            .into_iter()
            .filter(|alert| alert.cause == Cause::ChannelSilent)
            .map(|alert| (alert.priority, alert.text.split(" since").next().unwrap()))
            .collect();
        let [(Priority::Caution, text)] = dead[..] else { panic!("{name}: {dead:?}") };
        assert!(text.ends_with("nothing on channel B"), "{text}");
        let told = events.iter().find(
            |event| matches!(&event.body, EventBody::Alert(it) if it.cause == Cause::ChannelSilent),
        );
        let after_ms = told.unwrap().at.ms_since(summary.first.unwrap());
        assert!(after_ms < 600_000, "{name}: {after_ms} ms");
        // Of a receiver that has but one channel nothing is missed.
        let one_channel = HashSet::from(["recording".to_owned()]);
        let (events, _) =
            replay_of(&path, 1 << 16, Settings { one_channel, ..Settings::default() }, deaf_on_b);
        assert!(raised(&events).iter().all(|alert| alert.cause != Cause::ChannelSilent));
    }
}

#[test]
fn own_ships_days_raise_no_emergency() {
    let Some(folder) = support::recordings() else { return };
    let files = files(&folder.join("ownship"));
    assert!(files.len() >= 6, "recordings are missing");
    for path in &files {
        no_emergency(path);
    }
}

/// 970227235 sent `SART ACTIVE` three times in this batch of 2020-06-01 (SOURCES.md).
#[test]
fn the_one_real_activation_raises_one_emergency() {
    let Some(folder) = support::recordings() else { return };
    let (events, summary) = replay(&folder.join("ais/edge/mixed_types.nmea"), 4096);
    let emergencies: Vec<&AlertReport> = raised(&events)
        .into_iter()
        .filter(|alert| alert.priority == Priority::EmergencyAlarm)
        .collect();
    let [emergency] = emergencies[..] else { panic!("{emergencies:?}") };
    assert_eq!(emergency.cause, Cause::BeaconActive);
    assert_eq!(emergency.mmsi, Mmsi::new(970_227_235));
    assert_eq!(emergency.state, State::ActiveUnacknowledged);
    let [beacon] = &summary.beacons[..] else { panic!("{:?}", summary.beacons) };
    assert_eq!(beacon.modes, [Mode::Active]);
    assert_eq!(beacon.messages_heard, 3);
}

/// Texts as bits, decoded by hand apart from the program: twelve SARTs in test, five active
/// man-overboard beacons, and what ships and forgers say (SOURCES.md).
#[test]
fn real_texts_are_told_apart() {
    let Some(folder) = support::recordings() else { return };
    let (events, summary) = replay(&folder.join("beacons/msg14_real_payloads_dev.nmea"), 4096);
    let alerts = raised(&events);
    let of = |cause: Cause| {
        let alerts = alerts.iter().filter(|alert| alert.cause == cause);
        let mut found: Vec<u32> = alerts.map(|alert| alert.mmsi.unwrap().value()).collect();
        found.sort_unstable();
        found
    };
    assert_eq!(
        of(Cause::BeaconActive),
        [972_602_601, 972_602_715, 972_604_169, 972_604_399, 972_607_975]
    );
    assert_eq!(
        of(Cause::BeaconTest),
        [
            970_011_087,
            970_012_509,
            970_012_793,
            970_013_121,
            970_013_123,
            970_013_745,
            970_014_455,
            970_014_830,
            970_014_967,
            970_015_186,
            970_015_320,
            970_016_010
        ]
    );
    assert!(of(Cause::BeaconUnverified).is_empty());
    assert_eq!(summary.beacons.len(), 17);
    for alert in &alerts {
        let expected = match alert.cause {
            Cause::BeaconActive => Priority::EmergencyAlarm,
            Cause::BeaconTest => Priority::Caution,
            _ => continue,
        };
        assert_eq!(alert.priority, expected);
    }
    for (mmsi, text) in [
        (0, "MOB TESP"),
        (0, "DISTRESS FIRE!"),
        (413_999_478, "DISTRESS FIRE!"),
        (211_473_210, "MAYDAY MAYDAY MAYDAY"),
        (563_040_369, "MAYDAY SZ13775G"),
        (992_599_919, "SART TEST"),
        (413_491_330, "CRASH:413488050"),
    ] {
        let warned = alerts.iter().any(|alert| {
            alert.cause == Cause::SafetyText
                && alert.priority == Priority::Warning
                && alert.mmsi == Mmsi::new(mmsi)
                && alert.text.contains(text)
        });
        assert!(warned, "{text} from {mmsi}");
    }
    let mentions = alerts.iter().filter(|alert| alert.text.contains("AIS TEST"));
    assert!(mentions.clone().count() >= 6);
    assert!(mentions.into_iter().all(|alert| alert.priority == Priority::Caution));
}

/// Craft with MOB in their names, a ship with status 14, SAR aircraft; and a message 13 in the name
/// of 972554242, which is a warning and no more (SOURCES.md).
#[test]
fn what_is_no_beacon_raises_no_emergency() {
    let Some(folder) = support::recordings() else { return };
    let (events, _) = replay(&folder.join("beacons/not_a_beacon_real_payloads.nmea"), 4096);
    let alerts = raised(&events);
    let [alert] = alerts[..] else { panic!("{alerts:?}") };
    assert_eq!((alert.cause, alert.priority), (Cause::BeaconUnverified, Priority::Warning));
    assert_eq!(alert.mmsi, Mmsi::new(972_554_242));
}

/// Published sentences of single beacons: SART and EPIRB tests, one man-overboard beacon in test,
/// one active SART (SOURCES.md).
#[test]
fn published_beacons_are_told_apart() {
    let Some(folder) = support::recordings() else { return };
    let (_, summary) = replay(&folder.join("beacons/single_beacon_sentences.nmea"), 4096);
    let modes: Vec<(u32, &[Mode])> =
        summary.beacons.iter().map(|beacon| (beacon.mmsi.value(), &beacon.modes[..])).collect();
    let expected: [(u32, &[Mode]); 6] = [
        (972_122_131, &[Mode::TestPresumed, Mode::Test]),
        (970_210_000, &[Mode::Test]),
        (970_113_381, &[Mode::Test]),
        (970_010_269, &[Mode::Test]),
        (970_227_235, &[Mode::Active]),
        (974_570_191, &[Mode::Test]),
    ];
    assert_eq!(modes, expected);
}

/// Two radios' calls and two expansions of another origin (SOURCES.md): one alarm for the one
/// distress alert; the cancel of another station's ends nothing.
#[test]
fn captured_calls_are_understood() {
    let Some(folder) = support::recordings() else { return };
    let (events, _) = replay(&folder.join("beacons/dsc_dse_sentences.nmea"), 4096);
    let alerts = raised(&events);
    let [alert] = alerts[..] else { panic!("{alerts:?}") };
    assert_eq!((alert.cause, alert.priority), (Cause::DscDistress, Priority::Alarm));
    assert_eq!(alert.mmsi, Mmsi::new(338_040_079));
    let calls = events.iter().filter(|event| matches!(event.body, EventBody::DscCall(_))).count();
    assert_eq!(calls, 5 + 3, "five calls; three have an expansion of their own station");
}

/// How far a beacon would be heard, by the two real recordings that can tell, and how far off half of the reports of
/// class A still came. A beacon is 11 dB weaker and its antenna costs some 40 dB: at 40 dB in ten
/// times the range it is heard about a nineteenth as far as a ship of class A.
///
/// The others can't: `norway_tagblock` is half a minute of a whole coast, `world_feed_ns` two seconds
/// of the world, `uscg_stations` of a hundred stations with some lines each, all without the reports
/// between; `puget_sound` has no times, and is several stations' lines without their names. In
/// `ais/edge` are single sentences. The yachts at Flensburg, Gothenburg and Geneva and the boat off
/// Halifax had no AIS.
fn reach_of(name: &str, receiver_at: Option<Position>) -> Option<Hearing> {
    let settings = Settings { receiver_at, ..Settings::default() };
    let heard = hear(&[support::recordings()?.join(name)], settings, &BTreeMap::new());
    let (heard, stations) = heard.unwrap();
    assert!(stations.is_empty());
    Some(Hearing::of(heard.hours, Some(heard.now), None))
}

/// A yacht at Abaco, 9 min: everything to 6.6 NM, half of a ship 18 NM off, nothing beyond. Its
/// recording has times of day and no date.
#[test]
fn reach_on_a_yacht_fits_the_farthest_ships() {
    let Some(hearing) = reach_of("ownship/bahamas_classb_vdo_gps_ais.txt", None) else { return };
    let now = hearing.now.unwrap();
    assert_eq!((now.minutes, now.why_not), (9, None));
    let (range, low, high) = now.interval().unwrap();
    let by_farthest = 18.0 / 19.0;
    assert!((0.6..1.6).contains(&range.0), "{range}");
    assert!(low.0 < by_farthest && by_farthest < high.0, "{low} to {high}");
    let far = hearing.by_range.iter().max_by(|a, b| a.from_nm.0.total_cmp(&b.from_nm.0)).unwrap();
    assert!(far.from_nm.0 < 18.7 && far.to_nm.0 > 18.0 && high.0 < far.from_nm.0 / 4.0, "{far:?}");
}

/// A shore receiver in the valley of the Seine, a day: it stands by the base station at 49.0802 N
/// 1.4543 E, of which it receives 98 % of a report each 10 s. It hears everything to 2.5 NM, half
/// of what is 4 to 5 NM off behind the bends, and little beyond 6.
#[test]
fn reach_of_a_shore_station_fits_the_farthest_ships() {
    let place = Position::new(49.0802, 1.4543);
    let Some(hearing) = reach_of("ais/vernon_seine_20160331.log", place) else { return };
    let known: Vec<(f64, f64)> = hearing
        .hours
        .iter()
        .filter_map(|it| Some((it.low_nm?.0, it.high_nm?.0)).filter(|_| it.range80_nm.is_some()))
        .collect();
    let by_farthest = 4.5 / 19.0;
    let fitting = known.iter().filter(|(low, high)| (*low..=*high).contains(&by_farthest)).count();
    assert!(known.len() >= 10 && fitting * 10 >= known.len() * 7, "{by_farthest}: {known:?}");
    let median = hearing.median_nm.unwrap();
    assert!((0.15..0.4).contains(&median.0), "{median}");
    let share = |from: f64, to: f64| {
        let of = || hearing.by_range.iter().filter(|it| (from..to).contains(&it.from_nm.0));
        let sum = |count: fn(&RangeCount) -> u32| of().map(count).sum::<u32>();
        f64::from(sum(|it| it.received)) / f64::from(sum(|it| it.expected))
    };
    assert!(
        share(1.0, 2.5) > 0.97 && (0.3..0.7).contains(&share(3.9, 6.2)) && share(6.2, 99.0) < 0.2
    );
}

#[test]
fn the_size_of_the_reads_changes_nothing() {
    let Some(folder) = support::recordings() else { return };
    for name in [
        "ais/uscg_stations_20060715.ais",
        "ais/norway_tagblock_20190807.nm4",
        "ais/edge/mixed_types.nmea",
        "beacons/msg14_real_payloads_dev.nmea",
        "ownship/bahamas_classb_vdo_gps_ais.txt",
    ] {
        let path = folder.join(name);
        let json = |chunk| {
            let (events, summary) = replay(&path, chunk);
            let lines: Vec<String> =
                events.iter().map(|event| serde_json::to_string(event).unwrap()).collect();
            lines.join("\n") + &serde_json::to_string(&summary).unwrap()
        };
        let whole = json(4096);
        assert!(whole.len() > 200, "{name} gives no events");
        for chunk in [1, 7] {
            assert!(json(chunk) == whole, "{name} read {chunk} bytes at a time");
        }
    }
}

/// The alerts of a watch since it was asked last, as they are told.
fn alerts(watch: &mut Watch) -> Vec<String> {
    let alert = |event: Event| {
        let is_alert = matches!(event.body, EventBody::Alert(_));
        is_alert.then(|| serde_json::to_string(&event).unwrap())
    };
    std::iter::from_fn(|| watch.poll_output()).filter_map(alert).collect()
}

/// A recording is judged as the live watch that made it: the only input that hears AIS falls silent
/// while the position receiver goes on, once by itself and once with noise in the recording that
/// names no input.
#[test]
fn live_and_replay_tell_the_same_alerts() {
    let ship = support::vdm(&support::position(211_000_001, 0, Some((50.0, -1.5)), 17), 'A');
    let place = support::nmea_position(50.0, -1.5);
    for noise in [false, true] {
        let mut live = Watch::new(Settings { expects_inputs: true, ..Settings::default() });
        let inputs = ["ais", "gnss"].map(|name| live.input(name));
        let mut replayed = Watch::new(Settings::default());
        let mut reader = Reader::new(&mut replayed, "20260509.nmea");
        let (mut told, mut told_again) = (Vec::new(), Vec::new());
        let begun = Utc::parse_rfc3339("2026-05-09T08:30:00Z").unwrap();
        let stamp = |second: u64| {
            let span = Duration::from_secs(second);
            Stamp { at: Mono::START + span, utc: begun.plus(span) }
        };
        for input in inputs {
            live.handle(Input::Opened { stamp: stamp(0), input });
        }
        for second in 1..200 {
            let rmc = format!(
                "GPRMC,08{:02}{:02},A,{place},0.0,,090526,,,A",
                30 + second / 60,
                second % 60
            );
            let mut lines = vec![("gnss", support::sealed(&rmc))];
            if !(20..=150).contains(&second) {
                lines.push(("ais", ship.clone()));
            }
            if noise && second == 5 {
                lines.push(("", "!AIVDM,1,1,,A,13u?".to_owned()));
            }
            for (name, line) in lines {
                let stamp = stamp(second);
                let tag = support::tag(&format!("s:{name},c:{}", stamp.utc.unix_ms()));
                let recorded = if name.is_empty() { line.clone() } else { format!("{tag}{line}") };
                let input = inputs[usize::from(name == "gnss")];
                live.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
                told.extend(alerts(&mut live));
                let bytes = recorded.as_bytes();
                let moment = reader.place(&mut replayed, bytes);
                let input = moment.input;
                replayed.handle(Input::Line { stamp: moment.stamp, input, bytes });
                told_again.extend(alerts(&mut replayed));
            }
        }
        assert_eq!(told, told_again);
        assert!(told[0].contains("input_silent") && told[0].contains("\"alarm\""), "{told:?}");
    }
}
