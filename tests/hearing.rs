//! How far the boat hears: the table of hours beside the logbook's entries, the command, its page.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/book.rs"]
mod book;

#[path = "hearing/map.rs"]
mod map;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use book::*;
use overside::capture::tagged;
use overside::drawing::Dots;
use overside::hearing::{Hearing, lines, page};
use overside::logbook::{Details, Draft, FILE, HOURS, WriterReport};
use overside::time::Utc;
use overside::units::NauticalMiles;
use overside::watch::{ReachHour, Relayed};
use rusqlite::Connection;
use serde_json::{Value, json};

const HOUR: i64 = 3600;

/// The entry of an hour that began so many hours after the first.
fn hour(number: i64) -> Draft {
    let hour = json!({ "start": number });
    let details = Details::Reach { told: json!({ "range80_nm": 2.1 }), hour: Some(Box::new(hour)) };
    Draft { details, ..act("reach 2.1 NM (1.4 to 3.0)", number * HOUR) }
}

fn hours(folder: &Path, since: Option<i64>) -> Vec<i64> {
    let since = since.map(|number| moment(number * HOUR).host);
    let hours: Vec<Value> = reader(folder).hours(since, HOURS).unwrap();
    hours.iter().map(|it| it["start"].as_i64().unwrap()).collect()
}

fn execute(folder: &Path, sql: &str) {
    Connection::open(folder.join(FILE)).unwrap().execute_batch(sql).unwrap();
}

#[test]
fn hours_come_back_in_the_order_of_their_times() {
    let folder = tempfile::tempdir().unwrap();
    watch(folder.path(), [3, 1, 2].map(hour));
    assert_eq!(hours(folder.path(), None), [1, 2, 3]);
    assert_eq!(hours(folder.path(), Some(2)), [2, 3]);
    // An entry of each, which says it and no more.
    let entry = reader(folder.path()).get(2).unwrap().unwrap();
    let told = json!({ "range80_nm": 2.1 });
    assert_eq!(entry.draft.details, Details::Reach { told, hour: None });
    assert!(check(folder.path()).whole);
}

#[test]
fn hours_are_no_evidence_and_the_oldest_give_way() {
    let folder = tempfile::tempdir().unwrap();
    watch(folder.path(), [hour(0)]);
    execute(
        folder.path(),
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 9600)
         INSERT INTO reach_hour SELECT 0, json_object('start', i) FROM n",
    );
    assert!(check(folder.path()).whole, "hours are in no chain");
    watch(folder.path(), [hour(9_601)]);
    let kept = hours(folder.path(), None);
    assert_eq!((kept.len(), kept[0], kept[9_599]), (9_600, 2, 9_601));
}

/// A table that is gone, rows that are no hours, a row beyond all measure: no entry is lost, nothing
/// panics, and the hours that can be read are.
#[test]
fn a_damaged_table_costs_no_entry() {
    let folder = tempfile::tempdir().unwrap();
    watch(folder.path(), [hour(1)]);
    execute(
        folder.path(),
        "INSERT INTO reach_hour VALUES (0, '{'), (0, x'ff00'), (0, '[1e999]'), (0, ''),
            (0, '{\"start\":\"' || hex(zeroblob(200000)) || '\"}');",
    );
    let all: Vec<Value> = reader(folder.path()).hours(None, HOURS).unwrap();
    assert_eq!(all, [json!({ "start": 1 })]);
    execute(folder.path(), "DROP TABLE reach_hour");
    let reports = watch(folder.path(), [hour(2), act("after it", 3 * HOUR)]);
    let written = |it: &&WriterReport| matches!(it, WriterReport::Committed { .. });
    assert_eq!((reports.iter().filter(written).count(), reports.len()), (3, 3), "{reports:?}");
    assert_eq!(hours(folder.path(), None), [0; 0]);
}

/// A logbook of the first version, in which nobody has kept hours yet.
#[test]
fn a_logbook_of_the_first_version_has_no_hours_until_it_is_written_to() {
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    execute(folder.path(), "DROP TABLE reach_hour; PRAGMA user_version = 1");
    assert_eq!(hours(folder.path(), None), [0; 0]);
    watch(folder.path(), [hour(1)]);
    assert_eq!(hours(folder.path(), None), [1]);
    let whole = check(folder.path());
    assert!(whole.whole && whole.entries == 6, "{whole:?}");
}

fn overside_hearing(folder: &Path) -> assert_cmd::Command {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("overside");
    command.env_clear().env("LANG", "C.UTF-8").current_dir(folder).arg("hearing");
    command
}

fn said(command: &mut assert_cmd::Command, code: i32) -> String {
    String::from_utf8(command.assert().code(code).get_output().stdout.clone()).unwrap()
}

/// An hour as the watch tells it, by an input of this name.
fn told(start: &str, range: Option<f64>, input: &str) -> ReachHour {
    serde_json::from_value(json!({
        "start": start,
        "range80_nm": range,
        "low_nm": range.map(|nm| nm * 0.7),
        "high_nm": range.map(|nm| nm * 1.4),
        "stations": 37,
        "expected": 1204,
        "received": 912,
        "minutes": 60,
        "lost_nearby": 0.02,
        "level_db": 31.0,
        "level_sd_db": 1.5,
        "why_not": range.is_none().then_some("one_station"),
        "by_range": [
            { "class": "a", "from_nm": 2.0, "to_nm": 2.5, "expected": 600, "received": 588 },
            { "class": "b_cs", "from_nm": 2.0, "to_nm": 2.5, "expected": 604, "received": 324 },
        ],
        "by_sector": [
            { "from": "bow", "sector_deg": 0, "expected": 800, "received": 760, "range80_nm": range },
            { "from": "bow", "sector_deg": 180, "expected": 404, "received": 152, "range80_nm": null },
        ],
        "by_channel": [
            { "channel": "A", "expected": 602, "received": 500 },
            { "channel": "B", "expected": 602, "received": 412 },
        ],
        "by_input": [
            { "input": input, "expected": 1204, "received": 912, "range80_nm": range },
        ],
    }))
    .unwrap()
}

/// Some hours that a watch has kept: a good day, an hour of which nothing is known, and half of it.
fn days(input: &str) -> Vec<ReachHour> {
    let range = |hour: u32| match hour {
        7 => None,
        ..20 => Some(2.1 + f64::from(hour % 5) / 10.0),
        _ => Some(1.0),
    };
    let start = |hour: u32| format!("2021-06-14T{hour:02}:00:00.000Z");
    (0..24).map(|hour| told(&start(hour), range(hour), input)).collect()
}

fn keep(folder: &Path, hours: &[ReachHour]) {
    let draft = |hour: &ReachHour| Draft {
        details: Details::Reach {
            told: Value::Null,
            hour: Some(Box::new(serde_json::to_value(hour).unwrap())),
        },
        host_ms: hour.start.unix_ms() + HOUR * 1000,
        ..act("reach of a beacon", 0)
    };
    watch(folder, hours.iter().map(draft));
}

#[test]
fn the_command_shows_what_the_watch_has_kept() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), &days("ais"));
    let arguments = ["--storage", ".", "--since", "2021-06-14T00:30:00Z"];
    insta::assert_snapshot!(said(overside_hearing(folder.path()).args(arguments), 0));
    let json = said(overside_hearing(folder.path()).args(arguments).arg("--json"), 0);
    let shown: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json.lines().count(), 1);
    // What was kept half a year ago says nothing of now.
    assert_eq!((&shown["now"], &shown["median_nm"]), (&Value::Null, &json!(2.2)));
    assert_eq!(shown["hours"].as_array().map(Vec::len), Some(24));
    assert_eq!(shown["hours"][7]["why_not"], "one_station");
    assert_eq!(shown["by_input"][0]["expected"], 24 * 1204);
    assert_eq!(shown["by_sector"][1]["median_nm"], Value::Null);
    // Later than all of it.
    let none = said(overside_hearing(folder.path()).args(["--storage", "."]), 1);
    assert_eq!(none, "How far a beacon would be heard now is not known.\n");
}

/// The hour that has just ended is the present one.
#[test]
fn the_last_hour_is_now_for_two_hours() {
    let hours = days("ais");
    let at = |text: &str| Utc::parse_rfc3339(text);
    let now = |time: &str| Hearing::of(hours.clone(), None, at(time)).now;
    let range = |time: &str| now(time).and_then(|it| it.range80_nm).map(|it| it.0);
    assert_eq!(range("2021-06-15T00:59:00Z"), Some(1.0));
    assert!(now("2021-06-15T01:01:00Z").is_none() && now("2021-06-14T22:00:00Z").is_none());
}

#[test]
fn a_recording_is_shown_as_far_as_it_goes() {
    let folder = tempfile::tempdir().unwrap();
    let drill = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.nmea");
    let text = said(overside_hearing(folder.path()).arg(drill), 0);
    assert!(text.contains("By input") && text.contains("channel A"), "{text}");
    let json = said(overside_hearing(folder.path()).args([drill, "--json"]), 0);
    let shown: Value = serde_json::from_str(&json).unwrap();
    let heard = |it: &Value| it["received"].as_u64().unwrap();
    let ranges: u64 = shown["by_range"].as_array().unwrap().iter().map(heard).sum();
    let sectors: u64 = shown["by_sector"].as_array().unwrap().iter().map(heard).sum();
    assert!(ranges > 300 && ranges == sectors, "{ranges} {sectors}");
    assert!(overside_hearing(folder.path()).arg("nowhere.nmea").assert().try_code(2).is_ok());
    let missing = overside_hearing(folder.path()).args(["--storage", "nowhere"]).assert().code(2);
    let why = String::from_utf8_lossy(&missing.get_output().stderr).into_owned();
    assert!(why.contains("there is no logbook"), "{why}");
}

/// A watch of several stations has recorded what each heard: each is shown by what it heard alone, from
/// where its own lines or the operator say it stands; and none of it counts for the boat.
#[test]
fn each_station_of_a_recording_is_shown_by_itself() {
    let folder = tempfile::tempdir().unwrap();
    let drill = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.nmea");
    let mut recorded = Vec::new();
    for line in fs::read_to_string(drill).unwrap().lines() {
        let time = line.split_once("c:").unwrap().1.split([',', '*']).next().unwrap();
        let utc = Utc::from_unix_ms(time.parse().unwrap()).unwrap();
        let (_, sentence) = line[1..].split_once('\\').unwrap();
        for station in ["station pier", "station <b>north"] {
            if station == "station pier" || sentence.starts_with("!AIVDM") {
                let tag = Relayed { ago: Duration::from_millis(300) }.tag(station);
                let passed_on = format!("{tag}{sentence}");
                recorded.extend(tagged(station, utc, passed_on.as_bytes()));
            }
        }
    }
    fs::write(folder.path().join("heard.nmea"), recorded).unwrap();
    let json = |arguments: &[&str]| -> Value {
        let said = said(overside_hearing(folder.path()).args(arguments).arg("--json"), 0);
        serde_json::from_str(&said).unwrap()
    };
    let alone = json(&[drill]);
    let all = |it: &Value, of: &str| -> u64 {
        it["by_range"].as_array().unwrap().iter().map(|it| it[of].as_u64().unwrap()).sum()
    };
    let shown = json(&["heard.nmea"]);
    assert_eq!((&shown["now"]["range80_nm"], all(&shown, "received")), (&Value::Null, 0));
    let [north, pier] = &shown["stations"].as_array().unwrap()[..] else { panic!("{shown}") };
    assert_eq!((&pier["station"], &pier["now"]), (&json!("station pier"), &alone["now"]));
    assert_eq!(pier["received"], all(&alone, "received"));
    assert!(pier["position"]["lat"].is_f64(), "{pier}");
    assert_eq!((&north["position"], &north["received"]), (&Value::Null, &json!(0)));
    // The operator knows where it stands.
    let told = ["heard.nmea", "--station", "<b>north=57 48.0N 010 24.0E"];
    let all = json(&told);
    let places = all["map"]["receivers"].as_array().unwrap().iter().map(|it| &it["station"]);
    assert_eq!(places.collect::<Vec<_>>(), ["station <b>north", "station pier"]);
    let north = all["stations"][0].clone();
    assert_eq!(north["position"]["lat"], 57.8);
    assert!(north["received"].as_u64().unwrap() > 300, "{north}");
    let text = said(overside_hearing(folder.path()).args(told).args(["--page", "p.html"]), 0);
    let table = text.split("By station").nth(1).unwrap().split("\n\n").next().unwrap();
    let rows: Vec<&str> = table.lines().skip(1).collect();
    assert!(
        rows[0].starts_with("  1 station <b>north") && rows[0].ends_with("57°48.00'N 010°24.00'E")
    );
    assert!(rows[1].starts_with("  2 station pier") && rows.len() == 2, "{text}");
    let page = fs::read_to_string(folder.path().join("p.html")).unwrap();
    assert!(
        page.contains("<bdi>station &lt;b&gt;north</bdi>") && page.contains("<h2>By station</h2>")
    );
    left("stations.html", page.as_bytes());
}

/// Leaves a page beside the debrief's, where an independent validator and a browser look at them.
fn left(name: &str, bytes: &[u8]) {
    let pages = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("hearing-pages");
    fs::create_dir_all(&pages).unwrap();
    fs::write(pages.join(name), bytes).unwrap();
}

/// Well-formed, small, without script and network, whatever inputs and ships are called.
#[test]
fn the_page_needs_nothing_else_and_hostile_names_are_inert() {
    let folder = tempfile::tempdir().unwrap();
    let hostile = "<script>alert(1)</script>\u{1b}[2J\u{202e}\"&'";
    let hearing = Hearing::of(days(hostile), None, None);
    let html = page(&hearing, Some(hostile));
    assert!(html.len() < 100_000, "{} bytes", html.len());
    for elsewhere in ["<script", "http:", "https:", " src=", "url(", "@import", "<link", "<a "] {
        let html = html.replace("http-equiv", "");
        assert!(!html.contains(elsewhere), "{elsewhere}");
    }
    assert!(html.chars().all(|c| (!c.is_control() || c == '\n') && c != '\u{202e}'));
    assert!(html.contains("&lt;script&gt;") && html.contains("prefers-color-scheme:dark"));
    for id in ["id=\"h0-wide-title\"", "id=\"h1-narrow-title\"", "id=\"h2-wide-title\""] {
        assert_eq!(html.matches(id).count(), 1, "{id}");
    }
    let lines = lines(&hearing, Dots::Ascii).join("\n");
    assert!(lines.chars().all(|c| (!c.is_control() || c == '\n') && c != '\u{202e}'), "{lines}");
    left("hearing.html", html.as_bytes());
    keep(folder.path(), &days("ais"));
    overside_hearing(folder.path())
        .args(["--storage", ".", "--since", "2021-06-14", "--page", "hearing.html"])
        .assert()
        .code(0);
    let written = fs::read_to_string(folder.path().join("hearing.html")).unwrap();
    assert!(written.starts_with("<!DOCTYPE html>") && written.ends_with("</html>\n"));
}

/// Numbers beyond all measure, out of a damaged table, are taken for what they are.
#[test]
fn hours_beyond_all_measure_are_not_known() {
    for range in [-1.0, 51.0, 1e300] {
        let mut hours = days("ais");
        for hour in &mut hours {
            *hour =
                ReachHour { start: hour.start, ..told("9999-12-31T23:00:00Z", Some(range), "ais") };
            for it in &mut hour.by_sector {
                it.sector_deg = 65_535;
            }
            for it in &mut hour.by_range {
                (it.from_nm, it.expected) = (NauticalMiles(range), 0);
            }
        }
        let hearing = Hearing::of(hours, None, None);
        assert_eq!((hearing.median_nm, hearing.by_sector.len()), (None, 0), "{range}");
        assert!(page(&hearing, None).len() < 30_000);
        assert!(!lines(&hearing, Dots::Braille).is_empty());
    }
}

#[test]
fn the_relief_is_told_how_far_a_beacon_is_heard() {
    let folder = tempfile::tempdir().unwrap();
    let entry = |number: i64, range: f64| Draft {
        details: Details::Reach { told: json!({ "range80_nm": range }), hour: None },
        ..act(&format!("reach of a beacon {range:.1} NM"), number * HOUR)
    };
    watch(folder.path(), [entry(1, 2.1), entry(2, 0.9), entry(3, 1.8)]);
    let handover = |more: &[&str]| {
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("overside");
        command.env_clear().current_dir(folder.path());
        command.args(["logbook", "handover", "--storage", ".", "--since", "2026-01-01"]);
        said(command.args(more), 0)
    };
    let page = handover(&[]);
    let told = page.split("Hearing\n").nth(1).unwrap().split("\n\n").next().unwrap().to_owned();
    let hour = |number: i64| moment(number * HOUR).host.to_string()[11..16].to_owned();
    assert!(told.contains(&format!("reach of a beacon 1.8 NM, 2026-05-28 {}", hour(3))), "{told}");
    assert!(told.contains(&format!("least: reach of a beacon 0.9 NM, 2026-05-28 {}", hour(2))));
    let json: Value = serde_json::from_str(&handover(&["--json"])).unwrap();
    assert_eq!((&json["reach"], &json["least_reach"]), (&json!(4), &json!(3)));
}
