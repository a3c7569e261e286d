//! Leeway: how the wind moves a person through the water. The figures are those of the list of
//! leeway objects (O. Breivik and A. Allen, 2011-08-25, after Allen 2005, USCG CG-D-05-05), in the
//! form of components: per cent of the wind at 10 m plus an offset.

use super::METRES_PER_SECOND;
use super::plane::Velocity;
use crate::units::{Degrees, Knots};

/// How the wind carries one kind of object: three lines `slope · W + offset`, with the standard
/// deviation of each. Slopes in per cent, offsets and deviations in cm/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leeway {
    /// Down the wind.
    pub downwind: Line,
    /// Across it, for an object that drifts right of downwind.
    pub right: Line,
    /// Across it, for one that drifts left; negative.
    pub left: Line,
}

/// A straight line and how widely the measured values lie about it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Per cent of the wind.
    pub slope: f64,
    /// In cm/s.
    pub offset: f64,
    /// Standard deviation in cm/s.
    pub deviation: f64,
}

impl Line {
    const fn new(slope: f64, offset: f64, deviation: f64) -> Self {
        Self { slope, offset, deviation }
    }

    fn at(self, wind: Knots) -> Knots {
        // One per cent of a metre a second is a centimetre a second.
        let cm_per_s = self.slope * wind.0 * METRES_PER_SECOND + self.offset;
        Knots(cm_per_s / 100.0 / METRES_PER_SECOND)
    }
}

impl Leeway {
    /// PIW-1: a person in the water, state unknown (mean values).
    pub const UNKNOWN: Self = Self::person((0.96, 0.0, 12.0), (0.54, 0.0, 9.4), (-0.54, 0.0, 9.4));
    /// PIW-2: vertical, in a vest (PFD type III), conscious.
    pub const VERTICAL: Self = Self::person((0.48, 0.0, 8.3), (0.15, 0.0, 6.7), (-0.15, 0.0, 6.7));
    /// PIW-3: sitting, in a lifejacket (PFD type I or II).
    pub const SITTING: Self =
        Self::person((1.6, -3.98, 2.42), (0.13, 0.33, 2.11), (-0.13, -0.33, 2.11));
    /// PIW-4: in a survival suit, face up.
    pub const SURVIVAL_SUIT: Self =
        Self::person((1.71, 1.12, 3.93), (1.36, -3.3, 1.71), (-0.13, -2.65, 1.62));
    /// PIW-5: in a diver's suit, face up.
    pub const DIVING_SUIT: Self =
        Self::person((0.63, 0.0, 5.3), (0.31, 0.0, 4.5), (-0.31, 0.0, 4.5));
    /// PIW-6: deceased, face down.
    pub const DECEASED: Self =
        Self::person((1.117, 10.2, 3.04), (0.04, 3.9, 4.05), (-0.04, -3.9, 4.05));

    const fn person(down: (f64, f64, f64), right: (f64, f64, f64), left: (f64, f64, f64)) -> Self {
        Self {
            downwind: Line::new(down.0, down.1, down.2),
            right: Line::new(right.0, right.1, right.2),
            left: Line::new(left.0, left.1, left.2),
        }
    }

    /// The speed down the wind, never against it; across it right of it (positive) and left of it.
    pub fn components(&self, wind: Knots) -> (Knots, Knots, Knots) {
        let down = self.downwind.at(wind).0.max(0.0);
        (Knots(down), self.right.at(wind), self.left.at(wind))
    }

    /// The leeway of an object that drifts left, and of one that drifts right, in a wind that comes
    /// from `from`.
    pub fn branches(&self, from: Degrees, wind: Knots) -> (Velocity, Velocity) {
        let (down, right, left) = self.components(wind);
        let downwind = from.value() + 180.0;
        let branch = |across: Knots| {
            Velocity::of(Degrees::new(downwind), down)
                + Velocity::of(Degrees::new(downwind + 90.0), across)
        };
        (branch(left), branch(right))
    }
}

/// The method of the manuals for a person in the water: `multiplier · U + modifier`, to either side
/// of downwind by a divergence angle (Australian National SAR Manual 2023, table D-5:1, after Allen
/// and Plourde 1999, USCG CG-D-08-99). Never mixed with [`Leeway`]'s figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ManualLeeway {
    /// Share of the wind.
    pub multiplier: f64,
    /// In knots.
    pub modifier: f64,
    /// To either side of downwind, in degrees.
    pub divergence: f64,
}

impl ManualLeeway {
    /// A person in the water, state unknown.
    pub const UNKNOWN: Self = Self { multiplier: 0.011, modifier: 0.07, divergence: 30.0 };
    /// Vertical.
    pub const VERTICAL: Self = Self { multiplier: 0.005, modifier: 0.07, divergence: 18.0 };
    /// Sitting, in a lifejacket.
    pub const SITTING: Self = Self { multiplier: 0.012, modifier: 0.0, divergence: 18.0 };
    /// Horizontal, in a survival suit.
    pub const SURVIVAL_SUIT: Self = Self { multiplier: 0.014, modifier: 0.1, divergence: 30.0 };
    /// Horizontal, in a diver's suit.
    pub const DIVING_SUIT: Self = Self { multiplier: 0.007, modifier: 0.08, divergence: 30.0 };
    /// Horizontal, deceased.
    pub const DECEASED: Self = Self { multiplier: 0.015, modifier: 0.08, divergence: 30.0 };

    /// How fast it goes.
    pub fn speed(&self, wind: Knots) -> Knots {
        Knots(self.multiplier * wind.0 + self.modifier)
    }

    /// The leeway of an object that drifts left, and of one that drifts right.
    pub fn branches(&self, from: Degrees, wind: Knots) -> (Velocity, Velocity) {
        let downwind = from.value() + 180.0;
        let branch = |angle| Velocity::of(Degrees::new(downwind + angle), self.speed(wind));
        (branch(-self.divergence), branch(self.divergence))
    }
}
