//! A proof beside a watch hears by the watch's receivers: it takes nothing from it, holds nothing up,
//! and proves nothing of a time in which it heard nothing.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;
#[path = "support/watching.rs"]
mod watching;

use std::io::{BufRead as _, BufReader, Read as _};
use std::path::Path;
use std::process::{Child, Command};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;
use watching::{PATIENCE, Watching, overside};

const MATE: u32 = 972_000_017;
const SKIPPER: u32 = 972_000_016;

/// Where the ship and her beacons are.
const HERE: (f64, f64) = (57.7003, 10.5836);

/// A proof in plain lines, as a process of its own.
struct Proof {
    child: Child,
    lines: mpsc::Receiver<String>,
    said: String,
}

impl Proof {
    fn start(home: &Path, port: u16, more: &[&str]) -> Self {
        let uri = format!("udp://127.0.0.1:{port}");
        let args = ["prove", "--plain", "--input", &uri, "--storage", "book"];
        let mut child = overside(home, &[&args[..], more].concat()).spawn().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let (tx, lines) = mpsc::channel();
        std::thread::spawn(move || {
            for line in output.lines() {
                if tx.send(line.unwrap()).is_err() {
                    return;
                }
            }
        });
        Self { child, lines, said: String::new() }
    }

    /// Waits until it says this; does something meanwhile, again and again.
    fn wait_for(&mut self, text: &str, mut meanwhile: impl FnMut()) {
        for _ in 0..PATIENCE.as_millis() / 100 {
            if self.said.contains(text) {
                return;
            }
            meanwhile();
            while let Ok(line) = self.lines.recv_timeout(Duration::from_millis(100)) {
                self.said += &(line + "\n");
            }
        }
        panic!("{text:?} is not said within the patience: {}", self.said);
    }

    /// Its exit code, and all that it said.
    fn end(mut self) -> (i32, String) {
        let code = self.child.wait().unwrap().code().unwrap();
        while let Ok(line) = self.lines.recv_timeout(Duration::from_secs(5)) {
            self.said += &(line + "\n");
        }
        self.child.stderr.take().unwrap().read_to_string(&mut self.said).unwrap();
        (code, std::mem::take(&mut self.said))
    }

    fn signal(&self, name: &str) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
    }
}

impl Drop for Proof {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}

fn own_position() -> String {
    let place = support::nmea_position(HERE.0, HERE.1);
    support::sealed(&format!("GPRMC,083000.00,A,{place},0.0,,090526,,,A"))
}

/// A whole self-test, message by message.
fn burst(mmsi: u32) -> Vec<String> {
    let message = |it: usize| match it {
        0 | 7 => support::text(mmsi, "MOB TEST"),
        _ => support::position(mmsi, 15, Some(HERE), 17),
    };
    let channel = |it: usize| if it.is_multiple_of(2) { 'A' } else { 'B' };
    (0..8).map(|it| support::vdm(&message(it), channel(it))).collect()
}

/// The configuration of a ship with two beacons, and the logbook in `book`.
fn round(home: &Path) -> String {
    let config = home.join("round.toml");
    let muster = format!(
        "[[person]]\nname = \"Mate\"\n[[person]]\nname = \"Skipper\"\n\
         [[beacon]]\nmmsi = {MATE}\nholder = \"Mate\"\ntest_every_months = 6\n\
         [[beacon]]\nmmsi = {SKIPPER}\nholder = \"Skipper\"\n[alarm]\nsound = false\n\
         [storage]\nfolder = {:?}\n",
        home.join("book")
    );
    std::fs::write(&config, muster).unwrap();
    config.to_str().unwrap().to_owned()
}

/// The proof used to take every datagram of the watch, which was deaf meanwhile; then it refused.
#[test]
fn a_round_beside_a_watch_is_heard_by_its_receivers() {
    let home = tempfile::tempdir().unwrap();
    let config = round(home.path());
    let config = ["--config", &config];
    let watching = Watching::start(home.path(), &["--storage", "book"]);
    let mut proof = Proof::start(home.path(), watching.port, &config);
    proof.wait_for("test it NOW", || watching.send(&own_position()));
    // In the other order than that of the muster.
    for mmsi in [SKIPPER, MATE] {
        burst(mmsi).iter().for_each(|line| watching.send(line));
    }
    let (code, said) = proof.end();
    assert_eq!(code, 0, "{said}");
    assert!(said.contains(&format!("the watch's receivers, pid {}", watching.id())), "{said}");
    assert_eq!(said.matches("PROVEN: 8 of 8 heard").count(), 2, "{said}");
    // The watch heard all of it, too, and hears on.
    let tests = |event: &serde_json::Value| event["cause"] == "beacon_test";
    watching.wait_for(|event| tests(event) && event["mmsi"] == MATE);
    let active = support::vdm(&support::position(MATE, 14, None, 60), 'A');
    watching.send(&active);
    watching.wait_for(|event| event["cause"] == "beacon_active");
    let muster = [&["muster", "--json"][..], &config].concat();
    let muster = overside(home.path(), &muster).output().unwrap();
    let muster: serde_json::Value = serde_json::from_slice(&muster.stdout).unwrap();
    let test_of = |who: usize| muster["persons"][who]["findings"].to_string().contains("test");
    assert!(!test_of(0) && !test_of(1), "{muster}");
}

#[test]
fn nothing_is_proven_of_a_time_without_the_watch() {
    let home = tempfile::tempdir().unwrap();
    let storage = ["--storage", "book"];
    let mut watching = Watching::start(home.path(), &storage);
    let config = round(home.path());
    let mut proof = Proof::start(home.path(), watching.port, &["--config", &config]);
    proof.wait_for("test it NOW", || watching.send(&own_position()));
    burst(MATE)[..2].iter().for_each(|line| watching.send(line));
    proof.wait_for("text \"MOB TEST\"", || {});
    let port = watching.port;
    drop(watching);
    proof.wait_for("the watch that reads it is gone", || {});
    watching = Watching::start_at(home.path(), port, &storage);
    // It comes back by itself, and what is whole from then on is proven.
    proof.wait_for(": live", || watching.send(&own_position()));
    burst(SKIPPER).iter().for_each(|line| watching.send(line));
    let (code, said) = proof.end();
    assert_eq!(code, 1, "{said}");
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Skipper's beacon 972000016: test PROVEN: 8 of 8 heard"), "{said}");
    assert!(words.contains("Mate's beacon 972000017: test heard IN PART: 2 of 8"), "{said}");
    assert!(words.contains("not listened all the time"), "{said}");
    assert!(!words.contains("antenna and cable"), "silence is no missing message: {said}");
}

#[test]
fn a_proof_that_takes_nothing_holds_no_watch_up() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "book"]);
    let beacon = ["--beacon", "972000017"];
    let mut proof = Proof::start(home.path(), watching.port, &beacon);
    proof.wait_for("test it NOW", || watching.send(&own_position()));
    burst(MATE)[..2].iter().for_each(|line| watching.send(line));
    proof.wait_for("text \"MOB TEST\"", || {});
    proof.signal("-STOP");
    // More than the socket and the queue hold.
    for _ in 0..40 {
        (0..500).for_each(|_| watching.send(&own_position()));
        std::thread::sleep(Duration::from_millis(20));
    }
    let active = support::vdm(&support::position(972_000_018, 14, None, 60), 'A');
    // The flood may fill what the system keeps for the port: a datagram alone may be lost.
    let is_active =
        |event: &Value| event["mmsi"] == 972_000_018 && event["cause"] == "beacon_active";
    watching.wait_sending(&active, is_active);
    proof.signal("-CONT");
    proof.wait_for("lines were lost", || watching.send(&own_position()));
    let (code, said) = proof.end();
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(code == 1 && words.contains("not listened all the time"), "{code} {said}");
}

/// An older watch, or one that cannot be asked, is left alone.
#[test]
fn where_it_cannot_be_heard_it_is_refused_and_said_why() {
    let home = tempfile::tempdir().unwrap();
    let run = home.path().join("run/overside");
    std::fs::create_dir_all(&run).unwrap();
    let prove = |port: u16| {
        let uri = format!("udp://127.0.0.1:{port}");
        let args = ["prove", "--plain", "--beacon", "972000017", "--input", &uri];
        let refused = overside(home.path(), &args).output().unwrap();
        (refused.status.code(), String::from_utf8_lossy(&refused.stderr).into_owned())
    };
    for (door, why) in [
        ("null".to_owned(), "does not pass on what it receives"),
        (format!("{:?}", run.join("gone.sock")), "cannot be used"),
    ] {
        let lock = std::fs::File::create(run.join("udp-10987.lock")).unwrap();
        lock.lock().unwrap();
        let holder = format!(
            "{{\"pid\":7,\"input\":\"ais\",\"folder\":\"/a\",\"since\":\"x\",\"door\":{door}}}"
        );
        std::fs::write(run.join("udp-10987.lock"), holder).unwrap();
        let (code, told) = prove(10_987);
        assert_eq!(code, Some(2), "{told}");
        for part in [why, "process 7", "another watch reads it", "prove --capture"] {
            assert!(told.contains(part), "{part}: {told}");
        }
    }
    // One that knows nothing of it: it hangs up.
    let socket = std::os::unix::net::UnixListener::bind(run.join("old.sock")).unwrap();
    let lock = std::fs::File::create(run.join("udp-10988.lock")).unwrap();
    lock.lock().unwrap();
    let old = run.join("old.sock");
    let holder =
        format!("{{\"pid\":8,\"input\":\"ais\",\"folder\":null,\"since\":\"x\",\"door\":{old:?}}}");
    std::fs::write(run.join("udp-10988.lock"), holder).unwrap();
    std::thread::spawn(move || socket.accept().map(drop));
    let (code, told) = prove(10_988);
    assert!(code == Some(2) && told.contains("another answer than this version knows"), "{told}");
}
