//! Lines of fewer points that look the same.

use crate::drawing::Point;

/// The points that are needed for a line to stay within `tolerance` of all of them (the way of
/// Douglas and Peucker).
pub(super) fn thinned(points: &[Point], tolerance: f64) -> Vec<Point> {
    let mut kept = vec![false; points.len()];
    if let (Some(first), true) = (kept.first_mut(), !points.is_empty()) {
        *first = true;
    }
    if let Some(last) = kept.last_mut() {
        *last = true;
    }
    let mut open = vec![(0, points.len().saturating_sub(1))];
    while let Some((from, to)) = open.pop() {
        let between = points.get(from + 1..to).unwrap_or_default();
        let off = |point: &Point| off_line(*point, points[from], points[to]);
        let furthest =
            between.iter().map(off).enumerate().max_by(|(_, one), (_, other)| one.total_cmp(other));
        if let Some((step, distance)) = furthest
            && distance > tolerance
        {
            let middle = from + 1 + step;
            kept[middle] = true;
            open.extend([(from, middle), (middle, to)]);
        }
    }
    points.iter().zip(kept).filter_map(|(point, kept)| kept.then_some(*point)).collect()
}

/// How far a point is from a line between two others.
fn off_line(point: Point, from: Point, to: Point) -> f64 {
    let (across, down) = (to.x - from.x, to.y - from.y);
    let length = across.hypot(down);
    if length == 0.0 {
        return point.apart(from);
    }
    let along = ((point.x - from.x) * across + (point.y - from.y) * down) / length.powi(2);
    let along = along.clamp(0.0, 1.0);
    point.apart(Point::new(from.x + along * across, from.y + along * down))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_needs_two_points_and_a_corner_stays() {
        let line: Vec<Point> = (0..100).map(|it| Point::new(f64::from(it), 0.0)).collect();
        assert_eq!(thinned(&line, 0.5).len(), 2);
        let mut corner = line.clone();
        corner.push(Point::new(99.0, 50.0));
        assert_eq!(thinned(&corner, 0.5), [line[0], line[99], corner[100]]);
        assert!(thinned(&[], 1.0).is_empty());
        assert_eq!(thinned(&line[..1], 1.0).len(), 1);
    }
}
