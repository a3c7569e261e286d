//! How far a beacon would be heard, against seas in which that is known: boats of every class at known
//! ranges, with antenna heights, powers and a law of loss that the estimator does not know.
//!
//! `OVERSIDE_SEAS=300 cargo test --release --test reach` sails 300 seas; without it there are fewer.
//! `OVERSIDE_FIRST_SEA=5000` sails others than those that the estimator was made with.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so")]

#[path = "support/mod.rs"]
mod support;

#[path = "support/book.rs"]
mod book;

#[path = "reach/sea.rs"]
mod sea;

use book::*;
use overside::logbook::{Details, Draft, HOURS};
use overside::watch::{Cause, EventBody, NotKnown, PastHour, Reach, ReachHour, SectorFrom, State};
use sea::{Sailed, Scale, Sea};

/// How many seas are sailed.
fn seas() -> u64 {
    given("OVERSIDE_SEAS").unwrap_or(32)
}

/// The first of them.
fn first_sea() -> u64 {
    given("OVERSIDE_FIRST_SEA").unwrap_or(0)
}

fn given(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Nine in ten of the intervals hold the truth, and half of them are narrower than a factor of 2.5.
#[test]
fn the_true_range_lies_within_the_limits_and_they_are_of_use() {
    let (mut within, mut known, mut widths) = (0, 0, Vec::new());
    for seed in (first_sea()..).take(seas() as usize) {
        let mut sailed = Sailed::new(Sea::new(seed, 20));
        sailed.sail(3600);
        let truth = sailed.sea.beacon_range80_nm();
        let reach = sailed.reach();
        let Some((range, low, high)) = reach.interval() else {
            println!("{seed}: true {truth:.2}, not known: {:?} {:?}", reach.why_not, reach.low_nm);
            continue;
        };
        known += 1;
        within += u32::from((low.0..=high.0).contains(&truth));
        widths.push(high.0 / low.0);
        println!(
            "{seed}: true {truth:.2}, {range} ({low} to {high}) from {}, level {:.1} sd {:.1}",
            reach.stations,
            reach.level_db.unwrap(),
            reach.level_sd_db.unwrap()
        );
    }
    let width = median(widths);
    println!("{within} of {known} within, of {} seas; median width {width:.2}", seas());
    assert!(f64::from(known) >= 0.8 * seas() as f64, "{known}");
    assert!(f64::from(within) >= 0.9 * f64::from(known), "{within} of {known}");
    assert!(width < 2.5, "{width}");
}

/// How often the limits hold the truth, how often there are any, and the middle of their factors.
fn told_with(scale: Option<fn(u64) -> Scale>, seeds: impl Iterator<Item = u64>) -> (u32, u32, f64) {
    let (mut within, mut known, mut widths) = (0, 0, Vec::new());
    for seed in seeds {
        let mut sailed = Sailed::new(Sea::new(seed, 20));
        sailed.sea.scale = scale.map(|scale| scale(seed));
        sailed.sail(3600);
        let truth = sailed.sea.beacon_range80_nm();
        let Some((_, low, high)) = sailed.reach().interval() else { continue };
        known += 1;
        within += u32::from((low.0..=high.0).contains(&truth));
        widths.push(high.0 / low.0);
    }
    (within, known, median(widths))
}

/// Where a receiver tells signals the limits hold as before, however far off or bent its scale is. One that always says the same changes nothing.
#[test]
fn the_limits_hold_with_signals_on_any_scale() {
    let seeds = || (first_sea() + 3000..).take(seas() as usize / 5);
    let off = |seed| Scale { off_db: [0.0, 12.0, -12.0][seed as usize % 3], per_db: 1.0 };
    let bent = |_| Scale { off_db: 0.0, per_db: 0.7 };
    let counts = told_with(None, seeds());
    let [signals, bent] = [off, bent].map(|scale| told_with(Some(scale), seeds()));
    let still = told_with(Some(|_| Scale { off_db: 20.0, per_db: 0.0 }), seeds());
    println!("counts {counts:?}, signals {signals:?}, bent {bent:?}, still {still:?}");
    for (within, known, width) in [signals, bent] {
        assert!(known >= counts.1 && width < 1.05 * counts.2);
        // Of a few seas one more may lie outside by chance.
        assert!(within >= counts.0.min((f64::from(known) * 0.9) as u32));
    }
    assert_eq!(still, counts);
}

/// When the cause was raised first after a moment.
fn raised_after(sailed: &Sailed, cause: Cause, after_s: f64) -> Option<f64> {
    sailed.events.iter().find_map(|(at, event)| match &event.body {
        EventBody::Alert(it) if it.cause == cause && *at >= after_s => Some(at - after_s),
        _ => None,
    })
}

/// Within half an hour, nine times in ten of many seas, though twenty ships come and go and each is heard now better
/// and now worse; in an hour and a half before, not once in ten. Compared with weeks it is surer: see
/// `usual.rs`.
#[test]
fn an_antenna_that_loses_10_db_is_reported_within_half_an_hour() {
    let (mut told, mut early, mut fell) = (Vec::new(), 0, Vec::new());
    let count = seas() / 2;
    for seed in (first_sea() + 1000..).take(count as usize) {
        let mut sailed = Sailed::new(Sea::new(seed, 20));
        sailed.sail(5400);
        let too_early = raised_after(&sailed, Cause::ReachReduced, 0.0);
        early += u32::from(too_early.is_some());
        let before = sailed.reach().level_db;
        sailed.sea.lost_db = 10.0;
        sailed.sail(1800);
        let after = sailed.reach();
        fell.extend(before.zip(after.level_db).map(|(before, after)| before - after));
        let at = raised_after(&sailed, Cause::ReachReduced, 5400.0);
        println!(
            "{seed}: {too_early:?} after {at:?} s, {before:?} {:?} {:?}",
            after.level_db, after.why_not
        );
        told.extend(at);
    }
    println!("{} of {count}, {early} before, median {:.0} s", told.len(), median(told.clone()));
    assert!(told.len() as f64 >= 0.8 * count as f64, "{} of {count}", told.len());
    assert!(f64::from(early) <= 0.1 * count as f64, "{early}");
    assert!(median(fell) > 4.0);
}

#[test]
fn a_plug_that_is_pulled_is_noticed_before_anybody_goes_overboard() {
    for seed in (first_sea() + 2000..).take(seas() as usize / 8) {
        // Pulled altogether, or half: the nearest ships still come in.
        for lost_db in [200.0, 35.0] {
            let mut sailed = Sailed::new(Sea::new(seed, 20));
            sailed.sail(3600);
            assert!(sailed.reach().range80_nm.is_some());
            sailed.sea.lost_db = lost_db;
            sailed.sail(900);
            let silent = raised_after(&sailed, Cause::InputSilent, 3600.0);
            let reduced = raised_after(&sailed, Cause::ReachReduced, 3600.0);
            println!("{seed}: {lost_db} dB: {silent:?} {reduced:?} {:?}", sailed.reach());
            let noticed = silent.into_iter().chain(reduced).fold(f64::INFINITY, f64::min);
            assert!(noticed <= if lost_db > 100.0 { 60.0 } else { 900.0 });
        }
    }
}

#[test]
fn an_antenna_that_is_mended_ends_the_caution() {
    let mut sailed = Sailed::new(Sea::new(7, 20));
    sailed.sail(3600);
    sailed.sea.lost_db = 20.0;
    sailed.sail(1200);
    assert!(raised_after(&sailed, Cause::ReachReduced, 3600.0).is_some());
    sailed.sea.lost_db = 0.0;
    sailed.sail(2400);
    let over = sailed.events.iter().any(|(_, event)| {
        matches!(&event.body, EventBody::Alert(it)
            if it.cause == Cause::ReachReduced && it.state == State::Normal)
    });
    assert!(over, "{:?}", sailed.reach());
}

fn hours(sailed: &Sailed) -> Vec<&ReachHour> {
    let hours = sailed.events.iter().filter_map(|(_, event)| match &event.body {
        EventBody::Reach(hour) => Some(&**hour),
        _ => None,
    });
    hours.collect()
}

#[test]
fn an_hour_tells_of_what_was_due_by_range_direction_channel_and_input() {
    let mut sailed = Sailed::new(Sea::new(3, 30));
    sailed.sail(3700);
    let hours = hours(&sailed);
    assert_eq!(hours.len(), 1);
    let hour = hours[0];
    let expected: u32 = hour.by_range.iter().map(|it| it.expected).sum();
    let received: u32 = hour.by_range.iter().map(|it| it.received).sum();
    assert!(expected > 1000 && received < expected && received > expected / 2);
    assert_eq!(hour.by_sector.iter().map(|it| it.expected).sum::<u32>(), expected);
    assert!(hour.by_sector.iter().all(|it| it.from == SectorFrom::North));
    assert!(hour.by_sector.iter().any(|it| it.range80_nm.is_some()));
    assert_eq!(hour.by_channel.iter().map(|it| it.received).sum::<u32>(), received);
    assert_eq!(hour.by_input.len(), 1);
    let input = &hour.by_input[0];
    assert_eq!((input.input.as_str(), input.received), ("ais", received));
    let (whole, by_input) = (hour.reach.range80_nm.unwrap(), input.range80_nm.unwrap());
    assert!((by_input.0 / whole.0 - 1.0).abs() < 0.3, "{by_input} {whole}");
    // As it is written down and read again.
    let text = serde_json::to_string(hour).unwrap();
    let again: ReachHour = serde_json::from_str(&text).unwrap();
    assert_eq!(serde_json::to_string(&again).unwrap(), text);
}

#[test]
fn a_mast_throws_its_shadow_into_one_sector() {
    let mut sailed = Sailed::new(Sea::new(11, 90));
    sailed.sea.mast = Some((60.0..90.0, 12.0));
    sailed.sail(3700);
    let hours = hours(&sailed);
    let whole = hours[0].reach.range80_nm.unwrap();
    let sectors = hours[0].by_sector.iter();
    let ranges: Vec<_> =
        sectors.filter_map(|it| Some((it.sector_deg, it.range80_nm?.0 / whole.0))).collect();
    println!("{ranges:?}");
    let (behind, free) =
        ranges.into_iter().partition::<Vec<(u16, f64)>, _>(|(sector, _)| *sector == 60);
    assert!(behind[0].1 < 0.75, "half as far: {behind:?}");
    assert!(free.len() >= 8);
    assert!(free.iter().all(|(_, range)| *range > behind[0].1), "{free:?}");
    let middle = median(free.iter().map(|it| it.1).collect());
    assert!((0.85..1.3).contains(&middle), "{free:?}");
}

#[test]
fn a_deaf_input_is_told_from_one_that_hears() {
    let mut sailed = Sailed::new(Sea::new(12, 20));
    (sailed.has_second, sailed.sea.second_lost_db) = (true, 15.0);
    sailed.sail(3700);
    let hours = hours(&sailed);
    let by_input = &hours[0].by_input;
    let range = |name| by_input.iter().find(|it| it.input == name).unwrap().range80_nm.unwrap().0;
    let (good, deaf) = (range("ais"), range("second"));
    assert!((0.3..0.6).contains(&(deaf / good)), "15 dB are a factor of 2.4: {by_input:?}");
    let whole = hours[0].reach.range80_nm.unwrap().0;
    assert!((0.8..1.25).contains(&(good / whole)), "{by_input:?}");
}

/// Under way at 6 kn, with ships that pass, come and go, it holds as at anchor.
#[test]
fn a_boat_under_way_knows_it_as_well() {
    let (mut within, mut known) = (0, 0);
    for seed in (first_sea() + 4000..).take(seas() as usize / 2) {
        let mut sailed = Sailed::new(Sea::new(seed, 20));
        sailed.speed_kn = 6.0;
        sailed.sail(3600);
        let truth = sailed.sea.beacon_range80_nm();
        let Some((_, low, high)) = sailed.reach().interval() else { continue };
        known += 1;
        within += u32::from((low.0..=high.0).contains(&truth));
    }
    println!("{within} of {known} within");
    assert!(known >= seas() as u32 / 3);
    assert!(f64::from(within) >= 0.9 * f64::from(known), "{within} of {known}");
}

#[test]
fn where_nothing_can_be_said_it_is_said_why() {
    let why = |sailed: &Sailed| {
        let reach = sailed.reach();
        assert!(reach.range80_nm.is_none() && reach.interval().is_none());
        reach.why_not.unwrap()
    };
    let mut alone = Sailed::new(Sea::new(5, 0));
    assert_eq!(why(&alone), NotKnown::NoAis);
    alone.sail(1200);
    assert_eq!(why(&alone), NotKnown::NoAis);
    let mut two = Sailed::new(Sea::near(5, 1));
    two.sail(1200);
    assert_eq!(why(&two), NotKnown::OneStation);
    let mut nowhere = Sailed::new(Sea::new(5, 20));
    nowhere.has_position = false;
    nowhere.sail(1200);
    assert_eq!(why(&nowhere), NotKnown::NoOwnPosition);
    assert_eq!(nowhere.reach().stations, 0);
    let mut near = Sailed::new(Sea::near(5, 6));
    near.sail(3600);
    assert_eq!(why(&near), NotKnown::AllNear);
    assert!(near.reach().low_nm.unwrap().0 > 0.2);
    let mut thinned = Sailed::new(Sea::new(6, 20));
    thinned.sea.collisions = 0.7;
    thinned.sail(3600);
    assert_eq!(why(&thinned), NotKnown::Thinned);
}

#[test]
fn what_nobody_listened_to_is_not_missed() {
    let mut sailed = Sailed::new(Sea::new(8, 20));
    sailed.sail(3600);
    let before = sailed.reach();
    for round in 0..5 {
        // The computer sleeps, and the ships go on; or what is heard is another station's.
        if round % 2 == 0 {
            sailed.skip(400)
        } else {
            sailed.hear_a_station_alone(400)
        }
        sailed.sail(400);
    }
    let after = sailed.reach();
    let share = |it: &overside::watch::Reach| f64::from(it.received) / f64::from(it.expected);
    assert!((share(&before) - share(&after)).abs() < 0.1, "{before:?} {after:?}");
    assert!((before.level_db.unwrap() - after.level_db.unwrap()).abs() < 6.0);
}

/// Three weeks of an hour a day, each with other ships and other weather, through the table beside the
/// logbook. The next watch begins with an antenna that has lost 10 dB in harbour, and nothing but the
/// weeks can tell it so; or with nothing of that kind.
#[test]
fn what_the_weeks_before_were_like_is_known_to_the_next_watch() {
    const DAY_S: f64 = 86_400.0;
    let sea = || Sea::new(21, 0);
    let mut sailed = Sailed::new(sea());
    let mut drafts = Vec::new();
    for day in 0..21 {
        sailed.on_another_day(DAY_S, 100 + day, 14);
        sailed.sail(3700);
        let told = hours(&sailed).pop().unwrap();
        let past = told.reach.past().map(|_| serde_json::to_value(told).unwrap());
        let mut settings = sailed.watch.settings().clone();
        settings.usual_reach.extend(told.reach.past());
        sailed.watch.set(settings);
        let details = Details::Reach { told: serde_json::json!({}), hour: past.map(Box::new) };
        drafts.push(Draft { details, ..act("reach", day as i64 * DAY_S as i64) });
    }
    assert!(raised_after(&sailed, Cause::ReachReduced, 0.0).is_none(), "in three weeks");
    let folder = tempfile::tempdir().unwrap();
    watch(folder.path(), drafts);
    let hours: Vec<Reach> = reader(folder.path()).hours(None, HOURS).unwrap();
    let past: Vec<PastHour> = hours.iter().filter_map(Reach::past).collect();
    assert!(past.len() >= 18, "{}", past.len());
    let told = |change: &dyn Fn(&mut Sea), seed, ships| {
        let mut next = Sailed::with_past(sea(), past.clone());
        next.on_another_day(DAY_S, seed, ships);
        change(&mut next.sea);
        next.sail(3600);
        println!("{seed}: {:?}", next.reach());
        raised_after(&next, Cause::ReachReduced, 0.0).is_some()
    };
    let seeds: Vec<u64> = (first_sea() + 200..).take(seas() as usize / 10).collect();
    let lost = seeds.iter().filter(|seed| told(&|sea| sea.lost_db = 10.0, **seed, 14)).count();
    let ordinary = seeds.iter().filter(|seed| told(&|_| {}, **seed, 14)).count();
    println!("{lost} of {} told, {ordinary} without a cause", seeds.len());
    assert!(lost * 10 >= seeds.len() * 6 && ordinary * 20 <= seeds.len());
    assert!(!told(&Sea::gather, 200, 14), "a quiet anchorage");
    assert!(!told(&|_| {}, 200, 0), "an empty sea");
}

/// Ten thousand identities that speak once or twice each change nothing.
#[test]
fn forged_stations_neither_push_out_the_others_nor_change_what_is_told() {
    let mut sailed = Sailed::new(Sea::new(9, 20));
    sailed.sail(3600);
    let before = sailed.reach();
    sailed.flood(10_000);
    sailed.sail(1200);
    let after = sailed.reach();
    assert!(before.range80_nm.is_some() && after.range80_nm.is_some(), "{after:?}");
    let moved = (before.level_db.unwrap() - after.level_db.unwrap()).abs();
    assert!(moved < 3.0, "{before:?} {after:?}");
    assert!(raised_after(&sailed, Cause::ReachReduced, 0.0).is_none());
    // And somebody in the water is heard as ever.
    sailed.activate(972_000_017);
    assert!(raised_after(&sailed, Cause::BeaconActive, 0.0).is_some());
}

/// AIS comes in: from then on it is said that too little was due so far, and not that there is no AIS.
#[test]
fn what_has_only_just_begun_says_so() {
    let mut sailed = Sailed::new(Sea::new(9, 20));
    sailed.sail(60);
    assert_eq!(sailed.reach().why_not, Some(NotKnown::TooFewReports));
}
