//! Where a casualty was in the water, from everything that tells it: its drift is steady but for a
//! slow wandering, and its positions are off. Forwards through the positions and back again
//! (R. E. Kalman 1960; H. E. Rauch, F. Tung and C. T. Striebel 1965), so that each moment has a place,
//! a drift and how far both may be off; positions far off the rest weigh little.

use crate::navigation::{Offset, Velocity};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// Metres a second in a knot, by definition.
pub(super) const KNOT_M_S: f64 = METRES_PER_NAUTICAL_MILE / 3600.0;

/// How a drift wanders: 0.1 kn in ten minutes, as in the watch's datum. The square of that, in a
/// second. Our own.
const WANDERS: f64 = (0.1 * KNOT_M_S) * (0.1 * KNOT_M_S) / 600.0;

/// Beside the ship, and held by her, it drifts as she does: 0.4 kn in a minute. Our own.
const WANDERS_HELD: f64 = (0.4 * KNOT_M_S) * (0.4 * KNOT_M_S) / 60.0;

/// How far a position is held to be off along each axis, in metres, before its neighbours tell; and
/// how many of them that is worth. Our own.
const USUAL_SD_M: f64 = 6.0;
const USUAL_WEIGHS: f64 = 6.0;

/// What neighbouring positions are off together, along each axis, in metres: no fit sees it, for the
/// errors of satellite positions last for minutes. Our own.
const TOGETHER_SD_M: f64 = 3.0;

/// Tails of the errors, as degrees of freedom of Student's distribution: a position far off counts
/// little. Our own.
const TAILS: f64 = 4.0;

/// Rounds until the weights have settled. Our own.
const ROUNDS: usize = 5;

/// A place that was told.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sighting {
    pub t: f64,
    pub place: Offset,
    /// Whether own ship lay beside it, or had hold of it.
    pub is_held: bool,
}

/// A drift as it is known before any position: where to, and how far that may be off along each
/// axis, in metres a second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expected {
    pub velocity: Velocity,
    pub sd: f64,
}

/// From what a drift is known without a position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Basis {
    /// Leeway in the wind measured on board, and the current by heading and log.
    WindAndCurrent,
    Current,
    Wind,
    Nothing,
}

impl Basis {
    /// The same in words, for how a number was determined.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::WindAndCurrent => {
                "leeway in the measured wind and the current by heading and log"
            }
            Self::Current => "the current by heading and log",
            Self::Wind => "leeway in the measured wind",
            Self::Nothing => "nothing",
        }
    }
}

/// A moment of the casualty: place and drift, with their variances along each axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    pub t: f64,
    pub place: Offset,
    pub velocity: Velocity,
    place_var: f64,
    both_var: f64,
    velocity_var: f64,
}

impl Moment {
    /// The first one: where the first position is, drifting as expected.
    pub(super) fn first(seen: Sighting, expected: Expected) -> Self {
        Self {
            t: seen.t,
            place: seen.place,
            velocity: expected.velocity,
            place_var: USUAL_SD_M * USUAL_SD_M,
            both_var: 0.0,
            velocity_var: expected.sd * expected.sd,
        }
    }

    /// How far the place may be off along each axis, in metres.
    pub(super) fn place_sd(&self) -> f64 {
        (self.place_var + TOGETHER_SD_M * TOGETHER_SD_M).sqrt()
    }

    /// The same of the drift, in metres a second.
    pub(super) fn velocity_sd(&self) -> f64 {
        self.velocity_var.sqrt()
    }

    /// Another moment, sooner or later, by the drift alone.
    pub(super) fn carried_to(&self, t: f64, is_held: bool) -> Self {
        let wanders = if is_held { WANDERS_HELD } else { WANDERS };
        let span = t - self.t;
        let (one, two) = (span * self.velocity_var, wanders * span.abs());
        Self {
            t,
            place: self.place + carried(self.velocity, span),
            velocity: self.velocity,
            place_var: self.place_var
                + 2.0 * span * self.both_var
                + span * one
                + two * span * span / 3.0,
            both_var: self.both_var + one + two * span / 2.0,
            velocity_var: self.velocity_var + two,
        }
    }

    /// The same moment with a position of it.
    pub(super) fn seen(&self, place: Offset, sd_m: f64) -> Self {
        let whole = self.place_var + sd_m * sd_m;
        let (by_place, by_drift) = (self.place_var / whole, self.both_var / whole);
        let off = place - self.place;
        Self {
            place: self.place + times(off, by_place),
            velocity: self.velocity + Velocity::new(off.east_m * by_drift, off.north_m * by_drift),
            place_var: self.place_var * (1.0 - by_place),
            both_var: self.both_var * (1.0 - by_place),
            velocity_var: self.velocity_var - by_drift * self.both_var,
            ..*self
        }
    }

    /// The same moment with a drift of it that is known by another way than its positions.
    pub(super) fn moving(&self, velocity: Velocity, sd_m_s: f64) -> Self {
        let whole = self.velocity_var + sd_m_s * sd_m_s;
        let (by_place, by_drift) = (self.both_var / whole, self.velocity_var / whole);
        let off = velocity - self.velocity;
        Self {
            place: self.place + carried(off, by_place),
            velocity: self.velocity + Velocity::new(off.east() * by_drift, off.north() * by_drift),
            place_var: self.place_var - by_place * self.both_var,
            both_var: self.both_var * (1.0 - by_drift),
            velocity_var: self.velocity_var * (1.0 - by_drift),
            ..*self
        }
    }

    /// The same moment, in the light of a later one.
    fn in_light_of(&self, later: &Self, is_held: bool) -> Self {
        let span = later.t - self.t;
        let told = self.carried_to(later.t, is_held);
        let whole = told.place_var * told.velocity_var - told.both_var * told.both_var;
        if whole <= 0.0 {
            return *self;
        }
        // What place and drift here have in common with those there.
        let (pp, pv) = (self.place_var + span * self.both_var, self.both_var);
        let (vp, vv) = (self.both_var + span * self.velocity_var, self.velocity_var);
        let gain = |by_place: f64, by_drift: f64| {
            (
                (by_place * told.velocity_var - by_drift * told.both_var) / whole,
                (by_drift * told.place_var - by_place * told.both_var) / whole,
            )
        };
        let (place, drift) = (gain(pp, pv), gain(vp, vv));
        let off = later.place - told.place;
        let faster = later.velocity - told.velocity;
        let (p, b, v) = (
            later.place_var - told.place_var,
            later.both_var - told.both_var,
            later.velocity_var - told.velocity_var,
        );
        let common = |one: (f64, f64), other: (f64, f64)| {
            one.0 * other.0 * p + (one.0 * other.1 + one.1 * other.0) * b + one.1 * other.1 * v
        };
        let part = |by: (f64, f64), off: f64, faster: f64| by.0 * off + by.1 * faster;
        Self {
            t: self.t,
            place: self.place
                + Offset {
                    east_m: part(place, off.east_m, faster.east()),
                    north_m: part(place, off.north_m, faster.north()),
                },
            velocity: self.velocity
                + Velocity::new(
                    part(drift, off.east_m, faster.east()),
                    part(drift, off.north_m, faster.north()),
                ),
            place_var: self.place_var + common(place, place),
            both_var: self.both_var + common(place, drift),
            velocity_var: self.velocity_var + common(drift, drift),
        }
    }
}

/// The way of a casualty through its time in the water.
#[derive(Clone, Debug)]
pub(super) struct Adrift {
    pub sightings: Vec<Sighting>,
    pub expected: Expected,
    forwards: Vec<Moment>,
    both_ways: Vec<Moment>,
}

impl Adrift {
    /// Through positions in the order of time; `None` without any.
    pub(super) fn through(sightings: Vec<Sighting>, expected: Expected) -> Option<Self> {
        let first = *sightings.first()?;
        let start = Moment::first(first, expected);
        let mut way = Self { sightings, expected, forwards: vec![start], both_ways: Vec::new() };
        let mut sd_m = USUAL_SD_M;
        let mut weights = vec![1.0; way.sightings.len()];
        for _ in 0..ROUNDS {
            way.pass(start, sd_m, &weights);
            let off: Vec<f64> = way
                .both_ways
                .iter()
                .zip(&way.sightings)
                .map(|(moment, seen)| metres(seen.place - moment.place))
                .collect();
            let free = 2.0 * off.len().saturating_sub(2) as f64;
            let sum: f64 = off.iter().zip(&weights).map(|(off, weight)| weight * off * off).sum();
            let usual = USUAL_WEIGHS * USUAL_SD_M * USUAL_SD_M;
            sd_m = ((usual + sum) / (USUAL_WEIGHS + free)).sqrt();
            for (weight, off) in weights.iter_mut().zip(&off) {
                *weight = (TAILS + 2.0) / (TAILS + (off / sd_m).powi(2));
            }
        }
        Some(way)
    }

    /// Once forwards and back.
    fn pass(&mut self, start: Moment, sd_m: f64, weights: &[f64]) {
        let sd = |weight: f64| sd_m / weight.sqrt();
        let mut now = start;
        self.forwards.clear();
        for (place, (seen, weight)) in self.sightings.iter().zip(weights).enumerate() {
            if place == 0 {
                now.place_var = sd(*weight).powi(2);
            } else {
                now = now.carried_to(seen.t, seen.is_held).seen(seen.place, sd(*weight));
            }
            self.forwards.push(now);
        }
        self.both_ways.clone_from(&self.forwards);
        for place in (1..self.both_ways.len()).rev() {
            let is_held = self.sightings.get(place).is_some_and(|it| it.is_held);
            let (Some(before), Some(later)) =
                (self.forwards.get(place - 1), self.both_ways.get(place))
            else {
                continue;
            };
            let known = before.in_light_of(later, is_held);
            if let Some(slot) = self.both_ways.get_mut(place - 1) {
                *slot = known;
            }
        }
    }

    /// A moment: between the positions, or carried by the drift before and after them.
    pub(super) fn at(&self, t: f64) -> Option<Moment> {
        let next = self.both_ways.partition_point(|it| it.t <= t);
        let Some(before) = next.checked_sub(1) else {
            return Some(self.both_ways.first()?.carried_to(t, false));
        };
        let is_held = |place: usize| self.sightings.get(place).is_some_and(|it| it.is_held);
        match self.both_ways.get(next) {
            Some(later) => {
                let here = self.forwards.get(before)?.carried_to(t, is_held(next));
                Some(here.in_light_of(later, is_held(next)))
            }
            None => Some(self.both_ways.get(before)?.carried_to(t, is_held(before))),
        }
    }

    /// The places of its positions as they are known in the end.
    pub(super) fn moments(&self) -> &[Moment] {
        &self.both_ways
    }

    /// From the first position to the last.
    pub(super) fn span(&self) -> Option<(f64, f64)> {
        Some((self.sightings.first()?.t, self.sightings.last()?.t))
    }
}

/// Where a velocity leads in seconds, which may be negative.
pub(super) fn carried(velocity: Velocity, t: f64) -> Offset {
    Offset { east_m: velocity.east() * t, north_m: velocity.north() * t }
}

/// How long a way is, in metres.
pub(super) fn metres(way: Offset) -> f64 {
    way.east_m.hypot(way.north_m)
}

fn times(way: Offset, by: f64) -> Offset {
    Offset { east_m: way.east_m * by, north_m: way.north_m * by }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNKNOWN: Expected = Expected { velocity: Velocity::STILL, sd: 1.5 * KNOT_M_S };

    fn seen(t: f64, east_m: f64) -> Sighting {
        Sighting { t, place: Offset { east_m, north_m: 0.0 }, is_held: false }
    }

    #[test]
    fn it_goes_on_as_it_drifted_and_is_less_sure_the_further_it_goes() {
        let way = Adrift::through(
            (0..6).map(|n| seen(60.0 * n as f64, 30.0 * n as f64)).collect(),
            UNKNOWN,
        );
        let way = way.unwrap();
        let (between, beyond) = (way.at(90.0).unwrap(), way.at(600.0).unwrap());
        assert!((between.place.east_m - 45.0).abs() < 1.0, "{between:?}");
        assert!((beyond.place.east_m - 300.0).abs() < 5.0, "{beyond:?}");
        assert!(between.place_sd() < 6.0 && beyond.place_sd() > 2.0 * between.place_sd());
        let before = way.at(-60.0).unwrap();
        assert!((before.place.east_m + 30.0).abs() < 3.0, "{before:?}");
    }

    #[test]
    fn of_one_position_nothing_is_sure_for_long() {
        let way = Adrift::through(vec![seen(0.0, 0.0)], UNKNOWN).unwrap();
        let later = way.at(60.0).unwrap();
        assert!((later.place_sd() - 46.8).abs() < 0.5, "{later:?}");
    }

    #[test]
    fn a_wild_position_counts_little() {
        let mut all: Vec<Sighting> = (0..8).map(|n| seen(60.0 * n as f64, 0.0)).collect();
        all[4].place.north_m = 120.0;
        let way = Adrift::through(all, UNKNOWN).unwrap();
        assert!(way.at(240.0).unwrap().place.north_m < 15.0, "{:?}", way.at(240.0));
    }
}
