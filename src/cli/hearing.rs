//! `overside hearing`: how far the boat hears, now and over days.

use std::fs;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

use super::event_printer::wrapped;
use super::moment::{host_time, moment};
use super::{Common, Error, ExitCode};
use crate::app;
use crate::config::Config;
use crate::drawing::Dots;
use crate::hearing::{Hearing, StationTogether, lines, page};
use crate::logbook::HOURS;
use crate::position::Position;
use crate::text::json_line;
use crate::time::Utc;
use crate::watch::Settings;

/// What is asked of how far the boat hears.
#[derive(Debug, clap::Args)]
pub struct HearingArgs {
    /// Recordings, the parts of one feed in order; - for standard input
    ///
    /// Without any, what the watch has kept beside the logbook is shown.
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Leave out what is earlier: a time, or how long ago, such as 30d
    ///
    /// If not given, all of the recordings, or seven days of what was kept.
    #[arg(long, value_name = "T", value_parser = moment)]
    pub since: Option<Utc>,
    /// Where the receiver stands, if it is ashore: "57 42.07N 010 35.89E" or "57.70117,10.59817"
    ///
    /// Counts before any position in the recordings.
    #[arg(long, value_name = "POSITION", value_parser = Position::parse, allow_hyphen_values = true, requires = "files")]
    pub position: Option<Position>,
    /// Where another station stands whose lines are in the recordings: pier=57.70117,10.59817; may be given several times
    ///
    /// If not given, where its own sentences say.
    #[arg(long, value_name = "NAME=POSITION", value_parser = station, allow_hyphen_values = true, requires = "files")]
    pub station: Vec<(String, Position)>,
    /// Write it as a page into this file: HTML with drawings, which needs nothing else
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// What is shown if nothing else is asked for: seven days. Our own.
const SHOWN_MS: i64 = 7 * 86_400_000;

/// Puts the hours together and shows them.
pub(super) fn run(args: &HearingArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let hearing = if args.files.is_empty() {
        let folder = super::logbook_folder(args.storage.as_deref(), &config)?;
        kept(&folder, args.since)?
    } else {
        recorded(args, &config)?
    };
    if let Some(path) = &args.page {
        let page = page(&hearing, config.vessel.name.as_deref());
        fs::write(path, page)
            .map_err(|why| Error::unwritable(&path.display().to_string(), &why))?;
        tracing::info!("the page is in {}", path.display());
    }
    tell(&hearing, common).map_err(|why| Error::unwritable("standard output", &why))?;
    let known = hearing.now.is_some() || !hearing.hours.is_empty();
    Ok(if known { ExitCode::Done } else { ExitCode::Finding })
}

/// What the watch has kept.
fn kept(folder: &Path, since: Option<Utc>) -> Result<Hearing, Error> {
    let now = host_time();
    let since = since.or_else(|| Utc::from_unix_ms(now.unix_ms().saturating_sub(SHOWN_MS)));
    let hours = super::logbook::reader(folder)?.hours(since, HOURS)?;
    Ok(Hearing::of(hours, None, Some(now)))
}

fn recorded(args: &HearingArgs, config: &Config) -> Result<Hearing, Error> {
    super::check_files(&args.files)?;
    let settings = Settings { receiver_at: args.position, ..app::settings(config) };
    let places = args.station.iter().cloned().collect();
    let (aboard, stations) =
        app::hear(&args.files, settings, &places).map_err(|why| super::error_of(&why))?;
    let together = |mut heard: app::Heard| {
        heard.hours.retain(|hour| args.since.is_none_or(|since| hour.start >= since));
        Hearing::of(heard.hours, Some(heard.now), None)
    };
    let stations = stations.into_iter().map(|(name, heard)| {
        let position = heard.position;
        StationTogether::of(name, position, together(heard))
    });
    let (position, stations) = (aboard.position, stations.collect());
    Ok(together(aboard).among(position, stations))
}

/// `pier=57.70117,10.59817`.
fn station(text: &str) -> Result<(String, Position), &'static str> {
    let (name, place) = text.split_once('=').ok_or("write it as NAME=POSITION")?;
    Ok((name.trim().to_owned(), Position::parse(place)?))
}

fn tell(hearing: &Hearing, common: &Common) -> std::io::Result<()> {
    let mut output = BufWriter::new(anstream::stdout().lock());
    if common.json {
        json_line(&mut output, hearing)?;
        return output.flush();
    }
    let dots = Dots::of(|name| std::env::var_os(name));
    for line in lines(hearing, dots) {
        // A plot has its own width; a sentence may be longer.
        match line.chars().count() {
            ..80 => writeln!(output, "{line}")?,
            _ => write!(output, "{}", wrapped(&line, ""))?,
        }
    }
    output.flush()
}
