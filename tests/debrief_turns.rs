//! The turn back of a debrief: told from what the boat did before it, and from where it first began.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;
mod support;

use std::fmt::Write as _;

use drills::*;
use overside::debrief::{Casualty, Drill, DrillEventKind};

/// A course, how fast she turns on to it in degrees a second, and how long it is held then.
type Held = (f64, f64, usize);

/// Tells drills: the course held until `fallen`, and the courses after it.
struct Sailed {
    legs: Vec<Leg>,
    fallen: usize,
    has_heading: bool,
    wind_from: Option<f64>,
    seed: u64,
}

impl Sailed {
    fn leg(course: f64, rate: f64, seconds: usize) -> Leg {
        Leg { course, knots: 6.0, seconds, turn: rate * 60.0 }
    }

    fn recorded(&self, more: &str) -> String {
        let seconds: usize = self.legs.iter().map(|leg| leg.seconds).sum();
        let mut toml = format!(
            "about = \"Turns.\"\nstart = {START}\nduration_s = {seconds}\nseed = {}\n[own]\n\
             mmsi = 200000000\nlat = 57.8\nlon = 10.4\nheading_deg = {}\njitter_m = 2\n",
            self.seed, self.legs[0].course
        );
        if self.has_heading {
            toml += "hdt_every_s = 1\n";
        }
        if let Some(from) = self.wind_from {
            let _ = writeln!(toml, "wind = {{ from_deg = {from}, speed_kn = 14 }}");
        }
        for leg in &self.legs {
            let _ = write!(
                toml,
                "[[own.leg]]\ncourse_deg = {}\nspeed_kn = {}\nminutes = {}\n",
                leg.course,
                leg.knots,
                leg.seconds as f64 / 60.0
            );
            if leg.turn > 0.0 {
                let _ = writeln!(toml, "turn_deg_min = {}", leg.turn);
            }
        }
        let _ = write!(
            toml,
            "[[beacon]]\nmmsi = {MMSI}\nmode = \"active\"\nactivate_s = {}\nfix_delay_s = {}\n\
             drift = {{ set_deg = 70, rate_kn = 0.5 }}\njitter_m = 4\n{more}",
            self.fallen,
            self.seed % 3 * 20
        );
        recorded(&toml)
    }
}

/// A boat that holds a course for 240 s and more, does `before`, and falls are `after_s` later; she
/// goes on for `on_s` and then does `back`. When the turn back begins.
fn sailed(
    seed: u64,
    before: &[Held],
    after_s: usize,
    on_s: usize,
    back: &[Held],
) -> (Sailed, usize) {
    let mut it = Sailed {
        legs: Vec::new(),
        fallen: 0,
        has_heading: !seed.is_multiple_of(4),
        wind_from: Some(355.0),
        seed,
    };
    let mut course = 40.0;
    it.legs.push(Sailed::leg(course, 0.0, 240));
    let mut turn = |it: &mut Sailed, (to, rate, held): Held| {
        let turning = (angle(course, to) / rate).ceil() as usize;
        it.legs.push(Sailed::leg(to, rate, turning + held));
        course = to;
    };
    for held in before {
        turn(&mut it, *held);
    }
    let begun: usize = it.legs.iter().map(|leg| leg.seconds).sum();
    it.fallen = begun + after_s;
    it.legs.last_mut().unwrap().seconds += after_s + on_s;
    let turned = begun + after_s + on_s;
    for held in back {
        turn(&mut it, *held);
    }
    (it, turned)
}

fn only(drill: &Drill) -> &Casualty {
    let [casualty] = drill.casualties.as_slice() else { panic!("{:?}", drill.casualties) };
    casualty
}

#[track_caller]
fn turned(drill: &Drill, truth: usize, what: &str) {
    let begun = &only(drill).measures.turn.turn_begun_at;
    let at = seconds(*begun.value().unwrap_or_else(|| panic!("{what}: {begun:?}")));
    assert!((at - truth as f64).abs() <= 5.0, "{what}: {at}, in truth {truth}");
    assert_eq!(begun.tolerance(), Some(5.0));
}

fn manoeuvres(drill: &Drill) -> Vec<&str> {
    let of = drill.events.iter().filter(|it| it.kind == DrillEventKind::Manoeuvre);
    of.map(|it| it.text.as_str()).collect()
}

#[test]
fn a_tack_before_the_fall_is_no_turn_back() {
    for seed in 0..12 {
        for before_s in [40, 60, 90] {
            let (it, truth) = sailed(seed, &[(310.0, 8.0, 0)], before_s, 75, &[(130.0, 6.0, 150)]);
            let drill = debriefed_text(&it.recorded(""));
            turned(&drill, truth, &format!("seed {seed}, {before_s} s"));
            assert_eq!(
                manoeuvres(&drill),
                ["The boat tacks from 040° to 310°"],
                "{seed} {before_s}"
            );
            // The fall is no pass.
            let passes = only(&drill).measures.approach.passes_missed.value().unwrap();
            assert!(passes.iter().all(|it| seconds(it.at) > truth as f64), "{seed}: {passes:?}");
            let lost = only(&drill).measures.turn.alarm_to_turn_s.value().unwrap();
            assert!(*lost > 3.0, "{seed}: {lost}");
        }
    }
}

#[test]
fn a_gybe_that_swept_somebody_off_has_its_name() {
    for seed in 0..12 {
        let (it, truth) =
            sailed(seed, &[(150.0, 9.0, 90), (210.0, 12.0, 0)], 1, 60, &[(30.0, 7.0, 120)]);
        let drill = debriefed_text(&it.recorded(""));
        turned(&drill, truth, &format!("seed {seed}"));
        let named = manoeuvres(&drill);
        assert_eq!(named.last(), Some(&"The boat gybes from 150° to 210°"), "{seed}: {named:?}");
        let findings = only(&drill).findings.join(" ");
        assert!(findings.contains("gybed from 150° to 210°"), "{findings}");
    }
}

#[test]
fn a_williamson_turn_begins_where_it_first_leaves_the_course() {
    for seed in 1..12 {
        for rate in [7.0, 9.0, 11.0] {
            for side in [60.0_f64, -60.0] {
                let back: &[Held] = &[
                    ((40.0 + side).rem_euclid(360.0), rate, 0),
                    ((40.0 - side).rem_euclid(360.0), rate, 0),
                    (220.0, rate, 150),
                ];
                let (it, truth) = sailed(seed, &[], 30, 80, back);
                let drill = debriefed_text(&it.recorded(""));
                turned(&drill, truth, &format!("seed {seed}, {rate}°/s"));
                assert_eq!(manoeuvres(&drill), [""; 0]);
            }
        }
    }
}

#[test]
fn a_beam_reach_before_the_tack_back_is_a_part_of_the_turn() {
    for seed in 1..8 {
        let (it, truth) = sailed(seed, &[], 30, 40, &[(85.0, 8.0, 22), (250.0, 9.0, 150)]);
        let drill = debriefed_text(&it.recorded(""));
        turned(&drill, truth, &format!("seed {seed}"));
    }
}

#[test]
fn a_boat_that_never_turned_back_has_no_turn_and_no_passes() {
    let (it, _) = sailed(1, &[(310.0, 8.0, 0)], 60, 60, &[(350.0, 5.0, 240)]);
    let drill = debriefed_text(&it.recorded(""));
    let measures = &only(&drill).measures;
    assert_eq!(measures.turn.turn_begun_at.value(), None);
    assert_eq!(measures.approach.passes_missed.value(), None);
    assert!(measures.approach.passes_missed.how().contains("not seen to come back"));
    assert_eq!(manoeuvres(&drill).len(), 2, "{:?}", manoeuvres(&drill));
}

#[test]
fn a_wind_that_the_instruments_have_worked_out_names_a_tack_as_well() {
    let (mut it, truth) = sailed(5, &[(310.0, 8.0, 0)], 60, 75, &[(130.0, 6.0, 150)]);
    it.wind_from = None;
    let mwd = support::sealed("WIMWD,355.0,T,353.0,M,14.0,N,7.2,M");
    let text: String = it
        .recorded("")
        .lines()
        .map(|line| match line.find("$GPRMC") {
            Some(begin) => format!("{line}\r\n{}{mwd}\r\n", &line[..begin]),
            None => format!("{line}\r\n"),
        })
        .collect();
    let drill = debriefed_text(&text);
    turned(&drill, truth, "with MWD");
    assert_eq!(manoeuvres(&drill), ["The boat tacks from 040° to 310°"]);
    let wind = drill.wind.value().unwrap();
    assert!(angle(wind.from_deg.value(), 355.0) < 1.0 && (wind.speed_kn.0 - 14.0).abs() < 0.1);
}
