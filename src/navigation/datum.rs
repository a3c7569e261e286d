//! Where a casualty that has fallen silent is by now: the datum, which moves, and the circles that
//! hold it with 50 and 95 %, which grow.

use std::time::Duration;

use serde::Serialize;

use super::Position;
use super::drift::{Drift, FIX_SD_M};
use super::leeway::Leeway;
use super::plane::{Offset, Velocity};
use crate::time::Mono;
use crate::units::{Degrees, Knots, METRES_PER_NAUTICAL_MILE, NauticalMiles};

/// The radius of the circle that holds 50 %, and 95 %, in standard deviations along an axis, if
/// both axes are alike and normal: by definition.
pub const CIRCLE_50: f64 = 1.177_410_022_515_474_7;
/// See [`CIRCLE_50`]; by definition.
pub const CIRCLE_95: f64 = 2.447_746_830_680_816;

/// Probable error of the leeway for the wind not being known exactly, in a steady wind; and of each
/// part of the current of which nothing better is known (IAMSAR as transcribed).
const WIND_ERROR: Knots = Knots(0.3);
pub(super) const CURRENT_ERROR: Knots = Knots(0.3);

/// The current has four parts: tidal, of the sea, made by the wind, and any other (IAMSAR as
/// transcribed).
const PARTS_OF_A_CURRENT: f64 = 4.0;

/// Probable error of the leeway of a person in the water, state unknown (IAMSAR volume II, figure
/// N-2, as transcribed). Larger than what the deviations of [`Leeway::UNKNOWN`] give, 0.25 kn.
const LEEWAY_ERROR: Knots = Knots(0.35);

/// Probable error of a leeway of which not even the wind is known: what it is in 30 knots of it.
/// Our own.
const UNKNOWN_LEEWAY: Knots = Knots(0.4);

/// How fast a drift wanders: 0.1 kn in ten minutes, and as the square root of the time. Our own.
const WANDER_KN: f64 = 0.1;
const WANDER_IN_S: f64 = 600.0;

/// A drift whose last fix is older than this when the beacon falls silent is not its drift then.
/// Our own.
const DRIFT_FRESH: Duration = Duration::from_secs(3 * 60);

/// After this a drift is no better known than the manuals hold any current to be: tides turn. Our
/// own.
const DRIFT_HOLDS: Duration = Duration::from_secs(30 * 60);

/// What a datum is made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// The drift that the beacon's own positions showed.
    Fixes,
    /// Leeway in the wind, and the current if it is known.
    Leeway,
    /// Nothing but the last position.
    LastPosition,
}

/// The wind over ground or water, as true as the boat knows it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Wind {
    /// Where it comes from, true.
    #[serde(rename = "from_deg")]
    pub from: Degrees,
    /// How strong.
    #[serde(rename = "speed_kn")]
    pub speed: Knots,
}

/// Where a silent casualty is at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Datum {
    /// The moment.
    #[serde(rename = "at_s")]
    pub at: Mono,
    /// The likeliest place.
    pub position: Position,
    /// How it moves over ground.
    pub velocity: Velocity,
    /// What it is made from.
    pub basis: Basis,
    /// Half the casualties are within this.
    #[serde(rename = "radius50_nm")]
    pub radius50: NauticalMiles,
    /// Of twenty casualties one is beyond this.
    #[serde(rename = "radius95_nm")]
    pub radius95: NauticalMiles,
    /// When the last fix was taken.
    #[serde(rename = "since_at_s")]
    pub since: Mono,
    /// How far apart the places are of one that drifts left of downwind and one that drifts right.
    #[serde(skip)]
    divergence: NauticalMiles,
    /// The drift, if it is made from one.
    #[serde(skip)]
    drift: Option<Drift>,
}

impl Datum {
    /// The datum at the last position known, before any time has passed.
    pub fn begin(position: Position, fix_at: Mono, drift: Option<Drift>) -> Self {
        // One fix a minute makes the drift: the last message that told it may be a little later.
        let drift = drift.filter(|drift| fix_at.since(drift.at) <= DRIFT_FRESH);
        let start = drift.map_or((position, 0.0), |drift| {
            let (place, off) = drift.at(fix_at);
            (place, off.metres())
        });
        let metres = start.1.max(FIX_SD_M);
        Self {
            at: fix_at,
            position: start.0,
            velocity: drift.map_or(Velocity::STILL, |drift| drift.velocity),
            basis: if drift.is_some() { Basis::Fixes } else { Basis::LastPosition },
            radius50: NauticalMiles::from_metres(CIRCLE_50 * metres),
            radius95: NauticalMiles::from_metres(CIRCLE_95 * metres),
            since: fix_at,
            divergence: NauticalMiles(0.0),
            drift,
        }
    }

    /// Moves on to a later moment, in the wind and the current that were on the way, each as far as
    /// it is known. Neither radius ever shrinks.
    pub fn go_on(&mut self, to: Mono, wind: Option<Wind>, current: Option<Velocity>) {
        let step = to.since(self.at);
        if step.is_zero() {
            return;
        }
        self.at = to;
        let elapsed = to.since(self.since);
        let (radius50, radius95) = if let Some(drift) = self.drift {
            let (place, off) = drift.at(to);
            self.position = place;
            of_drift(off, elapsed)
        } else {
            let water = current.unwrap_or(Velocity::STILL);
            let (left, right) = wind.map_or((Velocity::STILL, Velocity::STILL), |wind| {
                Leeway::UNKNOWN.branches(wind.from, wind.speed)
            });
            let middle = Velocity::new(
                f64::midpoint(left.east(), right.east()),
                f64::midpoint(left.north(), right.north()),
            );
            if wind.is_some() {
                self.basis = Basis::Leeway;
            }
            self.velocity = water + middle;
            self.position = self.velocity.over(step).from(self.position);
            self.divergence.0 += (right - left).over(step).range().0;
            let error = drift_error(wind.is_some(), current.is_some());
            let fix = NauticalMiles::from_metres(CIRCLE_50 * FIX_SD_M);
            let error = probable_error(fix, fix, error, elapsed);
            // One circle about the middle holds both: their distance is far less than four times
            // the error, so they are one area.
            let radius50 = error.0 + self.divergence.0 / 2.0;
            let radius95 = error.0 * CIRCLE_95 / CIRCLE_50 + self.divergence.0 / 2.0;
            (NauticalMiles(radius50), NauticalMiles(radius95))
        };
        self.radius50.0 = self.radius50.0.max(radius50.0);
        self.radius95.0 = self.radius95.0.max(radius95.0);
    }

    /// Where it is a little later, as it moves now.
    pub fn position_at(&self, at: Mono) -> Position {
        if at <= self.at {
            return self.position;
        }
        self.velocity.over(at.since(self.at)).from(self.position)
    }

    /// Whether a position lies within a radius of it.
    pub fn holds(&self, place: Position, radius: NauticalMiles) -> bool {
        Offset::between(self.position, place).range() <= radius
    }
}

/// The radii about a place that a drift leads to: the error of the fit, that of a drift that
/// wanders, and after half an hour no less than the manuals' error of a current.
fn of_drift(off: NauticalMiles, elapsed: Duration) -> (NauticalMiles, NauticalMiles) {
    let seconds = elapsed.as_secs_f64();
    let wander = wandered(seconds);
    let deviation = off.metres().hypot(wander).max(FIX_SD_M) / METRES_PER_NAUTICAL_MILE;
    let prior = if elapsed > DRIFT_HOLDS { CURRENT_ERROR.0 * seconds / 3600.0 } else { 0.0 };
    let radius50 = (CIRCLE_50 * deviation).max(prior);
    (NauticalMiles(radius50), NauticalMiles(radius50 * CIRCLE_95 / CIRCLE_50))
}

/// How far a drift that wanders is off after a time, along each axis, in metres: the standard
/// deviation of the integral of a random walk, `q √(t³/3)`.
pub fn wandered(seconds: f64) -> f64 {
    let q = WANDER_KN * super::METRES_PER_SECOND / WANDER_IN_S.sqrt();
    q * (seconds.powi(3) / 3.0).sqrt()
}

/// The probable error of a drift that is made from wind and current, as far as they are known:
/// `√(wind² + current² + leeway²)`.
fn drift_error(wind_known: bool, current_known: bool) -> Knots {
    let parts = if current_known { 1.0 } else { PARTS_OF_A_CURRENT };
    let current = CURRENT_ERROR.0 * parts.sqrt();
    let leeway = if wind_known { LEEWAY_ERROR } else { UNKNOWN_LEEWAY };
    total_drift_error(WIND_ERROR, Knots(current), leeway)
}

/// `Dve`: the probable error of a drift, from those of the wind, the water and the leeway.
pub fn total_drift_error(wind: Knots, water: Knots, leeway: Knots) -> Knots {
    Knots((wind.0.powi(2) + water.0.powi(2) + leeway.0.powi(2)).sqrt())
}

/// `E = √(X² + De² + Y²)`: the probable error of a place, from that of the start, of the drift over
/// a time, and of the searcher's own position.
pub fn probable_error(
    start: NauticalMiles,
    own: NauticalMiles,
    drift: Knots,
    time: Duration,
) -> NauticalMiles {
    let drifted = drift.0 * time.as_secs_f64() / 3600.0;
    NauticalMiles((start.0.powi(2) + drifted * drifted + own.0.powi(2)).sqrt())
}
