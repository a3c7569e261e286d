//! The small plot: own ship in the middle, those in danger, the search.

use crate::advice::ring;
use crate::navigation::{AheadFrom, Position, range_and_bearing};
use crate::watch::{BeaconView, Picture};

/// Half the side of the drawing, and the ring in it.
const HALF: f64 = 100.0;
const RING: f64 = 80.0;

/// So many places of a track are drawn.
const TRACK: usize = 40;

struct Plot {
    own: Position,
    up: f64,
    /// Units of the drawing a nautical mile.
    scale: f64,
}

impl Plot {
    /// Where a place is in the drawing, kept inside it.
    fn point(&self, place: Position) -> (f64, f64) {
        let (range, bearing) = range_and_bearing(self.own, place);
        let (across, ahead) = (bearing.value() - self.up).to_radians().sin_cos();
        let far = (range.0 * self.scale).min(HALF - 6.0);
        (far * across, -far * ahead)
    }

    fn way<'a>(&self, places: impl Iterator<Item = &'a Position>, class: &str) -> String {
        let points: Vec<String> = places
            .map(|place| {
                let (x, y) = self.point(*place);
                format!("{x:.1},{y:.1}")
            })
            .collect();
        if points.len() < 2 {
            return String::new();
        }
        format!("<polyline class=\"{class}\" points=\"{}\"/>", points.join(" "))
    }
}

/// The plot about one casualty. What it shows stands in words beside it.
pub(super) fn draw(picture: &Picture, beacon: &BeaconView) -> String {
    let Some(own) = picture.own.position else {
        return "<svg class=\"plot\" viewBox=\"-100 -100 200 200\" aria-hidden=\"true\"></svg>\n"
            .to_owned();
    };
    let miles = ring(picture, own, Some(beacon));
    let (up, title) = match picture.own.ahead {
        Some((ahead, AheadFrom::CourseOverGround)) => (ahead.value(), "course up"),
        Some((ahead, _)) => (ahead.value(), "head up"),
        None => (0.0, "north up"),
    };
    let plot = Plot { own, up, scale: RING / miles };
    let mut drawn = format!("<circle class=\"ring\" r=\"{RING}\"/>");
    drawn += &plot.way(picture.own.track.iter().rev().take(TRACK), "own-track");
    if let Some((datum, _)) = &beacon.datum {
        let (x, y) = plot.point(datum.position_at(picture.now.at));
        let radius = (datum.radius95.0 * plot.scale).clamp(2.0, HALF);
        drawn +=
            &format!("<circle class=\"datum\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\"/>");
    }
    if let Some(search) = &beacon.search {
        drawn += &plot.way(std::iter::once(&own).chain(&search.ahead), "legs");
    }
    for other in picture.beacons.iter().filter(|it| it.casualty) {
        drawn += &plot.way(other.track.iter().rev().take(TRACK), "its-track");
    }
    // The chosen one is never hidden by another.
    let others = picture.beacons.iter().filter(|it| it.casualty && it.id != beacon.id);
    for (one, class) in others.map(|it| (it, " less")).chain([(beacon, "")]) {
        if let Some(place) = one.place(picture.now.at) {
            let (x, y) = plot.point(place);
            drawn += &format!(
                "<g class=\"casualty-mark{class}\" transform=\"translate({x:.1} {y:.1})\">\
                 <circle r=\"8\"/><path d=\"M-5.6-5.6 5.6 5.6M-5.6 5.6 5.6-5.6\"/></g>"
            );
        }
    }
    let bow = picture.own.ahead.map_or(
        "<circle class=\"own\" r=\"5\"/>",
        |_| "<path class=\"own\" d=\"M0-9 6 8 0 4-6 8Z\"/>",
    );
    format!(
        "<svg class=\"plot\" viewBox=\"-100 -100 200 200\" aria-hidden=\"true\">{drawn}{bow}\
         <text class=\"label start\" x=\"-98\" y=\"-85\">{title}</text>\
         <text class=\"label end\" x=\"98\" y=\"97\">{miles} NM</text></svg>\n"
    )
}
