//! A debrief as JSON. The keys are documented in docs/debrief.md.

use serde::Serialize;
use serde_json::{Value, json};

use super::drill::{
    Casualty, CasualtyDrift, Drill, Pass, PositionError, RangeBand, RecoveredBy, Steering,
};
use super::measured::Measured;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::time::Utc;
use crate::units::NauticalMiles;

/// The version of `debrief.json`: it changes when a key changes its meaning or goes.
const VERSION: u32 = 1;

/// One casualty in one flat object: what `debrief --json` prints a line of, in the order of the
/// keys. What is not known is null. Each key but the first four is a field of [`Measures`](super::Measures).
#[derive(Debug, Serialize)]
pub struct Summary<'a> {
    recording: &'a str,
    mmsi: Mmsi,
    person: Option<&'a str>,
    kind: BeaconKind,
    activated_at: Option<Utc>,
    alarm_at: Option<Utc>,
    acknowledged_at: Option<Utc>,
    first_position_at: Option<Utc>,
    turn_begun_at: Option<Utc>,
    pointing_at: Option<Utc>,
    closest_approach_at: Option<Utc>,
    closest_approach_m: Option<f64>,
    greatest_range_nm: Option<NauticalMiles>,
    greatest_range_at: Option<Utc>,
    range_at_turn_nm: Option<NauticalMiles>,
    passes_missed: Option<&'a [Pass]>,
    at_casualty_at: Option<Utc>,
    recovered_at: Option<Utc>,
    recovered_by: Option<RecoveredBy>,
    activated_to_alarm_s: Option<f64>,
    alarm_to_acknowledged_s: Option<f64>,
    alarm_to_first_position_s: Option<f64>,
    alarm_to_turn_s: Option<f64>,
    alarm_to_turn_m: Option<f64>,
    turn_to_pointing_s: Option<f64>,
    at_casualty_to_recovered_s: Option<f64>,
    total_s: Option<f64>,
    messages_heard: Option<u32>,
    messages_expected: Option<u32>,
    heard_a: Option<u32>,
    heard_b: Option<u32>,
    longest_silence_s: Option<f64>,
    longest_silence_from: Option<Utc>,
    first_heard_range_nm: Option<NauticalMiles>,
    last_heard_range_nm: Option<NauticalMiles>,
    greatest_heard_range_nm: Option<NauticalMiles>,
    reception_by_range: Option<&'a [RangeBand]>,
    drift: Option<CasualtyDrift>,
    position_error: Option<PositionError>,
    steering: Option<Steering>,
    findings: Vec<&'a str>,
}

impl<'a> Summary<'a> {
    /// That of a casualty of a drill.
    pub fn of(drill: &'a Drill, casualty: &'a Casualty) -> Self {
        let measures = &casualty.measures;
        Self {
            recording: &drill.recording,
            mmsi: casualty.mmsi,
            person: casualty.person.as_deref(),
            kind: casualty.kind,
            activated_at: measures.activated_at.value().copied(),
            alarm_at: measures.alarm_at.value().copied(),
            acknowledged_at: measures.acknowledged_at.value().copied(),
            first_position_at: measures.first_position_at.value().copied(),
            turn_begun_at: measures.turn_begun_at.value().copied(),
            pointing_at: measures.pointing_at.value().copied(),
            closest_approach_at: measures.closest_approach_at.value().copied(),
            closest_approach_m: tenths(&measures.closest_approach_m),
            greatest_range_nm: measures.greatest_range_nm.value().copied(),
            greatest_range_at: measures.greatest_range_at.value().copied(),
            range_at_turn_nm: measures.range_at_turn_nm.value().copied(),
            passes_missed: measures.passes_missed.value().map(Vec::as_slice),
            at_casualty_at: measures.at_casualty_at.value().copied(),
            recovered_at: measures.recovered_at.value().copied(),
            recovered_by: measures.recovered_by,
            activated_to_alarm_s: tenths(&measures.activated_to_alarm_s),
            alarm_to_acknowledged_s: tenths(&measures.alarm_to_acknowledged_s),
            alarm_to_first_position_s: tenths(&measures.alarm_to_first_position_s),
            alarm_to_turn_s: tenths(&measures.alarm_to_turn_s),
            alarm_to_turn_m: tenths(&measures.alarm_to_turn_m),
            turn_to_pointing_s: tenths(&measures.turn_to_pointing_s),
            at_casualty_to_recovered_s: tenths(&measures.at_casualty_to_recovered_s),
            total_s: tenths(&measures.total_s),
            messages_heard: measures.messages_heard.value().copied(),
            messages_expected: measures.messages_expected.value().copied(),
            heard_a: measures.heard_a.value().copied(),
            heard_b: measures.heard_b.value().copied(),
            longest_silence_s: tenths(&measures.longest_silence_s),
            longest_silence_from: measures.longest_silence_from.value().copied(),
            first_heard_range_nm: measures.first_heard_range_nm.value().copied(),
            last_heard_range_nm: measures.last_heard_range_nm.value().copied(),
            greatest_heard_range_nm: measures.greatest_heard_range_nm.value().copied(),
            reception_by_range: measures.reception_by_range.value().map(Vec::as_slice),
            drift: measures.drift.value().copied(),
            position_error: measures.position_error.value().copied(),
            steering: measures.steering.value().copied(),
            findings: findings(drill, casualty),
        }
    }
}

/// A duration or distance, to a tenth.
fn tenths(measured: &Measured<f64>) -> Option<f64> {
    measured.value().map(|it| (it * 10.0).round() / 10.0)
}

/// All numbers of some recordings, with tracks, events, messages, and how each number was
/// determined: `debrief.json`.
pub fn document(drills: &[Drill]) -> Value {
    let drills: Vec<Value> = drills
        .iter()
        .map(|drill| {
            let mut whole = json!(drill);
            let casualties = drill.casualties.iter().map(|casualty| {
                let mut object = json!(Summary::of(drill, casualty));
                if let (Value::Object(object), Value::Object(all)) = (&mut object, json!(casualty))
                {
                    let further = all.into_iter().filter(|(key, _)| key != "findings");
                    object.extend(further);
                }
                object
            });
            whole["casualties"] = casualties.collect();
            whole
        })
        .collect();
    json!({ "version": VERSION, "recordings": drills })
}

/// What is to be said of the casualty, and of the recording it is in.
fn findings<'a>(drill: &'a Drill, casualty: &'a Casualty) -> Vec<&'a str> {
    casualty.findings.iter().chain(&drill.findings).map(String::as_str).collect()
}
