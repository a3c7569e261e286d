//! `overside muster`: who is aboard, which beacon and lifejacket each has, and what is due.

mod add;
mod listen;
mod record;
mod table;

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::Subcommand;

use super::moment::host_time;
use super::{Common, Error, ExitCode};
use crate::config::Config;
use crate::logbook::{CheckMade, Details, Entry, Filter, Kind, Reader, TestJudged};
use crate::muster::{Check, Facts, Proof, calendar, judge};
use crate::text::json_line;

pub use add::AddArgs;
pub(super) use add::ask;
pub use record::RecordArgs;

/// What a register looks like, for somebody who has none.
const EXAMPLE: &str = "write into overside.toml, or into the file named by --config:\n
    [[person]]
    name = \"Mate\"\n
    [[lifejacket]]
    name = \"jacket 2\"
    service_due = \"2027-04\"\n
    [[beacon]]
    mmsi = 972000017            # the one on its label
    holder = \"Mate\"
    fitted_to = \"jacket 2\"
    battery_expires = \"2029-05\"
    test_every_months = 6";

/// What is asked of the muster.
#[derive(Debug, clap::Args)]
pub struct MusterArgs {
    /// What to do; without, the muster is shown
    #[command(subcommand)]
    pub command: Option<MusterCommand>,
    /// Judge this day instead of today (YYYY-MM-DD), by what was logged up to then
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub as_of: Option<NaiveDate>,
    /// Write the due dates to this file as a calendar (RFC 5545); - for standard output
    #[arg(long, value_name = "FILE")]
    pub ics: Option<PathBuf>,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, global = true, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// What can be done beside showing it.
#[derive(Debug, Subcommand)]
pub enum MusterCommand {
    /// Enter a beacon in the configuration file, with who carries it
    Add(AddArgs),
    /// Write down a check that no receiver can hear
    Record(RecordArgs),
}

/// Does what is asked.
pub(super) fn run(args: &MusterArgs, common: &Common) -> Result<ExitCode, Error> {
    if args.command.is_some() && (args.as_of.is_some() || args.ics.is_some()) {
        let what = "--as-of and --ics show the muster, and `muster record` writes a check";
        return Err(Error::new(what, "leave them out; --on is the day of the check"));
    }
    match &args.command {
        Some(MusterCommand::Add(add)) => add::run(add, common),
        Some(MusterCommand::Record(record)) => {
            let config = super::configuration(common)?;
            let folder = super::logbook_folder(args.storage.as_deref(), &config)?;
            record::run(record, &config, &folder, common)
        }
        None => show(args, &super::configuration(common)?, common),
    }
}

fn show(args: &MusterArgs, config: &Config, common: &Common) -> Result<ExitCode, Error> {
    if config.persons.is_empty() {
        return Err(Error::new("there is nobody in the muster: no [[person]] is written", EXAMPLE));
    }
    let to_stdout = args.ics.as_deref() == Some(Path::new("-"));
    if to_stdout && common.json {
        let what = "the calendar and the JSON line cannot both go to standard output";
        return Err(Error::new(what, "name a file: --ics FILE"));
    }
    let now = host_time();
    let as_of = args.as_of.unwrap_or_else(|| now.date());
    let folder = super::logbook_folder(args.storage.as_deref(), config)?;
    let muster = judge(config, &facts(&folder, as_of)?, as_of);
    let failed = |why| Error::unwritable("standard output", &why);
    if let Some(path) = &args.ics {
        let text = calendar(&muster, &config.vessel, now);
        if to_stdout {
            // No colours in it, and its ends of lines stay as they are.
            std::io::stdout().lock().write_all(text.as_bytes()).map_err(failed)?;
        } else {
            let name = path.display().to_string();
            fs::write(path, text).map_err(|why| Error::unwritable(&name, &why))?;
        }
    }
    let mut output = anstream::stdout().lock();
    if common.json {
        json_line(&mut output, &muster).map_err(failed)?;
    } else if !to_stdout {
        output.write_all(table::of(&muster, &config.vessel).as_bytes()).map_err(failed)?;
    }
    Ok(if muster.everybody_is_ready() { ExitCode::Done } else { ExitCode::Finding })
}

/// What the logbook holds up to the end of a day. Without a logbook, nothing.
fn facts(folder: &Path, as_of: NaiveDate) -> Result<Facts, Error> {
    let mut facts = Facts::default();
    let Some(reader) = Reader::open(folder)? else { return Ok(facts) };
    if reader.lacks_newest() {
        tracing::warn!(
            "{} may not be written: the newest entries may be missing here",
            folder.display()
        );
    }
    for kind in [Kind::Test, Kind::Check] {
        let filter = Filter { kind: Some(kind), ..Filter::default() };
        reader.entries::<Error>(&filter, |entry| {
            if entry.draft.at().date() > as_of {
                return Ok(());
            }
            match &entry.draft.details {
                Details::Test(test) => facts.proofs.extend(proof(test, &entry)),
                Details::Check(made) => {
                    let by = entry.draft.operator.clone();
                    facts.checks.push(check(made.clone(), entry.entry, by));
                }
                _ => {}
            }
            Ok(())
        })?;
    }
    Ok(facts)
}

/// A judged self-test of a beacon; `None` for one of none.
fn proof(test: &TestJudged, Entry { entry, draft, .. }: &Entry) -> Option<Proof> {
    let (mmsi, at, verdict) = (draft.mmsi?, draft.at(), test.verdict);
    Some(Proof { mmsi, at, verdict, summary: reception(test), entry: *entry })
}

/// How a self-test was received: `7 of 8 heard, A 4, B 3, at 12 m`, as far as that is known.
fn reception(test: &TestJudged) -> String {
    let heard = test.messages_heard.zip(test.messages_expected);
    let parts = [
        heard.map(|(heard, expected)| format!("{heard} of {expected} heard")),
        test.channel_a.map(|heard| format!("A {heard}")),
        test.channel_b.map(|heard| format!("B {heard}")),
        test.range_m.map(|range| format!("at {range:.0} m")),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn check(made: CheckMade, entry: i64, by: Option<String>) -> Check {
    let CheckMade { item, check, on, ok, .. } = made;
    Check { item, kind: check, on, ok, by, entry }
}

/// A day on the command line.
fn day(text: &str) -> Result<NaiveDate, &'static str> {
    let is_long = text.len() == "2026-06-14".len();
    let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|_| is_long);
    day.ok_or("give a day such as 2026-06-14")
}
