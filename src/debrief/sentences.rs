//! Plain sentences from the numbers. Each says a number of the measures, or that one is not known;
//! none praises or blames.

use super::approach::{ACCURACY_M, metres, metres_within};
use super::drill::{Called, Casualty, Drill, capital};
use super::labels::{is_real, seconds, span};
use super::measured::Measured;
use super::measures::{Measures, RecoveredBy};
use super::observer::Observed;
use crate::advice::about;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::wire::ais::BeaconWord;
use crate::zone::Zone;

/// What is to be said of a casualty, in the order of the drill.
pub(super) fn of_casualty(
    casualty: &Casualty,
    when_falling: Option<String>,
    zone: Option<&Zone>,
) -> Vec<String> {
    let measures = &casualty.measures;
    let name = casualty.name();
    let parts = [
        alarm(casualty, &name, zone),
        acknowledged(measures),
        when_falling.map(|did| format!("Before the turn back {did}.")),
        turn(measures, &name),
        furthest(measures, &name, zone),
        passes(measures, &name, zone),
        arrival(measures, &name, zone),
        recovery(casualty, &name, zone),
        calls(casualty, &name),
        notices(casualty, &name),
        reception(measures, &name),
        silence(measures, &name, zone),
        ranges(measures, &name),
        accuracy(measures),
        drift(measures, &name),
        steering(measures, &name),
    ];
    parts.into_iter().flatten().map(|it| capital(&it)).collect()
}

/// The few of them that matter most: what somebody reads who reads no more.
pub fn in_short(casualty: &Casualty, zone: Option<&Zone>) -> Vec<String> {
    let measures = &casualty.measures;
    let name = casualty.name();
    let parts = [
        turn(measures, &name),
        arrival(measures, &name, zone),
        recovery(casualty, &name, zone),
        calls(casualty, &name).filter(|_| casualty.is_called_only()),
        notices(casualty, &name).filter(|_| casualty.is_called_only()),
        reception(measures, &name),
    ];
    parts.into_iter().flatten().map(|it| capital(&it)).collect()
}

fn alarm(casualty: &Casualty, name: &str, zone: Option<&Zone>) -> Option<String> {
    let measures = &casualty.measures;
    let first = Zone::both(zone, *measures.alarm.activated_at.value()?);
    let alarm = match measures.alarm.activated_to_alarm_s.value() {
        Some(s) if *s < 0.5 => "the alarm came with it".to_owned(),
        Some(s) => format!("the alarm came {} later", span(*s)),
        None => match measures.alarm.alarm_at.value() {
            Some(at) => format!("the alarm was at {}", Zone::both(zone, *at)),
            None => "no alarm was raised".to_owned(),
        },
    };
    let position = match measures.alarm.alarm_to_first_position_s.value() {
        Some(s) if *s < 0.5 => ", and with it the first position".to_owned(),
        Some(s) => format!(", and the first position {} after the alarm", span(*s)),
        None => String::new(),
    };
    let begun = casualty.calls.first().filter(|_| casualty.is_called_only());
    let heard = match begun.map(|call| call.emitter.as_deref()) {
        Some(Some(emitter)) => {
            let whom = casualty.person.as_deref().unwrap_or("a person overboard");
            format!("Crew alarm {emitter} first told of {whom} at {first}")
        }
        Some(None) => format!("The first DSC call about {name} came at {first}"),
        None => format!("{name}'s beacon was heard first at {first}"),
    };
    Some(format!("{heard}; {alarm}{position}."))
}

/// What came by DSC, and how far that tells a place.
fn calls(casualty: &Casualty, name: &str) -> Option<String> {
    let calls: Vec<&Called> = casualty.calls.iter().filter(|it| it.emitter.is_none()).collect();
    let rough = "to whole minutes alone: up to 1.4 NM off";
    let (count, told) = told(&calls, "DSC call", rough)?;
    Some(match casualty.is_called_only() && calls.len() == casualty.calls.len() {
        true => format!("{name} is known by DSC alone: {count}{told}."),
        false => format!("There {} {count} about {name}{told}.", was(&calls)),
    })
}

/// What a crew alarm on board told, and how far that tells a place.
fn notices(casualty: &Casualty, name: &str) -> Option<String> {
    let notices: Vec<&Called> = casualty.calls.iter().filter(|it| it.emitter.is_some()).collect();
    let emitter = notices.first()?.emitter.as_deref()?;
    let rough = "where the ship reckoned the emitter to be";
    let (count, told) = told(&notices, "message", rough)?;
    Some(match casualty.is_called_only() && notices.len() == casualty.calls.len() {
        true => format!(
            "{name} is known by crew alarm {emitter} on board alone (MOB sentences, neither AIS nor DSC): {count}{told}."
        ),
        false => {
            format!("There {} {count} of crew alarm {emitter} about {name}{told}.", was(&notices))
        }
    })
}

/// How many of them there are, and how many with a position; of a rough one no range is measured.
fn told(calls: &[&Called], what: &str, rough_is: &str) -> Option<(String, String)> {
    let count = calls.iter().filter(|it| !it.is_cancel).count();
    let placed = calls.iter().filter(|it| it.position.is_some()).count();
    let rough = calls.iter().filter(|it| it.position.is_some() && it.is_rough).count();
    let number = match count {
        0 => return None,
        1 => format!("one {what}"),
        count => format!("{count} {what}s"),
    };
    let told = match (placed, rough) {
        (0, _) => ", without a position".to_owned(),
        (placed, 0) => format!(", {placed} with a position"),
        (placed, rough) => format!(
            ", {placed} with a position, {rough} of them {rough_is}; no range is measured from those"
        ),
    };
    Some((number, told))
}

fn was(calls: &[&Called]) -> &'static str {
    let count = calls.iter().filter(|it| !it.is_cancel).count();
    if count == 1 { "was" } else { "were" }
}

fn acknowledged(measures: &Measures) -> Option<String> {
    let s = measures.alarm.alarm_to_acknowledged_s.value()?;
    Some(format!("Somebody acknowledged the alarm {} after it.", span(*s)))
}

/// How far a number may be off, to stand behind it.
fn give_or_take<T>(number: &Measured<T>, say: impl Fn(f64) -> String) -> String {
    number.tolerance().map_or(String::new(), |off| format!(" (±{})", say(off.ceil())))
}

fn turn(measures: &Measures, name: &str) -> Option<String> {
    let turn = &measures.turn;
    let Some(lost) = turn.alarm_to_turn_s.value() else {
        let why = turn.turn_begun_at.value().is_none().then(|| turn.turn_begun_at.how())?;
        return Some(format!("When the boat turned back to {name} is not known: {why}."));
    };
    let off = give_or_take(&turn.alarm_to_turn_s, span);
    let after = if *lost < 0.5 {
        format!("The boat had begun to turn back to {name} when the alarm came{off}")
    } else {
        format!("The turn back to {name} began {} after the alarm{off}", span(*lost))
    };
    let sailed = turn.alarm_to_turn_m.value().filter(|m| **m >= 1.0);
    let sailed = sailed.map_or(String::new(), |m| {
        format!(", {} sailed in that time", metres_within(*m, turn.alarm_to_turn_m.tolerance()))
    });
    let range = range_said(&turn.range_at_turn_nm);
    let range = range.map_or(String::new(), |nm| format!("; {name} was {nm} away then"));
    let pointing = turn.turn_to_pointing_s.value().map_or(String::new(), |s| {
        let off = give_or_take(&turn.turn_to_pointing_s, span);
        format!(". The bow pointed at {name} {} after that{off}", span(*s))
    });
    Some(format!("{after}{sailed}{range}{pointing}."))
}

fn range_said(range: &Measured<NauticalMiles>) -> Option<String> {
    let off = range.tolerance().map(|off| NauticalMiles(off).metres());
    range.value().map(|nm| metres_within(nm.metres(), off))
}

fn furthest(measures: &Measures, name: &str, zone: Option<&Zone>) -> Option<String> {
    let range = range_said(&measures.approach.greatest_range_nm)?;
    let at = measures.approach.greatest_range_at.value()?;
    Some(format!(
        "The greatest range to {name} in the water that the recording shows was {range}, at {}.",
        Zone::both(zone, *at)
    ))
}

fn passes(measures: &Measures, name: &str, zone: Option<&Zone>) -> Option<String> {
    let passes = measures.approach.passes_missed.value().filter(|passes| !passes.is_empty())?;
    let each = passes.iter().map(|pass| {
        let nearest = metres_within(pass.range_m, Some(pass.range_m_tolerance));
        format!("{nearest} at {}", Zone::both(zone, pass.at))
    });
    let each: Vec<String> = each.collect();
    let times = match each.len() {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        count => format!("{count} times"),
    };
    Some(format!(
        "The boat came near {name} and went away again {times}, nearest: {}.",
        each.join(", ")
    ))
}

fn arrival(measures: &Measures, name: &str, zone: Option<&Zone>) -> Option<String> {
    let (approach, there) = (&measures.approach, &measures.recovery.at_casualty_at);
    let closest = approach.closest_approach_m.value().zip(approach.closest_approach_at.value());
    let closest = closest.map(|(m, at)| {
        let closest = metres_within(*m, approach.closest_approach_m.tolerance());
        format!("the closest approach was {closest} at {}", Zone::both(zone, *at))
    });
    let arrived = there.value().map(|at| {
        let off = give_or_take(there, span);
        format!(
            "the boat was alongside {name} (within 50 m, and slow) at {}{off}",
            Zone::both(zone, *at)
        )
    });
    match (arrived, closest) {
        (Some(arrived), Some(closest)) => Some(format!("{arrived}; {closest}.")),
        (Some(arrived), None) => Some(format!("{arrived}.")),
        (None, closest) => closest.map(|closest| {
            format!("The boat was not seen to stop at {name}; {closest}, as far as recorded.")
        }),
    }
}

fn recovery(casualty: &Casualty, name: &str, zone: Option<&Zone>) -> Option<String> {
    let measures = &casualty.measures;
    let Some(at) = measures.recovery.recovered_at.value() else {
        return Some(format!(
            "When {name} was out of the water is not known: {}.",
            measures.recovery.recovered_at.how()
        ));
    };
    let is_cancelled = casualty.calls.iter().any(|it| it.is_cancel && it.at == *at);
    let by = measures.recovery.recovered_by?;
    let most = if by.is_bound() { "at most " } else { "" };
    let after = |time: &Measured<f64>, what: &str| {
        time.value().map_or(String::new(), |s| format!(", {most}{} after {what}", span(*s)))
    };
    let beside = after(&measures.recovery.at_casualty_to_recovered_s, "the boat was alongside");
    let total = after(&measures.recovery.total_s, "the first message");
    let was_there = measures.recovery.at_casualty_at.value().is_some();
    let counts = match was_there {
        true => "which counts as the recovery".to_owned(),
        false => format!("which counts as the recovery, though the boat was not seen at {name}"),
    };
    let said = match by {
        RecoveredBy::Off if is_cancelled => {
            format!("The distress of {name} was cancelled by DSC, {counts}, at")
        }
        RecoveredBy::Off => {
            format!("{name}'s beacon said {}, {counts}, at", last_word(casualty, *at))
        }
        // The boat may never have moved: somebody swam, or a dinghy fetched them.
        RecoveredBy::MovesWithShip if !was_there => format!("{name}'s beacon was on board by"),
        RecoveredBy::MovesWithShip => {
            format!("{name} was out of the water before the boat went on with the beacon, at")
        }
        RecoveredBy::Logbook => format!("By the logbook {name} was out of the water at"),
    };
    Some(format!("{said} {}{beside}{total}.", Zone::both(zone, *at)))
}

/// What the beacon itself said when it was over.
fn last_word(casualty: &Casualty, at: Utc) -> &'static str {
    let mut words = casualty.receptions.iter().filter(|it| it.at == at).filter_map(|it| it.word);
    if words.any(|word| word == BeaconWord::Cancel) { "CANCEL" } else { "OFF" }
}

fn reception(measures: &Measures, name: &str) -> Option<String> {
    let (heard, sent) =
        (measures.reception.messages_heard.value()?, measures.reception.messages_expected.value()?);
    let (a, b) = (measures.reception.heard_a.value()?, measures.reception.heard_b.value()?);
    let share = percent(*heard, *sent)?;
    let water = measures.reception.heard_in_water.value();
    let parted = water.zip(measures.reception.expected_in_water.value());
    let parted = parted.and_then(|(heard, sent)| Some((heard, sent, percent(*heard, *sent)?)));
    let water = parted.map_or(String::new(), |(heard, sent, share)| {
        format!(" Before the recovery it was {heard} of about {sent} ({share} %).")
    });
    let told = match heard.saturating_sub(a + b) {
        0 => format!("{a} on channel A, {b} on channel B"),
        rest if a + b == 0 => format!("on which channel is not recorded for any of the {rest}"),
        rest => format!("{a} on channel A, {b} on channel B, {rest} on a channel not recorded"),
    };
    let were = if *heard == 1 { "was" } else { "were" };
    Some(format!(
        "Of about {sent} messages that {name}'s beacon sent from the first to the last that was heard, {heard} {were} heard ({share} %): {told}.{water}"
    ))
}

fn silence(measures: &Measures, name: &str, zone: Option<&Zone>) -> Option<String> {
    let (s, from) = (
        measures.reception.longest_silence_s.value()?,
        measures.reception.longest_silence_from.value()?,
    );
    // Less is the pause between two bursts.
    (*s >= 60.0).then(|| {
        format!(
            "The longest time without a message of {name}'s beacon was {}, from {}.",
            span(*s),
            Zone::both(zone, *from)
        )
    })
}

fn ranges(measures: &Measures, name: &str) -> Option<String> {
    let reception = &measures.reception;
    let first = range_said(&reception.first_heard_range_nm)?;
    let last = range_said(&reception.last_heard_range_nm)?;
    let most = range_said(&reception.greatest_heard_range_nm)?;
    let estimated = reception.estimated_range_nm.value().map_or(String::new(), |nm| {
        format!(" By the reports of ships it was to be expected out to about {}.", about(*nm))
    });
    Some(format!(
        "{name}'s beacon was heard first at a range of {first}, last at {last}, and at {most} at the furthest, as far as ranges are known.{estimated}"
    ))
}

fn accuracy(measures: &Measures) -> Option<String> {
    let error = measures.position_error.value()?;
    Some(format!(
        "Beacon and ship told places {:.0} m apart on average, {:.0} m at the most, in {} positions, {}.",
        error.mean_m,
        error.greatest_m,
        error.fixes,
        measures.position_error.how()
    ))
}

fn drift(measures: &Measures, name: &str) -> Option<String> {
    let drift = measures.drift.value()?;
    let off = measures.drift.tolerance().unwrap_or(drift.sd_kn.0);
    let positions = if drift.fixes == 1 {
        "1 position".to_owned()
    } else {
        format!("{} positions", drift.fixes)
    };
    // A drift that may be none leads nowhere.
    if drift.rate_kn.0 <= off {
        return Some(format!(
            "{name} drifted at less than {:.1} kn; in which direction is not known ({positions}).",
            ((drift.rate_kn.0 + off) * 10.0).ceil() / 10.0
        ));
    }
    Some(format!(
        "{name} drifted {:03.0}° at {} (±{off:.2} kn, {positions}).",
        drift.set_deg.value().round() % 360.0,
        drift.rate_kn,
    ))
}

fn steering(measures: &Measures, name: &str) -> Option<String> {
    let way = measures.turn.steering.value()?;
    let more = way.sailed_m - way.needed_m;
    let off = way.sailed_m_tolerance.hypot(way.needed_m_tolerance).max(ACCURACY_M);
    let more = if more < off {
        format!("no more than {} less", metres((more.max(0.0) + off).ceil()))
    } else {
        format!("{} less", metres(more))
    };
    Some(format!(
        "From the turn to {name} the boat sailed {} in {}; the straight way to meet {name} at the same mean speed was {} in {}, {more}. The course averaged {:.0}° off the best one.",
        metres(way.sailed_m),
        span(way.taken_s),
        metres(way.needed_m),
        span(way.needed_s),
        way.mean_difference_deg
    ))
}

/// What is to be said of a recording as a whole.
pub(super) fn of_recording(drill: &Drill, seen: &Observed) -> Vec<String> {
    let zone = drill.zone.as_ref();
    let mut said = Vec::new();
    let mut say = |is_so: bool, what: &str| {
        if is_so {
            said.push(what.to_owned());
        }
    };
    let untold = drill.ended.is_some_and(|ended| !is_real(ended));
    say(drill.begun.is_none(), "There is no valid sentence in the recording.");
    say(untold, "The recording tells no time: its lines were counted, 75 a second.");
    say(
        seen.moved,
        "The parts of the recording were not in the order of their times; the later ones are shown as if they went on behind the earlier ones.",
    );
    say(
        seen.overlaps,
        "Parts of the recording overlap: what was in an earlier one is not counted again.",
    );
    say(
        drill.casualties.is_empty(),
        "No active beacon was heard, and no call about somebody overboard: there is nothing to measure.",
    );
    for gap in &drill.not_watched {
        let words = format!(
            "Nothing was recorded from {} to {} ({}): what was sent then is not known, and not counted as lost.",
            Zone::both(zone, gap.from),
            Zone::both(zone, gap.until),
            span(seconds(gap.from, gap.until))
        );
        say(true, &words);
    }
    say(drill.rehearsed, "It was a rehearsal: its lines are marked so.");
    say(seen.own.is_empty() && drill.begun.is_some(), "Own position is not in the recording.");
    let no_heading = !seen.own.is_empty() && seen.own.iter().all(|it| it.heading_deg.is_none());
    say(
        no_heading,
        "No heading is in the recording: the course over ground stands in for it, distorted by leeway and current.",
    );
    say(seen.overflown, "More beacons were heard than are followed: strangers were left out.");
    let tested: Vec<String> =
        seen.others.iter().filter_map(|it| Some(it.mmsi?.to_string())).collect();
    let tested_words = format!("Heard in test only, and not measured: {}.", tested.join(", "));
    say(!tested.is_empty(), &tested_words);
    if let Some(wind) = drill.wind.value() {
        let words = format!(
            "The wind came from {:03.0}° at {:.0} kn on average. Sea state was not recorded.",
            wind.from_deg.value().round() % 360.0,
            wind.speed_kn.0
        );
        say(true, &words);
    }
    said
}

fn percent(part: u32, whole: u32) -> Option<u32> {
    (whole > 0).then(|| (f64::from(part) / f64::from(whole) * 100.0).round() as u32)
}
