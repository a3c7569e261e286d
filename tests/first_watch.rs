//! A watch for which no input is named: what it finds, how soon, what it leaves to others, and how that
//! is kept.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;
#[path = "support/system.rs"]
mod system;

use std::fs::{self, File};
use std::net::UdpSocket;
use std::path::PathBuf;
use std::process::{Child, Command};
use std::time::Duration;

use overside::config::Config;
use pty::Terminal;
use support::vdm;
use system::{Plugged, System, gnss, ships};

const MATE: u32 = 972_000_017;

fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// A headless watch in an empty home.
struct Watch {
    root: PathBuf,
    child: Child,
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Watch {
    fn begin(system: &System, port: u16) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
        command.env_clear().current_dir(system.root.path());
        for name in ["HOME", "XDG_RUNTIME_DIR"] {
            command.env(name, system.path("home"));
        }
        fs::create_dir_all(system.path("home")).unwrap();
        command.args(["watch", "--headless", "--json", "--root"]).arg(system.root.path());
        command.args(["--udp-port", &port.to_string()]);
        command.stdout(File::create(system.path("events")).unwrap());
        command.stderr(File::create(system.path("talk")).unwrap());
        Self { root: system.root.path().to_owned(), child: command.spawn().unwrap() }
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.root.join(file)).unwrap_or_default()
    }

    #[track_caller]
    fn wait_for(&self, file: &str, part: &str) {
        let shown = (0..600).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            self.read(file).contains(part)
        });
        assert!(shown, "{part:?} is not in {file}:\n{}\n{}", self.read(file), self.read("talk"));
    }
}

/// From the first datagram on, with nothing in the home, and no screen: an alarm. It says what it does.
#[test]
fn a_first_start_alarms_from_the_first_datagram_on() {
    let (system, port) = (System::new(), free_port());
    let watch = Watch::begin(&system, port);
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let line = vdm(&support::position(MATE, 14, Some((57.7, 10.58)), 20), 'A');
    // Until it listens nothing is lost but what is sent.
    for _ in 0..1500 {
        let _ = sender.send_to(line.as_bytes(), ("127.0.0.1", port));
        std::thread::sleep(Duration::from_millis(20));
        if watch.read("events").contains("emergency_alarm") {
            break;
        }
    }
    watch.wait_for("events", "emergency_alarm");
    watch.wait_for("talk", &format!("No input is named: listening on UDP {port} and the groups"));
    watch.wait_for("talk", &format!("Found: udp://0.0.0.0:{port}"));
}

/// The port of a program that would lose what comes there is left to it, and that nothing is heard so
/// is an alarm; it is taken when that program ends.
#[test]
fn a_port_of_another_program_is_left_to_it() {
    let system = System::new();
    let theirs = UdpSocket::bind("0.0.0.0:0").unwrap();
    let port = theirs.local_addr().unwrap().port();
    let watch = Watch::begin(&system, port);
    watch.wait_for("talk", "another program uses it: not taken from it");
    watch.wait_for("events", "\"cause\":\"input_silent\",\"priority\":\"alarm\"");
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    sender.send_to(b"theirs", ("127.0.0.1", port)).unwrap();
    theirs.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    assert_eq!(theirs.recv(&mut [0; 64]).unwrap(), 6);
    drop(theirs);
    for _ in 0..100 {
        for line in ships(200_000_001..200_000_003, &['A', 'B']) {
            let _ = sender.send_to(line.as_bytes(), ("127.0.0.1", port));
        }
        std::thread::sleep(Duration::from_millis(100));
        if watch.read("events").contains("\"live\"") {
            return;
        }
    }
    panic!("it is not heard when it is free:\n{}\n{}", watch.read("events"), watch.read("talk"));
}

/// A receiver that was plugged in later, at its rate; a beacon heard by it is an alarm. What is noise is
/// no input.
#[test]
fn a_port_that_is_plugged_in_later_is_read_at_its_rate() {
    let (mut system, port) = (System::new(), free_port());
    system.plug("ttyUSB0", "Noise", Plugged::new(1, vec![String::new()]));
    let mut lines = ships(200_000_001..200_000_008, &['A', 'B']);
    lines.push(vdm(&support::position(MATE, 14, Some((57.7, 10.58)), 20), 'B'));
    let receiver = Plugged::new(38_400, lines);
    let watch = Watch::begin(&system, port);
    watch.wait_for("talk", "No input is named");
    system.plug("ttyUSB1", "Receiver", receiver);
    let uri = format!("serial:{}?baud=38400", system.by_id("Receiver"));
    watch.wait_for("talk", &format!("Found: {uri}"));
    watch.wait_for("events", "emergency_alarm");
    system.plug("ttyUSB2", "Compass", Plugged::new(4_800, gnss()));
    watch.wait_for("talk", "watching, 3 of 3 needs met");
    assert!(!watch.read("talk").contains("Noise"), "{}", watch.read("talk"));
    // What never spoke is no more missed than what is not there.
    assert!(!watch.read("events").contains("input_silent"), "{}", watch.read("events"));
}

/// On a screen: what is found is kept with a key, after a yes; the next watch reads it. A line at the
/// end tells the command where nothing was kept.
#[test]
fn what_was_found_is_kept_with_a_key() {
    let (mut system, port) = (System::new(), free_port());
    let ais = ships(200_000_001..200_000_008, &['A', 'B']);
    system.plug("ttyUSB0", "Receiver", Plugged::new(38_400, ais));
    system.plug("ttyUSB1", "Compass", Plugged::new(4_800, gnss()));
    let begin = || {
        let root = system.root.path();
        let mut command = pty::overside(&[("XDG_RUNTIME_DIR", &root.display().to_string())], root);
        command.args(["watch", "--root"]);
        command.arg(root);
        command.args(["--udp-port", &port.to_string()]);
        Terminal::start(command)
    };
    let end = |terminal: &Terminal| {
        terminal.press("q");
        terminal.wait_for_text("End the watch?");
        terminal.press("y");
        assert!(terminal.exit_status().success());
    };
    let terminal = begin();
    terminal.wait_for_text("own 57°");
    terminal.wait_for_text("7 other stations heard");
    end(&terminal);
    assert!(terminal.text().contains("overside inputs --write"), "{}", terminal.text());
    let terminal = begin();
    terminal.wait_for_text("7 other stations heard");
    terminal.wait_for_text("own 57°");
    terminal.press("k");
    terminal.wait_for_text("To be changed in overside.toml");
    terminal.press("n");
    terminal.wait_for("no question", |screen| !screen.contents().contains("To be changed"));
    assert!(!system.path("overside.toml").exists());
    terminal.press("k");
    terminal.wait_for_text("To be changed in overside.toml");
    terminal.press("y");
    terminal.wait_for_text("kept in overside.toml");
    end(&terminal);
    assert!(!terminal.text().contains("inputs --write"), "{}", terminal.text());
    let text = fs::read_to_string(system.path("overside.toml")).unwrap();
    let config = Config::parse(&text, &system.path("overside.toml")).unwrap();
    let mut uris: Vec<_> =
        config.inputs.iter().map(|it| (it.name.as_str(), it.uri.clone())).collect();
    uris.sort();
    let wanted = [
        ("ais", format!("serial:{}?baud=38400", system.by_id("Receiver"))),
        ("gnss", format!("serial:{}?baud=4800", system.by_id("Compass"))),
    ];
    assert_eq!(uris, wanted);
}
