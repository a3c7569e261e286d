//! The numbers of how far apart ship and casualty were, each as sure as the places it is made from.

use super::adrift::{Basis, KNOT_M_S, Sighting};
use super::approach::{At, pass_words};
use super::found::{Extreme, Found};
use super::measured::{Measured, known, within};
use super::measures::{ApproachMeasures, CasualtyDrift, Pass};
use super::scene::Scene;
use super::turn::TURN_S;
use crate::navigation::{CIRCLE_95, Velocity};
use crate::time::Utc;
use crate::units::{Knots, NauticalMiles};

pub(super) const NO_RANGE: &str = "own position and the beacon's are not both known";
const NO_APPROACH: &str = "own ship was not seen to come nearer by more than 40 m";

/// From so many positions in the water on a drift is theirs alone. Our own.
const DRIFT_FROM: usize = 3;

/// What the slope of a line between two places is off more than they are: the two ends of a fit are
/// off to opposite sides. Our own.
const OPPOSITE: f64 = 1.5;

/// What tells how the casualty drifted.
fn drift_words(scene: &Scene<'_>) -> String {
    let sightings = scene.adrift.iter().flat_map(|it| &it.sightings);
    let (held, free): (Vec<&Sighting>, Vec<&Sighting>) = sightings.partition(|it| it.is_held);
    let positions = match free.len() {
        1 => "one position in the water".to_owned(),
        count => format!("{count} positions in the water, one a burst"),
    };
    match (free.len(), held.len(), scene.basis) {
        (DRIFT_FROM.., ..) | (2, 0, Basis::Nothing) => positions,
        (2, 0, basis) => format!("{positions}, and {}", basis.words()),
        (_, 1.., Basis::Nothing) => {
            format!("{positions}, and the ship's own drift while alongside")
        }
        (_, 1.., basis) => {
            format!("{positions}, the ship's own drift while alongside, and {}", basis.words())
        }
        (_, 0, Basis::Nothing) => {
            format!("{positions}; how it drifted is not known, and counts in the tolerance")
        }
        (_, 0, basis) => format!("{positions}, carried by {}", basis.words()),
    }
}

fn range_words(scene: &Scene<'_>, off_m: f64) -> String {
    format!(
        "between own position and the casualty's, by {}; ±{:.0} m",
        drift_words(scene),
        off_m.ceil()
    )
}

/// A range at a moment, in metres.
pub(super) fn measured(scene: &Scene<'_>, at: Option<At>) -> Measured<NauticalMiles> {
    let off = at.and_then(|(t, _)| scene.range_off(t)).unwrap_or_default();
    range(scene, at.map(|(_, m)| m), off)
}

fn range(scene: &Scene<'_>, m: Option<f64>, off_m: f64) -> Measured<NauticalMiles> {
    let range = known(m.map(NauticalMiles::from_metres), &range_words(scene, off_m), NO_RANGE);
    range.within(NauticalMiles::from_metres(off_m).0)
}

/// The range when the turn began, which is not known to the second.
pub(super) fn at_turn(scene: &Scene<'_>, turn: f64) -> Measured<NauticalMiles> {
    let near = [-TURN_S, TURN_S].map(|by| scene.range_at(turn + by));
    let m = scene.range_at(turn);
    let moves = near.into_iter().flatten().zip(m).map(|(near, m)| (near - m).abs());
    let off = scene.range_off(turn).unwrap_or_default();
    range(scene, m, off + moves.fold(0.0, f64::max))
}

/// How far off she was, and how near she came.
pub(super) fn approach(scene: &Scene<'_>, found: &Found) -> ApproachMeasures {
    let when = |extreme: Option<Extreme>, how: &str, why: &str| -> Measured<Utc> {
        let at = known(extreme.map(|it| scene.utc(it.t)), how, why);
        within(at, extreme.map(|it| it.off_s))
    };
    let (greatest, closest) = (found.greatest, found.closest);
    let far = range_words(scene, greatest.map_or(0.0, |it| it.off_m));
    let near = format!(
        "the least range after an approach began, while the casualty was in the water: {}",
        range_words(scene, closest.map_or(0.0, |it| it.off_m))
    );
    let closest_m = known(closest.map(|it| it.m), &near, NO_APPROACH);
    ApproachMeasures {
        greatest_range_nm: range(
            scene,
            greatest.map(|it| it.m),
            greatest.map_or(0.0, |it| it.off_m),
        ),
        greatest_range_at: when(greatest, &far, NO_RANGE),
        closest_approach_m: within(closest_m, closest.map(|it| it.off_m)),
        closest_approach_at: when(closest, &near, NO_APPROACH),
        passes_missed: passes(scene, found),
    }
}

fn passes(scene: &Scene<'_>, found: &Found) -> Measured<Vec<Pass>> {
    let Some(passes) = &found.passes else { return Measured::not_known(NO_RANGE) };
    if found.there.is_none() && passes.at.is_empty() {
        return Measured::not_known("the boat was not seen to come back to the casualty");
    }
    if passes.is_hidden {
        return Measured::not_known("own track has a gap in which she may have passed it");
    }
    let tenths = |m: f64| (m * 10.0).round() / 10.0;
    let pass = |&(t, range_m): &At| Pass {
        at: scene.utc(t),
        range_m: tenths(range_m),
        range_m_tolerance: tenths(scene.range_off(t).unwrap_or_default()),
    };
    let all = passes.at.iter().map(pass).collect();
    Measured::known(all, pass_words()).within(passes.off as f64)
}

/// The mean drift of the time in the water.
pub(super) fn drift(scene: &Scene<'_>) -> Measured<CasualtyDrift> {
    let why = "it needs positions over a minute in the water, or wind, heading and log on board";
    let Some(adrift) = &scene.adrift else { return Measured::not_known(why) };
    let free = adrift.sightings.iter().filter(|it| !it.is_held).count();
    let all = adrift.moments();
    let ends = all.first().zip(all.get(free.max(1) - 1));
    let ends = ends.filter(|_| free >= DRIFT_FROM);
    let (velocity, sd) = match (ends, scene.basis) {
        (Some((first, last)), _) => {
            let (way, span) = (last.place - first.place, last.t - first.t);
            let off = OPPOSITE.sqrt() * first.place_sd().hypot(last.place_sd());
            (Velocity::new(way.east_m / span, way.north_m / span), off / span)
        }
        (None, Basis::Nothing) if all.len() < 2 => return Measured::not_known(why),
        (None, _) => {
            let middle = all
                .first()
                .zip(all.get(free))
                .and_then(|(first, beside)| adrift.at((first.t + beside.t) / 2.0));
            let there = middle.or(all.first().copied());
            there.map_or((adrift.expected.velocity, adrift.expected.sd), |it| {
                (it.velocity, it.velocity_sd())
            })
        }
    };
    let fixes = if free >= DRIFT_FROM { free } else { all.len() };
    let drift = CasualtyDrift {
        set_deg: velocity.towards(),
        rate_kn: velocity.speed(),
        sd_kn: Knots(sd / KNOT_M_S),
        fixes,
    };
    Measured::known(drift, format!("by {}", drift_words(scene))).within(CIRCLE_95 * sd / KNOT_M_S)
}
