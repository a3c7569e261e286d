//! Entries as comma-separated values (RFC 4180), inert in a spreadsheet that parts them at commas or
//! at semicolons.

use std::borrow::Cow;
use std::io::{self, Write};

use serde_json::Value;

use super::details::Keys;
use super::draft::Draft;
use super::entry::Entry;
use crate::text::printable;

/// The header row.
const COLUMNS: &str = "entry,at,kind,priority,cause,state,alert,mmsi,person,mode,text,range_nm,\
                       bearing_deg,lat,lon,fix_age_s,own_lat,own_lon,own_age_s,operator,refers_to,\
                       host_ms,gnss_ms,input";

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
        let Keys { kind, priority, cause, state, alert, mode, .. } = draft.details.keys();
        let cells = [
            number(Some(entry)),
            draft.at().to_string(),
            name(&kind),
            name(&priority),
            name(&cause),
            name(&state),
            number(alert.as_u64()),
            number(draft.mmsi),
            text(draft.person.as_deref()),
            name(&mode),
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
            text(draft.input()),
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

/// A word as JSON has it, nothing for null.
fn name(value: &Value) -> String {
    text(value.as_str())
}

fn text(text: Option<&str>) -> String {
    let safe = defused(text.unwrap_or_default());
    if safe.contains([',', ';', '"']) {
        return format!("\"{}\"", safe.replace('"', "\"\""));
    }
    safe.into_owned()
}
