//! `overside prove`: whether a beacon's self-test was received on board.

mod certificate;
mod dialogue;

use std::io::{self, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::event_printer::wrapped;
use super::{Common, Error, ExitCode};
use crate::app::{self, Plan};
use crate::config::Config;
use crate::edge::NonBlockingWriter;
use crate::logbook::{self, Draft};
use crate::mmsi::Mmsi;
use crate::proof::{Judgement, PositionKind, SelfTest, Session, Subject, Verdict, identities};
use crate::text::{json_line, printable};

use dialogue::Dialogue;

/// What a proof is told.
#[derive(Clone, Debug, clap::Args)]
pub struct ProveArgs {
    /// Judge a recording instead of what is received now; may be given several times
    #[arg(long, value_name = "FILE")]
    pub capture: Vec<PathBuf>,
    /// Only this beacon: its identity, or the name of who carries it
    #[arg(long, value_name = "MMSI|NAME")]
    pub beacon: Option<String>,
    /// Read this input, as in `overside watch`; may be given several times
    #[arg(long, value_name = "URI", conflicts_with = "capture")]
    pub input: Vec<String>,
    /// How long a beacon may take, in minutes: some wait that long for a fix
    #[arg(long, value_name = "N", default_value_t = 15, value_parser = clap::value_parser!(u32).range(1..=120))]
    pub minutes: u32,
    /// Ask nothing and redraw nothing: plain lines, one beacon after the other
    #[arg(long)]
    pub plain: bool,
    /// Write the verdict on a recording into the logbook, too
    #[arg(long)]
    pub record: bool,
    /// Write no verdict into the logbook
    #[arg(long, conflicts_with = "record")]
    pub no_log: bool,
    /// Who tests, to be written down
    #[arg(long, value_name = "WHO")]
    pub by: Option<String>,
    /// Write a page to be printed: ship, beacon, reception, findings
    #[arg(long, value_name = "FILE.html")]
    pub certificate: Option<PathBuf>,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// An entry that was written for a test: its number and hash.
type Entered = Option<(i64, String)>;

/// Proves it.
pub(super) fn run(args: &ProveArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let subjects = subjects(args.beacon.as_deref(), &config)?;
    let writes = !args.no_log && (args.capture.is_empty() || args.record);
    let folder = writes.then(|| super::logbook_folder(args.storage.as_deref(), &config));
    let book = Book { by: args.by.clone(), folder: folder.transpose()?, ..Book::default() };
    let (tests, mut book) = if args.capture.is_empty() {
        live(args, common, &config, subjects, book)?
    } else {
        let listening = app::receive(&args.capture, app::settings(&config))
            .map_err(|why| super::error_of(&why))?;
        let tests = SelfTest::of_recording(subjects, &ship_identities(&config), &listening);
        for test in &tests {
            tell(&test.verdict, common)?;
        }
        let judged = |mmsi: &Mmsi| tests.iter().any(|test| test.verdict.mmsi == Some(*mmsi));
        let mut others = identities(&listening.transmissions);
        others.retain(|mmsi| !common.json && !judged(mmsi));
        for mmsi in others {
            let _ = writeln!(anstream::stderr(), "also heard (not tested now): beacon {mmsi}");
        }
        (tests, book)
    };
    book.enter(&tests);
    if let Some(path) = &args.certificate {
        let page = certificate::page(&config, &tests, &book.entries, args.by.as_deref());
        std::fs::write(path, page)
            .map_err(|why| Error::unwritable(&path.display().to_string(), &why))?;
    }
    match book.unwritten {
        Some(why) => Err(why),
        None => Ok(exit_code(&tests)),
    }
}

/// Where verdicts are written down, each once.
#[derive(Default)]
struct Book {
    by: Option<String>,
    /// The logbook's; `None` where nothing is to be written.
    folder: Option<PathBuf>,
    /// For each test that was judged, in their order.
    entries: Vec<Entered>,
    /// Why something could not be written: what was heard is not lost by that, and the page is made
    /// all the same.
    unwritten: Option<Error>,
}

impl Book {
    /// Enters those of the tests that are new. Nothing rehearsed is written down.
    fn enter(&mut self, tests: &[SelfTest]) {
        for test in tests.iter().skip(self.entries.len()) {
            let folder = self.folder.as_ref().filter(|_| !test.verdict.rehearsed);
            let written = folder.map(|folder| write_down(test, self.by.as_deref(), folder));
            self.entries.push(match written {
                Some(Ok(written)) => Some(written),
                Some(Err(why)) => {
                    self.unwritten = Some(why);
                    None
                }
                None => None,
            });
        }
    }
}

/// The worst counts: ACTIVE before anything that is not proven.
fn exit_code(tests: &[SelfTest]) -> ExitCode {
    match tests.iter().map(|test| test.verdict.verdict).max() {
        Some(Judgement::Proven) => ExitCode::Done,
        Some(Judgement::ActiveHeard) => ExitCode::HeardActive,
        _ => ExitCode::Finding,
    }
}

/// The beacons to be judged: the one that was named, else the muster; none if there is neither.
fn subjects(named: Option<&str>, config: &Config) -> Result<Vec<Subject>, Error> {
    let of_muster = app::subjects(config);
    let Some(named) = named else { return Ok(of_muster) };
    let mmsi = named.parse().ok().and_then(Mmsi::new);
    let found: Vec<Subject> = of_muster
        .into_iter()
        .filter(|it| {
            it.mmsi == mmsi.filter(|_| mmsi.is_some()) || it.person.as_deref() == Some(named)
        })
        .collect();
    match (found.as_slice(), mmsi) {
        ([], Some(mmsi)) if mmsi.beacon_kind().is_some() => {
            let stranger = !config.beacons.is_empty();
            Ok(vec![Subject { mmsi: Some(mmsi), stranger, ..Subject::default() }])
        }
        ([], Some(mmsi)) => Err(Error::new(
            format!("{mmsi} is no survivor beacon's identity"),
            "it begins with 970, 972 or 974",
        )),
        ([], None) => Err(Error::new(
            format!("nobody of the muster is called {named:?} and carries a beacon"),
            "write the name as in the configuration, or the beacon's identity",
        )),
        _ => Ok(found),
    }
}

/// The ship identities programmed into the beacons of the muster.
fn ship_identities(config: &Config) -> Vec<Mmsi> {
    config.beacons.iter().filter_map(|beacon| beacon.dsc_mmsi).collect()
}

/// Proves live: a dialogue on the terminal, or plain lines.
fn live(
    args: &ProveArgs,
    common: &Common,
    config: &Config,
    subjects: Vec<Subject>,
    book: Book,
) -> Result<(Vec<SelfTest>, Book), Error> {
    if subjects.is_empty() {
        return Err(Error::new(
            "there is no muster, and no beacon was named",
            "name one with --beacon, or write [[beacon]] into the configuration",
        ));
    }
    let plan = Plan {
        inputs: super::watch::inputs(&args.input, config)?,
        settings: app::settings(config),
        muster: Vec::new(),
        // What is heard ACTIVE sounds like the emergency it may be.
        sounder: super::sound_check::settings(config, io::stderr().is_terminal()),
        hooks: Vec::new(),
        outputs: Vec::new(),
        finds: None,
        keeps_logbook: false,
        folder: None,
        configuration: None,
        record: None,
        door: None,
        watchkeeper: None,
    };
    let asks =
        !args.plain && !common.json && io::stdin().is_terminal() && io::stdout().is_terminal();
    let writer = NonBlockingWriter::stdout()
        .map_err(|why| Error::new(format!("cannot start: {why}"), "check the limit of threads"))?;
    let longest = Duration::from_secs(60 * u64::from(args.minutes));
    let out = super::out(&writer);
    let session = Session::new(subjects, ship_identities(config), longest, asks);
    let mut dialogue = Dialogue::new(session, book, args.minutes, out, asks, common.json);
    let done = super::block_on(async {
        let (plan, watches) = app::through_watches(plan).await?;
        for it in watches {
            let (input, pid) = (printable(&it.input), it.pid);
            let said = format!("heard through the watch's receivers, pid {pid}: input {input}");
            let _ = writeln!(anstream::stderr(), "{said}");
        }
        app::watch(plan, || None, &mut dialogue).await
    });
    writer.settle(Duration::from_secs(2));
    done?;
    dialogue.end()
}

/// Writes a verdict into the logbook: the number and the hash of its entry.
fn write_down(test: &SelfTest, by: Option<&str>, folder: &Path) -> Result<(i64, String), Error> {
    let entry = logbook::append(folder, Draft::self_test(test, by))?;
    let hash = super::logbook::reader(folder)?.get(entry)?.map(|it| it.hash).unwrap_or_default();
    let _ = writeln!(anstream::stderr(), "written down as entry {entry}");
    Ok((entry, hash))
}

/// Tells a verdict on standard output.
fn tell(verdict: &Verdict, common: &Common) -> Result<(), Error> {
    let mut out = anstream::stdout().lock();
    let told =
        if common.json { json_line(&mut out, verdict) } else { write!(out, "{}", words(verdict)) };
    told.map_err(|why| Error::unwritable("standard output", &why))
}

/// The verdict with its reasons.
fn words(verdict: &Verdict) -> String {
    let mut text = wrapped(&printable(&verdict.summary()), "");
    for finding in &verdict.findings {
        text.push_str(&wrapped(&format!("- {}", printable(finding)), "  "));
    }
    let position = match verdict.position {
        PositionKind::Valid | PositionKind::None => None,
        PositionKind::Default => Some("no fix"),
        PositionKind::Stale => Some("an old fix"),
    };
    if let Some(position) = position {
        text.push_str(&format!("  its position: {position}\n"));
    }
    match verdict.dsc_call {
        Some(true) => text.push_str("  its DSC test call was heard\n"),
        Some(false) => text.push_str(&wrapped(
            "its DSC test call was not heard by this program, which is no failure: many radios do \
             not pass calls on. If the radio itself rang, write that down: \
             `overside logbook note`",
            "  ",
        )),
        None => {}
    }
    text
}
