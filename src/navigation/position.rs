//! A place on the earth.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A position on the WGS-84 ellipsoid, always a real place: there is no "not available" in it.
///
/// In JSON it is `{"lat":57.70117,"lon":10.59817}`, decimal degrees in full. Printed, it reads as
/// it is spoken on the radio: `57°42.07'N 010°35.89'E`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Degrees")]
pub struct Position {
    lat: f64,
    lon: f64,
}

/// A pair of numbers that may be no place.
#[derive(Deserialize)]
#[serde(rename = "Position")]
struct Degrees {
    lat: f64,
    lon: f64,
}

impl TryFrom<Degrees> for Position {
    type Error = &'static str;

    fn try_from(Degrees { lat, lon }: Degrees) -> Result<Self, Self::Error> {
        Self::new(lat, lon).ok_or("there is no such place on the earth")
    }
}

impl Position {
    /// The position in decimal degrees, north and east positive. `None` unless both are finite,
    /// the latitude within ±90 and the longitude within ±180: so AIS's 91 and 181, "not
    /// available" (ITU-R M.1371-5 table 48), never become a place.
    pub fn new(lat: f64, lon: f64) -> Option<Self> {
        // A comparison with NaN is false, and infinity lies outside.
        (lat.abs() <= 90.0 && lon.abs() <= 180.0).then_some(Self { lat, lon })
    }

    /// Latitude in degrees, -90 to 90, north positive.
    pub const fn lat(self) -> f64 {
        self.lat
    }

    /// Longitude in degrees, -180 to 180, east positive.
    pub const fn lon(self) -> f64 {
        self.lon
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let north = if self.lat < 0.0 { 'S' } else { 'N' };
        let east = if self.lon < 0.0 { 'W' } else { 'E' };
        let (lat, lat_minutes) = degrees_and_minutes(self.lat);
        let (lon, lon_minutes) = degrees_and_minutes(self.lon);
        write!(f, "{lat:02}°{lat_minutes:05.2}'{north} {lon:03}°{lon_minutes:05.2}'{east}")
    }
}

/// Whole degrees, and minutes to two decimals, without sign. Rounded before they are parted, so
/// that 59.996 minutes make a degree and never `60.00'`.
fn degrees_and_minutes(angle: f64) -> (u32, f64) {
    // At most 180 degrees, so it fits.
    let hundredths = (angle.abs() * 6000.0).round() as u32;
    (hundredths / 6000, f64::from(hundredths % 6000) / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spoken(lat: f64, lon: f64) -> String {
        Position::new(lat, lon).unwrap().to_string()
    }

    #[test]
    fn only_a_real_place_is_a_position() {
        for (lat, lon) in [
            (91.0, 181.0),
            (90.000_001, 0.0),
            (0.0, -180.000_001),
            (f64::NAN, 0.0),
            (0.0, f64::NAN),
            (f64::INFINITY, 0.0),
            (0.0, f64::NEG_INFINITY),
        ] {
            assert_eq!(Position::new(lat, lon), None, "{lat} {lon}");
        }
        assert!(Position::new(90.0, 180.0).is_some());
        assert!(Position::new(-90.0, -180.0).is_some());
    }

    #[test]
    fn a_position_prints_as_it_is_spoken() {
        assert_eq!(spoken(57.0 + 42.07 / 60.0, 10.0 + 35.89 / 60.0), "57°42.07'N 010°35.89'E");
        assert_eq!(spoken(-33.85, -1.5), "33°51.00'S 001°30.00'W");
        assert_eq!(spoken(0.0, -0.0), "00°00.00'N 000°00.00'E");
        assert_eq!(spoken(-90.0, -180.0), "90°00.00'S 180°00.00'W");
    }

    #[test]
    fn sixty_minutes_are_a_degree() {
        assert_eq!(spoken(49.0 + 59.996 / 60.0, 9.0 + 59.996 / 60.0), "50°00.00'N 010°00.00'E");
        assert_eq!(spoken(49.0 + 59.994 / 60.0, -179.999_999), "49°59.99'N 180°00.00'W");
    }

    #[test]
    fn json_holds_the_degrees_in_full() {
        let position = Position::new(57.701_166_666_666_67, -10.5).unwrap();
        let json = serde_json::to_string(&position).unwrap();
        assert_eq!(json, r#"{"lat":57.70116666666667,"lon":-10.5}"#);
    }
}
