//! Several drills side by side.

use std::io::{self, Write};

use crate::debrief::{Casualty, Drill, Measured, span};
use crate::text::printable;
use crate::units::NauticalMiles;

/// Letters of a name that are shown.
const NAME: usize = 24;

/// What is compared, and how it is printed.
type Column = (&'static str, fn(&Casualty) -> Option<String>);

const COLUMNS: [Column; 8] = [
    ("to ackn.", |it| time(&it.measures.alarm.alarm_to_acknowledged_s)),
    ("to turn", |it| time(&it.measures.turn.alarm_to_turn_s)),
    ("greatest", |it| it.measures.approach.greatest_range_nm.value().map(NauticalMiles::to_string)),
    ("passes", |it| {
        it.measures.approach.passes_missed.value().map(|passes| passes.len().to_string())
    }),
    ("closest", |it| metres(&it.measures.approach.closest_approach_m)),
    ("alongside", |it| time(&it.measures.recovery.at_casualty_to_recovered_s)),
    ("total", |it| time(&it.measures.recovery.total_s)),
    ("heard", heard),
];

fn time(seconds: &Measured<f64>) -> Option<String> {
    seconds.value().map(|it| span(*it))
}

fn metres(metres: &Measured<f64>) -> Option<String> {
    metres.value().map(|it| NauticalMiles::from_metres(*it).to_string())
}

fn heard(casualty: &Casualty) -> Option<String> {
    let heard = casualty.measures.reception.messages_heard.value()?;
    let sent = casualty.measures.reception.messages_expected.value().filter(|sent| **sent > 0)?;
    Some(format!("{:.0} %", f64::from(*heard) / f64::from(*sent) * 100.0))
}

/// Writes a line for each casualty of each drill; a dash is "not known".
pub(super) fn write(output: &mut impl Write, drills: &[Drill]) -> io::Result<()> {
    writeln!(output, "Side by side (- is not known)\n")?;
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
