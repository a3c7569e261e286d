//! `overside logbook`: what was logged.

mod handover;
mod list;

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

use clap::Subcommand;
use serde_json::json;

use super::moment::{host_time, moment};
use super::{Common, Error, ExitCode};
use crate::app::RECORDINGS;
use crate::capture;
use crate::logbook::{self, Draft, Filter, Reader, write_gpx};
use crate::text::{counted, json_line, printable};
use crate::time::Utc;

pub use handover::HandoverArgs;
pub use list::ListArgs;

/// Letters of a remark, at most.
const NOTE_LETTERS: usize = 2_000;

/// What is asked of the logbook.
#[derive(Debug, clap::Args)]
pub struct LogbookArgs {
    /// What to do.
    #[command(subcommand)]
    pub command: LogbookCommand,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, global = true, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// What can be done with the logbook.
#[derive(Debug, Subcommand)]
pub enum LogbookCommand {
    /// Show entries, the newest last
    List(ListArgs),
    /// Add a remark
    Note(NoteArgs),
    /// Sum the watch up on a page for the relief
    Handover(HandoverArgs),
    /// Write tracks and alerts for a plotter
    Export(ExportArgs),
    /// Prove that nothing is missing or altered
    Check,
}

/// A remark.
#[derive(Debug, clap::Args)]
pub struct NoteArgs {
    /// What to write down
    #[arg(value_name = "TEXT")]
    pub text: String,
    /// Who writes it
    #[arg(long, value_name = "WHO")]
    pub by: Option<String>,
    /// The number of the entry that it corrects; that one stays as it is
    #[arg(long, value_name = "ENTRY")]
    pub corrects: Option<i64>,
}

/// An export.
#[derive(Debug, clap::Args)]
pub struct ExportArgs {
    /// Write GPX 1.1 to this file; - for standard output
    #[arg(long, required = true, value_name = "FILE", num_args = 0..=1, default_missing_value = "-")]
    pub gpx: Option<PathBuf>,
    /// Leave out what is earlier: a time, or how long ago, such as 2h
    #[arg(long, value_name = "T", value_parser = moment)]
    pub since: Option<Utc>,
    /// Leave out what is later: a time, or how long ago
    #[arg(long, value_name = "T", value_parser = moment)]
    pub until: Option<Utc>,
}

/// Bad entries that a check shows to a person.
const BAD_SHOWN: usize = 20;

/// Does what is asked.
pub(super) fn run(args: &LogbookArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let folder = super::logbook_folder(args.storage.as_deref(), &config)?;
    let zone = || super::zone(&config);
    match &args.command {
        LogbookCommand::List(list) => list::run(list, &folder, zone().as_ref(), common),
        LogbookCommand::Note(note) => write_note(note, &folder, common),
        LogbookCommand::Handover(handover) => {
            handover::run(handover, &folder, zone().as_ref(), common)
        }
        LogbookCommand::Export(export) => write_export(export, &folder),
        LogbookCommand::Check => check(&folder, common),
    }
}

/// An entry that refers to a recording.
pub(super) struct Recorded {
    /// The entry.
    pub draft: Draft,
    /// The recordings around it, in order.
    pub files: Vec<PathBuf>,
    /// Its time by their labels.
    pub label: Utc,
}

/// An entry, which must be there and refer to a recording.
pub(super) fn recorded(reader: &Reader, entry: i64, folder: &Path) -> Result<Recorded, Error> {
    let entry_of = |what: &str, hint: &str| Error::new(format!("entry {entry} {what}"), hint);
    let found = reader
        .get(entry)?
        .ok_or_else(|| entry_of("is not in the logbook", "overside logbook list shows them"))?;
    let draft = found.draft;
    let place = draft.recording.clone().zip(draft.recording_ms.and_then(Utc::from_unix_ms));
    let (name, label) = place.ok_or_else(|| {
        entry_of(
            "refers to no recording",
            "alerts about people do, while the watch records: overside logbook list --kind alert",
        )
    })?;
    let recordings = folder.join(RECORDINGS);
    let files = capture::around(&recordings, &name)
        .map_err(|why| Error::unreadable(&recordings.join(&name), &why))?;
    Ok(Recorded { draft, files, label })
}

/// The logbook, which must be there.
pub(super) fn reader(folder: &Path) -> Result<Reader, Error> {
    let found = Reader::open(folder)?.ok_or_else(|| {
        Error::new(
            format!("there is no logbook in {}", folder.display()),
            "a watch or a note begins one; `[storage] folder` says where",
        )
    })?;
    if found.lacks_newest() {
        tracing::warn!(
            "{} may not be written: the newest entries may be missing here",
            folder.display()
        );
    }
    Ok(found)
}

fn write_note(args: &NoteArgs, folder: &Path, common: &Common) -> Result<ExitCode, Error> {
    let text = args.text.trim();
    if text.is_empty() || text.chars().count() > NOTE_LETTERS {
        let what = format!("a remark has 1 to {NOTE_LETTERS} letters");
        return Err(Error::new(what, "write it in other words, or in several remarks"));
    }
    if let Some(entry) = args.corrects
        && reader(folder)?.get(entry)?.is_none()
    {
        let what = format!("there is no entry {entry} to correct");
        return Err(Error::new(what, "`overside logbook list` shows the numbers"));
    }
    let draft = Draft::note(text, args.by.as_deref(), args.corrects, host_time());
    let entry = logbook::append(folder, draft)?;
    tell_entry(entry, common)
}

/// Says under which number something was written down.
pub(super) fn tell_entry(entry: i64, common: &Common) -> Result<ExitCode, Error> {
    let mut output = anstream::stdout().lock();
    let written = match common.json {
        true => json_line(&mut output, &json!({ "entry": entry })),
        false => writeln!(output, "entry {entry}"),
    };
    written.map_err(|why| Error::unwritable("standard output", &why))?;
    Ok(ExitCode::Done)
}

fn write_export(args: &ExportArgs, folder: &Path) -> Result<ExitCode, Error> {
    let Some(path) = &args.gpx else { return Ok(ExitCode::Done) };
    let reader = reader(folder)?;
    let filter = Filter { since: args.since, until: args.until, ..Filter::default() };
    if path == Path::new("-") {
        let output = BufWriter::new(std::io::stdout().lock());
        write_gpx::<Error>(&reader, &filter, output)?;
    } else {
        let name = path.display().to_string();
        let file = File::create(path).map_err(|why| Error::unwritable(&name, &why))?;
        write_gpx::<Error>(&reader, &filter, BufWriter::new(file))?;
    }
    Ok(ExitCode::Done)
}

fn check(folder: &Path, common: &Common) -> Result<ExitCode, Error> {
    let found = reader(folder)?.check()?;
    let mut output = anstream::stdout().lock();
    let mut say = |line: String| {
        writeln!(output, "{line}").map_err(|why| Error::unwritable("standard output", &why))
    };
    if common.json {
        let logbook::Check { entries, whole, first_bad, .. } = &found;
        // The order of the keys is the contract's.
        let first_bad = first_bad.map_or("null".to_owned(), |entry| entry.to_string());
        let bad: Vec<String> = found.bad.named.iter().map(|(entry, _)| entry.to_string()).collect();
        let bad = bad.join(",");
        say(format!(
            r#"{{"entries":{entries},"whole":{whole},"first_bad":{first_bad},"bad":[{bad}]}}"#
        ))?;
    } else {
        if found.whole {
            let entries = counted(found.entries, "entry");
            say(format!("intact: {entries}, none missing or altered"))?;
        } else {
            let why = found.why.clone();
            let why = why.unwrap_or_else(|| format!("{} missing or altered", found.bad.count));
            let entries = counted(found.entries, "entry");
            say(format!("NOT INTACT, of {entries}: {}", printable(&why)))?;
        }
        for (entry, why) in found.bad.named.iter().take(BAD_SHOWN) {
            say(format!("  entry {entry} {}", printable(why)))?;
        }
        if found.bad.count > BAD_SHOWN as u64 {
            say(format!("  and {} more; --json has them", found.bad.count - BAD_SHOWN as u64))?;
        }
        if let Some((entry, hash)) = &found.last {
            say(format!("last entry {entry}, hash {}", printable(hash)))?;
        }
        say("What this cannot show: whoever holds the file can make a whole new one. Write the last \
             entry and its hash down elsewhere, and it cannot be made anew up to there."
            .to_owned())?;
    }
    Ok(if found.whole { ExitCode::Done } else { ExitCode::Finding })
}
