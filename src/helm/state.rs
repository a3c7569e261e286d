//! `/state.json`: the picture and what to tell of it, for other programs.

use serde::Serialize;

use super::Snapshot;
use crate::advice::Advice;
use crate::text;
use crate::watch::Picture;

/// What other programs are told.
#[derive(Debug, Serialize)]
struct Told<'a> {
    /// Whether it is a recording that is played.
    replay: bool,
    /// What the watch is about.
    advice: Advice,
    /// Each casualty, in the order of the picture.
    casualties: Vec<Advice>,
    /// All that a screen is drawn from.
    picture: &'a Picture,
}

/// As JSON.
pub(super) fn json(snapshot: &Snapshot) -> Option<String> {
    let picture = &snapshot.picture;
    let casualties = picture.beacons.iter().filter(|it| it.casualty);
    let told = Told {
        replay: snapshot.replay.is_some(),
        advice: Advice::of(picture, None),
        casualties: casualties.map(|it| Advice::about(picture, None, it)).collect(),
        picture,
    };
    text::json(&told).ok()
}
