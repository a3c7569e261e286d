//! The debrief against drills whose truth is known: sailed here, second by second, with streams,
//! leeway, wandering positions, old fixes, losses and gaps. Each number must be as right as it says.
//!
//! ```text
//!  seed ─▶ story ─▶ sailed ─▶ recording ─▶ debrief ─▶ judge
//!                     └────────▶ truth ────────────────▲
//! ```
//! A few dozen drills are sailed in `cargo test`. More, with a table of every number:
//!
//! ```text
//! OVERSIDE_DRILLS=300 cargo test --test drills -- --nocapture each_number
//! OVERSIDE_DRILL=17 …           # this seed alone, with its numbers
//! ```
#![allow(dead_code, reason = "other tests use other parts")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "drills/judge.rs"]
mod judge;
#[path = "drills/radio.rs"]
mod radio;
#[path = "drills/sail.rs"]
mod sail;
#[path = "drills/story.rs"]
mod story;
mod support;
#[path = "drills/truth.rs"]
mod truth;

use judge::Judge;
use overside::app;
use overside::debrief::{About, Casualty, Drill, Measured, Measures, Observer};
use overside::mmsi::Mmsi;
use overside::units::NauticalMiles;
use overside::watch::Settings;
use radio::{MMSI, OTHER, Recorded, record, seconds};
use sail::{Sailed, sail};
use story::{After, Story, Turn};
use truth::{Truth, truth};

/// Numbers that have to be within their tolerance; the others are printed.
const HELD_TO: [&str; 16] = [
    "closest_approach_m",
    "closest_approach_at",
    "greatest_range_nm",
    "greatest_range_at",
    "at_casualty_at",
    "recovered_at",
    "total_s",
    "passes",
    "messages_expected",
    "heard_in_water",
    "expected_in_water",
    "position_error mean_m",
    "steering sailed_m",
    "steering taken_s",
    "steering needed_m",
    "steering needed_s",
];

/// Drills sailed in each run of the tests.
const DRILLS: u64 = 48;

/// What the program makes of a recording.
fn debriefed(text: &str) -> Drill {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("drill.nmea");
    std::fs::write(&path, text).unwrap();
    let crew = [(MMSI, "Mate"), (OTHER, "Cook")];
    let muster = crew.map(|(mmsi, who)| (Mmsi::new(mmsi).unwrap(), Some(who.to_owned()))).into();
    let mut observer = Observer::new();
    let settings = Settings { muster, ..Settings::default() };
    app::observe(&[path], None, settings, &mut observer, |_| {}).unwrap();
    observer.finish(About { recording: "drill".to_owned(), ..About::default() })
}

/// A story sailed and debriefed.
struct Told {
    sailed: Sailed,
    recorded: Recorded,
    truth: Truth,
    /// That of whoever else fell.
    other: Option<Truth>,
    drill: Drill,
}

fn told(story: &Story) -> Told {
    let sailed = sail(story);
    let recorded = record(story, &sailed);
    let other = sailed.of_other().map(|sailed| truth(story, &sailed, &recorded.air[1]));
    let truth = truth(story, &sailed, &recorded.air[0]);
    let drill = debriefed(&recorded.text);
    Told { sailed, recorded, truth, other, drill }
}

impl Told {
    #[track_caller]
    fn casualty(&self) -> &Casualty {
        let [casualty] = self.drill.casualties.as_slice() else {
            panic!("{} casualties", self.drill.casualties.len())
        };
        casualty
    }
}

/// Whether a number is there, and as right as it says.
#[track_caller]
fn is_right(what: &str, found: &Measured<f64>, truth: f64) {
    let off = (found.value().unwrap() - truth).abs();
    let claimed = found.tolerance().unwrap();
    assert!(off <= claimed, "{what}: {off} off {truth}, ±{claimed}: {}", found.how());
}

fn in_metres(range: &Measured<NauticalMiles>) -> Measured<f64> {
    let off = range.tolerance().map(|off| NauticalMiles(off).metres());
    let range = range.map(|it| it.metres());
    off.map_or(range.clone(), |off| range.within(off))
}

#[test]
fn who_may_be_on_board_is_at_no_range_until_that_is_known() {
    for stays in [20, 35, 50, 65] {
        // She goes on with him before the beacon says OFF.
        let off = Some(stays + 4);
        let told = told(&Story { after: After::SailsOn(400), stays, off, ..Story::simple() });
        let (truth, casualty) = (&told.truth, told.casualty());
        let last = in_metres(&casualty.measures.reception.last_heard_range_nm);
        is_right("last heard", &last, truth.last_range);
        // And for no moment between she says that he drifts where she left.
        for range in &casualty.ranges {
            let truth = told.sailed.range(seconds(range.at));
            let found = range.range_nm.metres();
            assert!((found - truth).abs() < 30.0, "{found} for {truth} m, staying {stays} s");
        }
    }
}

#[test]
fn a_turn_in_a_gap_of_own_track_is_not_known() {
    let story = Story { reacts: 60, turn: Turn::LongWay, ..Story::simple() };
    let turns = (story.falls + story.reacts) as f64;
    let story = Story { gaps: vec![(turns - 2.0, turns + 50.0)], passes: vec![60.0], ..story };
    let told = told(&story);
    let turn = &told.casualty().measures.turn.turn_begun_at;
    assert_eq!(
        turn.value(),
        None,
        "{:?}, and it was at {turns}",
        turn.value().map(|at| seconds(*at))
    );
    assert!(turn.how().contains("gap"), "{}", turn.how());
}

#[test]
fn what_a_gap_of_own_track_hides_is_in_the_numbers() {
    let story = Story { passes: vec![40.0], ..Story::simple() };
    let seen = told(&story);
    let [(pass, _)] = seen.truth.passes[..] else { panic!("{:?}", seen.truth.passes) };
    // The pass, and the greatest range.
    let (furthest, _) = seen.truth.greatest.unwrap();
    let gaps = vec![(furthest - 25.0, furthest + 25.0), (pass - 30.0, pass + 30.0)];
    let told = told(&Story { gaps, ..story });
    let approach = &told.casualty().measures.approach;
    let (at, greatest) = told.truth.greatest.unwrap();
    is_right("greatest range", &in_metres(&approach.greatest_range_nm), greatest);
    is_right(
        "its time",
        &approach
            .greatest_range_at
            .map(|it| seconds(*it))
            .within(approach.greatest_range_at.tolerance().unwrap()),
        at,
    );
    assert_eq!(approach.passes_missed.value(), None);
}

#[test]
fn a_pass_that_ranges_hardly_tell_counts_in_the_tolerance() {
    let missed = |story: Story| {
        let told = told(&story);
        let passes = &told.casualty().measures.approach.passes_missed;
        let claimed = passes.tolerance().unwrap_or_default();
        let count = passes.map(|it| it.len() as f64).within(claimed);
        is_right("passes", &count, told.truth.passes.len() as f64);
        claimed
    };
    // She comes nearer by hardly 40 m before she goes away again.
    let (noise, passes) = ((2.5, 3.0), vec![60.0, 55.0]);
    let near = Story { reacts: 20, first_fix: 50.0, noise, passes, ..Story::simple() };
    assert_eq!(missed(near), 1.0);
    assert_eq!(missed(Story { passes: vec![40.0], ..Story::simple() }), 0.0);
}

/// A recovery that was seen at the right time, and an approach that was as near as it was.
#[track_caller]
fn is_recovered_as_sailed(story: &Story) {
    let told = told(story);
    let Measures { approach, recovery, .. } = &told.casualty().measures;
    let (_, closest) = told.truth.closest.unwrap();
    is_right("closest approach", &approach.closest_approach_m, closest);
    let (_, greatest) = told.truth.greatest.unwrap();
    is_right("greatest range", &in_metres(&approach.greatest_range_nm), greatest);
    assert_eq!(approach.passes_missed.value().unwrap().len(), told.truth.passes.len());
    if let Some(off) = recovery.recovered_at.tolerance() {
        let at = recovery.recovered_at.map(|at| seconds(*at)).within(off);
        is_right("recovered", &at, told.truth.aboard.unwrap());
    }
}

#[test]
fn a_boat_that_goes_on_at_a_walking_pace_has_the_person_on_board() {
    // One position in the water, half a minute beside her, and on at 2.6 kn over ground.
    is_recovered_as_sailed(&Story::of_kind(145, "quick"));
}

#[test]
fn a_boat_that_never_went_on_has_the_person_still_in_the_water() {
    // A position far off among those beside her.
    is_recovered_as_sailed(&Story::of_kind(240, "plain"));
}

#[test]
fn nobody_comes_on_board_of_a_boat_that_never_stopped_for_him() {
    // The second of two positions far off, and a stream of 3 kn that carries both.
    is_recovered_as_sailed(&Story::of_kind(39, "stream"));
}

#[test]
fn nobody_is_on_board_whose_places_lie_away_from_the_boat_again() {
    // Calls 81 s apart: one while she passes by, the next two away from her.
    let told = told(&Story::of_kind(73, "called"));
    let recovered = &told.casualty().measures.recovery.recovered_at;
    if let Some(off) = recovered.tolerance() {
        let at = recovered.map(|at| seconds(*at)).within(off);
        is_right("recovered", &at, told.truth.aboard.unwrap());
    }
}

#[test]
fn a_range_that_is_hardly_known_is_looked_at_to_the_end() {
    // Positions minutes apart: she is at the casualty as far as they tell where it is, and is not.
    let told = told(&Story::of_kind(43, "called"));
    assert!(told.casualty().is_called_only());
}

fn asked(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// What a judge says of the drills of some seeds; and of the closest approaches with three fixes how far
/// each is off, and how far it claims to be.
fn judged(seeds: impl IntoIterator<Item = u64>, is_alone: bool) -> (Judge, Vec<(f64, f64)>) {
    let mut judge = Judge::default();
    let mut useful = Vec::new();
    for seed in seeds {
        let story = Story::of(seed);
        let told = told(&story);
        if is_alone {
            println!("{story:#?}\n{:#?}\n{:#?}", told.truth, told.other);
            told.drill.casualties.iter().for_each(|it| println!("{:#?}", it.measures));
            if let Ok(path) = std::env::var("OVERSIDE_DRILL_FILE") {
                std::fs::write(path, &told.recorded.text).unwrap();
            }
        }
        let truths = || [Some(&told.truth), told.other.as_ref()].into_iter().flatten();
        if told.recorded.air.iter().any(|air| air.heard.is_empty()) {
            continue;
        }
        if told.drill.casualties.len() != truths().count() {
            println!("seed {seed}: {} casualties", told.drill.casualties.len());
            continue;
        }
        for (mmsi, (truth, air)) in [MMSI, OTHER].into_iter().zip(truths().zip(&told.recorded.air))
        {
            let is_it = |it: &&Casualty| it.mmsi == Mmsi::new(mmsi);
            let measures = &told.drill.casualties.iter().find(is_it).unwrap().measures;
            judge.judge(seed, truth, measures);
            let closest = &measures.approach.closest_approach_m;
            if air.fixed_bursts >= 3
                && let Some((found, (_, true_m))) = closest.value().zip(truth.closest)
            {
                useful.push(((found - true_m).abs(), closest.tolerance().unwrap_or(20.0)));
            }
        }
    }
    (judge, useful)
}

/// Beyond three times what it claims nobody is warned: a boat that went on with a quick rescue's beacon,
/// and a turn that went round and missed, were that.
fn grossly_wrong(judge: &Judge) -> Vec<(&'static str, u64)> {
    let numbers = HELD_TO.iter().chain(&["drift (kn)", "turn_begun_at", "alarm_to_turn_s"]);
    let of = |&name: &&'static str| {
        let outcomes = judge.numbers.get(name).into_iter().flat_map(|it| &it.outcomes);
        outcomes.filter(|it| it.is_gross()).map(move |it| (name, it.seed))
    };
    numbers.flat_map(|name| of(name).collect::<Vec<_>>()).collect()
}

#[test]
fn drills_that_were_told_wrong_are_told_right_or_not_at_all() {
    // One position of two to four far off: of a beacon beside a boat that came to lie there, or of one
    // that was not heard again.
    let far_off = [56, 176, 214, 552];
    // Silent before the boat came back after a pass: that pass is no arrival, nor surely the nearest.
    let silent = [192, 327, 477];
    // Turned at once: in a stream, past the casualty, and all the way around to the same course.
    let turned = [150, 461, 451];
    let (judge, _) = judged([&far_off[..], &silent, &turned].concat(), false);
    assert_eq!(grossly_wrong(&judge), []);
}

#[test]
fn each_number_is_as_right_as_it_says() {
    let seeds = match asked("OVERSIDE_DRILL") {
        Some(seed) => seed..seed + 1,
        None => 0..asked("OVERSIDE_DRILLS").unwrap_or(DRILLS),
    };
    let (judge, useful) = judged(seeds.clone(), seeds.end - seeds.start == 1);
    println!("{}", judge.table());
    for (name, tally) in &judge.numbers {
        let bad: Vec<String> = tally
            .outcomes
            .iter()
            .filter(|it| !it.is_within())
            .map(|it| {
                let gross = if it.is_gross() { "!" } else { "" };
                let kind = Story::kind(it.seed);
                format!(
                    "{}{gross} {kind} {:.3}/{:.3}±{:.3}",
                    it.seed, it.found, it.truth, it.tolerance
                )
            })
            .collect();
        println!(
            "{name}: {}\n   invented {:?}\n   unknown {:?}",
            bad.join("; "),
            tally.invented,
            tally.unknown
        );
    }
    if seeds.end - seeds.start >= DRILLS {
        for name in HELD_TO {
            let share = judge.numbers[name].within();
            assert!(share >= 0.9, "{name}: {:.0} % within its tolerance", 100.0 * share);
        }
        let gross = grossly_wrong(&judge);
        for name in gross.iter().map(|it| it.0) {
            let count = gross.iter().filter(|it| it.0 == name).count();
            assert!(count as u64 * DRILLS <= seeds.end, "{name}: {gross:?} grossly wrong");
        }
    }
    let middle = |of: fn(&(f64, f64)) -> f64| {
        let mut all: Vec<f64> = useful.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(0.0)
    };
    let (error, tolerance) = (middle(|it| it.0), middle(|it| it.1));
    println!(
        "closest approach with three fixes: error {error:.1} m, tolerance {tolerance:.1} m (medians of {})",
        useful.len()
    );
}
