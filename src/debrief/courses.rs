//! The courses that own ship held, one after the other, and when each was left for good.

use super::scene::{Scene, Step};
use crate::units::{Degrees, Knots};

/// She has left a course when her bow is further than this from it … Our own.
pub(super) const TURNED_DEG: f64 = 30.0;

/// … and holds another one before she is back on it, for so long: what swings back sooner is a yaw, or
/// the first half of a turn that goes both ways. Both are our own.
const HELD_S: f64 = 15.0;

/// Who turns further than this one way does not swing back: she goes around. In degrees, our own.
const HALF_ROUND_DEG: f64 = 180.0;

/// A course is held where the means of the thirds of that time are no further apart than this: a yaw
/// in a seaway is even, a turn is not. Our own.
const EVEN_DEG: f64 = 12.0;

/// Within this of the mean she has not begun to turn: what a boat yaws. Our own.
const YAW_DEG: f64 = 8.0;

/// The mean is that of the minute before, which ends a little earlier than the moment: the beginning
/// of a turn is no part of it. Our own.
const MEAN_OVER_S: f64 = 60.0;
const MEAN_ENDS_S: f64 = 8.0;

/// Slower than this a course over ground is noise. Our own.
const COURSE_FROM: Knots = Knots(1.0);

/// Steps further apart than this have nothing between them. Our own.
const GAP_S: f64 = 5.0;

/// What tells where she points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Compass {
    Heading,
    Course,
}

impl Compass {
    /// The heading, if it is there for at least half of the time; else the course over ground.
    pub(super) fn of(steps: &[Step]) -> Self {
        let headings = steps.iter().filter(|step| step.heading.is_some()).count();
        if headings * 2 >= steps.len().max(1) { Self::Heading } else { Self::Course }
    }

    /// What it is called.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Heading => "heading",
            Self::Course => "course over ground, for want of a heading",
        }
    }

    pub(super) fn of_step(self, step: &Step) -> Option<Degrees> {
        match self {
            Self::Heading => step.heading,
            Self::Course => step.cog.filter(|_| step.sog.is_none_or(|sog| sog.0 >= COURSE_FROM.0)),
        }
    }
}

/// A course that was held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leg {
    pub from: f64,
    /// When it was left for good; where the track ends or has a gap, when that was.
    pub until: f64,
    /// Whether she was seen to leave it.
    pub is_left: bool,
    /// The mean when it was left.
    pub course: Degrees,
}

/// A direction at a moment.
type Ahead = (f64, Degrees);

/// The courses held within a time, in their order, and the directions they were found in.
pub(super) fn held(scene: &Scene<'_>, compass: Compass, from: f64, until: f64) -> Vec<Leg> {
    let steps = scene.steps(from, until).iter();
    let points: Vec<Ahead> =
        steps.filter_map(|step| Some((step.t, compass.of_step(step)?))).collect();
    let mut legs = Vec::new();
    let mut next = steady_from(&points, 0);
    while let Some(start) = next {
        let (leg, after) = followed(&points, start);
        legs.push(leg);
        next = after.filter(|after| *after > start);
    }
    legs
}

/// How far she turned within a time, clockwise, by the shorter way from each step to the next.
pub(super) fn swept(scene: &Scene<'_>, compass: Compass, from: f64, until: f64) -> f64 {
    let steps = scene.steps(from, until).iter();
    turned(&steps.filter_map(|step| Some((step.t, compass.of_step(step)?))).collect::<Vec<Ahead>>())
}

/// The same of directions.
fn turned(points: &[Ahead]) -> f64 {
    points.windows(2).map(|two| two[1].1.relative_to(two[0].1)).sum()
}

/// The course that is held from a place on, and the place where the next one is.
fn followed(points: &[Ahead], start: usize) -> (Leg, Option<usize>) {
    let from = points[start].0;
    let mut at = start;
    let mut course = points[start].1;
    while let Some(&(t, ahead)) = points.get(at) {
        let before = points[at.saturating_sub(1)].0;
        if t - before > GAP_S && at > start {
            let leg = Leg { from, until: before, is_left: false, course };
            return (leg, steady_from(points, at));
        }
        course = mean(&points[start..at], t).unwrap_or(course);
        if ahead.relative_to(course).abs() <= TURNED_DEG {
            at += 1;
            continue;
        }
        let again = steady_from(points, at);
        // Who comes back to her course all the way around has turned.
        let is_back = |&there: &usize| {
            turned(&points[at..=there]).abs() <= HALF_ROUND_DEG
                && points[there].1.relative_to(course).abs() <= TURNED_DEG
                && steady(points, there)
                    .is_some_and(|mean| mean.relative_to(course).abs() <= TURNED_DEG)
        };
        match again.filter(is_back) {
            Some(there) => at = there,
            None => {
                let until = left(&points[start..=at], course);
                return (Leg { from, until, is_left: true, course }, again);
            }
        }
    }
    let until = points.last().map_or(from, |last| last.0);
    (Leg { from, until, is_left: false, course }, None)
}

/// The first place at or after this one from which a course is held.
fn steady_from(points: &[Ahead], place: usize) -> Option<usize> {
    (place..points.len()).find(|&place| steady(points, place).is_some())
}

/// The mean of the course that is held from a place on, if one is.
fn steady(points: &[Ahead], place: usize) -> Option<Degrees> {
    let &(from, first) = points.get(place)?;
    let rest = points.get(place..)?;
    let window = &rest[..rest.partition_point(|(t, _)| *t <= from + HELD_S)];
    if window.last()?.0 - from < HELD_S - GAP_S {
        return None;
    }
    let mut thirds = [(0.0, 0.0); 3];
    for &(t, ahead) in window {
        let third = &mut thirds[((t - from) / HELD_S * 3.0).min(2.0) as usize];
        *third = (third.0 + ahead.relative_to(first), third.1 + 1.0);
    }
    let means = thirds.map(|(sum, count)| sum / count);
    let (least, most) = (
        means.into_iter().fold(f64::INFINITY, f64::min),
        means.into_iter().fold(f64::NEG_INFINITY, f64::max),
    );
    let mean = Degrees::new(first.value() + means.iter().sum::<f64>() / 3.0);
    let is_near = |(_, ahead): &Ahead| ahead.relative_to(mean).abs() <= TURNED_DEG;
    // A third without any has no mean, and no comparison with that holds.
    (most - least <= EVEN_DEG && thirds.iter().all(|it| it.1 > 0.0) && window.iter().all(is_near))
        .then_some(mean)
}

/// The mean direction of the minute before a moment, of these; of all of them where they are few.
fn mean(points: &[Ahead], t: f64) -> Option<Degrees> {
    let begin = points.partition_point(|(at, _)| *at < t - MEAN_ENDS_S - MEAN_OVER_S);
    let end = points.partition_point(|(at, _)| *at <= t - MEAN_ENDS_S).max(points.len().min(8));
    let (mut east, mut north) = (0.0, 0.0);
    for (_, direction) in points.get(begin..end)? {
        let (sin, cos) = direction.value().to_radians().sin_cos();
        (east, north) = (east + sin, north + cos);
    }
    (east != 0.0 || north != 0.0).then(|| Degrees::new(f64::atan2(east, north).to_degrees()))
}

/// When a course was left that is left by the last of these: back to where she was on it, and along
/// the line of her turning to the mean itself.
fn left(points: &[Ahead], course: Degrees) -> f64 {
    let off = |(_, ahead): &Ahead| ahead.relative_to(course).abs();
    let on = points.iter().rposition(|it| off(it) <= YAW_DEG);
    let (Some(leaves), Some(last)) = (points.get(on.map_or(0, |it| it + 1)), points.last()) else {
        return f64::NAN;
    };
    let rate = (off(last) - off(leaves)) / (last.0 - leaves.0);
    let back = if rate > 0.0 { (off(leaves) / rate).min(YAW_DEG) } else { 0.0 };
    let not_before =
        on.and_then(|on| points.get(on)).map_or(f64::NEG_INFINITY, |it| it.0 - YAW_DEG);
    (leaves.0 - back).max(not_before)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Courses held and turns between them: where to, at how many degrees a second, and how long the
    /// course is held then.
    fn sailed(first: f64, turns: &[(f64, f64, usize)], yaw: f64) -> Vec<Ahead> {
        let (mut ahead, mut points) = (first, Vec::new());
        let mut push = |ahead: f64| {
            let t = points.len() as f64;
            points.push((t, Degrees::new(ahead + yaw * (t * std::f64::consts::TAU / 7.0).sin())));
        };
        (0..100).for_each(|_| push(ahead));
        for &(by, rate, held) in turns {
            let goal = ahead + by;
            while (goal - ahead).abs() > rate {
                ahead += rate.copysign(by);
                push(ahead);
            }
            ahead = goal;
            (0..held).for_each(|_| push(ahead));
        }
        points
    }

    fn legs(points: &[Ahead]) -> Vec<(f64, f64)> {
        let mut found = Vec::new();
        let mut next = steady_from(points, 0);
        while let Some(start) = next {
            let (leg, after) = followed(points, start);
            found.push((leg.until, leg.course.value().round()));
            next = after;
        }
        found
    }

    #[test]
    fn a_turn_that_goes_both_ways_is_left_where_it_first_left() {
        for rate in [5.0, 7.0, 9.0, 11.0] {
            for yaw in [0.0, 4.0, 8.0] {
                let points = sailed(40.0, &[(60.0, rate, 0), (-240.0, rate, 60)], yaw);
                let found = legs(&points);
                assert_eq!(found.len(), 2, "{rate} {yaw} {found:?}");
                assert!((found[0].0 - 100.0).abs() <= 4.0, "{rate} {yaw}: {found:?}");
            }
        }
    }

    #[test]
    fn a_tack_is_a_course_left_and_another_held() {
        for rate in [2.0, 5.0, 10.0] {
            let found = legs(&sailed(40.0, &[(-90.0, rate, 40), (180.0, rate, 60)], 5.0));
            assert_eq!(found.len(), 3, "{found:?}");
            assert!((found[0].0 - 100.0).abs() <= 4.0, "{found:?}");
            assert!((found[1].0 - 140.0 - 90.0 / rate).abs() <= 4.0, "{found:?}");
        }
    }

    #[test]
    fn a_circle_back_to_the_same_course_is_a_turn() {
        for rate in [5.0, 10.0] {
            let found = legs(&sailed(40.0, &[(-350.0, rate, 60)], 4.0));
            assert_eq!(found.len(), 2, "{rate} {found:?}");
            assert!((found[0].0 - 100.0).abs() <= 4.0, "{rate}: {found:?}");
        }
    }

    #[test]
    fn what_swings_back_is_no_turn() {
        let found = legs(&sailed(40.0, &[(45.0, 6.0, 4), (-45.0, 6.0, 60)], 6.0));
        assert_eq!(found.len(), 1, "{found:?}");
    }
}
