//! Rhumb lines: the way of a ship that holds one course by compass, on the WGS-84 ellipsoid.

use super::{Position, range_and_bearing};
use crate::units::{Degrees, NauticalMiles};

/// Semi-major axis in metres and first eccentricity of WGS-84: by definition.
const A: f64 = 6_378_137.0;
const E: f64 = 0.081_819_190_842_621_49;

/// How far it is from one position to another on one course, and that course, true.
///
/// Over the distances at which a casualty is heard the course is that of the shortest way, to a
/// fraction of a degree. At a pole there is no such line: the answer is the shortest way.
pub fn rhumb_line(from: Position, to: Position) -> (NauticalMiles, Degrees) {
    if from.lat().abs() > 89.9 || to.lat().abs() > 89.9 {
        return range_and_bearing(from, to);
    }
    let east = {
        let turn = (to.lon() - from.lon()).rem_euclid(360.0);
        (if turn > 180.0 { turn - 360.0 } else { turn }).to_radians()
    };
    let stretched = isometric(to.lat()) - isometric(from.lat());
    // Along the meridian the shortest way and the rhumb line are one.
    let (along, _) = range_and_bearing(from, Position::new(to.lat(), from.lon()).unwrap_or(from));
    let north = along.metres().copysign(to.lat() - from.lat());
    // Metres of a degree east, on the mean parallel; a single one where there is but one.
    let scale = if stretched.abs() < 1e-9 {
        let (sin, cos) = f64::midpoint(from.lat(), to.lat()).to_radians().sin_cos();
        A * cos / (1.0 - (E * sin).powi(2)).sqrt()
    } else {
        north / stretched
    };
    let course = Degrees::new((east * scale).atan2(north).to_degrees());
    (NauticalMiles::from_metres(north.hypot(east * scale)), course)
}

/// The isometric latitude: how far north a parallel lies on a Mercator chart, in radians of the
/// equator.
fn isometric(lat: f64) -> f64 {
    let lat = lat.to_radians();
    lat.tan().asinh() - E * (E * lat.sin()).atanh()
}
