//! The few numbers that a crew compares from drill to drill.

use super::text::{metres, percent};
use crate::debrief::drill::Casualty;
use crate::debrief::labels::span;
use crate::debrief::measures::{Measures, RecoveredBy};
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
    Figure { name: "alongside to recovered", is_large: true, of: alongside },
    Figure {
        name: "first message to recovered",
        is_large: true,
        of: |it| it.recovery.total_s.value().map(|s| span(*s)),
    },
    Figure { name: "messages heard", is_large: true, of: heard },
];

/// With what it counts to.
fn alongside(measures: &Measures) -> Option<String> {
    let s = measures.recovery.at_casualty_to_recovered_s.value()?;
    let until = match measures.recovery.recovered_by? {
        RecoveredBy::Off => "until OFF",
        RecoveredBy::MovesWithShip => "at most, until the boat went on",
        RecoveredBy::Logbook => "until the logbook's word",
    };
    Some(format!("{} <small>{until}</small>", span(*s)))
}

fn heard(measures: &Measures) -> Option<String> {
    // What is heard on board says nothing of the antenna.
    let all = &measures.reception;
    let in_water = all.heard_in_water.value().zip(all.expected_in_water.value());
    let whole = || all.messages_heard.value().zip(all.messages_expected.value());
    let (heard, sent) = in_water.or_else(whole)?;
    percent(*heard, *sent).map(|share| format!("{share:.0} %"))
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
