//! Range against time of several drills on the same scales.

use super::thin::thinned;
use crate::debrief::drill::{Casualty, Drill, RangeAt};
use crate::debrief::labels::seconds;
use crate::drawing::{Anchor, Drawing, Point, Ticks, Upwards};
use crate::time::Utc;

const SIZE: (f64, f64) = (340.0, 196.0);
const LEFT: f64 = 46.0;
const TOP: f64 = 26.0;
const BOTTOM: f64 = 150.0;

/// More is drawn after the longest recovery, as a share of it.
const BEYOND: f64 = 1.15;

/// What all drawings have in common.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scales {
    minutes: Ticks,
    miles: Ticks,
}

impl Scales {
    /// So that all have room: until the longest recovery, or where there is none as long as ranges
    /// are known.
    pub(super) fn of(drills: &[Drill]) -> Self {
        let casualties = || drills.iter().flat_map(|drill| &drill.casualties);
        let recovered = casualties().filter_map(|it| it.measures.recovery.total_s.value().copied());
        let known = casualties().filter_map(|it| {
            let begun = begun(it)?;
            it.ranges.last().map(|last| seconds(begun, last.at))
        });
        let longest = recovered.reduce(f64::max).map(|total| total * BEYOND);
        let longest = longest.or_else(|| known.reduce(f64::max)).unwrap_or(0.0);
        let reach = casualties()
            .flat_map(|it| it.ranges.iter().filter(move |range| is_within(it, range, longest)))
            .map(|it| it.range_nm.0)
            .fold(0.0, f64::max);
        Self { minutes: Ticks::up_to(longest / 60.0, 5.0), miles: Ticks::up_to(reach, 4.0) }
    }
}

fn begun(casualty: &Casualty) -> Option<Utc> {
    casualty.first_heard()
}

fn is_within(casualty: &Casualty, range: &RangeAt, longest: f64) -> bool {
    begun(casualty).is_some_and(|begun| (0.0..=longest).contains(&seconds(begun, range.at)))
}

/// Draws one.
pub(super) fn draw(casualty: &Casualty, scales: Scales, id: &str) -> String {
    let mut drawing = Drawing::new(SIZE.0, SIZE.1);
    let right = SIZE.0 - 16.0;
    let longest = scales.minutes.most() * 60.0;
    let x = |s: f64| LEFT + (s / longest).clamp(0.0, 1.0) * (right - LEFT);
    let up = Upwards { ticks: scales.miles, top: TOP, bottom: BOTTOM };
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", "range, NM");
    for (minute, label) in scales.minutes.labelled() {
        let x = x(minute * 60.0);
        drawing.line(Point::new(x, TOP), Point::new(x, BOTTOM + 4.0), "grid");
        drawing.text(Point::new(x, BOTTOM + 17.0), Anchor::Middle, "tick", &label);
    }
    let place = Point::new(f64::midpoint(LEFT, right), BOTTOM + 36.0);
    drawing.text(place, Anchor::Middle, "unit", "minutes after the first message");
    up.draw(&mut drawing, LEFT, right);
    if let Some(begun) = begun(casualty) {
        let within = casualty.ranges.iter().filter(|it| is_within(casualty, it, longest));
        let line: Vec<(f64, Point)> = within
            .map(|it| (seconds(begun, it.at), it.range_nm.0))
            .map(|(s, range)| (s, Point::new(x(s), up.y(range))))
            .collect();
        for part in line.chunk_by(|one, next| next.0 - one.0 <= 60.0) {
            let points: Vec<Point> = part.iter().map(|(_, point)| *point).collect();
            drawing.way(&thinned(&points, 0.3), "first");
        }
        draw_steps(&mut drawing, casualty, begun, &line);
    }
    let about = "How far the casualty was, on the same scales in all drawings.";
    drawing.finish(id, "small", "Range against time", about)
}

/// The turn, the arrival and the recovery on the line, each with its own shape.
fn draw_steps(drawing: &mut Drawing, casualty: &Casualty, begun: Utc, line: &[(f64, Point)]) {
    let measures = &casualty.measures;
    let steps = [
        &measures.turn.turn_begun_at,
        &measures.recovery.at_casualty_at,
        &measures.recovery.recovered_at,
    ];
    for (step, at) in steps.into_iter().enumerate() {
        let Some(s) = at.value().map(|at| seconds(begun, *at)) else { continue };
        let after = line.partition_point(|(then, _)| *then < s);
        if let Some((then, point)) = line.get(after)
            && then - s <= 60.0
        {
            draw_step(drawing, step, *point);
        }
    }
}

/// The shape of a step: a triangle, a circle, a square.
pub(super) fn draw_step(drawing: &mut Drawing, step: usize, at: Point) {
    match step {
        0 => drawing.shape(&[0.0, 120.0, 240.0].map(|it| at.towards(it, 7.0)), "step"),
        1 => drawing.circle(at, 5.0, "step"),
        _ => drawing.shape(&[45.0, 135.0, 225.0, 315.0].map(|it| at.towards(it, 6.6)), "step"),
    }
}
