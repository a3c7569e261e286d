//! What the crate `ais` makes of a message, under the names of our JSON.

use ais::messages::aid_to_navigation_report::NavaidType;
use ais::messages::navigation::{Accuracy, Direction, ManeuverIndicator, RateOfTurn};
use ais::messages::position_report::NavigationStatus;
use ais::messages::radio_status::{RadioStatus, SubMessage, SyncState};
use ais::messages::standard_class_b_position_report::CarrierSense;
use ais::messages::static_data_report::MessagePart;
use ais::messages::types::{EpfdType, ShipType};
use ais::messages::{AisMessage, base_station_report, utc_date_response};
use ais::{AisFragments, AisParser};
use serde_json::{Map, Value, json};

use super::{coded, moment, sizes, text};

/// Reads the sentences of one message with a parser of its own.
pub fn read(
    sentences: &[Vec<u8>],
    ours: &Map<String, Value>,
) -> Result<Map<String, Value>, String> {
    let mut parser = AisParser::new();
    for sentence in sentences {
        if let AisFragments::Complete(whole) =
            parser.parse(sentence, true).map_err(|why| format!("{why:?}"))?
        {
            let mut facts = facts(whole.message.ok_or("no message")?, ours)?;
            if let Some(channel) = whole.channel {
                facts.insert("channel".into(), json!(channel));
            }
            return Ok(facts);
        }
    }
    Err("still waiting for parts".into())
}

fn facts(message: AisMessage, ours: &Map<String, Value>) -> Result<Map<String, Value>, String> {
    let accurate = |accuracy| accuracy == Accuracy::Dgps;
    let ship_type =
        |kind: Option<ShipType>| coded(ours, "ship_type", |v| ShipType::parse(v) == kind);
    let epfd = |kind: Option<EpfdType>| coded(ours, "epfd", |v| EpfdType::parse(v) == kind);
    let status = |kind: Option<NavigationStatus>| match kind {
        None => Value::Null,
        kind => coded(ours, "nav_status", |v| NavigationStatus::parse(v) == kind),
    };
    let value = match message {
        AisMessage::PositionReport(m) => {
            let mut value = json!({
                "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
                "nav_status": status(m.navigation_status),
                "rate_of_turn_deg_min": m.rate_of_turn.and_then(turn),
                "sog_kn": m.speed_over_ground, "position_accuracy": accurate(m.position_accuracy),
                "lon": m.longitude, "lat": m.latitude, "cog_deg": m.course_over_ground,
                "heading_deg": m.true_heading, "utc_second": m.timestamp,
                "manoeuvre": match m.maneuver_indicator {
                    None => 0,
                    Some(ManeuverIndicator::NoSpecialManeuver) => 1,
                    Some(ManeuverIndicator::SpecialManeuver) => 2,
                    Some(ManeuverIndicator::Unknown(raw)) => raw,
                },
                "raim": m.raim,
            });
            add_radio(&mut value, &m.radio_status);
            value
        }
        AisMessage::BaseStationReport(base_station_report::BaseStationReport {
            message_type,
            repeat_indicator,
            mmsi,
            year,
            month,
            day,
            hour,
            minute,
            second,
            fix_quality,
            longitude,
            latitude,
            epfd_type,
            ..
        })
        | AisMessage::UtcDateResponse(utc_date_response::UtcDateResponse {
            message_type,
            repeat_indicator,
            mmsi,
            year,
            month,
            day,
            hour,
            minute,
            second,
            fix_quality,
            longitude,
            latitude,
            epfd_type,
            ..
        }) => json!({
            "type": message_type, "repeat": repeat_indicator, "mmsi": mmsi,
            "utc": moment([
                year.map(u32::from), month.map(u32::from), day.map(u32::from),
                Some(u32::from(hour)), minute.map(u32::from), second.map(u32::from),
            ]),
            "position_accuracy": accurate(fix_quality), "lon": longitude, "lat": latitude,
            "epfd": epfd(epfd_type),
        }),
        AisMessage::StaticAndVoyageRelatedData(m) => {
            let mut value = json!({
                "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
                "imo": Some(m.imo_number).filter(|&imo| imo != 0),
                "call_sign": text(&m.callsign), "name": text(&m.vessel_name),
                "ship_type": ship_type(m.ship_type), "epfd": epfd(m.epfd_type),
                "eta_month": m.eta_month_utc, "eta_day": m.eta_day_utc,
                "eta_hour": Some(m.eta_hour_utc).filter(|&hour| hour != 24),
                "eta_minute": m.eta_minute_utc,
                "draught_m": Some(m.draught).filter(|&metres| metres != 0.0),
                "destination": text(&m.destination),
            });
            sizes(
                &mut value,
                [
                    m.dimension_to_bow,
                    m.dimension_to_stern,
                    m.dimension_to_port,
                    m.dimension_to_starboard,
                ],
            );
            value
        }
        AisMessage::StandardAircraftPositionReport(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
            "altitude_m": m.altitude, "sog_kn": m.speed_over_ground, "lon": m.longitude,
            "lat": m.latitude, "cog_deg": m.course_over_ground, "utc_second": m.timestamp,
        }),
        AisMessage::AddressedSafetyRelatedMessage(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
            "sequence": m.seqno, "destination_mmsi": m.dest_mmsi, "retransmit": m.retransmit,
            "text": m.text,
        }),
        AisMessage::SafetyRelatedBroadcastMessage(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi, "text": m.text,
        }),
        AisMessage::StandardClassBPositionReport(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
            "sog_kn": m.speed_over_ground, "position_accuracy": accurate(m.position_accuracy),
            "lon": m.longitude, "lat": m.latitude, "cog_deg": m.course_over_ground,
            "heading_deg": m.true_heading, "utc_second": m.timestamp,
            "carrier_sense": m.cs_unit == CarrierSense::CarrierSense, "raim": m.raim,
        }),
        AisMessage::ExtendedClassBPositionReport(m) => {
            let mut value = json!({
                "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
                "sog_kn": m.speed_over_ground, "position_accuracy": accurate(m.position_accuracy),
                "lon": m.longitude, "lat": m.latitude, "cog_deg": m.course_over_ground,
                "heading_deg": m.true_heading, "utc_second": m.timestamp, "raim": m.raim,
                "name": text(&m.name), "ship_type": ship_type(m.type_of_ship_and_cargo),
            });
            sizes(
                &mut value,
                [
                    m.dimension_to_bow,
                    m.dimension_to_stern,
                    m.dimension_to_port,
                    m.dimension_to_starboard,
                ],
            );
            value
        }
        AisMessage::AidToNavigationReport(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
            "aid_type": coded(ours, "aid_type", |v| NavaidType::parse(v) == m.aid_type),
            "name": text(&m.name), "lon": m.longitude, "lat": m.latitude,
            "off_position": m.off_position, "virtual_aid": m.virtual_aid,
        }),
        AisMessage::StaticDataReport(m) => {
            let head =
                json!({"type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi});
            let mut value = match &m.message_part {
                MessagePart::PartA { vessel_name } => {
                    json!({"part": "A", "name": text(vessel_name)})
                }
                MessagePart::PartB { ship_type: kind, vendor_id, callsign, .. } => json!({
                    "part": "B", "ship_type": ship_type(*kind), "vendor": text(vendor_id),
                    "call_sign": text(callsign),
                }),
                MessagePart::Unknown(_) => json!({}),
            };
            if let MessagePart::PartB {
                dimension_to_bow,
                dimension_to_stern,
                dimension_to_port,
                dimension_to_starboard,
                ..
            } = m.message_part
            {
                sizes(
                    &mut value,
                    [
                        dimension_to_bow,
                        dimension_to_stern,
                        dimension_to_port,
                        dimension_to_starboard,
                    ],
                );
            }
            if let (Value::Object(value), Value::Object(head)) = (&mut value, head) {
                value.extend(head);
            }
            value
        }
        AisMessage::LongRangeAisBroadcastMessage(m) => json!({
            "type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi,
            "nav_status": status(m.navigation_status), "lon": m.longitude, "lat": m.latitude,
            "sog_kn": m.speed_over_ground, "cog_deg": m.course_over_ground,
        }),
        // The rest we read no further than the head, and these the head of which is looked at too.
        AisMessage::BinaryBroadcastMessage(m) => {
            json!({"type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi})
        }
        AisMessage::Interrogation(m) => {
            json!({"type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi})
        }
        AisMessage::DataLinkManagementMessage(m) => {
            json!({"type": m.message_type, "repeat": m.repeat_indicator, "mmsi": m.mmsi})
        }
        _ => json!({}),
    };
    match value {
        Value::Object(facts) => Ok(facts),
        other => Err(format!("{other} is no object")),
    }
}

/// The rate comes without its sign; that is told by the direction.
fn turn(rate: RateOfTurn) -> Option<f32> {
    let sign = if rate.direction() == Some(Direction::Port) { -1.0 } else { 1.0 };
    rate.rate().map(|rate| rate * sign)
}

fn add_radio(value: &mut Value, status: &RadioStatus) {
    let sync = |state| match state {
        SyncState::UtcDirect => 0,
        SyncState::UtcIndirect => 1,
        SyncState::BaseStation => 2,
        SyncState::NumberOfReceivedStations => 3,
        SyncState::Unknown(raw) => raw,
    };
    match status {
        RadioStatus::Sotdma(state) => {
            value["sync_state"] = json!(sync(state.sync_state));
            value["slot_timeout"] = json!(state.slot_timeout);
            match state.sub_message {
                SubMessage::SlotOffset(raw) => value["slot_submessage"] = json!(raw),
                SubMessage::SlotNumber(raw) | SubMessage::ReceivedStations(raw) => {
                    value["slot_submessage"] = json!(raw);
                }
                // Cut into hour and minute; what is spare is lost.
                SubMessage::UtcHourAndMinute(..) => {}
            }
        }
        RadioStatus::Itdma(state) => {
            value["sync_state"] = json!(sync(state.sync_state));
            value["slot_increment"] = json!(state.slot_increment);
        }
    }
}
