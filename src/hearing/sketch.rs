//! The common map for a terminal: rims of dots, and numbers where there is room for them.

use super::chart::{Projection, rims};
use super::map::CommonMap;
use crate::drawing::{Canvas, Dots};
use crate::position::Position;
use crate::units::NauticalMiles;

/// Characters across, and down at the most. One is about twice as high as wide.
const ACROSS: usize = 72;
const DOWN: usize = 20;
const LEAST_DOWN: usize = 6;

/// Dots on the way between two points of an area. Our own.
const STEPS: u16 = 24;

/// Lengths of the scale, in nautical miles, and how many characters it has at the most.
const BARS_NM: [f64; 12] =
    [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0];
const BAR: f64 = 24.0;

/// The map, north up, and its scale; nothing where it cannot be drawn.
pub(super) fn sketch(map: &CommonMap, dots: Dots) -> Vec<String> {
    let Some(projection) = Projection::of(map) else { return Vec::new() };
    let (across, up) = projection.size();
    // Characters to a metre.
    let scale = (ACROSS as f64 / across).min(2.0 * DOWN as f64 / up);
    let down = ((up * scale / 2.0).ceil() as usize).clamp(LEAST_DOWN, DOWN);
    let share = |place: Position| {
        let (east, north) = projection.metres(place);
        (0.5 + east * scale / ACROSS as f64, 0.5 + north * scale / (2 * down) as f64)
    };
    let mut canvas = Canvas::new(ACROSS, down, dots);
    for it in &map.receivers {
        let (area, arcs) = rims(it);
        // Where nothing is known of the direction, a dot here and there.
        for place in arcs.into_iter().flatten() {
            let (x, y) = share(place);
            canvas.dot(x, y);
        }
        let area: Vec<(f64, f64)> = area.into_iter().map(share).collect();
        for (from, to) in area.iter().zip(area.iter().cycle().skip(1)) {
            for step in 0..STEPS {
                let part = f64::from(step) / f64::from(STEPS);
                canvas.dot(from.0 + (to.0 - from.0) * part, from.1 + (to.1 - from.1) * part);
            }
        }
    }
    let mut rows: Vec<Vec<char>> = canvas.rows().iter().map(|it| it.chars().collect()).collect();
    let mut taken = vec![[false; ACROSS]; down];
    for it in &map.receivers {
        let (x, y) = share(it.position);
        let at = |share: f64, count: usize| {
            (share.clamp(0.0, 1.0) * (count - 1) as f64).round() as usize
        };
        let number = it.number.to_string();
        let (row, column) = (at(1.0 - y, down), at(x, ACROSS).min(ACROSS - number.len()));
        let cells = column..column + number.len();
        if cells.clone().any(|cell| taken[row][cell]) {
            continue;
        }
        for (cell, digit) in cells.zip(number.chars()) {
            (rows[row][cell], taken[row][cell]) = (digit, true);
        }
    }
    let long = |nm: f64| NauticalMiles(nm).metres() * scale;
    let bar = BARS_NM.into_iter().rev().find(|nm| long(*nm) <= BAR).unwrap_or(BARS_NM[0]);
    let dashes = "-".repeat((long(bar).round() as usize).saturating_sub(2));
    let rows = rows.into_iter().map(|it| format!("  {}", it.iter().collect::<String>()));
    let scale = format!("  |{dashes}| {bar} NM, north up; dots here and there: not known that way");
    rows.chain([scale]).map(|it| it.trim_end().to_owned()).collect()
}
