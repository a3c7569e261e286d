//! How near own ship came, how far she went, how often she passed, and when she was at the casualty.

use super::scene::Scene;
use crate::navigation::{AT_CASUALTY, PASSES_WITHIN, Passing, RangeTurned, TURNED};
use crate::units::{Knots, NauticalMiles};

/// At the casualty: as near as that, slower than this, for so long. Our own.
const SLOW: Knots = Knots(2.0);
const STAYS_S: f64 = 10.0;

/// A moment and the range then, in metres.
pub(super) type At = (f64, f64);

/// The ways in and out, in the order of time.
#[derive(Clone, Debug, Default)]
pub(super) struct Approaches {
    /// The nearest points of those after which she went away again.
    pub passes: Vec<At>,
    /// The nearest point so far of the last one, if she did not go away again.
    pub last: Option<At>,
    /// When the first one began.
    pub first_began: Option<f64>,
}

impl Approaches {
    /// Finds them in a course of ranges.
    pub(super) fn of(ranges: &[At]) -> Self {
        let mut found = Self::default();
        let mut passing = Passing::default();
        for &at in ranges {
            match passing.note(NauticalMiles::from_metres(at.1), at) {
                Some(RangeTurned::Closes(_, (begun, _))) => {
                    found.first_began = found.first_began.or(Some(begun));
                }
                Some(RangeTurned::Opens(_, nearest)) => found.passes.push(nearest),
                None => {}
            }
        }
        found.last = passing.nearest();
        found
    }

    /// Those near enough to count, that ended before she was there.
    pub(super) fn missed(&self, until: f64) -> Vec<At> {
        let near = |&&(t, range): &&At| range <= PASSES_WITHIN.metres() && t < until;
        self.passes.iter().filter(near).copied().collect()
    }

    /// The nearest of all.
    pub(super) fn closest(&self) -> Option<At> {
        nearest(self.passes.iter().copied().chain(self.last))
    }
}

/// How a pass is told from arriving.
pub(super) fn pass_words() -> String {
    format!(
        "times the range fell below {:.1} NM and then opened by more than {TURNED} before own ship \
         was at the casualty",
        PASSES_WITHIN.0
    )
}

/// What being there means.
pub(super) fn there_words() -> String {
    format!("within {AT_CASUALTY} and slower than {SLOW} for {STAYS_S:.0} s; ±15 s")
}

/// When own ship was at the casualty, from `from` on.
pub(super) fn at_casualty(scene: &Scene<'_>, from: f64, until: f64) -> Option<f64> {
    let mut since: Option<f64> = None;
    let mut before: Option<f64> = None;
    for step in scene.steps(from, until) {
        let near = scene.range_at(step.t).is_some_and(|range| range <= AT_CASUALTY.metres());
        let slow = step.sog.is_some_and(|sog| sog.0 < SLOW.0);
        // A gap in her track says nothing of what she did.
        let unbroken = before.is_none_or(|before| step.t - before <= STAYS_S);
        before = Some(step.t);
        if !(near && slow && unbroken) {
            since = None;
            continue;
        }
        let begun = *since.get_or_insert(step.t);
        if step.t - begun >= STAYS_S {
            return Some(begun);
        }
    }
    None
}

/// The nearest of these.
pub(super) fn nearest(ranges: impl Iterator<Item = At>) -> Option<At> {
    ranges.min_by(|one, other| one.1.total_cmp(&other.1))
}

/// The furthest of these.
pub(super) fn furthest(ranges: impl Iterator<Item = At>) -> Option<At> {
    ranges.max_by(|one, other| one.1.total_cmp(&other.1))
}

/// How near two positions are told apart, in metres: the accuracy that the numbers state.
const ACCURACY_M: f64 = 20.0;

/// A distance in metres as a person reads it; no finer than its accuracy.
pub(super) fn metres(metres: f64) -> String {
    match metres {
        ..ACCURACY_M => format!("under {ACCURACY_M:.0} m"),
        _ => NauticalMiles::from_metres(metres).to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(ranges: &[f64]) -> Approaches {
        let timed: Vec<At> = ranges.iter().enumerate().map(|(t, &r)| (t as f64, r)).collect();
        Approaches::of(&timed)
    }

    #[test]
    fn a_pass_is_an_approach_that_opens_again() {
        let ways = found(&[0.0, 300.0, 600.0, 300.0, 90.0, 120.0, 400.0, 200.0, 10.0, 12.0]);
        assert_eq!(ways.passes, [(4.0, 90.0)]);
        assert_eq!((ways.last, ways.first_began), (Some((8.0, 10.0)), Some(2.0)));
        assert_eq!(ways.closest(), Some((8.0, 10.0)));
        assert_eq!(ways.missed(5.0), [(4.0, 90.0)]);
        assert_eq!(ways.missed(4.0), []);
    }

    #[test]
    fn what_only_trembles_or_goes_away_is_no_approach() {
        let ways = found(&[0.0, 20.0, 5.0, 40.0, 100.0, 80.0, 500.0, 460.0]);
        assert_eq!((ways.closest(), ways.first_began), (None, None));
    }

    #[test]
    fn a_pass_far_off_is_none() {
        assert_eq!(found(&[2000.0, 900.0, 1500.0]).missed(9.0), []);
    }
}
