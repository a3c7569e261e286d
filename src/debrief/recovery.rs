//! When the casualty was out of the water, and how right the beacon's positions were.

use super::heard::Message;
use super::log::{LogEntry, Logged, Subject};
use super::measures::{PositionError, RecoveredBy};
use super::scene::{BURST_S, Scene, Step, metres};
use crate::beacon;
use crate::units::Knots;
use crate::wire::ais::BeaconWord;

/// She was still there when she was within this of it, in metres. Our own.
const THERE_M: f64 = 50.0;

/// She goes on when she moves as fast as that against the drift. Our own.
const GOES_ON: Knots = Knots(2.0);

/// How well the moment is known when she left, in seconds. Our own.
const LEAVES_S: f64 = 15.0;

/// A beacon is switched off, and a word written, within this of what it tells: the word OFF comes with
/// the next burst, or the one after it. Our own.
const WORD_S: f64 = 2.0 * beacon::PERIOD.as_secs_f64();

/// A beacon that tells places further from the ship than this is not on board, in metres. Our own.
const AWAY_M: f64 = 100.0;

/// A recovery: when, and what tells.
#[derive(Clone, Debug)]
pub(super) struct Recovery {
    pub t: f64,
    pub by: RecoveredBy,
    /// How long before that it may have been, or after it, in seconds; `None` if nothing bounds it.
    pub off: Option<f64>,
}

impl Recovery {
    /// Whether the beacon's last word, or a cancel of its call, is all that tells it.
    pub(super) fn is_word(&self) -> bool {
        self.by == RecoveredBy::Off
    }

    /// How it was determined.
    pub(super) fn how(&self) -> String {
        match self.by {
            RecoveredBy::Off => {
                "the beacon's first OFF or CANCEL text, which comes up to a minute after \
                 it was switched off, or the cancel of its DSC call"
                    .to_owned()
            }
            RecoveredBy::MovesWithShip => {
                "the beacon's positions were with the ship and not where it \
                 drifted: when the ship left the place, else the first of them; the recovery was \
                 before that"
                    .to_owned()
            }
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
        let against = if Some(&it.what) == of.mmsi.map(Logged::Withdrawn).as_ref() {
            Some("a remark corrects it")
        } else if later().any(|later| Some(&later.what) == of.mmsi.map(Logged::Raised).as_ref()) {
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
    // Somebody is out of the water after she was there, and before anything tells it.
    let since = |t: f64| there.map(|there| (t - there).max(WORD_S));
    let off = beacon.off.map(|at| scene.t(at));
    let off = off.map(|t| Recovery { t, by: RecoveredBy::Off, off: since(t) });
    let logged = said.iter().filter(|it| it.against.is_none()).map(|it| Recovery {
        t: it.t,
        by: RecoveredBy::Logbook,
        off: since(it.t),
    });
    let moved = moves_with_ship(scene, there);
    let all = off.into_iter().chain(logged).chain(moved).filter(|it| it.t >= alarm);
    all.min_by(|one, other| one.t.total_cmp(&other.t))
}

/// When the ship left the place where she had been at the casualty, if its positions went with her.
fn moves_with_ship(scene: &Scene<'_>, there: Option<f64>) -> Option<Recovery> {
    let rides = scene.rides_from?;
    let (_, last) = scene.adrift.as_ref()?.span()?;
    let begin = there.unwrap_or(last).min(rides);
    let is_there = |step: &&Step| {
        let away = scene.in_water(step.t).map(|it| (metres(step.place - it.place), it.place_sd()));
        away.is_some_and(|(away, sd)| away <= THERE_M + sd)
            && scene.speed_against(step).is_some_and(|speed| speed.0 < GOES_ON.0)
    };
    let left = scene.steps(begin, rides).iter().rfind(is_there).map(|step| step.t);
    let t = left.filter(|_| there.is_some()).unwrap_or(rides);
    Some(Recovery { t, by: RecoveredBy::MovesWithShip, off: Some(t - begin + LEAVES_S) })
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
