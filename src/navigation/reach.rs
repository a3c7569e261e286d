//! How far an antenna at the water can be heard.

use crate::units::NauticalMiles;

/// The distance to the radio horizon for two antennas, their heights in metres above the sea:
/// `2.2 (√h1 + √h2)`, as the courses for the radio certificates teach it; 4/3 of the earth's radius
/// gives 2.23. No more than this can be expected, and a crest in between takes it away.
///
/// A height that is no number or below the sea counts as at the surface.
pub fn radio_horizon(height_m: f64, other_height_m: f64) -> NauticalMiles {
    NauticalMiles(2.2 * (height_m.max(0.0).sqrt() + other_height_m.max(0.0).sqrt()))
}

/// What can be reckoned with: 0.45 of the horizon. The requirement for AIS-SART, 5 NM from 1 m to
/// 16 m (IMO MSC.246(83)), is that part of it.
pub fn working_range(horizon: NauticalMiles) -> NauticalMiles {
    NauticalMiles(0.45 * horizon.0)
}
