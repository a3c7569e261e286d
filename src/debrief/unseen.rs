//! What own ship may have done where her track has a gap: how near the casualty and how far from it she
//! may have been, and whether she may have passed it.

use super::adrift::KNOT_M_S;
use super::scene::Scene;
use crate::navigation::TURNED;

/// Steps no further apart than this have nothing between them worth asking for, in seconds. Our own.
const GAP_S: f64 = 5.0;

/// She may have been faster than before and after it. Our own.
const FASTER: f64 = 1.25;

/// A gap in own track: ranges in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unseen {
    pub from: f64,
    pub until: f64,
    /// The least range that she may have had in it, and the greatest.
    pub least_m: f64,
    pub most_m: f64,
    /// Whether she may have come near and gone away again.
    pub hides_pass: bool,
}

impl Unseen {
    /// Between two ranges, which she covered at no more than so many metres a second.
    fn between((from, before): (f64, f64), (until, after): (f64, f64), m_s: f64) -> Self {
        let way = (m_s * (until - from)).max((before - after).abs());
        let least_m = ((before + after - way) / 2.0).max(0.0);
        let hides_pass = before.min(after) - least_m > TURNED.metres();
        Self { from, until, least_m, most_m: (before + after + way) / 2.0, hides_pass }
    }
}

/// The gaps within a time, where the ranges before and after them are known.
pub(super) fn unseen(scene: &Scene<'_>, from: f64, until: f64) -> Vec<Unseen> {
    let gaps = scene.steps(from, until).windows(2).filter(|two| two[1].t - two[0].t > GAP_S);
    let of = |two: &[super::scene::Step]| {
        let ends = [&two[0], &two[1]];
        let [before, after] = ends.map(|step| Some((step.t, scene.range_at(step.t)?)));
        let fastest = ends.into_iter().filter_map(|step| scene.speed_against(step));
        let fastest = fastest.map(|speed| speed.0).fold(0.0, f64::max) * KNOT_M_S * FASTER;
        Some(Unseen::between(before?, after?, fastest))
    };
    gaps.filter_map(of).collect()
}

/// The least range that she may have had after the casualty's place was last known: when, and how many
/// metres; each moment of it that was nearer than so many metres.
pub(super) fn lost(scene: &Scene<'_>, (from, until): (f64, f64), nearer_m: f64) -> Option<Unseen> {
    let (known, most_m) = *scene.ranges(from, until).last()?;
    let later = scene.steps(known, until).iter().filter(|step| step.t > known);
    let near = later.filter_map(|step| Some((step.t, scene.least_range(step)?)));
    let near: Vec<(f64, f64)> = near.filter(|(_, least_m)| *least_m < nearer_m).collect();
    let (first, last) = (near.first()?, near.last()?);
    let least_m = near.iter().map(|(_, least_m)| *least_m).fold(most_m, f64::min);
    Some(Unseen { from: first.0, until: last.0, least_m, most_m, hides_pass: false })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_gap_hides_is_bounded_by_what_she_can_sail() {
        let gap = |seconds: f64, after: f64| Unseen::between((0.0, 100.0), (seconds, after), 3.0);
        // Straight away from it, as fast as she goes.
        let away = gap(30.0, 190.0);
        assert_eq!((away.least_m, away.most_m, away.hides_pass), (100.0, 190.0, false));
        // Time enough to have gone past it.
        let past = gap(60.0, 100.0);
        assert_eq!((past.least_m, past.most_m, past.hides_pass), (10.0, 190.0, true));
        // No more than it takes.
        assert!(!gap(20.0, 100.0).hides_pass);
        // The positions themselves say that she was faster.
        assert_eq!(gap(1.0, 130.0).most_m, 130.0);
    }
}
