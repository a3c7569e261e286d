//! The few numbers that a crew compares from drill to drill.

use super::text::metres_off;
use crate::debrief::approach::metres_bound;
use crate::debrief::drill::Casualty;
use crate::debrief::labels::span;
use crate::debrief::measured::Measured;
use crate::debrief::measures::Measures;
use crate::units::NauticalMiles;

/// A number of a casualty: what it is called, and how it is said if it is known.
pub(super) struct Figure {
    pub name: &'static str,
    /// Whether it stands large at the beginning.
    is_large: bool,
    pub of: fn(&Measures) -> Option<String>,
}

/// In the order of a drill.
pub(super) const FIGURES: [Figure; 8] = [
    Figure {
        name: "alarm to acknow\u{ad}ledged",
        // A recording alone does not tell it.
        is_large: false,
        of: |it| it.alarm.alarm_to_acknowledged_s.value().map(|s| span(*s)),
    },
    Figure {
        name: "alarm to turn",
        is_large: true,
        of: |it| {
            let time = &it.turn.alarm_to_turn_s;
            time.value()
                .map(|s| span(*s) + &give_or_take(time.tolerance().map(|off| span(off.ceil()))))
        },
    },
    Figure {
        name: "greatest range",
        is_large: true,
        of: |it| {
            let range = &it.approach.greatest_range_nm;
            let off = range.tolerance().map(|off| NauticalMiles(off).metres());
            range.value().map(|range| distance(range.metres(), off))
        },
    },
    Figure {
        name: "passes missed",
        is_large: true,
        of: |it| it.approach.passes_missed.value().map(|passes| passes.len().to_string()),
    },
    Figure {
        name: "closest approach",
        is_large: false,
        of: |it| {
            let closest = &it.approach.closest_approach_m;
            closest.value().map(|m| distance(*m, closest.tolerance()))
        },
    },
    Figure {
        name: "alongside to recovered",
        is_large: true,
        of: |it| counted(it, &it.recovery.at_casualty_to_recovered_s),
    },
    Figure {
        name: "first message to recovered",
        is_large: true,
        of: |it| counted(it, &it.recovery.total_s),
    },
    Figure {
        name: "messages heard",
        is_large: true,
        of: |it| it.reception.heard_percent().map(|share| format!("{share:.0} %")),
    },
];

/// A distance with how far it may be off, which one that is said by its bound holds already.
fn distance(distance_m: f64, off_m: Option<f64>) -> String {
    let said = metres_bound(distance_m, off_m);
    let is_bound = said.starts_with("under");
    said + &give_or_take(off_m.filter(|_| !is_bound).map(metres_off))
}

fn give_or_take(off: Option<String>) -> String {
    off.map(|off| format!(" <small>±{off}</small>")).unwrap_or_default()
}

/// A time until the recovery, with what it counts to.
fn counted(measures: &Measures, time: &Measured<f64>) -> Option<String> {
    let (s, by) = (time.value()?, measures.recovery.recovered_by?);
    Some(format!("{} <small>{}</small>", span(*s), by.until()))
}

/// The figures of a casualty as large numbers.
pub(super) fn tiles(casualty: &Casualty) -> String {
    let mut html = "<dl class=\"tiles\">\n".to_owned();
    for figure in FIGURES.iter().filter(|it| it.is_large) {
        let value = (figure.of)(&casualty.measures);
        let value = value.unwrap_or_else(|| "<span class=\"unknown\">not known</span>".to_owned());
        html += &format!("<div><dt>{}</dt><dd>{value}</dd></div>\n", figure.name);
    }
    html + "</dl>\n"
}
