//! `overside muster record`: a check that no receiver can hear, into the logbook.

use std::path::Path;

use chrono::NaiveDate;
use clap::builder::{PossibleValuesParser, TypedValueParser as _};

use super::super::logbook::tell_entry;
use super::super::moment::host_time;
use super::{Common, Error, ExitCode, day};
use crate::config::{Beacon, Config};
use crate::logbook::{self, CheckMade, Details, Draft};
use crate::mmsi::Mmsi;
use crate::muster::CheckKind;
use crate::time::Utc;

/// Letters of a remark, and of whoever makes it, at most.
const LETTERS: usize = 2_000;

/// A check.
#[derive(Debug, clap::Args)]
#[command(group(clap::ArgGroup::new("outcome").required(true).args(["ok", "failed"])))]
pub struct RecordArgs {
    /// A lifejacket, a beacon's identity, or a person: then that person's beacon or lifejacket
    #[arg(long, value_name = "ITEM")]
    pub item: String,
    /// What was checked
    #[arg(long, value_name = "CHECK", value_parser = kind())]
    pub check: CheckKind,
    /// It is in order
    #[arg(long)]
    pub ok: bool,
    /// It is not
    #[arg(long)]
    pub failed: bool,
    /// Who made the check
    #[arg(long, value_name = "WHO")]
    pub by: Option<String>,
    /// The day of the check, if that is not today (YYYY-MM-DD)
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<NaiveDate>,
    /// What else there is to say
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

/// The thing that was checked.
struct Checked<'a> {
    /// As it is written down: the lifejacket's name or the beacon's nine digits.
    item: String,
    mmsi: Option<Mmsi>,
    person: Option<&'a str>,
}

/// Writes the check down and prints the number of its entry.
pub(super) fn run(
    args: &RecordArgs,
    config: &Config,
    folder: &Path,
    common: &Common,
) -> Result<ExitCode, Error> {
    let now = host_time();
    let on = args.on.unwrap_or_else(|| now.date());
    if on > now.date() {
        let what = format!("--on {on} is after today, {}", now.date());
        return Err(Error::new(what, "record a check once it is made; check the computer's clock"));
    }
    for text in [&args.by, &args.note].into_iter().flatten() {
        if text.trim().is_empty() || text.chars().count() > LETTERS {
            let what = format!("--by and --note have 1 to {LETTERS} letters");
            return Err(Error::new(what, "write it in other words, or leave it out"));
        }
    }
    let checked = checked(&args.item, args.check, config)?;
    let entry = logbook::append(folder, draft(args, &checked, on, now))?;
    tell_entry(entry, common)
}

fn draft(args: &RecordArgs, checked: &Checked<'_>, on: NaiveDate, now: Utc) -> Draft {
    let note = args.note.as_deref().map(str::trim);
    let outcome = if args.ok { "in order" } else { "FAILED" };
    let mut text = format!("{}: {} {outcome} on {on}", checked.item, args.check.words());
    if let Some(note) = note {
        text = format!("{text}; {note}");
    }
    let details = Details::Check(CheckMade {
        item: checked.item.clone(),
        check: args.check,
        ok: args.ok,
        on,
        note: note.map(str::to_owned),
    });
    Draft {
        mmsi: checked.mmsi,
        person: checked.person.map(str::to_owned),
        operator: args.by.as_deref().map(|by| by.trim().to_owned()),
        ..Draft::outside(details, text, now)
    }
}

/// What the words mean, if the register has it and this check is made on such a thing.
fn checked<'a>(words: &str, check: CheckKind, config: &'a Config) -> Result<Checked<'a>, Error> {
    let beacons = &config.beacons;
    let identity = words.parse().ok().and_then(Mmsi::new);
    let beacon = identity.and_then(|mmsi| beacons.iter().find(|it| it.mmsi == mmsi));
    let is_jacket = config.lifejackets.iter().any(|it| it.name == words);
    let is_person = config.persons.iter().any(|it| it.name == words);
    let held = || beacons.iter().find(|it| it.holder.as_deref() == Some(words));
    match (check.is_of_beacon(), beacon) {
        (true, Some(beacon)) => Ok(of_beacon(beacon)),
        (false, _) if is_jacket => Ok(of_jacket(words, config)),
        (true, None) if is_person => held().map(of_beacon).ok_or_else(|| has_none(words, "beacon")),
        (false, None) if is_person => {
            let jacket = held().and_then(|it| it.fitted_to.as_deref());
            jacket.map(|it| of_jacket(it, config)).ok_or_else(|| has_none(words, "lifejacket"))
        }
        (false, Some(_)) => Err(unfit(words, check, "lifejacket")),
        (true, None) if is_jacket => Err(unfit(words, check, "beacon")),
        (_, None) => Err(Error::new(
            format!("{words:?} is not in the muster"),
            format!("take one of {}; or enter it in the configuration", known(config)),
        )),
    }
}

fn of_beacon(beacon: &Beacon) -> Checked<'_> {
    let Beacon { mmsi, holder, .. } = beacon;
    Checked { item: mmsi.to_string(), mmsi: Some(*mmsi), person: holder.as_deref() }
}

fn of_jacket<'a>(name: &str, config: &'a Config) -> Checked<'a> {
    let worn = config.beacons.iter().find(|it| it.fitted_to.as_deref() == Some(name));
    let person = worn.and_then(|it| it.holder.as_deref());
    Checked { item: name.to_owned(), mmsi: None, person }
}

fn has_none(person: &str, thing: &str) -> Error {
    let what = format!("{person} has no {thing} in the muster");
    let hint = format!("name the {thing} itself, or enter it in the configuration");
    Error::new(what, hint)
}

fn unfit(words: &str, check: CheckKind, thing: &str) -> Error {
    let what = format!("{words}: {} is checked on a {thing}", check.words());
    Error::new(what, format!("name the {thing}, or the person who has it"))
}

fn known(config: &Config) -> String {
    let jackets = config.lifejackets.iter().map(|it| it.name.clone());
    let beacons = config.beacons.iter().map(|it| it.mmsi.to_string());
    let persons = config.persons.iter().map(|it| it.name.clone());
    let all: Vec<String> = jackets.chain(beacons).chain(persons).collect();
    if all.is_empty() { "nothing: the register is empty".to_owned() } else { all.join(", ") }
}

fn kind() -> impl clap::builder::TypedValueParser<Value = CheckKind> {
    PossibleValuesParser::new(CheckKind::NAMES)
        .try_map(|name| CheckKind::of_name(&name).ok_or("no such check"))
}
