//! A watch without a screen, as a process of its own, and the program of a user whose files all lie in
//! one folder.
#![allow(dead_code, reason = "each test uses its part")]

use std::io::{BufRead as _, BufReader};
use std::net::UdpSocket;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;

use super::support;

/// Generous: a loaded machine starts a process in this time.
pub const PATIENCE: Duration = Duration::from_secs(60);

pub fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// The program of a user whose files all lie in this folder.
pub fn overside(home: &Path, args: &[&str]) -> Command {
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
pub struct Watching {
    child: Child,
    events: mpsc::Receiver<Value>,
    pub port: u16,
}

impl Watching {
    pub fn start(home: &Path, more: &[&str]) -> Self {
        Self::start_at(home, free_port(), more)
    }

    /// One that reads this port.
    pub fn start_at(home: &Path, port: u16, more: &[&str]) -> Self {
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

    /// Its process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Waits for an event; sends a sentence meanwhile, again and again, that keeps the input alive.
    pub fn wait_for(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        self.wait_sending("$GPHDT,90.0,T*0C", wanted)
    }

    /// Waits for an event; sends this sentence meanwhile, again and again: a datagram may be lost.
    pub fn wait_sending(&self, line: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        for _ in 0..PATIENCE.as_millis() / 100 {
            self.send(line);
            while let Ok(event) = self.events.recv_timeout(Duration::from_millis(100)) {
                if wanted(&event) {
                    return event;
                }
            }
        }
        panic!("no such event within the patience");
    }

    pub fn send(&self, line: &str) {
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
