//! The true wind, from what is felt on board.

use super::Wind;
use super::plane::Velocity;
use crate::units::{Degrees, Knots};

/// The true wind, from the wind felt on a boat that moves: `angle` is where it comes from, clockwise
/// from the bow.
///
/// It is the wind over what `motion` is over: the ground if it is the course and speed made good,
/// the water if it is heading and log.
pub fn true_wind(heading: Degrees, angle: f64, felt: Knots, motion: Velocity) -> Wind {
    let felt_towards = Degrees::new(heading.value() + angle + 180.0);
    let wind = Velocity::of(felt_towards, felt) + motion;
    Wind { from: Degrees::new(wind.towards().value() + 180.0), speed: wind.speed() }
}
