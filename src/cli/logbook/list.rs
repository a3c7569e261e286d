//! `overside logbook list`: entries as a table, as JSON lines or as CSV.

use std::collections::VecDeque;
use std::io::{BufWriter, Write};
use std::path::Path;

use clap::builder::{PossibleValuesParser, TypedValueParser as _};
use serde::Serialize;
use serde_json::Value;

use super::super::moment::moment;
use super::{Common, Error, ExitCode};
use crate::logbook::{Csv, Details, Draft, Entry, Filter, Keys, Kind, Reader};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::text::{json_line, printable};
use crate::time::Utc;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{Priority, State};
use crate::zone::Zone;

/// Which entries are shown, and how.
#[derive(Debug, clap::Args)]
pub struct ListArgs {
    /// Leave out what is earlier: a time, or how long ago, such as 2h
    #[arg(long, value_name = "T", value_parser = moment)]
    pub since: Option<Utc>,
    /// Leave out what is later: a time, or how long ago
    #[arg(long, value_name = "T", value_parser = moment)]
    pub until: Option<Utc>,
    /// Only this kind
    #[arg(long, value_name = "K", value_parser = word(Kind::ALL, Kind::word))]
    pub kind: Option<Kind>,
    /// Only what is about this station
    #[arg(long, value_name = "MMSI", value_parser = identity)]
    pub mmsi: Option<Mmsi>,
    /// Only alerts of this priority
    #[arg(long, value_name = "P", value_parser = word(Priority::ALL, Priority::word))]
    pub priority: Option<Priority>,
    /// Only what says this, in capitals or not
    #[arg(long, value_name = "WORD")]
    pub text: Option<String>,
    /// Only so many, the newest
    #[arg(long, value_name = "N")]
    pub limit: Option<u32>,
    /// Print comma-separated values for a spreadsheet
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// An entry as a JSON object: the keys of the contract, then ours.
#[derive(Serialize)]
struct Listed<'a> {
    entry: i64,
    at: Utc,
    kind: Value,
    priority: Value,
    cause: Value,
    state: Value,
    mmsi: Option<Mmsi>,
    person: Option<&'a str>,
    text: &'a str,
    range_nm: Option<f64>,
    bearing_deg: Option<f64>,
    own: Option<Position>,
    input: Option<&'a str>,
    own_age_s: Option<u64>,
    position: Option<Position>,
    fix_age_s: Option<u64>,
    mode: Value,
    alert: Value,
    operator: Option<&'a str>,
    refers_to: Option<i64>,
    host: Option<Utc>,
    gnss: Option<Utc>,
    recording: Option<&'a str>,
    sentences: &'a [String],
}

/// Shows the entries.
pub(super) fn run(
    args: &ListArgs,
    folder: &Path,
    zone: Option<&Zone>,
    common: &Common,
) -> Result<ExitCode, Error> {
    let Some(reader) = Reader::open(folder)? else {
        tracing::warn!("there is no logbook in {} yet", folder.display());
        return Ok(ExitCode::Done);
    };
    if reader.lacks_newest() {
        tracing::warn!(
            "{} may not be written: the newest entries may be missing",
            folder.display()
        );
    }
    let filter = Filter {
        since: args.since,
        until: args.until,
        kind: args.kind,
        mmsi: args.mmsi,
        priority: args.priority,
        // What is looked for is found before the newest of it are counted.
        newest: args.limit.filter(|_| args.text.is_none()),
        ..Filter::default()
    };
    let failed = |why| Error::unwritable("standard output", &why);
    if let Some(word) = &args.text {
        return show_found(args, (&filter, word), &reader, zone, common);
    }
    let mut output = BufWriter::new(anstream::stdout().lock());
    if args.csv {
        let mut csv = Csv::begin(output).map_err(failed)?;
        reader.entries(&filter, |entry| csv.write(&entry).map_err(failed))?;
        csv.flush().map_err(failed)?;
    } else if common.json {
        reader.entries(&filter, |entry| write_json(&mut output, &entry).map_err(failed))?;
        output.flush().map_err(failed)?;
    } else {
        reader
            .entries(&filter, |entry| writeln!(output, "{}", row(&entry, zone)).map_err(failed))?;
        output.flush().map_err(failed)?;
    }
    Ok(ExitCode::Done)
}

/// Shows the entries that say a word.
fn show_found(
    args: &ListArgs,
    (filter, word): (&Filter, &str),
    reader: &Reader,
    zone: Option<&Zone>,
    common: &Common,
) -> Result<ExitCode, Error> {
    let failed = |why| Error::unwritable("standard output", &why);
    let word = word.to_lowercase();
    let limit = args.limit.map_or(usize::MAX, |limit| limit as usize);
    let mut found: VecDeque<Entry> = VecDeque::new();
    reader.entries::<Error>(filter, |entry| {
        let says = |text: &str| text.to_lowercase().contains(&word);
        let person = entry.draft.person.as_deref();
        if says(&words(&entry.draft)) || says(&entry.draft.text) || person.is_some_and(says) {
            found.push_back(entry);
            if found.len() > limit {
                found.pop_front();
            }
        }
        Ok(())
    })?;
    let output = BufWriter::new(anstream::stdout().lock());
    if args.csv {
        let mut csv = Csv::begin(output).map_err(failed)?;
        found.iter().try_for_each(|entry| csv.write(entry)).map_err(failed)?;
        csv.flush().map_err(failed)?;
        return Ok(ExitCode::Done);
    }
    let mut output = output;
    for entry in &found {
        let written = match common.json {
            true => write_json(&mut output, entry),
            false => writeln!(output, "{}", row(entry, zone)),
        };
        written.map_err(failed)?;
    }
    output.flush().map_err(failed)?;
    Ok(ExitCode::Done)
}

fn write_json(output: &mut impl Write, Entry { entry, draft, .. }: &Entry) -> std::io::Result<()> {
    let Keys { kind, priority, cause, state, alert, mode, .. } = draft.details.keys();
    let listed = Listed {
        entry: *entry,
        at: draft.at(),
        kind,
        priority,
        cause,
        state,
        mmsi: draft.mmsi,
        person: draft.person.as_deref(),
        text: &draft.text,
        range_nm: draft.range_nm,
        bearing_deg: draft.bearing_deg,
        own: draft.own,
        input: draft.input(),
        own_age_s: draft.own_age_s,
        position: draft.position,
        fix_age_s: draft.fix_age_s,
        mode,
        alert,
        operator: draft.operator.as_deref(),
        refers_to: draft.refers_to,
        host: Utc::from_unix_ms(draft.host_ms),
        gnss: draft.gnss_ms.and_then(Utc::from_unix_ms),
        recording: draft.recording.as_deref(),
        sentences: &draft.sentences,
    };
    json_line(output, &listed)
}

/// An entry as a line of the table: number, time, how much it matters, what it says.
/// With the local time beside it where there is a zone.
pub(super) fn row(Entry { entry, draft, .. }: &Entry, zone: Option<&Zone>) -> String {
    let (at, word) = (local_time(draft.at(), zone), word_of(draft));
    format!("{entry:>6}  {at}  {word:<11}  {}", words(draft))
}

/// `2026-06-14 02:09:55Z (04:09 CEST)`, or without the brackets.
pub(super) fn local_time(at: Utc, zone: Option<&Zone>) -> String {
    day_and_time(at) + &Zone::beside(zone, at)
}

/// `2026-06-14 02:09:55Z`.
pub(super) fn day_and_time(at: Utc) -> String {
    format!("{} {}", at.date(), at.clock())
}

fn word_of(draft: &Draft) -> &'static str {
    match draft.kind() {
        Some(Kind::Alert) => draft.alert().map_or("alert", |it| it.priority.name()),
        Some(Kind::Beacon) => "beacon",
        Some(Kind::Dsc) => "DSC",
        Some(Kind::SafetyText) => "safety text",
        Some(Kind::Input) => "input",
        Some(Kind::Operator) => "operator",
        Some(Kind::Watch) => "watch",
        Some(Kind::Position) => "position",
        Some(Kind::Test) => "test",
        Some(Kind::Check) => "check",
        Some(Kind::Reach) => "reach",
        None => "unknown",
    }
}

/// What an entry says, on one line and inert on a terminal.
fn words(draft: &Draft) -> String {
    let change = draft.alert();
    let state = match change.map(|it| (it.state, it.priority)) {
        Some((State::ActiveSilenced, _)) => "silenced: ",
        Some((State::ActiveAcknowledged, priority)) if priority != Priority::Caution => {
            "acknowledged: "
        }
        Some((State::RectifiedUnacknowledged, _)) => "ended, unacknowledged: ",
        Some((State::Normal, _)) => "ended: ",
        _ => "",
    };
    let mut text = match &draft.details {
        Details::Input { input, .. } => format!("{input}: {}", draft.text),
        _ => format!("{state}{}", draft.text),
    };
    if change.is_none()
        && let Some((range, bearing)) = draft.range_nm.zip(draft.bearing_deg)
    {
        text += &format!(", {}, bearing {}", NauticalMiles(range), Degrees::new(bearing));
    }
    if let Some(entry) = draft.refers_to {
        text += &format!(" (to entry {entry})");
    }
    if let Some(who) = &draft.operator {
        text += &format!(" — {who}");
    }
    if draft.clocks_differ()
        && let Some(host) = Utc::from_unix_ms(draft.host_ms)
    {
        text += &format!(" [time by GNSS; the computer's clock said {}]", day_and_time(host));
    }
    printable(&text).into_owned()
}

/// One of these values, by the word that JSON has for it.
fn word<T: Copy + Send + Sync + 'static>(
    all: &'static [T],
    word: fn(T) -> &'static str,
) -> impl clap::builder::TypedValueParser<Value = T> {
    let words: Vec<_> = all.iter().map(|&it| word(it)).collect();
    PossibleValuesParser::new(words).try_map(move |given| {
        all.iter().copied().find(|&it| word(it) == given).ok_or("it is none of the words")
    })
}

fn identity(text: &str) -> Result<Mmsi, &'static str> {
    text.parse().ok().and_then(Mmsi::new).ok_or("give an identity of nine digits")
}
