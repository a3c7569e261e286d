//! How far the boat hears: the table of hours beside the logbook's entries, the command, its page.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/book.rs"]
mod book;

use book::*;
use overside::logbook::{Details, Draft, FILE, WriterReport};
use rusqlite::Connection;
use serde_json::{Value, json};

const HOUR: i64 = 3600;

/// The entry of an hour that began so many hours after the first.
fn hour(number: i64) -> Draft {
    let hour = json!({ "start": number });
    let details =
        Details::Reach { told: json!({ "range80_nm": 2.1 }), hour: Some(Box::new(hour)) };
    Draft { details, ..act("reach 2.1 NM (1.4 to 3.0)", number * HOUR) }
}

fn hours(folder: &std::path::Path, since: Option<i64>) -> Vec<i64> {
    let since = since.map(|number| moment(number * HOUR).host);
    let hours: Vec<Value> = reader(folder).hours(since).unwrap();
    hours.iter().map(|it| it["start"].as_i64().unwrap()).collect()
}

fn execute(folder: &std::path::Path, sql: &str) {
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
    let all: Vec<Value> = reader(folder.path()).hours(None).unwrap();
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
