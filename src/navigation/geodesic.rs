//! Range, bearing and destination along the shortest way on the WGS-84 ellipsoid, after
//! C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87 (2013): right to nanometres, at any
//! range, over the date line and the poles.

use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic as _, Geodesic, InverseGeodesic as _};

use super::Position;
use crate::units::{Degrees, NauticalMiles};

/// The ellipsoid's series, made once.
static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// The range from one position to another, and the true bearing on which one sets out.
///
/// Coincident positions are 0 NM apart, and the bearing, which then has no meaning, is 0. Callers
/// that know how coarse a position is say "close by" well before that.
pub fn range_and_bearing(from: Position, to: Position) -> (NauticalMiles, Degrees) {
    // Range in metres, azimuth at the start, azimuth at the end, arc.
    let (metres, azimuth, _, _): (f64, f64, f64, f64) =
        WGS84.inverse(from.lat(), from.lon(), to.lat(), to.lon());
    let azimuth = if metres == 0.0 { 0.0 } else { azimuth };
    (NauticalMiles::from_metres(metres), Degrees::new(azimuth))
}

/// The position that lies on a true bearing at a range from another; its longitude is within ±180.
///
/// A range or bearing that is not finite leads nowhere: the answer is `from`.
pub fn destination(from: Position, bearing: Degrees, range: NauticalMiles) -> Position {
    let (lat, lon): (f64, f64) =
        WGS84.direct(from.lat(), from.lon(), bearing.value(), range.metres());
    Position::new(lat, lon).unwrap_or(from)
}
