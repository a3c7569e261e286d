//! The sea around a position as a plane: displacements and velocities, east and north.
//!
//! Ranges and bearings from the middle of it are those of the ellipsoid. Between two places away
//! from the middle the plane is off by less than a tenth of a metre at ten miles, far below what a
//! position of a beacon is worth.

use std::ops::{Add, Neg, Sub};
use std::time::Duration;

use serde::ser::SerializeStruct as _;
use serde::{Serialize, Serializer};

use super::{Position, destination, range_and_bearing};
use crate::units::{Degrees, Knots, METRES_PER_NAUTICAL_MILE, NauticalMiles};

/// Metres a second in a knot, by definition.
pub(super) const METRES_PER_SECOND: f64 = METRES_PER_NAUTICAL_MILE / 3600.0;

/// A displacement, in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offset {
    /// Towards the east.
    pub east_m: f64,
    /// Towards the north.
    pub north_m: f64,
}

impl Offset {
    /// From one position to another, along the shortest way.
    pub fn between(from: Position, to: Position) -> Self {
        let (range, bearing) = range_and_bearing(from, to);
        Self::of(bearing, range)
    }

    /// A way in a direction.
    pub fn of(bearing: Degrees, range: NauticalMiles) -> Self {
        let (east, north) = bearing.value().to_radians().sin_cos();
        Self { east_m: east * range.metres(), north_m: north * range.metres() }
    }

    /// Where it leads from a position.
    pub fn from(self, position: Position) -> Position {
        if self == Self::default() {
            return position;
        }
        destination(position, self.bearing(), self.range())
    }

    /// How long it is.
    pub fn range(self) -> NauticalMiles {
        NauticalMiles::from_metres(self.east_m.hypot(self.north_m))
    }

    /// The direction it has; north if it has no length.
    pub fn bearing(self) -> Degrees {
        Degrees::new(self.east_m.atan2(self.north_m).to_degrees())
    }

    /// The sum of the products of its parts with those of another, in square metres.
    pub(super) fn dot(self, other: Self) -> f64 {
        self.east_m * other.east_m + self.north_m * other.north_m
    }
}

impl Add for Offset {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { east_m: self.east_m + other.east_m, north_m: self.north_m + other.north_m }
    }
}

impl Neg for Offset {
    type Output = Self;

    fn neg(self) -> Self {
        Self { east_m: -self.east_m, north_m: -self.north_m }
    }
}

impl Sub for Offset {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

/// A velocity, in metres a second: towards where, whatever it is that moves. A wind comes from the
/// other side.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Velocity {
    east: f64,
    north: f64,
}

impl Serialize for Velocity {
    /// As direction and speed; a thing at rest has no direction.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut velocity = serializer.serialize_struct("Velocity", 2)?;
        let towards = (*self != Self::STILL).then(|| self.towards());
        velocity.serialize_field("towards_deg", &towards)?;
        velocity.serialize_field("speed_kn", &self.speed())?;
        velocity.end()
    }
}

impl Velocity {
    /// No motion.
    pub const STILL: Self = Self { east: 0.0, north: 0.0 };

    /// So fast in that direction.
    pub fn of(towards: Degrees, speed: Knots) -> Self {
        let (east, north) = towards.value().to_radians().sin_cos();
        Self::new(east * speed.0 * METRES_PER_SECOND, north * speed.0 * METRES_PER_SECOND)
    }

    /// The velocity with these parts, in metres a second.
    pub const fn new(east: f64, north: f64) -> Self {
        Self { east, north }
    }

    /// Its part towards the east, in metres a second.
    pub const fn east(self) -> f64 {
        self.east
    }

    /// Its part towards the north, in metres a second.
    pub const fn north(self) -> f64 {
        self.north
    }

    /// Where it leads; north without motion.
    pub fn towards(self) -> Degrees {
        Degrees::new(self.east.atan2(self.north).to_degrees())
    }

    /// How fast.
    pub fn speed(self) -> Knots {
        Knots(self.east.hypot(self.north) / METRES_PER_SECOND)
    }

    /// How far it leads in a time.
    pub fn over(self, time: Duration) -> Offset {
        self.over_seconds(time.as_secs_f64())
    }

    /// The same; a negative time leads back.
    pub(super) fn over_seconds(self, seconds: f64) -> Offset {
        Offset { east_m: self.east * seconds, north_m: self.north * seconds }
    }

    /// The way of one second.
    pub(super) fn second(self) -> Offset {
        self.over_seconds(1.0)
    }
}

impl Add for Velocity {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { east: self.east + other.east, north: self.north + other.north }
    }
}

impl Neg for Velocity {
    type Output = Self;

    fn neg(self) -> Self {
        Self { east: -self.east, north: -self.north }
    }
}

impl Sub for Velocity {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_displacement_leads_there_and_back() {
        let here = Position::new(57.7, 10.6).unwrap();
        let there = Position::new(57.71, 10.55).unwrap();
        let offset = Offset::between(here, there);
        let (range, bearing) = range_and_bearing(here, there);
        assert!((offset.range().metres() - range.metres()).abs() < 1e-9);
        assert!((offset.bearing().value() - bearing.value()).abs() < 1e-9);
        let back = offset.from(here);
        assert!(
            (back.lat() - there.lat()).abs() < 1e-12 && (back.lon() - there.lon()).abs() < 1e-12
        );
        assert_eq!(Offset::default().bearing().value(), 0.0);
    }

    #[test]
    fn a_knot_is_a_mile_an_hour() {
        let velocity = Velocity::of(Degrees::new(90.0), Knots(1.0));
        let way = velocity.over(Duration::from_secs(3600));
        assert!((way.east_m - 1852.0).abs() < 1e-9 && way.north_m.abs() < 1e-9);
        assert!((velocity.speed().0 - 1.0).abs() < 1e-12);
        assert_eq!((velocity - velocity).speed().0, 0.0);
    }
}
