//! Ranges and directions in steps.

use super::report::SectorFrom;
use crate::navigation::Position;
use crate::units::{Degrees, NauticalMiles};

/// How many steps of range there are, and where the first begins and the next: a step is a tenth of a
/// power of ten, 4 dB of loss over the sea. The last ends at 50 NM; what is said to be further off
/// has not come by radio alone. Our own.
pub(super) const BINS: usize = 24;
const FIRST_NM: f64 = 0.2;

/// A step of range: which, 0 to 23. The first holds all that is nearer, too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bin(u8);

impl Bin {
    /// That of a range; `None` beyond the last.
    pub(super) fn of(range: NauticalMiles) -> Option<Self> {
        let step = ((range.0 / FIRST_NM).log10() * 10.0).floor().max(0.0);
        (step < BINS as f64).then_some(Self(step as u8))
    }

    pub(super) const fn number(self) -> usize {
        self.0 as usize
    }

    /// Where step `number` begins.
    pub(super) fn begin(number: usize) -> NauticalMiles {
        if number == 0 {
            return NauticalMiles(0.0);
        }
        NauticalMiles(FIRST_NM * 10_f64.powf(number as f64 / 10.0))
    }

    /// The middle of step `number`, for the loss on the way.
    pub(super) fn middle(number: usize) -> NauticalMiles {
        NauticalMiles(FIRST_NM * 10_f64.powf((number as f64 + 0.5) / 10.0))
    }
}

/// How many directions there are, each 30 degrees. Our own.
pub(super) const SECTORS: usize = 12;

/// A direction: 0 to 11 from the bow, 12 to 23 from north.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sector(u8);

impl Sector {
    /// That of a bearing, from where the bow points, if that is known.
    pub(super) fn of(bearing: Degrees, ahead: Option<Degrees>) -> Self {
        let angle = Degrees::new(bearing.value() - ahead.map_or(0.0, Degrees::value));
        let step = (angle.value() / 30.0) as u8 % SECTORS as u8;
        Self(step + if ahead.is_some() { 0 } else { SECTORS as u8 })
    }

    pub(super) const fn number(self) -> usize {
        self.0 as usize
    }

    /// From where number `number` is counted, and where it begins.
    pub(super) const fn parts(number: usize) -> (SectorFrom, u16) {
        let from = if number < SECTORS { SectorFrom::Bow } else { SectorFrom::North };
        (from, (number % SECTORS) as u16 * 30)
    }
}

/// How far and which way it is, on a sphere that is flat there: within a hundredth up to 50 NM short
/// of the poles, and far quicker than on the ellipsoid.
pub(super) fn near(from: Position, to: Position) -> (NauticalMiles, Degrees) {
    let north = (to.lat() - from.lat()) * 60.0;
    let turn = (to.lon() - from.lon() + 540.0).rem_euclid(360.0) - 180.0;
    let east = turn * 60.0 * ((from.lat() + to.lat()) / 2.0).to_radians().cos();
    (NauticalMiles(north.hypot(east)), Degrees::new(east.atan2(north).to_degrees()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::navigation::range_and_bearing;

    #[test]
    fn steps_hold_what_lies_between_their_ends() {
        assert_eq!(Bin::of(NauticalMiles(0.0)), Some(Bin(0)));
        assert_eq!(Bin::of(NauticalMiles(50.0)), Some(Bin(23)));
        assert_eq!(Bin::of(NauticalMiles(50.3)), None);
        for number in 0..BINS {
            let (from, to) = (Bin::begin(number), Bin::begin(number + 1));
            assert_eq!(Bin::of(NauticalMiles(to.0 * 0.999)).unwrap().number(), number);
            let middle = Bin::middle(number);
            assert!(from < middle && middle < to);
        }
    }

    #[test]
    fn sectors_turn_with_the_bow() {
        let at = |bearing, ahead: Option<f64>| {
            Sector::parts(Sector::of(Degrees::new(bearing), ahead.map(Degrees::new)).number())
        };
        assert_eq!(at(10.0, Some(350.0)), (SectorFrom::Bow, 0));
        assert_eq!(at(340.0, Some(350.0)), (SectorFrom::Bow, 330));
        assert_eq!(at(340.0, None), (SectorFrom::North, 330));
    }

    #[test]
    fn the_quick_way_is_near_the_right_one() {
        let from = Position::new(57.0, 179.9).unwrap();
        for (lat, lon) in [(57.5, -179.9), (56.4, 179.5), (57.0, 179.9), (57.01, -179.0)] {
            let to = Position::new(lat, lon).unwrap();
            let (quick, bearing) = near(from, to);
            let (right, true_bearing) = range_and_bearing(from, to);
            assert!((quick.0 - right.0).abs() <= 0.01 * right.0 + 1e-9, "{quick} {right}");
            assert!(right.0 == 0.0 || bearing.relative_to(true_bearing).abs() < 1.0);
        }
    }
}
