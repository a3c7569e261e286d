//! The command line: what is asked for, one file per command, and how the program ends.
//!
//! Data goes to standard output, talk to standard error. No command decides anything here: it
//! reads its arguments, calls the part that does the work, and says how that went.

mod args;
mod decode;
mod error;
mod exit;
mod rehearse;
mod replay;
mod watch;

pub use args::{Args, Color, Command, Common};
pub use decode::DecodeArgs;
pub use error::Error;
pub use exit::ExitCode;
pub use rehearse::RehearseArgs;
pub use replay::{ReplayArgs, Speed};
pub use watch::WatchArgs;

/// Runs the command that was asked for.
///
/// # Errors
/// What kept it from being done, in words for the person who asked.
pub fn run(args: &Args) -> Result<ExitCode, Error> {
    args.common.color.apply();
    let done = match &args.command {
        Command::Decode(args) => decode::run(args),
        Command::Watch(_) | Command::Replay(_) | Command::Rehearse(_) => Err(Error::new(
            "this command is not built yet",
            "`overside decode` is, see `overside decode --help`",
        )),
    };
    match done {
        // Whoever read the output has seen enough: no failure.
        Err(Error::ClosedPipe) => Ok(ExitCode::Done),
        done => done,
    }
}
