//! When own ship turned, and when her bow pointed at the casualty.

use super::scene::{Scene, Step};
use crate::units::{Degrees, Knots};

/// She has turned when her bow, or her course, is further than this from the mean of the minute
/// before, and stays there …
const TURNED_DEG: f64 = 30.0;

/// … for this long. A yaw in a seaway comes back sooner. Both are our own.
const KEEPS_S: f64 = 10.0;

/// Within this of the mean she has not begun to turn: what a boat yaws. Our own.
const YAW_DEG: f64 = 8.0;

/// The minute before, which ends a little earlier than the moment: the beginning of a turn is no
/// part of it.
const MEAN_OVER_S: f64 = 60.0;
const MEAN_ENDS_S: f64 = 8.0;

/// Seconds of it that are needed.
const LEAST_MEAN_S: f64 = 20.0;

/// A turn begun so long before the first message counts: that comes 10 to 30 s after the beacon is
/// activated (EN 303 098 V2.2.1, B.3, as reported), and the crew may have seen it.
const BEFORE_FIRST_S: f64 = 30.0;

/// The bow points at the casualty within this angle to either side, for so long. Our own.
const POINTING_DEG: f64 = 20.0;
const POINTING_S: f64 = 5.0;

/// Slower than this a course over ground is noise. Our own.
const COURSE_FROM: Knots = Knots(1.0);

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

/// How the turn was found.
pub(super) fn turn_words(compass: Compass) -> String {
    format!(
        "own {} left the mean of the minute before by more than {TURNED_DEG:.0}° and stayed away \
         for {KEEPS_S:.0} s; taken back to where it began to leave it; ±5 s",
        compass.word()
    )
}

/// How the pointing was found.
pub(super) fn pointing_words(compass: Compass) -> String {
    format!(
        "the casualty within {POINTING_DEG:.0}° of own {} for {POINTING_S:.0} s; ±10 s",
        compass.word()
    )
}

/// When own ship began to turn, from the first message at `first` to `until`.
pub(super) fn begun(scene: &Scene<'_>, compass: Compass, first: f64, until: f64) -> Option<f64> {
    let steps = scene.steps(first - BEFORE_FIRST_S - MEAN_OVER_S - MEAN_ENDS_S, until);
    let from = steps.partition_point(|step| step.t < first - BEFORE_FIRST_S);
    (from..steps.len()).find_map(|place| {
        let step = steps.get(place)?;
        let mean = mean_before(steps, place, compass)?;
        let off = |step: &Step| Some(compass.of_step(step)?.relative_to(mean).abs());
        if off(step)? <= TURNED_DEG {
            return None;
        }
        let later = steps.get(place..)?;
        let keeps = later.iter().take_while(|it| it.t - step.t <= KEEPS_S);
        if !keeps.clone().all(|it| off(it).is_none_or(|off| off > TURNED_DEG))
            || later.last()?.t - step.t < KEEPS_S
        {
            return None;
        }
        // Back to where she left the mean, and along the line of her turning to the mean itself.
        let before = steps.get(..place)?;
        let straight = before.iter().rposition(|it| off(it).is_some_and(|off| off <= YAW_DEG));
        let leaves = steps.get(straight.map_or(0, |it| it + 1))?;
        let turned = off(step)? - off(leaves)?;
        let rate = turned / (step.t - leaves.t);
        let back = if rate > 0.0 { (off(leaves)? / rate).min(YAW_DEG) } else { 0.0 };
        Some(leaves.t - back)
    })
}

/// The mean direction of the minute before a step.
fn mean_before(steps: &[Step], place: usize, compass: Compass) -> Option<Degrees> {
    let end = steps.get(place)?.t - MEAN_ENDS_S;
    let from = steps.partition_point(|step| step.t < end - MEAN_OVER_S);
    let until = steps.partition_point(|step| step.t <= end);
    let minute = steps.get(from..until.max(from))?;
    if minute.last()?.t - minute.first()?.t < LEAST_MEAN_S {
        return None;
    }
    let (mut east, mut north) = (0.0, 0.0);
    for direction in minute.iter().filter_map(|step| compass.of_step(step)) {
        let (sin, cos) = direction.value().to_radians().sin_cos();
        (east, north) = (east + sin, north + cos);
    }
    (east != 0.0 || north != 0.0).then(|| Degrees::new(f64::atan2(east, north).to_degrees()))
}

/// When her bow points at the casualty, from the turn on.
pub(super) fn pointing(scene: &Scene<'_>, compass: Compass, from: f64, until: f64) -> Option<f64> {
    let mut since: Option<f64> = None;
    for step in scene.steps(from, until) {
        let points = scene.casualty_at(step.t).zip(compass.of_step(step)).is_some_and(
            |(casualty, ahead)| {
                (casualty - step.place).bearing().relative_to(ahead).abs() <= POINTING_DEG
            },
        );
        if !points {
            since = None;
            continue;
        }
        let begun = *since.get_or_insert(step.t);
        if step.t - begun >= POINTING_S {
            return Some(begun);
        }
    }
    None
}
