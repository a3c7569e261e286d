//! `overside rehearse`: the traffic of a drill.

use std::fs::File;
use std::io::BufWriter;
use std::path::PathBuf;

use super::{Error, ExitCode};
use crate::rehearse::{Scenario, write_capture};

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
pub(super) fn run(args: &RehearseArgs) -> Result<ExitCode, Error> {
    let path = &args.scenario;
    let text = std::fs::read_to_string(path).map_err(|why| Error::unreadable(path, &why))?;
    let scenario = Scenario::parse(&text).map_err(|why| {
        Error::new(format!("{}: {why}", path.display()), "correct it; captures/ has examples")
    })?;
    let (name, written) = match &args.to {
        Some(to) => {
            let file = File::create(to).map(BufWriter::new);
            (to.display().to_string(), file.and_then(|file| write_capture(&scenario, file)))
        }
        None => {
            let output = BufWriter::new(std::io::stdout().lock());
            ("standard output".to_owned(), write_capture(&scenario, output))
        }
    };
    written.map_err(|why| Error::unwritable(&name, &why))?;
    Ok(ExitCode::Done)
}
