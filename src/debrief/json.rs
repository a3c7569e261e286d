//! A debrief as JSON. The keys are documented in docs/debrief.md.

use serde::ser::SerializeMap as _;
use serde::{Serialize, Serializer};
use serde_json::{Map, Value, json};

use super::drill::{Casualty, Drill};

/// The version of `debrief.json`: it changes when a key changes its meaning or goes. Our own.
const VERSION: u32 = 1;

/// The keys of [`Measures`](super::Measures) in the order they are printed.
const KEYS: [&str; 39] = [
    "activated_at",
    "alarm_at",
    "acknowledged_at",
    "first_position_at",
    "turn_begun_at",
    "pointing_at",
    "closest_approach_at",
    "closest_approach_m",
    "greatest_range_nm",
    "greatest_range_at",
    "range_at_turn_nm",
    "passes_missed",
    "at_casualty_at",
    "recovered_at",
    "recovered_by",
    "activated_to_alarm_s",
    "alarm_to_acknowledged_s",
    "alarm_to_first_position_s",
    "alarm_to_turn_s",
    "alarm_to_turn_m",
    "turn_to_pointing_s",
    "at_casualty_to_recovered_s",
    "total_s",
    "messages_heard",
    "messages_expected",
    "heard_in_water",
    "expected_in_water",
    "heard_a",
    "heard_b",
    "longest_silence_s",
    "longest_silence_from",
    "first_heard_range_nm",
    "last_heard_range_nm",
    "greatest_heard_range_nm",
    "estimated_range_nm",
    "reception_by_range",
    "drift",
    "position_error",
    "steering",
];

/// One casualty in one flat object: what `debrief --json` prints a line of. What is not known is
/// null.
#[derive(Debug)]
pub struct CasualtySummary<'a> {
    drill: &'a Drill,
    casualty: &'a Casualty,
}

impl<'a> CasualtySummary<'a> {
    /// That of a casualty of a drill.
    pub const fn of(drill: &'a Drill, casualty: &'a Casualty) -> Self {
        Self { drill, casualty }
    }
}

impl Serialize for CasualtySummary<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { drill, casualty } = self;
        let measures = json!(casualty.measures);
        let mut object = serializer.serialize_map(None)?;
        object.serialize_entry("recording", &drill.recording)?;
        object.serialize_entry("mmsi", &casualty.mmsi)?;
        object.serialize_entry("person", &casualty.person)?;
        object.serialize_entry("kind", &casualty.kind)?;
        let mut inferred = Map::new();
        for key in KEYS {
            let measure = &measures[key];
            let value = measure.get("value").unwrap_or(measure);
            match value.as_f64().filter(|_| key.ends_with("_s") || key.ends_with("_m")) {
                // A duration or a distance in metres, to a tenth.
                Some(number) => object.serialize_entry(key, &((number * 10.0).round() / 10.0))?,
                None => object.serialize_entry(key, value)?,
            }
            if let Some(tolerance) = measure.get("tolerance") {
                object.serialize_entry(&format!("{key}_tolerance"), tolerance)?;
            }
            let is_inferred = |of: &Value| {
                of.as_object().is_some_and(|of| of.keys().any(|key| key.ends_with("tolerance")))
            };
            if is_inferred(measure) || is_inferred(value) {
                inferred.insert(key.to_owned(), measure["how"].clone());
            }
        }
        object.serialize_entry("how", &inferred)?;
        object.serialize_entry("not_watched", &drill.not_watched)?;
        // What is to be said of the casualty, and of the recording it is in.
        let findings: Vec<&String> = casualty.findings.iter().chain(&drill.findings).collect();
        object.serialize_entry("findings", &findings)?;
        object.end()
    }
}

/// All numbers of some recordings, with tracks, events, messages, and how each number was
/// determined: `debrief.json`.
pub fn document(drills: &[Drill]) -> Value {
    let drills: Vec<Value> = drills
        .iter()
        .map(|drill| {
            let mut whole = json!(drill);
            let casualties = drill.casualties.iter().map(|casualty| {
                let mut object = json!(CasualtySummary::of(drill, casualty));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_measure_is_left_out() {
        let source = include_str!("measures.rs");
        let fields = source.matches("    pub ").count();
        let groups = source.matches("#[serde(flatten)]").count();
        let nested = source.split("\npub struct Pass ").nth(1).unwrap().matches("    pub ").count();
        assert_eq!(fields - groups - nested, KEYS.len());
        assert!(KEYS.iter().all(|key| source.contains(&format!("    pub {key}: "))));
    }
}
