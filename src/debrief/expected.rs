//! How a casualty drifts as far as the boat's own instruments tell, before any position of its beacon.

use super::adrift::{Basis, Expected, KNOT_M_S};
use super::drill::Wind;
use super::scene::Scene;
use crate::navigation::{Leeway, Velocity};
use crate::units::{Degrees, Knots};

/// How far each may be off along an axis, in knots: a current measured by heading, log and GNSS, with
/// the boat's own leeway in it; the leeway of a person in a known wind, and in an unknown one; a
/// current of which nothing is known, for streams reach 4 kn. Our own.
const CURRENT_SD_KN: f64 = 0.4;
const LEEWAY_SD_KN: f64 = 0.25;
const UNKNOWN_LEEWAY_SD_KN: f64 = 0.35;
const UNKNOWN_CURRENT_SD_KN: f64 = 1.5;

/// The current is the mean of this long before and after the first message, in seconds. Our own.
const CURRENT_OVER_S: (f64, f64) = (600.0, 1800.0);

/// Measurements of it that are needed. Our own.
const CURRENT_FROM: u32 = 30;

/// What is known of the drift, and from what.
pub(super) fn expected(scene: &Scene<'_>, wind: Option<&Wind>) -> (Basis, Expected) {
    let current = current(scene);
    let leeway = wind.map(|wind| {
        let (down, _, _) = Leeway::UNKNOWN.components(wind.speed_kn);
        Velocity::of(Degrees::new(wind.from_deg.value() + 180.0), down)
    });
    let basis = match (leeway, current) {
        (Some(_), Some(_)) => Basis::WindAndCurrent,
        (None, Some(_)) => Basis::Current,
        (Some(_), None) => Basis::Wind,
        (None, None) => Basis::Nothing,
    };
    let by_current = current.map_or(UNKNOWN_CURRENT_SD_KN, |_| CURRENT_SD_KN);
    let by_leeway = leeway.map_or(UNKNOWN_LEEWAY_SD_KN, |_| LEEWAY_SD_KN);
    let velocity = current.unwrap_or(Velocity::STILL) + leeway.unwrap_or(Velocity::STILL);
    (basis, Expected { velocity, sd: by_current.hypot(by_leeway) * KNOT_M_S })
}

/// The mean of what is left of own motion over ground without that through the water.
fn current(scene: &Scene<'_>) -> Option<Velocity> {
    let first = scene.t(scene.beacon.first()?);
    let (mut sum, mut count) = (Velocity::STILL, 0);
    for step in scene.steps(first - CURRENT_OVER_S.0, first + CURRENT_OVER_S.1) {
        let Some((heading, Knots(speed))) = step.heading.zip(step.water_speed) else { continue };
        let Some(motion) = scene.own_motion(step) else { continue };
        sum = sum + motion - Velocity::of(heading, Knots(speed));
        count += 1;
    }
    let share = 1.0 / f64::from(count);
    (count >= CURRENT_FROM).then(|| Velocity::new(sum.east() * share, sum.north() * share))
}
