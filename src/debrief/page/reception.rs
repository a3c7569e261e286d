//! Reception against range: a bar for each band, with its numbers.

use super::text::percent;
use crate::debrief::drill::Casualty;
use crate::debrief::measures::RangeBand;
use crate::drawing::{Anchor, Drawing, Layout, Point};

/// The height of a row.
const ROW: f64 = 34.0;

/// Draws it; `None` if nothing was heard at a known range.
pub(super) fn draw(casualty: &Casualty, layout: Layout, id: &str) -> Option<String> {
    let bands = casualty.measures.reception.reception_by_range.value()?;
    let bands: Vec<&RangeBand> = bands.iter().filter(|band| band.expected > 0).collect();
    if bands.is_empty() {
        return None;
    }
    let (left, right) = (96.0, layout.width() - layout.of(96.0, 88.0));
    let top = 26.0;
    let bottom = top + ROW * bands.len() as f64;
    let mut drawing = Drawing::new(layout.width(), bottom + 44.0);
    drawing.text(Point::new(0.0, 13.0), Anchor::Start, "unit", "range, NM");
    drawing.text(Point::new(layout.width() - 1.0, 13.0), Anchor::End, "unit", "heard of sent");
    let x = |percent: f64| left + percent.clamp(0.0, 100.0) / 100.0 * (right - left);
    for share in [0.0, 25.0, 50.0, 75.0, 100.0] {
        let class = if share == 0.0 { "axis" } else { "grid" };
        drawing.line(Point::new(x(share), top), Point::new(x(share), bottom + 4.0), class);
        let place = Point::new(x(share), bottom + 18.0);
        drawing.text(place, Anchor::Middle, "tick", &format!("{share:.0}"));
    }
    let place = Point::new(x(50.0), bottom + 37.0);
    drawing.text(place, Anchor::Middle, "unit", "heard, %");
    for (number, band) in bands.iter().enumerate() {
        let middle = top + ROW * (number as f64 + 0.5);
        let label = format!("{}–{}", band.from_nm.0, band.to_nm.0);
        drawing.text(Point::new(left - 8.0, middle + 4.5), Anchor::End, "tick", &label);
        let share = percent(band.heard, band.expected).unwrap_or(0.0);
        let corner = Point::new(left, middle - 9.0);
        drawing.rect(corner, (x(share) - left, 18.0), "share");
        let words = format!("{} of {}", band.heard, band.expected);
        let place = Point::new(layout.width(), middle + 4.5);
        drawing.text(place, Anchor::End, "tick", &words);
    }
    let about = "For each band of range how many of the messages sent were heard, in per cent.";
    Some(drawing.finish(id, layout.class(), "Reception against range", about))
}
