//! `overside help`: what to do when, and each command's own help.

use std::io::Write as _;

use clap::CommandFactory as _;

use super::{Args, Error, ExitCode};

/// What to do when.
const PAGE: &str = include_str!("help.txt");

/// What help is asked for.
#[derive(Debug, clap::Args)]
pub struct HelpArgs {
    /// The command to explain, and its part, such as logbook list
    #[arg(value_name = "COMMAND")]
    pub command: Vec<String>,
}

/// Prints the page, or the help of a command.
pub(super) fn run(args: &HelpArgs) -> Result<ExitCode, Error> {
    let mut command = Args::command();
    command.build();
    let mut shown = &mut command;
    for name in &args.command {
        shown = shown.find_subcommand_mut(name).ok_or_else(|| {
            let what = format!("there is no command {name}");
            Error::new(what, "`overside --help` lists the commands")
        })?;
    }
    let mut output = anstream::stdout().lock();
    let written = if args.command.is_empty() {
        output.write_all(PAGE.as_bytes())
    } else {
        write!(output, "{}", shown.render_long_help().ansi())
    };
    written.map_err(|why| Error::unwritable("standard output", &why))?;
    Ok(ExitCode::Done)
}
