//! The few numbers that a crew compares from drill to drill.

use super::text::metres;
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
        of: |it| it.turn.alarm_to_turn_s.value().map(|s| span(*s)),
    },
    Figure {
        name: "greatest range",
        is_large: true,
        of: |it| it.approach.greatest_range_nm.value().map(NauticalMiles::to_string),
    },
    Figure {
        name: "passes missed",
        is_large: true,
        of: |it| it.approach.passes_missed.value().map(|passes| passes.len().to_string()),
    },
    Figure {
        name: "closest approach",
        is_large: false,
        of: |it| it.approach.closest_approach_m.value().map(|m| metres(*m)),
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
