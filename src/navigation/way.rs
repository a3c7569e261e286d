//! The way to a casualty, from all that is known of own ship: nothing of it asks for an instrument
//! the boat may not have, and it says what it was made from.

use std::time::Duration;

use serde::Serialize;

use super::plane::{Offset, Velocity};
use super::steering::{Approach, Intercept, closest_approach, intercept};
use super::{AheadFrom, OwnShip, Position, range_and_bearing, rhumb_line};
use crate::time::{Mono, seconds};
use crate::units::{Degrees, Knots, NauticalMiles};

/// What a course is steered through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Medium {
    /// The water: the course is a heading and the speed that of the log.
    Water,
    /// The ground, for want of heading or log: course and speed made good.
    Ground,
}

/// The way to a casualty at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Way {
    /// How far it is.
    #[serde(rename = "range_nm")]
    pub range: NauticalMiles,
    /// Where it bears, true.
    #[serde(rename = "bearing_deg")]
    pub bearing: Degrees,
    /// The same by a steering compass, deviation apart, if the variation is known.
    #[serde(rename = "magnetic_deg")]
    pub magnetic: Option<Degrees>,
    /// Where it bears from the bow, -180 to 180, starboard positive, and what the bow was taken from.
    pub relative: Option<(f64, AheadFrom)>,
    /// The closest approach if the present course is held.
    pub approach: Option<Approach>,
    /// What course and speed are meant through.
    pub medium: Medium,
    /// How fast she goes through it now.
    #[serde(rename = "speed_kn")]
    pub speed: Option<Knots>,
    /// The course to steer and the time it takes at the present speed; `None` if she has none or
    /// the casualty drifts away faster.
    pub steer: Option<Steer>,
    /// The same at the speed that the skipper has set for this.
    pub steer_at_set_speed: Option<Steer>,
    /// That speed.
    #[serde(rename = "set_speed_kn")]
    pub set_speed: Knots,
}

/// A course to a casualty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Steer {
    /// The course, true.
    #[serde(rename = "course_deg")]
    pub course: Degrees,
    /// The same by a steering compass, deviation apart, if the variation is known.
    #[serde(rename = "magnetic_deg")]
    pub magnetic: Option<Degrees>,
    /// How long it takes.
    #[serde(rename = "time_s", serialize_with = "seconds")]
    pub time: Duration,
    /// How far it is on that course.
    #[serde(rename = "distance_nm")]
    pub distance: NauticalMiles,
    /// How far to turn, starboard positive, if it is known where the bow points: -180 to 180; up to
    /// 200 either way where the side that was said before is kept.
    #[serde(rename = "turn_deg")]
    pub turn: Option<f64>,
}

impl Way {
    /// The way to a place, which moves over ground with `drift` if that is known; `None` if it is not
    /// known within ten minutes where own ship is.
    ///
    /// With heading and log all of it is reckoned relative to the water. There a casualty of unknown
    /// drift floats along, and one of known drift has what is left of it without the current.
    pub fn to(
        target: Position,
        drift: Option<Velocity>,
        own: &OwnShip,
        own_position: Position,
        now: Mono,
        set_speed: Knots,
    ) -> Self {
        let (range, bearing) = range_and_bearing(own_position, target);
        let (course, distance) = {
            // A course that is held by compass is a rhumb line.
            let (distance, course) = rhumb_line(own_position, target);
            (course, distance)
        };
        let offset = Offset::of(course, distance);
        let ahead = own.ahead(now);
        let variation = own.variation(now);
        let magnetic = |direction| variation.map(|variation| variation.magnetic(direction));
        let steered = |found: Intercept| Steer {
            course: found.course,
            magnetic: magnetic(found.course),
            time: found.time,
            distance: found.distance,
            turn: ahead.map(|(ahead, _)| found.course.relative_to(ahead)),
        };
        // A current that nothing shows is taken as none.
        let current = own.current(now).unwrap_or(Velocity::STILL);
        let water = own.through_water(now).map(|velocity| (velocity, current));
        let (medium, speed, relative_drift) = match water {
            Some((velocity, current)) => {
                let drift = drift.map_or(Velocity::STILL, |drift| drift - current);
                (Medium::Water, Some(velocity.speed()), drift)
            }
            None => (Medium::Ground, own.sog(now), drift.unwrap_or(Velocity::STILL)),
        };
        let steer_at = |speed| intercept(offset, relative_drift, speed).map(steered);
        let over_ground = own.over_ground(now);
        Self {
            range,
            bearing,
            magnetic: magnetic(bearing),
            relative: ahead.map(|(ahead, from)| (bearing.relative_to(ahead), from)),
            approach: over_ground
                .map(|own| closest_approach(offset, drift.unwrap_or(Velocity::STILL), own)),
            medium,
            speed,
            steer: speed.and_then(steer_at),
            steer_at_set_speed: steer_at(set_speed),
            set_speed,
        }
    }

    /// How far to turn, by the course at the present speed, else by that at the speed set.
    pub fn turn(&self) -> Option<f64> {
        self.steer.or(self.steer_at_set_speed)?.turn
    }

    /// The same with each turn put otherwise.
    #[must_use]
    pub fn turning(mut self, put: impl Fn(f64) -> f64) -> Self {
        for steer in [&mut self.steer, &mut self.steer_at_set_speed].into_iter().flatten() {
            steer.turn = steer.turn.map(&put);
        }
        self
    }
}
