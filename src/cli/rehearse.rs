//! `overside rehearse`: the traffic of a drill.

use std::path::PathBuf;

/// What a rehearsal is told.
#[derive(Debug, clap::Args)]
pub struct RehearseArgs {
    /// The scenario, a TOML file
    #[arg(value_name = "SCENARIO")]
    pub scenario: PathBuf,
    /// Write the capture here instead of to standard output
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
}

/// Makes the capture.
pub(super) fn run(args: &RehearseArgs) -> Result<super::ExitCode, super::Error> {
    let _ = args;
    Err(super::Error::new("rehearse is not built yet", "use the captures in captures/"))
}
