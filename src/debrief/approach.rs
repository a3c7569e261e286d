//! How near own ship came, how far she went, how often she passed, and when she was at the casualty.

use super::scene::Scene;
use crate::units::Knots;

/// She comes nearer, or goes away, when the range has changed by more than this, in metres: several
/// times what positions are off. Our own.
const CHANGE_M: f64 = 50.0;

/// A pass further off than this is none, in metres (0.2 NM). Our own.
const PASS_M: f64 = 370.4;

/// At the casualty: within this, slower than that, for so long. Our own.
const CLOSE_M: f64 = 50.0;
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
        let mut furthest: Option<At> = None;
        for &(t, range) in ranges {
            if let Some(nearest) = found.last {
                if range < nearest.1 {
                    found.last = Some((t, range));
                } else if range > nearest.1 + CHANGE_M {
                    found.passes.push(nearest);
                    found.last = None;
                    furthest = Some((t, range));
                }
            } else if furthest.is_none_or(|(_, most)| range > most) {
                furthest = Some((t, range));
            } else if let Some((begun, most)) = furthest
                && range < most - CHANGE_M
            {
                found.last = Some((t, range));
                found.first_began = found.first_began.or(Some(begun));
            }
        }
        found
    }

    /// Those near enough to count, that ended before she was there.
    pub(super) fn missed(&self, until: f64) -> Vec<At> {
        let near = |&&(t, range): &&At| range <= PASS_M && t < until;
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
        "times the range fell below 0.2 NM and then opened by more than {CHANGE_M:.0} m before own \
         ship was at the casualty"
    )
}

/// What being there means.
pub(super) fn there_words() -> String {
    format!("within {CLOSE_M:.0} m and slower than {SLOW} for {STAYS_S:.0} s; ±15 s")
}

/// When own ship was at the casualty, from `from` on.
pub(super) fn at_casualty(scene: &Scene<'_>, from: f64, until: f64) -> Option<f64> {
    let mut since: Option<f64> = None;
    let mut before: Option<f64> = None;
    for step in scene.steps(from, until) {
        let near = scene.range_at(step.t).is_some_and(|range| range <= CLOSE_M);
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
