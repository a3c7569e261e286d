//! The command line: what is asked for, one file per command, and how the program ends.
//!
//! Data goes to standard output, talk to standard error. No command decides anything here: it
//! reads its arguments, calls the part that does the work, and says how that went.

mod args;
mod arguments;
mod attach;
mod config;
mod debrief;
mod decode;
mod display;
mod error;
mod event_printer;
mod exit;
mod hearing;
mod helm;
mod help;
mod init;
mod inputs;
mod logbook;
mod moment;
mod muster;
mod prove;
mod rehearse;
mod relay;
mod replay;
mod search;
mod sound_check;
mod talk;
mod watch;

pub use args::{Args, Color, Command, Common};
pub use arguments::wrong_arguments;
pub use attach::AttachArgs;
pub use config::{ConfigArgs, ConfigCommand};
pub use debrief::DebriefArgs;
pub use decode::DecodeArgs;
pub use error::Error;
pub use exit::ExitCode;
pub use hearing::HearingArgs;
pub use help::HelpArgs;
pub use init::InitArgs;
pub use inputs::InputsArgs;
pub use logbook::{ExportArgs, HandoverArgs, ListArgs, LogbookArgs, LogbookCommand, NoteArgs};
pub use moment::When;
pub use muster::{AddArgs, MusterArgs, MusterCommand, RecordArgs};
pub use prove::ProveArgs;
pub use rehearse::RehearseArgs;
pub use relay::RelayArgs;
pub use replay::{ReplayArgs, Speed};
pub use search::SearchArgs;
pub use watch::WatchArgs;

use std::future::Future;
use std::io;
use std::path::{Path, PathBuf};

use crate::advice::Vessel;
use crate::app;
use crate::capture::{Unreadable, check_file};
use crate::config::Config;
use crate::edge::{NonBlockingWriter, StandardError};
use crate::units::Celsius;
use crate::voice::Ship;
use crate::zone::Zone;

/// Runs the command that was asked for.
///
/// # Errors
/// What kept it from being done, in words for the person who asked.
pub fn run(args: &Args) -> Result<ExitCode, Error> {
    args.common.color.apply();
    report_to_stderr(args.common.verbose);
    let done = match &args.command {
        Command::Watch(watch) => watch::run(watch, &args.common),
        Command::Attach(attach) => attach::run(attach, &args.common),
        Command::Replay(replay) => replay::run(replay, &args.common),
        Command::Prove(prove) => prove::run(prove, &args.common),
        Command::Debrief(debrief) => debrief::run(debrief, &args.common),
        Command::Inputs(inputs) => inputs::run(inputs, &args.common),
        Command::Init(init) => init::run(init, &args.common),
        Command::Config(config) => config::run(config, &args.common),
        Command::Decode(args) => decode::run(args),
        Command::Relay(relay) => relay::run(relay, &args.common),
        Command::Rehearse(args) => rehearse::run(args),
        Command::Hearing(hearing) => hearing::run(hearing, &args.common),
        Command::Search(search) => search::run(search, &args.common),
        Command::Muster(muster) => muster::run(muster, &args.common),
        Command::Logbook(logbook) => logbook::run(logbook, &args.common),
        Command::Help(help) => help::run(help),
    };
    match done {
        // Whoever read the output has seen enough: no failure.
        Err(Error::ClosedPipe) => Ok(ExitCode::Done),
        done => done,
    }
}

/// The configuration that holds; the defaults if there is none.
fn configuration(common: &Common) -> Result<Config, Error> {
    let Some((config, path)) = configuration_file(common)? else { return Ok(Config::default()) };
    tracing::info!("configuration: {}", path.display());
    Ok(config)
}

/// The configuration that holds and its file, if there is one.
fn configuration_file(common: &Common) -> Result<Option<(Config, PathBuf)>, Error> {
    Config::load(common.config.as_deref(), |name| std::env::var_os(name))
        .map_err(|why| Error::new(why.to_string(), "correct it, or name another with --config"))
}

/// The logbook's folder: the one that was given, else the configured one.
fn logbook_folder(given: Option<&Path>, config: &Config) -> Result<PathBuf, Error> {
    let configured = || config.storage.folder(|name| std::env::var_os(name));
    given.map(Path::to_owned).or_else(configured).ok_or_else(|| {
        Error::new(
            "there is no folder for the logbook: neither $XDG_DATA_HOME nor $HOME is set",
            "name one with --storage, or in the configuration: `[storage] folder = \"…\"`",
        )
    })
}

/// Whether there is something to read at each path: a wrong name is told before anything begins.
fn check_files<'a>(paths: impl IntoIterator<Item = &'a PathBuf>) -> Result<(), Error> {
    let unreadable = |Unreadable { path, cause }| Error::unreadable(&path, &cause);
    paths.into_iter().try_for_each(|path| check_file(path).map_err(unreadable))
}

/// Whether a screen is wanted and there is a terminal for it, whose keys are not read as an input.
fn wants_screen(headless: bool, common: &Common) -> bool {
    use std::io::IsTerminal as _;
    !headless && !common.json && std::io::stdout().is_terminal() && std::io::stdin().is_terminal()
}

/// The zone of the local time beside UTC. Where the system has no data for it, that is told.
fn zone(config: &Config) -> Option<Zone> {
    config.zone().unwrap_or_else(|why| {
        tracing::warn!("{why}");
        None
    })
}

/// What the configuration knows of the vessel that is said.
fn vessel(config: &Config) -> Vessel {
    let beacons = config.beacons.iter().map(|it| (it.mmsi, it.fitted_to.is_some()));
    Vessel {
        ship: Ship {
            name: config.vessel.name.clone(),
            call_sign: config.vessel.call_sign.clone(),
            mmsi: config.vessel.mmsi,
            persons_aboard: config.vessel.persons_aboard,
        },
        beacons: beacons.collect(),
        words: config.voice.texts.clone(),
        survival_figures: config.voice.survival_figures,
        antenna_height_m: config.vessel.antenna_height_m,
        water_by_hand: config.vessel.water_temperature_c.map(Celsius),
        zone: zone(config),
    }
}

/// Takes the terminal over.
fn display(config: &Config) -> Result<display::Display, Error> {
    display::Display::enter(vessel(config)).map_err(|why| {
        Error::new(format!("cannot use the terminal: {why}"), "run it with --headless")
    })
}

/// Standard output by a writer, with colours as far as it shows them.
fn out(writer: &NonBlockingWriter) -> Box<dyn io::Write + Send> {
    let choice = anstream::AutoStream::choice(&io::stdout());
    let plain: Box<dyn io::Write + Send> = Box::new(writer.clone());
    match choice {
        anstream::ColorChoice::Never => Box::new(anstream::StripStream::new(plain)),
        _ => plain,
    }
}

/// Runs the loop on this thread alone: one input, then its outputs.
fn block_on<T>(work: impl Future<Output = Result<T, app::Error>>) -> Result<T, Error> {
    let build = || tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = spare_files().and_then(|()| build()).map_err(|why| {
        Error::new(format!("cannot start: {why}"), "check how many files the program may open")
    })?;
    keep_file_signals(&runtime);
    StandardError::never_waits();
    let done = runtime.block_on(work);
    StandardError::settle(std::time::Duration::from_secs(1));
    // A read of standard input that is under way would hold the program for ever.
    runtime.shutdown_background();
    done.map_err(|why| error_of(&why))
}

/// Whether the runtime can open what it needs: three descriptors for its selector, and three for
/// signals, without which it would panic.
fn spare_files() -> io::Result<()> {
    #[cfg(unix)]
    let _spare: Vec<_> =
        (0..6).map(|_| std::os::unix::net::UnixDatagram::unbound()).collect::<io::Result<_>>()?;
    Ok(())
}

/// A file that has come to its limit is an error to who writes it, and no end of the program: the
/// signal about it is taken and nothing done.
fn keep_file_signals(runtime: &tokio::runtime::Runtime) {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let _inside = runtime.enter();
        // What is once taken stays so, whether anybody listens or not.
        if let Err(why) = signal(SignalKind::from_raw(rustix::process::Signal::XFSZ.as_raw())) {
            tracing::warn!("a file at its limit will end the program: {why}");
        }
    }
    #[cfg(not(unix))]
    let _ = runtime;
}

/// A failure of the loop in words for a person.
fn error_of(why: &app::Error) -> Error {
    match why {
        app::Error::Unreadable(Unreadable { path, cause }) => Error::unreadable(path, cause),
        app::Error::Taken { .. } => Error::new(
            why.to_string(),
            "end that one first, look at it with `overside attach`, or name another folder with --storage",
        ),
        app::Error::InUse(_) => Error::new(
            why.to_string(),
            "end that one first, look at it with `overside attach`, or take other inputs; a self-test that it heard is judged by \
             `overside prove --capture` from its recording",
        ),
        app::Error::NotThrough(..) => Error::new(
            why.to_string(),
            "judge the recording of that watch with `overside prove --capture`, or end it first",
        ),
        app::Error::OutputClosed(cause) => Error::unwritable("standard output", cause),
    }
}

/// Diagnostics, on standard error: warnings, and more with each `-v`.
fn report_to_stderr(verbose: u8) {
    let level = match verbose {
        0 => tracing::Level::WARN,
        1 => tracing::Level::INFO,
        _ => tracing::Level::DEBUG,
    };
    let colours = anstream::AutoStream::choice(&std::io::stderr());
    let report = tracing_subscriber::fmt()
        .with_writer(StandardError::get)
        .with_ansi(colours != anstream::ColorChoice::Never)
        .with_max_level(level)
        .log_internal_errors(false);
    // A second call, as in tests, changes nothing.
    let _ = report.without_time().with_target(false).try_init();
}
