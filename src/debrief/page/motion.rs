//! Speed and course of own ship against time.

use super::axis::TimeAxis;
use super::numbers::Strip;
use super::window::{Window, parts};
use crate::debrief::drill::{Drill, OwnPoint};
use crate::drawing::{Anchor, Drawing, Layout, Point, Ticks, Upwards};
use crate::time::Utc;

const PANEL: f64 = 110.0;

/// Slower than this the course over ground is chance.
pub(super) const STILL_KN: f64 = 0.5;

/// What is drawn of a point, if it is known.
type Value = fn(&OwnPoint) -> Option<f64>;

/// Draws it; `None` if neither is known.
pub(super) fn draw(drill: &Drill, window: Window, layout: Layout, id: &str) -> Option<String> {
    let points: Vec<&OwnPoint> = drill.own_track.iter().filter(|it| window.holds(it.at)).collect();
    let fastest = |it: &&OwnPoint| [it.sog_kn, it.water_speed_kn].into_iter().flatten();
    let most = points.iter().flat_map(fastest).map(|it| it.0).reduce(f64::max)?;
    let axis =
        TimeAxis { window, zone: drill.zone.as_ref(), left: 52.0, right: layout.width() - 18.0 };
    let strip = Strip::of(window.events(drill), axis);
    let top = 22.0 + strip.height() + 6.0;
    let middle = top + PANEL;
    let second = middle + 48.0;
    let foot = second + PANEL;
    let mut drawing = Drawing::new(layout.width(), foot + axis.foot());
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", "speed, kn");
    drawing.text(Point::new(0.0, middle + 28.0), Anchor::Start, "unit", "course, °");
    axis.hatch(&mut drawing, &drill.not_watched, (top, foot));
    axis.draw(&mut drawing, top, foot);
    let speeds = Upwards { ticks: Ticks::up_to(most, 4.0), top, bottom: middle };
    speeds.draw(&mut drawing, axis.left, axis.right);
    draw_compass(&mut drawing, axis, second, foot);
    strip.draw(&mut drawing, 20.0, foot);
    let lines: [(Value, &str); 2] = [
        (|it| it.sog_kn.map(|speed| speed.0), "first"),
        (|it| it.water_speed_kn.map(|speed| speed.0), "second"),
    ];
    for (value, class) in lines {
        let line = line(&points, axis, value, |speed| speeds.y(speed));
        for part in parts(&line, 0.4) {
            drawing.way(&part, class);
        }
    }
    let lines: [(Value, &str); 2] =
        [(course, "first"), (|it| it.heading_deg.map(|it| it.value()), "second")];
    for (value, class) in lines {
        let line = line(&points, axis, value, |degrees| foot - degrees / 360.0 * PANEL);
        // Through north the line would run across the whole panel.
        for piece in line.chunk_by(|one, next| (one.1.y - next.1.y).abs() < PANEL / 2.0) {
            for part in parts(piece, 0.4) {
                drawing.way(&part, class);
            }
        }
    }
    let about = "Above, own ship's speed; below, its course. Numbers are those of the events.";
    Some(drawing.finish(id, layout.class(), "Speed and course against time", about))
}

fn course(point: &OwnPoint) -> Option<f64> {
    let moves = point.sog_kn.is_none_or(|speed| speed.0 >= STILL_KN);
    point.cog_deg.filter(|_| moves).map(|course| course.value())
}

fn line(
    points: &[&OwnPoint],
    axis: TimeAxis<'_>,
    value: Value,
    y: impl Fn(f64) -> f64,
) -> Vec<(Utc, Point)> {
    let known = points.iter().filter_map(|it| value(it).map(|value| (it.at, value)));
    known.map(|(at, value)| (at, Point::new(axis.x(at), y(value)))).collect()
}

fn draw_compass(drawing: &mut Drawing, axis: TimeAxis<'_>, top: f64, bottom: f64) {
    for (degrees, label) in
        [(0.0, "000 N"), (90.0, "090 E"), (180.0, "180 S"), (270.0, "270 W"), (360.0, "000 N")]
    {
        let y = bottom - degrees / 360.0 * (bottom - top);
        let class = if degrees == 0.0 { "axis" } else { "grid" };
        drawing.line(Point::new(axis.left, y), Point::new(axis.right, y), class);
        drawing.text(Point::new(axis.left - 6.0, y + 4.5), Anchor::End, "tick", label);
    }
}
