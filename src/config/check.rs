//! What no single key shows: names that meet, identities that are a beacon's.

use std::collections::HashSet;
use std::hash::Hash;
use std::ops::Range;

use toml::de::DeTable;

use super::Config;
use crate::outputs::What;

/// Something wrong with a key.
pub(super) struct Fault {
    /// `[table]`, or `[[table]]` and which of them from 0.
    table: (&'static str, Option<usize>),
    key: &'static str,
    pub(super) what: String,
}

impl Fault {
    fn new(table: &'static str, index: Option<usize>, key: &'static str, what: String) -> Self {
        Self { table: (table, index), key, what: format!("{table}.{key} {what}") }
    }

    /// Where the value of the key stands in the text of a document.
    pub(super) fn span(&self, document: &DeTable<'_>) -> Option<Range<usize>> {
        value(document, self.table.0, self.table.1, self.key)
    }

    /// Its key, with its table.
    pub(super) fn key(&self) -> String {
        format!("{}.{}", self.table.0, self.key)
    }
}

/// Where the value of a key stands, in a table or in one of a list.
pub(super) fn value(
    document: &DeTable<'_>,
    table: &str,
    index: Option<usize>,
    key: &str,
) -> Option<Range<usize>> {
    let table = document.get(table)?.get_ref();
    let table = match index {
        Some(index) => table.as_array()?.get(index)?.get_ref(),
        None => table,
    };
    Some(table.as_table()?.get(key)?.span())
}

/// All that is wrong, in no order that matters.
pub(super) fn faults(config: &Config) -> Vec<Fault> {
    [repeated_names(config), beacons(config), outputs(config), numbers(config)]
        .into_iter()
        .flatten()
        .collect()
}

fn repeated_names(config: &Config) -> Vec<Fault> {
    let inputs = config.inputs.iter().map(|input| &input.name);
    let persons = config.persons.iter().map(|person| &person.name);
    let jackets = config.lifejackets.iter().map(|jacket| &jacket.name);
    let outputs = config.outputs.iter().map(|output| &output.name);
    let fault = |table, again: Option<(usize, &String)>| {
        let (index, name) = again?;
        let what = format!("{name:?} is there twice: give each [[{table}]] a name of its own");
        Some(Fault::new(table, Some(index), "name", what))
    };
    let all = [
        fault("input", repeated(inputs)),
        fault("person", repeated(persons)),
        fault("lifejacket", repeated(jackets)),
        fault("output", repeated(outputs)),
    ];
    all.into_iter().flatten().collect()
}

fn beacons(config: &Config) -> Vec<Fault> {
    let mut faults = Vec::new();
    let persons: Vec<_> = config.persons.iter().map(|person| person.name.as_str()).collect();
    let jackets: Vec<_> = config.lifejackets.iter().map(|jacket| jacket.name.as_str()).collect();
    for (index, beacon) in config.beacons.iter().enumerate() {
        let mut fault = |key, what| faults.push(Fault::new("beacon", Some(index), key, what));
        let mmsi = beacon.mmsi;
        if mmsi.beacon_kind().is_none() {
            fault(
                "mmsi",
                format!(
                    "{mmsi} is no survivor beacon's identity: it begins with 970, 972 or 974; \
                     a ship identity in a beacon with DSC is its dsc_mmsi"
                ),
            );
        }
        if let Some(what) = unknown(beacon.holder.as_deref(), &persons, "person") {
            fault("holder", what);
        }
        if let Some(what) = unknown(beacon.fitted_to.as_deref(), &jackets, "lifejacket") {
            fault("fitted_to", what);
        }
        if let Some(jacket) = &beacon.fitted_to
            && config.beacons[..index].iter().any(|it| it.fitted_to.as_ref() == Some(jacket))
        {
            let what = format!(
                "{jacket:?} has a beacon already: name another [[lifejacket]], or leave it out of \
                 the one that is not fitted to it"
            );
            fault("fitted_to", what);
        }
        if let Some((dsc, ship)) = beacon.dsc_mmsi.zip(config.vessel.mmsi)
            && dsc != ship
        {
            let what = format!(
                "is {dsc}, and vessel.mmsi is {ship}: the ship identity programmed into a beacon \
                 must be that of this ship, or its call rings on another; have the beacon \
                 programmed anew, or correct the wrong one of the two"
            );
            fault("dsc_mmsi", what);
        }
        if beacon.test_every_months == 0 {
            fault("test_every_months", "is 0: write 1 or more, or leave it out".to_owned());
        }
    }
    if let Some((index, mmsi)) = repeated(config.beacons.iter().map(|beacon| beacon.mmsi)) {
        let what = format!("{mmsi} is there twice: each [[beacon]] has an identity of its own");
        faults.push(Fault::new("beacon", Some(index), "mmsi", what));
    }
    faults
}

fn outputs(config: &Config) -> Vec<Fault> {
    let mut faults = Vec::new();
    let inputs: Vec<_> = config.inputs.iter().map(|input| input.name.as_str()).collect();
    for (index, output) in config.outputs.iter().enumerate() {
        let mut fault = |key, what| faults.push(Fault::new("output", Some(index), key, what));
        if output.what.is_empty() {
            let words: Vec<_> = What::ALL.iter().map(|it| it.word()).collect();
            fault("what", format!("says nothing: write some of {}", words.join(", ")));
        }
        if !(1..=60).contains(&output.rate) {
            fault("rate", "is out of range: write 1 to 60 times a minute".to_owned());
        }
        if let Some(what) = output.inputs.iter().find_map(|it| unknown(Some(it), &inputs, "input"))
        {
            fault("inputs", what);
        }
    }
    faults
}

/// What is wrong with a name that should be one of these.
fn unknown(name: Option<&str>, known: &[&str], table: &str) -> Option<String> {
    let name = name.filter(|name| !known.contains(name))?;
    Some(match known {
        [] => format!("{name:?} is no [[{table}]]: there is none yet, add it"),
        _ => format!("{name:?} is no [[{table}]]: add it, or take one of {}", known.join(", ")),
    })
}

fn numbers(config: &Config) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut fault =
        |table, key, what: &str| faults.push(Fault::new(table, None, key, what.to_owned()));
    if config.vessel.antenna_height_m.is_some_and(|height| !(0.0..=500.0).contains(&height)) {
        fault("vessel", "antenna_height_m", "is no height: write metres, 0 to 500");
    }
    if config.vessel.approach_speed_kn.is_some_and(|speed| !(0.5..=60.0).contains(&speed)) {
        fault("vessel", "approach_speed_kn", "is no speed: write knots, 0.5 to 60");
    }
    if config.vessel.water_temperature_c.is_some_and(|celsius| !(-3.0..=40.0).contains(&celsius)) {
        let what = "is no temperature of water: write degrees Celsius, -3 to 40";
        fault("vessel", "water_temperature_c", what);
    }
    if config.vessel.time_zone.as_deref().is_some_and(|name| !super::zone::is_name(name)) {
        fault("vessel", "time_zone", "is no name of a zone: write one such as Europe/Oslo");
    }
    for (key, value) in [
        ("height_of_eye_m", config.search.height_of_eye_m),
        ("visibility_nm", config.search.visibility_nm),
        ("sea_m", config.search.sea_m),
    ] {
        if value.is_some_and(|value| !(0.0..=50.0).contains(&value)) {
            fault("search", key, "is out of range: write 0 to 50");
        }
    }
    if config.alarm.command.as_ref().is_some_and(|argv| argv.first().is_none_or(String::is_empty)) {
        fault("alarm", "command", "names no program: write one, or leave it out");
    }
    if let Err(what) = config.helm.address() {
        fault("helm", "listen", &what);
    }
    let mut others = Vec::new();
    for (index, input) in config.inputs.iter().enumerate() {
        if !(1..=2).contains(&input.channels) {
            let what = "is no number of channels: write 1 or 2".to_owned();
            others.push(Fault::new("input", Some(index), "channels", what));
        }
    }
    let nameless = |hook: &super::Hook| hook.command.first().is_none_or(String::is_empty);
    if let Some(index) = config.hooks.iter().position(nameless) {
        let what = "names no program: write one, or take the [[hook]] out".to_owned();
        others.push(Fault::new("hook", Some(index), "command", what));
    }
    if !(1..=95).contains(&config.storage.keep_percent) {
        fault("storage", "keep_percent", "is no share of a disk: write 1 to 95");
    }
    for (table, key, value) in [
        ("watch", "ais_silence_s", config.watch.ais_silence_s),
        ("watch", "gnss_silence_s", config.watch.gnss_silence_s),
        ("watch", "awake_every_min", config.watch.awake_every_min.unwrap_or(1)),
        ("watch", "awake_answer_s", config.watch.awake_answer_s),
        ("storage", "keep_days", config.storage.keep_days),
    ] {
        if value == 0 {
            fault(table, key, "is 0: write 1 or more, or leave it out");
        }
    }
    faults.extend(others);
    faults
}

/// The first item that was there before, and its place.
fn repeated<T: Eq + Hash + Copy>(items: impl Iterator<Item = T>) -> Option<(usize, T)> {
    let mut seen = HashSet::new();
    items.enumerate().find(|&(_, item)| !seen.insert(item))
}
