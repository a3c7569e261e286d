//! `overside config`: what is wrong in the configuration, and what holds.

use std::io::Write as _;

use clap::Subcommand;
use serde_json::json;

use super::{Common, Error, ExitCode};
use crate::config::{self, Config, Mistake};
use crate::edge::InputUri;
use crate::edge::output::OutputUri;
use crate::text::{counted, json_line, printable};

/// What is asked of the configuration.
#[derive(Debug, clap::Args)]
pub struct ConfigArgs {
    /// What to do
    #[command(subcommand)]
    pub command: ConfigCommand,
}

/// What can be asked of it.
#[derive(Clone, Copy, Debug, Subcommand)]
pub enum ConfigCommand {
    /// List everything that is wrong, each with its line and what to do, and what is on
    Check,
    /// Print all that holds as TOML, with what is the default
    Show,
}

/// Does what is asked.
pub(super) fn run(args: &ConfigArgs, common: &Common) -> Result<ExitCode, Error> {
    match args.command {
        ConfigCommand::Check => check(common),
        ConfigCommand::Show => {
            let text = super::configuration(common)?.to_toml();
            let mut out = anstream::stdout().lock();
            match common.json {
                true => json_line(&mut out, &json!({ "toml": text }))?,
                false => write!(out, "{}", printable_lines(&text))?,
            }
            Ok(ExitCode::Done)
        }
    }
}

/// What is wrong with the address of an input or an output.
pub(super) fn uri(table: &str, text: &str) -> Result<(), String> {
    match table {
        "output" => text.parse::<OutputUri>().map(|_| ()).map_err(|why| why.to_string()),
        _ => text.parse::<InputUri>().map(|_| ()).map_err(|why| why.to_string()),
    }
}

fn check(common: &Common) -> Result<ExitCode, Error> {
    let found = Config::find(common.config.as_deref(), |name| std::env::var_os(name))
        .map_err(|why| Error::new(why.to_string(), "correct it, or name another with --config"))?;
    let file = found.as_ref().map(|(_, path)| path.display().to_string());
    let (mistakes, config) = match &found {
        Some((text, path)) => Config::check(text, path, &uri),
        None => (Vec::new(), Config::default()),
    };
    let mut out = anstream::stdout().lock();
    let on = on(&config);
    if common.json {
        let on: Vec<_> = on
            .iter()
            .map(|(what, value, default)| json!({ "what": what, "value": value, "default": default }))
            .collect();
        json_line(&mut out, &json!({ "file": file, "errors": mistakes, "on": on }))?;
    } else {
        let name = file.as_deref().unwrap_or("no configuration file: all is the default");
        let _ = writeln!(anstream::stderr(), "{}", printable(name));
        for mistake in &mistakes {
            writeln!(out, "{}", printable(&words(mistake)))?;
        }
        if mistakes.is_empty() {
            writeln!(out, "no errors")?;
        }
        for (what, value, default) in &on {
            let default = if *default { " (default)" } else { "" };
            writeln!(out, "{what}: {}{default}", printable(value))?;
        }
    }
    // What cannot be read keeps a watch from beginning.
    Ok(if mistakes.is_empty() { ExitCode::Done } else { ExitCode::Fault })
}

/// `line 3, vessel.mmsi: what is wrong: what would be right`.
fn words(mistake: &Mistake) -> String {
    let Mistake { line, key, what, remedy } = mistake;
    let key = if key.is_empty() { String::new() } else { format!(", {key}") };
    format!("line {line}{key}: {what}: {remedy}")
}

/// What is on, in a few words each, and whether nobody has written it.
fn on(config: &Config) -> Vec<(&'static str, String, bool)> {
    let other = Config::default();
    let count = |n: usize, one: &str, more: &str| match n {
        0 => format!("no {more}"),
        1 => format!("1 {one}"),
        n => format!("{n} {more}"),
    };
    let inputs = match config.inputs.len() {
        0 => "none is named: a watch looks for them".to_owned(),
        n => count(n, "input", "inputs"),
    };
    let muster = [
        count(config.persons.len(), "person", "persons"),
        count(config.beacons.len(), "beacon", "beacons"),
        count(config.lifejackets.len(), "lifejacket", "lifejackets"),
    ];
    let sound = match (&config.alarm.sound, &config.alarm.command) {
        (false, _) => "off".to_owned(),
        (true, Some(command)) => format!("on, by {}", command.join(" ")),
        (true, None) => "on, by a player that is installed, else the terminal's bell".to_owned(),
    };
    let folder = config.storage.folder(|name| std::env::var_os(name));
    let folder = folder.map(|it| it.display().to_string());
    let storage = &config.storage;
    let recording = match storage.record {
        true => {
            let config::Storage { keep_days, keep_percent, .. } = storage;
            let days = counted(*keep_days, "day");
            format!("on, kept {days}, up to {keep_percent} % of the disk")
        }
        false => "off".to_owned(),
    };
    let kept = |it: &config::Storage| (it.record, it.keep_days, it.keep_percent);
    let awake = match config.watch.awake_every_min {
        Some(minutes) => format!("every {minutes} min"),
        None => "off".to_owned(),
    };
    let silences = |it: &config::Watch| (it.ais_silence_s, it.gnss_silence_s);
    let (ais, gnss) = silences(&config.watch);
    let zone = config.vessel.time_zone.clone();
    vec![
        ("inputs", inputs, config.inputs.is_empty()),
        ("muster", muster.join(", "), config.persons.is_empty() && config.beacons.is_empty()),
        ("sound", sound, config.alarm == other.alarm),
        ("logbook", folder.unwrap_or("no folder is known".to_owned()), storage.folder.is_none()),
        ("recording", recording, kept(storage) == kept(&other.storage)),
        ("watch alarm", awake, config.watch.awake_every_min.is_none()),
        (
            "silence",
            format!("told after {ais} s without AIS, {gnss} s without a position"),
            silences(&config.watch) == silences(&other.watch),
        ),
        ("outputs", count(config.outputs.len(), "output", "outputs"), config.outputs.is_empty()),
        ("hooks", count(config.hooks.len(), "hook", "hooks"), config.hooks.is_empty()),
        (
            "time",
            zone.clone().map_or("UTC".to_owned(), |zone| format!("UTC and {zone}")),
            zone.is_none(),
        ),
    ]
}

fn printable_lines(text: &str) -> String {
    text.lines().map(|line| format!("{}\n", printable(line))).collect()
}
