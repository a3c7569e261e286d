//! Every number of a casualty, with how it was determined or why it is not known.

use super::text::{degrees, percent};
use crate::advice::about;
use crate::debrief::approach::metres_within;
use crate::debrief::drill::{Casualty, Drill};
use crate::debrief::labels::span;
use crate::debrief::measured::Measured;
use crate::debrief::measures::{Measures, RecoveredBy};
use crate::drawing::escaped;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::zone::Zone;

/// A row: what it is, the number, how it was determined.
struct Row {
    what: &'static str,
    value: Option<String>,
    how: String,
}

fn row<T>(what: &'static str, measured: &Measured<T>, say: impl Fn(&T) -> String) -> Row {
    Row { what, value: measured.value().map(say), how: measured.how().to_owned() }
}

/// How far a time may be off, to stand behind it.
fn seconds_off<T>(measured: &Measured<T>) -> String {
    let off = measured.tolerance();
    off.map(|off| format!(" ±{}", span(off.ceil()))).unwrap_or_default()
}

fn time(what: &'static str, measured: &Measured<Utc>, zone: Option<&Zone>) -> Row {
    row(what, measured, |at| Zone::both(zone, *at) + &seconds_off(measured))
}

fn lasting(what: &'static str, measured: &Measured<f64>) -> Row {
    row(what, measured, |s| span(*s) + &seconds_off(measured))
}

/// How many more or fewer there may be, to stand behind a number of things.
fn count_off<T>(measured: &Measured<T>) -> String {
    let off = measured.tolerance().filter(|off| *off > 0.0);
    off.map(|off| format!(" (±{off:.0})")).unwrap_or_default()
}

fn counted(what: &'static str, measured: &Measured<u32>) -> Row {
    row(what, measured, |count| count.to_string() + &count_off(measured))
}

fn distance(what: &'static str, measured: &Measured<f64>) -> Row {
    row(what, measured, |m| metres_within(*m, measured.tolerance()))
}

fn range(what: &'static str, measured: &Measured<NauticalMiles>) -> Row {
    let off = measured.tolerance().map(|off| NauticalMiles(off).metres());
    row(what, measured, |range| metres_within(range.metres(), off))
}

/// A row with when it was.
fn at(mut row: Row, when: &Measured<Utc>, zone: Option<&Zone>) -> Row {
    if let Some((value, at)) = row.value.as_mut().zip(when.value()) {
        *value += &format!(", at {}", Zone::both(zone, *at));
    }
    row
}

/// The table.
pub(super) fn table(drill: &Drill, casualty: &Casualty) -> String {
    let (measures, zone) = (&casualty.measures, drill.zone.as_ref());
    let groups = [
        ("The alarm", alarm(measures, zone)),
        ("The turn", turn(measures, zone)),
        ("The way back", way_back(measures, zone)),
        ("At the casualty", recovery(measures, zone)),
        ("Reception", reception(measures, zone)),
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

fn alarm(measures: &Measures, zone: Option<&Zone>) -> Vec<Row> {
    vec![
        time("first message", &measures.alarm.activated_at, zone),
        time("alarm", &measures.alarm.alarm_at, zone),
        lasting("first message to alarm", &measures.alarm.activated_to_alarm_s),
        time("acknowledged", &measures.alarm.acknowledged_at, zone),
        lasting("alarm to acknowledged", &measures.alarm.alarm_to_acknowledged_s),
        time("first position", &measures.alarm.first_position_at, zone),
        lasting("alarm to first position", &measures.alarm.alarm_to_first_position_s),
    ]
}

fn turn(measures: &Measures, zone: Option<&Zone>) -> Vec<Row> {
    vec![
        time("turn begun", &measures.turn.turn_begun_at, zone),
        lasting("alarm to turn", &measures.turn.alarm_to_turn_s),
        distance("sailed in that time", &measures.turn.alarm_to_turn_m),
        range("range when the turn began", &measures.turn.range_at_turn_nm),
        time("bow points at the casualty", &measures.turn.pointing_at, zone),
        lasting("turn to that", &measures.turn.turn_to_pointing_s),
    ]
}

fn way_back(measures: &Measures, zone: Option<&Zone>) -> Vec<Row> {
    let (approach, steering) = (&measures.approach, &measures.turn.steering);
    let greatest = range("greatest range", &approach.greatest_range_nm);
    let closest = distance("closest approach", &approach.closest_approach_m);
    vec![
        at(greatest, &approach.greatest_range_at, zone),
        at(closest, &approach.closest_approach_at, zone),
        row("passes missed", &measures.approach.passes_missed, |passes| {
            let each = passes.iter().map(|it| {
                let nearest = metres_within(it.range_m, Some(it.range_m_tolerance));
                format!("{nearest} at {}", Zone::both(zone, it.at))
            });
            let each: Vec<String> = each.collect();
            let off = count_off(&approach.passes_missed);
            if each.is_empty() {
                format!("none{off}")
            } else {
                format!("{}{off}: {}", each.len(), each.join(", "))
            }
        }),
        row("way sailed, turn to casualty", steering, |way| {
            let sailed = metres_within(way.sailed_m, Some(way.sailed_m_tolerance));
            format!("{sailed} in {} ±{}", span(way.taken_s), span(way.taken_s_tolerance.ceil()))
        }),
        row("straight way at that speed", steering, |way| {
            let needed = metres_within(way.needed_m, Some(way.needed_m_tolerance));
            format!("{needed} in {} ±{}", span(way.needed_s), span(way.needed_s_tolerance.ceil()))
        }),
        row("course off the best one", steering, |way| {
            let off = way.mean_difference_deg_tolerance.ceil();
            format!("{:.0}° ±{off:.0}° on average", way.mean_difference_deg)
        }),
    ]
}

fn recovery(measures: &Measures, zone: Option<&Zone>) -> Vec<Row> {
    let by = match measures.recovery.recovered_by {
        Some(RecoveredBy::Off) => ", by the beacon's OFF",
        Some(RecoveredBy::MovesWithShip) => ", by its motion with the ship",
        Some(RecoveredBy::Logbook) => ", by the logbook",
        None => "",
    };
    vec![
        time("at the casualty, slow", &measures.recovery.at_casualty_at, zone),
        row("out of the water", &measures.recovery.recovered_at, |at| {
            let off = seconds_off(&measures.recovery.recovered_at);
            format!("{}{off}{by}", Zone::both(zone, *at))
        }),
        lasting("at the casualty to recovered", &measures.recovery.at_casualty_to_recovered_s),
        lasting("first message to recovered", &measures.recovery.total_s),
    ]
}

fn reception(measures: &Measures, zone: Option<&Zone>) -> Vec<Row> {
    let sent = measures.reception.messages_expected.value().copied();
    let channel = |what, heard: &Measured<u32>| {
        row(what, heard, |heard| match sent {
            Some(sent) => format!("{heard} of {}", sent / 2),
            None => heard.to_string(),
        })
    };
    let from = measures.reception.longest_silence_from.value();
    let from = from.map(|at| format!(", from {}", Zone::both(zone, *at))).unwrap_or_default();
    vec![
        row("messages heard", &measures.reception.messages_heard, |heard| {
            let share = sent.and_then(|sent| percent(*heard, sent));
            share.map_or(heard.to_string(), |share| format!("{heard} ({share:.0} %)"))
        }),
        counted("messages sent", &measures.reception.messages_expected),
        counted("heard before the recovery", &measures.reception.heard_in_water),
        counted("sent before the recovery", &measures.reception.expected_in_water),
        channel("heard on channel A", &measures.reception.heard_a),
        channel("heard on channel B", &measures.reception.heard_b),
        row("longest silence", &measures.reception.longest_silence_s, |s| {
            format!("{}{from}", span(*s))
        }),
        range("range at the first message", &measures.reception.first_heard_range_nm),
        range("range at the last message", &measures.reception.last_heard_range_nm),
        range("greatest range heard", &measures.reception.greatest_heard_range_nm),
        row("range to be expected", &measures.reception.estimated_range_nm, |nm| about(*nm)),
    ]
}

fn beacon(drill: &Drill, measures: &Measures) -> Vec<Row> {
    vec![
        row("beacon against ship, together", &measures.position_error, |error| {
            let off = measures.position_error.tolerance().unwrap_or_default().ceil();
            format!(
                "{:.0} m on average, {:.0} m at the most (±{off:.0} m), {} positions",
                error.mean_m, error.greatest_m, error.fixes
            )
        }),
        row("set and rate of the casualty", &measures.drift, |drift| {
            let off = measures.drift.tolerance().unwrap_or(drift.sd_kn.0);
            let set = degrees(drift.set_deg.value());
            let set = if drift.rate_kn.0 > off { set } else { "direction not known".to_owned() };
            format!("{set} at {}, ±{off:.2} kn, {} positions", drift.rate_kn, drift.fixes)
        }),
        row("wind", &drill.wind, |wind| {
            format!("from {}, {:.0} kn", degrees(wind.from_deg.value()), wind.speed_kn.0)
        }),
    ]
}
