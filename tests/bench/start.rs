//! From exec to the first sentence understood, without a logbook and with one of many entries.
//!
//! `cargo bench --bench start -- [ENTRIES] [PROGRAM]`: a million if left out; another build of the
//! program, to compare with. The logbook is made in memory where there is such a folder, a tenth of
//! it first: opening it must not take longer with its length.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use overside::edge::Clock;
use overside::logbook::{AlertChange, Details, Draft, Logbook, WriterReport};
use overside::mmsi::Mmsi;
use overside::time::Mono;
use overside::watch::{AlertId, Cause, InputState, Priority, State};

mod memory;
mod table;
use memory::folder;

/// Starts of a row.
const STARTS: usize = 21;

/// MOB ACTIVE of 972000017.
const ACTIVE: &[u8] = b"!AIVDM,1,1,,A,>>Nv;4@lt:04=@UHF0734,2*53\r\n";

/// When the entries begin, and how far apart they are: one in two minutes.
const BEGIN_MS: i64 = 1_600_000_000_000;
const APART_MS: i64 = 120_000;

fn main() {
    let given: Vec<String> = std::env::args().skip(1).filter(|it| it != "--bench").collect();
    let entries = given.iter().find_map(|it| it.parse().ok()).unwrap_or(1_000_000);
    let program = given.iter().find_map(|it| std::fs::canonicalize(it).ok());
    let program = program.unwrap_or_else(|| env!("CARGO_BIN_EXE_overside").into());
    table(&program, entries);
}

/// A row for each start: of nothing, without a logbook, with one of so many entries.
pub fn table(program: &Path, entries: usize) {
    row("nothing but --version", || version(program));
    row("no logbook", || first_alert(program, None));
    let book = folder();
    let mut there = 0;
    for entries in [1, entries / 10, entries] {
        fill(book.path(), there, entries, 100);
        there = entries;
        row(&format!("logbook of {entries}"), || first_alert(program, Some(book.path())));
    }
    let (alarming, changes) = (folder(), entries / 10 * 3);
    fill(alarming.path(), 0, entries, 10);
    row(&format!("{changes} of alerts"), || first_alert(program, Some(alarming.path())));
}

fn row(name: &str, start: impl Fn() -> Duration) {
    let mut took: Vec<Duration> = (0..STARTS).map(|_| start()).collect();
    took.sort_unstable();
    let ms = |span: Duration| span.as_secs_f64() * 1000.0;
    let (least, p50) = (ms(took[0]), ms(took[STARTS / 2]));
    let what = format!("start to the first alert, {name}");
    table::row(&what, &format!("p50 {p50:.1} ms"), &format!("least {least:.1}"));
}

fn version(program: &Path) -> Duration {
    let clock = Clock::start();
    Command::new(program).arg("--version").stdout(Stdio::null()).status().unwrap();
    clock.now().at.since(Mono::START)
}

/// From exec to the line that tells of the alert.
fn first_alert(program: &Path, book: Option<&Path>) -> Duration {
    let home = folder();
    let config = home.path().join("overside.toml");
    std::fs::write(&config, "[alarm]\nsound = false\n").unwrap();
    // What this watch writes stays in the log beside it: it is not there for the next.
    if let Some(book) = book {
        let to = home.path().join("book");
        std::fs::create_dir(&to).unwrap();
        std::fs::hard_link(book.join("logbook.db"), to.join("logbook.db")).unwrap();
    }
    let mut command = Command::new(program);
    command.env_clear().env("XDG_RUNTIME_DIR", home.path());
    command.args(["watch", "--headless", "--json", "--no-record", "--input", "-", "--config"]);
    command.arg(&config);
    if book.is_some() {
        command.arg("--storage").arg(home.path().join("book"));
    }
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
    let clock = Clock::start();
    let mut child = command.spawn().unwrap();
    let mut input = child.stdin.take().unwrap();
    input.write_all(ACTIVE).unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let alert = lines.find(|it| it.contains("\"beacon_active\"") && it.contains("972000017"));
    let took = clock.now().at.since(Mono::START);
    assert!(alert.is_some(), "no alert");
    // A power cut: nothing is tidied up.
    child.kill().unwrap();
    child.wait().unwrap();
    took
}

fn mmsi(number: u32) -> Mmsi {
    Mmsi::new(972_000_000 + number).unwrap()
}

/// Writes entries up to this number. Of each `every`, three are about an alert that is raised,
/// acknowledged and over; the very first alert is never over.
fn fill(book: &Path, from: usize, to: usize, every: usize) {
    let (tell, told) = mpsc::channel();
    let begun = Draft { host_ms: BEGIN_MS, ..Draft::default() };
    let logbook = Logbook::open(book.to_owned(), begun, move |report| drop(tell.send(report)));
    let written = || assert!(matches!(told.recv().unwrap(), WriterReport::Committed { .. }));
    written();
    for (waiting, place) in (from..to).enumerate() {
        logbook.write(entry(place, every));
        if waiting >= 10_000 {
            written();
        }
    }
    assert_eq!(logbook.close(Duration::from_secs(60)), 0);
}

fn entry(place: usize, every: usize) -> Draft {
    let number = (place / every) as u32;
    let change = |state| {
        Details::Alert(AlertChange {
            alert: AlertId(number + 1),
            cause: Cause::BeaconActive,
            priority: Priority::EmergencyAlarm,
            state,
            matter: None,
            joined_by: None,
        })
    };
    let input = |state| Details::Input { input: "ais".to_owned(), state };
    let details = match place % every {
        0 => change(State::ActiveUnacknowledged),
        1 => change(State::ActiveAcknowledged),
        2 if number > 0 => change(State::Normal),
        3 => input(InputState::Silent),
        4 => input(InputState::Live),
        _ => Details::Position,
    };
    Draft {
        arrival_us: Some(place as u64 * 120_000_000),
        host_ms: BEGIN_MS + place as i64 * APART_MS,
        mmsi: (place % every < 3).then(|| mmsi(100 + number % 900)),
        text: "What is said of it, as long as such texts are in the mean: some words".to_owned(),
        sentences: vec!["!AIVDM,1,1,,A,>>M4V`1T4k=h4pV0000000000,2*41".to_owned()],
        details,
        ..Draft::default()
    }
}
