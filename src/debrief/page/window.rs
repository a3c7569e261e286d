//! The time that is drawn, and the parts of a drill within it.

use super::thin::thinned;
use crate::debrief::drill::{Casualty, Drill, DrillEvent, Phase};
use crate::debrief::labels::{moved, seconds};
use crate::drawing::Point;
use crate::time::Utc;

/// Drawn before the first message, after the recovery, and after the last message.
const BEFORE_MS: i64 = 3 * 60_000;
const RECOVERED_MS: i64 = 5 * 60_000;
const AFTER_MS: i64 = 2 * 60_000;

/// At least so much is drawn.
const LEAST_MS: i64 = 2 * 60_000;

/// Points further apart in time than this have a gap between them, in seconds; where the points of a
/// long recording are few, four times their usual distance.
const GAP_S: f64 = 60.0;

/// From when to when something is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Window {
    pub from: Utc,
    pub until: Utc,
}

impl Window {
    /// Around all that happened to the casualties; `None` without any.
    pub(super) fn of(drill: &Drill) -> Option<Self> {
        let first = drill.casualties.iter().filter_map(begun).min()?;
        let end = drill.casualties.iter().filter_map(ended).max()?;
        let from = moved(first, -BEFORE_MS);
        let from = drill.begun.map_or(from, |begun| begun.max(from).min(first));
        let until = drill.ended.map_or(end, |ended| ended.min(end)).max(moved(from, LEAST_MS));
        Some(Self { from, until })
    }

    pub(super) fn holds(self, at: Utc) -> bool {
        (self.from..=self.until).contains(&at)
    }

    pub(super) fn seconds(self) -> f64 {
        seconds(self.from, self.until)
    }

    /// The numbered events that lie in it.
    pub(super) fn events(self, drill: &Drill) -> impl Iterator<Item = &DrillEvent> {
        drill.events.iter().filter(move |event| self.holds(event.at))
    }
}

fn begun(casualty: &Casualty) -> Option<Utc> {
    let heard = casualty.first_heard();
    let known = casualty.measures.alarm.activated_at.value().copied();
    heard.into_iter().chain(known).min()
}

fn ended(casualty: &Casualty) -> Option<Utc> {
    let recovered = casualty.measures.recovery.recovered_at.value();
    let last = || {
        let heard = casualty.receptions.last().map(|last| last.at);
        let called = casualty.calls.last().map(|last| last.at);
        // What follows a single burst or call is of interest all the same.
        let ranged = casualty.ranges.last().map(|it| it.at);
        heard.into_iter().chain(called).chain(ranged).max().map(|last| moved(last, AFTER_MS))
    };
    let alarm = || casualty.measures.alarm.alarm_at.value().map(|at| moved(*at, AFTER_MS));
    recovered.map(|at| moved(*at, RECOVERED_MS)).or_else(last).or_else(alarm)
}

/// A line in one phase of the drill.
pub(super) struct Stretch {
    pub phase: Phase,
    pub points: Vec<Point>,
}

/// Cuts a line where the phase changes, and where it has a gap; each part is thinned. A new phase
/// begins where the last one ended.
pub(super) fn stretches(
    phase: impl Fn(Utc) -> Phase,
    line: &[(Utc, Point)],
    tolerance: f64,
) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    let gap = gap_s(line.iter().map(|(at, _)| *at));
    let mut before: Option<(Utc, Point)> = None;
    for &(at, point) in line {
        let phase = phase(at);
        let joined = before.filter(|(then, _)| seconds(*then, at) <= gap);
        match (joined, found.last_mut()) {
            (Some(_), Some(stretch)) if stretch.phase == phase => stretch.points.push(point),
            (Some((_, last)), _) => found.push(Stretch { phase, points: vec![last, point] }),
            (None, _) => found.push(Stretch { phase, points: vec![point] }),
        }
        before = Some((at, point));
    }
    for stretch in &mut found {
        stretch.points = thinned(&stretch.points, tolerance);
    }
    found
}

/// The same of a line that has no phases.
pub(super) fn parts(line: &[(Utc, Point)], tolerance: f64) -> Vec<Vec<Point>> {
    let gap = gap_s(line.iter().map(|(at, _)| *at));
    line.chunk_by(|(then, _), (at, _)| seconds(*then, *at) <= gap)
        .map(|part| thinned(&part.iter().map(|(_, point)| *point).collect::<Vec<_>>(), tolerance))
        .collect()
}

fn gap_s(times: impl Iterator<Item = Utc> + Clone) -> f64 {
    let mut steps: Vec<f64> =
        times.clone().zip(times.skip(1)).map(|(then, at)| seconds(then, at)).collect();
    let middle = steps.len() / 2;
    if steps.is_empty() {
        return GAP_S;
    }
    let (_, usual, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    GAP_S.max(*usual * 4.0)
}
