//! `overside muster add`: a beacon into the configuration file, typed or heard.

use std::io::{self, BufRead as _, IsTerminal as _};

use super::super::talk::say;
use super::{Common, Error, ExitCode, listen};
use crate::app::Proposal;
use crate::config::{DueDate, Enrolment, NotEntered, check_free, check_name};
use crate::mmsi::Mmsi;
use crate::text::printable;

/// A beacon that is to be entered.
#[derive(Clone, Debug, clap::Args)]
pub struct AddArgs {
    /// The beacon's identity, as on its label
    #[arg(long, value_parser = identity, conflicts_with = "listen")]
    pub mmsi: Option<Mmsi>,
    /// Who carries it
    #[arg(long, value_name = "NAME")]
    pub holder: Option<String>,
    /// The lifejacket it is fitted to
    #[arg(long, value_name = "NAME")]
    pub jacket: Option<String>,
    /// The battery's date on the label (YYYY-MM or YYYY-MM-DD)
    #[arg(long, value_name = "DATE")]
    pub battery: Option<DueDate>,
    /// How long a self-test holds, in months; without, 6
    #[arg(long, value_name = "MONTHS", value_parser = clap::value_parser!(u32).range(1..))]
    pub test_every: Option<u32>,
    /// The ship identity programmed into it, if it has DSC
    #[arg(long, value_name = "MMSI", value_parser = any_identity)]
    pub dsc_mmsi: Option<Mmsi>,
    /// Take the identity from the next beacon heard as TEST
    #[arg(long)]
    pub listen: bool,
    /// Listen on this input, as in `overside watch`; may be given several times
    #[arg(long, value_name = "URI", requires = "listen")]
    pub input: Vec<String>,
    /// Ask nothing
    #[arg(long)]
    pub yes: bool,
}

/// Enters it, if nothing of it is there.
pub(super) fn run(args: &AddArgs, common: &Common) -> Result<ExitCode, Error> {
    let Some((config, path)) = super::super::configuration_file(common)? else {
        return Err(Error::new(
            "there is no configuration file to enter it in",
            "make one with `overside init`, or name it with --config",
        ));
    };
    let asks = !args.yes && io::stdin().is_terminal() && io::stderr().is_terminal();
    if !asks && !args.yes {
        let what = "it is not asked whether to write: this is no terminal";
        return Err(Error::new(what, "write without asking: --yes"));
    }
    let mut args = args.clone();
    if asks {
        fill_in(&mut args)?;
    }
    check_free(&config, args.holder.as_deref(), args.jacket.as_deref()).map_err(refused)?;
    let mmsi = match args.mmsi {
        None if args.listen => listen::next_test(&args.input, &config)?,
        known => known.ok_or_else(|| {
            let hint = "give --mmsi, or --listen to take it from a test";
            Error::new("no identity of a beacon was given", hint)
        })?,
    };
    let new = Enrolment {
        mmsi,
        holder: args.holder,
        jacket: args.jacket,
        battery: args.battery,
        test_every_months: args.test_every,
        dsc_mmsi: args.dsc_mmsi,
    };
    let name = path.display().to_string();
    // As it is now: listening may have taken a while.
    let proposal = Proposal::look(new, path).map_err(refused)?;
    say(&format!("To be added to {name}:\n{}", printable_lines(&proposal.lines)));
    if asks && !ask("Write it? y, or Enter for no", |text| Ok(text.eq_ignore_ascii_case("y")))? {
        say("nothing was written");
        return Ok(ExitCode::Finding);
    }
    proposal.write().map_err(refused)?;
    say(&format!(
        "beacon {} is in the muster; a watch that runs headless reads it again at SIGHUP",
        proposal.new.mmsi
    ));
    Ok(ExitCode::Done)
}

/// Asks for what was not given.
fn fill_in(new: &mut AddArgs) -> Result<(), Error> {
    if new.mmsi.is_none() && !new.listen {
        new.mmsi = Some(ask("Its identity, as on its label", identity)?);
    }
    let name = |text: &str| match text {
        "" => Ok(None),
        text => check_name(text).map(|()| Some(text.to_owned())),
    };
    if new.holder.is_none() {
        new.holder = ask("Whose is it? (Enter: a spare)", name)?;
    }
    if new.jacket.is_none() {
        new.jacket = ask("In which lifejacket? (Enter: in none)", name)?;
    }
    if new.battery.is_none() {
        new.battery = ask("Battery date on the label, as 2029-05 (Enter: not known)", |text| {
            let date = |text: &str| DueDate::of_label(text).map_err(|why| why.to_string());
            (!text.is_empty()).then(|| date(text)).transpose()
        })?;
    }
    Ok(())
}

/// Asks until the answer can be taken.
pub(in crate::cli) fn ask<T>(
    question: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<T, Error> {
    let colon = if question.ends_with('?') { "" } else { ":" };
    loop {
        say(&format!("{question}{colon}"));
        let mut line = Vec::new();
        let unreadable = |why: io::Error| {
            Error::new(format!("the terminal cannot be read: {why}"), "give the answers as options")
        };
        let length = io::stdin().lock().read_until(b'\n', &mut line).map_err(unreadable)?;
        if length == 0 {
            let what = "the input ended before everything was asked; nothing was written";
            return Err(Error::new(what, "run it again, or give the answers as options"));
        }
        let Ok(line) = std::str::from_utf8(&line) else {
            say("this terminal sends letters that are not UTF-8: write it with plain ones, a to z");
            continue;
        };
        match read(line.trim()) {
            Ok(answer) => return Ok(answer),
            Err(why) => say(&why),
        }
    }
}

/// An identity of a survivor beacon on the command line.
fn identity(text: &str) -> Result<Mmsi, String> {
    let beacon = any_identity(text)?;
    match beacon.beacon_kind() {
        Some(_) => Ok(beacon),
        None => {
            Err("a beacon's identity has nine digits and begins with 970, 972 or 974".to_owned())
        }
    }
}

fn any_identity(text: &str) -> Result<Mmsi, String> {
    let read = (text.len() == 9).then(|| text.parse().ok().and_then(Mmsi::new)).flatten();
    read.ok_or_else(|| "an identity has nine digits".to_owned())
}

fn refused(why: NotEntered) -> Error {
    Error::new(why.what, why.hint)
}

fn printable_lines(lines: &str) -> String {
    lines.lines().map(|line| format!("  {}\n", printable(line))).collect()
}
