//! The way back: what was sailed, and what an interception would have taken.

use super::measures::Steering;
use super::scene::{Scene, Step, metres};
use crate::navigation::{CLOSE, intercept};
use crate::units::{Knots, METRES_PER_NAUTICAL_MILE};

/// Steps further apart than this have nothing between them.
const GAP_S: f64 = 35.0;

/// Slower than this a course is noise.
const COURSE_FROM: Knots = Knots(1.0);

/// Metres sailed over ground within a time: from the speed where it is known, for positions tremble.
pub(super) fn sailed_m(scene: &Scene<'_>, from: f64, until: f64) -> Option<f64> {
    let steps = scene.steps(from, until);
    let (first, last) = (steps.first()?, steps.last()?);
    if first.t - from > GAP_S || until - last.t > GAP_S {
        return None;
    }
    let mut sailed = 0.0;
    for two in steps.windows(2) {
        let [one, other] = two else { continue };
        sailed += stretch_m(one, other)?;
    }
    // The ends, which lie between two steps.
    sailed += speed_m_s(first) * (first.t - from) + speed_m_s(last) * (until - last.t);
    Some(sailed)
}

fn stretch_m(one: &Step, other: &Step) -> Option<f64> {
    let seconds = other.t - one.t;
    if seconds > GAP_S {
        return None;
    }
    let straight = metres(other.place - one.place);
    let by_speed =
        one.sog.zip(other.sog).map(|_| (speed_m_s(one) + speed_m_s(other)) / 2.0 * seconds);
    Some(by_speed.unwrap_or(straight))
}

fn speed_m_s(step: &Step) -> f64 {
    step.sog.map_or(0.0, |sog| sog.0 * METRES_PER_NAUTICAL_MILE / 3600.0)
}

/// The way from the turn to the casualty, against the best one; `None` if there is too little to
/// tell or nothing to intercept.
pub(super) fn steering(scene: &Scene<'_>, from: f64, until: f64) -> Option<Steering> {
    let velocity = scene.in_water(from)?.velocity;
    let taken_s = until - from;
    let sailed_m = sailed_m(scene, from, until)?;
    let mean_kn = Knots(sailed_m / taken_s * 3600.0 / METRES_PER_NAUTICAL_MILE);
    let target = scene.casualty_at(from)? - scene.own_at(from)?;
    let best = intercept(target, velocity, mean_kn)?;
    let (mut sum, mut time) = (0.0, 0.0);
    for two in scene.steps(from, until).windows(2) {
        let [step, next] = two else { continue };
        let seconds = next.t - step.t;
        if let Some(off) = off_course(scene, step).filter(|_| seconds <= GAP_S) {
            (sum, time) = (sum + off * seconds, time + seconds);
        }
    }
    let tenths = |number: f64| (number * 10.0).round() / 10.0;
    (time > 0.0).then(|| Steering {
        mean_difference_deg: tenths(sum / time),
        sailed_m: tenths(sailed_m),
        needed_m: tenths(best.distance.metres()),
        taken_s: tenths(taken_s),
        needed_s: tenths(best.time.as_secs_f64()),
    })
}

/// The angle between the course and the one that would have been best at this moment.
fn off_course(scene: &Scene<'_>, step: &Step) -> Option<f64> {
    let velocity = scene.in_water(step.t)?.velocity;
    let target = scene.casualty_at(step.t)? - step.place;
    let sog = step.sog.filter(|sog| sog.0 >= COURSE_FROM.0)?;
    // Close by a bearing is noise: no course is compared there.
    let best = intercept(target, velocity, sog).filter(|_| metres(target) >= CLOSE.metres())?;
    Some(step.cog?.relative_to(best.course).abs())
}
