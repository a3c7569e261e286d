//! The chart of the drill: where ship and casualties were.

use super::text::degrees;
use super::thin::thinned;
use super::window::{Window, stretches};
use crate::debrief::drill::{Casualty, Drill, Phase};
use crate::debrief::labels::moved;
use crate::drawing::{
    Anchor, Drawing, Labels, Layout, Point, draw_numbers, grouped, scale_bar, width_of,
};
use crate::navigation::{Offset, Position};
use crate::time::Utc;

/// The least that is drawn, in metres from side to side.
const LEAST_M: f64 = 120.0;

/// Free room around what is drawn, in units of the drawing.
const PADDING: f64 = 34.0;

/// Marks of positions on a casualty's track at the most.
const MARKS: usize = 60;

/// Between two arrow heads on own track.
const ARROWS: f64 = 110.0;

/// The chart, and what is to be said of it.
pub(super) struct Map {
    pub svg: String,
    /// Its middle.
    pub middle: Position,
    /// Numbers that found no room.
    pub left_out: Vec<usize>,
}

/// Places on the drawing.
pub(super) struct Chart {
    middle: Position,
    /// Units of the drawing to a metre.
    pub scale: f64,
    pub width: f64,
    pub height: f64,
}

impl Chart {
    /// So that all of these have room; `None` without any.
    pub(super) fn of(places: &[Position], layout: Layout) -> Option<Self> {
        let origin = *places.first()?;
        let offsets = places.iter().map(|place| Offset::between(origin, *place));
        let (mut low, mut high) = ((0.0_f64, 0.0_f64), (0.0_f64, 0.0_f64));
        for Offset { east_m, north_m } in offsets {
            low = (low.0.min(east_m), low.1.min(north_m));
            high = (high.0.max(east_m), high.1.max(north_m));
        }
        let half = |low: f64, high: f64| f64::midpoint(low, high);
        let middle = Offset { east_m: half(low.0, high.0), north_m: half(low.1, high.1) };
        let across = (high.0 - low.0).max(LEAST_M);
        let up = (high.1 - low.1).max(LEAST_M);
        let width = layout.width();
        let (least, most) = layout.of((320.0, 560.0), (280.0, 440.0));
        let inner = width - 2.0 * PADDING;
        let height = (inner * up / across + 2.0 * PADDING).clamp(least, most);
        let scale = (inner / across).min((height - 2.0 * PADDING) / up);
        Some(Self { middle: middle.from(origin), scale, width, height })
    }

    pub(super) fn point(&self, place: Position) -> Point {
        let Offset { east_m, north_m } = Offset::between(self.middle, place);
        Point::new(self.width / 2.0 + east_m * self.scale, self.height / 2.0 - north_m * self.scale)
    }
}

/// Draws it; `None` if no place is known in this time.
pub(super) fn draw(drill: &Drill, window: Window, layout: Layout, id: &str) -> Option<Map> {
    let own: Vec<(Utc, Position)> = drill
        .own_track
        .iter()
        .filter(|it| window.holds(it.at))
        .map(|it| (it.at, it.position))
        .collect();
    let tracks: Vec<Vec<(Utc, Position)>> =
        drill.casualties.iter().map(|casualty| in_water(casualty, window)).collect();
    let places: Vec<Position> =
        own.iter().chain(tracks.iter().flatten()).map(|(_, place)| *place).collect();
    let chart = Chart::of(&places, layout)?;
    let line = |track: &[(Utc, Position)]| -> Vec<(Utc, Point)> {
        track.iter().map(|(at, place)| (*at, chart.point(*place))).collect()
    };
    let (own, tracks): (_, Vec<_>) = (line(&own), tracks.iter().map(|it| line(it)).collect());
    let mut drawing = Drawing::new(chart.width, chart.height + layout.of(62.0, 112.0));
    drawing.rect(Point::default(), (chart.width, chart.height), "sea");
    let mut drawn: Vec<Point> = Vec::new();
    for (number, track) in tracks.iter().enumerate() {
        draw_casualty(&mut drawing, track, number);
        drawn.extend(track.iter().map(|(_, point)| *point));
    }
    for stretch in stretches(|at| drill.phase(at), &own, 0.9) {
        drawing.way(&stretch.points, phase_class(stretch.phase));
        if stretch.phase != Phase::AtCasualty {
            draw_arrows(&mut drawing, &stretch.points, phase_class(stretch.phase));
        }
    }
    drawn.extend(spread(&own));
    let area = (Point::default(), Point::new(chart.width, chart.height));
    let mut labels = Labels::within(area, drawn);
    let events = window.events(drill);
    let events = events.filter_map(|it| Some((chart.point(it.own?), it.number)));
    let left_out = draw_numbers(&mut drawing, &mut labels, &grouped(events));
    if drill.casualties.len() > 1 {
        draw_letters(&mut drawing, &mut labels, &tracks);
    }
    draw_furniture(&mut drawing, (drill, drill.first_casualty()), &chart, layout);
    let about = "Own track, the casualties' tracks and the numbered events; north is up. \
                 The events stand in the list, with their times.";
    let svg = drawing.finish(id, layout.class(), "The chart of the drill", about);
    Some(Map { svg, middle: chart.middle, left_out })
}

/// Its track until it is out of the water: from there on it is own ship's.
fn in_water(casualty: &Casualty, window: Window) -> Vec<(Utc, Position)> {
    let until = casualty.measures.recovery.recovered_at.value();
    let fixes = casualty.track.iter().filter(|fix| {
        window.holds(fix.at) && until.is_none_or(|until| fix.at <= moved(*until, 30_000))
    });
    fixes.map(|fix| (fix.at, fix.position)).collect()
}

pub(super) const fn phase_class(phase: Phase) -> &'static str {
    match phase {
        Phase::Before => "before",
        Phase::GoingOn => "going-on",
        Phase::Returning => "returning",
        Phase::AtCasualty => "there",
        Phase::After => "after",
    }
}

/// The letter of a casualty, where there are several.
pub(super) fn letter(number: usize) -> String {
    u8::try_from(number)
        .ok()
        .filter(|number| *number < 26)
        .map_or_else(|| format!("{}", number + 1), |number| char::from(b'A' + number).to_string())
}

fn draw_casualty(drawing: &mut Drawing, track: &[(Utc, Point)], number: usize) {
    // Its places are a minute and more apart: the line between has no gaps.
    let line: Vec<Point> = track.iter().map(|(_, point)| *point).collect();
    drawing.way(&thinned(&line, 0.4), "casualty");
    let every = track.len().div_ceil(MARKS).max(1);
    for (_, point) in track.iter().step_by(every) {
        draw_mark(drawing, *point, number);
    }
}

/// The mark of a casualty's place: another shape for each of the first four.
pub(super) fn draw_mark(drawing: &mut Drawing, at: Point, number: usize) {
    let around = |degrees: f64| at.towards(degrees, 4.6);
    match number % 4 {
        shape @ (0 | 1) => {
            let turn = if shape == 0 { 45.0 } else { 0.0 };
            drawing.line(around(turn), around(turn + 180.0), "mark");
            drawing.line(around(turn + 90.0), around(turn + 270.0), "mark");
        }
        2 => drawing.shape(&[0.0, 90.0, 180.0, 270.0].map(around), "mark"),
        _ => drawing.shape(&[45.0, 135.0, 225.0, 315.0].map(around), "mark"),
    }
}

/// The line and the mark of a casualty, for a legend.
pub(super) fn swatch(number: usize) -> String {
    let mut drawing = Drawing::new(44.0, 12.0);
    drawing.line(Point::new(2.0, 6.0), Point::new(42.0, 6.0), "line casualty");
    draw_mark(&mut drawing, Point::new(22.0, 6.0), number);
    drawing.swatch()
}

/// Arrow heads along a line, where it leads.
pub(super) fn draw_arrows(drawing: &mut Drawing, points: &[Point], class: &str) {
    let mut left = ARROWS / 2.0;
    for two in points.windows(2) {
        let (from, to) = (two[0], two[1]);
        let length = from.apart(to);
        let mut done = 0.0;
        while length - done >= left {
            done += left;
            left = ARROWS;
            let share = done / length;
            let at = Point::new(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share);
            let course = (to.x - from.x).atan2(from.y - to.y).to_degrees();
            let corners = [(0.0, 6.5), (140.0, 6.0), (220.0, 6.0)]
                .map(|(turn, reach)| at.towards(course + turn, reach));
            drawing.shape(&corners, &format!("head {class}"));
        }
        left -= length - done;
    }
}

/// Points of a track that are a little apart: what a label may hide of it.
fn spread(track: &[(Utc, Point)]) -> Vec<Point> {
    let mut spread: Vec<Point> = Vec::new();
    for (_, point) in track {
        if spread.last().is_none_or(|last| last.apart(*point) >= 4.0) {
            spread.push(*point);
        }
    }
    spread
}

fn draw_letters(drawing: &mut Drawing, labels: &mut Labels, tracks: &[Vec<(Utc, Point)>]) {
    for (number, track) in tracks.iter().enumerate() {
        let text = letter(number);
        let Some((_, point)) = track.first() else { continue };
        if let Some(middle) = labels.place(*point, (width_of(&text) + 4.0, 17.0)) {
            let foot = Point::new(middle.x, middle.y + 4.5);
            drawing.text(foot, Anchor::Middle, "letter", &text);
        }
    }
}

/// Scale, north, wind and set, below the chart.
pub(super) fn draw_furniture(
    drawing: &mut Drawing,
    (drill, casualty): (&Drill, Option<&Casualty>),
    chart: &Chart,
    layout: Layout,
) {
    let top = chart.height + 12.0;
    scale_bar(drawing, Point::new(2.0, top + 8.0), chart.scale, layout);
    let north = Point::new(layout.of(214.0, 214.0), top + 14.0);
    draw_arrow(drawing, north, 0.0, "arrow");
    drawing.text(Point::new(north.x + 18.0, north.y + 4.5), Anchor::Start, "tick", "N");
    let wind = match drill.wind.value() {
        Some(wind) => {
            let from = wind.from_deg.value();
            let words = format!("wind from {}, {:.0} kn", degrees(from), wind.speed_kn.0);
            (Some(from + 180.0), words)
        }
        None => (None, "wind not known".to_owned()),
    };
    let drift = casualty.and_then(|casualty| casualty.measures.drift.value());
    let off = casualty.and_then(|casualty| casualty.measures.drift.tolerance());
    let set = match drift {
        Some(drift) if drift.rate_kn.0 <= off.unwrap_or(0.05) => {
            (None, "set: none known".to_owned())
        }
        Some(drift) => {
            let set = drift.set_deg.value();
            (Some(set), format!("set {}, {}", degrees(set), drift.rate_kn))
        }
        None => (None, "set not known".to_owned()),
    };
    let places = layout
        .of([(290.0, top + 14.0), (536.0, top + 14.0)], [(16.0, top + 60.0), (16.0, top + 88.0)]);
    for ((towards, words), (x, y)) in [wind, set].into_iter().zip(places) {
        if let Some(towards) = towards {
            draw_arrow(drawing, Point::new(x, y), towards, "arrow");
        }
        let indent = if towards.is_some() { 20.0 } else { -14.0 };
        drawing.text(Point::new(x + indent, y + 4.5), Anchor::Start, "tick", &words);
    }
}

/// An arrow around a point, 26 long.
fn draw_arrow(drawing: &mut Drawing, middle: Point, towards: f64, class: &str) {
    let tip = middle.towards(towards, 13.0);
    drawing.line(middle.towards(towards + 180.0, 13.0), middle.towards(towards, 7.0), class);
    let wings = [tip, tip.towards(towards + 155.0, 10.0), tip.towards(towards + 205.0, 10.0)];
    drawing.shape(&wings, &format!("{class} full"));
}
