//! Logbooks in a temporary folder: what is written into them, read from them, and done to them.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::path::Path;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use overside::logbook::{
    Act, AlertChange, BeaconEvent, Check, Details, Draft, Error, FILE, Filter, Logbook, Moment,
    Patience, Reader, WatchEvent, WriterReport,
};
use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::{Mono, Utc};
use overside::watch::{AlertId, Cause, Mode, Priority, State};
use rusqlite::Connection;
use serde_json::json;
use tempfile::TempDir;

/// The longest that anything here may take; nothing waits for it to pass.
pub const LONG: Duration = Duration::from_secs(60);

/// A writer that does not wait for what is not going to change.
pub const IMPATIENT: Patience = Patience {
    lock: Duration::from_millis(20),
    first: Duration::from_millis(5),
    longest: Duration::from_millis(20),
};

pub const FIRST: i64 = 1_780_000_000_000;

pub fn moment(second: i64) -> Moment {
    Moment {
        arrival: Mono::from_micros(second.unsigned_abs() * 1_000_000),
        host: Utc::from_unix_ms(FIRST + second * 1000).unwrap(),
        gnss: None,
        own: Position::new(50.0, -5.0),
        own_age_s: Some(1),
        sog: None,
        cog: None,
    }
}

/// The text of the entry that begins a watch here.
pub const STARTED: &str = "watch started";

pub fn begun() -> Draft {
    Draft::watch(WatchEvent::Started, STARTED, json!({ "version": "test" }), &moment(0))
}

pub fn act(text: &str, second: i64) -> Draft {
    Draft::operator(Act::AskedForRoute, text, Some("Mate"), &moment(second))
}

pub fn alert(id: u32, state: State, second: i64) -> Draft {
    let change = AlertChange {
        alert: AlertId(id),
        cause: Cause::BeaconActive,
        priority: Priority::EmergencyAlarm,
        state,
        matter: None,
        joined_by: None,
    };
    Draft {
        details: Details::Alert(change),
        mmsi: Mmsi::new(972_000_017),
        ..act("person overboard", second)
    }
}

pub fn beacon(second: i64) -> Draft {
    beacon_in(Mode::Active, second)
}

pub fn beacon_in(mode: Mode, second: i64) -> Draft {
    let event = Some(BeaconEvent::BeaconHeard);
    Draft {
        details: Details::Beacon { event, mode: Some(mode), told: json!({}) },
        mmsi: Mmsi::new(972_000_017),
        person: Some("Mate".to_owned()),
        position: Position::new(50.1, -5.0),
        fix_age_s: Some(3),
        ..act("heard", second)
    }
}

/// A logbook whose reports are kept.
pub fn open(folder: &Path) -> (Logbook, Receiver<WriterReport>) {
    let (told, reports) = channel();
    let tell = move |report| drop(told.send(report));
    (Logbook::open_with(folder.to_owned(), begun(), IMPATIENT, tell), reports)
}

/// Writes a watch of these entries, and gives back the reports.
pub fn watch(folder: &Path, drafts: impl IntoIterator<Item = Draft>) -> Vec<WriterReport> {
    let (book, reports) = open(folder);
    drafts.into_iter().for_each(|draft| book.write(draft));
    assert_eq!(book.close(LONG), 0);
    reports.iter().collect()
}

pub fn three_acts(folder: &Path) {
    watch(folder, (1..=3).map(|n| act(&format!("act {n}"), n)));
}

pub fn reader(folder: &Path) -> Reader {
    Reader::open(folder).unwrap().unwrap()
}

pub fn texts(folder: &Path) -> Vec<String> {
    let mut texts = Vec::new();
    let all = Filter::default();
    reader(folder)
        .entries::<Error>(&all, |entry| {
            texts.push(entry.draft.text);
            Ok(())
        })
        .unwrap();
    texts
}

pub fn check(folder: &Path) -> Check {
    reader(folder).check().unwrap()
}

/// Alters the file as someone with SQLite could: without its guards, and with them put back.
pub fn tamper(folder: &Path, sql: &str) {
    let connection = Connection::open(folder.join(FILE)).unwrap();
    let mut query =
        connection.prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").unwrap();
    let guards = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    let guards: Vec<(String, String)> = guards.collect::<Result<_, _>>().unwrap();
    assert_eq!(guards.len(), 2);
    for (name, _) in &guards {
        connection.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    connection.execute_batch(sql).unwrap();
    for (_, guard) in &guards {
        connection.execute_batch(guard).unwrap();
    }
}

pub fn overside(folder: &Path) -> Command {
    let mut command = cargo_bin_cmd!("overside");
    command.env_clear().env("XDG_DATA_HOME", folder.parent().unwrap()).arg("logbook");
    command
}

/// A folder whose logbook the command finds.
pub fn home() -> (TempDir, std::path::PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("overside");
    (home, folder)
}

pub fn said(command: &mut Command) -> String {
    String::from_utf8(command.assert().success().get_output().stdout.clone()).unwrap()
}
