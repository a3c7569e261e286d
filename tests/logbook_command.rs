//! `overside logbook` as a person or a script meets it. What it exports is checked by
//! `tests/oracle/gpx.py` against the schema of GPX 1.1.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/book.rs"]
mod book;
#[path = "support/night.rs"]
mod night;
mod support;

use std::fs;
use std::path::Path;

use assert_cmd::cargo::cargo_bin_cmd;
use overside::logbook::{Details, Draft, FILE, WatchEvent};
use overside::watch::{AlertId, Command, InputState, Mode, State};
use serde_json::{Value, json};

use book::{
    FIRST, act, alert, beacon, beacon_in, home, moment, overside, said, tamper, texts, watch,
};
use night::{MATE, Night};

#[test]
fn the_list_is_filtered_and_has_the_keys_of_the_contract() {
    let (_home, folder) = home();
    let mut late = alert(1, State::ActiveUnacknowledged, 60);
    late.gnss_ms = Some(FIRST + 3_600_000);
    watch(&folder, [act("act", 1), late, beacon(61)]);
    let list = |arguments: &[&str]| -> Vec<Value> {
        let output = said(overside(&folder).arg("list").arg("--json").args(arguments));
        output.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    };
    let numbers = |arguments: &[&str]| {
        list(arguments).iter().map(|it| it["entry"].as_i64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(numbers(&[]), [1, 2, 3, 4]);
    assert_eq!(numbers(&["--limit", "2"]), [3, 4]);
    assert_eq!(numbers(&["--kind", "operator"]), [2]);
    assert_eq!(numbers(&["--mmsi", "972000017"]), [3, 4]);
    assert_eq!(numbers(&["--priority", "emergency_alarm", "--kind", "alert"]), [3]);
    assert_eq!(numbers(&["--priority", "warning"]), [0; 0]);
    // The first entry is of 2026-05-28T20:26:40Z; that of the alert shows the receiver's time.
    assert_eq!(numbers(&["--since", "2026-05-28T20:27:41Z"]), [3, 4]);
    assert_eq!(numbers(&["--since", "2026-05-28T21:26:40Z"]), [3]);
    assert_eq!(numbers(&["--until", "2026-05-28T20:26:41Z"]), [1, 2]);
    let alert = &list(&["--kind", "alert"])[0];
    assert_eq!(alert["at"], "2026-05-28T21:26:40.000Z");
    assert_eq!(alert["host"], "2026-05-28T20:27:40.000Z");
    assert_eq!(
        (&alert["state"], &alert["person"]),
        (&json!("active_unacknowledged"), &Value::Null)
    );
    for key in [
        "entry",
        "at",
        "kind",
        "priority",
        "cause",
        "state",
        "mmsi",
        "person",
        "text",
        "range_nm",
        "bearing_deg",
        "own",
        "input",
    ] {
        assert!(alert.get(key).is_some(), "{key}");
    }
    let table = said(overside(&folder).arg("list"));
    assert!(table.contains("time by GNSS") && table.lines().count() == 4, "{table}");
    assert!(
        table.contains("     3  2026-05-28 21:26:40Z  EMERGENCY    person overboard"),
        "{table}"
    );
    for (arguments, word) in [
        (["--kind", "gossip"], "gossip"),
        (["--priority", "loud"], "loud"),
        (["--mmsi", "9720000171"], "nine digits"),
        (["--since", "yesterday"], "2026-06-14T02:09:55Z"),
    ] {
        let output = overside(&folder).arg("list").args(arguments).assert().code(2);
        let text = String::from_utf8_lossy(&output.get_output().stderr).into_owned();
        assert!(text.contains(word), "{text}");
    }
}

#[test]
fn a_spreadsheet_reads_every_cell_and_takes_none_for_a_formula() {
    let (_home, folder) = home();
    let hostile =
        ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "a,\"b\"\nc", "\u{1b}[2J", "plain"];
    let acts = hostile.map(|text| Draft { operator: Some(text.to_owned()), ..act(text, 1) });
    watch(&folder, acts);
    let csv = said(overside(&folder).args(["list", "--csv"]));
    assert!(csv.ends_with("\r\n") && !csv.contains('\u{1b}'));
    let mut table = csv::Reader::from_reader(csv.as_bytes());
    let header = table.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|it| it == name).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().collect::<Result<_, _>>().unwrap();
    let column_of = |name| rows[1..].iter().map(|row| &row[column(name)]).collect::<Vec<_>>();
    let expected = [
        "'=1+1",
        "'+1",
        "'-1",
        "'@SUM(A1)",
        "'\\u{9}=1",
        "'\\u{d}=1",
        "a,\"b\"\\u{a}c",
        "\\u{1b}[2J",
        "plain",
    ];
    assert_eq!(column_of("text"), expected);
    assert_eq!(column_of("operator"), expected);
    assert_eq!((&rows[1][column("own_lon")], &rows[1][column("kind")]), ("-5", "operator"));
    assert_eq!(&rows[1][column("mmsi")], "");
    // A terminal is no safer place than a spreadsheet.
    assert!(!said(overside(&folder).arg("list")).contains('\u{1b}'));
}

#[test]
fn a_note_corrects_without_altering() {
    let (_home, folder) = home();
    let note = |arguments: &[&str]| said(overside(&folder).arg("note").args(arguments));
    assert_eq!(note(&["the Mate is aloft", "--by", "Skipper"]), "entry 1\n");
    assert_eq!(note(&["the Mate was below", "--corrects", "1", "--json"]), "{\"entry\":2}\n");
    let row = said(overside(&folder).args(["list", "--limit", "1"]));
    assert!(row.ends_with("the Mate was below (to entry 1)\n"), "{row}");
    for arguments in [&["again", "--corrects", "7"][..], &["  "], &[&"x".repeat(2_001)]] {
        let output = overside(&folder).arg("note").args(arguments).assert().code(2);
        let text = String::from_utf8_lossy(&output.get_output().stderr).into_owned();
        assert!(text.starts_with("error: ") && text.contains("\nWhat to do: "), "{text}");
    }
    assert_eq!(
        said(overside(&folder).args(["check", "--json"])),
        "{\"entries\":2,\"whole\":true,\"first_bad\":null,\"bad\":[]}\n"
    );
    tamper(&folder, "UPDATE entry SET body = replace(body, 'aloft', 'asleep') WHERE entry = 1");
    let output = overside(&folder).args(["check", "--json"]).assert().code(1);
    output.stdout("{\"entries\":2,\"whole\":false,\"first_bad\":1,\"bad\":[1]}\n");
    let output = overside(&folder).arg("check").assert().code(1);
    let text = String::from_utf8_lossy(&output.get_output().stdout).into_owned();
    assert!(text.contains("NOT INTACT") && text.contains("last entry 2, hash "), "{text}");
}

#[test]
fn without_a_logbook_nothing_is_listed_and_nothing_proven() {
    let (_home, folder) = home();
    assert_eq!(said(overside(&folder).args(["list", "--json"])), "");
    for arguments in [&["check"][..], &["handover"], &["export", "--gpx"]] {
        let output = overside(&folder).args(arguments).assert().code(2);
        let text = String::from_utf8_lossy(&output.get_output().stderr).into_owned();
        assert!(text.contains("there is no logbook in"), "{text}");
    }
    assert!(!folder.exists());
    let mut nowhere = cargo_bin_cmd!("overside");
    nowhere.env_clear().args(["logbook", "list"]).assert().code(2);
}

#[test]
fn a_handover_tells_of_the_watch_since_the_last() {
    let (_home, folder) = home();
    let input = |state, second| Draft {
        details: Details::Input { input: "ais".to_owned(), state },
        ..Draft::position(&moment(second))
    };
    let ended = Draft::watch(WatchEvent::Ended, "watch ended", Value::Null, &moment(9));
    watch(&folder, [alert(1, State::ActiveUnacknowledged, 5), alert(1, State::Normal, 6), ended]);
    // A start without an end before it is the same watch.
    watch(&folder, [alert(2, State::ActiveUnacknowledged, 20), input(InputState::Lost, 30)]);
    let test = beacon_in(Mode::Test, 10);
    watch(
        &folder,
        [
            input(InputState::Lost, 40),
            input(InputState::Live, 135),
            alert(3, State::ActiveUnacknowledged, 50),
            alert(3, State::Normal, 51),
            test,
        ],
    );
    said(overside(&folder).args(["note", "reefed", "--by", "Mate"]));

    let handover = |arguments: &[&str]| said(overside(&folder).arg("handover").args(arguments));
    let json: Value = serde_json::from_str(&handover(&["--json"])).unwrap();
    assert_eq!(json["begin"], "2026-05-28T20:26:40.000Z");
    assert_eq!((&json["alerts_open"], &json["alerts_ended"]), (&json!([6]), &json!([12])));
    assert_eq!(json["notes"], json!([14]));
    // Begun in one count and ended in another, it is measured by the clock.
    let outage = &json["inputs_failed"][0];
    assert_eq!(
        (&outage["input"], &outage["seconds"], &outage["over"]),
        (&json!("ais"), &json!(105), &json!(true))
    );
    assert_eq!(json["tests"][0]["mmsi"], 972_000_017);
    assert_eq!(json["own_end"], json!({ "lat": 50.0, "lon": -5.0 }));

    let page = handover(&["--from", "Skipper", "--to", "Mate\u{1b}[2J", "--write"]);
    for words in [
        "from Skipper to Mate\\u{1b}",
        "ais for 1 min 45 s",
        "reefed — Mate",
        ", 1 report from ",
        "[ ] ",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(page.lines().count() < 60 && !page.contains('\u{1b}'), "{page}");
    // STCW A-VIII/2 part 4-1, paragraphs 19 to 22: the relief fit and used to the dark, no manoeuvre;
    // orders, position, course, speed, weather, what is in sight, the equipment in use.
    for words in ["relief fit, and used to the dark", "No handover during a manoeuvre"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    for words in ["Position, course, speed", "standing orders", "visibility", "ships in sight"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    let next: Value = serde_json::from_str(&handover(&["--json"])).unwrap();
    assert_eq!((&next["alerts_open"], &next["notes"]), (&json!([6]), &json!([])));
    assert_eq!(texts(&folder).last().unwrap(), "watch handed over from Skipper to Mate\u{1b}[2J");
}

#[test]
fn an_export_has_a_track_for_each_and_a_waypoint_for_each_alert() {
    let (_home, folder) = home();
    let raised = alert(1, State::ActiveUnacknowledged, 1);
    let placed = Draft { position: beacon(2).position, ..raised.clone() };
    watch(&folder, [raised, placed, beacon(2), beacon(2), beacon(4)]);
    let gpx = said(overside(&folder).args(["export", "--gpx", "-"]));
    assert_eq!(gpx, said(overside(&folder).args(["export", "--gpx"])));
    let count = |words: &str| gpx.matches(words).count();
    assert_eq!((count("<trk>"), count("<wpt "), count("<trkpt lat=\"50.1\"")), (2, 1, 2), "{gpx}");
    let file = folder.join("night.gpx");
    overside(&folder).args(["export", "--gpx"]).arg(&file).assert().success().stdout("");
    assert_eq!(fs::read_to_string(file).unwrap(), gpx);
    // A casualty was at its last fix for two bursts, one a minute, of which the first may be lost.
    let aged =
        |id, age| Draft { fix_age_s: Some(age), ..alert(id, State::ActiveUnacknowledged, 8) };
    let aged = |id, age| Draft { position: beacon(2).position, ..aged(id, age) };
    watch(&folder, [aged(2, 120), aged(3, 121)]);
    let gpx = said(overside(&folder).args(["export", "--gpx", "-"]));
    assert!(gpx.contains("alert 2") && !gpx.contains("alert 3"), "{gpx}");
    let none =
        said(overside(&folder).args(["export", "--gpx", "-", "--until", "2020-01-01T00:00:00Z"]));
    assert!(!none.contains("<trk>") && none.contains("</gpx>"), "{none}");
}

/// Writes all of it into a logbook, and gives back the rows of its list.
fn rows(night: Night, folder: &Path, arguments: &[&str]) -> Vec<Value> {
    watch(folder, night.drafts);
    let list = said(overside(folder).args(["list", "--json"]).args(arguments));
    list.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn rows_of<'a>(rows: &'a [Value], cause: &str) -> Vec<&'a Value> {
    rows.iter().filter(|row| row["cause"] == cause).collect()
}

#[test]
fn the_row_of_an_emergency_has_what_was_known_when_it_changed() {
    let (_home, folder) = home();
    let mut night = Night::begin();
    let active = support::vdm(&support::position(MATE, 14, Some((50.02, -5.0)), 10), 'A');
    let off = support::vdm(&support::text(MATE, "SART OFF"), 'B');
    night.own(0, 50.0);
    night.line(1, "radio", &active);
    night.line(1, "radio", &off);
    night.own(1, 50.01);
    night.command(9, Command::Acknowledge(AlertId(1)));
    let rows = rows(night, &folder, &["--kind", "alert"]);
    let rows = rows_of(&rows, "beacon_active");
    assert_eq!(rows.len(), 3, "{rows:?}");
    for row in &rows {
        assert_eq!((&row["person"], &row["position"]["lat"]), (&json!("Mate"), &json!(50.02)));
    }
    // 0.02 degrees of latitude: 1.201 NM on the ellipsoid; half of it from where the ship is then.
    let told = |key: &str| rows.iter().map(|row| row[key].clone()).collect::<Vec<_>>();
    assert_eq!(told("range_nm"), [json!(1.201), json!(1.201), json!(0.601)]);
    assert_eq!(told("bearing_deg"), [json!(0.0), json!(0.0), json!(0.0)]);
    assert_eq!(told("fix_age_s"), [json!(0), json!(1), json!(11)]);
    assert_eq!(told("input"), [json!("radio"), json!("radio"), json!(null)]);
    assert_eq!(told("sentences"), [json!([active]), json!([off]), json!([])]);
}

/// What is due by the time alone is told with what was known then, though a line that comes later is
/// what lets it be told.
#[test]
fn what_was_due_before_a_line_has_nothing_of_it() {
    let (_home, folder) = home();
    let mut night = Night::begin();
    night.own(0, 50.0);
    night.line(
        1,
        "radio",
        &support::vdm(&support::position(MATE, 14, Some((50.02, -5.0)), 10), 'A'),
    );
    night.own(500, 50.01);
    let rows = rows(night, &folder, &[]);
    let silent = rows_of(&rows, "beacon_silent")[0];
    assert_eq!((&silent["range_nm"], &silent["own"]["lat"]), (&json!(1.201), &json!(50.0)));
    assert_eq!((&silent["sentences"], &silent["input"]), (&json!([]), &Value::Null));
    let inputs = rows_of(&rows, "input_silent");
    assert!(inputs.iter().any(|row| row["input"] == "radio"), "{inputs:?}");
    let states: Vec<&Value> = rows.iter().filter(|row| row["kind"] == "input").collect();
    assert!(!states.is_empty() && states.iter().all(|row| row["input"].is_string()));
    assert!(said(overside(&folder).args(["list", "--kind", "input"])).contains("radio: live"));
    let csv = said(overside(&folder).args(["list", "--csv", "--kind", "input"]));
    assert!(csv.lines().next().unwrap().ends_with(",gnss_ms,input"), "{csv}");
    assert!(csv.lines().nth(1).unwrap().ends_with(",gnss"), "{csv}");
}

#[test]
fn a_point_set_by_hand_and_a_call_are_marked_where_they_were() {
    let (_home, folder) = home();
    let mut night = Night::begin();
    night.own(0, 50.0);
    night.command(1, Command::MarkOverboard);
    night.own(60, 50.01);
    // 50°20' N, 005°10' W: twenty miles off.
    let call = support::sealed("CDDSC,12,2110000010,12,10,26,1502000510,0201,,,S,");
    night.line(1, "vhf", &call);
    // A beacon that does not know where it is.
    night.line(1, "radio", &support::vdm(&support::position(MATE, 14, None, 60), 'A'));
    night.command(1, Command::Resolve(AlertId(1)));
    let rows = rows(night, &folder, &["--kind", "alert"]);
    let marked = rows_of(&rows, "overboard_marked");
    assert!(
        marked.len() == 2 && marked.iter().all(|row| row["position"]["lat"] == 50.0),
        "{rows:?}"
    );
    let call = rows_of(&rows, "dsc_distress")[0];
    let lat = call["position"]["lat"].as_f64().unwrap();
    assert!((lat - 50.333).abs() < 0.001 && call["range_nm"].as_f64() > Some(19.0), "{call}");
    let gpx = said(overside(&folder).args(["export", "--gpx", "-"]));
    let points: Vec<&str> = gpx.lines().filter(|line| line.contains("<wpt ")).collect();
    assert_eq!(points.len(), 2, "{gpx}");
    assert!(points[0].contains("lat=\"50\"") && points[1].contains("lat=\"50.33"), "{gpx}");
}

#[test]
fn a_track_goes_forward_in_time() {
    let (_home, folder) = home();
    let at = |second, age: u64, lat| Draft {
        own: overside::navigation::Position::new(lat, -5.0),
        own_age_s: Some(age),
        ..act("act", second)
    };
    watch(
        &folder,
        [at(10, 0, 50.0), at(11, 1, 50.0), at(12, 0, 50.02), at(13, 2, 50.01), at(30, 0, 50.0)],
    );
    let gpx = said(overside(&folder).args(["export", "--gpx", "-"]));
    let times: Vec<&str> = gpx.lines().filter(|line| line.contains("<time>")).collect();
    assert!(times.len() == 5 && times.is_sorted_by(|a, b| a < b), "{gpx}");
}

#[test]
fn a_check_shows_every_bad_entry_and_a_handover_says_what_it_lacks() {
    let (_home, folder) = home();
    watch(&folder, (1..=30).map(|second| act("act", second)));
    tamper(&folder, "DELETE FROM entry WHERE entry IN (2, 3, 31)");
    tamper(
        &folder,
        "UPDATE entry SET body = replace(body, '\"act\"', '\"acx\"') WHERE entry IN (7, 20)",
    );
    let checked = |arguments: &[&str]| {
        let output = overside(&folder).arg("check").args(arguments).assert().code(1);
        String::from_utf8(output.get_output().stdout.clone()).unwrap()
    };
    let json = checked(&["--json"]);
    let expected = "{\"entries\":28,\"whole\":false,\"first_bad\":2,\"bad\":[2,3,7,20,31]}\n";
    assert_eq!(json, expected);
    let text = checked(&[]);
    for line in [
        "NOT INTACT, of 28 entries: 5 missing or altered",
        "  entry 2 is missing",
        "  entry 7 was altered: its hash is another",
        "  entry 31 was cut off at the end",
    ] {
        assert!(text.lines().any(|it| it == line), "{line}: {text}");
    }
    let page = said(overside(&folder).arg("handover"));
    let line = "LOGBOOK DAMAGED, parts may be missing here: 5 entries missing, altered or \
                unreadable (2, 3, 7, 20, 31); see overside logbook check";
    assert!(page.lines().any(|it| it == line), "{page}");
}

#[test]
fn a_time_is_also_how_long_ago_and_a_word_is_looked_for() {
    let (_home, folder) = home();
    for text in ["Wind BACKING to the east", "lights out at Nowhere", "wind veering"] {
        said(overside(&folder).args(["note", text]));
    }
    let list = |arguments: &[&str]| said(overside(&folder).arg("list").args(arguments));
    assert_eq!(list(&["--since", "2h"]).lines().count(), 3);
    assert_eq!(list(&["--until", "2h"]).lines().count(), 0);
    assert_eq!(list(&["--since", "1d", "--until", "90min"]).lines().count(), 0);
    let found = list(&["--text", "WIND"]);
    assert_eq!(found.lines().count(), 2, "{found}");
    let newest = list(&["--text", "wind", "--limit", "1"]);
    assert!(newest.contains("veering") && newest.lines().count() == 1, "{newest}");
    assert_eq!(list(&["--text", "w.nd"]), "", "it is no pattern");
    assert_eq!(list(&["--text", "wind", "--json"]).lines().count(), 2);
    assert_eq!(list(&["--text", "wind", "--csv"]).lines().count(), 3);
    said(overside(&folder).args(["handover", "--since", "4h"]));
    let wrong = overside(&folder).args(["list", "--since", "soon"]).assert().code(2);
    let wrong = String::from_utf8_lossy(&wrong.get_output().stderr).into_owned();
    assert!(wrong.contains("soon is no value for --since") && wrong.contains("2h"), "{wrong}");
}

/// Sorted by when they were raised; and an altered entry does not make another alert of itself.
#[test]
fn a_handover_is_sorted_by_time_and_tells_when_an_alert_began() {
    let (_home, folder) = home();
    watch(
        &folder,
        [
            alert(7, State::ActiveUnacknowledged, 10),
            alert(3, State::ActiveUnacknowledged, 20),
            alert(9, State::ActiveUnacknowledged, 25),
            alert(5, State::ActiveUnacknowledged, 30),
            alert(9, State::Normal, 40),
            alert(5, State::Normal, 50),
            alert(3, State::ActiveAcknowledged, 60),
        ],
    );
    // As a disk may give it back: what SQLite reads of the number is in its index.
    let path = folder.join(FILE);
    let mut file = fs::read(&path).unwrap();
    let bodies: Vec<usize> = memchr::memmem::find_iter(&file, b"{\"v\":1,\"entry\":7,").collect();
    for begin in bodies {
        let at = begin + memchr::memmem::find(&file[begin..], b"\"alert\":5").unwrap();
        file[at + 8] = b'9';
    }
    fs::write(&path, file).unwrap();
    let page: Value =
        serde_json::from_str(&said(overside(&folder).args(["handover", "--json"]))).unwrap();
    let numbers = |key: &str| {
        page[key].as_array().unwrap().iter().map(|it| it.as_i64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(numbers("alerts_open"), [2, 8]);
    assert_eq!(numbers("alerts_ended"), [6, 7], "both ended, whatever the altered one says");
    let page = said(overside(&folder).arg("handover"));
    let raised = page.lines().find(|line| line.contains("     8 ")).unwrap();
    assert!(raised.contains("(raised ") && raised.contains("20:27:00Z)"), "{page}");
}

/// Local time stands beside UTC, never instead of it; without data for the zone there is UTC alone, and
/// that is said.
#[test]
fn local_time_stands_beside_utc_where_a_zone_is_named() {
    let (home, folder) = home();
    watch(&folder, [act("lights out", 60)]);
    let list = |zone: &str| {
        let config = home.path().join("overside.toml");
        fs::write(&config, format!("[vessel]\ntime_zone = \"{zone}\"\n")).unwrap();
        let config = config.display().to_string();
        let output = overside(&folder).args(["list", "--config", &config]).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code(), text(output.stdout), text(output.stderr))
    };
    let (code, told, why) = list("Nowhere/None");
    assert!(told.contains("2026-05-28 20:27:40Z  operator"), "{told}");
    assert!(code == Some(0) && why.contains("no data for the time zone Nowhere/None"), "{why}");
    for path in ["../../etc/passwd", "/etc/passwd", ""] {
        let (code, _, why) = list(path);
        assert!(code == Some(2) && why.contains("Line 2") && why.contains("Europe/Oslo"), "{why}");
    }
    if !Path::new("/usr/share/zoneinfo/Europe/Oslo").exists() {
        assert!(std::env::var_os("CI").is_none(), "this computer has no zone data: not checked");
        eprintln!("NOT CHECKED: this computer has no zone data");
        return;
    }
    let (_, told, why) = list("Europe/Oslo");
    assert!(told.contains("2026-05-28 20:27:40Z (22:27 CEST)  operator"), "{told} {why}");
}
