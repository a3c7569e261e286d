//! Units in types: no bare number crosses a layer without saying what it counts.

use std::fmt;

use serde::{Deserialize, Serialize, Serializer};

/// Metres in an international nautical mile.
pub const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;

/// A distance in nautical miles; printed in metres below a tenth of a mile.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Deserialize)]
pub struct NauticalMiles(pub f64);

impl NauticalMiles {
    /// The same distance from metres.
    pub fn from_metres(metres: f64) -> Self {
        Self(metres / METRES_PER_NAUTICAL_MILE)
    }

    /// The same distance in metres.
    pub fn metres(self) -> f64 {
        self.0 * METRES_PER_NAUTICAL_MILE
    }
}

impl fmt::Display for NauticalMiles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 0.1 {
            return write!(f, "{:.0} m", self.metres());
        }
        if self.0 < 9.95 { write!(f, "{:.2} NM", self.0) } else { write!(f, "{:.1} NM", self.0) }
    }
}

impl Serialize for NauticalMiles {
    /// To the metre or so: three decimals.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64((self.0 * 1000.0).round() / 1000.0)
    }
}

/// A direction from true north, 0 up to 360 degrees.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Degrees(f64);

impl Degrees {
    /// The direction, brought into 0..360.
    pub fn new(degrees: f64) -> Self {
        let turned = degrees.rem_euclid(360.0);
        // A tiny negative angle rounds up to the full circle.
        Self(if turned >= 360.0 { 0.0 } else { turned })
    }

    /// The number of degrees, 0 up to 360.
    pub const fn value(self) -> f64 {
        self.0
    }

    /// How far this direction lies from `from`, -180 to 180, positive to starboard.
    pub fn relative_to(self, from: Self) -> f64 {
        let turn = (self.0 - from.0).rem_euclid(360.0);
        if turn > 180.0 { turn - 360.0 } else { turn }
    }
}

impl fmt::Display for Degrees {
    /// Three figures and a T, as a bearing is read aloud: `007°T`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = self.0.round();
        write!(f, "{:03.0}°T", if whole >= 360.0 { 0.0 } else { whole })
    }
}

impl Serialize for Degrees {
    /// To a tenth of a degree, still below 360.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let tenths = (self.0 * 10.0).round() / 10.0;
        serializer.serialize_f64(if tenths >= 360.0 { 0.0 } else { tenths })
    }
}

/// A speed in knots.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Knots(pub f64);

impl fmt::Display for Knots {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} kn", self.0)
    }
}

impl Serialize for Knots {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64((self.0 * 100.0).round() / 100.0)
    }
}

/// A temperature in degrees Celsius.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
pub struct Celsius(pub f64);

impl fmt::Display for Celsius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} °C", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bearing_stays_below_the_full_circle() {
        assert_eq!(Degrees::new(-1e-20).value(), 0.0);
        assert_eq!(Degrees::new(359.7).to_string(), "000°T");
        assert_eq!(Degrees::new(725.0).value(), 5.0);
        assert_eq!(serde_json::to_string(&Degrees::new(359.97)).unwrap(), "0.0");
    }

    #[test]
    fn starboard_is_positive() {
        assert_eq!(Degrees::new(10.0).relative_to(Degrees::new(350.0)), 20.0);
        assert_eq!(Degrees::new(350.0).relative_to(Degrees::new(10.0)), -20.0);
        assert_eq!(Degrees::new(180.0).relative_to(Degrees::new(0.0)), 180.0);
    }
}
