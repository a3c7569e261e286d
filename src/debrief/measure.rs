//! Puts what was found into numbers, each with how it was determined.

use super::adrift::KNOT_M_S;
use super::approach::{Arrival, there_words};
use super::called::Call;
use super::drill::{Called, Casualty, CasualtyFix, Drill, RangeAt, Unwatched, Wind};
use super::events;
use super::found::{Extreme, Found};
use super::heard::Beacon;
use super::labels::moved;
use super::log::LogEntry;
use super::measured::{Measured, known, within};
use super::measures::{
    AlarmMeasures, Measures, PositionError, RecoveredBy, RecoveryMeasures, Steering, TurnMeasures,
};
use super::observer::Observed;
use super::ranges;
use super::reception;
use super::recovery::{Recovery, position_error};
use super::scene::{Scene, metres};
use super::sentences;
use super::told;
use super::turn::{POINTING_TOLERANCE_S, TURN_S, pointing_words, turn_words};
use super::way_back::{SAILED_OFF, sailed_m, steering};
use crate::navigation::{AT_CASUALTY, TURNED};
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::zone::Zone;

/// Where own ship and casualty are in one place after a recovery: fixes of this long count.
/// Our own.
const ABOARD_S: f64 = 5.0 * 60.0;

/// A way that ends further from the casualty than this, in metres, is not compared with the best one.
/// Our own.
const SHORT_M: f64 = 50.0;

/// A time without a recording so long before the first message is of interest. Our own.
const BEFORE_MS: i64 = 3 * 60_000;

const NO_LOG: &str = "a recording does not tell it; the logbook does: --from-logbook";

/// The drill that was observed.
pub(super) fn drill(seen: Observed) -> Drill {
    let wind = seen.wind.mean();
    let not_watched = of_interest(&seen);
    let mut casualties = Vec::new();
    let mut all_events = Vec::new();
    if let Some(span) = seen.span {
        let is_only = seen.casualties.len() == 1;
        let log = seen.about.log.as_deref();
        for beacon in &seen.casualties {
            let mut scene = Scene::of(beacon, &seen.own, &seen.not_watched, span);
            told::sort_out(&mut scene, wind.value());
            let log = log.map(|log| of_incident(log, beacon, &seen.casualties));
            let found = Found::in_scene(&mut scene, log.as_deref(), is_only);
            let Some(found) = found else { continue };
            events::of_casualty(&scene, &found, wind.value(), &mut all_events);
            let known = (wind.value(), seen.about.zone.as_ref());
            casualties.push(casualty(&scene, &found, log.is_some(), known));
        }
        // The logbook may tell of more than is recorded.
        let told =
            seen.about.around.map_or(span, |(from, until)| (span.0.min(from), span.1.max(until)));
        events::of_log(log.unwrap_or_default(), told, &seen.own, &mut all_events);
        let zone = seen.about.zone.as_ref();
        events::of_gaps(&not_watched, &seen.own, zone, &mut all_events);
    }
    let mut drill = Drill {
        recording: seen.about.recording.clone(),
        ship: seen.about.ship.clone(),
        zone: seen.about.zone.clone(),
        begun: seen.span.map(|(first, _)| first),
        ended: seen.span.map(|(_, last)| last),
        rehearsed: seen.rehearsed,
        own_track: Vec::new(),
        wind,
        not_watched,
        events: events::numbered(all_events),
        casualties,
        findings: Vec::new(),
    };
    drill.findings = sentences::of_recording(&drill, &seen);
    drill.own_track = seen.own;
    drill
}

/// The times without a recording from shortly before the first casualty was heard on.
fn of_interest(seen: &Observed) -> Vec<Unwatched> {
    let first = seen.casualties.iter().filter_map(Beacon::first).min();
    let first = first.map(|first| moved(first, -BEFORE_MS));
    let logged = seen.about.around.map(|(from, _)| from);
    let from = first.into_iter().chain(logged).min();
    let all = seen.not_watched.iter().filter(|gap| from.is_none_or(|from| gap.until > from));
    all.copied().collect()
}

/// What the logbook tells of one of the incidents of a beacon, which may be activated again after
/// it said OFF.
fn of_incident(log: &[LogEntry], beacon: &Beacon, all: &[Beacon]) -> Vec<LogEntry> {
    let others = || all.iter().filter(|it| it.mmsi == beacon.mmsi);
    let first = beacon.first();
    let before = others().filter(|it| it.first() < first).filter_map(|it| it.last).max();
    let after = others().filter(|it| it.first() > first).filter_map(Beacon::first).min();
    let is_of = |it: &&LogEntry| {
        before.is_none_or(|end| it.at > end) && after.is_none_or(|begin| it.at < begin)
    };
    log.iter().filter(is_of).cloned().collect()
}

fn casualty(
    scene: &Scene<'_>,
    found: &Found,
    has_log: bool,
    (wind, zone): (Option<&Wind>, Option<&Zone>),
) -> Casualty {
    let receptions = reception::received(scene);
    let bursts = reception::bursts(scene, &receptions);
    let measures = Measures {
        alarm: alarm(scene, found, has_log),
        turn: turn(scene, found),
        approach: ranges::approach(scene, found),
        recovery: recovery(scene, found),
        reception: reception::measured(scene, found, &receptions, &bursts),
        position_error: accuracy(scene, found),
        drift: ranges::drift(scene),
    };
    let fixes = scene.fixes.iter().filter_map(|&(t, place)| {
        Some(CasualtyFix { at: scene.utc(t), position: scene.position(place)? })
    });
    let ranges = scene.steps(found.first, scene.end).iter().filter_map(|step| {
        let beside = step.place - scene.casualty_at(step.t)?;
        let range_nm = NauticalMiles::from_metres(metres(beside));
        Some(RangeAt { at: scene.utc(step.t), range_nm, beside })
    });
    let mut casualty = Casualty {
        mmsi: scene.beacon.mmsi,
        kind: scene.beacon.kind,
        person: scene.beacon.person.clone(),
        fixes: fixes.collect(),
        track: scene.track(),
        receptions,
        calls: scene.beacon.calls.iter().map(called).collect(),
        bursts,
        ranges: ranges.collect(),
        measures,
        findings: Vec::new(),
    };
    let when_falling = found.when_falling(scene, wind, zone);
    casualty.findings = sentences::of_casualty(&casualty, when_falling, zone);
    casualty
}

fn called(call: &Call) -> Called {
    let Call { at, by, ref emitter, place, is_rough, is_cancel } = *call;
    let position = place.map(|(_, place)| place);
    Called { at, by, emitter: emitter.clone(), position, is_rough, is_cancel }
}

fn alarm(scene: &Scene<'_>, found: &Found, has_log: bool) -> AlarmMeasures {
    let when = |t: f64| scene.utc(t);
    let alarm_at = known(
        found.alarm.map(when),
        if found.alarm_logged {
            "the logbook's entry of the alarm"
        } else {
            "the first alarm of the watch about it"
        },
        "the watch raised none",
    );
    let acknowledged_at = known(
        found.acknowledged.map(when),
        "the logbook's entry of the acknowledgement",
        match (has_log, scene.beacon.mmsi) {
            (false, _) => NO_LOG,
            (true, None) => "it names no station, and the logbook has acknowledgements by station",
            (true, Some(_)) => "the logbook has no acknowledgement of it",
        },
    );
    let first_position_at = known(
        found.first_fix.map(when),
        "the first message with a position that was determined then",
        "no message and no call told one",
    );
    let first_how = if found.first_logged {
        "the logbook's entry of its first message; the recordings begin later"
    } else if found.is_late {
        "the first message heard; the recording begins less than a minute before it, so the beacon \
         may have been active earlier"
    } else if scene.beacon.messages.is_empty() {
        "the first that was told of it, by DSC or by a crew alarm"
    } else {
        "the first message heard: mostly within a minute of the activation of the beacon, later where \
         messages were lost"
    };
    AlarmMeasures {
        activated_at: Measured::known(when(found.first), first_how),
        activated_to_alarm_s: since_first(found, found.alarm, &alarm_at),
        alarm_to_acknowledged_s: between(found.alarm, found.acknowledged, &acknowledged_at),
        alarm_to_first_position_s: between(found.alarm, found.first_fix, &first_position_at),
        alarm_at,
        acknowledged_at,
        first_position_at,
    }
}

fn turn(scene: &Scene<'_>, found: &Found) -> TurnMeasures {
    let when = |t: f64| scene.utc(t);
    let how = turn_words(found.compass, found.turns.is_blind);
    let turn_begun_at =
        known(found.turns.back.map(when), &how, no_turn(scene, found)).within(TURN_S);
    let pointing_at = known(
        found.pointing.map(when),
        &pointing_words(found.compass),
        "the bow was not seen to stay on the casualty after a turn",
    )
    .within(POINTING_TOLERANCE_S);
    TurnMeasures {
        alarm_to_turn_s: between(found.alarm, found.turns.back, &turn_begun_at),
        alarm_to_turn_m: lost_m(scene, found),
        range_at_turn_nm: match found.turns.back {
            Some(turn) => ranges::at_turn(scene, turn),
            None => Measured::not_known("when the boat turned is not known"),
        },
        turn_to_pointing_s: between(found.turns.back, found.pointing, &pointing_at),
        steering: way_back(scene, found),
        turn_begun_at,
        pointing_at,
    }
}

fn way_back(scene: &Scene<'_>, found: &Found) -> Measured<Steering> {
    let nearest = found.closest.map(|it| Arrival { t: it.t, off: it.off_s });
    let arrival = found.there.or(nearest);
    let way = found.turns.back.zip(arrival).filter(|(turn, arrival)| arrival.t > *turn);
    // A pass is no arrival.
    let opens = |it: Extreme| {
        let later = scene.ranges(it.t, scene.end);
        later.iter().any(|(_, m)| *m > it.m + TURNED.metres())
    };
    let is_short =
        found.there.is_none() && found.closest.is_some_and(|it| it.m > SHORT_M || opens(it));
    if is_short {
        return Measured::not_known(
            "the way back was not seen to its end: the recording ends short of the casualty, or the \
             boat went on",
        );
    }
    known(
        way.and_then(|(turn, arrival)| steering(scene, turn, arrival)),
        "the course over ground against that of an interception of the drifting casualty at the \
         same speed, second by second from the turn to the casualty, further off than 100 m; the \
         way needed is that of an interception begun at the turn at the mean speed",
        "turn, approach and both positions are needed for it",
    )
}

fn recovery(scene: &Scene<'_>, found: &Found) -> RecoveryMeasures {
    let until = found.recovery.as_ref().map(|it| it.t);
    let off = found.recovery.as_ref().and_then(|it| it.off);
    let at_casualty_at = known(
        found.there.map(|it| scene.utc(it.t)),
        &there_words(),
        "own ship was not seen close to the casualty and slow",
    );
    let at_casualty_at = within(at_casualty_at, found.there.map(|it| it.off));
    let recovered_at = match &found.recovery {
        Some(it) => Measured::known(scene.utc(it.t), it.how()),
        None => Measured::not_known(match found.said_over.last().and_then(|it| it.against) {
            Some(why) => format!("somebody said that it was over, but {why}"),
            None => "neither OFF nor CANCEL was heard, the beacon's positions did not move with \
                     the ship, and no logbook says it"
                .to_owned(),
        }),
    };
    let recovered_at = within(recovered_at, off);
    let beside = between(found.there.map(|it| it.t), until, &at_casualty_at);
    RecoveryMeasures {
        at_casualty_to_recovered_s: within(
            beside,
            off.zip(found.there).map(|(off, there)| off + there.off),
        ),
        total_s: within(since_first(found, until, &recovered_at), off),
        recovered_by: found.recovery.as_ref().map(|it| it.by),
        at_casualty_at,
        recovered_at,
    }
}

/// Seconds from one moment to another, 0 if it came before. What the later one lacks is why it is
/// not known.
fn between(from: Option<f64>, until: Option<f64>, later: &Measured<Utc>) -> Measured<f64> {
    match (from, until) {
        (Some(from), Some(until)) => {
            let how = if until < from { "it came before" } else { later.how() };
            let span = Measured::known((until - from).max(0.0), how);
            later.tolerance().map_or(span.clone(), |off| span.within(off))
        }
        (None, _) => Measured::not_known("its beginning is not known"),
        (_, None) => Measured::not_known(later.how()),
    }
}

/// Seconds from the first message to a later moment, which the recording tells if it has the first.
fn since_first(found: &Found, until: Option<f64>, later: &Measured<Utc>) -> Measured<f64> {
    if found.is_late {
        return Measured::not_known("the beacon may have been active before the recording began");
    }
    between(Some(found.first), until, later)
}

fn no_turn(scene: &Scene<'_>, found: &Found) -> &'static str {
    if scene.steps(found.first, scene.end).is_empty() {
        "own position is not in the recording"
    } else if found.turns.is_unseen {
        "own track has a gap after the fall, in which the boat turned"
    } else if found.turns.is_unsure {
        "the boat turned so near the casualty that positions do not tell whether it led back to it"
    } else {
        "no turn was seen that ended on a course towards the casualty; the boat may have been slow, \
         or the recording has too little before or after it"
    }
}

fn lost_m(scene: &Scene<'_>, found: &Found) -> Measured<f64> {
    let (Some(alarm), Some(turn)) = (found.alarm, found.turns.back) else {
        return Measured::not_known("the alarm or the turn is not known");
    };
    let sailed = if turn <= alarm { Some(0.0) } else { sailed_m(scene, alarm, turn) };
    let then = scene.step_at(turn).and_then(|step| step.sog).map_or(0.0, |sog| sog.0 * KNOT_M_S);
    let off = sailed.map(|m| m * SAILED_OFF + then * TURN_S);
    let sailed = known(
        sailed,
        "speed over ground, summed up from the alarm to the turn; ±10 %",
        "own track has a gap there",
    );
    within(sailed, off)
}

/// After the recovery both are in one place; before it, alongside, there is some water between.
fn accuracy(scene: &Scene<'_>, found: &Found) -> Measured<PositionError> {
    // Of a beacon that said OFF while the boat was elsewhere, another has recovered its bearer.
    let with_ship = |it: &&Recovery| it.by == RecoveredBy::MovesWithShip || found.there.is_some();
    let aboard = found.recovery.as_ref().filter(with_ship).and_then(|it| {
        let off = scene.beacon.off.map_or(f64::INFINITY, |off| scene.t(off) + 20.0);
        let until = off.min(it.t + ABOARD_S);
        Some((position_error(scene, it.t, until)?, scene.own_off(it.t, until)))
    });
    if let Some((error, off)) = aboard {
        let how =
            "between the beacon's positions on board and the ship's, which are off themselves";
        return Measured::known(error, how).within(off);
    }
    let until = found.recovery.as_ref().map_or(scene.end, |it| it.t);
    let alongside = found.there.and_then(|there| {
        let off = AT_CASUALTY.metres() + scene.own_off(there.t, until);
        Some((position_error(scene, there.t, until)?, off))
    });
    let error = known(
        alongside.map(|(error, _)| error),
        "between the beacon's positions and the ship's while the boat was at the casualty: up to 50 m \
         of it may be water between them",
        "the beacon told no position while the ship was with it",
    );
    within(error, alongside.map(|(_, off)| off))
}
