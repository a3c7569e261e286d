//! The two patterns for one small craft, in the frame of the datum.

use std::fmt;

use serde::Serialize;

use super::super::plane::Offset;
use crate::units::{Degrees, NauticalMiles};

/// How a search runs about the datum. All turns are to starboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Pattern {
    /// Three times out and back through the datum, turns of 120° (IAMSAR volume III).
    Sector,
    /// Outward from the datum in a square, turns of 90° (IAMSAR volume III).
    Square,
}

impl fmt::Display for Pattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Sector => "sector search",
            Self::Square => "expanding square",
        })
    }
}

/// The legs of a sector search: degrees from the first, and length in radii.
const SECTOR: [(f64, f64); 7] =
    [(0.0, 1.0), (120.0, 1.0), (240.0, 2.0), (0.0, 1.0), (120.0, 2.0), (240.0, 1.0), (0.0, 1.0)];

/// The most legs a square has: more than a crew can sail. Our own.
const MOST_LEGS: u32 = 41;

impl Pattern {
    /// How many legs a pass has. A square of 5, 9, 13 ... legs is closed: `k` rounds cover all that
    /// lies within `k + ½` spacings on every side.
    pub fn legs(self, rounds: u32) -> u32 {
        match self {
            Self::Sector => 7,
            Self::Square => rounds.saturating_mul(4).saturating_add(1).min(MOST_LEGS),
        }
    }

    /// How far the second pass is turned against the first, to starboard, so that its legs fall
    /// between those.
    pub const fn second_pass(self) -> f64 {
        match self {
            Self::Sector => 30.0,
            Self::Square => 45.0,
        }
    }

    /// The ends of the legs of a pass, as displacements from the datum: `size` is the radius of a
    /// sector search or the track spacing of a square.
    pub fn vertices(self, first: Degrees, size: NauticalMiles, legs: u32) -> Vec<Offset> {
        let mut end = Offset::default();
        (0..legs)
            .map(|leg| {
                let (turned, length) = match self {
                    Self::Sector => SECTOR[leg as usize % SECTOR.len()],
                    Self::Square => (90.0 * f64::from(leg), f64::from(leg / 2 + 1)),
                };
                let course = Degrees::new(first.value() + turned);
                end = end + Offset::of(course, NauticalMiles(size.0 * length));
                end
            })
            .collect()
    }
}
