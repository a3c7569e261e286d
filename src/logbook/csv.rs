//! The logbook as CSV (RFC 4180), safe to be opened with a spreadsheet.

use std::io::{self, Write};

use super::entry::Entry;

const COLUMNS: [&str; 14] = [
    "entry",
    "at",
    "kind",
    "priority",
    "cause",
    "state",
    "mmsi",
    "person",
    "text",
    "range_nm",
    "bearing_deg",
    "own_lat",
    "own_lon",
    "operator",
];

/// Writes a header row if `entry` is `None`, else the row of the entry.
///
/// # Errors
/// That of the output.
pub fn write_csv(out: &mut impl Write, entry: Option<&Entry>) -> io::Result<()> {
    let Some(Entry { draft, .. }) = entry else {
        return row(out, COLUMNS.map(str::to_owned));
    };
    let name = |value: serde_json::Result<serde_json::Value>| match value {
        Ok(serde_json::Value::String(name)) => name,
        _ => String::new(),
    };
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    row(
        out,
        [
            draft.entry.to_string(),
            draft.at().to_string(),
            name(serde_json::to_value(draft.kind)),
            name(serde_json::to_value(draft.priority)),
            name(serde_json::to_value(draft.cause)),
            name(serde_json::to_value(draft.state)),
            draft.mmsi.map(|mmsi| mmsi.to_string()).unwrap_or_default(),
            text(&draft.person),
            draft.text.clone(),
            number(draft.range_nm),
            number(draft.bearing_deg),
            number(draft.own.map(|own| own.lat())),
            number(draft.own.map(|own| own.lon())),
            text(&draft.operator),
        ],
    )
}

fn row(out: &mut impl Write, cells: [String; 14]) -> io::Result<()> {
    let cells = cells.map(|cell| quoted(&cell));
    write!(out, "{}\r\n", cells.join(","))
}

/// A cell that no spreadsheet takes for a formula, quoted where it must be. Control characters,
/// which have no business in a text, become spaces.
fn quoted(cell: &str) -> String {
    let plain: String = cell.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let number = plain.parse::<f64>().is_ok();
    let formula = plain.trim_start().starts_with(['=', '+', '-', '@']) && !number;
    let inert = if formula { format!("'{plain}") } else { plain };
    if inert.contains([',', '"', ' ', ';']) {
        return format!("\"{}\"", inert.replace('"', "\"\""));
    }
    inert
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A spreadsheet takes what begins with = + - @ for a formula (OWASP, CSV injection).
    #[test]
    fn formulas_are_inert_and_numbers_stay() {
        for (cell, expected) in [
            ("=1+1", "'=1+1"),
            (" @SUM(A1)", "\"' @SUM(A1)\""),
            ("\t=1", "\"' =1\""),
            ("-cmd|' /C calc'!A0", "\"'-cmd|' /C calc'!A0\""),
            ("-10.583", "-10.583"),
            ("say \"Mayday\", now", "\"say \"\"Mayday\"\", now\""),
            ("two\r\nlines", "\"two  lines\""),
        ] {
            assert_eq!(quoted(cell), expected, "{cell:?}");
        }
    }
}
