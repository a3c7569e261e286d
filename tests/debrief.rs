//! The debrief against drills whose truth is known: every number within the tolerance it states.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;
#[allow(dead_code, reason = "the reference's own reading is for other tests")]
#[path = "support/rehearsal.rs"]
mod rehearsal;
mod support;

use std::fmt::Write as _;

use drills::*;
use overside::debrief::{
    About, Casualty, Drill, DrillEventKind, LogEntry, Logged, Measured, Measures, Phase,
    RecoveredBy,
};
use overside::mmsi::Mmsi;
use overside::rehearse::Scenario;
use support::{nmea_position, position, sealed, tag, vdm};

/// Scenes that every number is checked on.
const SCENES: u64 = 200;

/// Fails with what was measured, how, and what is true.
#[track_caller]
fn near(seed: u64, what: &str, measured: &Measured<f64>, truth: f64, tolerance: f64) {
    let found = measured.value().unwrap_or_else(|| panic!("seed {seed}: {what}: {measured:?}"));
    assert!(
        (found - truth).abs() <= tolerance,
        "seed {seed}: {what} is {found}, in truth {truth:.1} ±{tolerance} ({})",
        measured.how()
    );
}

fn only(drill: &Drill) -> &Casualty {
    let [casualty] = drill.casualties.as_slice() else { panic!("{:?}", drill.casualties) };
    casualty
}

/// A time as seconds, a range as metres: so that one check does for all.
fn at(measured: &Measured<overside::time::Utc>) -> Measured<f64> {
    measured.map(|at| seconds(*at))
}

fn metres(measured: &Measured<overside::units::NauticalMiles>) -> Measured<f64> {
    measured.map(|range| range.metres())
}

#[test]
fn every_number_is_within_its_tolerance() {
    let mut moved = (0, 0);
    let failed: Vec<u64> = (0..SCENES)
        .filter(|&seed| {
            let check = || check_scene(seed, &mut moved);
            std::panic::catch_unwind(std::panic::AssertUnwindSafe(check)).is_err()
        })
        .collect();
    assert!(failed.is_empty(), "{} of {SCENES} scenes: {failed:?}", failed.len());
    let (by_motion, of) = moved;
    assert!(by_motion * 10 >= of * 8, "{by_motion} of {of} recoveries were seen by the motion");
}

fn check_scene(seed: u64, moved: &mut (u32, u32)) {
    let truth = Rehearsed::of(seed);
    let drill = debriefed_text(&recorded(&truth.toml));
    let casualty = only(&drill);
    let measures = &casualty.measures;
    let first = check_reception(seed, &truth, measures);
    check_turn(seed, &truth, measures, first);
    check_ranges(seed, &truth, measures, first);
    check_recovery(seed, &truth, measures, moved);
    check_way_back(seed, &truth, measures);
    check_drift(seed, &truth, measures);
    assert!(!casualty.findings.is_empty() && !drill.events.is_empty());
    assert!(drill.events.iter().zip(1..).all(|(event, number)| event.number == number));
}

/// What was heard, as the reference crate `ais` reads it; the first message.
fn check_reception(seed: u64, truth: &Rehearsed, measures: &Measures) -> f64 {
    let bursts = rehearsal::bursts(&Scenario::parse(&truth.toml).unwrap(), MMSI);
    let heard: Vec<_> = bursts.iter().flatten().collect();
    let times: Vec<f64> = heard.iter().map(|it| seconds(it.at)).collect();
    let (first, last) = (times[0], *times.last().unwrap());
    near(seed, "activated", &at(&measures.alarm.activated_at), first, 0.001);
    near(seed, "alarm", &at(&measures.alarm.alarm_at), first, 0.001);
    near(seed, "activated to alarm", &measures.alarm.activated_to_alarm_s, 0.0, 0.001);
    let fix = heard.iter().find(|it| it.report().is_some_and(|it| it.lat.is_some())).unwrap();
    near(seed, "first position", &at(&measures.alarm.first_position_at), seconds(fix.at), 0.001);
    let count = |channel: char| heard.iter().filter(|it| it.channel == channel).count() as u32;
    assert_eq!(
        measures.reception.messages_heard.value(),
        Some(&(heard.len() as u32)),
        "seed {seed}"
    );
    assert_eq!(measures.reception.heard_a.value(), Some(&count('A')), "seed {seed}");
    assert_eq!(measures.reception.heard_b.value(), Some(&count('B')), "seed {seed}");
    // The same drill with everything heard tells what was sent.
    let all = rehearsal::bursts(&Scenario::parse(&truth.all_heard()).unwrap(), MMSI);
    let sent = all
        .iter()
        .filter(|burst| {
            let (begin, end) = (seconds(burst[0].at), seconds(burst.last().unwrap().at));
            end >= first && begin <= last
        })
        .map(Vec::len)
        .sum::<usize>();
    let expected = measures.reception.messages_expected.map(|it| f64::from(*it));
    near(seed, "messages sent", &expected, sent as f64, 8.0);
    let off = heard.iter().any(|it| it.text().is_some_and(|it| it.contains("OFF")));
    let end = (!off).then_some(truth.way.len() as f64);
    let silence = times.iter().copied().chain(end).collect::<Vec<_>>();
    let silence = silence.windows(2).map(|two| two[1] - two[0]).fold(0.0, f64::max);
    near(seed, "silence", &measures.reception.longest_silence_s, silence, 1.2);
    let bands = measures.reception.reception_by_range.value().unwrap();
    let (sum, of) = bands.iter().fold((0, 0), |sum, it| (sum.0 + it.heard, sum.1 + it.expected));
    let reception = &measures.reception;
    if let Some(at) = measures.recovery.recovered_at.value() {
        let before = *reception.heard_in_water.value().unwrap();
        let truth = times.iter().filter(|it| **it < seconds(*at)).count() as u32;
        assert!((truth..truth + 8).contains(&before), "seed {seed}: {before}, in truth {truth}");
        assert!(sum <= before, "seed {seed}: bands");
    } else {
        assert_eq!(reception.heard_in_water.value(), None, "seed {seed}");
    }
    assert!(
        sum <= heard.len() as u32 && of <= *measures.reception.messages_expected.value().unwrap()
    );
    near(
        seed,
        "first range",
        &metres(&measures.reception.first_heard_range_nm),
        truth.range(first),
        30.0,
    );
    first
}

fn check_turn(seed: u64, truth: &Rehearsed, measures: &Measures, alarm: f64) {
    let turned = truth.turned as f64;
    near(seed, "turn", &at(&measures.turn.turn_begun_at), turned, 5.0);
    near(seed, "time lost", &measures.turn.alarm_to_turn_s, turned - alarm, 5.0);
    let sailed = truth.way[0].knots * KNOT * (turned - alarm);
    near(seed, "way lost", &measures.turn.alarm_to_turn_m, sailed, 20.0 + 0.1 * sailed);
    near(
        seed,
        "range at the turn",
        &metres(&measures.turn.range_at_turn_nm),
        truth.range(turned),
        25.0,
    );
    let points = |second: usize| {
        let ahead = truth.way[second].course;
        let there = bearing(truth.own(second as f64), truth.casualty(second as f64));
        angle(ahead, there) <= 20.0
    };
    let pointed = (truth.turned..truth.way.len() - 6).find(|&it| (it..=it + 5).all(points));
    if let Some(pointed) = pointed {
        near(seed, "pointing", &at(&measures.turn.pointing_at), pointed as f64, 10.0);
    }
}

fn check_ranges(seed: u64, truth: &Rehearsed, measures: &Measures, first: f64) {
    let until = truth.there.unwrap_or(truth.way.len());
    let greatest = truth.ranges(first as usize, until).fold(0.0, f64::max);
    near(seed, "greatest range", &metres(&measures.approach.greatest_range_nm), greatest, 25.0);
    let when = seconds(*measures.approach.greatest_range_at.value().unwrap());
    assert!(truth.range(when) >= greatest - 30.0, "seed {seed}: greatest range at {when}");
    let passes = measures.approach.passes_missed.value().map_or(&[][..], Vec::as_slice);
    // No pass missed is said of a boat that was there, and of no other.
    let is_known = measures.approach.passes_missed.value().is_some();
    assert_eq!(is_known, truth.there.is_some() || !passes.is_empty(), "seed {seed}");
    if truth.there.is_some() {
        near(seed, "closest", &measures.approach.closest_approach_m, 0.0, 25.0);
        let when = seconds(*measures.approach.closest_approach_at.value().unwrap());
        assert!(truth.range(when) <= 30.0, "seed {seed}: closest approach at {when}");
        assert_eq!(passes.len(), truth.passes, "seed {seed}: {passes:?}");
    } else {
        let closest = truth.ranges(truth.turned, until).fold(f64::INFINITY, f64::min);
        near(seed, "closest", &measures.approach.closest_approach_m, closest, 25.0);
    }
    for pass in passes {
        let when = seconds(pass.at);
        let around = truth.ranges(when as usize - 20, when as usize + 20);
        let nearest = around.fold(f64::INFINITY, f64::min);
        assert!(
            (pass.range_m - nearest).abs() <= 20.0,
            "seed {seed}: {pass:?}, in truth {nearest}"
        );
    }
}

fn check_recovery(seed: u64, truth: &Rehearsed, measures: &Measures, moved: &mut (u32, u32)) {
    let Some((there, leaves)) = truth.there.zip(truth.leaves) else {
        assert_eq!(measures.recovery.recovered_at.value(), None, "seed {seed}");
        assert_eq!(measures.recovery.at_casualty_at.value(), None, "seed {seed}");
        assert_eq!(measures.recovery.total_s.value(), None, "seed {seed}");
        return;
    };
    near(seed, "there", &at(&measures.recovery.at_casualty_at), there as f64, 15.0);
    let bursts = rehearsal::bursts(&Scenario::parse(&truth.toml).unwrap(), MMSI);
    let mut messages = bursts.iter().flatten();
    let off = messages.find(|it| it.text().is_some_and(|it| it.contains("OFF")));
    match measures.recovery.recovered_by {
        Some(RecoveredBy::Off) => {
            near(
                seed,
                "off",
                &at(&measures.recovery.recovered_at),
                seconds(off.unwrap().at),
                0.001,
            );
        }
        Some(RecoveredBy::MovesWithShip) => {
            // The way out of the circle of 50 m lies between, at 5 knots less the drift.
            let (leaves, slow) = (leaves as f64, 50.0 + 35.0);
            near(
                seed,
                "moves",
                &at(&measures.recovery.recovered_at),
                leaves + 20.0,
                25.0 + slow / 5.0,
            );
            moved.0 += 1;
        }
        // Switched off alongside, and its word was lost: nothing tells it.
        None => assert!(off.is_none() && truth.end == End::OffAlongside, "seed {seed}"),
        other => panic!("seed {seed}: {other:?}: {:?}", measures.recovery.recovered_at),
    }
    moved.1 += u32::from(truth.end == End::SailsOn);
    if let Some(error) = measures.position_error.value() {
        // Before the recovery she lies up to 10 m off.
        let aboard = measures.position_error.how().contains("on board");
        let most = truth.jitter.0 + truth.jitter.1 + if aboard { 1.0 } else { 10.0 };
        assert!(error.mean_m <= most, "seed {seed}: {error:?} of {:?}", truth.jitter);
    }
}

fn check_way_back(seed: u64, truth: &Rehearsed, measures: &Measures) {
    let Some(there) = truth.there else { return };
    let way =
        measures.turn.steering.value().unwrap_or_else(|| panic!("seed {seed}: {measures:#?}"));
    let sailed: f64 = truth.way[truth.turned..there].iter().map(|it| it.knots * KNOT).sum();
    let taken = (there - truth.turned) as f64;
    assert!((way.sailed_m - sailed).abs() <= 30.0 + 0.05 * sailed, "seed {seed}: {way:?} {sailed}");
    assert!((way.taken_s - taken).abs() <= 20.0, "seed {seed}: {way:?} {taken}");
    let turned = truth.turned as f64;
    let knots = sailed / taken / KNOT;
    let (_, needed) = meet(truth.own(turned), truth.casualty(turned), truth.drift, knots).unwrap();
    assert!((way.needed_s - needed).abs() <= 20.0 + 0.15 * needed, "seed {seed}: {way:?} {needed}");
    let off: Vec<f64> = (truth.turned..there)
        .filter(|&second| truth.range(second as f64) >= 100.0)
        .filter_map(|second| {
            let (own, it) = (truth.own(second as f64), truth.casualty(second as f64));
            let now = truth.way[second];
            Some(angle(now.course, meet(own, it, truth.drift, now.knots)?.0))
        })
        .collect();
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    // On a short way, what a few seconds at the turn make weighs more.
    let tolerance = if taken < 180.0 { 15.0 } else { 10.0 };
    assert!((way.mean_difference_deg - mean).abs() <= tolerance, "seed {seed}: {way:?} {mean}");
}

fn check_drift(seed: u64, truth: &Rehearsed, measures: &Measures) {
    let Some(drift) = measures.drift.value() else { return };
    let part = |set: f64, rate: f64| {
        let (east, north) = set.to_radians().sin_cos();
        (east * rate, north * rate)
    };
    let off =
        apart(part(drift.set_deg.value(), drift.rate_kn.0), part(truth.drift.0, truth.drift.1));
    // The circle that holds 99 %: 3.03 standard deviations of each component.
    assert!(
        off <= 3.03 * drift.sd_kn.0 + 0.02,
        "seed {seed}: {drift:?}, in truth {:?}",
        truth.drift
    );
}

/// The lines of a drill that pass a test of their second, and whatever else.
fn kept(text: &str, keep: impl Fn(f64, &str) -> bool) -> String {
    let second = |line: &str| {
        let ms = line.split("c:").nth(1)?.split(['*', ',']).next()?.parse().ok()?;
        Some(seconds(overside::time::Utc::from_unix_ms(ms)?))
    };
    text.lines()
        .filter(|line| keep(second(line).unwrap(), line))
        .map(|line| format!("{line}\r\n"))
        .collect()
}

/// A seed without a pass, with a recovery and a heading.
const PLAIN: u64 = 3;

#[test]
fn noise_and_gaps_cost_little() {
    for seed in [3, 9, 13, 18, 23] {
        let truth = Rehearsed::of(seed);
        let turned = truth.turned;
        let noisy = truth.toml.replacen(
            "[own]\n",
            &format!(
                "damage = 0.02\n[own]\ngnss_lost = [{{ from_s = {}, until_s = {} }}]\n",
                turned + 20,
                turned + 45
            ),
            1,
        );
        let drill = debriefed_text(&recorded(&noisy));
        let measures = &only(&drill).measures;
        near(seed, "turn", &at(&measures.turn.turn_begun_at), turned as f64, 5.0);
        let until = truth.there.unwrap_or(truth.way.len());
        let greatest = truth.ranges(truth.fallen, until).fold(0.0, f64::max);
        near(seed, "greatest range", &metres(&measures.approach.greatest_range_nm), greatest, 40.0);
        if let Some(there) = truth.there {
            near(seed, "there", &at(&measures.recovery.at_casualty_at), there as f64, 15.0);
        }
    }
}

#[test]
fn a_recording_that_starts_late_says_so() {
    let truth = Rehearsed::of(PLAIN);
    let late = truth.fallen as f64 + 70.0;
    let drill = debriefed_text(&kept(&recorded(&truth.toml), |second, _| second >= late));
    let measures = &only(&drill).measures;
    assert!(measures.alarm.activated_at.value().is_some(), "{:?}", measures.alarm.activated_at);
    assert!(measures.alarm.activated_at.how().contains("may have been active earlier"));
    assert_eq!(measures.alarm.activated_to_alarm_s.value(), None);
    assert_eq!(measures.recovery.total_s.value(), None);
    near(PLAIN, "there", &at(&measures.recovery.at_casualty_at), truth.there.unwrap() as f64, 15.0);
    assert!(measures.recovery.recovered_at.value().is_some());
}

#[test]
fn parts_are_one_recording_and_a_gap_between_them_is_kept() {
    let truth = Rehearsed::of(PLAIN);
    let all = recorded(&truth.toml);
    let middle = (truth.fallen + truth.turned) as f64 / 2.0;
    let folder = tempfile::tempdir().unwrap();
    let parts = [
        file(&folder, "1.nmea", &kept(&all, |second, _| second < middle)),
        file(&folder, "2.nmea", &kept(&all, |second, _| second >= middle + 20.0)),
    ];
    let whole = debriefed_text(&all);
    let parted = debriefed(&parts, About::default());
    let (whole, parted) = (&only(&whole).measures, &only(&parted).measures);
    assert_eq!(whole.turn.turn_begun_at, parted.turn.turn_begun_at);
    assert_eq!(whole.recovery.recovered_at, parted.recovery.recovered_at);
    assert_eq!(whole.alarm.activated_at, parted.alarm.activated_at);
}

#[test]
fn a_recording_without_times_is_counted_and_one_that_learns_them_is_moved() {
    let truth = Rehearsed::of(PLAIN);
    let all = recorded(&truth.toml);
    let bare = |line: &str| line.rsplit('\\').next().unwrap().to_owned() + "\r\n";
    // Only RMC tells the time: what comes before the first one is moved to it.
    let untagged: String = all.lines().map(bare).collect();
    let drill = debriefed_text(&untagged);
    let measures = &only(&drill).measures;
    near(PLAIN, "turn", &at(&measures.turn.turn_begun_at), truth.turned as f64, 6.0);
    assert_eq!(drill.begun.unwrap().date(), utc(0.0).date());
    let untimed: String = all.lines().filter(|it| !it.contains("RMC")).map(bare).collect();
    let drill = debriefed_text(&untimed);
    assert_eq!(only(&drill).measures.approach.closest_approach_m.value(), None);
    assert!(drill.findings.iter().any(|it| it.contains("tells no time")), "{:?}", drill.findings);
    assert!(drill.findings.iter().any(|it| it.contains("Own position is not")));
}

#[test]
fn nothing_to_measure_is_said() {
    let drill = debriefed_text("");
    assert!(drill.casualties.is_empty() && drill.begun.is_none());
    assert_eq!(drill.findings.len(), 2, "{:?}", drill.findings);
    let drill = debriefed_text("$GPRMC,complete nonsense\r\n\x1b[2J\r\n");
    assert!(drill.casualties.is_empty());
}

#[test]
fn times_at_the_end_of_the_calendar_and_endless_jumps_overflow_nothing() {
    let active = vdm(&position(MMSI, 14, Some((57.7, 10.5)), 10), 'A');
    let first = format!("2026-06-14T14:00:00Z {active}\r\n");
    let other = sealed("$GPXTE,A");
    let last = format!("9999-12-31T23:59:59Z {other}\r\n");
    assert_eq!(only(&debriefed_text(&format!("{first}{last}"))).bursts.len(), 1);
    let jumps = format!("{last}2001-01-01T00:00:00Z {other}\r\n").repeat(40_000);
    assert_eq!(debriefed_text(&format!("{first}{jumps}")).casualties.len(), 1);
}

#[test]
fn each_of_two_casualties_has_its_own_numbers() {
    let truth = Rehearsed::of(PLAIN);
    let fallen = truth.fallen + 30;
    let second = format!(
        "[[beacon]]\nmmsi = 972000016\nmode = \"active\"\nactivate_s = {fallen}\n\
         drift = {{ set_deg = 45, rate_kn = 0.6 }}\n"
    );
    let drill = debriefed_text(&recorded(&format!("{}{second}", truth.toml)));
    let [mate, other] = drill.casualties.as_slice() else { panic!("{}", drill.casualties.len()) };
    assert_eq!((mate.mmsi.unwrap().value(), mate.name().as_str()), (MMSI, "Mate"));
    assert_eq!((other.mmsi.unwrap().value(), other.name().as_str()), (972_000_016, "972000016"));
    assert!(mate.measures.recovery.recovered_at.value().is_some());
    assert_eq!(other.measures.recovery.recovered_at.value(), None);
    // Who is still in the water is not recovered because another is.
    let later = *mate.measures.recovery.recovered_at.value().unwrap();
    assert_eq!(mate.phase(later), Phase::After);
    assert_ne!(drill.phase(later), Phase::After);
    assert_eq!(drill.phase(later), other.phase(later));
    let drift = other.measures.drift.value().unwrap();
    assert!((drift.rate_kn.0 - 0.6).abs() < 0.1 && angle(drift.set_deg.value(), 45.0) < 8.0);
    // A remark that names nobody is about neither of two; one that names one is.
    for (text, recovered) in [("recovered", false), ("972000016 recovered", true)] {
        let log = vec![LogEntry {
            at: utc(truth.way.len() as f64 - 60.0),
            what: Logged::Remark { by: Some("Skipper".to_owned()), text: text.to_owned() },
        }];
        let folder = tempfile::tempdir().unwrap();
        let path = file(&folder, "drill.nmea", &recorded(&format!("{}{second}", truth.toml)));
        let drill = debriefed(&[path], About { log: Some(log), ..About::default() });
        let found = drill.casualties[1].measures.recovery.recovered_by;
        assert_eq!(found, recovered.then_some(RecoveredBy::Logbook), "{text}");
        let remark = drill.events.iter().find(|it| it.kind == DrillEventKind::Remark).unwrap();
        assert_eq!(remark.text, format!("Note in the logbook by Skipper: {text}"));
    }
}

#[test]
fn the_logbook_tells_who_acknowledged_and_when() {
    let truth = Rehearsed::of(PLAIN);
    let text = recorded(&truth.toml);
    let alarm = seconds(*only(&debriefed_text(&text)).measures.alarm.alarm_at.value().unwrap());
    let entry = |second: f64, mmsi: u32| LogEntry {
        at: utc(second),
        what: Logged::Acknowledged(Mmsi::new(mmsi).unwrap()),
    };
    let log =
        vec![entry(alarm - 60.0, MMSI), entry(alarm + 4.0, 972_000_016), entry(alarm + 9.0, MMSI)];
    let folder = tempfile::tempdir().unwrap();
    let path = file(&folder, "drill.nmea", &text);
    let drill = debriefed(&[path], About { log: Some(log), ..About::default() });
    near(PLAIN, "acknowledged", &only(&drill).measures.alarm.alarm_to_acknowledged_s, 9.0, 0.01);
}

#[test]
fn a_beacon_that_is_activated_again_after_off_is_a_second_incident() {
    let again = "[[beacon]]\nmmsi = 972000017\nmode = \"active\"\n";
    let base = "about = \"Twice.\"\nstart = 2026-06-14T14:00:00Z\nduration_s = 2400\nseed = 1\n\
                [own]\nmmsi = 200000000\nlat = 57.8\nlon = 10.4\n\
                [[own.leg]]\ncourse_deg = 90\nspeed_kn = 5\nminutes = 40\n";
    let lines = |from: u32, off: u32| {
        recorded(&format!("{base}{again}activate_s = {from}\noff_s = {off}\n"))
    };
    let (first, second) = (lines(200, 500), lines(1400, 1700));
    let text =
        kept(&first, |second, _| second < 1200.0) + &kept(&second, |second, _| second >= 1200.0);
    let drill = debriefed_text(&text);
    let begun: Vec<f64> = drill
        .casualties
        .iter()
        .map(|it| seconds(*it.measures.alarm.activated_at.value().unwrap()))
        .collect();
    assert_eq!(begun.len(), 2, "{begun:?}");
    assert!(
        (200.0..240.0).contains(&begun[0]) && (1400.0..1440.0).contains(&begun[1]),
        "{begun:?}"
    );
    // The boat sailed on: who said OFF was never with her, and tells nothing of her positions.
    for it in &drill.casualties {
        assert_eq!(it.measures.position_error.value(), None);
    }
}

/// A rehearsal that was played thirty times as fast as its times go: six hundred per cent of what was
/// sent were heard.
#[test]
fn more_than_a_beacon_sends_is_no_share_of_what_it_sent() {
    let begin = 1_781_445_600 + 120;
    let hurried: String = bursts_with_off(9)
        .lines()
        .map(|line| {
            let (_, sentence) = line.rsplit_once('\\').unwrap();
            let at: i64 = line.split("c:").nth(1).unwrap()[..10].parse().unwrap();
            format!("{}{sentence}\r\n", tag(&format!("c:{}", begin + (at - begin) / 30)))
        })
        .collect();
    let drill = debriefed_text(&hurried);
    let reception = &only(&drill).measures.reception;
    assert_eq!(reception.messages_heard.value(), Some(&64));
    assert_eq!(reception.messages_expected.value(), None);
    assert!(reception.messages_expected.how().starts_with("more was heard than a beacon sends"));
    assert_eq!(reception.reception_by_range.value(), None);
}

#[test]
fn a_rehearsal_says_that_it_was_one() {
    let real = bursts_with_off(9);
    let rehearsed: String =
        real.lines().map(|line| format!("{}{line}\r\n", tag("t:DRILL"))).collect();
    assert!(!debriefed_text(&real).rehearsed && debriefed_text(&rehearsed).rehearsed);
}

/// Bursts of eight up to this minute; the one of the tenth says OFF in between, and still sends its
/// last reports, as active as ever.
fn bursts_with_off(last: i64) -> String {
    bursts_with(last, "MOB OFF")
}

fn bursts_with(last: i64, word: &str) -> String {
    let mut text = String::new();
    for second in 120..900_i64 {
        let time = tag(&format!("c:{}", 1_781_445_600 + second));
        let (minute, rest) = (second / 60, second % 60);
        if rest >= 16 || rest % 2 == 1 || minute > last {
            continue;
        }
        let message = match (minute, rest) {
            (10, 2 | 12) => support::text(MMSI, word),
            _ => position(MMSI, 14, Some((57.8, 10.4)), rest as u8),
        };
        let _ = write!(text, "{time}{}\r\n", vdm(&message, 'A'));
    }
    text
}

#[test]
fn an_off_holds_for_its_burst() {
    let drill = debriefed_text(&bursts_with_off(10));
    let measures = &only(&drill).measures;
    assert_eq!(measures.recovery.recovered_by, Some(RecoveredBy::Off));
    near(0, "off", &at(&measures.recovery.recovered_at), 602.0, 0.01);
    assert_eq!(measures.reception.messages_heard.value(), Some(&72));
}

/// Nobody saw the boat there: the word is all that tells it.
#[test]
fn a_last_word_is_told_as_no_more_than_that() {
    for word in ["OFF", "CANCEL"] {
        let drill = debriefed_text(&bursts_with(10, &format!("MOB {word}")));
        let said =
            format!("'s beacon said {word}, which counts as the recovery, though the boat was");
        let findings = &only(&drill).findings;
        assert!(findings.iter().any(|it| it.contains(&said)), "{findings:?}");
        let events: Vec<&str> = drill.events.iter().map(|it| it.text.as_str()).collect();
        let counts = |it: &&str| it.ends_with("counts as out of the water");
        assert!(events.iter().any(counts), "{events:?}");
        assert!(events.iter().any(|it| it.ends_with(&format!("says {word}"))), "{events:?}");
    }
}

/// Whoever was taken aboard may go over again: nobody is out of the water by an OFF of before.
#[test]
fn an_off_ends_no_more_than_its_burst() {
    let drill = debriefed_text(&bursts_with_off(13));
    let [before, after] = drill.casualties.as_slice() else { panic!("{:?}", drill.casualties) };
    near(0, "off", &at(&before.measures.recovery.recovered_at), 602.0, 0.01);
    assert_eq!(before.measures.reception.messages_heard.value(), Some(&72));
    assert_eq!(after.measures.recovery.recovered_by, None);
    assert_eq!(after.measures.reception.messages_heard.value(), Some(&24));
}

/// Six days of one position a second and an active beacon all the time.
#[test]
fn a_long_recording_stays_within_its_limits() {
    let folder = tempfile::tempdir().unwrap();
    let mut text = String::new();
    for second in 0..450_000_i64 {
        let time = tag(&format!("c:{}", 1_781_445_600 + second));
        let of_day = second % 86_400;
        let (hour, minute, rest) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
        let place = (57.8 + (second % 1000) as f64 * 1e-5, 10.4);
        let rmc = sealed(&format!(
            "$GPRMC,{hour:02}{minute:02}{rest:02},A,{},5.0,{}.0,140626,,,A",
            nmea_position(place.0, place.1),
            second / 100 % 360
        ));
        let _ = write!(text, "{time}{rmc}\r\n");
        if second > 1000 && second % 60 < 16 && second % 2 == 0 {
            let message = position(MMSI, 14, Some(place), (second % 60) as u8);
            let _ = write!(
                text,
                "{time}{}\r\n",
                vdm(&message, if second % 4 == 0 { 'A' } else { 'B' })
            );
        }
    }
    let path = file(&folder, "long.nmea", &text);
    let drill = debriefed(&[path], About::default());
    let casualty = only(&drill);
    assert!(text.lines().count() > 500_000);
    assert!(drill.own_track.len() <= 30_000, "{}", drill.own_track.len());
    assert!(casualty.receptions.len() <= 12_288 && casualty.fixes.len() <= 12_288);
    assert!(casualty.bursts.len() <= 2 * 4_096 && casualty.ranges.len() <= 30_000);
    // What was not kept is counted all the same.
    let heard = *casualty.measures.reception.messages_heard.value().unwrap();
    assert!((59_000..=60_000).contains(&heard), "{heard}");
    // The first hours are there second by second.
    let spared = drill.own_track.windows(2).take(7000);
    assert!(spared.skip(1000).all(|two| two[1].at.ms_since(two[0].at) <= 1000));
}
