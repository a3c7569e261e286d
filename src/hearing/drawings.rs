//! The drawings of the page: numbers, letters and units alone stand in them. Their sizes are our own.

use super::round::{Round, class, percent};
use super::together::{Hearing, HourShown};
use crate::advice::about;
use crate::drawing::{Anchor, Drawing, Layout, Point, Ticks, Upwards};
use crate::time::Utc;
use crate::units::NauticalMiles;

/// The height of a row of bars.
const ROW: f64 = 30.0;

/// Hours that are drawn one by one; of more, some at a time are put together. Our own.
const DRAWN: usize = 400;

const HOUR_S: i64 = 3600;

/// Steps of the axis of time, in seconds.
const STEPS_S: [i64; 10] = [
    HOUR_S,
    3 * HOUR_S,
    6 * HOUR_S,
    12 * HOUR_S,
    24 * HOUR_S,
    48 * HOUR_S,
    7 * 24 * HOUR_S,
    14 * 24 * HOUR_S,
    30 * 24 * HOUR_S,
    60 * 24 * HOUR_S,
];

/// By direction, ahead or north at the top; `None` where nothing is known of it.
pub(super) fn polar(hearing: &Hearing, layout: Layout, id: &str) -> Option<String> {
    let round = Round::of(hearing)?;
    let width = layout.of(460.0, 340.0);
    let radius = width / 2.0 - 46.0;
    let middle = Point::new(width / 2.0, width / 2.0);
    let mut drawing = Drawing::new(width, width + 6.0);
    let ticks = Ticks::up_to(round.most, 3.0);
    let out = |value: f64| (value / ticks.most()).clamp(0.0, 1.0) * radius;
    for (value, _) in ticks.labelled().skip(1) {
        drawing.circle(middle, out(value), "ring");
    }
    for number in 0..12_u16 {
        let degrees = f64::from(number) * 30.0;
        drawing.line(middle, middle.towards(degrees, radius), "grid");
        let place = middle.towards(degrees, radius + 18.0);
        let label = round.mark(number);
        drawing.text(Point::new(place.x, place.y + 4.5), Anchor::Middle, "tick", &label);
    }
    for (number, it) in round.sectors.iter().enumerate() {
        let Some(value) = it.and_then(|it| it.value) else { continue };
        let arc = (0..=10_u16)
            .map(|step| middle.towards(number as f64 * 30.0 + f64::from(step) * 3.0, out(value)));
        let shape: Vec<Point> = [middle].into_iter().chain(arc).collect();
        drawing.shape(&shape, "sector");
    }
    let unit = if round.miles { "NM" } else { "%" };
    for (value, label) in ticks.labelled().skip(1) {
        let place = Point::new(middle.x + 4.0, middle.y - out(value) + 14.0);
        drawing.text(place, Anchor::Start, "unit", &format!("{label} {unit}"));
    }
    let about = format!("Twelve directions {}, each as far out as its number.", round.ahead());
    Some(drawing.finish(id, layout.class(), "By direction", &about))
}

/// Reach over time, with its limits; `None` where fewer than two hours are known.
pub(super) fn over_time(hearing: &Hearing, layout: Layout, id: &str) -> Option<String> {
    let hours = thinned(&hearing.hours);
    let known = || hours.iter().filter(|it| it.range80_nm.is_some());
    let (begin, end) = (known().next()?.start, known().next_back()?.start);
    let span = end.ms_since(begin) as f64;
    if span <= 0.0 {
        return None;
    }
    let (left, right) = (46.0, layout.width() - 22.0);
    let (top, bottom) = (24.0, layout.of(230.0, 190.0));
    let most = known().filter_map(|it| Some(it.high_nm.or(it.range80_nm)?.0)).fold(0.1, f64::max);
    let scale = Upwards { ticks: Ticks::up_to(most, 4.0), top, bottom };
    let mut drawing = Drawing::new(layout.width(), bottom + 30.0);
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", "NM");
    let x = |at: Utc| left + at.ms_since(begin) as f64 / span * (right - left);
    for (at, label) in times(begin, end, layout.of(8, 4)) {
        drawing.line(Point::new(x(at), top), Point::new(x(at), bottom + 4.0), "grid");
        drawing.text(Point::new(x(at), bottom + 21.0), Anchor::Middle, "tick", &label);
    }
    scale.draw(&mut drawing, left, right);
    let longest = hours.windows(2).map(|it| it[1].start.ms_since(it[0].start)).min().unwrap_or(0);
    let follows = |a: &HourShown, b: &HourShown| {
        a.range80_nm.is_some()
            && b.range80_nm.is_some()
            && b.start.ms_since(a.start) <= 2 * longest.max(HOUR_S * 1000)
    };
    for run in hours.chunk_by(follows).filter(|run| run.iter().any(|it| it.range80_nm.is_some())) {
        let edge = |of: fn(&HourShown) -> Option<NauticalMiles>| {
            run.iter().filter_map(move |it| Some(Point::new(x(it.start), scale.y(of(it)?.0))))
        };
        let mut limits: Vec<Point> = edge(|it| it.low_nm).collect();
        let upper: Vec<Point> = edge(|it| it.high_nm).collect();
        limits.extend(upper.into_iter().rev());
        if run.len() > 1 {
            drawing.shape(&limits, "limits");
        }
        let middle: Vec<Point> = edge(|it| it.range80_nm).collect();
        drawing.way(&middle, "first");
        if let [alone] = middle.as_slice() {
            drawing.circle(*alone, 2.5, "share");
        }
    }
    let title = "How far a beacon would be heard over time";
    let about = "A line for the estimate, an area for its limits; no line where it was not known.";
    Some(drawing.finish(id, layout.class(), title, about))
}

/// Reports received of those due, a bar for each class and range.
pub(super) fn by_range(hearing: &Hearing, layout: Layout, id: &str) -> Option<String> {
    let rows = &hearing.by_range;
    if rows.is_empty() {
        return None;
    }
    let (left, right) = (layout.of(170.0, 96.0), layout.width() - layout.of(96.0, 70.0));
    let top = 26.0;
    let bottom = top + ROW * rows.len() as f64;
    let mut drawing = Drawing::new(layout.width(), bottom + 30.0);
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", "range, NM");
    drawing.text(Point::new(layout.width() - 1.0, 13.0), Anchor::End, "unit", "due");
    let x = |percent: f64| left + percent.clamp(0.0, 100.0) / 100.0 * (right - left);
    for share in [0.0, 25.0, 50.0, 75.0, 100.0] {
        let class = if share == 0.0 { "axis" } else { "grid" };
        drawing.line(Point::new(x(share), top), Point::new(x(share), bottom + 4.0), class);
        let place = Point::new(x(share), bottom + 20.0);
        drawing.text(place, Anchor::Middle, "tick", &format!("{share:.0}"));
    }
    for (number, it) in rows.iter().enumerate() {
        let middle = top + ROW * (number as f64 + 0.5);
        let name = layout.of(class(it.class), class(it.class).trim_start_matches("class "));
        let label = format!("{name} {:.1}–{:.1}", it.from_nm.0, it.to_nm.0);
        drawing.text(Point::new(left - 8.0, middle + 4.5), Anchor::End, "tick", &label);
        let share = percent(it.received.into(), it.expected.into());
        drawing.rect(Point::new(left, middle - 8.0), (x(share) - left, 16.0), "share");
        let place = Point::new(layout.width(), middle + 4.5);
        drawing.text(place, Anchor::End, "tick", &it.expected.to_string());
    }
    let about = "For each class and band of range how many of the reports due came, in per cent.";
    Some(drawing.finish(id, layout.class(), "Reports received by range", about))
}

/// Where lines of time stand, at most so many, and what is said there.
fn times(begin: Utc, end: Utc, most: i64) -> Vec<(Utc, String)> {
    let span = end.ms_since(begin) / 1000;
    let step = STEPS_S.into_iter().find(|step| span / step <= most).unwrap_or(90 * 24 * HOUR_S);
    let first = (begin.unix_ms() / 1000).div_euclid(step) + 1;
    let at = |number: i64| Utc::from_unix_ms(number.checked_mul(step * 1000)?);
    let all = (first..).map_while(at).take_while(|at| *at <= end).take(32);
    all.map(|at| {
        let label = match step < 24 * HOUR_S {
            true => at.clock().chars().take(5).collect(),
            false => at.date().format("%-d %b").to_string(),
        };
        (at, label)
    })
    .collect()
}

/// The hours as they are drawn: where there are too many, the middle one of some at a time.
fn thinned(hours: &[HourShown]) -> Vec<HourShown> {
    let together = hours.len().div_ceil(DRAWN).max(1);
    let middle = |some: &[HourShown]| {
        let mut known: Vec<HourShown> =
            some.iter().filter(|it| it.range80_nm.is_some()).copied().collect();
        let range = |it: &HourShown| it.range80_nm.map_or(0.0, |range| range.0);
        known.sort_by(|a, b| range(a).total_cmp(&range(b)));
        let start = some.first()?.start;
        let shown = known.get(known.len() / 2).or(some.first())?;
        Some(HourShown { start, ..*shown })
    };
    hours.chunks(together).filter_map(middle).collect()
}

/// A distance for a sentence or a tile.
pub(super) fn distance(range: Option<NauticalMiles>) -> String {
    range.map_or("<span class=\"unknown\">not known</span>".to_owned(), about)
}
