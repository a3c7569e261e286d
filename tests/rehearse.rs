//! Rehearsals: what a scenario gives, held against ITU-R M.1371-5 annex 9 section 5 (numbers in the
//! text of each test) by this decoder and by the reference crate `ais`; and the captures in
//! `captures/`, which are what their scenarios give.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/rehearsal.rs"]
mod rehearsal;

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use ais::messages::AisMessage;
use ais::messages::navigation::Accuracy;
use ais::messages::position_report::NavigationStatus;
use ais::messages::radio_status::{RadioStatus, SubMessage, SyncState};
use overside::rehearse::{Scenario, write_capture};
use overside::time::{Mono, Utc};
use overside::wire::ais::{BeaconWord, Body};
use overside::wire::nmea::{Meaning, Nature, Nmea};
use overside::wire::{Content, Decoder, InputId, Reject};
use rehearsal::{Heard, bursts};

const CAPTURES: [&str; 4] =
    ["self_test_alongside", "overboard_drill", "night_watch", "muster_round"];

/// A ship that lies still for `duration` seconds, and what is added to that.
fn scenario(duration: u32, seed: u64, rest: &str) -> Scenario {
    Scenario::parse(&format!(
        "about = \"x\"\nstart = 2026-06-14T23:40:00Z\nduration_s = {duration}\nseed = {seed}\n\
         [own]\nmmsi = 200000000\nlat = 57.7\nlon = 10.583\nrmc_every_s = 60\n{rest}"
    ))
    .unwrap()
}

fn beacon(mode: &str, rest: &str) -> String {
    format!("[[beacon]]\nmmsi = 972000017\nmode = \"{mode}\"\nactivate_s = 5\n{rest}\n")
}

/// Slots from one moment to another: 2250 a minute.
fn slots(from: Utc, to: Utc) -> f64 {
    to.ms_since(from) as f64 * 2250.0 / 60_000.0
}

/// M.1371-5 annex 9 section 5: 8 messages, 75 slots apart, alternating AIS 1 and AIS 2.
fn assert_burst(burst: &[Heard]) {
    assert_eq!(burst.len(), 8);
    for (index, heard) in burst.iter().enumerate() {
        assert_eq!(heard.at.ms_since(burst[0].at), 2000 * index as i64, "75 slots are 2.000 s");
        assert_eq!(heard.channel, if index % 2 == 0 { 'A' } else { 'B' });
    }
    let states: BTreeSet<u8> = burst.iter().filter_map(Heard::state).map(|(t, _)| t).collect();
    assert_eq!(states.len(), 1, "all messages of a burst carry the same time-out");
}

fn texts(burst: &[Heard]) -> Vec<(usize, &str)> {
    burst.iter().enumerate().filter_map(|(i, heard)| Some((i, heard.text()?))).collect()
}

/// M.1371-5 annex 9 section 5 and figure 43; slot numbers of the new place as reported from EN 303
/// 098 V2.2.1 annex B.2; sub-messages by table 19.
#[test]
fn an_active_beacon_keeps_to_the_cycle_of_eight_bursts() {
    for seed in 0..6 {
        let bursts = bursts(&scenario(3000, seed, &beacon("active", "")), 972_000_017);
        // The last one may be cut off by the end.
        let whole = &bursts[..bursts.len() - 1];
        assert!(whole.len() >= 47, "one burst a minute for 50 minutes");
        for (number, burst) in whole.iter().enumerate() {
            assert_burst(burst);
            let expected = 7 - (number % 8) as u8;
            for heard in burst.iter().filter(|heard| heard.report().is_some()) {
                let (timeout, submessage) = heard.state().unwrap();
                assert_eq!(timeout, expected, "7 to 0 through the cycle");
                let AisMessage::PositionReport(theirs) = &heard.reference else { panic!() };
                let RadioStatus::Sotdma(theirs) = &theirs.radio_status else { panic!() };
                assert_eq!(
                    (theirs.slot_timeout, &theirs.sync_state),
                    (timeout, &SyncState::UtcDirect)
                );
                // The message is received at the end of its slot.
                let minute_ms = heard.at.unix_ms() % 60_000;
                match theirs.sub_message {
                    SubMessage::ReceivedStations(n) => {
                        assert!(matches!(timeout, 7 | 5 | 3) && n == 0, "a beacon has no receiver");
                    }
                    SubMessage::SlotNumber(n) => {
                        assert!(matches!(timeout, 6 | 4 | 2) && n < 2250);
                        let begin = (minute_ms as f64 * 2250.0 / 60_000.0).round() - 1.0;
                        assert_eq!(f64::from(n), begin.rem_euclid(2250.0));
                    }
                    SubMessage::UtcHourAndMinute(hour, minute) => {
                        assert_eq!(timeout, 1);
                        let begin = heard.at.unix_ms() - 27;
                        let minutes = begin / 60_000 % 1440;
                        assert_eq!(
                            (i64::from(hour), i64::from(minute)),
                            (minutes / 60, minutes % 60)
                        );
                    }
                    SubMessage::SlotOffset(offset) => {
                        assert!(timeout == 0 && (2025..=2475).contains(&offset));
                        assert_eq!(offset as u16, submessage);
                        if let Some(next) = bursts.get(number + 1) {
                            let told = slots(burst[0].at, next[0].at);
                            assert!((told - f64::from(offset)).abs() < 0.05, "{told} {offset}");
                        }
                    }
                }
            }
        }
        for pair in whole.windows(9) {
            let minutes = |n: usize| pair[n][0].at.ms_since(pair[n - 1][0].at);
            if pair[0].iter().filter_map(Heard::state).all(|(timeout, _)| timeout == 7) {
                assert!((1..8).all(|n| minutes(n) == 60_000), "the same place for eight frames");
                let cycle = pair[8][0].at.ms_since(pair[0][0].at);
                assert!((474_000..=486_000).contains(&cycle), "T0 + 8 min ± 6 s: {cycle}");
            }
        }
    }
}

/// The sources differ: M.1371-5 wants messages with a communication state in the first burst of a
/// cycle, EN 303 098 as reported puts the text into bursts 1 and 5. Every 4 min and one per channel
/// in both.
#[test]
fn the_text_comes_every_four_minutes_on_both_channels_in_both_variants() {
    for (variant, expected) in [("first_and_fifth", [0, 4]), ("later", [1, 5])] {
        let keys = format!("text_variant = \"{variant}\"");
        let bursts = bursts(&scenario(1100, 3, &beacon("active", &keys)), 972_000_017);
        for (number, burst) in bursts[..16].iter().enumerate() {
            let found = texts(burst);
            if expected.contains(&(number % 8)) {
                let channels: Vec<char> = found.iter().map(|&(i, _)| burst[i].channel).collect();
                assert_eq!(channels, ['A', 'B']);
                // The fifth and the sixth of the eight: from memory.
                assert_eq!(found.iter().map(|&(i, _)| i).collect::<Vec<_>>(), [4, 5]);
                assert!(found.iter().all(|&(_, text)| text == "MOB ACTIVE"));
                for &(index, text) in &found {
                    let AisMessage::SafetyRelatedBroadcastMessage(theirs) = &burst[index].reference
                    else {
                        panic!()
                    };
                    assert_eq!(theirs.text.trim_end_matches(['@', ' ']), text);
                }
            } else {
                assert!(found.is_empty(), "{variant}: burst {}", number + 1);
            }
        }
    }
}

/// EN 303 098 V2.2.1 B.3, as reported: 10 to 30 s after activation, at the latest within a minute.
#[test]
fn the_first_burst_comes_10_to_30_s_after_activation() {
    let mut waits = Vec::new();
    for seed in 0..40 {
        let scenario = scenario(90, seed, &beacon("active", "fix_delay_s = 300"));
        let first = bursts(&scenario, 972_000_017)[0][0].at;
        // Received at the end of its slot, which begins within 27 ms.
        waits.push(first.ms_since(scenario.start()) - 5_000);
    }
    assert!(waits.iter().all(|wait| (10_000..=30_060).contains(wait)), "{waits:?}");
    assert!(waits.iter().max().unwrap() - waits.iter().min().unwrap() > 10_000, "{waits:?}");
}

/// M.1371-5 tables 1 and 2: a ship of class A at 6 to 14 kn every 10 s, at 14 to 23 kn every 6 s;
/// class B above 2 kn every 30 s; names and the like every 6 min. A tenth of the interval to either
/// side, as stations choose their slots.
#[test]
fn ships_report_at_the_intervals_of_tables_1_and_2() {
    let mut found = BTreeSet::new();
    for seed in 0..12 {
        let traffic = "[traffic]\nclass_a = [\"A\"]\nclass_b = [\"B\"]\n\
                       reception = { sure_nm = 500, horizon_nm = 900 }\n";
        let scenario = scenario(3600, seed, traffic);
        let mut times: BTreeMap<_, Vec<_>> = BTreeMap::new();
        let mut decoder = Decoder::new();
        for line in scenario.lines().filter(|line| line.sentence.starts_with("!AIVDM")) {
            let decoded = decoder.decode(InputId(0), Mono::START, line.sentence.as_bytes());
            let Some(Ok(decoded)) = decoded else { panic!("{}", line.sentence) };
            let Content::Ais(report) = decoded.content else { continue };
            let message = report.message;
            let (is_class_a, sog) = match &message.body {
                Body::Position(report) => (true, report.sog_kn),
                Body::ClassB(report) => (false, report.sog_kn),
                // Of the two parts of class B one tells the interval.
                Body::StaticA(_) => (true, None),
                _ => continue,
            };
            let of = (message.mmsi.value(), sog.is_none());
            let class = if is_class_a { sog } else { Some(-1.0) };
            times.entry(of).or_default().push((line.at.unix_ms(), class));
        }
        for ((_, is_static), reports) in times {
            let seconds = match (is_static, reports[0].1) {
                (true, _) => 360,
                (_, Some(speed)) if speed < 0.0 => 30,
                (_, Some(speed)) if speed <= 14.0 => 10,
                (_, Some(_)) => 6,
                (false, None) => panic!("a report without speed"),
            };
            for pair in reports.windows(2) {
                let between = pair[1].0 - pair[0].0;
                assert!(
                    (between - seconds * 1000).abs() <= seconds * 200 + 60,
                    "{seconds} s: {between}, {pair:?}"
                );
            }
            found.insert(seconds);
        }
    }
    assert_eq!(found, BTreeSet::from([6, 10, 30, 360]));
}

/// M.1371-5 annex 9 sections 5 and 6, table 48: status 15, "first and only burst", time-out 0 and
/// sub-message 0. That first and last are the texts is from memory.
#[test]
fn a_test_is_one_burst_with_status_15_and_time_out_0() {
    let bursts = bursts(&scenario(600, 1, &beacon("test", "")), 972_000_017);
    assert_eq!(bursts.len(), 1);
    assert_burst(&bursts[0]);
    assert_eq!(texts(&bursts[0]), [(0, "MOB TEST"), (7, "MOB TEST")]);
    for heard in bursts[0].iter().filter(|heard| heard.report().is_some()) {
        assert_eq!(heard.report().unwrap().nav_status, 15);
        assert_eq!(heard.state(), Some((0, 0)));
        let AisMessage::PositionReport(theirs) = &heard.reference else { panic!() };
        // The reference reads 15, the default, as nothing.
        assert_eq!(theirs.navigation_status, None);
        assert_eq!((theirs.rate_of_turn, theirs.true_heading), (None, None));
    }
}

/// M.1371-5 table 48 for the values that say "not available"; EN 303 098 B.3 as reported for sync
/// state 3 and for the last position with second 63.
#[test]
fn a_beacon_without_a_fix_sends_the_defaults_and_one_that_lost_it_its_last_place() {
    let keys = "fix_delay_s = 70\nfix_lost = [{ from_s = 150, until_s = 220 }]\njitter_m = 20";
    let bursts = bursts(&scenario(420, 2, &beacon("active", keys)), 972_000_017);
    let (mut without, mut with, mut lost) = (0, 0, 0);
    let mut last = (None, None);
    for heard in bursts.iter().flatten() {
        let (Some(ours), AisMessage::PositionReport(theirs)) = (heard.report(), &heard.reference)
        else {
            continue;
        };
        assert_eq!(theirs.navigation_status, Some(NavigationStatus::AisSartIsActive));
        let RadioStatus::Sotdma(state) = &theirs.radio_status else { panic!() };
        let none = theirs.speed_over_ground.is_none() && theirs.course_over_ground.is_none();
        let synchronised = state.sync_state == SyncState::UtcDirect;
        let place = (ours.lat, ours.lon);
        match theirs.timestamp {
            60 => {
                assert!(theirs.latitude.is_none() && theirs.longitude.is_none() && none);
                assert!(!synchronised && with == 0);
                without += 1;
            }
            63 => {
                assert_eq!(place, last);
                assert!(none && !synchronised && theirs.position_accuracy == Accuracy::Unaugmented);
                lost += 1;
            }
            second => {
                assert!(synchronised && !none);
                let begin = heard.at.unix_ms() - 27;
                assert_eq!(i64::from(second), begin / 1000 % 60);
                assert!((theirs.latitude.unwrap() - 57.7).abs() < 0.001);
                last = place;
                with += 1;
            }
        }
    }
    assert!(without >= 6 && with >= 20 && lost >= 6, "{without} {with} {lost}");
}

/// M.1371-6, as reported: the words and the suffix, and one burst with time-out 0.
#[test]
fn a_beacon_switched_off_says_so_once_or_just_stops() {
    let told = |keys: &str| {
        let keys = format!("off_s = 200\n{keys}");
        bursts(&scenario(900, 4, &beacon("active", &keys)), 972_000_017)
    };
    for (keys, word) in [
        ("", "MOB OFF"),
        ("off_says = \"cancel\"", "MOB CANCEL"),
        ("suffix = \"A01\"", "MOB OFF A01"),
    ] {
        let bursts = told(keys);
        let last = bursts.last().unwrap();
        assert_burst(last);
        assert!(texts(last).iter().all(|&(_, text)| text == word) && !texts(last).is_empty());
        assert_eq!(last[1].state(), Some((0, 0)));
        let gap = last[0].at.ms_since(bursts[bursts.len() - 2][0].at);
        assert_eq!(gap, 60_000, "in place of the next burst");
        let Body::SafetyText(text) = &last[0].body else { panic!() };
        assert!(matches!(text.beacon_word, Some(Some(BeaconWord::Off | BeaconWord::Cancel))));
    }
    let stopped = told("off_says = \"nothing\"");
    assert!(stopped.iter().flatten().all(|heard| heard.text().is_none_or(|t| t == "MOB ACTIVE")));
    assert_eq!(stopped.len() + 1, told("").len());
}

/// The range between own ship and beacon decides how much is heard.
#[test]
fn reception_fades_with_range_and_ends_at_the_horizon() {
    let share = |range: f64| {
        let keys = format!(
            "offset = {{ bearing_deg = 90, range_nm = {range} }}\n\
             reception = {{ base = 0.9, sure_nm = 2, horizon_nm = 4 }}"
        );
        let scenario = scenario(7200, 5, &beacon("active", &keys));
        scenario.lines().filter(|line| line.sentence.starts_with("!AIVDM")).count() as f64 / 952.0
    };
    let near = |share: f64, expected: f64| (share - expected).abs() < 0.05;
    assert!(near(share(1.9), 0.9) && near(share(3.0), 0.45) && share(4.1) == 0.0);
}

#[test]
fn the_same_scenario_gives_the_same_bytes_and_another_seed_others() {
    let text = std::fs::read_to_string(path("overboard_drill.toml")).unwrap();
    let made = capture(&text);
    assert_eq!(made, capture(&text));
    assert_ne!(made, capture(&text.replace("seed = 1", "seed = 2")));
    // A further ship changes no line of the others.
    let more = text.replace("\"DAYDREAM\"]", "\"DAYDREAM\", \"ONE MORE\"]");
    let more = capture(&more);
    let lines: BTreeSet<&[u8]> = more.split(|&b| b == b'\n').collect();
    assert!(made.split(|&b| b == b'\n').all(|line| lines.contains(line)));
}

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("captures").join(name)
}

fn capture(text: &str) -> Vec<u8> {
    let mut made = Vec::new();
    write_capture(&Scenario::parse(text).unwrap(), &mut made).unwrap();
    made
}

#[test]
fn the_captures_are_what_their_scenarios_give() {
    let mut total = 0;
    for name in CAPTURES {
        let text = std::fs::read_to_string(path(&format!("{name}.toml"))).unwrap();
        let kept = std::fs::read(path(&format!("{name}.nmea"))).unwrap();
        let same = capture(&text) == kept;
        assert!(
            same,
            "make it anew: overside rehearse captures/{name}.toml --to captures/{name}.nmea"
        );
        assert!(kept.len() < 400_000, "{name}: {} bytes", kept.len());
        total += kept.len();
    }
    assert!(total < 800_000);
}

/// Every line of the captures is sound, but for the damage a scenario asks for; nobody real is in it.
#[test]
fn the_captures_are_sound_and_fictional() {
    for name in CAPTURES {
        let kept = std::fs::read(path(&format!("{name}.nmea"))).unwrap();
        let mut decoder = Decoder::new();
        let mut lines = 0;
        let mut last = None;
        let mut rejected = 0;
        for line in kept.split_inclusive(|&b| b == b'\n') {
            let line = line.strip_suffix(b"\r\n").unwrap();
            lines += 1;
            match decoder.decode(InputId(0), Mono::START, line).unwrap() {
                Ok(decoded) => {
                    assert!(decoded.at.is_some() && decoded.at >= last && decoded.source.is_some());
                    last = decoded.at;
                    if let Content::Ais(report) = decoded.content {
                        let thousands = report.message.mmsi.value() / 10_000;
                        assert!(matches!(thousands, 20_000 | 97_000 | 97_200 | 200), "{thousands}");
                    }
                }
                Err(Reject::BadChecksum | Reject::PartMismatch) => rejected += 1,
                Err(other) => panic!("{name}, line {lines}: {other}"),
            }
        }
        let share = f64::from(rejected) / f64::from(lines);
        let expected = if name == "night_watch" { 0.0005..0.005 } else { 0.0..1e-9 };
        assert!(expected.contains(&share), "{name}: {rejected} of {lines}");
    }
}

/// The DSC calls of the captures by our decoder, which tests/wire.rs holds to the published ones; a
/// DSE follows its DSC with nothing between (IEC 61162-1).
#[test]
fn the_calls_of_the_captures_say_what_their_scenarios_say() {
    let mut calls = Vec::new();
    for name in CAPTURES {
        let kept = std::fs::read(path(&format!("{name}.nmea"))).unwrap();
        let mut decoder = Decoder::new();
        let mut open = None;
        for line in kept.split(|&b| b == b'\n') {
            let decoded = decoder.decode(InputId(0), Mono::START, line.trim_ascii_end());
            let Some(Ok(decoded)) = decoded else { continue };
            match decoded.content {
                Content::Nmea(Nmea::Dsc(call)) => {
                    assert!(open.replace(call).is_none());
                }
                Content::Nmea(Nmea::Dse(dse)) => assert!(open.as_mut().unwrap().refine(&dse)),
                _ => calls.extend(open.take().inspect(|call| {
                    let has_decimals = call.lat.is_some_and(|lat| (lat * 60.0).fract() > 1e-6);
                    assert_eq!(call.expansion_follows, has_decimals);
                })),
            }
        }
    }
    let said: Vec<_> = calls
        .iter()
        .map(|call| {
            (call.meaning, call.caller_mmsi.unwrap().value(), call.nature, call.lat.is_some())
        })
        .collect();
    let (mob, other) = (972_000_017, 200_000_042);
    let (overboard, undesignated) = (Some(Nature::ManOverboard), Some(Nature::Undesignated));
    assert_eq!(
        said,
        [
            (Meaning::Test, mob, None, false),
            (Meaning::DistressAlert, mob, overboard, false),
            (Meaning::DistressAlert, mob, overboard, true),
            (Meaning::DistressAlert, mob, overboard, true),
            (Meaning::DistressAlert, other, undesignated, true),
            (Meaning::DistressCancel, other, undesignated, true),
            (Meaning::Test, mob, None, false),
        ]
    );
}

/// The stories that the captures tell, message by message.
#[test]
fn the_captures_tell_their_stories() {
    let heard = |name: &str, mmsi| {
        let text = std::fs::read_to_string(path(&format!("{name}.toml"))).unwrap();
        bursts(&Scenario::parse(&text.replace("damage = ", "damage = 0 # ")).unwrap(), mmsi)
    };
    let test = heard("self_test_alongside", 972_000_017);
    assert_eq!((test.len(), test[0].len()), (1, 7), "all but one message");

    let round = |mmsi| heard("muster_round", mmsi);
    let tests = [round(972_000_016), round(972_000_017), round(972_000_018)];
    for (test, text) in tests.iter().zip(["MOB TEST", "MOB TEST", "MOB TEST A01"]) {
        assert_eq!(test.len(), 1);
        assert_burst(&test[0]);
        assert_eq!(texts(&test[0]), [(0, text), (7, text)]);
    }

    let drill = heard("overboard_drill", 972_000_017);
    let first = drill[0][0].report().unwrap();
    assert_eq!((first.lat, first.utc_second), (None, 60), "no fix at first");
    let gaps: Vec<i64> = drill
        .windows(2)
        .map(|pair| pair[1][0].at.ms_since(pair[0].last().unwrap().at) / 1000)
        .filter(|&gap| gap > 60)
        .collect();
    assert!(matches!(gaps[..], [90..=150, 301..=360]), "{gaps:?}");
    let last = texts(drill.last().unwrap());
    assert!(last.iter().all(|&(_, text)| text == "MOB OFF A01") && !last.is_empty());

    let sart = heard("night_watch", 970_000_042);
    assert_eq!(sart.len(), 3);
    assert!(texts(&sart[0]).iter().any(|&(_, text)| text == "SART ACTIVE"));
    assert!(texts(&sart[2]).iter().all(|&(_, text)| text == "SART OFF"));
}

/// An error names the line and the key, and what to do about it.
#[test]
fn a_bad_scenario_is_told_by_line_and_key() {
    let good = "about = \"x\"\nstart = 2026-06-14T02:00:00Z\nduration_s = 60\nseed = 1\n\
                [own]\nmmsi = 200000000\nlat = 57.7\nlon = 10.5\n";
    Scenario::parse(good).unwrap();
    let beacon = "[[beacon]]\nmmsi = 972000017\nmode = \"active\"\nactivate_s = 9\n";
    let added = |rest: &str| format!("{good}{beacon}{rest}");
    for (text, line, key, words) in [
        (good.replace("seed = 1", "sead = 1"), 4, "sead", "there is no key"),
        (good.replace("seed = 1\n", ""), 1, "seed", "is missing"),
        (good.replace("lon = 10.5", ""), 5, "lon", "is missing"),
        (good.replace("57.7", "97.7"), 7, "lat", "97.7 is not from -90 to 90"),
        (good.replace("57.7", "nan"), 7, "lat", "not from"),
        (good.replace("57.7", "\"north\""), 7, "lat", "write a number"),
        (good.replace("200000000", "2000000000"), 6, "mmsi", "more than nine digits"),
        (good.replace("T02:00:00Z", ""), 2, "start", "date, time and offset"),
        (good.replace("2026-06-14T02", "9999-12-31T23"), 2, "start", "date, time and offset"),
        (format!("{good}name = \"SCHÖN\""), 9, "name", "six-bit ASCII"),
        (format!("{good}[sources]\nais = \"a,b\""), 10, "ais", "15 letters"),
        (added("").replace("972000017", "200000017"), 10, "mmsi", "begins with 970, 972 or 974"),
        (added("").replace("\"active\"", "\"on\""), 11, "mode", "is no word for it"),
        (added("off_s = 3"), 13, "off_s", "must be later than `activate_s`"),
        (added("off_s = 30").replace("active\"", "test\""), 13, "off_s", "a test ends by itself"),
        (
            added("off_s = 30\noff_says = \"cancel\"").replace("9720", "9700"),
            13,
            "off_s",
            "it has no CANCEL",
        ),
        (added("fades = [\n{ from_s = 9, until_s = 3 },\n]"), 14, "fades", "later than"),
        (added("drift = { set_deg = 400, rate_kn = 1 }"), 13, "set_deg", "400 is not from"),
        (
            added("[[call]]\nat_s = 1\nmeaning = \"urgency\"\ncaller = 1\nposition_of = 2"),
            17,
            "position_of",
            "neither own ship nor a beacon",
        ),
    ] {
        let error = Scenario::parse(&text).unwrap_err();
        let said = error.to_string();
        assert_eq!((error.line, error.key.as_deref()), (line, Some(key)), "{said}\n{text}");
        assert!(said.contains(words), "{said}");
        assert!(said.starts_with(&format!("scenario:\nLine {line}, key `{key}`: ")), "{said}");
    }
    let error = Scenario::parse("about = ").unwrap_err();
    assert_eq!((error.line, error.reason.is_empty()), (1, false));
}
