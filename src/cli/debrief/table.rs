//! Several drills side by side.

use std::io::{self, Write};

use crate::debrief::{Casualty, Drill, Measured, RecoveredBy, metres_bound, span};
use crate::text::printable;
use crate::units::NauticalMiles;

/// Letters of a name that are shown.
const NAME: usize = 24;

/// What is compared, and how it is printed.
type Column = (&'static str, fn(&Casualty) -> Option<String>);

const COLUMNS: [Column; 9] = [
    ("to ackn.", |it| time(&it.measures.alarm.alarm_to_acknowledged_s)),
    ("to turn", |it| time(&it.measures.turn.alarm_to_turn_s)),
    ("greatest", |it| it.measures.approach.greatest_range_nm.value().map(NauticalMiles::to_string)),
    ("passes", |it| {
        it.measures.approach.passes_missed.value().map(|passes| passes.len().to_string())
    }),
    ("closest", |it| bound(&it.measures.approach.closest_approach_m)),
    ("alongside", |it| time(&it.measures.recovery.at_casualty_to_recovered_s)),
    ("total", |it| time(&it.measures.recovery.total_s)),
    ("counted to", |it| it.measures.recovery.recovered_by.map(counted_to)),
    ("heard", |it| it.measures.reception.heard_percent().map(|share| format!("{share:.0} %"))),
];

fn bound(distance_m: &Measured<f64>) -> Option<String> {
    distance_m.value().map(|it| metres_bound(*it, distance_m.tolerance()))
}

fn time(seconds: &Measured<f64>) -> Option<String> {
    seconds.value().map(|it| span(*it))
}

/// To what the times alongside and in total count.
fn counted_to(by: RecoveredBy) -> String {
    match by {
        RecoveredBy::Off => "OFF",
        RecoveredBy::MovesWithShip => "boat left",
        RecoveredBy::Logbook => "logbook",
    }
    .to_owned()
}

/// Writes a line for each casualty of each drill; a dash is "not known".
pub(super) fn write(output: &mut impl Write, drills: &[Drill]) -> io::Result<()> {
    writeln!(
        output,
        "Side by side (- is not known; where the boat left, alongside and total are at most so long)\n"
    )?;
    write!(output, "{:NAME$}", "drill, casualty")?;
    for (title, _) in COLUMNS {
        write!(output, "  {title:>11}")?;
    }
    writeln!(output)?;
    for drill in drills {
        if drill.casualties.is_empty() {
            writeln!(output, "{}", shortened(&drill.recording))?;
        }
        for casualty in &drill.casualties {
            let name = format!("{}, {}", drill.recording, casualty.name());
            write!(output, "{:NAME$}", shortened(&name))?;
            for (_, value) in COLUMNS {
                write!(output, "  {:>11}", value(casualty).unwrap_or_else(|| "-".to_owned()))?;
            }
            writeln!(output)?;
        }
    }
    Ok(())
}

fn shortened(name: &str) -> String {
    let name = printable(name);
    if name.chars().count() <= NAME {
        return name.into_owned();
    }
    // The end says more than the middle: there the casualty stands.
    let letters: Vec<char> = name.chars().collect();
    let (head, tail) = (&letters[..NAME / 2 - 1], &letters[letters.len() - NAME / 2..]);
    head.iter().chain(&['…']).chain(tail).collect()
}
