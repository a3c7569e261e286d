//! The arrow: where to turn from the bow, and where the casualty bears.

use crate::navigation::AheadFrom;
use crate::watch::{BeaconView, Picture};

/// The dial with its arrow, in degrees from the bow, or from north where nobody knows where that
/// points. What it shows stands in words beside it.
pub(super) fn draw(picture: &Picture, beacon: &BeaconView, arrow: Option<f64>) -> String {
    let (up, top) = match picture.own.ahead {
        Some((ahead, AheadFrom::CourseOverGround)) => (ahead.value(), "COG"),
        Some((ahead, _)) => (ahead.value(), "BOW"),
        None => (0.0, "N"),
    };
    let ticks: String = (1..12)
        .map(|hour| {
            let turned = hour * 30;
            format!("<path class=\"tick\" d=\"M0-92V-84\" transform=\"rotate({turned})\"/>")
        })
        .collect();
    let arrow = arrow.map_or("<circle class=\"dot\" r=\"9\"/>".to_owned(), |turned| {
        format!(
            "<path class=\"arrow\" d=\"M0-78 34-28H13V62H-13V-28H-34Z\" transform=\"rotate({turned:.1})\"/>"
        )
    });
    let is_near = beacon.way.is_none_or(|_| beacon.bearing.is_none());
    let casualty = beacon.bearing.filter(|_| !is_near).map(|bearing| {
        let turned = bearing.value() - up;
        format!(
            "<g transform=\"rotate({turned:.1}) translate(0-92)\" class=\"casualty-mark\">\
             <circle r=\"8\"/><path d=\"M-5.6-5.6 5.6 5.6M-5.6 5.6 5.6-5.6\"/></g>"
        )
    });
    format!(
        "<svg class=\"dial\" viewBox=\"-104 -118 208 222\" aria-hidden=\"true\">\
         <circle class=\"rim\" r=\"92\"/>{ticks}<path class=\"bow\" d=\"M0-100 9-84H-9Z\"/>\
         <text class=\"label\" y=\"-104\">{top}</text>{arrow}{}</svg>\n",
        casualty.unwrap_or_default()
    )
}
