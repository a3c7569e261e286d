//! The position in a DSC call: whole minutes, to which a DSE adds the decimals (M.493-15 8.1.2,
//! M.821-1).

use super::field::two;

/// Quadrant, latitude and longitude as ten digits say them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct CallPosition {
    south: bool,
    west: bool,
    /// Whole minutes of latitude and longitude; truncated, so a place lies further from zero.
    lat_minutes: u32,
    lon_minutes: u32,
    /// The four decimals of a minute that a DSE brings; `None` before that.
    decimals: Option<(u32, u32)>,
}

impl CallPosition {
    /// Reads `q dd mm ddd mm`. `None` if there is no position (all nines), no such quadrant, or no
    /// such place.
    pub fn parse(digits: &[u8]) -> Option<Self> {
        if digits.len() != 10 || !digits.iter().all(u8::is_ascii_digit) {
            return None;
        }
        let quadrant = digits[0] - b'0';
        let [lat, lat_minutes] = [two(digits, 1)?, two(digits, 3)?];
        let lon = u32::from(digits[5] - b'0') * 100 + two(digits, 6)?;
        let lon_minutes = two(digits, 8)?;
        let exists = quadrant <= 3 && lat_minutes < 60 && lon_minutes < 60;
        let (lat_minutes, lon_minutes) = (lat * 60 + lat_minutes, lon * 60 + lon_minutes);
        (exists && lat_minutes <= 90 * 60 && lon_minutes <= 180 * 60).then_some(Self {
            // 0 NE, 1 NW, 2 SE, 3 SW.
            south: quadrant >= 2,
            west: quadrant % 2 == 1,
            lat_minutes,
            lon_minutes,
            decimals: None,
        })
    }

    /// The same place with the decimals of its minutes, in ten thousandths.
    pub fn refined(self, decimals: (u32, u32)) -> Self {
        Self { decimals: Some(decimals), ..self }
    }

    /// Whether its decimals are known.
    pub const fn is_refined(self) -> bool {
        self.decimals.is_some()
    }

    /// Latitude and longitude in degrees, north and east positive.
    pub fn degrees(self) -> (f64, f64) {
        let degrees = |minutes: u32, decimals: u32, negative| {
            let value = (f64::from(minutes) + f64::from(decimals) / 10_000.0) / 60.0;
            if negative { -value } else { value }
        };
        let (lat, lon) = self.decimals.unwrap_or_default();
        (degrees(self.lat_minutes, lat, self.south), degrees(self.lon_minutes, lon, self.west))
    }
}
