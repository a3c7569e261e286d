//! How to get there: interception of what drifts, the course along a track in a current, and the
//! closest approach.

use std::time::Duration;

use serde::Serialize;

use super::plane::{Offset, Velocity};
use crate::units::{Degrees, Knots, NauticalMiles};

/// The way to something that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Intercept {
    /// The course to steer.
    pub course: Degrees,
    /// How long it takes.
    pub time: Duration,
    /// How far it is on that course.
    pub distance: NauticalMiles,
}

/// The course and time on which something that moves is met at a speed: the first time at which
/// `|target + velocity · t| = speed · t`.
///
/// All of it relative to one and the same: the ground, or the water if the speed is that through
/// the water. `None` if it runs away faster than it can be followed, if it takes longer than a day,
/// or if a number is not finite.
pub fn intercept(target: Offset, velocity: Velocity, speed: Knots) -> Option<Intercept> {
    let v = velocity.second();
    let u = speed.0.max(0.0) * super::METRES_PER_SECOND;
    let (a, b, c) = (v.dot(v) - u * u, 2.0 * target.dot(v), target.dot(target));
    let seconds = first_positive_root(a, b, c)?;
    if !(0.0..=86_400.0).contains(&seconds) {
        return None;
    }
    let way = target + velocity.over_seconds(seconds);
    let distance = way.range();
    Some(Intercept { course: way.bearing(), time: Duration::from_secs_f64(seconds), distance })
}

/// The smallest root that is not negative of `a t² + b t + c`, with `c` not negative.
fn first_positive_root(a: f64, b: f64, c: f64) -> Option<f64> {
    if c == 0.0 {
        return Some(0.0);
    }
    // Where both speeds are equal the equation is linear, up to rounding.
    if a.abs() < 1e-12 {
        return (b < 0.0).then(|| -c / b);
    }
    let discriminant = b * b - 4.0 * a * c;
    if discriminant.is_nan() || discriminant < 0.0 {
        return None;
    }
    // Without the difference of two nearly equal numbers.
    let q = -0.5 * (b + discriminant.sqrt().copysign(b));
    let roots = [q / a, if q == 0.0 { f64::NAN } else { c / q }];
    roots.into_iter().filter(|root| *root >= 0.0).min_by(f64::total_cmp)
}

/// The course to steer to make good a track in a current, and the speed made good on it.
///
/// `None` if the current is stronger than can be held up against.
pub fn course_along(track: Degrees, speed: Knots, current: Velocity) -> Option<(Degrees, Knots)> {
    let drift = current.speed().0;
    let angle = current.towards().relative_to(track).to_radians();
    let across = drift * angle.sin() / speed.0;
    if across.is_nan() || across.abs() > 1.0 {
        return None;
    }
    let correction = across.asin();
    let made_good = speed.0 * correction.cos() + drift * angle.cos();
    let course = Degrees::new(track.value() - correction.to_degrees());
    (made_good > 0.0).then_some((course, Knots(made_good)))
}

/// How close something comes if neither alters course or speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Approach {
    /// In how many seconds; negative if that is past; `None` if the range does not change.
    pub in_s: Option<f64>,
    /// How close.
    #[serde(rename = "range_nm")]
    pub range: NauticalMiles,
    /// Where it bears then.
    #[serde(rename = "bearing_deg")]
    pub bearing: Degrees,
}

/// The closest approach of something at an offset that moves, seen from what moves with `own`.
pub fn closest_approach(target: Offset, velocity: Velocity, own: Velocity) -> Approach {
    let relative = (velocity - own).second();
    let square = relative.dot(relative);
    // Slower than a millimetre a second is at rest.
    let in_s = (square > 1e-6).then(|| -target.dot(relative) / square);
    let then = target + (velocity - own).over_seconds(in_s.unwrap_or(0.0));
    Approach { in_s, range: then.range(), bearing: then.bearing() }
}
