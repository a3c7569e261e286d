//! `overside logbook`: what was written down.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::story::printable;
use super::{Common, Error, ExitCode};
use crate::config::Config;
use crate::edge::Clock;
use crate::logbook::{
    self, Draft, Entry, Filter, Handover, Kind, Moment, QUESTIONS, Reader, Tracks,
};
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::Priority;

/// What is wanted of the logbook.
#[derive(Debug, clap::Args)]
pub struct LogbookArgs {
    /// What to do.
    #[command(subcommand)]
    command: What,
    /// Read the logbook in this folder, instead of the configured one
    #[arg(long, global = true, value_name = "FOLDER")]
    storage: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List entries
    List(List),
    /// Write a remark
    Note(Note),
    /// Sum the watch up on one page for whoever takes it over
    Handover(HandoverArgs),
    /// Write positions and casualty tracks to a file
    Export(Export),
    /// Prove that nothing is missing or altered
    Check,
}

#[derive(Debug, clap::Args)]
struct Span {
    /// From this time on (RFC 3339)
    #[arg(long, value_name = "T", value_parser = super::moment)]
    since: Option<Utc>,
    /// Up to this time (RFC 3339)
    #[arg(long, value_name = "T", value_parser = super::moment)]
    until: Option<Utc>,
}

#[derive(Debug, clap::Args)]
struct List {
    #[command(flatten)]
    span: Span,
    /// Only of this kind: alert, beacon, dsc, safety_text, input, operator, watch, position, test,
    /// check
    #[arg(long, value_name = "KIND", value_parser = named::<Kind>)]
    kind: Option<Kind>,
    /// Only about this station
    #[arg(long, value_name = "MMSI", value_parser = identity)]
    mmsi: Option<Mmsi>,
    /// Only of this priority: emergency_alarm, alarm, warning, caution
    #[arg(long, value_name = "PRIORITY", value_parser = named::<Priority>)]
    priority: Option<Priority>,
    /// Only the newest so many
    #[arg(long, value_name = "N")]
    newest: Option<u32>,
    /// As comma-separated values
    #[arg(long)]
    csv: bool,
}

#[derive(Debug, clap::Args)]
struct Note {
    /// What to write
    text: String,
    /// Who writes it
    #[arg(long, value_name = "WHO")]
    by: Option<String>,
    /// The entry that this corrects or belongs to
    #[arg(long, value_name = "ENTRY")]
    refers_to: Option<i64>,
}

#[derive(Debug, clap::Args)]
struct HandoverArgs {
    /// Since this time, instead of the beginning of the watch (RFC 3339)
    #[arg(long, value_name = "T", value_parser = super::moment)]
    since: Option<Utc>,
    /// Write into the logbook that the watch was handed over to this person
    #[arg(long, value_name = "WHO")]
    to: Option<String>,
    /// Who hands it over
    #[arg(long, value_name = "WHO", requires = "to")]
    from: Option<String>,
}

#[derive(Debug, clap::Args)]
struct Export {
    /// As GPX 1.1, to this file; - for standard output
    #[arg(long, value_name = "FILE")]
    gpx: PathBuf,
    #[command(flatten)]
    span: Span,
}

/// Does what is wanted.
pub(super) fn run(args: &LogbookArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let folder = super::books(args.storage.as_deref(), &config)?;
    match &args.command {
        What::List(list) => self::list(list, &folder, common.json),
        What::Note(note) => self::note(note, &folder),
        What::Handover(page) => handover(page, &folder, common.json),
        What::Export(export) => self::export(export, &folder),
        What::Check => check(&folder, common.json),
    }
}

/// Opens the logbook in a folder.
pub(super) fn reader(folder: &Path) -> Result<Reader, Error> {
    Reader::open(folder).map_err(|why| fault(&why))?.ok_or_else(|| {
        Error::new(
            format!("there is no logbook in {}", folder.display()),
            "a watch begins one; name another folder with --storage or [storage] folder",
        )
    })
}

/// A logbook that cannot be read or written, for a person.
pub(super) fn fault(why: &logbook::Error) -> Error {
    let hint = match why {
        logbook::Error::Newer { .. } => "install the newer version",
        logbook::Error::Foreign { .. } => "name another folder with --storage",
        logbook::Error::Damaged { .. } => "copy the folder away, then let a watch begin anew",
        _ => "check the folder, who may write it, and whether the disk is full",
    };
    Error::new(why.to_string(), hint)
}

fn output(why: io::Error) -> Error {
    Error::unwritable("standard output", &why)
}

/// A value by the name that JSON has for it.
fn named<T: serde::de::DeserializeOwned>(name: &str) -> Result<T, String> {
    serde_json::from_value(name.into()).map_err(|why| {
        let why = why.to_string();
        why.split_once("expected").map_or(why.clone(), |(_, names)| format!("give{names}"))
    })
}

fn identity(text: &str) -> Result<Mmsi, &'static str> {
    text.parse().ok().and_then(Mmsi::new).ok_or("give nine digits")
}

fn list(args: &List, folder: &Path, json: bool) -> Result<ExitCode, Error> {
    let filter = Filter {
        since: args.span.since,
        until: args.span.until,
        kind: args.kind,
        mmsi: args.mmsi,
        priority: args.priority,
        newest: args.newest,
    };
    let mut out = BufWriter::new(anstream::stdout().lock());
    if args.csv {
        logbook::write_csv(&mut out, None).map_err(output)?;
    }
    let mut day = None;
    let written = reader(folder)?.try_entries(&filter, |entry| {
        if args.csv {
            return logbook::write_csv(&mut out, Some(&entry));
        }
        if json {
            return writeln!(out, "{}", entry.to_json()?);
        }
        let date = entry.draft.at().date();
        if day.replace(date) != Some(date) {
            writeln!(out, "{}", date.format("%A %-d %B %Y, UTC"))?;
        }
        writeln!(out, "{}", row(&entry))
    });
    written.map_err(|why| fault(&why))?.map_err(output)?;
    out.flush().map_err(output)?;
    Ok(ExitCode::Done)
}

/// An entry as a line to be read.
fn row(entry: &Entry) -> String {
    let draft = &entry.draft;
    let word = match (draft.kind, draft.priority) {
        (Kind::Alert, Some(priority)) => super::story::priority(priority),
        (kind, _) => match kind {
            Kind::SafetyText => "text",
            Kind::Alert => "alert",
            Kind::Beacon => "beacon",
            Kind::Dsc => "DSC",
            Kind::Input => "input",
            Kind::Operator => "operator",
            Kind::Watch => "watch",
            Kind::Position => "position",
            Kind::Test => "test",
            Kind::Check => "check",
        },
    };
    let mut text = draft.text.clone();
    if draft.kind != Kind::Alert
        && let Some(mmsi) = draft.mmsi
    {
        let who = draft.person.as_ref().map_or(String::new(), |who| format!("{who} "));
        text = format!("{who}{mmsi}: {text}");
    }
    if let Some(state) = draft.state {
        text = super::story::in_state(state, draft.priority, &text);
    }
    if let Some(own) = draft.own.filter(|_| draft.kind == Kind::Position) {
        text = format!("{own} {text}");
    }
    if let Some(entry) = draft.refers_to {
        text.push_str(&format!(" (to entry {entry})"));
    }
    if let Some(by) = &draft.operator {
        text.push_str(&format!(" ({by})"));
    }
    let doubt = if draft.at() == draft.host() { "" } else { " (GNSS time)" };
    let number = draft.entry;
    format!("{number:>6}  {}{doubt}  {word:<9}  {}", draft.at().clock(), printable(&text))
}

fn now() -> Utc {
    Clock::start().now().utc
}

/// Appends an entry from outside of a watch.
pub(super) fn append(folder: &Path, draft: Draft) -> Result<i64, Error> {
    logbook::append(folder, draft).map_err(|why| fault(&why))
}

fn note(args: &Note, folder: &Path) -> Result<ExitCode, Error> {
    if let Some(entry) = args.refers_to
        && reader(folder)?.get(entry).map_err(|why| fault(&why))?.is_none()
    {
        let what = format!("entry {entry} is not in the logbook");
        return Err(Error::new(what, "overside logbook list shows them"));
    }
    let mut draft = Draft::new(Kind::Operator, &*args.text, &Moment::at(now()));
    draft.refers_to = args.refers_to;
    let entry = append(folder, draft.by(args.by.as_deref()))?;
    let _ = writeln!(anstream::stderr(), "entry {entry}");
    Ok(ExitCode::Done)
}

fn handover(args: &HandoverArgs, folder: &Path, json: bool) -> Result<ExitCode, Error> {
    let page = reader(folder)?.handover(args.since).map_err(|why| fault(&why))?;
    let mut out = BufWriter::new(anstream::stdout().lock());
    if json {
        serde_json::to_writer(&mut out, &page).map_err(|why| output(why.into()))?;
        out.write_all(b"\n").map_err(output)?;
    } else {
        print_page(&mut out, &page, args).map_err(output)?;
    }
    out.flush().map_err(output)?;
    if let Some(to) = &args.to {
        let from = args.from.as_ref().map(|from| format!(" by {from}")).unwrap_or_default();
        let text = format!("Watch handed over{from} to {to}");
        let mut draft = Draft::new(Kind::Watch, text, &Moment::at(now()));
        draft.details = serde_json::json!({ "handed_over_to": to, "page": page });
        append(folder, draft.by(args.from.as_deref()))?;
    }
    Ok(ExitCode::Done)
}

fn print_page(out: &mut impl Write, page: &Handover, args: &HandoverArgs) -> io::Result<()> {
    let (Some(begun), Some(ended)) = (page.begun, page.ended) else {
        return writeln!(out, "Nothing was written down since then.");
    };
    let minutes = ended.ms_since(begun) / 60_000;
    writeln!(out, "HANDOVER OF THE WATCH")?;
    if let Some(to) = &args.to {
        let from = args.from.as_deref().unwrap_or("the watch before");
        writeln!(out, "from {} to {}", printable(from), printable(to))?;
    }
    let day = begun.date().format("%-d %B %Y");
    let (hours, minutes) = (minutes / 60, minutes % 60);
    writeln!(out, "{day}, {} to {}: {hours} h {minutes} min", begun.clock(), ended.clock())?;
    if let Some((first, last)) = page.own {
        writeln!(out, "from {first} to {last}")?;
    }
    for (title, lines, none) in [
        ("Open alerts", &page.open, "none"),
        ("Alerts that are over", &page.resolved, "none"),
        ("Self-tests heard", &page.tests, "none"),
        ("Inputs that failed", &page.inputs, "none"),
        ("Acts and notes", &page.notes, "none"),
    ] {
        writeln!(out, "\n{title}")?;
        for line in lines {
            writeln!(out, "  {}", printable(line))?;
        }
        if lines.is_empty() {
            writeln!(out, "  {none}")?;
        }
    }
    writeln!(out, "\nAsk and look (the skipper's orders come first)")?;
    for question in QUESTIONS {
        writeln!(out, "  [ ] {question}")?;
    }
    Ok(())
}

fn export(args: &Export, folder: &Path) -> Result<ExitCode, Error> {
    let mut tracks = Tracks::default();
    let filter = Filter { since: args.span.since, until: args.span.until, ..Filter::default() };
    let reader = reader(folder)?;
    reader.entries(&filter, |entry| tracks.take(&entry.draft)).map_err(|why| fault(&why))?;
    if args.gpx == Path::new("-") {
        let mut out = BufWriter::new(io::stdout().lock());
        logbook::write_gpx(&mut out, &tracks).and_then(|()| out.flush()).map_err(output)?;
        return Ok(ExitCode::Done);
    }
    let write = || {
        let mut out = BufWriter::new(File::create(&args.gpx)?);
        logbook::write_gpx(&mut out, &tracks)?;
        out.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
    };
    write().map_err(|why| Error::unwritable(&args.gpx.display().to_string(), &why))?;
    Ok(ExitCode::Done)
}

fn check(folder: &Path, json: bool) -> Result<ExitCode, Error> {
    let found = reader(folder)?.check().map_err(|why| fault(&why))?;
    let mut out = anstream::stdout().lock();
    if json {
        let object = serde_json::json!({
            "entries": found.entries, "whole": found.whole, "first_bad": found.first_bad,
        });
        writeln!(out, "{object}").map_err(output)?;
    } else if found.whole {
        let hash = found.last_hash.as_deref().unwrap_or("none");
        writeln!(
            out,
            "whole: {} entries, nothing missing or altered\nlast hash {hash}\n\
             Note the hash elsewhere: whoever holds the file could write all of it anew.",
            found.entries
        )
        .map_err(output)?;
    } else {
        let why = found.why.as_deref().unwrap_or("not known");
        let at = found.first_bad.map_or(String::new(), |entry| format!(" at entry {entry}"));
        writeln!(out, "NOT WHOLE{at}: {why}").map_err(output)?;
    }
    Ok(if found.whole { ExitCode::Done } else { ExitCode::Finding })
}

/// The logbook's folder, where one can be known.
pub(super) fn folder(given: Option<&Path>, config: &Config) -> Option<PathBuf> {
    given.map(Path::to_owned).or_else(|| config.storage.folder(|name| std::env::var_os(name)))
}
