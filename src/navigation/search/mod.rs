//! The search for a casualty that has fallen silent: legs about a datum that moves, and following
//! them. A beacon that still speaks is never searched for: one steers to it.

mod pattern;
mod plan;

use std::fmt;
use std::time::Duration;

use serde::Serialize;

pub use pattern::Pattern;
pub use plan::{Conditions, SearchPlan, Wishes};

use super::plane::{Offset, Velocity};
use super::steering::intercept;
use super::{Basis, Datum, Leeway, Position, Wind};
use crate::time::{Mono, seconds};
use crate::units::{Degrees, Knots, NauticalMiles};

/// Nearer than this a mark is passed. Our own: three times what a fix is off.
const PASSED_WITHIN_M: f64 = 30.0;

/// How many passes are planned. Our own.
const PASSES: u8 = 2;

/// Where a leg belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LegNumber {
    /// The pass, from 1.
    pub pass: u8,
    /// The leg, from 1; 0 is the way to the datum, before a pass.
    pub leg: u32,
}

impl fmt::Display for LegNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.leg {
            0 => f.write_str("the way to the datum"),
            leg => write!(f, "pass {} leg {leg}", self.pass),
        }
    }
}

/// A leg, from where it begins to where its end will be by then.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Leg {
    /// Which it is.
    pub place: LegNumber,
    /// Where it begins, over ground.
    pub from: Position,
    /// Where its end will be when the boat is there, over ground.
    pub to: Position,
    /// The course to steer through the water.
    #[serde(rename = "course_deg")]
    pub course: Degrees,
    /// The course made good over ground.
    #[serde(rename = "course_over_ground_deg")]
    pub course_over_ground: Degrees,
    /// How long it is through the water, by the log.
    #[serde(rename = "length_nm")]
    pub length: NauticalMiles,
    /// How long it takes.
    #[serde(rename = "time_s", serialize_with = "seconds")]
    pub time: Duration,
}

/// A turn at the end of a leg.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Turn {
    /// The course to steer after it.
    #[serde(rename = "course_deg")]
    pub course: Degrees,
    /// How far to turn, -180 to 180, starboard positive.
    #[serde(rename = "by_deg")]
    pub by: f64,
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = if self.by < 0.0 { "port" } else { "starboard" };
        write!(f, "turn to {side} to {}", self.course)
    }
}

/// What to steer now.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Guidance {
    /// What is left of the present leg, from where the boat is.
    pub leg: Leg,
    /// The turn at its end; `None` on the last, or if what follows cannot be steered.
    pub then: Option<Turn>,
}

/// A leg that cannot be steered: its end drifts away faster than the boat follows.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error, Serialize)]
#[error("{place} cannot be steered at {speed} through the water: it takes more speed")]
pub struct Unsteerable {
    /// Which leg.
    pub place: LegNumber,
    /// The speed that is too little.
    #[serde(rename = "speed_kn")]
    pub speed: Knots,
}

/// A point to pass, in the frame of the datum.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mark {
    place: LegNumber,
    offset: Offset,
}

/// A search that is followed, both passes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    plan: SearchPlan,
    marks: Vec<Mark>,
    datum: Datum,
    conditions: Conditions,
    /// The mark she steers for.
    next: usize,
    /// Where the present leg began, and where she was last, relative to the datum.
    began: Offset,
    last: Option<Offset>,
}

impl Search {
    /// Plans a search at a moment: from where the boat is to the datum, and about it.
    ///
    /// The datum is moved on to when she gets there, since then its circles are larger.
    ///
    /// # Errors
    /// If one of the legs cannot be steered.
    pub fn plan(
        datum: &Datum,
        own: Position,
        at: Mono,
        conditions: &Conditions,
        wishes: &Wishes,
    ) -> Result<Self, Unsteerable> {
        let mut then = *datum;
        let way = lead(datum, conditions, START, Offset::default(), (own, at))?;
        then.go_on(at + way.time, conditions.wind, conditions.current);
        let plan = SearchPlan::choose(&then, way.course, conditions, wishes);
        let search = Self {
            marks: marks(&plan),
            plan,
            datum: *datum,
            conditions: *conditions,
            next: 0,
            began: Offset::between(datum.position_at(at), own),
            last: None,
        };
        search.legs(own, at)?;
        Ok(search)
    }

    /// The pattern and its measures.
    pub const fn shape(&self) -> &SearchPlan {
        &self.plan
    }

    /// Which, why and how sure, in one line.
    pub fn why(&self) -> &str {
        &self.plan.why
    }

    /// The datum it runs about.
    pub const fn datum(&self) -> &Datum {
        &self.datum
    }

    /// The leg she is on; `None` when the search is over.
    pub fn place(&self) -> Option<LegNumber> {
        self.marks.get(self.next).map(|mark| mark.place)
    }

    /// Takes what is known better by now. The pattern goes with the datum, and its legs go on where
    /// they are.
    pub fn refresh(&mut self, datum: Datum, conditions: &Conditions) {
        self.datum = datum;
        self.conditions = *conditions;
        // Where she was last was seen from the old one.
        self.last = None;
    }

    /// Notices that a mark is passed: within 30 m, or abeam within half a track spacing.
    pub fn advance(&mut self, own: Position, at: Mono) {
        let own = Offset::between(self.datum.position_at(at), own);
        let last = self.last.replace(own).unwrap_or(own);
        let Some(mark) = self.marks.get(self.next).map(|mark| mark.offset) else { return };
        let near = distance_m(mark, last, own) <= PASSED_WITHIN_M;
        let course = (mark - self.began).bearing().value();
        let to_go = own - mark;
        let angle = (to_go.bearing().value() - course).to_radians();
        let (along, across) = (angle.cos(), angle.sin().abs() * to_go.range().0);
        if near || (along >= 0.0 && across <= self.plan.sweep_width.0 / 2.0) {
            self.began = mark;
            self.next += 1;
        }
    }

    /// What to steer now; `None` when the search is over.
    ///
    /// # Errors
    /// If the present leg cannot be steered.
    pub fn guidance(&self, own: Position, at: Mono) -> Result<Option<Guidance>, Unsteerable> {
        let Some(mark) = self.marks.get(self.next) else { return Ok(None) };
        let leg = self.leg(mark, own, at)?;
        let after = self.marks.get(self.next + 1);
        let then = after.and_then(|mark| self.leg(mark, leg.to, at + leg.time).ok());
        let then =
            then.map(|next| Turn { course: next.course, by: next.course.relative_to(leg.course) });
        Ok(Some(Guidance { leg, then }))
    }

    /// All legs from now on, of both passes.
    ///
    /// # Errors
    /// If one of them cannot be steered.
    pub fn legs(&self, own: Position, at: Mono) -> Result<Vec<Leg>, Unsteerable> {
        let (mut from, mut at) = (own, at);
        let left = self.marks.get(self.next..).unwrap_or_default();
        left.iter()
            .map(|mark| {
                let leg = self.leg(mark, from, at)?;
                (from, at) = (leg.to, at + leg.time);
                Ok(leg)
            })
            .collect()
    }

    fn leg(&self, mark: &Mark, from: Position, at: Mono) -> Result<Leg, Unsteerable> {
        lead(&self.datum, &self.conditions, mark.place, mark.offset, (from, at))
    }
}

/// The first leg, by definition.
const START: LegNumber = LegNumber { pass: 1, leg: 0 };

/// The marks of both passes. A square ends outside, and its second pass begins at the datum again.
fn marks(plan: &SearchPlan) -> Vec<Mark> {
    let mut marks = vec![Mark { place: START, offset: Offset::default() }];
    for pass in 1..=PASSES {
        if pass > 1 && plan.pattern == Pattern::Square {
            marks.push(Mark { place: LegNumber { pass, leg: 0 }, offset: Offset::default() });
        }
        let turned = f64::from(pass - 1) * plan.pattern.second_pass();
        let first = Degrees::new(plan.first_leg.value() + turned);
        let vertices = plan.pattern.vertices(first, plan.size, plan.legs);
        let numbered = (1..).zip(vertices);
        marks.extend(numbered.map(|(leg, offset)| Mark { place: LegNumber { pass, leg }, offset }));
    }
    marks
}

/// The leg to a mark, as the interception of a point that moves with the datum, through water that
/// moves itself.
fn lead(
    datum: &Datum,
    conditions: &Conditions,
    place: LegNumber,
    mark: Offset,
    (from, at): (Position, Mono),
) -> Result<Leg, Unsteerable> {
    let mark_at = |at| mark.from(datum.position_at(at));
    let drift = datum.velocity - water(datum, conditions);
    let target = Offset::between(from, mark_at(at));
    let found = intercept(target, drift, conditions.speed)
        .ok_or(Unsteerable { place, speed: conditions.speed })?;
    let to = mark_at(at + found.time);
    Ok(Leg {
        place,
        from,
        to,
        course: found.course,
        course_over_ground: Offset::between(from, to).bearing(),
        length: found.distance,
        time: found.time,
    })
}

/// How the water moves. Unless that is known, it is what moves the casualty, less its leeway.
fn water(datum: &Datum, conditions: &Conditions) -> Velocity {
    let leeway = |wind: Wind| {
        let downwind = Degrees::new(wind.from.value() + 180.0);
        Velocity::of(downwind, Leeway::UNKNOWN.components(wind.speed).0)
    };
    conditions.current.unwrap_or_else(|| match datum.basis {
        Basis::LastPosition => datum.velocity,
        _ => datum.velocity - conditions.wind.map_or(Velocity::STILL, leeway),
    })
}

/// How near a way from one place to another comes to a mark, in metres.
fn distance_m(mark: Offset, from: Offset, to: Offset) -> f64 {
    let (way, to_mark) = (to - from, mark - from);
    let square = way.dot(way);
    let share = if square > 0.0 { (to_mark.dot(way) / square).clamp(0.0, 1.0) } else { 0.0 };
    let nearest = Offset { east_m: way.east_m * share, north_m: way.north_m * share };
    (to_mark - nearest).range().metres()
}
