//! The muster: every due date before, on and after its limits, what was proven and checked. Its
//! calendar is read by another library in `tests/oracle/ics.py`.
//!
//! The days before and after each limit were reckoned with `datetime` of Python's library.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/register.rs"]
mod register;

use std::path::Path;

use chrono::NaiveDate;
use overside::config::Config;
use overside::mmsi::Mmsi;
use overside::muster::{Check, CheckKind, DueKind, Facts, Muster, Proof, Status, calendar, judge};
use overside::proof::Judgement;
use overside::time::Utc;

use register::FULL;

const MATE: u32 = 972_000_017;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn config(text: &str) -> Config {
    Config::parse(text, Path::new("overside.toml")).unwrap()
}

/// A Mate with a beacon in a lifejacket, and these keys of the two.
fn mate(beacon: &str, jacket: &str) -> Config {
    if beacon.contains("test_every_months") {
        return registered(beacon, jacket);
    }
    // What is not about tests has an interval that no calendar holds.
    registered(&format!("{beacon}\ntest_every_months = 4294967295"), jacket)
}

fn registered(beacon: &str, jacket: &str) -> Config {
    config(&format!(
        "[[person]]\nname = \"Mate\"\n\
         [[lifejacket]]\nname = \"jacket 2\"\n{jacket}\n\
         [[beacon]]\nmmsi = {MATE}\nholder = \"Mate\"\nfitted_to = \"jacket 2\"\n{beacon}\n"
    ))
}

/// A self-test at noon of a day.
fn tested(on: &str, verdict: Judgement, entry: i64) -> Proof {
    Proof {
        mmsi: Mmsi::new(MATE).unwrap(),
        at: Utc::parse_rfc3339(&format!("{on}T12:00:00Z")).unwrap(),
        verdict,
        summary: "8 of 8 heard".to_owned(),
        entry,
    }
}

fn checked(item: &str, kind: CheckKind, on: &str, ok: bool, entry: i64) -> Check {
    Check { item: item.to_owned(), kind, on: day(on), ok, by: Some("Skipper".to_owned()), entry }
}

/// Facts with a test long ago that holds as long as no interval is set.
fn proven() -> Facts {
    Facts { proofs: vec![tested("2020-01-01", Judgement::Proven, 1)], ..Facts::default() }
}

#[track_caller]
fn stands(muster: &Muster, status: Status, parts: &[&str]) {
    let kit = &muster.persons[0].kit;
    let said: Vec<&str> = kit.findings.iter().map(|it| it.text.as_str()).collect();
    assert_eq!(kit.status, status, "{} {said:?}", muster.as_of);
    assert_eq!(said.len(), parts.len(), "{} {said:?}", muster.as_of);
    for part in parts {
        assert!(said.iter().any(|it| it.contains(part)), "{} {part:?}: {said:?}", muster.as_of);
    }
    assert_eq!(muster.ready, usize::from(status == Status::Ready));
    assert_eq!(muster.everybody_is_ready(), status == Status::Ready);
}

/// A date of the register, its last valid day, 31 and 30 days before that, and the day after.
#[test]
fn every_due_date_is_judged_before_on_and_after_its_limits() {
    let cases = [
        // The key, the finding, 31 days before, 30 days before, the last valid day, the next.
        ("battery", "2029-05-14", ["2029-04-13", "2029-04-14", "2029-05-14", "2029-05-15"]),
        ("battery", "2029-05", ["2029-04-30", "2029-05-01", "2029-05-31", "2029-06-01"]),
        ("battery", "2027-12", ["2027-11-30", "2027-12-01", "2027-12-31", "2028-01-01"]),
        ("battery", "2028-02", ["2028-01-29", "2028-01-30", "2028-02-29", "2028-03-01"]),
        ("battery", "2027-02", ["2027-01-28", "2027-01-29", "2027-02-28", "2027-03-01"]),
        ("service", "2027-04", ["2027-03-30", "2027-03-31", "2027-04-30", "2027-05-01"]),
        ("service", "2028-03-30", ["2028-02-28", "2028-02-29", "2028-03-30", "2028-03-31"]),
        ("cylinder", "2026-10-02", ["2027-09-01", "2027-09-02", "2027-10-02", "2027-10-03"]),
        ("cylinder", "2028-02-29", ["2029-01-28", "2029-01-29", "2029-02-28", "2029-03-01"]),
        ("cylinder", "2027-02", ["2028-01-29", "2028-01-30", "2028-02-29", "2028-03-01"]),
        ("test", "2026-08-31", ["2027-01-28", "2027-01-29", "2027-02-28", "2027-03-01"]),
        ("test", "2027-08-31", ["2028-01-29", "2028-01-30", "2028-02-29", "2028-03-01"]),
        ("test", "2026-05-28", ["2026-10-28", "2026-10-29", "2026-11-28", "2026-11-29"]),
    ];
    for (what, date, [early, ahead, last, past]) in cases {
        let mut facts = proven();
        let (config, word) = match what {
            "battery" => (mate(&format!("battery_expires = \"{date}\""), ""), "battery: "),
            "service" => (mate("", &format!("service_due = \"{date}\"")), "lifejacket: "),
            "cylinder" => (mate("", &format!("cylinder_weighed = \"{date}\"")), "cylinder: "),
            _ => {
                facts.proofs.push(tested(date, Judgement::Proven, 2));
                (mate("test_every_months = 6", ""), "test: ")
            }
        };
        let on = |text: &str| judge(&config, &facts, day(text));
        stands(&on(early), Status::Ready, &[]);
        stands(&on(ahead), Status::Due, &[word]);
        stands(&on(ahead), Status::Due, &["in 30 days"]);
        stands(&on(last), Status::Due, &[&format!("is due by {last} (today)")]);
        stands(&on(past), Status::Overdue, &[&format!("was due by {last} (1 day ago)")]);
    }
}

#[test]
fn a_beacon_never_proven_is_due() {
    let config = mate("test_every_months = 6", "");
    let never = judge(&config, &Facts::default(), day("2026-11-25"));
    stands(&never, Status::Due, &["test: 972000017 was never proven"]);
    assert_eq!(never.persons[0].kit.next_test, None);
    for verdict in [Judgement::Partial, Judgement::NotHeard] {
        let facts = Facts { proofs: vec![tested("2026-11-20", verdict, 7)], ..Facts::default() };
        stands(&judge(&config, &facts, day("2026-11-25")), Status::Due, &["never proven"]);
    }
    // A test of another beacon proves nothing of this one.
    let mut other = tested("2026-11-20", Judgement::Proven, 7);
    other.mmsi = Mmsi::new(972_000_016).unwrap();
    let facts = Facts { proofs: vec![other], ..Facts::default() };
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Due, &["never proven"]);
}

#[test]
fn without_an_interval_a_proven_test_holds_for_half_a_year() {
    let set = judge(&mate("test_every_months = 6", ""), &proven(), day("2099-01-01"));
    let unset = judge(&registered("", ""), &proven(), day("2099-01-01"));
    assert!(set.persons[0].kit.next_test.is_some());
    assert_eq!(set.persons[0].kit.next_test, unset.persons[0].kit.next_test);
    // One with an interval that no calendar holds, holds for ever.
    let config = mate("test_every_months = 4294967295", "");
    stands(&judge(&config, &proven(), day("2099-01-01")), Status::Ready, &[]);
}

#[test]
fn the_last_test_counts_and_a_later_one_that_proved_nothing_is_told() {
    let config = mate("test_every_months = 6", "");
    let mut facts = Facts::default();
    facts.proofs.push(tested("2026-11-20", Judgement::Proven, 9));
    facts.proofs.push(tested("2026-02-01", Judgement::Proven, 2));
    let muster = judge(&config, &facts, day("2026-11-25"));
    stands(&muster, Status::Ready, &[]);
    let kit = &muster.persons[0].kit;
    assert_eq!(kit.last_test.as_ref().unwrap().entry, 9);
    assert_eq!(kit.next_test, Some(day("2027-05-20")));
    facts.proofs.push(tested("2026-11-24", Judgement::Partial, 10));
    let parts = ["test: that of 2026-11-24 with 972000017 was received only in part (entry 10)"];
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Due, &parts);
    // What was written down after the day is left out.
    stands(&judge(&config, &facts, day("2026-11-23")), Status::Ready, &[]);
    stands(&judge(&config, &facts, day("2026-11-19")), Status::Overdue, &["was due by 2026-08-01"]);
}

#[test]
fn an_active_use_is_overdue_until_the_battery_was_seen_to() {
    let config = mate("test_every_months = 6", "");
    let mut facts = Facts::default();
    facts.proofs.push(tested("2026-11-20", Judgement::ActiveHeard, 5));
    facts.proofs.push(tested("2026-11-21", Judgement::Proven, 6));
    let parts = ["battery: 972000017 was ACTIVE on 2026-11-20 (entry 5)"];
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Overdue, &parts);
    // One of the days before says nothing of it, whenever it was written down.
    facts.checks.push(checked("972000017", CheckKind::Battery, "2026-11-19", true, 7));
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Overdue, &parts);
    facts.checks.push(checked("972000017", CheckKind::Battery, "2026-11-20", true, 8));
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Ready, &[]);
}

#[test]
fn a_check_that_failed_is_overdue_until_a_later_one_is_good() {
    for kind in CheckKind::ALL {
        let (item, word) = match kind {
            CheckKind::Battery => ("972000017", "battery: "),
            CheckKind::Lamp => ("972000017", "beacon: "),
            CheckKind::Cylinder => ("jacket 2", "cylinder: "),
            _ => ("jacket 2", "lifejacket: "),
        };
        let config = mate("", "");
        let mut facts = proven();
        facts.checks.push(checked(item, kind, "2026-11-20", true, 5));
        facts.checks.push(checked(item, kind, "2026-11-20", false, 6));
        let failed = format!("{word}{item} failed its {} check on 2026-11-20", kind.words());
        stands(&judge(&config, &facts, day("2026-11-25")), Status::Overdue, &[&failed]);
        stands(&judge(&config, &facts, day("2026-11-19")), Status::Ready, &[]);
        facts.checks.push(checked(item, kind, "2026-11-19", true, 7));
        stands(&judge(&config, &facts, day("2026-11-25")), Status::Overdue, &["by Skipper"]);
        facts.checks.push(checked(item, kind, "2026-11-21", true, 8));
        stands(&judge(&config, &facts, day("2026-11-25")), Status::Ready, &[]);
    }
}

#[test]
fn the_later_weighing_of_register_and_record_counts() {
    let config = mate("", "cylinder_weighed = \"2026-03-10\"");
    let due = |facts: &Facts| {
        let muster = judge(&config, facts, day("2026-11-25"));
        (muster.persons[0].kit.cylinder_due, muster.persons[0].kit.status)
    };
    let mut facts = proven();
    assert_eq!(due(&facts), (Some(day("2027-03-10")), Status::Ready));
    facts.checks.push(checked("jacket 2", CheckKind::Cylinder, "2026-03-09", false, 5));
    assert_eq!(due(&facts), (Some(day("2027-03-10")), Status::Ready));
    facts.checks.push(checked("jacket 2", CheckKind::Cylinder, "2026-09-30", true, 6));
    assert_eq!(due(&facts), (Some(day("2027-09-30")), Status::Ready));
    facts.checks.push(checked("jacket 2", CheckKind::Cylinder, "2026-10-01", false, 7));
    assert_eq!(due(&facts), (None, Status::Overdue));
}

#[test]
fn a_service_on_record_leaves_the_next_date_to_the_register() {
    let config = mate("", "service_due = \"2026-10\"");
    let mut facts = proven();
    facts.checks.push(checked("jacket 2", CheckKind::Service, "2026-10-20", true, 5));
    let parts = ["one is recorded for 2026-10-20: write the next date into service_due"];
    stands(&judge(&config, &facts, day("2026-11-25")), Status::Overdue, &parts);
}

#[test]
fn guests_are_unprotected_and_spares_are_in_no_count() {
    let muster = judge(&config(FULL), &Facts::default(), day("2026-11-25"));
    let persons: Vec<_> =
        muster.persons.iter().map(|it| (it.name.as_str(), it.kit.status)).collect();
    let expected =
        [("Skipper", Status::Due), ("Mate", Status::Overdue), ("Guest", Status::Unprotected)];
    assert_eq!(persons, expected);
    assert_eq!((muster.ready, muster.of), (0, 3));
    assert!(muster.persons[2].kit.findings[0].text.starts_with("beacon: Guest has none"));
    let spares: Vec<_> = muster
        .spares
        .iter()
        .map(|it| {
            let mmsi = it.kit.beacon.map(Mmsi::value);
            (it.holder.as_deref(), mmsi, it.kit.lifejacket.as_deref())
        })
        .collect();
    let expected = [
        (Some("Mate"), Some(972_000_018), None),
        (None, Some(970_000_001), None),
        (None, None, Some("jacket 3")),
    ];
    assert_eq!(spares, expected);
    let dues = muster.dues();
    let dates: Vec<_> =
        dues.iter().map(|it| (it.kind, it.item.as_str(), it.last_day.to_string())).collect();
    let expected = [
        (DueKind::Battery, "972000016", "2029-05-31"),
        (DueKind::Service, "jacket 1", "2027-04-30"),
        (DueKind::Cylinder, "jacket 1", "2027-10-02"),
        (DueKind::Battery, "972000017", "2026-12-10"),
        (DueKind::Service, "jacket 2", "2026-10-31"),
        (DueKind::Battery, "970000001", "2030-01-31"),
    ]
    .map(|(kind, item, day)| (kind, item, day.to_owned()));
    assert_eq!(dates, expected);
}

/// The grammar of RFC 5545 section 3.1: CRLF, 75 octets; 3.6.1 and 3.6.6 what an event must have.
#[test]
fn a_calendar_has_an_event_for_every_date() {
    let text = FULL.replace("jacket 1", "Jacke \\\"Süd\\\", rot; mit einem sehr langen Namen €€€€");
    let config = config(&text);
    let made_at = Utc::parse_rfc3339("2026-11-25T10:00:00Z").unwrap();
    let made = |as_of| {
        let muster = judge(&config, &Facts::default(), day(as_of));
        calendar(&muster, &config.vessel, made_at)
    };
    let calendar = made("2026-11-25");
    assert!(calendar.ends_with("END:VCALENDAR\r\n"));
    assert_eq!(calendar.matches('\n').count(), calendar.matches("\r\n").count());
    assert!(calendar.split("\r\n").all(|line| line.len() <= 75));
    let plain = calendar.replace("\r\n ", "");
    assert_eq!(plain.matches("BEGIN:VEVENT\r\n").count(), 6);
    assert_eq!(plain.matches("TRIGGER:-P30D\r\n").count(), 6);
    assert_eq!(plain.matches("DTSTAMP:20261125T100000Z\r\n").count(), 6);
    assert!(plain.contains("DTSTART;VALUE=DATE:20290531\r\nDTEND;VALUE=DATE:20290601\r\n"));
    assert!(plain.contains("Jacke \"Süd\"\\, rot\\; mit einem"), "{plain}");
    assert!(plain.contains("UID:battery.972000016.200000000@overside\r\n"));
    // The day it is judged on changes no event.
    assert_eq!(made("2026-11-26"), calendar);
}
