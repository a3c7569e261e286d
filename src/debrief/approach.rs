//! How near own ship came, how far she went, how often she passed, and when she was at the casualty.

use super::drill::DrillEvent;
use super::scene::Scene;
use crate::navigation::{AT_CASUALTY, CLOSE, PASSES_WITHIN, Passing, RangeTurned, TURNED};
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
        Self::turned_by(ranges, TURNED)
    }

    /// The same for ranges that have turned when they are so much further on.
    pub(super) fn turned_by(ranges: &[At], by: NauticalMiles) -> Self {
        let mut found = Self::default();
        let mut passing = Passing::turned_by(by);
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
    format!(
        "within {AT_CASUALTY}, and slower than {SLOW} against the casualty's drift, for {STAYS_S:.0} s"
    )
}

/// When own ship was at the casualty, and how far that may be off, in seconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Arrival {
    pub t: f64,
    pub off: f64,
}

/// What counts as being there.
#[derive(Clone, Copy, Debug)]
struct Limits {
    slow: Knots,
    /// Metres added to those within which she is there, by how far a range may be off.
    further: fn(f64) -> f64,
}

/// The limits, and how far stricter and less strict ones tell how sure a moment is. Our own.
const USUAL: Limits = Limits { slow: SLOW, further: |_| 0.0 };
const EAGER: Limits = Limits { slow: Knots(2.6), further: |off| off };
const STRICT: Limits = Limits { slow: Knots(1.4), further: |off| -off.min(35.0) };

/// How well a moment is known at the best, and where nothing stricter tells it, in seconds. Our own.
const SHARP_S: f64 = 5.0;
const VAGUE_S: f64 = 30.0;

/// Longer gaps in own track than this are as good as none, in seconds. Our own.
const LONG_S: f64 = 1800.0;

/// When own ship was at the casualty for good, from `from` on: not the time before she left it again,
/// which she has when she is no longer close. It is as sure as stricter and less strict limits agree.
pub(super) fn arrival(scene: &Scene<'_>, from: f64, until: f64) -> Option<Arrival> {
    let t = last_arrival(scene, from, until, USUAL).or_else(|| {
        last_arrival(scene, from, until, EAGER).filter(|_| scene.rides_from.is_some())
    })?;
    let eager = last_arrival(scene, from, until, EAGER).map_or(VAGUE_S, |eager| (t - eager).abs());
    let strict =
        last_arrival(scene, from, until, STRICT).map_or(VAGUE_S, |strict| (strict - t).abs());
    // What she did where her track has a gap is not known.
    let before = scene.steps(t - LONG_S, t).windows(2).filter_map(|two| {
        let (one, other) = (two.first()?, two.last()?);
        (other.t - one.t > STAYS_S && other.t >= t - SHARP_S).then_some(t - one.t)
    });
    let before = before.fold(0.0, f64::max);
    Some(Arrival { t, off: eager.max(strict).max(before) + SHARP_S })
}

fn last_arrival(scene: &Scene<'_>, from: f64, until: f64, limits: Limits) -> Option<f64> {
    let mut arrived = at_casualty(scene, from, until, limits)?;
    loop {
        let left = scene.ranges(arrived, until).into_iter().find(|&(t, range)| {
            let off = scene.range_off(t).unwrap_or_default();
            range > CLOSE.metres() + (limits.further)(off).max(0.0)
        });
        let again = left.and_then(|(left, _)| at_casualty(scene, left, until, limits));
        // Whoever has not arrived later has not come back.
        match again.filter(|again| *again > arrived) {
            Some(again) => arrived = again,
            None => return Some(arrived),
        }
    }
}

fn at_casualty(scene: &Scene<'_>, from: f64, until: f64, limits: Limits) -> Option<f64> {
    let mut since: Option<f64> = None;
    let mut before: Option<f64> = None;
    for step in scene.steps(from, until) {
        let near = scene.range_at(step.t).is_some_and(|range| {
            let off = scene.range_off(step.t).unwrap_or_default();
            range <= AT_CASUALTY.metres() + (limits.further)(off)
        });
        let slow = scene.speed_against(step).is_some_and(|speed| speed.0 < limits.slow.0);
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

/// How far the moment of an extreme may be off: to the furthest that is as extreme within what ranges
/// may be off.
pub(super) fn moment_off(ranges: &[At], (t, range): At, off: f64) -> f64 {
    let alike = ranges.iter().filter(|(_, other)| (other - range).abs() <= off);
    alike.map(|(other, _)| (other - t).abs()).fold(0.0, f64::max) + SHARP_S
}

/// The nearest of these.
pub(super) fn nearest(ranges: impl Iterator<Item = At>) -> Option<At> {
    ranges.min_by(|one, other| one.1.total_cmp(&other.1))
}

/// The furthest of these.
pub(super) fn furthest(ranges: impl Iterator<Item = At>) -> Option<At> {
    ranges.max_by(|one, other| one.1.total_cmp(&other.1))
}

/// How near two positions are told apart, in metres: the accuracy that the numbers state. Our own.
pub(super) const ACCURACY_M: f64 = 20.0;

/// A distance in metres as a person reads it; no finer than its accuracy.
pub fn metres(metres: f64) -> String {
    match metres {
        ..ACCURACY_M => format!("under {ACCURACY_M:.0} m"),
        _ => NauticalMiles::from_metres(metres).to_string(),
    }
}

/// The same of one with a tolerance: one that may be nothing is said by what it may be at the most.
pub fn metres_within(distance_m: f64, off_m: Option<f64>) -> String {
    let said = metres_bound(distance_m, off_m);
    match off_m.filter(|off| distance_m > off.max(ACCURACY_M)) {
        Some(off) => format!("{said} (±{})", metres_off(off)),
        None => said,
    }
}

/// The same where there is no room for the tolerance.
pub fn metres_bound(distance_m: f64, off_m: Option<f64>) -> String {
    let Some(off) = off_m.filter(|off| distance_m <= off.max(ACCURACY_M)) else {
        return metres(distance_m);
    };
    let most = (distance_m + off).max(ACCURACY_M);
    format!("under {}", NauticalMiles::from_metres((most / 10.0).ceil() * 10.0))
}

/// How far the casualty was at an event; empty if not known.
pub fn range_of(event: &DrillEvent) -> String {
    let range = event.range_nm.map(|range| metres_bound(range.metres(), event.range_off_m));
    range.unwrap_or_default()
}

/// A tolerance in metres, rounded up.
pub(super) fn metres_off(off_m: f64) -> String {
    NauticalMiles::from_metres(off_m.ceil()).to_string()
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
