//! Which pattern, how large and on which first leg.
//!
//! What decides is how often the true place came within half a sweep width of the boat in simulated
//! searches: casualties that drift otherwise than was held, so that the boat runs a race against a
//! circle that grows. Tried and dropped, the first in the scenes of `tests/bench/search.rs`, the
//! others in three thousand simpler ones of the same kind:
//!
//! - Sector searches alone: 97.0 % against the square's 98.8 % where three fixes or more showed the
//!   drift, but 92.2 % against 97.0 % with wind and current, and 76.5 % against 86.7 % with neither.
//!   The boat is back at the datum three times while the casualty moves away from it.
//! - Sector radii of 1, 3 and 4 sweep widths: one to two in a hundred fewer. 1.5 is as good as 2.
//! - Track spacings of 1.25 sweep widths: no better; 1.5 and 2: one to three in a hundred fewer.
//! - Squares of four and five rounds: nobody is covered who is not covered before, and two passes
//!   take six to nine hours. Nor in high seas, where the strip is a quarter as wide: six rounds
//!   instead of three cover the same 76 %, in twice the time.
//!
//! The sector search stays where the place is known within a sweep width, and there it costs little.
//! It passes the likeliest place again and again, and the figures above know no lookout who fails to
//! see what is close by.

use super::super::sweep::Lookout;
use super::super::{Basis, Datum, Velocity, Wind};
use super::Pattern;
use crate::units::{Degrees, Knots, NauticalMiles};

/// Slower than this the direction of a drift is noise. Our own.
const DRIFTS: Knots = Knots(0.1);

/// A square has at least so many rounds, since the circle grows on the way, and at most so many.
/// Our own.
const LEAST_ROUNDS: f64 = 2.0;
const MOST_ROUNDS: f64 = 3.0;

/// What the boat and the sea are like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Her speed through the water.
    pub speed: Knots,
    /// The current. If it is not known, whatever carries the casualty is held to carry the boat.
    pub current: Option<Velocity>,
    /// The wind.
    pub wind: Option<Wind>,
    /// Those who look out.
    pub lookout: Lookout,
}

impl Conditions {
    /// How wide a strip is searched.
    pub fn sweep_width(&self) -> NauticalMiles {
        self.lookout.sweep_width(self.wind.map(|wind| wind.speed))
    }

    /// What was taken for granted for [`Conditions::sweep_width`].
    pub fn assumed(&self) -> String {
        self.lookout.assumed(self.wind.map(|wind| wind.speed))
    }
}

/// What the skipper wants otherwise than it would be chosen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wishes {
    /// The pattern.
    pub pattern: Option<Pattern>,
    /// The first leg of a square down-drift, as the US Coast Guard's boats run it, and not into the
    /// wind as IAMSAR has it.
    pub down_drift: bool,
}

/// A pattern with its measures.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchPlan {
    /// Which.
    pub pattern: Pattern,
    /// The radius of a sector search, the track spacing of a square.
    pub size: NauticalMiles,
    /// How many legs a pass has.
    pub legs: u32,
    /// The direction of the first leg of the first pass.
    pub first_leg: Degrees,
    /// How wide a strip is searched.
    pub sweep_width: NauticalMiles,
    /// Which, why and how sure, in one line.
    pub why: String,
}

impl SearchPlan {
    /// Chooses for a datum as it will be when the boat gets there on a course of `arrival`.
    pub fn choose(
        datum: &Datum,
        arrival: Degrees,
        conditions: &Conditions,
        wishes: &Wishes,
    ) -> Self {
        let sweep_width = conditions.sweep_width();
        let is_close = datum.radius95 <= sweep_width;
        let pattern =
            wishes.pattern.unwrap_or(if is_close { Pattern::Sector } else { Pattern::Square });
        let size = match pattern {
            // Half way out, neighbouring legs are then a sweep width apart.
            Pattern::Sector => NauticalMiles((2.0 * sweep_width.0).max(datum.radius50.0)),
            Pattern::Square => sweep_width,
        };
        let rounds = (datum.radius95.0 / size.0 - 0.5).ceil().clamp(LEAST_ROUNDS, MOST_ROUNDS);
        let (first_leg, direction) = first_leg(pattern, datum, arrival, conditions, wishes);
        let measures = match pattern {
            Pattern::Sector => format!("radius {size}"),
            // Half a sweep width is seen beyond the outermost leg.
            Pattern::Square => {
                format!("track spacing {size} out to {}", NauticalMiles(size.0 * (rounds + 0.5)))
            }
        };
        let known = if is_close { "known" } else { "only known" };
        let from = match datum.basis {
            Basis::Fixes => "its drift",
            Basis::Leeway => "wind and current",
            Basis::LastPosition => "its last position alone",
        };
        let why = format!(
            "{pattern}, {measures}, first leg {direction}: on arrival the place is {known} \
             within {} (95 %), from {from}",
            datum.radius95
        );
        // At most three rounds.
        let legs = pattern.legs(rounds as u32);
        Self { pattern, size, legs, first_leg, sweep_width, why }
    }
}

/// The direction of the first leg, and what it is called.
fn first_leg(
    pattern: Pattern,
    datum: &Datum,
    arrival: Degrees,
    conditions: &Conditions,
    wishes: &Wishes,
) -> (Degrees, &'static str) {
    let drift = datum.velocity;
    let wind = conditions.wind.map(|wind| wind.from);
    let down_drift = match wind {
        _ if drift.speed() >= DRIFTS => (drift.towards(), "down-drift"),
        Some(from) => (Degrees::new(from.value() + 180.0), "down the wind"),
        None => (arrival, "straight on"),
    };
    match (pattern, wind) {
        (Pattern::Square, Some(from)) if !wishes.down_drift => (from, "into the wind"),
        (Pattern::Square, None) if !wishes.down_drift => (arrival, "straight on"),
        _ => down_drift,
    }
}
