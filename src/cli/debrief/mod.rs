//! `overside debrief`: what a recorded drill tells, measured.

mod folder;
mod from_logbook;
mod progress;
mod report;
mod table;

use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};

use super::{Common, Error, ExitCode};
use crate::app;
use crate::config::Config;
use crate::debrief::{About, CasualtySummary, Drill, Enrolled, Observer};
use crate::drawing::Dots;
use crate::text::json_line;
use crate::thread;
use crate::time::Utc;
use crate::zone::Zone;

use progress::Progress;

/// What a debrief is told.
#[derive(Debug, clap::Args)]
pub struct DebriefArgs {
    /// The recordings, each a drill of its own; - for standard input
    #[arg(required_unless_present = "from_logbook", value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// The files are parts of one recording, in order
    #[arg(long)]
    pub parts: bool,
    /// The drill around this entry of the logbook, from the watch's own recordings; may be given
    /// several times; all: every drill that is recorded
    #[arg(
        long,
        value_name = "ENTRY",
        value_parser = which,
        conflicts_with_all = ["files", "parts"]
    )]
    pub from_logbook: Vec<Which>,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
    /// Where the report goes: a folder, made if need be
    ///
    /// If not given, a folder in the working folder that is named after the recording; with --json
    /// none.
    #[arg(long, value_name = "DIR")]
    pub folder: Option<PathBuf>,
}

/// Which drill of the logbook.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The one around this entry.
    Entry(i64),
    /// Every one.
    All,
}

fn which(text: &str) -> Result<Which, &'static str> {
    match text {
        "all" => Ok(Which::All),
        _ => text.parse().map(Which::Entry).map_err(|_| "it is the number of an entry, or all"),
    }
}

/// A recording to be debriefed.
struct Source {
    files: Vec<PathBuf>,
    until: Option<Utc>,
    about: About,
}

/// Measures, writes, tells.
pub(super) fn run(args: &DebriefArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    super::check_files(&args.files)?;
    let sources = sources(args, &config)?;
    let zone = super::zone(&config);
    let progress = Progress::begin(sources.iter().flat_map(|source| &source.files));
    // Each for itself, on all cores.
    let drills =
        thread::each(&sources, |_, source| measured(source, &config, zone.as_ref(), &progress));
    let drills: Vec<Drill> = drills.into_iter().collect::<Result<_, _>>()?;
    progress.end();
    let folder = args.folder.clone().or_else(|| (!common.json).then(|| folder::named(&drills)));
    let written = folder.map(|folder| folder::write(&folder, &drills).map(|files| (folder, files)));
    tell(&drills, common)?;
    // What was measured is told before it is said that it cannot be written.
    if let Some((folder, files)) = written.transpose()? {
        for file in files {
            eprintln!("{file}");
        }
        eprintln!("the report is in {}", folder.display());
    }
    let measured = drills.iter().any(|drill| !drill.casualties.is_empty());
    Ok(if measured { ExitCode::Done } else { ExitCode::Finding })
}

fn sources(args: &DebriefArgs, config: &Config) -> Result<Vec<Source>, Error> {
    let ship = config.vessel.name.clone();
    if !args.from_logbook.is_empty() {
        let folder = super::logbook_folder(args.storage.as_deref(), config)?;
        let mut entries = Vec::new();
        for which in &args.from_logbook {
            match *which {
                Which::Entry(entry) => entries.push(entry),
                Which::All => entries.extend(from_logbook::drills(&folder)?),
            }
        }
        let of = |entry| from_logbook::source(entry, &folder, ship.clone());
        return entries.into_iter().map(of).collect();
    }
    let source = |files: &[PathBuf]| {
        let recording = files.first().map_or_else(String::new, |path| name_of(path));
        let about = About { recording, ship: ship.clone(), ..About::default() };
        Source { files: files.to_vec(), until: None, about }
    };
    if args.parts {
        return Ok(vec![source(&args.files)]);
    }
    Ok(args.files.iter().map(|file| source(std::slice::from_ref(file))).collect())
}

/// What a recording is called: its file without folder and ending.
fn name_of(path: &Path) -> String {
    if path == Path::new("-") {
        return "standard input".to_owned();
    }
    path.file_stem().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn measured(
    source: &Source,
    config: &Config,
    zone: Option<&Zone>,
    progress: &Progress,
) -> Result<Drill, Error> {
    let mut observer = Observer::new();
    let settings = app::settings(config);
    let mut before = 0;
    let seen = |bytes| progress.add(bytes - std::mem::replace(&mut before, bytes));
    app::observe(&source.files, source.until, settings, &mut observer, seen)
        .map_err(|why| super::error_of(&why))?;
    let enrolled = config.beacons.iter().map(|it| Enrolled {
        mmsi: it.mmsi,
        person: it.holder.clone(),
        dsc_mmsi: it.dsc_mmsi,
    });
    let crew = enrolled.collect();
    Ok(observer.finish(About { zone: zone.cloned(), crew, ..source.about.clone() }))
}

fn tell(drills: &[Drill], common: &Common) -> Result<(), Error> {
    let failed = |why: io::Error| Error::unwritable("standard output", &why);
    let mut output = BufWriter::new(anstream::stdout().lock());
    if common.json {
        for drill in drills {
            for casualty in &drill.casualties {
                json_line(&mut output, &CasualtySummary::of(drill, casualty)).map_err(failed)?;
            }
        }
    } else {
        let dots = Dots::of(|name| std::env::var_os(name));
        for drill in drills {
            report::write(&mut output, drill, dots).map_err(failed)?;
        }
        if drills.len() > 1 {
            table::write(&mut output, drills).map_err(failed)?;
        }
    }
    output.flush().map_err(failed)
}
