//! `overside search` as a person or a script meets it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use serde_json::Value;

const AT: &str = "57 42.07N 010 35.89E";

fn search(arguments: &[&str]) -> Command {
    let mut command = cargo_bin_cmd!("overside");
    command.env_clear().args(["search", "--at", AT, "--now", "2026-06-14T02:00:00Z"]);
    command.args(arguments);
    command
}

fn told(arguments: &[&str]) -> String {
    let output = search(arguments).assert().code(0).stderr("").get_output().stdout.clone();
    String::from_utf8(output).unwrap()
}

fn line(arguments: &[&str]) -> Value {
    serde_json::from_str(&told(&[arguments, &["--json"]].concat())).unwrap()
}

#[test]
fn the_page_says_what_comes_first_and_fits_eighty_columns() {
    let page = told(&["--since", "5min", "--drift", "077/0.8", "--wind", "250/10"]);
    assert!(page.starts_with("The coastguard's plan comes before this one"), "{page}");
    assert!(page.contains("steer to it and do not search"));
    assert!(page.contains("Datum at 02:00:00Z: 57°42.08'N 010°36.01'E, drifting 077°T at 0.8 kn"));
    assert!(page.contains("Sector search, radius 0.40 NM, first leg down-drift"));
    assert!(page.contains("there is no table for the night"));
    let words: Vec<&str> = page.split_whitespace().collect();
    let assumed = "(seas under 1 m, height of eye 2.4 m, poor visibility assumed)";
    assert!(words.join(" ").contains(assumed), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    let legs = |page: &str| page.lines().filter(|line| line.contains("°T  ")).count();
    assert_eq!(legs(&page), 7 + 7);
    let off = ["--since", "5min", "--drift", "077/0.8", "--wind", "250/10", "--own", "57.7 10.58"];
    assert_eq!(legs(&told(&off)), 1 + 7 + 7);
    // By the compass that is aboard, beside true; and one unit of distance in the whole table.
    let table =
        told(&["--since", "5min", "--drift", "077/0.8", "--sea", "2", "--own", "57.7 10.6"]);
    for row in table.lines().filter(|line| line.contains("°T  ")) {
        let columns: Vec<&str> = row.split_whitespace().collect();
        assert!(columns[3].ends_with("°M") && columns[5] == "NM", "{row}");
    }
}

/// The worked vector of a leeway with current: from 50 N 5 W in half an hour of current 090 at 1.0 kn
/// without wind, 0.5 NM east.
#[test]
fn the_json_line_has_datum_and_legs() {
    let plan = line(&["--since", "30min", "--current", "090/1.0", "--speed", "4"]);
    assert_eq!(plan["at"], "2026-06-14T02:00:00.000Z");
    let datum = &plan["datum"];
    assert_eq!(datum["basis"], "last_position");
    assert_eq!((&datum["since_s"], &datum["set_deg"]), (&Value::from(1800), &Value::from(90.0)));
    // 0.5 NM along the parallel at 57.7°: a minute of longitude is 0.536 NM there [calc].
    assert!((datum["lon"].as_f64().unwrap() - (10.598_17 + 0.5 / 0.536 / 60.0)).abs() < 1e-4);
    assert!(datum["radius50_m"].as_f64() < datum["radius95_m"].as_f64());
    assert_eq!(plan["pattern"], "square");
    assert_eq!(plan["track_spacing_nm"], plan["sweep_width_nm"]);
    let legs = plan["legs"].as_array().unwrap();
    assert_eq!(legs.len(), 1 + 13 + 1 + 13);
    for pair in legs.windows(2) {
        assert_eq!(pair[0]["to"], pair[1]["from"]);
    }
    // A swell of two metres makes the strip a quarter as wide.
    let swell = line(&["--since", "5min", "--wind", "250/8", "--sea", "2"]);
    assert_eq!((&swell["seas"], &swell["sweep_width_nm"]), (&"high".into(), &0.05.into()));
    assert_eq!(line(&["--since", "5min", "--drift", "077/0.8"])["datum"]["basis"], "drift");
    // The circle that holds half of all is wider by then than two sweep widths.
    let forced = line(&["--since", "30min", "--pattern", "sector", "--wind", "250/10"]);
    assert_eq!((&forced["pattern"], &forced["radius_nm"]), (&"sector".into(), &0.405.into()));
    assert_eq!(forced["datum"]["basis"], "leeway");
}

#[test]
fn the_route_goes_to_a_file_or_to_standard_output() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("search.gpx");
    told(&["--since", "5min", "--drift", "077/0.8", "--gpx", file.to_str().unwrap()]);
    let route = std::fs::read_to_string(file).unwrap();
    let printed = told(&["--since", "5min", "--drift", "077/0.8", "--gpx", "-"]);
    assert_eq!(route, printed);
    // Where it begins, the datum, and seven legs, twice.
    assert_eq!(route.matches("<rtept").count(), 1 + 1 + 14);
    assert!(route.contains("<name>2-7</name>"));
}

#[test]
fn what_cannot_be_is_refused_with_a_way_out() {
    let refused = |arguments: &[&str], says: &str| {
        let output = search(arguments).assert().code(2).get_output().clone();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains(says), "{said}");
        assert!(output.stdout.is_empty());
    };
    refused(&["--since", "12"], "12min, 90s or 1h30min");
    refused(&["--since", "5min", "--drift", "077"], "077/0.8");
    refused(&["--since", "5min", "--speed", "0"], "from 0.1 to 60");
    refused(&["--since", "5min", "--own", "57 42,07N 010 35,89E"], "write it as degrees");
    refused(&["--since", "5min", "--pattern", "spiral"], "sector or square");
    refused(&["--since", "5min", "--gpx", "-", "--json"], "--gpx FILE");
    refused(&["--since", "5min", "--gpx", "/no/such/folder/a.gpx"], "/no/such/folder/a.gpx");
    let runaway = ["--since", "5min", "--drift", "077/3", "--current", "000/0", "--speed", "2"];
    refused(&runaway, "give more --speed");
}
