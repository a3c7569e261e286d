//! `overside rehearse`: the traffic of a drill.

mod live;

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{Error, ExitCode, Speed};
use crate::rehearse::{Scenario, write_capture};

/// What a rehearsal is told.
#[derive(Debug, clap::Args)]
pub struct RehearseArgs {
    /// The scenario, a TOML file
    #[arg(value_name = "SCENARIO")]
    pub scenario: PathBuf,
    /// Write the capture here instead of to standard output
    #[arg(long, value_name = "FILE", conflicts_with = "live")]
    pub to: Option<PathBuf>,
    /// Play it now: to udp://127.0.0.1:10110, or to a pseudo-terminal: pty
    ///
    /// The times in the sentences and their TAG blocks are those of the present. Identities of
    /// beacons have manufacturer code 00 (972 00 yyyy), unless the scenario says
    /// `real_identities = true`. A serial port is never written to: a transponder or a radio may
    /// hang on it.
    #[arg(long, value_name = "URI|pty")]
    pub live: Option<String>,
    /// How fast a live rehearsal goes: 1 if not given, any other number, or max
    ///
    /// The times in the sentences keep the scenario's own pace: at 10 they run ahead of the clock.
    #[arg(long, value_name = "N|max", requires = "live")]
    pub speed: Option<Speed>,
    /// Play to other addresses than this computer's own: other displays there raise a real alarm
    #[arg(long, requires = "live")]
    pub to_network: bool,
    /// Begin the casualty at a random time: a drill that surprises the watch
    ///
    /// Own ship and the traffic play at once. Each line says that it is a drill (TAG block t:DRILL).
    #[arg(long)]
    pub drill: bool,
    /// The casualty of a drill begins at most this long after the start
    #[arg(long, value_name = "MINUTES", default_value_t = 30, requires = "drill",
          value_parser = clap::value_parser!(u16).range(1..=720))]
    pub within: u16,
}

/// Makes the capture, or plays it.
pub(super) fn run(args: &RehearseArgs) -> Result<ExitCode, Error> {
    let path = &args.scenario;
    let text = std::fs::read_to_string(path).map_err(|why| Error::unreadable(path, &why))?;
    let scenario = Scenario::parse(&text).map_err(|why| {
        Error::new(format!("{}: {why}", path.display()), "correct it; captures/ has examples")
    })?;
    let scenario = if args.drill { surprising(args, scenario)? } else { scenario };
    match &args.live {
        Some(to) => live::play(args, to, scenario),
        None => write(args.to.as_deref(), &scenario),
    }
}

/// The scenario as a drill whose beginning nobody knows.
fn surprising(args: &RehearseArgs, scenario: Scenario) -> Result<Scenario, Error> {
    let window = Duration::from_secs(u64::from(args.within) * 60);
    scenario.drill(window, fastrand::f64()).map_err(|why| {
        Error::new(
            format!("{} cannot be a drill: {why}", args.scenario.display()),
            "take another scenario, such as captures/surprise.toml, or a longer --within",
        )
    })
}

fn write(to: Option<&Path>, scenario: &Scenario) -> Result<ExitCode, Error> {
    let (name, written) = match to {
        Some(to) => {
            let file = File::create(to).map(BufWriter::new);
            (to.display().to_string(), file.and_then(|file| write_capture(scenario, file)))
        }
        None => {
            let output = BufWriter::new(std::io::stdout().lock());
            ("standard output".to_owned(), write_capture(scenario, output))
        }
    };
    written.map_err(|why| Error::unwritable(&name, &why))?;
    Ok(ExitCode::Done)
}
