//! `docs/reference.md` against the program.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use overside::cli::ExitCode;
use overside::config::Config;
use overside::edge::InputUri;
use overside::logbook::{Act, AlertChange, BeaconEvent, Details, Draft, Kind, WatchEvent};
use overside::mmsi::Mmsi;
use overside::navigation::{radio_horizon, working_range};
use overside::watch::{Cause, Matter, Mode, Priority, State};
use serde_json::Value;

use crate::pages::{self, page, quoted, rows, section};
use crate::{capture, made, printed};

pub type Names = BTreeSet<String>;

fn names<'a>(of: impl IntoIterator<Item = &'a str>) -> Names {
    of.into_iter().map(str::to_owned).collect()
}

pub fn keys(value: &Value) -> Names {
    value.as_object().unwrap().keys().cloned().collect()
}

fn printed_keys(args: &[&str], folder: &Path) -> Names {
    let lines = printed(args, folder);
    let lines = lines.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    lines.flat_map(|line| keys(&line)).collect()
}

/// The lists of commands and keys are made from the program. To renew them:
/// `OVERSIDE_RENEW_MANUAL=1 cargo test --test manual`.
#[test]
fn commands_and_keys_are_those_of_the_program() {
    let before = page("docs/reference.md");
    let mut after = before.clone();
    for (name, made) in [("commands", made::commands()), ("keys", made::keys())] {
        let begin = after.find(&format!("<!-- {name}:")).unwrap();
        let begin = begin + after[begin..].find('\n').unwrap() + 1;
        let end = begin + after[begin..].find("<!-- end -->").unwrap();
        after.replace_range(begin..end, &format!("\n{made}\n"));
    }
    if std::env::var_os("OVERSIDE_RENEW_MANUAL").is_some_and(|value| value == "1") {
        std::fs::write(pages::root().join("docs/reference.md"), &after).unwrap();
        return;
    }
    let differs = after.lines().zip(before.lines()).find(|(made, found)| made != found);
    assert!(
        before == after,
        "docs/reference.md is not what the program says, first at {differs:?}. Renew it with \
         OVERSIDE_RENEW_MANUAL=1 cargo test --test manual, and look at it"
    );
}

/// The keys that a part of the configuration has: it tells them when it meets one that it has not.
fn known_keys(table: &str) -> Names {
    let text = format!("{table}\nno_such_key = 1\n");
    let why = toml::from_str::<Config>(&text).unwrap_err().message().to_owned();
    let (_, expected) = why.split_once("expected ").unwrap_or_else(|| panic!("{table}: {why}"));
    quoted(expected).into_iter().collect()
}

#[test]
fn every_configuration_key_is_there_and_no_other() {
    let page = page("docs/reference.md");
    let mut tables = Names::new();
    let mut whole = String::new();
    for (heading, body) in pages::headed(section(&page, "Configuration"), "### `[") {
        let table = heading.trim_matches(['#', ' ', '`']);
        tables.insert(table.trim_matches(['[', ']']).to_owned());
        let rows = rows(body);
        let told = rows.iter().map(|row| row.quoted(0).remove(0)).collect::<Names>();
        assert_eq!(told, known_keys(table), "{table}");
        whole.push_str(&format!("{table}\n"));
        for row in &rows {
            whole.push_str(&format!("{} = {}\n", row.quoted(0)[0], row.quoted(3)[0]));
        }
    }
    assert_eq!(tables, known_keys(""));
    let config = Config::parse(&whole, Path::new("the examples")).unwrap();
    assert_eq!(config.beacons[0].holder.as_deref(), Some("Mate"));
    // What holds if a key is left out, where the page has it as a value.
    for (heading, body) in pages::headed(section(&page, "Configuration"), "### `[") {
        let table = heading.trim_matches(['#', ' ', '`']);
        let rows = rows(body);
        let needed = rows.iter().filter(|row| row.cell(2) == "must be there");
        let needed: String =
            needed.map(|row| format!("{} = {}\n", row.quoted(0)[0], row.quoted(3)[0])).collect();
        let read =
            |more: &str| toml::from_str::<Config>(&format!("{table}\n{needed}{more}")).unwrap();
        for row in &rows {
            if row.cell(2).starts_with('`')
                && row.cell(2).ends_with('`')
                && row.quoted(2).len() == 1
            {
                let said = format!("{} = {}\n", row.quoted(0)[0], row.quoted(2)[0]);
                assert_eq!(read(""), read(&said), "{table} {said}");
            }
        }
    }
}

#[test]
fn every_piece_of_a_configuration_can_be_read() {
    let mut read = 0;
    for name in pages::pages() {
        for piece in pages::blocks(&page(&name), "toml") {
            toml::from_str::<Config>(&piece).unwrap_or_else(|why| panic!("{name}: {why}"));
            read += 1;
        }
    }
    assert!(read >= 6, "{read}");
}

#[test]
fn the_ranges_that_limits_tells_are_those_of_the_screen() {
    let heard = |antenna: f64| working_range(radio_horizon(antenna, 0.2)).0.round();
    let told = format!(
        "With your antenna 12 m above it reception is likely to about {} NM, with 3 m to about {} NM",
        heard(12.0),
        heard(3.0)
    );
    assert!(page("docs/limits.md").contains(&told), "{told}");
}

#[test]
fn inputs_can_be_given_as_they_are_written() {
    for row in rows(section(&page("docs/reference.md"), "Inputs")) {
        row.quoted(0)[0].parse::<InputUri>().unwrap();
    }
}

#[test]
fn words_and_codes_are_those_of_the_program() {
    let page = page("docs/reference.md");
    let told = |body: &str, head: &str| -> Names {
        let table = pages::table(body, head);
        table.iter().map(|row| row.cell(0).trim_matches('`').to_owned()).collect()
    };
    let alerts = section(&page, "Alerts");
    assert_eq!(told(alerts, "priority"), names(Priority::ALL.iter().map(|it| it.word())));
    assert_eq!(told(alerts, "state"), names(State::ALL.iter().map(|it| it.word())));
    assert_eq!(told(alerts, "cause"), names(Cause::ALL.iter().map(|it| it.word())));
    assert_eq!(told(alerts, "mode"), names(Mode::ALL.iter().map(|it| it.word())));
    assert_eq!(
        told(section(&page, "Logbook"), "kind"),
        names(Kind::ALL.iter().map(|it| it.word()))
    );
    let codes = [ExitCode::Done, ExitCode::Finding, ExitCode::Fault, ExitCode::HeardActive];
    for code in codes {
        // A new one has to be told of here, too.
        match code {
            ExitCode::Done | ExitCode::Finding | ExitCode::Fault | ExitCode::HeardActive => {}
        }
    }
    let codes = codes.map(|code| (code as u8).to_string());
    assert_eq!(told(section(&page, "Exit codes"), "code"), codes.into_iter().collect());
}

#[test]
fn what_commands_print_has_the_keys_that_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let page = page("docs/reference.md");
    let other = section(&page, "Other JSON");
    let (demo, round) = (capture("demo.toml"), capture("muster_round.nmea"));
    let drill = capture("overboard_drill.nmea");
    let search = ["search", "--json", "--at", "57 42.07N 010 35.89E", "--since", "12min"];
    for row in pages::table(other, "command") {
        let command = row.quoted(0).remove(0);
        let made = match command.trim_start_matches("overside ") {
            "prove --json" => {
                printed_keys(&["prove", "--json", "--capture", &round, "--config", &demo], folder)
            }
            "muster --json" => printed_keys(&["muster", "--json", "--config", &demo], folder),
            "logbook note --json" => printed_keys(&["logbook", "note", "--json", "x"], folder),
            "search --json" => {
                let plan = |pattern| [&search[..], &["--pattern", pattern]].concat();
                let square = printed_keys(&plan("square"), folder);
                square.union(&printed_keys(&plan("sector"), folder)).cloned().collect()
            }
            "decode --tally" => printed_keys(&["decode", "--tally", &drill], folder),
            "logbook list --json" => {
                printed(&["logbook", "note", "x"], folder);
                printed_keys(&["logbook", "list", "--json"], folder)
            }
            "hearing --json" => printed_keys(&["hearing", "--json", &drill], folder),
            "logbook check --json" => printed_keys(&["logbook", "check", "--json"], folder),
            other => panic!("{other} is not tried here"),
        };
        assert_eq!(row.quoted(1).into_iter().collect::<Names>(), made, "{command}");
    }
    let debrief = pages::page("docs/debrief.md");
    let debrief = section(&debrief, "`debrief --json`");
    for key in printed_keys(&["debrief", "--json", &drill], folder) {
        let bare = key.trim_end_matches("_tolerance");
        assert!(debrief.contains(&format!("`{bare}`")), "debrief --json: {key}");
    }
    let csv = printed(&["logbook", "list", "--csv"], folder);
    let columns = csv.lines().next().unwrap();
    assert!(section(&page, "Logbook").contains(&format!("\n{columns}\n")), "{columns}");
}

/// The words that a type of the logbook knows: it tells them when it meets one that it does not.
fn known_words<T: serde::de::DeserializeOwned + std::fmt::Debug>() -> Names {
    let why = serde_json::from_value::<T>("no_such_word".into()).unwrap_err().to_string();
    let (_, expected) = why.split_once("expected ").unwrap_or_else(|| panic!("{why}"));
    quoted(expected).into_iter().collect()
}

#[test]
fn the_body_of_an_entry_is_told() {
    let page = page("docs/reference.md");
    let logbook = section(&page, "Logbook");
    let acts = pages::table(logbook, "act").iter().flat_map(|row| row.quoted(0)).collect::<Names>();
    assert_eq!(acts, known_words::<Act>());
    let told = |begin: &str, end: &str| -> Names {
        let rest = &logbook[logbook.find(begin).unwrap() + begin.len()..];
        quoted(&rest[..rest.find(end).unwrap()]).into_iter().collect()
    };
    assert_eq!(told("of a `watch` entry is one of ", ";"), known_words::<WatchEvent>());
    for event in known_words::<BeaconEvent>() {
        assert!(section(&page, "Events").contains(&format!("| `{event}` |")), "{event}");
    }
    let mmsi = Mmsi::new(972_000_017).unwrap();
    let alert = Details::Alert(AlertChange {
        alert: serde_json::from_value(1.into()).unwrap(),
        cause: Cause::BeaconActive,
        priority: Priority::EmergencyAlarm,
        state: State::Normal,
        matter: Some(Matter::Emergency(mmsi)),
        joined_by: None,
    });
    let draft = Draft { details: alert, input: Some("ais".to_owned()), ..Draft::default() };
    let body: Value = serde_json::from_str(&draft.body(1, None).unwrap()).unwrap();
    assert_eq!(told("whose keys are ", "."), keys(&body));
}

#[test]
fn every_key_of_decode_is_told() {
    let page = page("docs/reference.md");
    let table = pages::table(section(&page, "`overside decode`"), "key");
    let of = |types: &str| -> Names {
        let row = table.iter().find(|row| row.cell(0).trim_start_matches("`ais`, ") == types);
        let row = row.or(table.iter().find(|row| row.cell(0) == format!("`ais` {types}")));
        row.unwrap_or_else(|| panic!("{types}")).quoted(1).into_iter().collect()
    };
    let mut lines = String::new();
    for entry in std::fs::read_dir(pages::root().join("tests/vectors")).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let file: toml::Table = text.parse().unwrap();
        for vector in file["vector"].as_array().unwrap() {
            for line in vector["lines"].as_array().unwrap() {
                lines.push_str(line.as_str().unwrap());
                lines.push('\n');
            }
        }
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("lines.nmea"), lines).unwrap();
    let mut seen: BTreeMap<&str, Names> = BTreeMap::new();
    let common = of("every type");
    let whole = section(&page, "`overside decode`");
    for line in printed(&["decode", "lines.nmea"], folder.path()).lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        let reason = line["reject"].as_str().map(str::to_owned);
        for word in keys(&line).into_iter().chain(reason) {
            assert!(whole.contains(&format!("`{word}`")), "{word}");
        }
        let Some(kind) = line["ais"]["type"].as_u64() else { continue };
        let row = ["5", "9", "12", "14", "18", "19", "21", "24", "27"];
        let row = match kind {
            1..=3 => "1 2 3",
            4 | 11 => "4 11",
            other => row.into_iter().find(|it| *it == other.to_string()).unwrap_or("every type"),
        };
        seen.entry(row).or_default().extend(keys(&line["ais"]));
    }
    assert_eq!(seen.len(), 12);
    for (row, seen) in seen {
        let told = if row == "every type" { Names::new() } else { of(row) };
        let more = if row == "19" { of("18") } else { Names::new() };
        let told: Names = told.into_iter().chain(more).chain(common.clone()).collect();
        assert_eq!(told, seen, "{row}");
    }
}

#[test]
fn the_recording_on_the_page_is_one() {
    let page = page("docs/reference.md");
    let folder = tempfile::tempdir().unwrap();
    let block = pages::blocks(section(&page, "Recordings"), "nmea").remove(0);
    std::fs::write(folder.path().join("it.nmea"), &block).unwrap();
    let tally = printed(&["decode", "--tally", "it.nmea"], folder.path());
    let tally: Value = serde_json::from_str(&tally).unwrap();
    assert_eq!((&tally["sentences"], &tally["rejects"]), (&2.into(), &0.into()));
    let first = printed(&["decode", "it.nmea"], folder.path());
    let first: Value = serde_json::from_str(first.lines().next().unwrap()).unwrap();
    assert_eq!(first["source"], "ais");
    assert_eq!(first["at"], "2026-06-14T14:00:00.053Z");
}
