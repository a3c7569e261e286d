//! `overside debrief` as a person or a script meets it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;

use std::fs;
use std::path::Path;
use std::process::{Command as Process, Stdio};

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use drills::*;
use overside::logbook::{self, AlertChange, Details, Draft};
use overside::mmsi::Mmsi;
use overside::watch::{AlertId, Cause, Priority, State};
use serde_json::Value;
use tempfile::TempDir;

fn overside(folder: &Path) -> Command {
    let mut command = cargo_bin_cmd!("overside");
    command.env_clear().current_dir(folder);
    command
}

/// A folder with a drill in it, and a configuration that knows the Mate.
fn prepared() -> (TempDir, Rehearsed) {
    let (folder, truth) = (tempfile::tempdir().unwrap(), Rehearsed::of(3));
    file(&folder, "drill.nmea", &recorded(&truth.toml));
    let config = "[[person]]\nname = \"Mate\"\n[[beacon]]\nmmsi = 972000017\nholder = \"Mate\"\n";
    file(&folder, "overside.toml", config);
    (folder, truth)
}

fn said(output: &[u8]) -> String {
    String::from_utf8(output.to_vec()).unwrap()
}

/// The keys of the contract, in its order among ours.
const CONTRACT: [&str; 19] = [
    "mmsi",
    "person",
    "activated_at",
    "alarm_at",
    "acknowledged_at",
    "first_position_at",
    "turn_begun_at",
    "closest_approach_at",
    "closest_approach_m",
    "greatest_range_nm",
    "greatest_range_at",
    "recovered_at",
    "messages_heard",
    "messages_expected",
    "longest_silence_s",
    "first_heard_range_nm",
    "last_heard_range_nm",
    "drift",
    "findings",
];

#[test]
fn json_is_one_object_a_casualty_and_writes_no_file() {
    let (folder, truth) = prepared();
    let output =
        overside(folder.path()).args(["debrief", "--json", "drill.nmea"]).assert().success();
    let output = said(&output.get_output().stdout);
    let line = output.strip_suffix('\n').unwrap();
    let object: Value = serde_json::from_str(line).unwrap();
    let mut places = CONTRACT.map(|key| {
        assert!(object.get(key).is_some(), "{key} is missing");
        line.find(&format!("\"{key}\":")).unwrap()
    });
    assert!(places.is_sorted(), "{places:?}");
    places.sort_unstable();
    assert_eq!((&object["mmsi"], &object["person"]), (&MMSI.into(), &"Mate".into()));
    assert_eq!(object["acknowledged_at"], Value::Null);
    assert!(object["drift"]["rate_kn"].is_number() && object["drift"]["set_deg"].is_number());
    // What is inferred says how far it may be off, and how it was inferred.
    for key in
        ["messages_expected", "heard_in_water", "expected_in_water", "position_error", "drift"]
    {
        let off = &object[format!("{key}_tolerance")];
        assert!(off.is_number() && object["how"][key].is_string(), "{key}: ±{off}");
    }
    for key in ["mean_difference_deg", "sailed_m", "needed_m", "taken_s", "needed_s"] {
        assert!(object["steering"][format!("{key}_tolerance")].is_number(), "{key}");
    }
    assert!(object["how"]["steering"].is_string() && object["passes_missed_tolerance"].is_number());
    let turn = object["turn_begun_at"].as_str().unwrap();
    let turn = seconds(overside::time::Utc::parse_rfc3339(turn).unwrap());
    assert!((turn - truth.turned as f64).abs() <= 5.0);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "nothing was written");
}

#[test]
fn the_report_goes_into_a_folder_and_what_is_replaced_is_said() {
    let (folder, _) = prepared();
    let run = || overside(folder.path()).args(["debrief", "drill.nmea"]).assert().success();
    let first = run();
    let told = said(&first.get_output().stdout);
    for words in ["Mate's beacon was heard first", "Time line", "Range against time", "The turn"] {
        assert!(told.contains(words), "{words} is not in:\n{told}");
    }
    assert!(told.lines().all(|line| line.chars().count() <= 80), "{told}");
    assert!(!said(&first.get_output().stderr).contains("replaced"));
    let path = folder.path().join("debrief-drill/debrief.json");
    let document: Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    let casualty = &document["recordings"][0]["casualties"][0];
    assert_eq!(casualty["mmsi"], MMSI);
    for list in ["fixes", "track", "receptions", "bursts", "ranges", "findings"] {
        assert!(!casualty[list].as_array().unwrap().is_empty(), "{list}");
    }
    assert!(casualty["measures"]["turn_begun_at"]["how"].is_string());
    assert!(casualty["measures"]["acknowledged_at"]["why"].is_string());
    assert!(!document["recordings"][0]["own_track"].as_array().unwrap().is_empty());
    let gpx = fs::read_to_string(folder.path().join("debrief-drill/track.gpx")).unwrap();
    assert_eq!((gpx.matches("<trk>").count(), gpx.matches("</gpx>").count()), (2, 1));
    let events = document["recordings"][0]["events"].as_array().unwrap();
    assert_eq!(gpx.matches("<wpt ").count(), events.len());
    let again = said(&run().get_output().stderr);
    assert!(again.contains("debrief.json was there before and is replaced"), "{again}");
    let other = overside(folder.path())
        .args(["debrief", "drill.nmea", "--json", "--folder", "elsewhere/here"])
        .assert()
        .success();
    assert!(other.get_output().stdout.starts_with(b"{"));
    assert!(folder.path().join("elsewhere/here/debrief.json").exists());
}

#[test]
fn without_unicode_the_plot_is_ascii() {
    let (folder, _) = prepared();
    let plot = |locale: &str| {
        let mut command = overside(folder.path());
        let output =
            command.env("LC_ALL", locale).args(["debrief", "drill.nmea"]).assert().success();
        let told = said(&output.get_output().stdout);
        told.lines()
            .skip_while(|it| !it.contains("Range against"))
            .skip(1)
            .take(9)
            .collect::<String>()
    };
    assert!(plot("C").is_ascii(), "{}", plot("C"));
    assert!(plot("en_GB.UTF-8").chars().any(|c| ('\u{2801}'..='\u{28ff}').contains(&c)));
}

#[test]
fn several_drills_stand_side_by_side() {
    let (folder, _) = prepared();
    file(&folder, "second.nmea", &recorded(&Rehearsed::of(4).toml));
    file(&folder, "none.nmea", "");
    let output = overside(folder.path())
        .args(["debrief", "drill.nmea", "second.nmea", "none.nmea"])
        .assert()
        .success();
    let told = said(&output.get_output().stdout);
    let table = told.split("Side by side").nth(1).unwrap();
    assert_eq!(table.lines().count(), 6, "{table}");
    assert!(table.contains("drill, Mate") && table.contains("second, Mate"), "{table}");
    assert!(folder.path().join("debrief-drill-and-2-more/debrief.json").exists());
}

/// What a time until the recovery counts to stands beside it.
#[test]
fn parts_that_overlap_tell_what_the_whole_tells() {
    let (folder, _) = prepared();
    let whole = fs::read_to_string(folder.path().join("drill.nmea")).unwrap();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    file(&folder, "one.nmea", &lines[..lines.len() * 6 / 10].concat());
    file(&folder, "two.nmea", &lines[lines.len() * 3 / 10..].concat());
    let json = |of: &[&str]| {
        let told = overside(folder.path()).args(["debrief", "--json"]).args(of).assert().success();
        let mut told: Value = serde_json::from_slice(&told.get_output().stdout).unwrap();
        told["recording"] = Value::Null;
        told
    };
    let mut parts = json(&["one.nmea", "two.nmea", "--parts"]);
    let findings = parts["findings"].as_array_mut().unwrap();
    let is_of_parts = |it: &Value| it.as_str().unwrap().contains("Parts of the recording overlap");
    let place = findings.iter().position(is_of_parts).unwrap();
    findings.remove(place);
    assert_eq!(parts, json(&["drill.nmea"]));
}

#[test]
fn times_to_the_recovery_say_what_they_count_to() {
    let (folder, truth) = prepared();
    // The boat sails on with the beacon.
    assert_eq!(truth.end, End::SailsOn);
    let off = (0..).map(Rehearsed::of).find(|it| it.end == End::OffAlongside).unwrap();
    file(&folder, "off.nmea", &recorded(&off.toml));
    let output =
        overside(folder.path()).args(["debrief", "drill.nmea", "off.nmea"]).assert().success();
    let told = said(&output.get_output().stdout);
    let table = told.split("Side by side").nth(1).unwrap();
    let row = |name: &str| table.lines().find(|it| it.starts_with(name)).unwrap();
    assert!(row("off, Mate").contains("  OFF  "), "{table}");
    assert!(row("drill, Mate").contains("  boat left  "), "{table}");
    assert!(row("drill, Mate").contains("under 20 m") && !table.contains("  0 m"), "{table}");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("at most 2 min"), "{told}");
}

#[test]
fn who_is_in_no_muster_is_named_once() {
    let folder = tempfile::tempdir().unwrap();
    file(&folder, "drill.nmea", &recorded(&Rehearsed::of(3).toml));
    let output = overside(folder.path()).args(["debrief", "drill.nmea"]).assert().success();
    let told = said(&output.get_output().stdout);
    assert!(told.contains("\n972000017\n") && !told.contains("972000017 (972000017)"), "{told}");
}

#[test]
fn nothing_to_measure_is_a_finding() {
    let (folder, _) = prepared();
    file(&folder, "none.nmea", "");
    let output = overside(folder.path()).args(["debrief", "none.nmea"]).assert().code(1);
    assert!(said(&output.get_output().stdout).contains("nothing to measure"));
    overside(folder.path()).args(["debrief", "--json", "none.nmea"]).assert().code(1).stdout("");
}

#[test]
fn what_cannot_be_done_is_2_and_says_why() {
    let (folder, _) = prepared();
    for (arguments, words) in [
        (&["debrief"][..], "FILE"),
        (&["debrief", "no-such.nmea"], "cannot read no-such.nmea"),
        (&["debrief", "drill.nmea", "no-such.nmea"], "cannot read no-such.nmea"),
        (&["debrief", "."], "in that folder"),
        (&["debrief", "drill.nmea", "--folder", "drill.nmea"], "--folder"),
        (&["debrief", "drill.nmea", "--from-logbook", "1"], "--from-logbook"),
        (&["debrief", "--from-logbook", "1", "--storage", "."], "logbook"),
    ] {
        let output = overside(folder.path()).args(arguments).assert().code(2).get_output().clone();
        let told = said(&output.stderr);
        assert!(told.contains("error: ") && told.contains(words), "{arguments:?}: {told}");
    }
}

#[test]
fn a_closed_pipe_ends_it_quietly() {
    let (folder, _) = prepared();
    let mut child = Process::new(env!("CARGO_BIN_EXE_overside"))
        .args(["debrief", "--json", "drill.nmea"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), said(&output.stderr).as_str()), (Some(0), ""));
}

#[test]
fn hostile_names_come_out_inert() {
    let (folder, _) = prepared();
    let evil = "=1+1\\u001B]0;x\\u0007<script>\\u202E";
    let config = format!(
        "[vessel]\nname = \"{evil}\"\n[[person]]\nname = \"{evil}\"\n\
         [[beacon]]\nmmsi = 972000017\nholder = \"{evil}\"\n"
    );
    file(&folder, "evil.toml", &config);
    for json in [&[][..], &["--json"]] {
        let mut command = overside(folder.path());
        command.args(["--config", "evil.toml", "debrief", "drill.nmea"]).args(json);
        let told = said(&command.assert().success().get_output().stdout);
        assert!(told.contains("<script>"));
        let hostile = |c: char| c != '\n' && (c.is_control() || c == '\u{202e}');
        let inert = json.is_empty() && told.contains(hostile);
        assert!(!inert && !told.contains(['\u{1b}', '\u{7}']), "{told:?}");
    }
}

/// The same from standard input, and a folder whose name is safe.
#[test]
fn standard_input_is_a_recording() {
    let (folder, _) = prepared();
    let text = fs::read(folder.path().join("drill.nmea")).unwrap();
    let output =
        overside(folder.path()).args(["debrief", "-"]).write_stdin(text).assert().success();
    assert!(said(&output.get_output().stdout).starts_with("standard input: 2026-06-14"));
    assert!(folder.path().join("debrief-standard-input/debrief.json").exists());
}

#[test]
fn the_logbook_adds_what_people_did() {
    let (folder, truth) = prepared();
    let books = folder.path().join("books");
    fs::create_dir_all(books.join("recordings")).unwrap();
    let name = "000001-20260614T140000Z.nmea";
    fs::copy(folder.path().join("drill.nmea"), books.join("recordings").join(name)).unwrap();
    // The host's clock is five seconds behind the labels of the recording.
    let at = |second: f64| utc(second).unix_ms() - 5_000;
    let alarm = truth.fallen as f64 + 20.0;
    let alert = |state, second| Draft {
        details: Details::Alert(AlertChange {
            alert: AlertId(1),
            cause: Cause::BeaconActive,
            priority: Priority::EmergencyAlarm,
            state,
            matter: None,
            joined_by: None,
        }),
        mmsi: Mmsi::new(MMSI),
        text: "Mate's beacon active".to_owned(),
        host_ms: at(second),
        recording: Some(name.to_owned()),
        recording_ms: Some(utc(second).unix_ms()),
        ..Draft::default()
    };
    let note = |text: &str, second| {
        Draft::note(
            text,
            Some("Skipper"),
            None,
            overside::time::Utc::from_unix_ms(at(second)).unwrap(),
        )
    };
    let aboard = truth.aboard.unwrap() as f64;
    for draft in [
        note("the day before", -86_400.0),
        alert(State::ActiveUnacknowledged, alarm),
        alert(State::ActiveAcknowledged, alarm + 30.0),
        note("engine on, \u{1b}[2J lines clear", alarm + 60.0),
        note("Mate recovered", aboard),
    ] {
        logbook::append(&books, draft).unwrap();
    }
    let run = |arguments: &[&str]| {
        let mut command = overside(folder.path());
        command.args(["debrief", "--storage", "books", "--from-logbook", "2"]).args(arguments);
        said(&command.assert().success().get_output().stdout)
    };
    let object: Value = serde_json::from_str(&run(&["--json"])).unwrap();
    let second = |key: &str| {
        seconds(overside::time::Utc::parse_rfc3339(object[key].as_str().unwrap()).unwrap())
    };
    assert!((second("acknowledged_at") - alarm - 30.0).abs() < 0.01);
    assert!((second("recovered_at") - aboard).abs() < 0.01, "{}", object["recovered_at"]);
    assert_eq!(object["recovered_by"], "logbook");
    // The only drill there is.
    let mut all = overside(folder.path());
    all.args(["debrief", "--storage", "books", "--from-logbook", "all", "--json"]);
    let all = said(&all.assert().success().get_output().stdout);
    assert_eq!(
        serde_json::from_str::<Value>(&all).unwrap()["recovered_at"],
        object["recovered_at"]
    );
    let told = run(&[]);
    assert!(
        told.contains("Note in the logbook by Skipper: engine on, \\u{1b}[2J lines clear"),
        "{told}"
    );
    assert!(told.contains("Skipper: Mate recovered") && !told.contains("the day before"), "{told}");
    assert!(folder.path().join("debrief-logbook-entry-2/debrief.json").exists());
}
