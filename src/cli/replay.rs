//! `overside replay`: the watch over a recording.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use super::event_printer::EventPrinter;
use super::helm::HelmArgs;
use super::logbook::Recorded;
use super::moment::{When, when};
use super::{Common, Error, ExitCode};
use crate::app::{self, Replay};
use crate::capture::is_standard_input;
use crate::helm::AtHelm;
use crate::logbook::{self, Details, Draft, WatchEvent};
use crate::text::counted;
use crate::time::Utc;
use crate::watch::Summary;

/// What lies before and after an entry: five minutes each.
const AROUND_MS: i64 = 5 * 60 * 1000;

/// What a replay is told.
#[derive(Debug, clap::Args)]
pub struct ReplayArgs {
    /// The recordings, in order; - for standard input
    #[arg(required_unless_present = "from_logbook", value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Replay the ten minutes around this entry of the logbook, from the watch's own recordings
    #[arg(long, value_name = "ENTRY", conflicts_with_all = ["files", "from", "until"])]
    pub from_logbook: Option<i64>,
    /// Write into the logbook that this was replayed, and what was in it
    #[arg(long)]
    pub record: bool,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
    /// How fast time passes: 1, 10, any other number, or max
    ///
    /// On the screen 1 if not given, else max.
    #[arg(long, value_name = "N|max")]
    pub speed: Option<Speed>,
    /// Begin at this time, or so far into the recording, such as 10min
    #[arg(long, value_name = "T", value_parser = when)]
    pub from: Option<When>,
    /// End at this time, or so far into the recording
    #[arg(long, value_name = "T", value_parser = when)]
    pub until: Option<When>,
    /// No screen: print events on standard output
    #[arg(long)]
    pub headless: bool,
    /// The page at the helm.
    #[command(flatten)]
    pub helm: HelmArgs,
}

/// How fast a replay goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Speed {
    /// So many times as fast as it happened; above zero.
    Times(f64),
    /// Without waiting.
    Max,
}

impl FromStr for Speed {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text == "max" {
            return Ok(Self::Max);
        }
        let times = text.parse().ok().filter(|times: &f64| times.is_finite() && *times > 0.0);
        times.map(Self::Times).ok_or("give a number above zero, or max")
    }
}

/// Replays the files.
pub(super) fn run(args: &ReplayArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let settings = app::settings(&config);
    let typed = args.files.iter().any(|path| path == Path::new("-"));
    let screen = super::wants_screen(args.headless || typed, common);
    let speed = match args.speed {
        Some(Speed::Times(times)) => Some(times),
        Some(Speed::Max) => None,
        None => screen.then_some(1.0),
    };
    let replay = match args.from_logbook {
        Some(entry) => Replay {
            speed,
            ..around(entry, &super::logbook_folder(args.storage.as_deref(), &config)?)?
        },
        None => Replay {
            files: args.files.clone(),
            speed,
            from: args.from.map(|it| placed(it, &args.files)).transpose()?,
            until: args.until.map(|it| placed(it, &args.files)).transpose()?,
            muster: Vec::new(),
        },
    };
    let replay = Replay { muster: app::subjects(&config), ..replay };
    // Only where it is asked for: the configured page is that of the watch.
    let helm = match args.helm.helm {
        Some(_) => super::helm::settings(&args.helm, &config)?,
        None => None,
    };
    let summary = if screen {
        let mut display = AtHelm::open(super::display(&config)?, helm);
        super::block_on(app::replay(&replay, settings, &mut display))?
    } else {
        let printer = EventPrinter::new(anstream::stdout().lock(), common.json);
        let mut printer = AtHelm::open(printer, helm);
        super::block_on(app::replay(&replay, settings, &mut printer))?
    };
    if args.record {
        write_down(&replay, &summary, &super::logbook_folder(args.storage.as_deref(), &config)?)?;
    }
    Ok(ExitCode::Done)
}

/// A moment of a recording.
fn placed(when: When, files: &[PathBuf]) -> Result<Utc, Error> {
    let after = match when {
        When::At(utc) => return Ok(utc),
        When::After(span) => span,
    };
    if files.iter().any(|path| is_standard_input(path)) {
        let what = "nobody knows beforehand when standard input begins";
        return Err(Error::new(what, "give a time such as 2026-06-14T02:09:55Z, or name a file"));
    }
    let begin = app::beginning(files).map_err(|why| super::error_of(&why))?;
    Ok(begin.unwrap_or(Utc::EPOCH).plus(after))
}

/// The ten minutes around an entry of the logbook.
fn around(entry: i64, folder: &Path) -> Result<Replay, Error> {
    let reader = super::logbook::reader(folder)?;
    let Recorded { files, label, .. } = super::logbook::recorded(&reader, entry, folder)?;
    let ms = |ms: i64| Utc::from_unix_ms(label.unix_ms() + ms);
    let (from, until) = (ms(-AROUND_MS), ms(AROUND_MS));
    Ok(Replay { files, from, until, ..Replay::default() })
}

/// Writes into the logbook what was replayed.
fn write_down(replay: &Replay, summary: &Summary, folder: &Path) -> Result<(), Error> {
    let files: Vec<String> = replay.files.iter().map(|it| it.display().to_string()).collect();
    let text = format!("Replayed {}: {}", files.join(", "), counted(summary.alerts, "alert"));
    let told = serde_json::to_value(summary).unwrap_or_default();
    let told = serde_json::json!({ "replayed": told });
    let details = Details::Watch { event: Some(WatchEvent::Replayed), told };
    logbook::append(folder, Draft::outside(details, text, super::moment::host_time()))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_speed_is_a_number_above_zero_or_max() {
        assert_eq!("10".parse(), Ok(Speed::Times(10.0)));
        assert_eq!("0.5".parse(), Ok(Speed::Times(0.5)));
        assert_eq!("max".parse(), Ok(Speed::Max));
        for wrong in ["0", "-1", "nan", "inf", "fast", ""] {
            assert!(wrong.parse::<Speed>().is_err(), "{wrong}");
        }
    }
}
