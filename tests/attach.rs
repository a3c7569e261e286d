//! One watch for each input: nobody takes the inputs of a watch that runs; several can look at it.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;
#[path = "support/watching.rs"]
mod watching;

use std::io::Write as _;
use std::net::UdpSocket;
use std::os::unix::fs::PermissionsExt as _;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::time::Duration;

use pty::Terminal;
use watching::{Watching, free_port, overside};

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Two on one port: the later would have taken every datagram, and the watch would have been deaf.
#[test]
fn a_second_watch_of_the_same_input_is_refused_and_told_who_has_it() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "first"]);
    let pid = watching.id().to_string();
    for host in ["127.0.0.1", "0.0.0.0"] {
        let uri = format!("udp://{host}:{}", watching.port);
        let args = ["watch", "--headless", "--input", &uri, "--storage", "second"];
        let refused = overside(home.path(), &args).output().unwrap();
        let told = stderr(&refused);
        assert_eq!(refused.status.code(), Some(2), "{told}");
        for part in [&uri, "another watch reads it", &pid, "first", "end that one first"] {
            assert!(told.contains(part), "{part}: {told}");
        }
        assert!(!home.path().join("second").exists());
    }
    // Killed, it keeps nobody away any more.
    let port = watching.port;
    drop(watching);
    let uri = format!("udp://127.0.0.1:{port}");
    let args = ["watch", "--headless", "--input", &uri, "--input", "-"];
    let mut next = overside(home.path(), &args).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(500));
    assert!(next.try_wait().unwrap().is_none());
    next.kill().unwrap();
    next.wait().unwrap();
}

/// A screen on a watch that runs.
fn attached(home: &Path, more: &[&str]) -> Terminal {
    let run = home.join("run").display().to_string();
    let mut command = pty::overside(&[("XDG_RUNTIME_DIR", run.as_str())], home);
    command.arg("attach");
    command.args(more);
    Terminal::start(command)
}

fn sockets(home: &Path) -> Vec<PathBuf> {
    let found = std::fs::read_dir(home.join("run/overside")).unwrap();
    let paths = found.map(|entry| entry.unwrap().path());
    paths.filter(|path| path.extension().is_some_and(|end| end == "sock")).collect()
}

fn active(mmsi: u32) -> String {
    support::vdm(&support::position(mmsi, 14, None, 60), 'A')
}

const ACTIVE: &str = "PERSON 972000017 OVERBOARD";

#[test]
fn two_screens_see_one_alarm_and_who_acknowledges_is_written_down() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "book"]);
    let [socket] = &sockets(home.path())[..] else { panic!("not one socket") };
    assert_eq!(std::fs::metadata(socket).unwrap().permissions().mode() & 0o777, 0o600);
    let first = attached(home.path(), &["--folder", "book"]);
    // Without a folder it is the only one that runs.
    let second = attached(home.path(), &[]);
    first.wait_for_text("[q] leave");
    second.wait_for_text("[q] leave");
    watching.send(&active(972_000_017));
    first.wait_for_text(ACTIVE);
    second.wait_for_text(ACTIVE);
    first.wait_for_text("UNACKNOWLEDGED");
    first.resize(120, 40);
    first.wait_for("another size", |screen| {
        screen.rows(0, 120).last().unwrap_or_default().contains("[h] history")
    });
    first.press("a");
    watching.wait_for(|event| event["state"] == "active_acknowledged");
    second.wait_for("acknowledged there, too", |screen| {
        !screen.contents().contains("UNACKNOWLEDGED")
    });
    first.press("jlifebuoy thrown\r");
    first.wait_for("the note taken", |screen| !screen.contents().contains("Note for the logbook"));
    // It leaves the screen alone, also in an emergency.
    first.press("q");
    assert!(first.exit_status().success());
    first.assert_whole();
    assert!(first.text().contains("the watch goes on"), "{}", first.text());
    second.signal("-KILL");
    second.exit_status();
    watching.send(&active(972_000_016));
    watching.wait_for(|event| event["mmsi"] == 972_000_016 && event["cause"] == "beacon_active");
    let listed = overside(home.path(), &["logbook", "list", "--storage", "book"]).output().unwrap();
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    let act = listed.lines().find(|line| line.contains("Acknowledged:")).unwrap_or(&listed);
    assert!(act.contains("@pts/"), "{listed}");
    let note = listed.lines().find(|line| line.contains("lifebuoy thrown")).unwrap_or(&listed);
    assert!(note.contains("@pts/"), "{listed}");
    // A third sees what was before it.
    let third = attached(home.path(), &["--folder", "book"]);
    third.wait_for_text("OVERBOARD");
    third.press("h");
    third.wait_for_text("972000017");
    drop(watching);
    assert!(!third.exit_status().success());
    third.wait_for_text("THE WATCH IS GONE");
    third.assert_whole();
}

/// The colours that were chosen on an attached screen are those of the next one.
#[test]
fn the_colours_of_an_attached_screen_are_remembered() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "book"]);
    let ground = |screen: &vt100::Screen| screen.cell(12, 1).unwrap().bgcolor();
    let first = attached(home.path(), &["--folder", "book"]);
    first.wait_for_text("[h] history");
    let before = first.look(ground);
    first.press("n");
    first.wait_for("other colours", |screen| ground(screen) != before);
    let chosen = first.look(ground);
    first.press("q");
    assert!(first.exit_status().success());
    let second = attached(home.path(), &["--folder", "book"]);
    second.wait_for_text("[h] history");
    assert_eq!(second.look(ground), chosen);
    drop(watching);
}

#[test]
fn who_says_nonsense_nothing_or_too_much_keeps_nobody_from_watching() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "book"]);
    let socket = sockets(home.path()).remove(0);
    let connect = || UnixStream::connect(&socket).unwrap();
    let said = |text: &[u8]| [&u32::try_from(text.len()).unwrap().to_be_bytes(), text].concat();
    let hello = |size: &str| {
        format!(
            r#"{{"Hello":{{"version":2,"terminal":"x","size":{size},"unicode":true,"palette":"?","depth":"true"}}}}"#
        )
    };
    for nonsense in [
        b"\xff\xff\xff\xff garbage".to_vec(),
        said(b"garbage"),
        said(b"{\"Hello\":{\"version\":99}}"),
        said(&[b'['; 4000]),
        said(hello("[0,0]").as_bytes()),
        [said(hello("[65535,65535]").as_bytes()), said(b"{}")].concat(),
    ] {
        let _ = connect().write_all(&nonsense);
    }
    // They say nothing, or look and take nothing.
    let mut idle: Vec<UnixStream> = (0..100).map(|_| connect()).collect();
    for one in &mut idle {
        let _ = one.write_all(&said(hello("[80,24]").as_bytes()));
    }
    watching.send(&active(972_000_017));
    watching.wait_for(|event| event["cause"] == "beacon_active");
    let late = attached(home.path(), &["--folder", "book"]);
    late.wait_for_text("8 screens look at this watch");
    assert!(!late.exit_status().success());
    drop(idle);
    let shows = (0..20).any(|_| {
        let screen = attached(home.path(), &["--folder", "book"]);
        screen.waited(Duration::from_secs(2), |it| it.contents().contains(ACTIVE))
    });
    assert!(shows);
}

#[test]
fn a_lost_terminal_ends_no_watch_and_another_looks_at_it() {
    let home = tempfile::tempdir().unwrap();
    let run = home.path().join("run").display().to_string();
    let uri = format!("udp://127.0.0.1:{}", free_port());
    let mut command = pty::overside(&[("XDG_RUNTIME_DIR", run.as_str())], home.path());
    command.args(["watch", "--storage", "book", "--input", &uri]);
    let own = Terminal::start(command);
    own.wait_for_text("[q] end");
    own.hang_up();
    let other = attached(home.path(), &["--folder", "book"]);
    // With the terminal its bell is gone: that nothing sounds is told.
    other.wait_for_text("[?] help");
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let line = format!("{}\r\n", active(972_000_017));
    let to = uri.trim_start_matches("udp://");
    let shows = (0..300).any(|_| {
        let _ = sender.send_to(line.as_bytes(), to);
        other.waited(Duration::from_millis(100), |it| it.contents().contains(ACTIVE))
    });
    assert!(shows, "{}", other.text());
    let listed = overside(home.path(), &["logbook", "list", "--storage", "book"]).output().unwrap();
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    assert!(listed.contains("the watch goes on without it"), "{listed}");
    // On request it ends.
    own.signal("-TERM");
    assert!(own.ended().success());
}
