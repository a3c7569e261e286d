//! A beacon entered in the configuration: what is added, what stays, what is refused.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod support;

use std::fs;
use std::path::Path;

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use overside::config::{Config, Enrolment};
use overside::mmsi::Mmsi;
use proptest::prelude::*;

const DEMO: &str = include_str!("../captures/demo.toml");

fn cook() -> Enrolment {
    Enrolment {
        mmsi: Mmsi::new(972_000_018).unwrap(),
        holder: Some("Cook".to_owned()),
        jacket: Some("jacket 3".to_owned()),
        battery: Some("2029-05".parse().unwrap()),
        test_every_months: None,
        dsc_mmsi: None,
    }
}

const ADDED: &str = r#"
[[person]]
name = "Cook"

[[lifejacket]]
name = "jacket 3"

[[beacon]]
mmsi = 972000018
holder = "Cook"
fitted_to = "jacket 3"
battery_expires = "2029-05"
"#;

fn lines(new: &Enrolment, text: &str) -> Result<String, String> {
    new.lines(text, Path::new("overside.toml")).map_err(|why| why.to_string())
}

#[test]
fn the_lines_are_added_at_the_end_as_the_file_ends_its_own() {
    assert_eq!(lines(&cook(), DEMO).unwrap(), ADDED);
    assert_eq!(lines(&cook(), "").unwrap(), ADDED);
    assert_eq!(lines(&cook(), "# none yet").unwrap(), format!("\n{ADDED}"));
    let dos = DEMO.replace('\n', "\r\n");
    assert_eq!(lines(&cook(), &dos).unwrap(), ADDED.replace('\n', "\r\n"));
    // Who and what is there already is not there twice.
    let guest = Enrolment { holder: Some("Guest \"Al\"".to_owned()), ..cook() };
    let text =
        format!("{DEMO}\n[[person]]\nname = 'Guest \"Al\"'\n[[lifejacket]]\nname = \"jacket 3\"");
    let added = lines(&guest, &text).unwrap();
    assert!(!added.contains("[[person]]") && !added.contains("[[lifejacket]]"), "{added}");
    let config = Config::parse(&format!("{text}{added}"), Path::new("it")).unwrap();
    assert_eq!(config.beacons[2].holder.as_deref(), Some("Guest \"Al\""));
}

#[test]
fn what_is_there_is_not_overwritten() {
    let of = |change: fn(&mut Enrolment)| {
        let mut new = cook();
        change(&mut new);
        lines(&new, DEMO).unwrap_err()
    };
    for (said, part) in [
        (
            of(|it| it.mmsi = Mmsi::new(972_000_017).unwrap()),
            "972000017 is in the muster already: Mate",
        ),
        (of(|it| it.holder = Some("Mate".to_owned())), "Mate has a beacon in the muster already"),
        (of(|it| it.jacket = Some("jacket 2".to_owned())), "jacket 2 has a beacon"),
        (of(|it| it.holder = Some("a\nb".to_owned())), "a name has"),
        (of(|it| it.holder = Some(String::new())), "a name has"),
        (of(|it| it.mmsi = Mmsi::new(244_000_000).unwrap()), "no survivor beacon's identity"),
        (of(|it| it.dsc_mmsi = Mmsi::new(200_000_009)), "vessel.mmsi is 200000000"),
        (of(|it| it.test_every_months = Some(0)), "is 0"),
    ] {
        assert!(said.contains(part), "{part:?} is not in {said}");
    }
    let wrong = format!("{DEMO}[[beacon]]\nmsi = 1\n");
    assert!(lines(&cook(), &wrong).unwrap_err().contains("correct the file first"));
    // Nothing can be added to what is written in one line.
    let said = lines(&cook(), "beacon = [{ mmsi = 972000016 }]\n").unwrap_err();
    assert!(said.contains("could not be read"), "{said}");
}

/// The demonstration's configuration with some of its characters replaced, left out or added.
fn mutated() -> impl Strategy<Value = String> {
    let edit = (0..DEMO.len(), 0..12_usize, "[\\[\\]\"'#=\n\r a-z0-9\\\\{}]{0,6}");
    proptest::collection::vec(edit, 0..4).prop_map(|edits| {
        let mut text = DEMO.to_owned();
        for (at, length, with) in edits {
            let from = at.min(text.len());
            let to = (from + length).min(text.len());
            text.replace_range(from..to, &with);
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// Either refused, or what was there is there, and the beacon.
    #[test]
    fn a_mutated_file_is_refused_or_holds_the_beacon_too(text in mutated(), dos: bool) {
        let text = if dos { text.replace('\n', "\r\n") } else { text };
        let path = Path::new("it");
        if let Ok(added) = lines(&cook(), &text) {
            let before = Config::parse(&text, path).unwrap();
            let mut after = Config::parse(&format!("{text}{added}"), path).unwrap();
            let beacon = after.beacons.pop().unwrap();
            prop_assert_eq!(beacon.mmsi, cook().mmsi);
            prop_assert_eq!(beacon.battery_expires, cook().battery);
            after.persons.truncate(before.persons.len());
            after.lifejackets.truncate(before.lifejackets.len());
            prop_assert_eq!(before, after);
        }
    }
}

fn add(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = cargo_bin_cmd!("overside");
    command.env_clear().env("XDG_DATA_HOME", folder).current_dir(folder);
    command.args(["muster", "add"]).args(arguments);
    command
}

const COOKS: &[&str] = &[
    "--mmsi",
    "972000018",
    "--holder",
    "Cook",
    "--jacket",
    "jacket 3",
    "--battery",
    "2029-05",
    "--yes",
];

#[test]
fn the_command_adds_it_to_the_file_and_shows_what() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("overside.toml");
    fs::write(&path, DEMO).unwrap();
    let output = add(folder.path(), COOKS).assert().code(0).get_output().clone();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("  [[beacon]]\n  mmsi = 972000018\n"), "{said}");
    assert_eq!(fs::read_to_string(&path).unwrap(), format!("{DEMO}{ADDED}"));
    // Once more: refused, and nothing written.
    let output = add(folder.path(), COOKS).assert().code(2).get_output().clone();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("already") && said.contains("nothing is overwritten"), "{said}");
    assert_eq!(fs::read_to_string(&path).unwrap(), format!("{DEMO}{ADDED}"));
}

#[test]
fn the_command_says_what_to_do_where_it_cannot() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |arguments: &[&str], part: &str| {
        let output = add(folder.path(), arguments).assert().code(2).get_output().clone();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains(part), "{part:?} is not in:\n{said}");
    };
    refused(COOKS, "there is no configuration file");
    fs::write(folder.path().join("overside.toml"), DEMO).unwrap();
    refused(&["--mmsi", "972000018"], "--yes");
    refused(&["--yes"], "--mmsi");
    refused(&["--yes", "--mmsi", "244000000"], "970, 972 or 974");
    refused(&["--yes", "--mmsi", "972000018", "--battery", "05/2029"], "YYYY-MM");
    refused(&["--yes", "--mmsi", "972000018", "--listen"], "--listen");
    assert_eq!(fs::read_to_string(folder.path().join("overside.toml")).unwrap(), DEMO);
}

#[test]
fn a_file_that_is_read_only_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("overside.toml");
    fs::write(&path, DEMO).unwrap();
    let mut permissions = fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&path, permissions).unwrap();
    let output = add(folder.path(), COOKS).assert().code(2).get_output().clone();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("was not written") && said.contains("read-only"), "{said}");
    assert_eq!(fs::read_to_string(&path).unwrap(), DEMO);
}

#[test]
fn the_identity_is_taken_from_a_test_and_from_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("overside.toml");
    let text = format!("{DEMO}\n[alarm]\nsound = false\n");
    fs::write(&path, &text).unwrap();
    let heard = |mmsi: u32, status: u8, word: &str| {
        let position = support::vdm(&support::position(mmsi, status, None, 60), 'A');
        format!("{position}\r\n{}\r\n", support::vdm(&support::text(mmsi, word), 'A'))
    };
    let known = heard(972_000_017, 15, "MOB TEST");
    let listened = |lines: String, code: i32, part: &str| {
        fs::write(folder.path().join("air.nmea"), lines).unwrap();
        let arguments = ["--listen", "--input", "file:air.nmea", "--holder", "Cook", "--yes"];
        let output = add(folder.path(), &arguments).assert().code(code).get_output().clone();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains(part), "{part:?} is not in:\n{said}");
    };
    listened(heard(972_000_018, 14, "MOB ACTIVE"), 2, "972000018 was heard ACTIVE");
    listened(known.clone(), 2, "no beacon outside the muster was heard as TEST");
    let drill = |line: &str| format!("{}{line}\r\n", support::tag("t:DRILL"));
    let rehearsed = heard(972_000_018, 15, "MOB TEST").lines().map(drill).collect();
    listened(rehearsed, 2, "a rehearsal, which enrols nothing");
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
    listened(known + &heard(972_000_018, 15, "MOB TEST"), 0, "972000018 is in the muster");
    assert!(fs::read_to_string(&path).unwrap().contains("mmsi = 972000018\nholder = \"Cook\"\n"));
}
