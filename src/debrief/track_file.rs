//! A debrief as GPX: what happened as waypoints, own track, each casualty's track.

use std::io::{self, Write};

use super::drill::Drill;
use super::labels::seconds;
use crate::gpx::Document;

/// Points further apart in time than this leave a gap in the line, in seconds. Our own.
const GAP_S: f64 = 120.0;

/// Writes some drills as one document: for a plotter, or a map.
///
/// # Errors
/// Those of the output.
pub fn write_gpx(drills: &[Drill], output: impl Write) -> io::Result<()> {
    let mut gpx = Document::begin(output)?;
    for event in drills.iter().flat_map(|drill| &drill.events) {
        if let Some(place) = event.own {
            let name = event.number.to_string();
            gpx.waypoint(place, Some(event.at), &name, &event.text)?;
        }
    }
    for drill in drills {
        let name = format!("{}: own ship", drill.recording);
        let own = drill.own_track.iter().map(|point| (point.at, point.position));
        gpx.track(|track| {
            let mut before = None;
            let mut segment = 0;
            for (at, place) in own {
                let gap = before.is_some_and(|before| seconds(before, at) > GAP_S);
                segment += i64::from(gap);
                before = Some(at);
                track.point(&name, Some(segment), place, at)?;
            }
            Ok::<(), io::Error>(())
        })?;
        for casualty in &drill.casualties {
            let name = format!("{}: {}", drill.recording, casualty.name());
            gpx.track(|track| {
                let mut points = casualty.track.iter();
                points.try_for_each(|fix| track.point(&name, None, fix.position, fix.at))
            })?;
        }
    }
    gpx.end()
}
