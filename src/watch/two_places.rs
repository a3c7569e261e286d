//! One identity heard at two places where nobody can be at both: two beacons, or one that is forged.
//! Which is the person's is not known. The later leads, as of every beacon, and the other stays in
//! sight: neither hides the other.

use std::time::Duration;

use serde::Serialize;

use crate::beacon;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, seconds};
use crate::units::{Knots, NauticalMiles};

/// Whoever drifts is no faster than this, in a gale and a stream together. Our own.
const FASTEST: Knots = Knots(6.0);

/// Nearer than this the errors of two fixes may make two places of one, a first fix above all. Our
/// own.
const ERRORS: NauticalMiles = NauticalMiles(0.5);

/// Once a whole cycle was heard at one place alone, the other was an error.
const HOLDS: Duration = beacon::CYCLE;

/// The place that does not lead; of more than one the last.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct OtherPlace {
    /// Where it was heard too.
    pub position: Position,
    /// How far that is from the place that leads.
    #[serde(rename = "apart_nm")]
    pub apart: NauticalMiles,
    /// How old it is.
    #[serde(rename = "age_s", serialize_with = "seconds")]
    pub age: Duration,
}

impl OtherPlace {
    /// `two places: 3.1 NM apart`.
    pub fn words(&self) -> String {
        format!("two places: {:.1} NM apart", self.apart.0)
    }
}

/// The place that does not lead, and when it was heard there.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct TwoPlaces(Option<(Position, Mono)>);

impl TwoPlaces {
    /// A place `now` comes after one of `then`.
    pub(super) fn note(&mut self, then: (Position, Mono), now: (Position, Mono)) {
        let hours = now.1.since(then.1).as_secs_f64() / 3600.0;
        let most = ERRORS.0 + FASTEST.0 * hours;
        if range_and_bearing(then.0, now.0).0.0 > most {
            self.0 = Some(then);
        } else {
            self.0 = self.0.filter(|other| now.1.since(other.1) < HOLDS);
        }
    }

    /// The other place, as it is seen from the one that leads.
    pub(super) fn other(&self, leads: Option<Position>, now: Mono) -> Option<OtherPlace> {
        let (position, at) = self.0?;
        let apart = range_and_bearing(leads?, position).0;
        Some(OtherPlace { position, apart, age: now.since(at) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hears it at seconds and minutes north; the other place's minutes and age at the end.
    fn heard(places: &[(u64, f64)]) -> Option<(f64, u64)> {
        let mut two = TwoPlaces::default();
        let place = |&(second, minutes): &(u64, f64)| {
            let position = Position::new(50.0 + minutes / 60.0, -5.0)?;
            Some((position, Mono::START + Duration::from_secs(second)))
        };
        let places: Vec<_> = places.iter().filter_map(place).collect();
        for pair in places.windows(2) {
            two.note(pair[0], pair[1]);
        }
        let &(leads, now) = places.last()?;
        let other = two.other(Some(leads), now)?;
        Some((((other.position.lat() - 50.0) * 60.0).round(), other.age.as_secs()))
    }

    #[test]
    fn the_place_that_nobody_can_have_come_from_stays_in_sight() {
        assert_eq!(heard(&[(0, 0.0), (60, 0.59)]), None, "6 kn and the errors of two fixes");
        assert_eq!(heard(&[(0, 0.0), (60, 0.7)]), Some((0.0, 60)));
        assert_eq!(heard(&[(0, 0.0), (3600, 6.4)]), None, "an hour of drift");
        assert_eq!(heard(&[(0, 0.0), (2, 3.0), (60, 0.0)]), Some((3.0, 58)), "the later leads");
        assert_eq!(heard(&[(0, 0.0), (2, 3.0), (4, 9.0)]), Some((3.0, 2)), "one other, the last");
    }

    #[test]
    fn an_error_is_over_once_a_cycle_was_heard_at_one_place() {
        assert_eq!(heard(&[(0, 3.0), (60, 0.0), (479, 0.0)]), Some((3.0, 479)));
        assert_eq!(heard(&[(0, 3.0), (60, 0.0), (480, 0.0)]), None);
    }
}
