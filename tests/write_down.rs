//! A self-test that the watch itself heard, written down with a key: judged as a proof would, once,
//! by any screen; and nothing of what was rehearsed or replayed.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;
#[path = "support/watching.rs"]
mod watching;

use std::path::Path;

use overside::logbook::{Kind, Reader};
use pty::Terminal;
use serde_json::Value;
use watching::{Watching, overside};

const MATE: u32 = 972_000_017;
const HERE: (f64, f64) = (57.7003, 10.5836);

/// A watch without a screen of its own, with a muster of one, and a screen that looks at it.
fn watched(home: &Path) -> (Watching, Terminal) {
    let config = home.join("overside.toml");
    let text = format!(
        "[[person]]\nname = \"Mate\"\n[[beacon]]\nmmsi = {MATE}\nholder = \"Mate\"\n\
         battery_expires = \"2099-01\"\ntest_every_months = 6\nfitted_to = \"jacket 2\"\n\
         [[lifejacket]]\nname = \"jacket 2\"\nservice_due = \"2099-01\"\n\
         cylinder_weighed = \"2099-01-01\"\n\
         [storage]\nfolder = {:?}\n[alarm]\nsound = false\n",
        home.join("book")
    );
    std::fs::write(&config, text).unwrap();
    let watching = Watching::start(home, &["--config", config.to_str().unwrap()]);
    watching.send(&own_position());
    let run = home.join("run").display().to_string();
    let mut command = pty::overside(&[("XDG_RUNTIME_DIR", run.as_str())], home);
    command.args(["attach", "--folder", "book"]);
    let screen = Terminal::start(command);
    screen.wait_for_text("[q] leave");
    (watching, screen)
}

fn own_position() -> String {
    let place = support::nmea_position(HERE.0, HERE.1);
    support::sealed(&format!("GPRMC,083000.00,A,{place},0.0,,090526,,,A"))
}

/// A whole self-test, message by message.
fn burst() -> Vec<String> {
    let message = |it: usize| match it {
        0 | 7 => support::text(MATE, "MOB TEST"),
        _ => support::position(MATE, 15, Some(HERE), 17),
    };
    let channel = |it: usize| if it.is_multiple_of(2) { 'A' } else { 'B' };
    (0..8).map(|it| support::vdm(&message(it), channel(it))).collect()
}

/// The tests in the logbook.
fn entries(home: &Path) -> Vec<(Value, Option<String>)> {
    let reader = Reader::open(&home.join("book")).unwrap().unwrap();
    let entries = (1..).map_while(|entry| reader.get(entry).unwrap());
    let tests = entries.filter(|it| it.draft.kind() == Some(Kind::Test));
    tests.map(|it| (it.draft.details.keys().details, it.draft.operator)).collect()
}

fn muster(home: &Path) -> Value {
    let config = home.join("overside.toml");
    let args = ["muster", "--json", "--config", config.to_str().unwrap()];
    let shown = overside(home, &args).output().unwrap();
    serde_json::from_slice(&shown.stdout).unwrap()
}

/// A whole test that the ordinary watch had heard counted for nothing.
#[test]
fn a_test_that_the_watch_heard_is_written_down_once() {
    let home = tempfile::tempdir().unwrap();
    let (watching, screen) = watched(home.path());
    assert_eq!(muster(home.path())["persons"][0]["status"], "due");
    let burst = burst();
    burst[..3].iter().for_each(|line| watching.send(line));
    screen.wait_for_text("This is a TEST");
    screen.wait_for_text("[v] write down");
    // What is still coming in is waited for.
    screen.press("v");
    screen.wait_for_text("3 messages so far");
    burst[3..].iter().for_each(|line| watching.send(line));
    screen.wait_for_text("8 of 8 messages: PROVEN");
    screen.wait_for_text("written down as entry");
    screen.press("vv");
    screen.press("h");
    screen.wait_for_text("History:");
    let [(test, who)] = &entries(home.path())[..] else { panic!("not one test") };
    assert_eq!((&test["verdict"], &test["messages_heard"]), (&"proven".into(), &8.into()));
    assert!(who.as_ref().is_some_and(|who| who.contains("@pts/")), "{who:?}");
    let after = muster(home.path());
    assert_eq!(after["persons"][0]["status"], "ready", "{after}");
}

#[test]
fn a_rehearsed_test_is_judged_and_not_written_down() {
    let home = tempfile::tempdir().unwrap();
    let (watching, screen) = watched(home.path());
    let mark = support::tag("s:ais,t:REHEARSAL");
    burst().iter().for_each(|line| watching.send(&format!("{mark}{line}")));
    screen.wait_for_text("[v] write down");
    screen.press("v");
    screen.wait_for_text("REHEARSAL: proves nothing. 8 of 8 messages");
    screen.wait_for_text("not written down: a rehearsal");
    assert_eq!(entries(home.path()), []);
}

/// What is ACTIVE is no test: the key does nothing then, and a test from before is over.
#[test]
fn what_is_active_is_never_written_down_as_a_test() {
    let home = tempfile::tempdir().unwrap();
    let (watching, screen) = watched(home.path());
    burst()[..4].iter().for_each(|line| watching.send(line));
    screen.wait_for_text("[v] write down");
    screen.press("v");
    screen.wait_for_text("4 messages so far");
    let active = support::vdm(&support::position(MATE, 14, None, 60), 'A');
    watching.send(&active);
    screen.wait_for_text("MATE OVERBOARD");
    screen.press("v");
    watching.wait_for(|event| event["cause"] == "beacon_active");
    // It is judged when it is over, as what it was.
    for _ in 0..300 {
        if !entries(home.path()).is_empty() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    let [(test, _)] = &entries(home.path())[..] else { panic!("not one test") };
    assert_eq!(test["verdict"], "active_heard");
    assert_ne!(muster(home.path())["persons"][0]["status"], "ready");
}

/// What is replayed is judged, and nothing is written down of it.
#[test]
fn a_replayed_test_is_judged_and_not_written_down() {
    let home = tempfile::tempdir().unwrap();
    let lines: Vec<String> = (0..)
        .zip([vec![own_position()], burst()].concat())
        .map(|(place, line)| {
            let tag = support::tag(&format!("s:ais,c:{}", 1_781_402_400_000_u64 + 2_000 * place));
            format!("{tag}{line}\r\n")
        })
        .collect();
    let file = support::file("replayed_test.nmea", &lines.concat());
    let mut command = pty::overside(&[], home.path());
    command.args(["replay", "--speed", "max", file.to_str().unwrap()]);
    let screen = Terminal::start(command);
    screen.wait_for_text("[v] judge");
    screen.wait_for_text("8 of 8");
    screen.press("v");
    screen.wait_for_text("not written down: a replay");
}
