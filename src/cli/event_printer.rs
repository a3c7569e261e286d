//! Events on standard output: as JSON lines, or as lines that a person can read aloud.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, BufWriter, IsTerminal as _, Write};

use anstyle::{AnsiColor, Style};

use crate::advice;
use crate::edge::StandardError;
use crate::frontend::{Context, Frontend, Request};
use crate::mmsi::Mmsi;
use crate::text::{self, counted, printable};
use crate::time::Stamp;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{
    AlertReport, BeaconReport, DatumReport, Event, EventBody, InputState, Priority, Rehearsed,
    SearchReport, State, Summary, Watch, WayReport,
};
use crate::wire::nmea::Dsc;

/// Writes events to an output.
pub(super) struct EventPrinter<W: Write> {
    output: BufWriter<W>,
    json: bool,
    /// The day of the line before; a new day has a line of its own.
    day: Option<chrono::NaiveDate>,
    /// Whose beacons are those of the muster that were heard: for events that tell the identity alone.
    persons: Persons,
}

/// The persons of the muster by the identity of their beacon.
type Persons = BTreeMap<Mmsi, String>;

impl<W: Write> EventPrinter<W> {
    /// A printer of events on this output.
    pub(super) fn new(output: W, json: bool) -> Self {
        Self { output: BufWriter::new(output), json, day: None, persons: Persons::new() }
    }

    /// Lets everything told be seen.
    pub(super) fn flush(&mut self) -> io::Result<()> {
        self.output.flush()
    }
}

impl<W: Write> Frontend for EventPrinter<W> {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        if self.json {
            return text::json_line(&mut self.output, event);
        }
        self.recall(event);
        let Some((word, text)) = sentence(&event.body, &self.persons) else { return Ok(()) };
        let day = event.at.date();
        if self.day.replace(day) != Some(day) {
            writeln!(self.output, "{}", day.format("%A %-d %B %Y, UTC"))?;
        }
        let style = style(&event.body);
        write!(self.output, "{}  {style}{word:<9}{style:#}", event.at.clock())?;
        writeln!(self.output, "  {}", printable(&text))
    }

    fn let_go(&mut self) -> io::Result<()> {
        self.flush()
    }

    fn recall(&mut self, event: &Event) {
        if let EventBody::BeaconHeard(beacon) = &event.body
            && let Some(person) = &beacon.person
        {
            self.persons.insert(beacon.mmsi, person.clone());
        }
    }

    fn show(&mut self, _: &Watch, _: Stamp, context: Context<'_>) -> io::Result<()> {
        // A replay without waiting tells in large pieces.
        match context {
            Context::Replay(replay) if replay.speed.is_none() && !replay.ended => Ok(()),
            _ => self.flush(),
        }
    }

    fn ring(&mut self) {
        // Standard output carries the events: the bell goes beside it, if a person is there.
        if io::stderr().is_terminal() {
            let _ = StandardError::get().write_all(b"\x07");
        }
    }

    fn next_frame(&self) -> Option<std::time::Duration> {
        None
    }

    async fn request(&mut self) -> Request {
        std::future::pending().await
    }
}

/// The word that says how much it matters, and what there is to say. `None` for what an alert
/// beside it has said already.
fn sentence(event: &EventBody, persons: &Persons) -> Option<(&'static str, String)> {
    Some(match event {
        EventBody::Alert(alert) => (alert.priority.name(), alert_words(alert)),
        EventBody::BeaconHeard(beacon) => ("heard", heard_words(beacon)),
        EventBody::BeaconUpdate(update) => {
            let mut text = format!("{}, {}", who(&update.beacon), update.beacon.mode.name());
            text.push_str(&place_words(&update.beacon));
            let _ = write!(text, ", message {}", update.messages_heard);
            let _ = write!(text, " of burst {}", update.bursts_heard);
            text.push_str(&way_words(&update.way));
            ("update", text)
        }
        EventBody::Datum(datum) => ("datum", datum_words(datum, persons)),
        EventBody::Search(search) => ("search", search_words(search)),
        EventBody::Passed { mmsi, range_nm } => {
            let who = called(*mmsi, persons);
            ("passed", format!("{who} passed at {range_nm}, the range opens: look, turn back"))
        }
        EventBody::DscCall(call) => ("DSC", call_words(call, persons)),
        EventBody::InputState { input, state: InputState::Live, .. } => {
            ("input", format!("{input} is live"))
        }
        EventBody::Reach(hour) => ("reach", advice::reach_in_the_hour(&hour.reach)),
        EventBody::AwakePrompt { .. } => ("watch alarm", "press a key if you are awake".to_owned()),
        EventBody::Summary(summary) => ("end", summary_words(summary)),
        EventBody::BeaconSilent { .. }
        | EventBody::InputState { .. }
        | EventBody::MobNotice(_)
        | EventBody::OverboardMarked { .. }
        | EventBody::Logged { .. }
        | EventBody::SafetyText { .. } => {
            return None;
        }
    })
}

/// Red for alarms, yellow for warnings (MSC.191(79) 5.7.1), while somebody should take note; the
/// word says it all without.
fn style(event: &EventBody) -> Style {
    let EventBody::Alert(alert) = event else { return Style::new() };
    if alert.state != State::ActiveUnacknowledged {
        return Style::new();
    }
    match alert.priority {
        Priority::EmergencyAlarm => AnsiColor::Red.on_default().bold().invert(),
        Priority::Alarm => AnsiColor::Red.on_default().bold(),
        Priority::Warning => AnsiColor::Yellow.on_default(),
        Priority::Caution => Style::new(),
    }
}

fn alert_words(alert: &AlertReport) -> String {
    let text = Rehearsed::marked(alert.rehearsed, &alert.text);
    in_state(alert.state, Some(alert.priority), &text)
}

/// What an alert says, and how far it has been dealt with.
pub(super) fn in_state(state: State, priority: Option<Priority>, text: &str) -> String {
    match state {
        State::ActiveUnacknowledged => format!("{text}. Unacknowledged"),
        State::ActiveSilenced => format!("silenced for 30 s: {text}"),
        State::ActiveAcknowledged if priority == Some(Priority::Caution) => text.to_owned(),
        State::ActiveAcknowledged => format!("acknowledged: {text}"),
        State::RectifiedUnacknowledged => format!("ended, unacknowledged: {text}"),
        State::Normal => format!("ended: {text}"),
    }
}

fn heard_words(beacon: &BeaconReport) -> String {
    let mut text = format!("{}, {}", who(beacon), beacon.mode.name());
    text.push_str(&place_words(beacon));
    let _ = write!(text, "; {}", beacon.evidence.join(", "));
    text
}

/// The person whose beacon it is, else its identity.
fn called(mmsi: Mmsi, persons: &Persons) -> String {
    persons.get(&mmsi).cloned().unwrap_or_else(|| mmsi.to_string())
}

fn who(beacon: &BeaconReport) -> String {
    match &beacon.person {
        Some(person) => format!("{person} ({})", beacon.mmsi),
        None => format!("{} {}", beacon.kind, beacon.mmsi),
    }
}

/// Range and bearing with the ages of what they are made from.
fn place_words(beacon: &BeaconReport) -> String {
    let mut text = match (beacon.range_nm, beacon.bearing_deg, beacon.position) {
        (Some(range), Some(bearing), _) => format!(", {}", range_words(range, bearing)),
        (_, _, Some(position)) => format!(", at {position}, own position not known"),
        (_, _, None) => ", position not known".to_owned(),
    };
    match (beacon.position, beacon.fix_age_s) {
        (Some(_), Some(age)) => {
            let _ = write!(text, ", fix {age} s old");
        }
        (Some(_), None) => text.push_str(", age of its fix not known"),
        (None, _) => {}
    }
    if let Some(age) = beacon.own_age_s.filter(|&age| age > 30) {
        let _ = write!(text, ", own position {age} s old");
    }
    text
}

/// The course to steer and what it is made from.
fn way_words(way: &WayReport) -> String {
    let mut text = String::new();
    if let Some((course, minutes)) = way.course_to_steer_deg.zip(way.time_to_reach_min) {
        let _ = write!(text, "; steer {course}, {minutes:.0} min");
    }
    if let Some(drift) = &way.drift {
        let _ = write!(text, "; drifts {} {}", drift.set_deg, drift.rate_kn);
        let _ = write!(text, " ({} fixes)", drift.fixes);
    }
    text
}

/// The plan in a line, then its first legs.
fn search_words(search: &SearchReport) -> String {
    let mut text = format!("plan: {}; at {}", search.why, search.speed_kn);
    for leg in search.legs.iter().take(4) {
        let minutes = (leg.time_s + 30) / 60;
        let _ = write!(text, "; {} {} {minutes} min", leg.course_to_steer_deg, leg.length_nm);
    }
    text.push_str("; and on. What the coastguard plans comes first");
    text
}

fn datum_words(datum: &DatumReport, persons: &Persons) -> String {
    let who = match (datum.mmsi, datum.mark) {
        (Some(mmsi), _) => called(mmsi, persons),
        (None, mark) => format!("point {}", mark.unwrap_or_default()),
    };
    let place = datum.position().map_or(String::new(), |place| place.to_string());
    let mut text = format!("{who} not heard, by now near {place}");
    if let Some((range, bearing)) = datum.range_nm.zip(datum.bearing_deg) {
        let _ = write!(text, ", {}", range_words(range, bearing));
    }
    let DatumReport { radius50_m, radius95_m, text: from, .. } = datum;
    let _ = write!(text, "; half within {radius50_m} m, 95 % within {radius95_m} m ({from})");
    text
}

fn range_words(range: NauticalMiles, bearing: Degrees) -> String {
    format!("{range}, bearing {bearing}")
}

fn call_words(call: &Dsc, persons: &Persons) -> String {
    let meaning = call.meaning.name();
    let by = call.caller_mmsi.map_or("an unknown station".to_owned(), |it| called(it, persons));
    let mut text = format!("{meaning} from {by}");
    if let Some(casualty) = call.casualty_mmsi.filter(|_| call.casualty_mmsi != call.caller_mmsi) {
        let _ = write!(text, " for {}", called(casualty, persons));
    }
    match call.position() {
        Some(position) => {
            let _ = write!(text, ", at {position}");
        }
        None => text.push_str(", no position"),
    }
    if let Some(time) = &call.utc_hhmm {
        let _ = write!(text, " at {time} UTC");
    }
    text
}

fn summary_words(summary: &Summary) -> String {
    let Summary { lines, messages, rejects, alerts, .. } = summary;
    let (read, rejected) = (counted(*lines, "line"), counted(*rejects, "line"));
    let (messages, alerts) = (counted(*messages, "AIS message"), counted(*alerts, "alert"));
    let mut text = format!("{read}, {messages}, {rejected} rejected, {alerts}");
    for beacon in &summary.beacons {
        let modes: Vec<&str> = beacon.modes.iter().map(|it| it.name()).collect();
        let _ = write!(text, "; {} {} heard", beacon.kind, beacon.mmsi);
        let times = counted(beacon.messages_heard, "time");
        let _ = write!(text, " {times} in {}", counted(beacon.bursts_heard, "burst"));
        let _ = write!(text, ": {}", modes.join(", then "));
    }
    let (minutes, seconds) = (summary.elapsed_s / 60, summary.elapsed_s % 60);
    let _ = write!(text, "; {minutes} min {seconds} s");
    text
}

/// Columns that a terminal is taken to have.
const WIDTH: usize = 80;

/// The text in lines of 80 columns, broken between words; those after the first are set in by two
/// more blanks.
pub(super) fn wrapped(text: &str, margin: &str) -> String {
    // What is to be typed stays on one line.
    let mut quoted = false;
    let words = text.split(|letter| {
        quoted ^= letter == '`';
        letter == ' ' && !quoted
    });
    let lines = text::wrapped(words, WIDTH.saturating_sub(margin.len()), 2);
    format!("{margin}{}\n", lines.join(&format!("\n{margin}  ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Utc;

    #[test]
    fn a_line_begins_with_the_time_and_the_priority() {
        let mut out = Vec::new();
        let mut printer = EventPrinter::new(&mut out, false);
        let input = "ais".to_owned();
        let body = EventBody::InputState { input, state: InputState::Live, text: String::new() };
        let at = Utc::parse_rfc3339("2026-06-14T02:09:55Z").unwrap();
        printer.tell(&Event { at, body }).unwrap();
        printer.flush().unwrap();
        drop(printer);
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "Sunday 14 June 2026, UTC\n02:09:55Z  input      ais is live\n"
        );
    }
}
