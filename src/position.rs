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

    /// The position of two coordinates, each of which may be not available.
    pub fn of(lat: Option<f64>, lon: Option<f64>) -> Option<Self> {
        Self::new(lat?, lon?)
    }

    /// Reads a position as people write it: degrees and decimal minutes with their letters
    /// (`57 42.07N 010 35.89E`, `57°42.07'N, 010°35.89'E`, `N57 42.07 E010 35.89`), or decimal
    /// degrees, with letters or signed (`57.70117 -10.59817`, latitude first). What [`Position`]
    /// prints is read again.
    ///
    /// # Errors
    /// How to write it, if it can be read in no way or in more than one: a decimal comma, minutes
    /// without a letter and minutes from 60 on are refused rather than guessed at.
    pub fn parse(text: &str) -> Result<Self, &'static str> {
        let (first, second) = halves(text).ok_or(HOW_TO_WRITE)?;
        let (first, second) =
            (angle(first).ok_or(HOW_TO_WRITE)?, angle(second).ok_or(HOW_TO_WRITE)?);
        let (lat, lon) = match (first, second) {
            ((lat, Axis::Latitude), (lon, Axis::Longitude))
            | ((lon, Axis::Longitude), (lat, Axis::Latitude))
            | ((lat, Axis::NotGiven), (lon, Axis::NotGiven)) => (lat, lon),
            _ => return Err(HOW_TO_WRITE),
        };
        Self::new(lat, lon).ok_or("there is no such place on the earth")
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

const HOW_TO_WRITE: &str = "write it as degrees and minutes, \"57 42.07N 010 35.89E\", or as \
                            decimal degrees, \"57.70117 10.59817\"";

/// What the letter of an angle says it is.
#[derive(Clone, Copy)]
enum Axis {
    Latitude,
    Longitude,
    /// No letter.
    NotGiven,
}

/// Parts the two angles: at the only comma, else at the letters, else at the only blank.
fn halves(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    if let Some((first, second)) = text.split_once(',') {
        return Some((first, second));
    }
    let mut letters = text.match_indices(|c: char| c.is_ascii_alphabetic());
    let (Some((first, _)), second) = (letters.next(), letters.next()) else {
        return text.split_once(char::is_whitespace);
    };
    // The letter stands before its angle or after it.
    let parted = if first == 0 { second?.0 } else { first + 1 };
    text.split_at_checked(parted)
}

/// An angle in degrees, north and east positive, and what its letter says of it.
fn angle(text: &str) -> Option<(f64, Axis)> {
    let text = text.trim();
    let letter = |c: char| c.is_ascii_alphabetic();
    let bare = text.strip_prefix(letter).or_else(|| text.strip_suffix(letter));
    let (sign, axis) = match text.find(letter).and_then(|at| text.as_bytes().get(at)) {
        Some(b'N' | b'n') => (1.0, Axis::Latitude),
        Some(b'S' | b's') => (-1.0, Axis::Latitude),
        Some(b'E' | b'e') => (1.0, Axis::Longitude),
        Some(b'W' | b'w') => (-1.0, Axis::Longitude),
        Some(_) => return None,
        None => (if text.starts_with('-') { -1.0 } else { 1.0 }, Axis::NotGiven),
    };
    let bare = bare.or_else(|| text.strip_prefix(['-', '+'])).unwrap_or(text);
    let marks = |c: char| c.is_whitespace() || matches!(c, '°' | 'º' | '\'' | '’' | '′');
    let mut numbers = bare.split(marks).filter(|part| !part.is_empty());
    let (degrees, minutes) = (numbers.next()?, numbers.next());
    let minutes = match minutes {
        // Minutes belong to whole degrees, and without a letter nobody knows where they end.
        Some(_) if degrees.contains('.') || matches!(axis, Axis::NotGiven) => return None,
        Some(minutes) => number(minutes).filter(|minutes| *minutes < 60.0)?,
        None => 0.0,
    };
    let value = sign * (number(degrees)? + minutes / 60.0);
    numbers.next().is_none().then_some((value, axis))
}

/// Digits with at most one point: no sign, no exponent, no word for infinity.
fn number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    plain.then(|| text.parse().ok()).flatten()
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
pub fn degrees_and_minutes(angle: f64) -> (u32, f64) {
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
    fn a_position_is_read_as_people_write_it() {
        let there = Position::new(57.0 + 42.07 / 60.0, 10.0 + 35.89 / 60.0).unwrap();
        for text in [
            "57 42.07N 010 35.89E",
            "57°42.07'N 010°35.89'E",
            "57° 42.07′ N, 010° 35.89′ E",
            "n57 42.07 e10 35.89",
            "010 35.89E 57 42.07N",
            "  57 42.07 N  010 35.89 E ",
        ] {
            assert_eq!(Position::parse(text), Ok(there), "{text}");
        }
        let west = Position::new(-57.701, -10.5).unwrap();
        for text in ["-57.701 -10.5", "-57.701,-10.5", "57.701S 10.5W", "S 57.701 W 10.5"] {
            assert_eq!(Position::parse(text), Ok(west), "{text}");
        }
        assert_eq!(Position::parse("90 0.0"), Ok(Position::new(90.0, 0.0).unwrap()));
    }

    #[test]
    fn what_could_be_two_places_is_refused() {
        for text in [
            "",
            "57 42.07N",
            "57 42.07 010 35.89",
            "57 42,07N 010 35,89E",
            "57,30 10,45",
            "57 60N 010 00E",
            "57.5 30N 010 00E",
            "57 42 04N 010 35 53E",
            "57 42.07N 58 42.07N",
            "57.7N 10.6",
            "-57.7N 10.6E",
            "57 42.07X 010 35.89E",
            "57 42.07NE 010 35.89E",
            "nan inf",
            "1e1 2e1",
            "57..7 10.6",
            ". .",
            "--57.7 10.6",
            "N E",
            "°N 'E",
            "57 42.07N 010 35.89É",
        ] {
            assert_eq!(Position::parse(text), Err(HOW_TO_WRITE), "{text}");
        }
        for text in ["91 181", "57 42.07N 180 00.01E", "90 00.01N 0 0E"] {
            assert!(Position::parse(text).is_err(), "{text}");
        }
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
