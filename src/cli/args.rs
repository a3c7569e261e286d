//! The arguments all commands have in common, and which command it is.

use std::path::PathBuf;

use clap::{ArgAction, Parser, Subcommand, ValueEnum};

use super::{
    AttachArgs, ConfigArgs, DebriefArgs, DecodeArgs, HearingArgs, HelpArgs, InitArgs, InputsArgs,
    LogbookArgs, MusterArgs, ProveArgs, RehearseArgs, RelayArgs, ReplayArgs, SearchArgs, WatchArgs,
};

/// Hears survivor beacons on AIS: tells test from active, raises alerts, gives range and bearing.
#[derive(Debug, Parser)]
#[command(name = "overside", version, disable_help_subcommand = true)]
pub struct Args {
    /// Options before or after the command.
    #[command(flatten)]
    pub common: Common,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// Options that every command takes, before or after its name.
#[derive(Clone, Debug, clap::Args)]
pub struct Common {
    /// Configuration file; else $OVERSIDE_CONFIG, ./overside.toml, or the XDG folder's
    #[arg(long, global = true, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Print JSON lines on standard output, and nothing else there
    #[arg(long, global = true)]
    pub json: bool,
    /// Say more on standard error; twice for still more
    #[arg(short, long, global = true, action = ArgAction::Count)]
    pub verbose: u8,
    /// When to use colours
    #[arg(
        long,
        global = true,
        value_name = "auto|always|never",
        hide_possible_values = true,
        value_enum,
        default_value_t
    )]
    pub color: Color,
}

/// When to use colours. `NO_COLOR` is honoured unless they are asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal
    #[default]
    Auto,
    /// Even into a file or a pipe
    Always,
    /// Not at all
    Never,
}

impl Color {
    /// Makes it the choice for all output of the program.
    pub(super) fn apply(self) {
        match self {
            Self::Auto => anstream::ColorChoice::Auto,
            Self::Always => anstream::ColorChoice::Always,
            Self::Never => anstream::ColorChoice::Never,
        }
        .write_global();
    }
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Keep the live watch: read every input and raise alarms
    Watch(WatchArgs),
    /// Look at a watch that runs, and answer it, from another terminal
    Attach(AttachArgs),
    /// Pass on what is heard, without a watch: for a small computer beside an antenna
    Relay(RelayArgs),
    /// Run the same watch over a recording
    Replay(ReplayArgs),
    /// Judge whether a beacon's self-test was received on board
    Prove(ProveArgs),
    /// Find out what is connected and what it says, and write it into the configuration
    Inputs(InputsArgs),
    /// Make a first configuration in one sitting
    Init(InitArgs),
    /// Say what is wrong in the configuration, or all that holds
    Config(ConfigArgs),
    /// Turn sentences into JSON lines
    Decode(DecodeArgs),
    /// Show who has which beacon and lifejacket, and what is due
    Muster(MusterArgs),
    /// Read, add to, hand over and check what was written down
    Logbook(LogbookArgs),
    /// Measure a recorded drill, and say what is to be said of it
    Debrief(DebriefArgs),
    /// Show how far the boat hears: over time, by range, direction, channel and input
    Hearing(HearingArgs),
    /// Plan a search for a casualty whose beacon has fallen silent
    Search(SearchArgs),
    /// Make the traffic of a drill
    Rehearse(RehearseArgs),
    /// Say what to do when, or explain a command
    Help(HelpArgs),
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory as _;

    /// Clap's own check of the definitions above.
    #[test]
    fn the_definition_is_sound() {
        super::Args::command().debug_assert();
    }
}
