//! The way back: what was sailed, and what an interception would have taken.

use super::adrift::KNOT_M_S;
use super::approach::Arrival;
use super::measures::Steering;
use super::scene::{Scene, Step, metres};
use super::turn::TURN_S;
use crate::navigation::{CIRCLE_95, CLOSE, Offset, Velocity, intercept};
use crate::units::{Knots, METRES_PER_NAUTICAL_MILE};

/// Steps further apart than this have nothing between them. Our own.
const GAP_S: f64 = 35.0;

/// Slower than this a course is noise. Our own.
const COURSE_FROM: Knots = Knots(1.0);

/// A way summed up from speeds is off by this share of it, and a course over ground by so many degrees.
/// Our own.
pub(super) const SAILED_OFF: f64 = 0.1;
const COURSE_OFF_DEG: f64 = 3.0;

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
pub(super) fn steering(scene: &Scene<'_>, from: f64, arrival: Arrival) -> Option<Steering> {
    let Arrival { t: until, off: until_off } = arrival;
    let taken_s = until - from;
    let taken_off = TURN_S + until_off;
    let sailed_m = sailed_m(scene, from, until)?;
    let speed_at = |t: f64| scene.step_at(t).map_or(0.0, speed_m_s);
    let sailed_off = sailed_m * SAILED_OFF + speed_at(from) * TURN_S + speed_at(until) * until_off;
    let needed = Needed::of(scene, from, sailed_m / taken_s)?;
    // The same from nearer and from further off, by a faster drift and by a faster boat.
    let others = needed.unsure(scene, from, sailed_off / sailed_m);
    let (mut sum, mut off, mut time) = (0.0, 0.0, 0.0);
    for two in scene.steps(from, until).windows(2) {
        let [step, next] = two else { continue };
        let seconds = next.t - step.t;
        if let Some((angle, angle_off)) = off_course(scene, step).filter(|_| seconds <= GAP_S) {
            (sum, off) = (sum + angle * seconds, off + angle_off * seconds);
            time += seconds;
        }
    }
    let tenths = |number: f64| (number * 10.0).round() / 10.0;
    let furthest = |of: fn(&Needed) -> f64| {
        others.iter().map(|other| (of(other) - of(&needed)).abs()).fold(0.0, f64::max)
    };
    (time > 0.0).then(|| Steering {
        mean_difference_deg: tenths(sum / time),
        sailed_m: tenths(sailed_m),
        needed_m: tenths(needed.m),
        taken_s: tenths(taken_s),
        needed_s: tenths(needed.s),
        mean_difference_deg_tolerance: tenths(off / time + COURSE_OFF_DEG),
        sailed_m_tolerance: tenths(sailed_off),
        needed_m_tolerance: tenths(furthest(|it| it.m)),
        taken_s_tolerance: tenths(taken_off),
        needed_s_tolerance: tenths(furthest(|it| it.s)),
    })
}

/// An interception, as far and as long as it takes.
#[derive(Clone, Copy, Debug)]
struct Needed {
    target: Offset,
    drift: Velocity,
    m_s: f64,
    m: f64,
    s: f64,
}

impl Needed {
    fn of(scene: &Scene<'_>, from: f64, m_s: f64) -> Option<Self> {
        let drift = scene.in_water(from)?.velocity;
        Self::at(scene.casualty_at(from)? - scene.own_at(from)?, drift, m_s)
    }

    fn at(target: Offset, drift: Velocity, m_s: f64) -> Option<Self> {
        let best = intercept(target, drift, Knots(m_s / KNOT_M_S))?;
        let (m, s) = (best.distance.metres(), best.time.as_secs_f64());
        Some(Self { target, drift, m_s, m, s })
    }

    /// The same with each thing it is made from as far off as it may be: where she turned, where the
    /// casualty was then, how it drifts, and by which share of it her speed.
    fn unsure(&self, scene: &Scene<'_>, from: f64, share: f64) -> Vec<Self> {
        let turned = scene.step_at(from).map_or(0.0, speed_m_s) * TURN_S;
        let near = scene.range_off(from).unwrap_or_default() + turned;
        let along = near / metres(self.target).max(near);
        let drifts = scene.in_water(from).map_or(0.0, |it| it.velocity_sd()) * CIRCLE_95;
        let towards = self.target.bearing();
        let drifts = Velocity::of(towards, Knots(drifts / KNOT_M_S));
        let by = [1.0, -1.0].into_iter().filter_map(|by: f64| {
            let target = Offset {
                east_m: self.target.east_m * (1.0 + by * along),
                north_m: self.target.north_m * (1.0 + by * along),
            };
            let drift = if by > 0.0 { self.drift + drifts } else { self.drift - drifts };
            Self::at(target, drift, self.m_s * (1.0 - by * share))
        });
        by.collect()
    }
}

/// The angle between the course and the one that would have been best at this moment, and how far that
/// may be off.
fn off_course(scene: &Scene<'_>, step: &Step) -> Option<(f64, f64)> {
    let velocity = scene.in_water(step.t)?.velocity;
    let target = scene.casualty_at(step.t)? - step.place;
    let sog = step.sog.filter(|sog| sog.0 >= COURSE_FROM.0)?;
    // Close by a bearing is noise: no course is compared there.
    let best = intercept(target, velocity, sog).filter(|_| metres(target) >= CLOSE.metres())?;
    let off = scene.range_off(step.t)?.atan2(metres(target)).to_degrees();
    Some((step.cog?.relative_to(best.course).abs(), off))
}
