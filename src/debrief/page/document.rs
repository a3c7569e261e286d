//! What stands at the end of the page.

use super::text::{day, hour_minute};

use crate::debrief::drill::Drill;
use crate::drawing::{self, escaped};
use crate::text::counted;
use crate::zone::Zone;

/// The whole file.
pub(super) fn document(title: &str, body: &str, drills: &[Drill]) -> String {
    drawing::document(title, &format!("{body}{}", footer(drills)))
}

/// What this is, what it is made from, what it is not.
fn footer(drills: &[Drill]) -> String {
    let mut html = "<footer>\n<h2>What this page is</h2>\n\
        <p>A record for training. The program that wrote it listens, transmits nothing and is not \
        type-approved; its numbers are as good as the recording. On the water the coastguard, local \
        rules, the beacon's maker and licensed radio practice come first.</p>\n\
        <p>Times are UTC; where a time zone is configured, the local time stands beside it. Ranges are those of the positions that beacon and ship told; 1 NM is \
        1852 m. Directions are true.</p>\n<h3>Made from</h3>\n<ul>\n"
        .to_owned();
    for drill in drills {
        html += &format!("<li>{}</li>\n", source(drill));
    }
    html += &format!(
        "</ul>\n<p>All numbers are in <code>debrief.json</code>, the tracks in \
         <code>track.gpx</code>, beside this page. overside {}</p>\n</footer>\n",
        env!("CARGO_PKG_VERSION")
    );
    html
}

fn source(drill: &Drill) -> String {
    let when = drill.begun.zip(drill.ended).map_or_else(
        || "no valid sentence".to_owned(),
        |(begun, ended)| {
            let zone = drill.zone.as_ref();
            format!("{} {} to {}", day(begun), Zone::both(zone, begun), Zone::both(zone, ended))
        },
    );
    let messages: usize = drill.casualties.iter().map(|it| it.receptions.len()).sum();
    format!(
        "recording <strong><bdi>{}</bdi></strong>: {when}; {} and {} of active beacons are used",
        escaped(&drill.recording),
        counted(drill.own_track.len(), "own position"),
        counted(messages, "message"),
    )
}

/// Day and times of a drill: `14 June 2026, 14:00 to 14:19 UTC`.
/// With the local time beside it where there is a zone.
pub(super) fn when(drill: &Drill) -> String {
    let clock = |at| drill.zone.as_ref()?.clock(at);
    let local = drill.begun.zip(drill.ended).and_then(|(begun, ended)| {
        Some(format!(" ({} to {} local time)", clock(begun)?, clock(ended)?))
    });
    utc(drill) + &escaped(&local.unwrap_or_default())
}

fn utc(drill: &Drill) -> String {
    match drill.begun.zip(drill.ended) {
        Some((begun, ended)) if begun.date() == ended.date() => {
            format!("{}, {} to {} UTC", day(begun), hour_minute(begun), hour_minute(ended))
        }
        Some((begun, ended)) => format!(
            "{}, {} to {}, {} UTC",
            day(begun),
            hour_minute(begun),
            day(ended),
            hour_minute(ended)
        ),
        None => "no time".to_owned(),
    }
}
