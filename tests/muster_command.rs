//! `overside muster` as a person or a script meets it: the table, the JSON, checks on record, the
//! calendar, exit codes and refusals.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/register.rs"]
mod register;

use std::fs;
use std::path::PathBuf;

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use overside::logbook::{Details, Draft, Filter, Kind, Reader, TestJudged, append};
use overside::mmsi::Mmsi;
use overside::time::Utc;
use serde_json::{Value, json};
use tempfile::TempDir;

use register::FULL;

const MATE: u32 = 972_000_017;

/// A folder with a configuration and a place for the logbook.
struct Boat(TempDir);

impl Boat {
    fn new(text: &str) -> Self {
        let boat = Self(tempfile::tempdir().unwrap());
        fs::write(boat.0.path().join("overside.toml"), text).unwrap();
        boat
    }

    fn books(&self) -> PathBuf {
        self.0.path().join("overside")
    }

    fn muster(&self, arguments: &[&str]) -> Command {
        let mut command = cargo_bin_cmd!("overside");
        command.env_clear().env("XDG_DATA_HOME", self.0.path()).current_dir(self.0.path());
        command.arg("muster").args(arguments);
        command
    }

    #[track_caller]
    fn said(&self, code: i32, arguments: &[&str]) -> String {
        let output = self.muster(arguments).assert().code(code).get_output().stdout.clone();
        String::from_utf8(output).unwrap()
    }

    #[track_caller]
    fn refused(&self, arguments: &[&str], parts: &[&str]) {
        let output = self.muster(arguments).assert().code(2).get_output().clone();
        assert!(output.stdout.is_empty());
        let said = String::from_utf8(output.stderr).unwrap();
        for part in parts {
            assert!(said.contains(part), "{part:?} is not in:\n{said}");
        }
    }

    /// A proven self-test, as `overside prove` writes it down.
    fn proves(&self, mmsi: u32, at: &str) -> i64 {
        let at = Utc::parse_rfc3339(at).unwrap();
        let details = json!({
            "verdict": "proven", "mmsi": mmsi, "person": null, "messages_heard": 7,
            "messages_expected": 8, "channel_a": 4, "channel_b": 3, "range_m": 12.4,
        });
        let mmsi = Mmsi::new(mmsi);
        let details = Details::Test(Box::new(TestJudged::of(details).unwrap()));
        let draft = Draft { mmsi, ..Draft::outside(details, "", at) };
        append(&self.books(), draft).unwrap()
    }
}

#[test]
fn the_table_has_two_lines_a_person_and_eighty_columns() {
    let boat = Boat::new(FULL);
    boat.proves(972_000_016, "2026-11-20T12:00:00Z");
    let table = boat.said(1, &["--as-of", "2026-11-25"]);
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    insta::assert_snapshot!(table, @r#"
    Muster of 2026-11-25, Fictional yacht: 1 of 3 ready

    PERSON            BEACON     LIFEJACKET      BATTERY     SERVICE     CYLINDER
      STATUS          LAST PROVEN TEST AND ITS RECEPTION                 NEXT TEST
    Skipper           972000016  jacket 1        2029-05-31  2027-04-30  2027-10-02
      ready           2026-11-20  7 of 8 heard, A 4, B 3, at 12 m        2027-05-20
    Mate              972000017  jacket 2        2026-12-10  2026-10-31  -
      overdue         never                                              now
    Guest             -          -               -           -           -
      unprotected     -                                                  -

    Spare, in no count:
    Mate, second      972000018  -               -           -           -
      due             never                                              now
    -                 970000001  -               2030-01-31  -           -
      due             never                                              now
    -                 -          jacket 3        -           -           -
      ready           -                                                  -

    Mate
      battery: its replacement in 972000017 is due by 2026-12-10 (in 15 days): have
        it replaced, the whole beacon if it cannot be opened, and write the new date
        into battery_expires
      test: 972000017 was never proven: prove it with
        `overside prove --beacon 972000017`
      lifejacket: the service of jacket 2 was due by 2026-10-31 (25 days ago): send
        it, and write the next date into service_due

    Guest
      beacon: Guest has none: hand one out and enter it as a [[beacon]] with this
        holder

    Spare of Mate
      test: 972000018 was never proven: prove it with
        `overside prove --beacon 972000018`

    Spare
      test: 970000001 was never proven: prove it with
        `overside prove --beacon 970000001`

    4 persons aboard (vessel.persons_aboard), 3 named here: enter the others, guests
      too, as [[person]].
    The makers' instructions come first, and every test costs battery: test no more
      often than they allow. Six months between tests are common practice, no
      source; test_every_months sets it.
    "#);
}

#[test]
fn the_json_has_the_keys_of_the_contract_and_entries_after_the_day_are_left_out() {
    let boat = Boat::new(FULL);
    boat.proves(972_000_016, "2026-11-20T23:59:59Z");
    boat.proves(972_000_017, "2026-11-21T00:00:00Z");
    let line = boat.said(1, &["--as-of", "2026-11-20", "--json"]);
    let start = r#"{"as_of":"2026-11-20","persons":[{"name":"Skipper","beacon":972000016,"lifejacket":"jacket 1","status":"ready","findings":[],"#;
    assert!(line.starts_with(start), "{line}");
    assert_eq!(line.lines().count(), 1);
    let found: Value = serde_json::from_str(&line).unwrap();
    assert_eq!((&found["ready"], &found["of"]), (&json!(1), &json!(3)));
    assert_eq!(found["persons"][1]["last_test"], Value::Null);
    assert_eq!(found["persons"][2]["status"], "unprotected");
    assert_eq!(found["persons"][2]["beacon"], Value::Null);
    let line = boat.said(1, &["--as-of", "2026-11-21", "--json"]);
    let found: Value = serde_json::from_str(&line).unwrap();
    let test = &found["persons"][1]["last_test"];
    assert_eq!(test["summary"], "7 of 8 heard, A 4, B 3, at 12 m");
    assert_eq!(found["persons"][1]["next_test"], "2027-05-21");
}

#[test]
fn it_ends_with_0_once_everybody_is_ready() {
    let ready = "[[person]]\nname = \"Mate\"\n\
                 [[beacon]]\nmmsi = 972000017\nholder = \"Mate\"\ntest_every_months = 6\n";
    let boat = Boat::new(ready);
    boat.said(1, &["--as-of", "2026-11-25"]);
    boat.proves(MATE, "2026-11-24T12:00:00Z");
    assert!(boat.said(0, &["--as-of", "2026-11-25"]).contains("1 of 1 ready"));
    boat.said(1, &["--as-of", "2027-05-24"]);
}

#[test]
fn no_register_is_told_with_what_to_write() {
    let nobody = Boat::new("");
    let parts = ["there is nobody in the muster", "[[person]]", "[[beacon]]", "overside.toml"];
    nobody.refused(&[], &parts);
    fs::remove_file(nobody.0.path().join("overside.toml")).unwrap();
    nobody.refused(&["--json"], &parts);
    let boat = Boat::new(FULL);
    boat.refused(&["--as-of", "yesterday"], &["give a day such as 2026-06-14"]);
    boat.refused(&["--json", "--ics", "-"], &["--ics FILE"]);
}

#[test]
fn a_check_is_written_down_and_counts() {
    let boat = Boat::new(FULL);
    let record = ["record", "--item", "jacket 3", "--check", "inflation"];
    let more = ["--failed", "--by", "Skipper", "--on", "2026-11-02", "--note", "loses\x1b[2J air"];
    assert_eq!(boat.said(0, &[&record[..], &more].concat()), "entry 1\n");
    let json = ["record", "--item", "Mate", "--check", "battery", "--ok", "--json"];
    assert_eq!(boat.said(0, &json), "{\"entry\":2}\n");
    let mut entries = Vec::new();
    let reader = Reader::open(&boat.books()).unwrap().unwrap();
    let all = Filter { kind: Some(Kind::Check), ..Filter::default() };
    reader
        .entries::<overside::logbook::Error>(&all, |entry| {
            entries.push(entry.draft);
            Ok(())
        })
        .unwrap();
    let [jacket, battery] = entries.as_slice() else { panic!("{entries:?}") };
    assert_eq!(jacket.text, "jacket 3: inflation FAILED on 2026-11-02; loses\x1b[2J air");
    assert_eq!(jacket.operator.as_deref(), Some("Skipper"));
    for (key, value) in
        [("item", json!("jacket 3")), ("check", json!("inflation")), ("ok", json!(false))]
    {
        assert_eq!(jacket.details.keys().details[key], value);
    }
    assert_eq!(jacket.details.keys().details["on"], "2026-11-02");
    assert_eq!(battery.details.keys().details["item"], "972000017");
    assert_eq!(battery.mmsi, Mmsi::new(MATE));
    assert_eq!(battery.person.as_deref(), Some("Mate"));
    let table = boat.said(1, &[]);
    assert!(table.contains("lifejacket: jacket 3 failed its inflation check on 2026-11-02"));
    assert!(!table.contains('\x1b'));
}

#[test]
fn a_check_must_fit_what_the_muster_has() {
    let boat = Boat::new(FULL);
    let refused = |item: &str, check: &str, parts: &[&str]| {
        boat.refused(&["record", "--item", item, "--check", check, "--ok"], parts);
    };
    refused(
        "jacket 9",
        "cylinder",
        &["\"jacket 9\" is not in the muster", "jacket 1", "972000016"],
    );
    refused("972000099", "lamp", &["not in the muster"]);
    refused("972000017", "cylinder", &["cylinder is checked on a lifejacket"]);
    refused("jacket 1", "lamp", &["lamp is checked on a beacon"]);
    refused("Guest", "lamp", &["Guest has no beacon"]);
    refused("Guest", "light", &["Guest has no lifejacket"]);
    refused("Mate", "colour", &["colour", "crotch_strap"]);
    let mate = ["record", "--item", "Mate", "--check", "light"];
    boat.refused(&mate, &["--ok", "--failed"]);
    boat.refused(&[&mate[..], &["--ok", "--failed"]].concat(), &["cannot be given together"]);
    boat.refused(&[&mate[..], &["--ok", "--on", "9999-01-01"]].concat(), &["after today"]);
    boat.refused(&[&mate[..], &["--ok", "--by", " "]].concat(), &["--by"]);
    let shown = ["--as-of", "2026-11-25", "record", "--item", "Mate", "--check", "light", "--ok"];
    boat.refused(&shown, &["--on is the day of the check"]);
    assert!(!boat.books().exists());
}

#[test]
fn the_calendar_goes_to_a_file_or_to_standard_output() {
    let boat = Boat::new(FULL);
    let calendar = boat.said(1, &["--as-of", "2026-11-25", "--ics", "-"]);
    assert!(calendar.starts_with("BEGIN:VCALENDAR\r\n") && calendar.ends_with("END:VCALENDAR\r\n"));
    let table = boat.said(1, &["--as-of", "2026-11-25", "--ics", "muster.ics"]);
    assert!(table.starts_with("Muster of 2026-11-25"));
    let written = fs::read_to_string(boat.0.path().join("muster.ics")).unwrap();
    assert_eq!(written.matches("BEGIN:VEVENT").count(), 6);
    let nowhere = boat.muster(&["--ics", "no/such/folder.ics"]).assert().code(2);
    let said = String::from_utf8(nowhere.get_output().stderr.clone()).unwrap();
    assert!(said.contains("cannot write no/such/folder.ics"), "{said}");
}
