//! Range against time, with what was heard below it.

use super::axis::TimeAxis;
use super::map::{draw_mark, letter, phase_class};
use super::numbers::Strip;
use super::window::{Window, stretches};
use crate::beacon;
use crate::debrief::drill::{Burst, Casualty, Drill};
use crate::drawing::{Anchor, Drawing, Layout, Point, Ticks, Upwards};
use crate::time::Utc;
use crate::units::NauticalMiles;

/// Casualties whose reception is drawn; more are named in the numbers alone.
const RECEPTIONS: usize = 4;

/// The height of the plot, of the reception of one casualty, and between them.
const PLOT: f64 = 210.0;
const HEARD: f64 = 34.0;
const BETWEEN: f64 = 12.0;

/// Messages in a burst.
const WHOLE: f64 = beacon::MESSAGES as f64;

/// Below this greatest range the axis is in metres.
const IN_METRES_NM: f64 = 0.1;

/// Draws it; `None` if no range is known and nothing was heard.
pub(super) fn draw(drill: &Drill, window: Window, layout: Layout, id: &str) -> Option<String> {
    let shown = drill.casualties.get(..drill.casualties.len().min(RECEPTIONS))?;
    let several = drill.casualties.len() > 1;
    let left = if several { 66.0 } else { 52.0 };
    let axis = TimeAxis { window, zone: drill.zone.as_ref(), left, right: layout.width() - 18.0 };
    let ranges = drill.casualties.iter().flat_map(|it| &it.ranges);
    let within = ranges.filter(|it| window.holds(it.at));
    let most = within.map(|it| it.range_nm.0).reduce(f64::max);
    if shown.is_empty() {
        return None;
    }
    let strip = Strip::of(window.events(drill), axis);
    let top = 22.0 + strip.height() + 6.0;
    // Without own position there is reception alone.
    let bottom = most.map_or(top, |_| top + PLOT);
    let foot = bottom + shown.len() as f64 * (HEARD + BETWEEN);
    let mut drawing = Drawing::new(layout.width(), foot + axis.foot());
    axis.hatch(&mut drawing, &drill.not_watched, (top, foot));
    axis.draw(&mut drawing, top, foot);
    strip.draw(&mut drawing, 20.0, bottom);
    if let Some(most) = most {
        draw_ranges(&mut drawing, drill, axis, (top, bottom), NauticalMiles(most));
    }
    for (number, casualty) in shown.iter().enumerate() {
        let top = bottom + BETWEEN + number as f64 * (HEARD + BETWEEN);
        let name = if several { format!("heard {}", letter(number)) } else { "heard".to_owned() };
        draw_heard(&mut drawing, axis, casualty, top, &name);
    }
    let about = "Above, how far the casualty was; below, how many of the eight messages of each \
                 burst were heard. Numbers are those of the events.";
    Some(drawing.finish(id, layout.class(), "Range against time", about))
}

/// The ranges, in metres where they are small, as everywhere.
fn draw_ranges(
    drawing: &mut Drawing,
    drill: &Drill,
    axis: TimeAxis<'_>,
    (top, bottom): (f64, f64),
    most: NauticalMiles,
) {
    let in_metres = most.0 < IN_METRES_NM;
    let value = |range: NauticalMiles| if in_metres { range.metres() } else { range.0 };
    let unit = if in_metres { "range, m" } else { "range, NM" };
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", unit);
    let scale = Upwards { ticks: Ticks::up_to(value(most), 5.0), top, bottom };
    scale.draw(drawing, axis.left, axis.right);
    for (number, casualty) in drill.casualties.iter().enumerate().rev() {
        let line: Vec<(Utc, Point)> = casualty
            .ranges
            .iter()
            .filter(|it| axis.window.holds(it.at))
            .map(|it| (it.at, Point::new(axis.x(it.at), scale.y(value(it.range_nm)))))
            .collect();
        // Each by its own phases: who is still in the water when another is on board has no recovery.
        for stretch in stretches(|at| casualty.phase(at), &line, 0.4) {
            drawing.way(&stretch.points, phase_class(stretch.phase));
        }
        if drill.casualties.len() > 1 {
            draw_marks(drawing, &line, number);
        }
    }
}

/// The marks of one of several casualties on its range.
fn draw_marks(drawing: &mut Drawing, line: &[(Utc, Point)], number: usize) {
    let every = line.len().div_ceil(12).max(1);
    for (_, point) in line.iter().step_by(every) {
        draw_mark(drawing, *point, number);
    }
}

/// A tick for each burst, as high as messages were heard of it; a dot where none was.
fn draw_heard(
    drawing: &mut Drawing,
    axis: TimeAxis<'_>,
    casualty: &Casualty,
    top: f64,
    name: &str,
) {
    let bottom = top + HEARD;
    let middle = Point::new(axis.left - 8.0, f64::midpoint(top, bottom) + 4.5);
    drawing.text(middle, Anchor::End, "tick", name);
    drawing.text(Point::new(axis.right + 4.0, top + 9.0), Anchor::Start, "tick", "8");
    drawing.text(Point::new(axis.right + 4.0, bottom + 4.0), Anchor::Start, "tick", "0");
    drawing.line(Point::new(axis.left, top), Point::new(axis.right, top), "grid");
    drawing.line(Point::new(axis.left, bottom), Point::new(axis.right, bottom), "axis");
    let bursts: Vec<&Burst> =
        casualty.bursts.iter().filter(|it| it.watched && axis.window.holds(it.at)).collect();
    let room = ((axis.right - axis.left) / 3.0) as usize;
    let together = bursts.len().div_ceil(room).max(1);
    for group in bursts.chunks(together) {
        let Some(first) = group.first() else { continue };
        let heard: u32 = group.iter().map(|it| it.heard).sum();
        let share = f64::from(heard) / (WHOLE * group.len() as f64);
        let x = axis.x(first.at);
        if heard == 0 {
            drawing.circle(Point::new(x, bottom - 4.0), 1.8, "unheard");
        } else {
            let head = Point::new(x, bottom - share.min(1.0) * HEARD);
            drawing.line(Point::new(x, bottom), head, "heard");
        }
    }
}
