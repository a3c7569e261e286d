//! Casualties whose beacons fall silent, and boats that search for them as they are told: fast time,
//! seeded, with everything a little otherwise than it is held to be.
//!
//! The truth drifts by the true current, a leeway drawn as Breivik and Allen draw it (J. Marine
//! Systems 69 (2008) 99-113: one deviation for the whole scene, half of it without wind, all of it
//! at 10 m/s) and a velocity that wanders by 0.1 kn in ten minutes. How large the errors of wind and
//! current are is our own; so is that a boat that knows neither searches where the current is weak.

#![allow(dead_code, reason = "test and bench each use their part")]
#![allow(clippy::unwrap_used, reason = "a scene that cannot go on says so")]

use std::f64::consts::TAU;
use std::time::Duration;

use overside::navigation::{
    Conditions, Datum, Fixes, Leeway, Lookout, Offset, Position, Search, Seas, Velocity, Wind,
    Wishes,
};
use overside::time::Mono;
use overside::units::{Degrees, Knots, METRES_PER_NAUTICAL_MILE, NauticalMiles};

/// Seconds between two looks at boat and casualty: at 6 kn she goes 15 m.
const STEP_S: u64 = 5;
/// Nobody searches longer by this plan.
const LONGEST_S: u64 = 8 * 3600;
const FIX_SD_M: f64 = 10.0;
const KNOT: f64 = METRES_PER_NAUTICAL_MILE / 3600.0;

/// What the datum is made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Three fixes or more.
    Drift,
    /// One or two fixes, wind and current.
    WindAndCurrent,
    /// One or two fixes and nothing else.
    Nothing,
}

/// How badly the currents are known.
#[derive(Clone, Copy, Debug)]
pub struct Waters {
    /// Error of a known current along each axis (standard deviation).
    pub error: Knots,
    /// The strongest unknown current.
    pub unknown: Knots,
    /// How high the seas are, if that is known.
    pub seas: Option<Seas>,
}

/// What those scenes are like in which the search is held to its promise.
pub const USUAL: Waters = Waters { error: Knots(0.15), unknown: Knots(0.5), seas: None };

/// How a search ended.
#[derive(Clone, Debug)]
pub struct Outcome {
    pub known: Known,
    pub covered: bool,
    pub is_over: bool,
    pub lasted: Duration,
    pub search: Search,
}

struct Dice(fastrand::Rng);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.f64()
    }

    /// Mean 0, standard deviation 1.
    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.0.f64()).ln()).sqrt() * (TAU * self.0.f64()).cos()
    }

    fn direction(&mut self) -> Degrees {
        Degrees::new(self.between(0.0, 360.0))
    }

    fn scattered(&mut self, place: Offset, sd_m: f64) -> Offset {
        let off = Offset { east_m: self.normal() * sd_m, north_m: self.normal() * sd_m };
        place + off
    }

    /// What a wind really does to a person, who is sitting, upright or in any state.
    fn leeway(&mut self, wind: Wind) -> Velocity {
        let kinds = [Leeway::UNKNOWN, Leeway::VERTICAL, Leeway::SITTING];
        let kind = kinds[self.0.usize(0..kinds.len())];
        let w = wind.speed.0 * KNOT;
        let mut along = |line: overside::navigation::Line| {
            let off = self.normal() * line.deviation;
            ((line.slope + off / 20.0) * w + line.offset + off / 2.0) / 100.0
        };
        let (down, right, left) =
            (along(kind.downwind).max(0.0), along(kind.right), along(kind.left));
        let across = if self.0.bool() { right } else { left };
        let downwind = Degrees::new(wind.from.value() + 180.0);
        let beside = Degrees::new(wind.from.value() + 270.0);
        Velocity::of(downwind, Knots(down / KNOT)) + Velocity::of(beside, Knots(across / KNOT))
    }
}

/// One scene, from the first burst to the end of the second pass.
pub fn search(seed: u64, known: Known, waters: Waters, wishes: &Wishes) -> Outcome {
    let mut dice = Dice(fastrand::Rng::with_seed(seed));
    let origin = Position::new(57.7, 10.6).unwrap();
    let wind = Wind {
        from: dice.direction(),
        speed: Knots((9.0 * (-2.0 * (1.0 - dice.0.f64()).ln()).sqrt()).min(30.0)),
    };
    let strongest = if known == Known::Nothing { waters.unknown } else { Knots(1.5) };
    let current = Velocity::of(dice.direction(), Knots(dice.between(0.0, strongest.0)));
    let drift = current + dice.leeway(wind);
    let told_wind = Wind {
        from: Degrees::new(wind.from.value() + 10.0 * dice.normal()),
        speed: Knots((wind.speed.0 + 2.0 * dice.normal()).max(0.0)),
    };
    let off = |dice: &mut Dice| dice.normal() * waters.error.0 * KNOT;
    let told_current = current + Velocity::new(off(&mut dice), off(&mut dice));
    let bursts = if known == Known::Drift { dice.0.u64(3..=8) } else { dice.0.u64(1..=2) };
    let delay_s = dice.0.u64(120..=600);
    let speed = Knots(dice.between(3.0, 6.0));
    let conditions = Conditions {
        speed,
        current: (known == Known::WindAndCurrent).then_some(told_current),
        wind: (known != Known::Nothing).then_some(told_wind),
        lookout: Lookout { seas: waters.seas, ..Lookout::default() },
    };

    let (mut truth, mut wander) = (Offset::default(), Velocity::STILL);
    let mut second = 0;
    let wander_step = 0.1 * KNOT * (STEP_S as f64 / 600.0).sqrt();
    let mut drift_on = |truth: &mut Offset, dice: &mut Dice| {
        let jolt = Velocity::new(dice.normal() * wander_step, dice.normal() * wander_step);
        wander = wander + jolt;
        *truth = *truth + (drift + wander).over(Duration::from_secs(STEP_S));
    };
    let mut fixes = Fixes::default();
    let mut last = (at(0), origin);
    for burst in 0..bursts {
        last = (at(second), dice.scattered(truth, FIX_SD_M).from(origin));
        fixes.note(last.0, last.1);
        let until = if burst + 1 == bursts { delay_s } else { 60 };
        for _ in 0..until / STEP_S {
            second += STEP_S;
            drift_on(&mut truth, &mut dice);
        }
    }
    let mut datum = Datum::begin(last.1, last.0, fixes.drift());
    let go_on =
        |datum: &mut Datum, second| datum.go_on(at(second), conditions.wind, conditions.current);
    go_on(&mut datum, second);
    let away = NauticalMiles(dice.between(0.1, 1.0));
    let mut boat = truth + Offset::of(dice.direction(), away);
    let mut search =
        Search::plan(&datum, boat.from(origin), at(second), &conditions, wishes).unwrap();

    let began = second;
    let half_width_m = search.shape().sweep_width.metres() / 2.0;
    let mut covered = false;
    while second - began < LONGEST_S {
        if (second - began) % 60 == 0 {
            go_on(&mut datum, second);
            search.refresh(datum, &conditions);
        }
        let seen = dice.scattered(boat, 3.0).from(origin);
        search.advance(seen, at(second));
        let Some(guidance) = search.guidance(seen, at(second)).unwrap() else { break };
        let course = Degrees::new(guidance.leg.course.value() + 3.0 * dice.normal());
        let way = Velocity::of(course, speed) + current;
        boat = boat + way.over(Duration::from_secs(STEP_S));
        drift_on(&mut truth, &mut dice);
        second += STEP_S;
        let is_pass = guidance.leg.place.leg > 0 || guidance.leg.place.pass > 1;
        covered |= is_pass && (boat - truth).range().metres() <= half_width_m;
    }
    Outcome {
        known,
        covered,
        is_over: search.place().is_none(),
        lasted: Duration::from_secs(second - began),
        search,
    }
}

fn at(second: u64) -> Mono {
    Mono::START + Duration::from_secs(second)
}

/// So many scenes, a third of each kind.
pub fn scenes(count: u64, waters: Waters, wishes: &Wishes) -> Vec<Outcome> {
    let kinds = [Known::Drift, Known::WindAndCurrent, Known::Nothing];
    (0..count).map(|seed| search(seed, kinds[(seed % 3) as usize], waters, wishes)).collect()
}

/// The share that was covered of those scenes that are meant.
pub fn share(outcomes: &[Outcome], meant: impl Fn(&Outcome) -> bool) -> f64 {
    let meant: Vec<&Outcome> = outcomes.iter().filter(|outcome| meant(outcome)).collect();
    meant.iter().filter(|outcome| outcome.covered).count() as f64 / meant.len() as f64
}
