//! The due dates as a calendar (RFC 5545), for whatever reminds its owner of things.

use std::fmt::Write as _;

use super::kit::{Due, DueKind, Muster};
use crate::config::Vessel;
use crate::text::is_hostile;
use crate::time::Utc;

/// Octets of a line, at most, without its end (RFC 5545 section 3.1).
const LINE_OCTETS: usize = 75;

/// Writes every date of the muster by which something is to be done as an event of that whole day,
/// with a reminder 30 days before. It takes up no time of anybody's.
///
/// `made_at` is when the calendar was made. An event keeps its UID from one export to the next, so
/// that the later replaces the earlier.
pub fn calendar(muster: &Muster, vessel: &Vessel, made_at: Utc) -> String {
    let mut lines = Lines::default();
    lines.add("BEGIN", "VCALENDAR");
    lines.add("VERSION", "2.0");
    lines.add("PRODID", "-//overside//muster//EN");
    lines.add("CALSCALE", "GREGORIAN");
    lines.add("METHOD", "PUBLISH");
    for due in muster.dues() {
        lines.event(&due, vessel, made_at);
    }
    lines.add("END", "VCALENDAR");
    lines.0
}

/// Content lines, folded and ended as the standard wants it.
#[derive(Default)]
struct Lines(String);

impl Lines {
    fn event(&mut self, due: &Due, vessel: &Vessel, made_at: Utc) {
        let summary = escaped(&summary(due));
        self.add("BEGIN", "VEVENT");
        self.add("UID", &uid(due, vessel));
        self.add("DTSTAMP", &stamp(made_at));
        self.add("DTSTART;VALUE=DATE", &due.last_day.format("%Y%m%d").to_string());
        // The end of a whole day is the next one (section 3.6.1); without any, one day is meant.
        if let Some(next) = due.last_day.succ_opt() {
            self.add("DTEND;VALUE=DATE", &next.format("%Y%m%d").to_string());
        }
        self.add("SUMMARY", &summary);
        self.add("DESCRIPTION", &escaped(&description(due, vessel)));
        self.add("TRANSP", "TRANSPARENT");
        self.add("BEGIN", "VALARM");
        self.add("ACTION", "DISPLAY");
        self.add("DESCRIPTION", &summary);
        self.add("TRIGGER", "-P30D");
        self.add("END", "VALARM");
        self.add("END", "VEVENT");
    }

    /// Adds a line, folded between letters, never within one.
    fn add(&mut self, name: &str, value: &str) {
        let mut length = 0;
        for letter in name.chars().chain([':']).chain(value.chars()) {
            if length + letter.len_utf8() > LINE_OCTETS {
                self.0.push_str("\r\n ");
                length = 1;
            }
            self.0.push(letter);
            length += letter.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

fn summary(Due { kind, item, person, .. }: &Due) -> String {
    let mut text = match kind {
        DueKind::Test => format!("Test beacon {item}"),
        DueKind::Battery => format!("Replace the battery of beacon {item}"),
        DueKind::Service => format!("Have lifejacket {item} serviced"),
        DueKind::Cylinder => format!("Weigh the gas cylinder of lifejacket {item}"),
    };
    if let Some(person) = person {
        let _ = write!(text, " ({person})");
    }
    text
}

fn description(due: &Due, vessel: &Vessel) -> String {
    let mut text = match due.kind {
        DueKind::Test => "The last day of the interval that is set. Test mode only, in the open; \
                          every test costs battery."
            .to_owned(),
        DueKind::Battery => "The date on the label is the last day.".to_owned(),
        DueKind::Service => "The last day of the service that is written down.".to_owned(),
        DueKind::Cylinder => "Twelve months after it was last weighed. The minimum is stamped on \
                              the cylinder."
            .to_owned(),
    };
    text.push_str("\nThe maker's instructions come first.");
    if let Some(name) = &vessel.name {
        let _ = write!(text, "\nShip: {name}");
    }
    text
}

/// The same for the same item and kind, whatever its date; another for each ship.
fn uid(due: &Due, vessel: &Vessel) -> String {
    let kind = match due.kind {
        DueKind::Test => "test",
        DueKind::Battery => "battery",
        DueKind::Service => "service",
        DueKind::Cylinder => "cylinder",
    };
    let ship = match (vessel.mmsi, &vessel.name) {
        (Some(mmsi), _) => mmsi.to_string(),
        (None, Some(name)) => plain(name),
        (None, None) => "ship".to_owned(),
    };
    format!("{kind}.{}.{ship}@overside", plain(&due.item))
}

/// Letters and digits as they are, any other octet as `_` and its two digits: no two texts give
/// the same.
fn plain(text: &str) -> String {
    let mut plain = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() {
            plain.push(char::from(byte));
        } else {
            let _ = write!(plain, "_{byte:02x}");
        }
    }
    plain
}

/// `20260614T020955Z`.
fn stamp(at: Utc) -> String {
    let clock: String = at.clock().chars().filter(|c| *c != ':').collect();
    format!("{}T{clock}", at.date().format("%Y%m%d"))
}

/// A text as a value (section 3.3.11); other hostile characters than the end of a line have no place in one.
fn escaped(text: &str) -> String {
    let mut value = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\\' | ';' | ',' => value.extend(['\\', letter]),
            '\n' => value.push_str("\\n"),
            _ if is_hostile(letter) => {}
            _ => value.push(letter),
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 5545 section 3.3.11, and what it forbids.
    #[test]
    fn a_text_is_escaped() {
        let text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        let value = "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.";
        assert_eq!(escaped(text), value);
        assert_eq!(escaped("a;b,c\\d\r\x1b[2J"), "a\\;b\\,c\\\\d[2J");
    }

    #[test]
    fn a_line_is_folded_between_letters() {
        for letter in ["a", "é", "€", "🛟"] {
            let mut lines = Lines::default();
            lines.add("SUMMARY", &letter.repeat(100));
            let folded: Vec<&str> = lines.0.trim_end().split("\r\n").collect();
            assert!(folded.iter().all(|line| line.len() <= 75), "{folded:?}");
            let full = folded.iter().rev().skip(1);
            assert!(full.into_iter().all(|line| line.len() > 75 - 4), "{folded:?}");
            assert_eq!(lines.0.replace("\r\n ", ""), format!("SUMMARY:{}\r\n", letter.repeat(100)));
        }
    }

    #[test]
    fn no_two_names_give_the_same_uid() {
        let names = ["jacket 2", "jacket_202", "Jacket 2", "jacket2", "gilet né"];
        let mut plained: Vec<String> = names.iter().map(|name| plain(name)).collect();
        assert!(plained.iter().all(|it| it.is_ascii()));
        plained.sort();
        plained.dedup();
        assert_eq!(plained.len(), names.len());
    }
}
