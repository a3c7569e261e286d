//! The command line: what is asked for, one file per command, and how the program ends.
//!
//! Data goes to standard output, talk to standard error. No command decides anything here: it
//! reads its arguments, calls the part that does the work, and says how that went.

mod args;
mod decode;
mod display;
mod error;
mod exit;
mod rehearse;
mod replay;
mod story;
mod watch;

pub use args::{Args, Color, Command, Common};
pub use decode::DecodeArgs;
pub use error::Error;
pub use exit::ExitCode;
pub use rehearse::RehearseArgs;
pub use replay::{ReplayArgs, Speed};
pub use watch::WatchArgs;

use std::future::Future;

use crate::app;
use crate::config::Config;

/// Runs the command that was asked for.
///
/// # Errors
/// What kept it from being done, in words for the person who asked.
pub fn run(args: &Args) -> Result<ExitCode, Error> {
    args.common.color.apply();
    report_to_stderr(args.common.verbose);
    let done = match &args.command {
        Command::Watch(watch) => watch::run(watch, &args.common),
        Command::Replay(replay) => replay::run(replay, &args.common),
        Command::Decode(args) => decode::run(args),
        Command::Rehearse(args) => rehearse::run(args),
    };
    match done {
        // Whoever read the output has seen enough: no failure.
        Err(Error::ClosedPipe) => Ok(ExitCode::Done),
        done => done,
    }
}

/// The configuration that holds; the defaults if there is none.
fn configuration(common: &Common) -> Result<Config, Error> {
    let found = Config::load(common.config.as_deref(), |name| std::env::var_os(name));
    match found {
        Ok(Some((config, path))) => {
            tracing::info!("configuration: {}", path.display());
            Ok(config)
        }
        Ok(None) => Ok(Config::default()),
        Err(why) => Err(Error::new(why.to_string(), "correct it, or name another with --config")),
    }
}

/// Whether a screen is wanted and there is a terminal for it, whose keys are not read as an input.
fn wants_screen(headless: bool, common: &Common) -> bool {
    use std::io::IsTerminal as _;
    !headless && !common.json && std::io::stdout().is_terminal() && std::io::stdin().is_terminal()
}

/// Takes the terminal over.
fn display() -> Result<display::Display, Error> {
    display::Display::enter().map_err(|why| {
        Error::new(format!("cannot use the terminal: {why}"), "run it with --headless")
    })
}

/// Runs the loop on this thread alone: one input, then its outputs.
fn block_on(work: impl Future<Output = Result<(), app::Error>>) -> Result<(), Error> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|why| {
        Error::new(format!("cannot start: {why}"), "check how many files the program may open")
    })?;
    let done = runtime.block_on(work);
    // A read of standard input that is under way would hold the program for ever.
    runtime.shutdown_background();
    done.map_err(|why| match why {
        app::Error::Unreadable { path, cause } => Error::unreadable(&path, &cause),
        app::Error::Untold(cause) => Error::unwritable("standard output", &cause),
    })
}

/// Diagnostics, on standard error: warnings, and more with each `-v`.
fn report_to_stderr(verbose: u8) {
    let level = match verbose {
        0 => tracing::Level::WARN,
        1 => tracing::Level::INFO,
        _ => tracing::Level::DEBUG,
    };
    let report = tracing_subscriber::fmt().with_writer(std::io::stderr).with_max_level(level);
    // A second call, as in tests, changes nothing.
    let _ = report.without_time().with_target(false).try_init();
}
