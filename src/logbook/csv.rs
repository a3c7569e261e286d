//! Entries as comma-separated values (RFC 4180), inert in a spreadsheet that parts them at commas or
//! at semicolons.

use std::borrow::Cow;
use std::io::{self, Write};

use super::draft::Draft;
use super::reader::Entry;
use crate::text::printable;
use crate::watch::{Cause, Mode, Priority, State};

/// The header row.
const COLUMNS: &str = "entry,at,kind,priority,cause,state,alert,mmsi,person,mode,text,range_nm,\
                       bearing_deg,lat,lon,fix_age_s,own_lat,own_lon,own_age_s,operator,refers_to,\
                       host_ms,gnss_ms";

/// Writes entries to an output.
#[derive(Debug)]
pub struct Csv<W: Write> {
    output: W,
}

impl<W: Write> Csv<W> {
    /// Begins with the header row.
    ///
    /// # Errors
    /// That of the output.
    pub fn begin(mut output: W) -> io::Result<Self> {
        write!(output, "{COLUMNS}\r\n")?;
        Ok(Self { output })
    }

    /// Writes an entry.
    ///
    /// # Errors
    /// That of the output.
    pub fn write(&mut self, Entry { entry, draft, .. }: &Entry) -> io::Result<()> {
        let Draft { position, own, .. } = draft;
        let cells = [
            number(Some(entry)),
            draft.at().to_string(),
            draft.kind.word().to_owned(),
            word(draft.priority.map(Priority::word)),
            word(draft.cause.map(Cause::word)),
            word(draft.state.map(State::word)),
            number(draft.alert.map(|id| id.0)),
            number(draft.mmsi),
            text(draft.person.as_deref()),
            word(draft.mode.map(Mode::word)),
            text(Some(&draft.text)),
            number(draft.range_nm),
            number(draft.bearing_deg),
            number(position.map(|it| it.lat())),
            number(position.map(|it| it.lon())),
            number(draft.fix_age_s),
            number(own.map(|it| it.lat())),
            number(own.map(|it| it.lon())),
            number(draft.own_age_s),
            text(draft.operator.as_deref()),
            number(draft.refers_to),
            number(Some(draft.host_ms)),
            number(draft.gnss_ms),
        ];
        write!(self.output, "{}\r\n", cells.join(","))
    }

    /// Lets everything be seen that was written.
    ///
    /// # Errors
    /// That of the output.
    pub fn flush(&mut self) -> io::Result<()> {
        self.output.flush()
    }
}

/// A text that no spreadsheet takes for a formula: one that begins with `=`, `+`, `-` or `@` gets
/// an apostrophe before it, and hostile characters, tab and carriage return among them, are written
/// out.
pub fn defused(text: &str) -> Cow<'_, str> {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        return Cow::Owned(format!("'{}", printable(text)));
    }
    printable(text)
}

/// A number of ours: a minus before it makes no formula.
fn number(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn word(word: Option<&str>) -> String {
    word.unwrap_or_default().to_owned()
}

fn text(text: Option<&str>) -> String {
    let safe = defused(text.unwrap_or_default());
    if safe.contains([',', ';', '"']) {
        return format!("\"{}\"", safe.replace('"', "\"\""));
    }
    safe.into_owned()
}
