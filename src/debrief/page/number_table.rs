//! Every number of a casualty, with how it was determined or why it is not known.

use super::text::{degrees, escaped, metres, percent};
use crate::debrief::drill::{Casualty, Drill};
use crate::debrief::labels::span;
use crate::debrief::measured::Measured;
use crate::debrief::measures::{Measures, RecoveredBy};
use crate::time::Utc;
use crate::units::NauticalMiles;

/// A row: what it is, the number, how it was determined.
struct Row {
    what: &'static str,
    value: Option<String>,
    how: String,
}

fn row<T>(what: &'static str, measured: &Measured<T>, say: impl Fn(&T) -> String) -> Row {
    Row { what, value: measured.value().map(say), how: measured.how().to_owned() }
}

fn time(what: &'static str, measured: &Measured<Utc>) -> Row {
    row(what, measured, |at| at.clock())
}

fn lasting(what: &'static str, measured: &Measured<f64>) -> Row {
    row(what, measured, |s| span(*s))
}

fn range(what: &'static str, measured: &Measured<NauticalMiles>) -> Row {
    row(what, measured, NauticalMiles::to_string)
}

/// The same with when it was.
fn range_at(what: &'static str, how_far: &Measured<f64>, when: &Measured<Utc>) -> Row {
    let at = when.value().map(|at| format!(", at {}", at.clock())).unwrap_or_default();
    row(what, how_far, |m| format!("{}{at}", metres(*m)))
}

/// The table.
pub(super) fn table(drill: &Drill, casualty: &Casualty) -> String {
    let measures = &casualty.measures;
    let groups = [
        ("The alarm", alarm(measures)),
        ("The turn", turn(measures)),
        ("The way back", way_back(measures)),
        ("At the casualty", recovery(measures)),
        ("Reception", reception(measures)),
        ("Beacon, drift and wind", beacon(drill, measures)),
    ];
    let mut html = "<table class=\"numbers\">\n<thead><tr><th scope=\"col\">what</th>\
                    <th scope=\"col\">number</th><th scope=\"col\">how it was determined</th></tr></thead>\n"
        .to_owned();
    for (title, rows) in groups {
        html += &format!("<tbody>\n<tr><th colspan=\"3\" scope=\"rowgroup\">{title}</th></tr>\n");
        let mut before = String::new();
        for Row { what, value, how } in rows {
            let as_before = if how == before { "as above" } else { &how };
            let value = value.map_or_else(
                || "<span class=\"unknown\">not known</span>".to_owned(),
                |value| escaped(&value),
            );
            html += &format!(
                "<tr><th scope=\"row\">{what}</th><td>{value}</td><td>{}</td></tr>\n",
                escaped(as_before)
            );
            before = how;
        }
        html += "</tbody>\n";
    }
    html + "</table>\n"
}

fn alarm(measures: &Measures) -> Vec<Row> {
    vec![
        time("first message", &measures.alarm.activated_at),
        time("alarm", &measures.alarm.alarm_at),
        lasting("first message to alarm", &measures.alarm.activated_to_alarm_s),
        time("acknowledged", &measures.alarm.acknowledged_at),
        lasting("alarm to acknowledged", &measures.alarm.alarm_to_acknowledged_s),
        time("first position", &measures.alarm.first_position_at),
        lasting("alarm to first position", &measures.alarm.alarm_to_first_position_s),
    ]
}

fn turn(measures: &Measures) -> Vec<Row> {
    vec![
        time("turn begun", &measures.turn.turn_begun_at),
        lasting("alarm to turn", &measures.turn.alarm_to_turn_s),
        row("sailed in that time", &measures.turn.alarm_to_turn_m, |m| metres(*m)),
        range("range when the turn began", &measures.turn.range_at_turn_nm),
        time("bow points at the casualty", &measures.turn.pointing_at),
        lasting("turn to that", &measures.turn.turn_to_pointing_s),
    ]
}

fn way_back(measures: &Measures) -> Vec<Row> {
    let greatest = measures.approach.greatest_range_nm.map(|range| range.metres());
    let steering = &measures.turn.steering;
    vec![
        range_at("greatest range", &greatest, &measures.approach.greatest_range_at),
        range_at(
            "closest approach",
            &measures.approach.closest_approach_m,
            &measures.approach.closest_approach_at,
        ),
        row("passes missed", &measures.approach.passes_missed, |passes| {
            let each =
                passes.iter().map(|it| format!("{} at {}", metres(it.range_m), it.at.clock()));
            let each: Vec<String> = each.collect();
            if each.is_empty() {
                "none".to_owned()
            } else {
                format!("{}: {}", each.len(), each.join(", "))
            }
        }),
        row("way sailed, turn to casualty", steering, |way| {
            format!("{} in {}", metres(way.sailed_m), span(way.taken_s))
        }),
        row("straight way at that speed", steering, |way| {
            format!("{} in {}", metres(way.needed_m), span(way.needed_s))
        }),
        row("course off the best one", steering, |way| {
            format!("{:.0}° on average", way.mean_difference_deg)
        }),
    ]
}

fn recovery(measures: &Measures) -> Vec<Row> {
    let by = match measures.recovery.recovered_by {
        Some(RecoveredBy::Off) => ", by the beacon's OFF",
        Some(RecoveredBy::MovesWithShip) => ", by its motion with the ship",
        Some(RecoveredBy::Logbook) => ", by the logbook",
        None => "",
    };
    vec![
        time("at the casualty, slow", &measures.recovery.at_casualty_at),
        row("out of the water", &measures.recovery.recovered_at, |at| {
            format!("{}{by}", at.clock())
        }),
        lasting("at the casualty to recovered", &measures.recovery.at_casualty_to_recovered_s),
        lasting("first message to recovered", &measures.recovery.total_s),
    ]
}

fn reception(measures: &Measures) -> Vec<Row> {
    let sent = measures.reception.messages_expected.value().copied();
    let channel = |what, heard: &Measured<u32>| {
        row(what, heard, |heard| match sent {
            Some(sent) => format!("{heard} of {}", sent / 2),
            None => heard.to_string(),
        })
    };
    let from = measures.reception.longest_silence_from.value();
    let from = from.map(|at| format!(", from {}", at.clock())).unwrap_or_default();
    vec![
        row("messages heard", &measures.reception.messages_heard, |heard| {
            let share = sent.and_then(|sent| percent(*heard, sent));
            share.map_or(heard.to_string(), |share| format!("{heard} ({share:.0} %)"))
        }),
        row("messages sent", &measures.reception.messages_expected, u32::to_string),
        row("heard before the recovery", &measures.reception.heard_in_water, u32::to_string),
        row("sent before the recovery", &measures.reception.expected_in_water, u32::to_string),
        channel("heard on channel A", &measures.reception.heard_a),
        channel("heard on channel B", &measures.reception.heard_b),
        row("longest silence", &measures.reception.longest_silence_s, |s| {
            format!("{}{from}", span(*s))
        }),
        range("range at the first message", &measures.reception.first_heard_range_nm),
        range("range at the last message", &measures.reception.last_heard_range_nm),
        range("greatest range heard", &measures.reception.greatest_heard_range_nm),
    ]
}

fn beacon(drill: &Drill, measures: &Measures) -> Vec<Row> {
    vec![
        row("beacon against ship, together", &measures.position_error, |error| {
            format!(
                "{:.0} m on average, {:.0} m at the most, {} positions",
                error.mean_m, error.greatest_m, error.fixes
            )
        }),
        row("set and rate of the casualty", &measures.drift, |drift| {
            format!(
                "{} at {}, ±{:.2} kn, {} positions",
                degrees(drift.set_deg.value()),
                drift.rate_kn,
                drift.sd_kn.0,
                drift.fixes
            )
        }),
        row("wind", &drill.wind, |wind| {
            format!("from {}, {:.0} kn", degrees(wind.from_deg.value()), wind.speed_kn.0)
        }),
    ]
}
