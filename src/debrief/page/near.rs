//! The last 200 m: own ship's way as seen from the casualty, so that no drift blurs it and what came
//! after the recovery does not set the scale.

use super::map::{Chart, draw_arrows, draw_furniture, draw_mark, phase_class};
use super::window::{Window, stretches};
use crate::debrief::drill::{Casualty, Drill, DrillEvent, Phase, RangeAt};
use crate::debrief::labels::seconds;
use crate::drawing::{Drawing, Labels, Layout, Point, draw_numbers, grouped};
use crate::navigation::Position;
use crate::time::Utc;

/// What is nearer than this is drawn, in metres, with rings so far apart. Our own.
pub(super) const NEAR_M: f64 = 200.0;
pub(super) const RING_M: f64 = 50.0;

/// Where positions may be further off than this, in metres, nothing is drawn. Our own.
const GOOD_M: f64 = 40.0;

/// An event has the place of the boat that is known no further off in time than this, in seconds. Our
/// own.
const SAME_S: f64 = 3.0;

/// When the boat was near a casualty at last, and how well it is known where, in metres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Near {
    pub window: Window,
    pub off_m: f64,
}

impl Near {
    /// From when the boat was nearer than 200 m for good until the recovery; `None` if it never was.
    pub(super) fn of(casualty: &Casualty) -> Option<Self> {
        let (approach, recovery) = (&casualty.measures.approach, &casualty.measures.recovery);
        let there = recovery.at_casualty_at.value().or(approach.closest_approach_at.value())?;
        let off_m = approach.closest_approach_m.tolerance()?;
        let (before, after) =
            casualty.ranges.split_at(casualty.ranges.partition_point(|it| it.at <= *there));
        let is_near = |it: &&RangeAt| it.range_nm.metres() < NEAR_M;
        let from = before.iter().rev().take_while(is_near).last()?.at;
        let last = after.iter().take_while(is_near).last().map_or(*there, |it| it.at);
        let until = recovery.recovered_at.value().map_or(last, |at| last.min(*at)).max(from);
        Some(Self { window: Window { from, until }, off_m })
    }

    /// Whether it is known well enough for a chart.
    pub(super) fn is_good(self) -> bool {
        self.off_m <= GOOD_M
    }

    /// The phases that are drawn.
    pub(super) fn holds(self, casualty: &Casualty, phase: Phase) -> bool {
        let before = ranges(casualty, self.window).filter(|it| it.at < self.window.until);
        before.map(|it| casualty.phase(it.at)).any(|it| it == phase)
    }
}

fn ranges(casualty: &Casualty, window: Window) -> impl Iterator<Item = &RangeAt> {
    casualty.ranges.iter().filter(move |it| window.holds(it.at))
}

/// Draws it, and tells the numbers that found no room.
pub(super) fn draw(
    drill: &Drill,
    (number, casualty): (usize, &Casualty),
    near: Near,
    layout: Layout,
    id: &str,
) -> Option<(String, Vec<usize>)> {
    // The casualty lies still on this chart, at any place: what counts is the boat's beside it.
    let middle = casualty.track.first()?.position;
    let places: Vec<(Utc, Position)> =
        ranges(casualty, near.window).map(|it| (it.at, it.beside.from(middle))).collect();
    let all: Vec<Position> =
        std::iter::once(middle).chain(places.iter().map(|(_, place)| *place)).collect();
    let chart = Chart::of(&all, layout)?;
    let way: Vec<(Utc, Point)> =
        places.into_iter().map(|(at, place)| (at, chart.point(place))).collect();
    let mut drawing = Drawing::new(chart.width, chart.height + layout.of(62.0, 112.0));
    drawing.rect(Point::default(), (chart.width, chart.height), "sea");
    let casualty_point = chart.point(middle);
    let around =
        |radius: f64| (0..=180).map(move |it| casualty_point.towards(f64::from(it) * 2.0, radius));
    let within =
        |it: &Point| (0.0..=chart.width).contains(&it.x) && (0.0..=chart.height).contains(&it.y);
    let disc: Vec<Point> = around(near.off_m * chart.scale)
        .map(|it| Point::new(it.x.clamp(0.0, chart.width), it.y.clamp(0.0, chart.height)))
        .collect();
    drawing.shape(&disc, "unsure");
    for ring in 1..=(NEAR_M / RING_M) as usize {
        let ring: Vec<Point> = around(ring as f64 * RING_M * chart.scale).collect();
        for part in
            ring.chunk_by(|one, next| within(one) == within(next)).filter(|it| within(&it[0]))
        {
            drawing.way(part, "axis");
        }
    }
    for stretch in stretches(|at| casualty.phase(at), &way, 0.5) {
        let class = phase_class(stretch.phase);
        drawing.way(&stretch.points, class);
        if stretch.phase != Phase::AtCasualty {
            draw_arrows(&mut drawing, &stretch.points, class);
        }
    }
    draw_mark(&mut drawing, casualty_point, number);
    let area = (Point::default(), Point::new(chart.width, chart.height));
    let mut drawn: Vec<Point> = way.iter().map(|(_, point)| *point).collect();
    drawn.push(casualty_point);
    let mut labels = Labels::within(area, drawn);
    let is_of = |event: &&DrillEvent| event.mmsi == casualty.mmsi || event.mmsi.is_none();
    let events = near.window.events(drill).filter(is_of).filter_map(|event| {
        let off = |at: Utc| seconds(at, event.at).abs();
        let (at, point) =
            way.iter().min_by(|(one, _), (other, _)| off(*one).total_cmp(&off(*other)))?;
        (off(*at) <= SAME_S).then_some((*point, event.number))
    });
    let left_out = draw_numbers(&mut drawing, &mut labels, &grouped(events));
    draw_furniture(&mut drawing, (drill, Some(casualty)), &chart, layout);
    let about = "Own ship's way as seen from the casualty, who is in the middle of the rings; north is up. \
                 Numbers are those of the events.";
    Some((drawing.finish(id, layout.class(), "The last 200 m", about), left_out))
}
