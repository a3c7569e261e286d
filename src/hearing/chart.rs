//! The common map as a drawing, true to scale, north up: numbers and units alone stand in it.
//!
//! Ranges and bearings from its middle are those of the ellipsoid (an azimuthal equidistant map), so
//! it bears poles and the date line; of two places away from the middle they are nearly.

use super::map::{CommonMap, Placed};
use super::stations::GAPS;
use crate::drawing::{
    Anchor, Drawing, Labels, Layout, Point, draw_numbers, grouped, scale_bar, width_of,
};
use crate::navigation::{Offset, destination};
use crate::position::Position;
use crate::units::{Degrees, METRES_PER_NAUTICAL_MILE};

/// The least that is drawn from side to side, in metres: four miles. Our own.
const LEAST_M: f64 = 4.0 * METRES_PER_NAUTICAL_MILE;

/// Stations further than this from the middle have no place on it, in metres: a quarter of the earth.
const FARTHEST_M: f64 = 10_000_000.0;

/// Room for the labels of parallels, to the left.
const LEFT: f64 = 66.0;

/// Room for meridians' labels, the scale and north, below.
const BELOW: f64 = 74.0;

/// Free room around the areas, in units of the drawing.
const PADDING: f64 = 26.0;

/// Between two points of an arc, in degrees.
const ARC: u16 = 6;

/// Steps of parallels and meridians, in minutes.
const STEPS: [f64; 14] =
    [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0];

/// Parts of a parallel or meridian that are drawn straight.
const PARTS: u16 = 48;

/// The drawing, and the numbers that found no room in it.
pub(super) struct Chart {
    pub svg: String,
    pub left_out: Vec<usize>,
}

/// Places on the drawing.
pub(super) struct Projection {
    middle: Position,
    /// What stands in the middle of the drawing, in metres east and north of that place.
    centre: (f64, f64),
    /// From side to side and from top to bottom, in metres.
    size: (f64, f64),
}

impl Projection {
    /// So that all areas have room; `None` if they are strewn over the whole earth.
    pub(super) fn of(map: &CommonMap) -> Option<Self> {
        let middle = middle(&map.receivers)?;
        let places = map.receivers.iter().flat_map(|it| {
            let (area, arcs) = rims(it);
            [it.position].into_iter().chain(area).chain(arcs.into_iter().flatten())
        });
        let mut low = (f64::INFINITY, f64::INFINITY);
        let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for offset in places.map(|place| Offset::between(middle, place)) {
            if offset.range().metres() > FARTHEST_M {
                return None;
            }
            low = (low.0.min(offset.east_m), low.1.min(offset.north_m));
            high = (high.0.max(offset.east_m), high.1.max(offset.north_m));
        }
        let centre = (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1));
        let size = ((high.0 - low.0).max(LEAST_M), (high.1 - low.1).max(LEAST_M));
        Some(Self { middle, centre, size })
    }

    /// Where a place is, in metres east and north of the middle of the drawing.
    pub(super) fn metres(&self, place: Position) -> (f64, f64) {
        let Offset { east_m, north_m } = Offset::between(self.middle, place);
        (east_m - self.centre.0, north_m - self.centre.1)
    }

    /// The place there.
    fn place(&self, (east_m, north_m): (f64, f64)) -> Position {
        let (east_m, north_m) = (east_m + self.centre.0, north_m + self.centre.1);
        Offset { east_m, north_m }.from(self.middle)
    }

    /// From side to side and from top to bottom, in metres.
    pub(super) const fn size(&self) -> (f64, f64) {
        self.size
    }
}

/// The middle of places on the globe; `None` where they have none.
fn middle(receivers: &[Placed]) -> Option<Position> {
    let mut sum = [0.0; 3];
    for it in receivers {
        let (lat, lon) = (it.position.lat().to_radians(), it.position.lon().to_radians());
        let along = [lat.cos() * lon.cos(), lat.cos() * lon.sin(), lat.sin()];
        sum = std::array::from_fn(|axis| sum[axis] + along[axis]);
    }
    let [x, y, z] = sum;
    let is_one = x.hypot(y).hypot(z) > 1e-3 * receivers.len() as f64;
    let at = || Position::new(z.atan2(x.hypot(y)).to_degrees(), y.atan2(x).to_degrees());
    is_one.then(at).flatten()
}

/// The rim of where it hears, as places: closed, through its own place where a direction is not known
/// by itself; and an arc for each of those, as far out as all directions together.
pub(super) fn rims(of: &Placed) -> (Vec<Position>, Vec<Vec<Position>>) {
    let (mut area, mut arcs) = (Vec::new(), Vec::new());
    for begin in (0..360_u16).step_by(30) {
        let Some((reach, is_known)) = of.towards(Degrees::new(f64::from(begin))) else { continue };
        let at = |step: u16| destination(of.position, Degrees::new(f64::from(begin + step)), reach);
        let arc = (0..=30).step_by(ARC.into()).map(at);
        if is_known {
            area.extend(arc);
        } else {
            area.push(of.position);
            arcs.push(arc.collect());
        }
    }
    let is_any = area.len() > arcs.len();
    (if is_any { area } else { Vec::new() }, arcs)
}

/// The sea on the drawing.
struct Frame {
    projection: Projection,
    /// Units of the drawing to a metre.
    scale: f64,
    width: f64,
    height: f64,
}

/// Draws it; `None` where the stations are strewn over the whole earth.
pub(super) fn draw(map: &CommonMap, layout: Layout, id: &str) -> Option<Chart> {
    let frame = Frame::of(Projection::of(map)?, layout);
    let mut drawing = Drawing::new(layout.width(), frame.height + BELOW);
    drawing.rect(Point::new(LEFT, 0.0), (frame.width, frame.height), "sea");
    frame.draw_lines(&mut drawing);
    for it in &map.receivers {
        frame.draw_area(&mut drawing, it);
    }
    for gap in map.gaps.iter().take(GAPS) {
        let ends =
            gap.between.map(|it| map.receivers.get(it - 1).map(|it| frame.point(it.position)));
        if let [Some(from), Some(to)] = ends {
            drawing.line(from, to, "event");
        }
    }
    let marks = map.receivers.iter().map(|it| (frame.point(it.position), it.number));
    for (point, _) in marks.clone() {
        drawing.circle(point, 2.6, "dot");
    }
    let area = (Point::new(LEFT, 0.0), Point::new(LEFT + frame.width, frame.height));
    let mut labels = Labels::within(area, marks.clone().map(|it| it.0).collect());
    let left_out = draw_numbers(&mut drawing, &mut labels, &grouped(marks));
    scale_bar(&mut drawing, Point::new(LEFT, frame.height + 42.0), frame.scale, layout);
    let north = Point::new(LEFT + frame.width - 12.0, frame.height + 34.0);
    drawing.line(north, Point::new(north.x, north.y + 26.0), "arrow");
    drawing.shape(&[north, north.towards(155.0, 10.0), north.towards(205.0, 10.0)], "arrow full");
    drawing.text(Point::new(north.x - 10.0, north.y + 26.0), Anchor::End, "tick", "N");
    let about = "Each station by its number, and the area within which it would hear a beacon; north is up.";
    let svg = drawing.finish(id, layout.class(), "Where a beacon would be heard", about);
    Some(Chart { svg, left_out })
}

impl Frame {
    fn of(projection: Projection, layout: Layout) -> Self {
        let (across, up) = projection.size();
        let width = layout.width() - LEFT;
        let (least, most) = layout.of((300.0, 620.0), (240.0, 420.0));
        let inner = width - 2.0 * PADDING;
        let height = (inner * up / across + 2.0 * PADDING).clamp(least, most);
        let scale = (inner / across).min((height - 2.0 * PADDING) / up);
        Self { projection, scale, width, height }
    }

    fn point(&self, place: Position) -> Point {
        let (east, north) = self.projection.metres(place);
        Point::new(
            LEFT + self.width / 2.0 + east * self.scale,
            self.height / 2.0 - north * self.scale,
        )
    }

    /// Where it hears: filled where that is known of the direction, else a dashed arc.
    fn draw_area(&self, drawing: &mut Drawing, of: &Placed) {
        let (area, arcs) = rims(of);
        let points =
            |rim: Vec<Position>| rim.into_iter().map(|it| self.point(it)).collect::<Vec<_>>();
        for arc in arcs {
            drawing.way(&points(arc), "second");
        }
        if !area.is_empty() {
            drawing.shape(&points(area), "sector");
        }
    }

    /// Parallels and meridians, and what they are: to the left, and below.
    fn draw_lines(&self, drawing: &mut Drawing) {
        let (lat, lon) = self.extent();
        let mut last = f64::INFINITY;
        for minutes in multiples(lat, 6.0) {
            let at = |share: f64| place(minutes / 60.0, lon.0 + share * (lon.1 - lon.0));
            let y = self.draw_line(drawing, at).find(|it| it.x < LEFT + 0.1).map(|it| it.y);
            let is_free = |y: &f64| (8.0..self.height - 2.0).contains(y) && (last - y).abs() > 17.0;
            if let Some(y) = y.filter(is_free) {
                let label = degrees(minutes, 2, ['N', 'S']);
                drawing.text(Point::new(LEFT - 5.0, y + 4.5), Anchor::End, "tick", &label);
                last = y;
            }
        }
        let mut free = 0.0;
        for minutes in multiples(lon, (self.width / 110.0).max(3.0)) {
            let at = |share: f64| place(lat.0 + share * (lat.1 - lat.0), minutes / 60.0);
            let bottom = self.height - 0.1;
            let x = self.draw_line(drawing, at).find(|it| it.y > bottom).map(|it| it.x);
            let label = degrees(wrapped(minutes / 60.0) * 60.0, 3, ['E', 'W']);
            let half = width_of(&label) / 2.0;
            let is_free = |x: &f64| *x - half > free && *x + half < LEFT + self.width;
            if let Some(x) = x.filter(is_free) {
                let foot = Point::new(x, self.height + 17.0);
                drawing.text(foot, Anchor::Middle, "tick", &label);
                free = x + half + 6.0;
            }
        }
    }

    /// From which latitude to which, and longitude, in degrees; the longitude may pass 180.
    fn extent(&self) -> ((f64, f64), (f64, f64)) {
        let middle = self.projection.middle;
        let pole = |lat: f64| Position::new(lat, 0.0).is_some_and(|it| self.holds(self.point(it)));
        let (mut lat, mut lon) = ((90.0_f64, -90.0_f64), (180.0_f64, -180.0_f64));
        for step in 0..=16_u16 {
            let share = f64::from(step) / 16.0 - 0.5;
            for (across, up) in [(share, 0.5), (share, -0.5), (0.5, share), (-0.5, share)] {
                let (east, north) = (across * self.width, up * self.height);
                let it = self.projection.place((east / self.scale, north / self.scale));
                let turned = wrapped(it.lon() - middle.lon());
                lat = (lat.0.min(it.lat()), lat.1.max(it.lat()));
                lon = (lon.0.min(turned), lon.1.max(turned));
            }
        }
        if pole(90.0) || pole(-90.0) {
            lon = (-180.0, 180.0);
            lat = (if pole(-90.0) { -90.0 } else { lat.0 }, if pole(90.0) { 90.0 } else { lat.1 });
        }
        (lat, (middle.lon() + lon.0, middle.lon() + lon.1))
    }

    fn holds(&self, point: Point) -> bool {
        (LEFT..=LEFT + self.width).contains(&point.x) && (0.0..=self.height).contains(&point.y)
    }

    /// Draws a line as far as it lies within; its points there.
    fn draw_line(
        &self,
        drawing: &mut Drawing,
        at: impl Fn(f64) -> Option<Position>,
    ) -> impl Iterator<Item = Point> {
        let share = |part: u16| at(f64::from(part) / f64::from(PARTS));
        let all: Vec<Point> = (0..=PARTS).filter_map(share).map(|it| self.point(it)).collect();
        let mut runs: Vec<Vec<Point>> = Vec::new();
        // What leaps is on the other side of the earth.
        for two in all.windows(2).filter(|two| two[0].apart(two[1]) < self.width / 4.0) {
            let Some((from, to)) = self.within(two[0], two[1]) else { continue };
            match runs.last_mut().filter(|run| run.last() == Some(&from)) {
                Some(run) => run.push(to),
                None => runs.push(vec![from, to]),
            }
        }
        for run in &runs {
            drawing.way(run, "grid");
        }
        runs.into_iter().flatten()
    }

    /// The part of a straight line that lies within; `None` if none does.
    fn within(&self, from: Point, to: Point) -> Option<(Point, Point)> {
        let (mut begin, mut end) = (0.0_f64, 1.0_f64);
        let edges = [
            (from.x - LEFT, to.x - LEFT),
            (LEFT + self.width - from.x, LEFT + self.width - to.x),
            (from.y, to.y),
            (self.height - from.y, self.height - to.y),
        ];
        for (here, there) in edges {
            // How far inside of an edge it begins and ends.
            match (here < 0.0, there < 0.0) {
                (true, true) => return None,
                (true, false) => begin = begin.max(here / (here - there)),
                (false, true) => end = end.min(here / (here - there)),
                (false, false) => {}
            }
        }
        let at = |share: f64| {
            Point::new(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share)
        };
        let part =
            (if begin > 0.0 { at(begin) } else { from }, if end < 1.0 { at(end) } else { to });
        (begin < end).then_some(part)
    }
}

/// Round numbers of minutes between two angles in degrees, at most about so many.
fn multiples((from, to): (f64, f64), most: f64) -> impl Iterator<Item = f64> {
    let fits = |step: &f64| (to - from) * 60.0 / step <= most;
    let step = STEPS.into_iter().find(fits).unwrap_or(1800.0);
    let (first, last) = ((from * 60.0 / step).ceil() as i32, (to * 60.0 / step).floor() as i32);
    (first..=last).map(move |number| f64::from(number) * step)
}

/// A place with a longitude that may pass 180; `None` at a pole, which is no line.
fn place(lat: f64, lon: f64) -> Option<Position> {
    Position::new(lat, wrapped(lon)).filter(|it| it.lat().abs() < 90.0)
}

/// A longitude within ±180.
fn wrapped(lon: f64) -> f64 {
    (lon + 180.0).rem_euclid(360.0) - 180.0
}

/// `57°40'N`: whole minutes, and so many figures of degrees.
fn degrees(minutes: f64, figures: usize, [plus, minus]: [char; 2]) -> String {
    let all = minutes.abs().round() as u32;
    let letter = if minutes < 0.0 { minus } else { plus };
    format!("{:0figures$}°{:02}'{letter}", all / 60, all % 60)
}
