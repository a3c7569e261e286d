//! When the casualty was out of the water, and how right the beacon's positions were.

use super::heard::Message;
use super::log::{LogEntry, Logged, Subject};
use super::measures::{PositionError, RecoveredBy};
use super::scene::{BURST_S, Scene, carried, metres};
use crate::beacon;
use crate::navigation::{CIRCLE_95, Offset};
use crate::units::METRES_PER_NAUTICAL_MILE;
use crate::wire::ais::BeaconWord;

/// A casualty that is on board is no further from the ship's position than this, in metres: what
/// two receivers are off, and half a ship. Our own.
const ABOARD_M: f64 = 35.0;

/// The ship has gone on, with the casualty on board, when the beacon's positions are this far from
/// where drift would have taken them, in metres, and what the drift is unsure of besides. Our own.
const GONE_ON_M: f64 = 60.0;

/// She was still there when she was within this of it, in metres.
const THERE_M: f64 = 50.0;

/// A beacon that tells places further from the ship than this is not on board, in metres. Our own.
const AWAY_M: f64 = 100.0;

/// Bursts that have to go on with her.
const BURSTS: usize = 2;

/// A recovery: when, and what tells.
#[derive(Clone, Debug)]
pub(super) struct Recovery {
    pub t: f64,
    pub by: RecoveredBy,
}

impl Recovery {
    /// How it was determined.
    pub(super) fn how(&self) -> String {
        match self.by {
            RecoveredBy::Off => {
                "the beacon's first OFF or CANCEL text, which comes up to a minute after \
                 it was switched off, or the cancel of its DSC call"
                    .to_owned()
            }
            RecoveredBy::MovesWithShip => "the ship moved on and the beacon's positions went with \
                 it: when it left the place; the recovery was before that"
                .to_owned(),
            RecoveredBy::Logbook => "an entry in the logbook".to_owned(),
        }
    }
}

/// Somebody said that a casualty was out of the water, by the logbook.
#[derive(Clone, Copy, Debug)]
pub(super) struct SaidOver {
    pub t: f64,
    /// Whether that was the watch's own key, and not a remark.
    pub by_key: bool,
    /// Why it is not believed.
    pub against: Option<&'static str>,
}

/// All who said so, and what followed that speaks against it.
pub(super) fn said_over(scene: &Scene<'_>, log: &[LogEntry], of: Subject<'_>) -> Vec<SaidOver> {
    let said = log.iter().filter(|it| it.what.is_recovery(of));
    said.map(|it| {
        let by_key = matches!(it.what, Logged::DeclaredOver(_) | Logged::Withdrawn(_));
        let later = || log.iter().filter(|later| later.at > it.at);
        let against = if it.what == Logged::Withdrawn(of.mmsi) {
            Some("a remark corrects it")
        } else if later().any(|later| later.what == Logged::Raised(of.mmsi)) {
            Some("the alarm was raised again")
        } else if later().any(|later| later.what.is_denial(of)) {
            Some("a later remark says otherwise")
        } else {
            goes_on(scene, scene.t(it.at))
        };
        SaidOver { t: scene.t(it.at), by_key, against }
    })
    .collect()
}

/// Whether the beacon went on after a moment, and not on board. The burst that was under way then
/// says nothing.
fn goes_on(scene: &Scene<'_>, t: f64) -> Option<&'static str> {
    let off = scene.beacon.off.map_or(f64::INFINITY, |off| scene.t(off));
    let later = |it: &&Message| {
        let at = scene.t(it.at);
        let is_word = matches!(it.word, Some(BeaconWord::Off | BeaconWord::Cancel));
        at > t + beacon::PERIOD.as_secs_f64() && at < off && !is_word
    };
    let messages: Vec<&Message> = scene.beacon.messages.iter().filter(later).collect();
    let (first, last) = (messages.first()?, messages.last()?);
    if scene.t(last.at) - scene.t(first.at) <= BURST_S {
        return None;
    }
    let ranges: Vec<f64> = scene
        .fixes
        .iter()
        .filter(|(at, _)| *at >= scene.t(first.at) && *at < off)
        .filter_map(|&(at, place)| Some(metres(scene.own_at(at)? - place)))
        .collect();
    match ranges.as_slice() {
        [] => Some("the beacon was heard active for more than a minute after it"),
        ranges if ranges.iter().any(|range| *range > AWAY_M) => {
            Some("the beacon was heard active after it, away from the boat")
        }
        _ => None,
    }
}

/// The earliest thing that tells it, from `alarm` on. `there` is when own ship was at the casualty.
pub(super) fn recovered(
    scene: &Scene<'_>,
    there: Option<f64>,
    alarm: f64,
    said: &[SaidOver],
) -> Option<Recovery> {
    let beacon = scene.beacon;
    let off = beacon.off.map(|at| Recovery { t: scene.t(at), by: RecoveredBy::Off });
    let logged = said
        .iter()
        .filter(|it| it.against.is_none())
        .map(|it| Recovery { t: it.t, by: RecoveredBy::Logbook });
    let moved = there
        .and_then(|there| moves_with_ship(scene, there))
        .map(|t| Recovery { t, by: RecoveredBy::MovesWithShip });
    let all = off.into_iter().chain(logged).chain(moved).filter(|it| it.t >= alarm);
    all.min_by(|one, other| one.t.total_cmp(&other.t))
}

/// When the ship left the place where she had been at the casualty, if its positions went with her.
/// Without a drift nobody knows whether both only drift.
fn moves_with_ship(scene: &Scene<'_>, there: f64) -> Option<f64> {
    let way = scene.way.as_ref()?;
    let drift = way.drift?;
    let start = scene.casualty_at(there)?;
    let adrift = |t: f64| start + carried(way.velocity, t - there);
    let doubt =
        |t: f64| CIRCLE_95 * drift.rate_sd().0 * METRES_PER_NAUTICAL_MILE * (t - there) / 3600.0;
    let with_her = |&(t, place): &(f64, Offset)| {
        let beside = scene.own_at(t).is_some_and(|own| metres(own - place) <= ABOARD_M);
        beside && metres(place - adrift(t)) > GONE_ON_M + doubt(t)
    };
    let later: Vec<_> = way.points.iter().filter(|(t, _)| *t > there).collect();
    let run = later.windows(BURSTS).find(|run| run.iter().all(|point| with_her(point)))?;
    let (gone_by, _) = run.first()?;
    let before = scene.steps(there, *gone_by);
    let left = before.iter().rfind(|step| metres(step.place - adrift(step.t)) <= THERE_M);
    Some(left.map_or(there, |step| step.t))
}

/// How far the beacon's positions were from the ship's, within a time in which both were in one
/// place.
pub(super) fn position_error(scene: &Scene<'_>, from: f64, until: f64) -> Option<PositionError> {
    let distances: Vec<f64> = scene
        .fixes
        .iter()
        .filter(|(t, _)| (from..=until).contains(t))
        .filter_map(|&(t, place)| Some(metres(scene.own_at(t)? - place)))
        .collect();
    let greatest_m = distances.iter().copied().max_by(f64::total_cmp)?;
    let mean_m = distances.iter().sum::<f64>() / distances.len() as f64;
    let tenths = |m: f64| (m * 10.0).round() / 10.0;
    let (mean_m, greatest_m) = (tenths(mean_m), tenths(greatest_m));
    Some(PositionError { mean_m, greatest_m, fixes: distances.len() })
}
