//! What the crate `nmea-parser` makes of a message, under the names of our JSON.

use nmea_parser::ais::{
    BaseStationReport, CargoType, PositionFixType, ShipType, VesselDynamicData, VesselStaticData,
};
use nmea_parser::chrono::{Datelike as _, Timelike as _};
use nmea_parser::{NmeaParser, ParsedMessage};
use serde_json::{Map, Value, json};

use super::{coded, moment, sizes, text};

/// Reads the sentences of one message with a parser of its own: what it remembers of one ship
/// would be mixed into the next message.
pub fn read(
    sentences: &[Vec<u8>],
    ours: &Map<String, Value>,
) -> Result<Map<String, Value>, String> {
    let mut parser = NmeaParser::new();
    let mut last = Err("no sentence".to_owned());
    for sentence in sentences {
        let sentence = std::str::from_utf8(sentence).map_err(|why| why.to_string())?;
        last = parser.parse_sentence(sentence).map_err(|why| why.to_string());
    }
    match facts(last?, ours)? {
        Value::Object(facts) => Ok(facts),
        other => Err(format!("{other} is no object")),
    }
}

fn facts(message: ParsedMessage, ours: &Map<String, Value>) -> Result<Value, String> {
    Ok(match message {
        ParsedMessage::Incomplete => return Err("still waiting for parts".into()),
        ParsedMessage::VesselDynamicData(m) => dynamic(&m, ours),
        ParsedMessage::VesselStaticData(m) => statics(&m, ours),
        ParsedMessage::BaseStationReport(m) | ParsedMessage::UtcDateResponse(m) => base(&m, ours),
        ParsedMessage::StandardSarAircraftPositionReport(m) => json!({
            "mmsi": m.mmsi, "own": m.own_vessel, "altitude_m": m.altitude, "sog_kn": m.sog_knots,
            "lon": m.longitude, "lat": m.latitude, "cog_deg": m.cog,
            "utc_second": m.timestamp_seconds,
        }),
        ParsedMessage::AddressedSafetyRelatedMessage(m) => json!({
            "mmsi": m.source_mmsi, "own": m.own_vessel, "sequence": m.sequence_number,
            "destination_mmsi": m.destination_mmsi, "retransmit": m.retransmit_flag,
            "text": m.text,
        }),
        ParsedMessage::SafetyRelatedBroadcastMessage(m) => {
            json!({"mmsi": m.mmsi, "own": m.own_vessel, "text": m.text})
        }
        ParsedMessage::AidToNavigationReport(m) => json!({
            "mmsi": m.mmsi, "own": m.own_vessel, "name": text(&m.name), "lon": m.longitude,
            "lat": m.latitude, "off_position": m.off_position_indicator,
            "virtual_aid": m.virtual_aid_flag,
        }),
        ParsedMessage::Interrogation(m) => json!({"mmsi": m.mmsi, "own": m.own_vessel}),
        ParsedMessage::DataLinkManagementMessage(m) => json!({"mmsi": m.mmsi, "own": m.own_vessel}),
        ParsedMessage::GroupAssignmentCommand(m) => json!({"mmsi": m.mmsi, "own": m.own_vessel}),
        _ => json!({}),
    })
}

fn dynamic(m: &VesselDynamicData, ours: &Map<String, Value>) -> Value {
    let mut value = json!({
        "mmsi": m.mmsi, "own": m.own_vessel, "sog_kn": m.sog_knots, "lon": m.longitude,
        "lat": m.latitude, "cog_deg": m.cog,
    });
    let kind = ours["type"].as_u64();
    if kind != Some(27) {
        value["position_accuracy"] = json!(m.high_position_accuracy);
        value["heading_deg"] = json!(m.heading_true);
        value["utc_second"] = json!(m.timestamp_seconds);
        value["raim"] = json!(m.raim_flag);
    }
    if matches!(kind, Some(1 | 2 | 3 | 27)) {
        value["nav_status"] = json!(m.nav_status.to_value());
    }
    if matches!(kind, Some(1..=3)) {
        value["rate_of_turn_deg_min"] = json!(m.rot);
        // `true` is told for 1, not engaged, and for 2.
        value["manoeuvre"] = m.special_manoeuvre.map_or(json!(0), Value::from);
    }
    let raw = m.radio_status.unwrap_or_default();
    match kind {
        Some(1 | 2) => {
            value["sync_state"] = json!(raw >> 17);
            value["slot_timeout"] = json!(raw >> 14 & 7);
            value["slot_submessage"] = json!(raw & 0x3FFF);
        }
        Some(3) => {
            value["sync_state"] = json!(raw >> 17);
            value["slot_increment"] = json!(raw >> 4 & 0x1FFF);
        }
        _ => {}
    }
    value
}

fn statics(m: &VesselStaticData, ours: &Map<String, Value>) -> Value {
    let eta = |pick: fn(&VesselStaticData) -> Option<u32>| json!(pick(m));
    let mut value = json!({
        "mmsi": m.mmsi, "own": m.own_vessel, "imo": m.imo_number, "call_sign": m.call_sign,
        "name": m.name,
        "ship_type": coded(ours, "ship_type", |v| {
            ShipType::new(v) == m.ship_type && CargoType::new(v) == m.cargo_type
        }),
        "epfd": coded(ours, "epfd", |v| {
            PositionFixType::new(v) == m.position_fix_type.unwrap_or(PositionFixType::Undefined)
        }),
        "eta_month": eta(|m| m.eta.map(|eta| eta.month())),
        "eta_day": eta(|m| m.eta.map(|eta| eta.day())),
        "eta_hour": eta(|m| m.eta.map(|eta| eta.hour())),
        "eta_minute": eta(|m| m.eta.map(|eta| eta.minute())),
        "draught_m": m.draught10.filter(|&d| d != 0).map(|d| f64::from(d) / 10.0),
        "destination": m.destination,
    });
    sizes(
        &mut value,
        [
            m.dimension_to_bow.unwrap_or(0),
            m.dimension_to_stern.unwrap_or(0),
            m.dimension_to_port.unwrap_or(0),
            m.dimension_to_starboard.unwrap_or(0),
        ],
    );
    value
}

fn base(m: &BaseStationReport, ours: &Map<String, Value>) -> Value {
    let utc = m.timestamp.map(|t| {
        let date = [t.year() as u32, t.month(), t.day()];
        moment([date[0], date[1], date[2], t.hour(), t.minute(), t.second()].map(Some))
    });
    json!({
        "mmsi": m.mmsi, "own": m.own_vessel, "utc": utc.unwrap_or_default(),
        "position_accuracy": m.high_position_accuracy, "lon": m.longitude, "lat": m.latitude,
        "epfd": coded(ours, "epfd", |v| {
            PositionFixType::new(v) == m.position_fix_type.unwrap_or(PositionFixType::Undefined)
        }),
    })
}
