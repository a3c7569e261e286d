//! The logbook against things nobody here made: the system's `sha256sum`, SQLite's own check; and
//! against what a file meets at sea: hands, damage, locks, missing disks.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/book.rs"]
mod book;

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::Stdio;

use overside::logbook::{
    self, AlertChange, Details, Draft, Error, FILE, Filter, Reader, WriterReport,
};
use overside::time::Stamp;
use overside::watch::{AlertId, Cause, Input, Settings, State, Watch};
use rusqlite::Connection;

use book::{
    LONG, STARTED, act, alert, beacon, check, moment, open, reader, tamper, texts, three_acts,
    watch,
};

/// The writer panics as it tells of an entry: that is told as a failure, nothing is lost or written
/// twice, and it goes on.
#[test]
fn a_panic_of_the_writer_is_told_and_loses_no_entry() {
    let folder = tempfile::tempdir().unwrap();
    let (tx, reports) = std::sync::mpsc::channel();
    let panicked = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(false));
    let tell = move |report: WriterReport| {
        let second = matches!(report, WriterReport::Committed { entry: 2, .. });
        let _ = tx.send(report);
        let first_time = second && !panicked.swap(true, std::sync::atomic::Ordering::SeqCst);
        assert!(!first_time, "of the test");
    };
    let book = logbook::Logbook::open(folder.path().to_owned(), book::begun(), tell);
    book.write(act("one", 1));
    let failed = reports.iter().find_map(|it| match it {
        WriterReport::Failed(why) => Some(why),
        _ => None,
    });
    assert!(failed.unwrap().contains("it panicked: of the test"));
    book.write(act("two", 2));
    assert_eq!(book.close(LONG), 0);
    assert!(reports.iter().any(|it| matches!(it, WriterReport::Works)));
    assert_eq!(texts(folder.path()), [STARTED, "one", "two"]);
}

#[test]
fn hashes_are_those_of_sha256sum() {
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    let connection = Connection::open(folder.path().join(FILE)).unwrap();
    let mut query = connection.prepare("SELECT body, hash FROM entry ORDER BY entry").unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    let mut previous = "0".repeat(64);
    let mut count = 0;
    for row in rows {
        let (body, hash): (String, String) = row.unwrap();
        let mut sum = std::process::Command::new("sha256sum")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("sha256sum of the system (GNU coreutils or alike) is needed");
        sum.stdin.take().unwrap().write_all(format!("{previous}\n{body}").as_bytes()).unwrap();
        let output = sum.wait_with_output().unwrap().stdout;
        assert_eq!(&output[..64], hash.as_bytes());
        previous = hash;
        count += 1;
    }
    assert_eq!(count, 4);
    let whole = check(folder.path());
    assert_eq!((whole.entries, whole.whole, whole.first_bad, whole.why), (4, true, None, None));
    assert_eq!(whole.last, Some((4, previous)));
    let sqlite: String =
        connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(sqlite, "ok");
}

#[test]
fn an_entry_is_neither_altered_nor_removed() {
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    let connection = Connection::open(folder.path().join(FILE)).unwrap();
    for sql in ["UPDATE entry SET body = '{}'", "DELETE FROM entry", "UPDATE entry SET kind = 'x'"]
    {
        assert!(connection.execute_batch(sql).is_err(), "{sql}");
    }
    assert!(check(folder.path()).whole);
}

#[test]
fn a_check_finds_what_was_done_to_the_file() {
    let forged = logbook::hash(&"0".repeat(64), r#"{"entry":1,"text":"forged"}"#);
    for (what, sql, first_bad) in [
        ("altered", "UPDATE entry SET body = replace(body, 'act 2', 'act 9') WHERE entry = 3", 3),
        (
            "altered with its hash",
            &format!(
                r#"UPDATE entry SET body = '{{"entry":1,"text":"forged"}}', hash = '{forged}' WHERE entry = 1"#
            ),
            2,
        ),
        ("taken out of the middle", "DELETE FROM entry WHERE entry = 2", 2),
        ("the first taken out", "DELETE FROM entry WHERE entry = 1", 1),
        ("cut off", "DELETE FROM entry WHERE entry = 4", 4),
        ("all cut off", "DELETE FROM entry", 1),
        (
            "swapped",
            "UPDATE entry SET entry = -1 WHERE entry = 2; UPDATE entry SET entry = 2 WHERE entry = 3;
             UPDATE entry SET entry = 3 WHERE entry = -1",
            2,
        ),
        (
            "bodies swapped",
            "UPDATE entry SET body = (SELECT body FROM entry WHERE entry = 4) WHERE entry = 3",
            3,
        ),
        (
            "put in",
            "INSERT INTO entry (entry, body, previous, hash) SELECT 0, body, previous, hash FROM entry WHERE entry = 1",
            0,
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        three_acts(folder.path());
        tamper(folder.path(), sql);
        let found = check(folder.path());
        assert_eq!((found.whole, found.first_bad), (false, Some(first_bad)), "{what}: {found:?}");
        assert!(found.why.is_none() && found.bad.count > 0);
    }
}

#[test]
fn a_cut_off_entry_is_still_found_when_others_follow() {
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    tamper(folder.path(), "DELETE FROM entry WHERE entry = 4");
    let entry = logbook::append(folder.path(), act("later", 9)).unwrap();
    assert_eq!((entry, check(folder.path()).first_bad), (5, Some(4)));
}

#[test]
fn a_guard_that_is_gone_is_found() {
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    tamper(folder.path(), "");
    assert!(check(folder.path()).whole);
    let connection = Connection::open(folder.path().join(FILE)).unwrap();
    connection.execute_batch("DROP TRIGGER entry_is_never_removed").unwrap();
    let found = check(folder.path());
    assert_eq!((found.whole, found.first_bad), (false, None));
    assert!(found.why.is_some());
}

#[test]
fn an_empty_file_is_brought_to_the_present_version_and_a_later_one_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE);
    fs::write(&path, "").unwrap();
    assert!(Reader::open(folder.path()).unwrap().is_none());
    three_acts(folder.path());
    let connection = Connection::open(&path).unwrap();
    let number = |pragma: &str| -> i64 {
        connection.query_row(&format!("PRAGMA {pragma}"), [], |row| row.get(0)).unwrap()
    };
    assert_eq!((number("user_version"), number("application_id")), (2, 0x6F76_7364));
    connection.pragma_update(None, "user_version", 99).unwrap();
    drop(connection);
    let before = fs::read(&path).unwrap();
    for why in [
        logbook::append(folder.path(), act("no", 1)).unwrap_err(),
        Reader::open(folder.path()).unwrap_err(),
    ] {
        assert!(matches!(why, Error::Newer { version: 99, known: 2, .. }), "{why}");
    }
    let (book, reports) = open(folder.path());
    book.write(act("no", 1));
    let report = reports.recv_timeout(LONG).unwrap();
    assert!(
        matches!(&report, WriterReport::Failed(why) if why.contains("version 99")),
        "{report:?}"
    );
    assert_eq!(book.close(LONG), 2);
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn the_database_of_another_program_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE);
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE recipe (name TEXT)").unwrap();
    let before = fs::read(&path).unwrap();
    let why = logbook::append(folder.path(), act("no", 1)).unwrap_err();
    assert!(matches!(why, Error::Foreign { .. }), "{why}");
    assert_eq!(fs::read(&path).unwrap(), before);
}

/// Damages the file of a logbook with a few entries; the next watch must set it aside as it is, and
/// begin a new one.
fn damaged(damage: impl Fn(&mut Vec<u8>)) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE);
    watch(folder.path(), (0..200).map(|n| act("before", n)));
    let mut bytes = fs::read(&path).unwrap();
    damage(&mut bytes);
    fs::write(&path, &bytes).unwrap();
    let occupied = folder.path().join("logbook-20260528T202640000Z.damaged.db");
    fs::write(&occupied, "an older one").unwrap();

    let reports = watch(folder.path(), [act("after", 1)]);
    let Some(WriterReport::SetAside(aside)) = reports.first() else { panic!("{reports:?}") };
    assert_eq!(fs::read(aside).unwrap(), bytes);
    assert_eq!(fs::read(&occupied).unwrap(), b"an older one");
    let written = texts(folder.path());
    assert!(written[0].contains("set aside as logbook-20260528T202640000Z-2"), "{written:?}");
    assert_eq!(written[1..], [STARTED, "after"]);
    assert!(check(folder.path()).whole);
}

#[test]
fn a_damaged_file_is_set_aside_and_a_new_one_begun() {
    damaged(|bytes| bytes.truncate(bytes.len() / 2));
    damaged(|bytes| bytes.truncate(10));
    damaged(|bytes| bytes[3] ^= 1);
    // The kind of the root page of the schema.
    damaged(|bytes| bytes[100] ^= 0x40);
    damaged(|bytes| bytes.fill(0x55));
}

#[test]
fn a_file_removed_underfoot_is_noticed_and_a_new_one_begun() {
    let folder = tempfile::tempdir().unwrap();
    let (book, reports) = open(folder.path());
    book.write(act("before", 1));
    for _ in 0..2 {
        assert!(matches!(reports.recv_timeout(LONG).unwrap(), WriterReport::Committed { .. }));
    }
    for end in ["", "-wal", "-shm"] {
        fs::remove_file(folder.path().join(format!("{FILE}{end}"))).unwrap();
    }
    book.write(act("after", 2));
    assert_eq!(book.close(LONG), 0);
    let told: Vec<WriterReport> = reports.iter().collect();
    assert!(matches!(&told[0], WriterReport::Failed(why) if why.contains("removed")), "{told:?}");
    assert!(matches!(&told[1], WriterReport::Works), "{told:?}");
    let written = texts(folder.path());
    assert!(written[0].contains("removed or replaced"), "{written:?}");
    assert_eq!(written[1..], [STARTED, "after"]);
}

#[test]
fn what_waits_for_a_lock_is_written_in_order_when_it_is_free() {
    let folder = tempfile::tempdir().unwrap();
    let (book, reports) = open(folder.path());
    assert!(matches!(
        reports.recv_timeout(LONG).unwrap(),
        WriterReport::Committed { entry: 1, .. }
    ));
    let other = Connection::open(folder.path().join(FILE)).unwrap();
    other.busy_timeout(LONG).unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    for n in 0..600 {
        book.write(act(&format!("act {n}"), n));
    }
    let report = reports.recv_timeout(LONG).unwrap();
    assert!(matches!(&report, WriterReport::Failed(why) if why.contains("locked")), "{report:?}");
    // A reader is not kept waiting.
    assert_eq!(texts(folder.path()), [STARTED]);
    other.execute_batch("COMMIT").unwrap();
    assert_eq!(book.close(LONG), 0);
    let told: Vec<WriterReport> = reports.iter().collect();
    assert!(matches!(told[0], WriterReport::Works), "once per outage: {:?}", told[0]);
    let numbers = told[1..].iter().map(|report| match report {
        WriterReport::Committed { entry, .. } => *entry,
        other => panic!("{other:?}"),
    });
    assert_eq!(numbers.collect::<Vec<_>>(), (2..=601).collect::<Vec<_>>());
    let acts = (0..600).map(|n| format!("act {n}"));
    assert!(texts(folder.path())[1..].iter().cloned().eq(acts));
    assert!(check(folder.path()).whole);
}

#[test]
fn two_programs_may_write() {
    let folder = tempfile::tempdir().unwrap();
    let (book, _reports) = open(folder.path());
    for n in 0..50 {
        book.write(act("within", n));
        logbook::append(folder.path(), act("without", n)).unwrap();
    }
    assert_eq!(book.close(LONG), 0);
    let found = check(folder.path());
    assert_eq!((found.entries, found.whole), (101, true), "{found:?}");
}

#[test]
fn a_folder_that_cannot_be_written_is_told_and_tried_again() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("kept");
    // A file in place of the folder: the user of a test may be allowed to write anywhere.
    fs::write(&folder, "in the way").unwrap();
    let (book, reports) = open(&folder);
    book.write(act("kept", 1));
    let report = reports.recv_timeout(LONG).unwrap();
    let WriterReport::Failed(why) = &report else { panic!("{report:?}") };
    assert!(why.contains("kept") && why.contains("[storage] folder"), "{why}");
    fs::remove_file(&folder).unwrap();
    assert_eq!(book.close(LONG), 0);
    assert_eq!(texts(&folder), [STARTED, "kept"]);
    let (book, _reports) = open(&home.path().join("kept").join(FILE).join("beneath a file"));
    book.write(act("lost", 1));
    assert_eq!(book.close(LONG), 2);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_only_be_read_is_read() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    three_acts(folder.path());
    let mode = |mode| fs::set_permissions(folder.path(), fs::Permissions::from_mode(mode)).unwrap();
    mode(0o555);
    if fs::write(folder.path().join("probe"), "").is_ok() {
        // The modes mean nothing to this user; the same file without them was read elsewhere.
        eprintln!("NOT CHECKED: a folder that may only be read, for this user may write anywhere");
    } else {
        assert!(check(folder.path()).whole);
        assert!(logbook::append(folder.path(), act("no", 1)).is_err());
    }
    mode(0o755);
}

#[test]
fn at_the_limit_alerts_are_kept_and_what_is_missing_is_written_down() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("kept");
    fs::write(&folder, "in the way").unwrap();
    let (book, reports) = open(&folder);
    assert!(matches!(reports.recv_timeout(LONG).unwrap(), WriterReport::Failed(_)));
    book.write(alert(1, State::ActiveUnacknowledged, 0));
    for n in 0..20_009 {
        book.write(Draft::position(&moment(n)));
    }
    fs::remove_file(&folder).unwrap();
    assert_eq!(book.close(LONG), 0);
    let written = texts(&folder);
    assert_eq!(written.len(), 20_002);
    assert_eq!(written[0], STARTED);
    assert!(written[1].starts_with("10 entries are missing here"), "{}", written[1]);
    assert_eq!(written[2], "person overboard");
}

#[test]
fn an_open_emergency_is_found_again_whole() {
    let folder = tempfile::tempdir().unwrap();
    let Details::Alert(raised) = alert(2, State::ActiveUnacknowledged, 31).details else {
        panic!("no alert");
    };
    let of_input = Details::Alert(AlertChange { cause: Cause::InputSilent, ..raised });
    watch(
        folder.path(),
        [
            alert(1, State::ActiveUnacknowledged, 1),
            beacon(1),
            alert(1, State::ActiveAcknowledged, 30),
            Draft { details: of_input, mmsi: None, ..act("ais is silent", 31) },
            alert(3, State::ActiveUnacknowledged, 32),
            alert(3, State::Normal, 33),
        ],
    );
    let numbers =
        |entries: &[logbook::Entry]| entries.iter().map(|it| it.entry).collect::<Vec<_>>();
    let found = reader(folder.path()).open_incidents().unwrap();
    assert_eq!((numbers(&found.open), numbers(&found.beacons)), (vec![4, 5], vec![3]));
    assert_eq!(numbers(&found.raised), [2, 5]);
    assert_eq!(found.highest_alert, Some(AlertId(3)));
    assert_eq!(numbers(&found.history), [2, 4, 5, 6, 7]);
    // A power cut right after the next start loses no casualty, nor the receiver's fault that a watch
    // is yet to end.
    watch(folder.path(), []);
    let found = reader(folder.path()).open_incidents().unwrap();
    assert_eq!((numbers(&found.open), found.open[0].session), (vec![4, 5], Some(1)));
    assert!(found.open[0].draft.is_about_people());
}

/// A number at the end of all numbers leaves none: it is passed over, and none comes twice.
#[test]
fn numbers_go_on_where_there_is_room() {
    let folder = tempfile::tempdir().unwrap();
    let next = |numbers: &[u32]| {
        let alerts = numbers.iter().map(|&id| alert(id, State::ActiveUnacknowledged, 1));
        watch(folder.path(), alerts.collect::<Vec<_>>());
        reader(folder.path()).open_incidents().unwrap().highest_alert.unwrap().0
    };
    assert_eq!(next(&[7, u32::MAX]), 7);
    assert_eq!(next(&[8, u32::MAX - 500_000]), 8);
    assert_eq!(next(&[2_000_000_000]), 2_000_000_000);
}

/// The drill of the captures, as the watch tells it.
#[test]
fn every_event_of_a_drill_becomes_an_entry() {
    let folder = tempfile::tempdir().unwrap();
    let capture = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures/overboard_drill.nmea");
    let mut watch_core = Watch::new(Settings::default());
    let input = watch_core.input("radio");
    let (mut told, mut drafts) = (0, Vec::new());
    for (n, line) in fs::read(capture).unwrap().split(|&byte| byte == b'\n').enumerate() {
        let moment = moment(i64::try_from(n).unwrap());
        let stamp = Stamp { at: moment.arrival, utc: moment.host };
        watch_core.handle(Input::Line { stamp, input, bytes: line });
        while let Some(event) = watch_core.poll_output() {
            told += 1;
            drafts.extend(Draft::of_event(&event, &moment, Some(line)));
        }
    }
    assert_eq!(drafts.len(), told);
    watch(folder.path(), drafts);
    let mut kinds = std::collections::BTreeMap::<String, usize>::new();
    let all = Filter::default();
    reader(folder.path())
        .entries::<Error>(&all, |entry| {
            let kind = serde_json::to_value(entry.draft.kind()).unwrap();
            *kinds.entry(kind.as_str().unwrap().to_owned()).or_default() += 1;
            if entry.draft.mode().is_some() {
                assert_eq!(entry.draft.sentences.len(), 1, "{:?}", entry.draft);
                assert!(entry.draft.mmsi.is_some() && !entry.draft.text.is_empty());
            }
            Ok(())
        })
        .unwrap();
    for kind in ["alert", "beacon", "dsc", "input", "watch"] {
        assert!(kinds.get(kind).is_some_and(|&count| count > 0), "{kind}: {kinds:?}");
    }
    assert!(check(folder.path()).whole);
}

/// Bodies of the first form, as a watch of that time wrote them (`support/logbook_1.jsonl`): every
/// field is read, and what was said by the text alone is known by what it is.
#[test]
fn every_field_of_an_entry_of_the_first_form_is_read() {
    use overside::logbook::{Act, BeaconEvent, Details, Entry, WatchEvent};
    let mut known = std::collections::BTreeSet::new();
    for body in include_str!("support/logbook_1.jsonl").lines() {
        let before: serde_json::Value = serde_json::from_str(body).unwrap();
        let number = before["entry"].as_i64().unwrap();
        let entry = Entry::read(number, String::new(), body).unwrap();
        let draft = &entry.draft;
        assert!(!matches!(draft.details, Details::Other(_)), "{body}");
        let again = draft.body(number, entry.session).unwrap();
        let again: serde_json::Value = serde_json::from_str(&again).unwrap();
        for (key, value) in before.as_object().unwrap() {
            if key != "details" {
                assert_eq!(&again[key], value, "{key} of {body}");
            }
        }
        for (key, value) in before["details"].as_object().into_iter().flatten() {
            assert_eq!(&again["details"][key], value, "{key} of the details of {body}");
        }
        known.insert(match &draft.details {
            Details::Beacon { event, .. } => format!("{:?}", event.unwrap()),
            Details::Operator { act, .. } => format!("{:?}", act.unwrap()),
            Details::Watch { event, .. } => format!("{:?}", event.unwrap()),
            _ => format!("{:?}", draft.kind().unwrap()),
        });
    }
    for wanted in [
        format!("{:?}", BeaconEvent::BeaconUpdate),
        format!("{:?}", Act::DeclaredOver),
        format!("{:?}", Act::Remark),
        format!("{:?}", WatchEvent::Started),
        format!("{:?}", WatchEvent::HandedOver),
        "Alert".to_owned(),
        "Dsc".to_owned(),
        "Test".to_owned(),
        "Check".to_owned(),
    ] {
        assert!(known.contains(&wanted), "{wanted}: {known:?}");
    }
}

/// An entry of a later version keeps what is common, and the rest of it as it stands.
#[test]
fn an_entry_of_a_later_version_is_read_as_far_as_it_can_be() {
    use overside::logbook::{Details, Entry};
    let body = r#"{"v":9,"entry":1,"host_ms":7,"kind":"tide","cause":"new","text":"rising","own":{"lat":1.0,"lon":2.0},"range_nm":"far"}"#;
    let entry = Entry::read(1, String::new(), body).unwrap();
    assert_eq!((entry.draft.text.as_str(), entry.draft.host_ms), ("rising", 7));
    assert!(entry.draft.own.is_some() && entry.draft.range_nm.is_none());
    assert_eq!(entry.draft.kind(), None);
    assert_eq!(
        (entry.draft.details.keys().kind, entry.draft.details.keys().cause),
        ("tide".into(), "new".into())
    );
    assert!(matches!(&entry.draft.details, Details::Other(body) if body["v"] == 9));
    // An alert whose identity is of a form that is not known here is one all the same.
    for key in [r#"{"balloon":7}"#, r#"{"emergency":"x"}"#, "9", "[]"] {
        let body = format!(
            r#"{{"entry":1,"kind":"alert","priority":"emergency_alarm","cause":"beacon_active","state":"active_silenced","alert":3,"key":{key},"mmsi":972000017}}"#
        );
        let draft = Entry::read(1, String::new(), &body).unwrap().draft;
        let change = draft.alert().unwrap();
        assert_eq!((change.alert, &change.matter), (AlertId(3), &None), "{key}");
    }
}
