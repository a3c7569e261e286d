//! What scenarios can ask for beyond one receiver in still water: receivers with losses of their own,
//! current and leeway, DSC in open and closed loop, faults, drills.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[allow(dead_code, reason = "other tests read more of it")]
#[path = "support/rehearsal.rs"]
mod rehearsal;

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use overside::navigation::{Position, range_and_bearing};
use overside::rehearse::{NoDrill, Scenario, TimedLine, write_capture};
use overside::time::Mono;
use overside::wire::nmea::{Meaning, Nature, Nmea};
use overside::wire::{Content, Decoder, InputId};
use rehearsal::bursts;

const HEAD: &str = "about = \"x\"\nstart = 2026-06-14T23:40:00Z\nseed = 7\n";
const OWN: &str = "[own]\nmmsi = 200000000\nlat = 57.7\nlon = 10.583\n";

fn scenario(duration: u32, top: &str, own: &str, rest: &str) -> Scenario {
    Scenario::parse(&format!("{HEAD}duration_s = {duration}\n{top}\n{OWN}{own}\n{rest}")).unwrap()
}

fn beacon(mode: &str, rest: &str) -> String {
    format!("[[beacon]]\nmmsi = 972000017\nmode = \"{mode}\"\nactivate_s = 5\n{rest}\n")
}

/// What each input has, and when.
fn by_source(scenario: &Scenario) -> BTreeMap<String, Vec<(i64, String)>> {
    let mut found: BTreeMap<String, Vec<(i64, String)>> = BTreeMap::new();
    for TimedLine { at, source, sentence } in scenario.lines() {
        found.entry(source).or_default().push((at.unix_ms(), sentence));
    }
    found
}

#[test]
fn a_second_receiver_hears_the_same_transmissions_with_other_losses() {
    let two = "[[receiver]]\nname = \"one\"\n[[receiver]]\nname = \"two\"\n\
               reception = { base = 0.5, sure_nm = 9, horizon_nm = 10 }\ndeaf_channel = \"B\"\n";
    let all = beacon("active", "");
    let heard = by_source(&scenario(1800, "", "", &format!("{two}{all}")));
    let (one, two) = (&heard["one"], &heard["two"]);
    // Thirty bursts of eight: half of the half on AIS 1.
    assert!(one.len() > 230 && (45..75).contains(&two.len()), "{} {}", one.len(), two.len());
    let sent: BTreeSet<_> = one.iter().collect();
    assert!(two.iter().all(|line| sent.contains(line)), "the same sentences at the same time");
    assert!(two.iter().all(|(_, sentence)| sentence.contains(",A,")));

    // The first of two hears what it hears alone, losses and all.
    let lossy = beacon("active", "reception = { base = 0.6, sure_nm = 2, horizon_nm = 4 }");
    let alone = by_source(&scenario(1800, "", "", &lossy));
    let pair = "[[receiver]]\nname = \"ais\"\n[[receiver]]\nname = \"two\"\ndamage = 1\n";
    let both = by_source(&scenario(1800, "", "", &format!("{pair}{lossy}")));
    assert_eq!(alone["ais"], both["ais"]);
    let times = |name: &str| both[name].iter().map(|(at, _)| *at).collect::<BTreeSet<_>>();
    let (ours, theirs) = (times("ais"), times("two"));
    assert!(ours.difference(&theirs).count() > 20 && theirs.difference(&ours).count() > 20);
    let undamaged: BTreeSet<_> = both["ais"].iter().map(|(_, sentence)| sentence).collect();
    assert!(both["two"].iter().all(|(_, sentence)| !undamaged.contains(sentence)));
}

#[test]
fn waves_take_their_share_of_what_is_sent_in_the_water_and_not_on_board() {
    let count = |sea: &str, mode: &str| {
        let made = scenario(3600, sea, "", &beacon(mode, ""));
        made.lines().filter(|line| line.sentence.starts_with("!AIVDM")).count() as f64
    };
    let share = count("sea = 0.4", "active") / count("", "active");
    assert!((share - 0.4).abs() < 0.07, "{share}");
    assert_eq!(count("sea = 0.4", "test"), 8.0);
}

/// Course and speed made good from course and speed through the water and a current. The answers are
/// the computed ones that are given for the published stems: USCG questions (160 at 10 kn, current
/// 210 at 0.9; 000 at 9.5 kn, 082 at 1.1).
#[test]
fn own_ship_goes_where_heading_and_current_together_lead_her() {
    for (heading, log, set, rate, course, made_good) in
        [(160.0, 10.0, 210.0, 0.9, 163.73, 10.60), (0.0, 9.5, 82.0, 1.1, 6.44, 9.714)]
    {
        let made = scenario(
            3600,
            &format!("current = {{ set_deg = {set}, rate_kn = {rate} }}"),
            &format!(
                "rmc_every_s = 60\nhdt_every_s = 60\nvhw_every_s = 60\n\
                 [[own.leg]]\ncourse_deg = {heading}\nspeed_kn = {log}\nminutes = 60"
            ),
            "",
        );
        let mut decoder = Decoder::new();
        let (mut places, mut others) = (Vec::new(), 0);
        for line in made.lines() {
            let decoded = decoder.decode(InputId(0), Mono::START, line.sentence.as_bytes());
            let Some(Ok(decoded)) = decoded else { panic!("{}", line.sentence) };
            match decoded.content {
                Content::Nmea(Nmea::Rmc(rmc)) => {
                    assert!((rmc.cog_deg.unwrap() - course).abs() < 0.06);
                    assert!((rmc.sog_kn.unwrap() - made_good).abs() < 0.06);
                    places.push(Position::new(rmc.lat.unwrap(), rmc.lon.unwrap()).unwrap());
                }
                Content::Nmea(Nmea::Vhw(vhw)) => {
                    assert_eq!((vhw.heading_deg, vhw.speed_kn), (Some(heading), Some(log)));
                    others += 1;
                }
                _ => others += 1,
            }
        }
        assert_eq!((places.len(), others), (60, 120));
        let (range, bearing) = range_and_bearing(places[0], places[59]);
        assert!((range.0 / 59.0 * 60.0 - made_good).abs() < 0.02, "{range:?}");
        assert!((bearing.value() - course).abs() < 0.2, "{bearing:?}");
    }
}

/// PIW-1, downwind: 0.96 % of the wind's speed (Allen, CG-D-05-05), so 0.288 kn at 30 kn; and the
/// current on top, at right angles here.
#[test]
fn a_casualty_goes_with_the_water_and_the_wind() {
    let drifted = |keys: &str, mode: &str| {
        let wind = "wind = { from_deg = 270, speed_kn = 30, every_s = 600 }";
        let current = "current = { set_deg = 0, rate_kn = 0.5 }";
        let bursts = bursts(&scenario(3660, current, wind, &beacon(mode, keys)), 972_000_017);
        let places: Vec<_> = bursts
            .iter()
            .flatten()
            .filter_map(|heard| {
                let report = heard.report()?;
                Some((heard.at, report.position()?))
            })
            .collect();
        let ((from, first), (until, last)) = (places[0], *places.last().unwrap());
        let (range, bearing) = range_and_bearing(first, last);
        (range.0 * 3_600_000.0 / until.ms_since(from) as f64, bearing.value())
    };
    let near = |found: (f64, f64), rate: f64, set: f64| {
        let off = (found.1 - set + 180.0).rem_euclid(360.0) - 180.0;
        assert!((found.0 - rate).abs() < 0.005 && off.abs() < 1.0, "{found:?} {rate} {set}");
    };
    near(drifted("", "active"), 0.5, 0.0);
    near(drifted("drift = { set_deg = 0, rate_kn = 0 }\nleeway = {}", "active"), 0.288, 90.0);
    near(drifted("leeway = {}", "active"), 0.5_f64.hypot(0.288), 29.94);
    near(drifted("leeway = { percent = 2 }", "active"), 0.5_f64.hypot(0.6), 50.19);
    assert!(drifted("", "test").0 < 0.02, "one that is tested is in somebody's hand");
}

#[test]
fn the_editions_differ_in_the_suffix() {
    for (keys, text) in [
        ("", "MOB TEST"),
        ("edition = 5", "MOB TEST"),
        ("edition = 6", "MOB TEST A00"),
        ("edition = 6\nsuffix = \"B07\"", "MOB TEST B07"),
        ("suffix = \"B07\"", "MOB TEST B07"),
    ] {
        let bursts = bursts(&scenario(60, "", "", &beacon("test", keys)), 972_000_017);
        let found: Vec<_> = bursts[0].iter().filter_map(|heard| heard.text()).collect();
        assert_eq!(found, [text; 2], "{keys}");
    }
}

/// `MOB TEST` is 88 bits in 15 characters: 2 fill bits, and 0 is wrong (M.1371-5 table 47, IEC
/// 61162-1 on VDM).
#[test]
fn one_message_says_a_wrong_number_of_fill_bits() {
    let fills = |keys: &str| -> Vec<char> {
        let made = scenario(60, "", "rmc_every_s = 3600", &beacon("test", keys));
        let burst = made.lines().filter(|line| line.source == "ais");
        burst.filter_map(|line| line.sentence.split('*').next()?.chars().last()).collect()
    };
    assert_eq!(fills(""), ['2', '0', '0', '0', '0', '0', '0', '2']);
    assert_eq!(fills("wrong_fill = true"), ['0', '0', '0', '0', '0', '0', '0', '2']);
}

/// Meaning, caller, seconds since the first call, whether with a position.
fn calls(scenario: &Scenario) -> Vec<(Meaning, u32, i64, bool)> {
    let mut decoder = Decoder::new();
    let mut found = Vec::new();
    let mut first = None;
    for line in scenario.lines().filter(|line| line.source == "vhf") {
        let decoded = decoder.decode(InputId(0), Mono::START, line.sentence.as_bytes());
        let Some(Ok(decoded)) = decoded else { panic!("{}", line.sentence) };
        if let Content::Nmea(Nmea::Dsc(call)) = decoded.content {
            assert_eq!(call.nature, Some(Nature::ManOverboard));
            let after = line.at.ms_since(*first.get_or_insert(line.at)) / 1000;
            found.push((
                call.meaning,
                call.caller_mmsi.unwrap().value(),
                after,
                call.lat.is_some(),
            ));
        }
    }
    found
}

/// "One alert every 5 min for 30 min, then every 10 min"; the first one without position, the second
/// one with the fix (a description of RTCM 11901.1).
#[test]
fn an_open_loop_calls_until_it_is_switched_off() {
    let keys = "dsc_repeats_s = 300\nfix_delay_s = 60\noff_s = 3400";
    let found = calls(&scenario(4000, "", "", &beacon("active", keys)));
    assert!(found.iter().all(|call| (call.0, call.1) == (Meaning::DistressAlert, 972_000_017)));
    assert_eq!((found[0].3, found[1].3), (false, true));
    assert!((47..58).contains(&found[1].2), "with the fix: {found:?}");
    let after: Vec<i64> = found.iter().map(|call| call.2).collect();
    assert_eq!(after[2..], [300, 600, 900, 1200, 1500, 1800, 2400, 3000]);
}

/// A relay about itself first, as the RTCM is quoted; acknowledged, it is silent.
#[test]
fn a_closed_loop_is_acknowledged_and_silent_then() {
    let found = calls(&scenario(4000, "", "", &beacon("active", "closed_loop = true")));
    let [(relay, by, 0, _), (answer, coast, after, _)] = found[..] else { panic!("{found:?}") };
    assert_eq!((relay, by), (Meaning::DistressRelay, 972_000_017));
    assert_eq!((answer, coast), (Meaning::DistressAcknowledgement, 2_000_000));
    assert!((10..=40).contains(&after), "{after}");
}

#[test]
fn a_drill_moves_the_casualty_and_what_follows_from_it() {
    let legs = "rmc_every_s = 1\n[[own.leg]]\ncourse_deg = 90\nspeed_kn = 6\nminutes = 1\n\
                [[own.leg]]\ncourse_deg = 270\nspeed_kn = 6\nminutes = 5\n";
    let rest = "[[beacon]]\nmmsi = 972000017\nmode = \"active\"\nactivate_s = 60\noff_s = 200\n\
                [[call]]\nat_s = 70\nmeaning = \"distress_alert\"\ncaller = 972000017\n";
    let plain = || scenario(300, "", legs, rest);
    let window = Duration::from_secs(600);
    for chance in [0.0, 0.25, 1.0] {
        let drill = plain().drill(window, chance).unwrap();
        let delay = (540.0 * chance) as i64;
        assert_eq!(drill.casualty_after(), Some(Duration::from_secs(60 + delay as u64)));
        let source = |made: &Scenario, name: &str| {
            let lines = made.lines().filter(|line| line.source == name);
            lines.map(|line| line.at.ms_since(made.start()) / 1000).collect::<Vec<_>>()
        };
        assert_eq!(source(&drill, "vhf"), [70 + delay]);
        let gnss = source(&drill, "gnss");
        assert_eq!(gnss.len() as i64, 300 + delay, "own ship is there from the start");
        let (was, is) = (source(&plain(), "ais"), source(&drill, "ais"));
        let moved = is[0] - was[0] - delay;
        assert!((-1..=1).contains(&moved), "{moved}");
        // She turns back when somebody is overboard, not before.
        let turned = drill.lines().position(|line| line.sentence.contains(",270.0,"));
        assert_eq!(turned, Some(60 + delay as usize));
        let mut capture = Vec::new();
        write_capture(&drill, &mut capture).unwrap();
        let text = String::from_utf8(capture).unwrap();
        assert!(text.lines().all(|line| line.split('*').next().unwrap().ends_with(",t:DRILL")));
        let mut decoder = Decoder::new();
        for line in text.lines() {
            let decoded =
                decoder.decode(InputId(0), Mono::START, line.as_bytes()).unwrap().unwrap();
            assert!(decoded.at.is_some(), "the TAG block is sound: {line}");
        }
    }
    assert_eq!(plain().drill(Duration::from_secs(59), 0.5).unwrap_err(), NoDrill::TooLate(60));
    let test = scenario(60, "", "", &beacon("test", ""));
    assert_eq!(test.drill(window, 0.5).unwrap_err(), NoDrill::NoCasualty);
}

#[test]
fn what_does_not_go_together_is_told() {
    let active = |keys: &str| beacon("active", keys);
    for (top, rest, key, words) in [
        ("sea = 2", String::new(), "sea", "2 is not from 0 to 1"),
        ("current = { set_deg = 1 }", String::new(), "rate_kn", "is missing"),
        ("", active("edition = 4"), "edition", "are 5 and 6"),
        ("", active("edition = 5\nsuffix = \"A01\""), "suffix", "from edition 6 on"),
        ("", active("leeway = {}"), "leeway", "needs a wind"),
        ("", active("dsc_repeats_s = 5"), "dsc_repeats_s", "5 is not from 30 to 3600"),
        ("", beacon("test", "dsc_repeats_s = 300"), "dsc_repeats_s", "no distress call"),
        ("", beacon("test", "closed_loop = true"), "closed_loop", "no distress call"),
        ("", active("closed_loop = true\ndsc_repeats_s = 300"), "dsc_repeats_s", "repeats no call"),
        ("", "[[receiver]]\nname = \"vhf\"".to_owned(), "name", "this name already"),
        (
            "",
            "[[receiver]]\nname = \"a\"\n[[receiver]]\nname = \"a\"".to_owned(),
            "name",
            "already",
        ),
        (
            "",
            "[[receiver]]\nname = \"a\"\ndeaf_channel = \"C\"".to_owned(),
            "deaf_channel",
            "is no word for it: write `A` or `B`",
        ),
    ] {
        let text = format!("{HEAD}duration_s = 60\n{top}\n{OWN}{rest}\n");
        let error = Scenario::parse(&text).unwrap_err();
        assert_eq!(error.key.as_deref(), Some(key), "{error}\n{text}");
        assert!(error.reason.contains(words), "{error}");
    }
}
