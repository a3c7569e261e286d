//! `overside replay`: the watch over a recording.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use super::story::Story;
use super::{Common, Error, ExitCode};
use crate::app::{self, Replay};
use crate::time::Utc;

/// What a replay is told.
#[derive(Debug, clap::Args)]
pub struct ReplayArgs {
    /// The recordings, in order; - for standard input
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// How fast time passes: 1, 10, any other number, or max
    ///
    /// On the screen 1 if not given, else max.
    #[arg(long, value_name = "N|max")]
    pub speed: Option<Speed>,
    /// Begin at this time (RFC 3339)
    #[arg(long, value_name = "T", value_parser = moment)]
    pub from: Option<Utc>,
    /// End at this time (RFC 3339)
    #[arg(long, value_name = "T", value_parser = moment)]
    pub until: Option<Utc>,
    /// No screen: print events on standard output
    #[arg(long)]
    pub headless: bool,
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
    let settings = app::settings(&super::configuration(common)?);
    let typed = args.files.iter().any(|path| path == Path::new("-"));
    let screen = super::wants_screen(args.headless || typed, common);
    let speed = match args.speed {
        Some(Speed::Times(times)) => Some(times),
        Some(Speed::Max) => None,
        None => screen.then_some(1.0),
    };
    let replay = Replay { files: args.files.clone(), speed, from: args.from, until: args.until };
    if screen {
        let mut display = super::display()?;
        super::block_on(app::replay(&replay, settings, &mut display))?;
        return Ok(ExitCode::Done);
    }
    let mut story = Story::new(anstream::stdout().lock(), common.json);
    super::block_on(app::replay(&replay, settings, &mut story))?;
    Ok(ExitCode::Done)
}

fn moment(text: &str) -> Result<Utc, &'static str> {
    Utc::parse_rfc3339(text).ok_or("give a time such as 2026-06-14T02:09:55Z")
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
