//! When the casualty was out of the water, and how right the beacon's positions were.

use super::log::LogEntry;
use super::measures::{PositionError, RecoveredBy};
use super::scene::{Scene, carried, metres};
use crate::navigation::{CIRCLE_95, Offset};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A casualty that is on board is no further from the ship's position than this, in metres: what
/// two receivers are off, and half a ship. Our own.
const ABOARD_M: f64 = 35.0;

/// The ship has gone on, with the casualty on board, when the beacon's positions are this far from
/// where drift would have taken them, in metres, and what the drift is unsure of besides. Our own.
const GONE_ON_M: f64 = 60.0;

/// She was still there when she was within this of it, in metres.
const THERE_M: f64 = 50.0;

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
            RecoveredBy::Off => "the beacon's first OFF or CANCEL text; it comes up to a minute \
                                 after the beacon was switched off"
                .to_owned(),
            RecoveredBy::MovesWithShip => "the ship moved on and the beacon's positions went with \
                 it: when it left the place; the recovery was before that"
                .to_owned(),
            RecoveredBy::Logbook => "an entry in the logbook".to_owned(),
        }
    }
}

/// The earliest thing that tells it, from `alarm` on. `there` is when own ship was at the casualty.
pub(super) fn recovered(
    scene: &Scene<'_>,
    there: Option<f64>,
    alarm: f64,
    log: &[LogEntry],
    is_only: bool,
) -> Option<Recovery> {
    let beacon = scene.beacon;
    let off = beacon.off.map(|at| Recovery { t: scene.t(at), by: RecoveredBy::Off });
    let logged = log
        .iter()
        .filter(|it| it.what.is_recovery(beacon.mmsi, beacon.person.as_deref(), is_only))
        .map(|it| Recovery { t: scene.t(it.at), by: RecoveredBy::Logbook });
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
