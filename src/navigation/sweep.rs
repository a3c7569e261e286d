//! How wide a strip the lookout of a small craft searches for a person in the water, by daylight.
//! Tables: Australian National SAR Manual (2023 ed.), appendix D-5, table D-5:3, and US Coast Guard
//! Addendum to the National SAR Supplement (COMDTINST M16130.2F, 2013), boats of 8 and 14 ft height
//! of eye: of two widths the smaller. Weather after IAMSAR volume II, table N-7, which both share;
//! fatigue after the US National SAR Manual, volume I, table D-1.

use serde::Serialize;

use crate::units::{Knots, NauticalMiles};

/// What the tables do not hold, to be said wherever their widths are shown.
pub const BY_DAY: &str = "sweep widths hold by day: there is no table for the night";

/// The least visibility of each column but the first, in nautical miles.
const COLUMNS: [f64; 5] = [2.7, 5.4, 8.1, 10.8, 13.5];

/// Widths in nautical miles by visibility, for a height of eye of 8 ft and of 14 ft. From 8.1 NM on
/// the Australian table has 0.6 for the second, the American one stays at 0.5.
const LOW: (f64, [f64; 6]) = (2.4, [0.2, 0.2, 0.3, 0.3, 0.3, 0.3]);
const HIGH: (f64, [f64; 6]) = (4.3, [0.3, 0.4, 0.5, 0.5, 0.5, 0.5]);

/// Above this wind a person in the water is seen half as far, above the next a quarter.
const FRESH: Knots = Knots(15.0);
const STRONG: Knots = Knots(25.0);

/// How high the seas are, swell and wind sea together, in the three steps that change how far a
/// person in the water is seen (IAMSAR volume II, table N-7).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Seas {
    /// Up to 1 m.
    Low,
    /// Above 1 m, up to 1.5 m: seen half as far.
    Middle,
    /// Above 1.5 m: a quarter.
    High,
}

impl Seas {
    /// By their height in metres.
    pub fn of_height(metres: f64) -> Self {
        match metres {
            _ if metres > 1.5 => Self::High,
            _ if metres > 1.0 => Self::Middle,
            _ => Self::Low,
        }
    }

    /// The next step, and the lowest after the highest.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Low => Self::Middle,
            Self::Middle => Self::High,
            Self::High => Self::Low,
        }
    }

    /// The same in words, after "seas".
    pub const fn words(self) -> &'static str {
        match self {
            Self::Low => "under 1 m",
            Self::Middle => "1 to 1.5 m",
            Self::High => "over 1.5 m",
        }
    }

    const fn factor(self) -> f64 {
        match self {
            Self::Low => 1.0,
            Self::Middle => 0.5,
            Self::High => 0.25,
        }
    }
}

/// What a tired crew still sees (US National SAR Manual, volume I, table D-1).
const TIRED: f64 = 0.9;

/// Those who look out, and how far they see.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lookout {
    /// Height of the eye above the water in metres; `None` is taken as 2.4 m.
    pub height_of_eye_m: Option<f64>,
    /// Meteorological visibility; `None` is taken as poor.
    pub visibility: Option<NauticalMiles>,
    /// How high the seas are; `None` is taken as low.
    pub seas: Option<Seas>,
    /// Whether they have been at it for long.
    pub tired: bool,
}

impl Lookout {
    /// The sweep width for a person in the water: half of those who drift farther off the track than
    /// half of this are still seen, as many as are missed within it.
    ///
    /// Between two columns or rows the lower holds; of wind and seas the worse. A wind that is not
    /// known is taken as more than 15 kn. Nobody sees farther than the visibility, whatever the table says.
    pub fn sweep_width(&self, wind: Option<Knots>) -> NauticalMiles {
        let is_high = self.height_of_eye_m.is_some_and(|height| height >= HIGH.0);
        let row = if is_high { HIGH.1 } else { LOW.1 };
        let visibility = self.visibility.map_or(0.0, |visibility| visibility.0);
        let column = COLUMNS.iter().filter(|least| visibility >= **least).count();
        let weather: f64 = match wind {
            Some(wind) if wind > STRONG => 0.25,
            Some(wind) if wind <= FRESH => 1.0,
            _ => 0.5,
        };
        let weather = weather.min(self.seas.map_or(1.0, Seas::factor));
        let fatigue = if self.tired { TIRED } else { 1.0 };
        let width = row.get(column).copied().unwrap_or(row[0]) * weather * fatigue;
        let both_sides = self.visibility.map_or(width, |visibility| 2.0 * visibility.0.max(0.0));
        NauticalMiles(width.min(both_sides).max(LEAST.0))
    }

    /// What was taken for granted where it is not known; empty if all of it is.
    pub fn assumed(&self, wind: Option<Knots>) -> String {
        let mut parts = Vec::new();
        // First, for where not all of it fits: of these it alone makes the strip too wide.
        if self.seas.is_none() {
            parts.push("seas under 1 m");
        }
        if self.height_of_eye_m.is_none_or(|height| height < LOW.0) {
            parts.push("height of eye 2.4 m");
        }
        if self.visibility.is_none() {
            parts.push("poor visibility");
        }
        if wind.is_none() {
            parts.push("wind above 15 kn");
        }
        if parts.is_empty() { String::new() } else { format!("{} assumed", parts.join(", ")) }
    }
}

/// A strip narrower than a boat is long cannot be steered. Our own.
const LEAST: NauticalMiles = NauticalMiles(0.01);

/// How densely tracks cover an area: sweep width over track spacing (MSC.1/Circ.1311).
pub fn coverage(width: NauticalMiles, spacing: NauticalMiles) -> f64 {
    width.0 / spacing.0
}

/// The probability that a search of this coverage finds what is in its area, if its tracks lie as
/// they fall: `1 - e^-C`. From memory.
pub fn random_detection(coverage: f64) -> f64 {
    1.0 - (-coverage).exp()
}

/// The same if the tracks are evenly spaced and the chance of a sighting falls off with the cube of
/// the range: `erf(√π/2 · C)`. From memory.
pub fn even_detection(coverage: f64) -> f64 {
    error_function(std::f64::consts::PI.sqrt() / 2.0 * coverage)
}

/// By its series about 0, which ends soon for the values that occur; 1 beyond them.
fn error_function(x: f64) -> f64 {
    if x > 4.0 {
        return 1.0;
    }
    let (mut term, mut sum, mut n) = (x, x, 0.0);
    while term.abs() > 1e-12 {
        n += 1.0;
        term *= -x * x / n;
        sum += term / (2.0 * n + 1.0);
    }
    2.0 / std::f64::consts::PI.sqrt() * sum
}
