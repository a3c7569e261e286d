//! One watch for each input: nobody takes the inputs of a watch that runs.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::io::{BufRead as _, BufReader};
use std::net::UdpSocket;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;

/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(60);

fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// The program of a user whose files all lie in this folder.
fn overside(home: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
    command
        .args(args)
        .current_dir(home)
        .env_clear()
        .env("HOME", home)
        .env("XDG_RUNTIME_DIR", home.join("run"))
        .env("OVERSIDE_CONFIG", support::file("sound_off.toml", "[alarm]\nsound = false\n"))
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

/// A watch without a screen.
struct Watching {
    child: Child,
    events: mpsc::Receiver<Value>,
    port: u16,
}

impl Watching {
    fn start(home: &Path, more: &[&str]) -> Self {
        let port = free_port();
        let uri = format!("udp://127.0.0.1:{port}");
        let args = ["watch", "--headless", "--json", "--input", &uri];
        let mut child = overside(home, &[&args[..], more].concat()).spawn().unwrap();
        let (tx, events) = mpsc::channel();
        let output = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in output.lines() {
                if tx.send(serde_json::from_str(&line.unwrap()).unwrap()).is_err() {
                    return;
                }
            }
        });
        let watching = Self { child, events, port };
        watching.wait_for(|event| event["event"] == "input_state");
        watching
    }

    /// Waits for an event; sends a sentence meanwhile, again and again, that keeps the input alive.
    fn wait_for(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        for _ in 0..PATIENCE.as_millis() / 100 {
            self.send("$GPHDT,90.0,T*0C");
            while let Ok(event) = self.events.recv_timeout(Duration::from_millis(100)) {
                if wanted(&event) {
                    return event;
                }
            }
        }
        panic!("no such event within the patience");
    }

    fn send(&self, line: &str) {
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        let _ = sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.port));
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// It took every datagram of the watch, which was deaf meanwhile, and nobody was told.
#[test]
fn a_proof_takes_no_input_from_a_watch() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &[]);
    let uri = format!("udp://127.0.0.1:{}", watching.port);
    let args = ["prove", "--plain", "--beacon", "972000017", "--input", &uri];
    let refused = overside(home.path(), &args).output().unwrap();
    let told = stderr(&refused);
    assert_eq!(refused.status.code(), Some(2), "{told}");
    assert!(told.contains("another watch reads it") && told.contains("prove --capture"), "{told}");
    // The watch hears as before.
    watching.send(&support::vdm(&support::position(972_000_017, 14, None, 60), 'A'));
    watching.wait_for(|event| event["cause"] == "beacon_active");
}

/// Two on one port: the later would have taken every datagram, and the watch would have been deaf.
#[test]
fn a_second_watch_of_the_same_input_is_refused_and_told_who_has_it() {
    let home = tempfile::tempdir().unwrap();
    let watching = Watching::start(home.path(), &["--storage", "first"]);
    let pid = watching.child.id().to_string();
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
