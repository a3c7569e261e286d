//! A debrief on the terminal: what is to be said, the time line, range against time.

use std::io::{self, Write};

use crate::cli::event_printer::wrapped;
use crate::debrief::{Casualty, Drill, plot, range_of};
use crate::drawing::Dots;
use crate::text::printable;
use crate::zone::Zone;

/// The size of the plot.
const COLUMNS: usize = 78;
const ROWS: usize = 8;

/// Writes all that is told of a drill.
pub(super) fn write(output: &mut impl Write, drill: &Drill, dots: Dots) -> io::Result<()> {
    let name = printable(&drill.recording);
    match drill.begun.zip(drill.ended) {
        Some((begun, ended)) => {
            let zone = drill.zone.as_ref();
            let (from, until) = (Zone::beside(zone, begun), Zone::beside(zone, ended));
            let (date, begun, ended) = (begun.date(), begun.clock(), ended.clock());
            writeln!(output, "{name}: {date} {begun}{from} to {ended}{until}")?;
        }
        None => writeln!(output, "{name}")?,
    }
    for finding in &drill.findings {
        write!(output, "{}", wrapped(&printable(finding), "  "))?;
    }
    for casualty in &drill.casualties {
        write_casualty(output, casualty, dots, drill.zone.as_ref())?;
    }
    if !drill.events.is_empty() {
        writeln!(output, "\nTime line")?;
    }
    for event in &drill.events {
        let range = range_of(event);
        let text = printable(&event.text);
        let at = Zone::both(drill.zone.as_ref(), event.at);
        writeln!(output, "{:>4}  {at}  {range:>10}  {text}", event.number)?;
    }
    writeln!(output)
}

fn write_casualty(
    output: &mut impl Write,
    casualty: &Casualty,
    dots: Dots,
    zone: Option<&Zone>,
) -> io::Result<()> {
    let mmsi = casualty.mmsi.filter(|_| casualty.person.is_some());
    let mmsi = mmsi.map(|mmsi| format!(" ({mmsi})")).unwrap_or_default();
    writeln!(output, "\n{}{mmsi}", printable(&casualty.name()))?;
    for finding in &casualty.findings {
        write!(output, "{}", wrapped(&printable(finding), "  "))?;
    }
    let lines = plot(casualty, (COLUMNS, ROWS), dots, zone);
    if !lines.is_empty() {
        writeln!(output, "\n  Range against time")?;
    }
    for line in lines {
        writeln!(output, "  {}", line.trim_end())?;
    }
    Ok(())
}
