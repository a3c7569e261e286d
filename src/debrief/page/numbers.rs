//! The numbers of the events on the drawings.

use super::axis::TimeAxis;
use crate::debrief::drill::DrillEvent;
use crate::drawing::{Drawing, Point, listed, pill_size};

/// Rows that numbers may stand in above a chart, and the height of one.
const ROWS: usize = 2;
const ROW: f64 = 23.0;

/// Between two numbers of a row.
const GAP: f64 = 3.0;

/// Events nearer to each other than this share a label, in units of the drawing.
const SAME: f64 = 4.0;

/// The numbers above a chart over time.
pub(super) struct Strip {
    labels: Vec<Label>,
    rows: usize,
}

struct Label {
    numbers: Vec<usize>,
    /// Where its events are.
    at: Vec<f64>,
    row: usize,
    x: f64,
}

impl Label {
    fn text(&self) -> String {
        listed(&self.numbers)
    }

    fn join(&mut self, later: Self) {
        self.numbers.extend(later.numbers);
        self.at.extend(later.at);
    }

    fn middle(&self) -> f64 {
        let (first, last) = (self.at.first(), self.at.last());
        first.zip(last).map_or(0.0, |(first, last)| f64::midpoint(*first, *last))
    }
}

impl Strip {
    pub(super) fn of<'a>(events: impl Iterator<Item = &'a DrillEvent>, axis: TimeAxis<'_>) -> Self {
        let mut labels: Vec<Label> = Vec::new();
        for event in events {
            let x = axis.x(event.at);
            let label = Label { numbers: vec![event.number], at: vec![x], row: 0, x };
            match labels.last_mut() {
                Some(last) if last.at.last().is_some_and(|before| x - before < SAME) => {
                    last.join(label);
                }
                _ => labels.push(label),
            }
        }
        // Where there is no room for one it joins the one before it, and all is tried again.
        while let Some(stuck) = arrange(&mut labels, axis) {
            let later = labels.remove(stuck);
            labels[stuck - 1].join(later);
        }
        let rows = labels.iter().map(|label| label.row + 1).max().unwrap_or(0);
        Self { labels, rows }
    }

    pub(super) fn height(&self) -> f64 {
        self.rows as f64 * ROW
    }

    /// Draws them below `top`, with lines down to `bottom`.
    pub(super) fn draw(&self, drawing: &mut Drawing, top: f64, bottom: f64) {
        let y = |row: usize| top + (self.rows - row) as f64 * ROW - ROW / 2.0;
        for label in &self.labels {
            for at in &label.at {
                let foot = Point::new(*at, bottom);
                drawing.line(Point::new(*at, top + self.height() + 2.0), foot, "event");
                let head = Point::new(label.x, y(label.row));
                drawing.line(head, Point::new(*at, top + self.height() + 2.0), "event");
            }
        }
        for label in &self.labels {
            drawing.pill(Point::new(label.x, y(label.row)), &label.text());
        }
    }
}

/// Gives each a row, the lowest first; the first that finds none, never that of index 0.
fn arrange(labels: &mut [Label], axis: TimeAxis<'_>) -> Option<usize> {
    let mut taken = [f64::NEG_INFINITY; ROWS];
    for (index, label) in labels.iter_mut().enumerate() {
        let half = pill_size(&label.text()).0 / 2.0;
        let (least, most) = (axis.left - 12.0 + half, axis.right + 16.0 - half);
        label.x = label.middle().min(most).max(least);
        let row = taken.iter().position(|end| label.x - half >= end + GAP);
        match row {
            Some(row) => {
                label.row = row;
                taken[row] = label.x + half;
            }
            None => return Some(index),
        }
    }
    None
}
