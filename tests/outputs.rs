//! What a watch says to other equipment: a second process and real sockets for every output, slow,
//! dead and resetting readers, two programs that face each other.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]
#![expect(clippy::disallowed_methods, reason = "what real sockets take is measured")]

#[path = "outputs/alerts.rs"]
mod alerts;
#[path = "outputs/casualty.rs"]
mod casualty;
#[path = "outputs/displays.rs"]
mod displays;
#[path = "outputs/heard.rs"]
mod heard;
#[path = "outputs/serial.rs"]
mod serial;
#[path = "outputs/stays.rs"]
mod stays;
mod support;
#[path = "support/watching.rs"]
mod watching;

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{TcpStream, UdpSocket};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use overside::mmsi::Mmsi;
use overside::outputs::{Form, Message, Saying, Verdict, is_of_a_transmitter};
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Command as Act, Input};
use serde_json::Value;
use support::{position, sealed, tag, text, vdm};
use watching::{PATIENCE, free_port, overside};

/// A watch without a screen that reads one port, with a configuration of its own.
struct Talking {
    child: Child,
    events: mpsc::Receiver<Value>,
    to: UdpSocket,
    port: u16,
    home: tempfile::TempDir,
}

impl Talking {
    /// Begins it, and waits until it reads the port.
    fn start(outputs: &str) -> Self {
        Self::start_at(free_port(), outputs)
    }

    fn start_at(port: u16, outputs: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let config = format!(
            "[alarm]\nsound = false\n[vessel]\nmmsi = 211000001\n[[person]]\nname = \"Mate\"\n\
             [[beacon]]\nmmsi = 972000017\nholder = \"Mate\"\n\
             [[input]]\nname = \"ais\"\nuri = \"udp://127.0.0.1:{port}\"\n{outputs}"
        );
        let path = home.path().join("own.toml");
        std::fs::write(&path, config).unwrap();
        let mut command: Command = overside(home.path(), &["watch", "--headless", "--json"]);
        command.env("OVERSIDE_CONFIG", &path).stderr(Stdio::inherit());
        let mut child = command.spawn().unwrap();
        let (tx, events) = mpsc::channel();
        let output = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                if tx.send(serde_json::from_str(&line).unwrap()).is_err() {
                    return;
                }
            }
        });
        let to = UdpSocket::bind("127.0.0.1:0").unwrap();
        let mut talking = Self { child, events, to, port, home };
        talking.wait_until_it_hears();
        talking
    }

    fn wait_until_it_hears(&mut self) {
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            self.send(&sealed("GPZDA,120000.00,14,06,2026,00,00"));
            if let Ok(event) = self.events.recv_timeout(Duration::from_millis(100))
                && event["event"] == "input_state"
            {
                return;
            }
        }
        panic!("it does not hear");
    }

    /// It reads its configuration again, with these outputs.
    fn reload(&self, outputs: &str) {
        let path = self.home.path().join("own.toml");
        let before = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, before + outputs).unwrap();
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args(["-HUP", &pid]).status().unwrap().success());
    }

    fn send(&self, line: &str) {
        let _ = self.to.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.port));
    }

    /// Sends a line again and again until a display that has connected is served.
    fn serves(&self, display: &TcpStream) {
        let (begun, mut first) = (Instant::now(), [0; 1]);
        display.set_nonblocking(true).unwrap();
        while display.peek(&mut first).is_err() {
            assert!(begun.elapsed() < PATIENCE, "a display is not served");
            self.send(&sealed("GPZDA,120000.00,14,06,2026,00,00"));
            std::thread::sleep(Duration::from_millis(20));
        }
        display.set_nonblocking(false).unwrap();
    }

    fn event(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            match self.events.recv_timeout(Duration::from_millis(100)) {
                Ok(event) if wanted(&event) => return event,
                _ => {}
            }
        }
        panic!("no such event");
    }

    fn stop(mut self) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        assert!(self.child.wait().unwrap().success());
    }
}

impl Drop for Talking {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn output(name: &str, uri: &str, what: &str) -> String {
    format!("[[output]]\nname = \"{name}\"\nuri = \"{uri}\"\nwhat = [{what}]\n")
}

/// A display that takes datagrams.
fn display() -> (UdpSocket, String) {
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.set_read_timeout(Some(PATIENCE)).unwrap();
    let uri = format!("udp://{}", socket.local_addr().unwrap());
    (socket, uri)
}

fn next(display: &UdpSocket) -> String {
    let mut buffer = [0; 4096];
    let length = display.recv(&mut buffer).unwrap();
    String::from_utf8(buffer[..length].to_vec()).unwrap()
}

/// The next line that is not the one by which the start is waited for.
fn next_of(display: &UdpSocket) -> String {
    std::iter::repeat_with(|| next(display)).find(|it| !it.contains("ZDA")).unwrap()
}

fn nothing_more(display: &UdpSocket) {
    display.set_read_timeout(Some(Duration::from_millis(300))).unwrap();
    let mut buffer = [0; 4096];
    let came = display.recv(&mut buffer);
    assert!(came.is_err(), "{}", String::from_utf8_lossy(&buffer));
    display.set_read_timeout(Some(PATIENCE)).unwrap();
}

/// A sentence without its end and checksum, which must be right; no longer than it may be.
fn body(line: &str) -> String {
    assert!(line.len() <= 80, "{line}");
    let inside = line.strip_prefix('$').unwrap();
    let (body, sum) = inside.split_once('*').unwrap();
    assert_eq!(format!("${body}*{sum}"), sealed(body));
    body.to_owned()
}

/// The next of our own sentences with this formatter.
fn own(display: &UdpSocket, formatter: &str) -> String {
    let until = Instant::now() + PATIENCE;
    while Instant::now() < until {
        let datagram = next(display);
        let found = datagram.lines().find(|it| it.starts_with(&format!("$U8{formatter},")));
        if let Some(line) = found {
            return body(line);
        }
    }
    panic!("no {formatter}");
}

const OWN: &str = "GPRMC,120000.00,A,5430.00000,N,01015.00000,E,5.0,90.0,140626,,,A";

/// A watch without a process around it, and what it would say of its casualties.
struct Scene {
    watch: overside::watch::Watch,
    at: Duration,
    said: overside::outputs::Casualties,
}

impl Scene {
    fn new() -> Self {
        let muster = [(Mmsi::new(972_000_017).unwrap(), Some("Mate".to_owned()))].into();
        let settings = overside::watch::Settings { muster, ..Default::default() };
        let watch = overside::watch::Watch::new(settings);
        Self { watch, at: Duration::ZERO, said: Default::default() }
    }

    fn stamp(&self) -> Stamp {
        let begin = Utc::parse_rfc3339("2026-06-14T12:00:00Z").unwrap();
        Stamp { at: Mono::START + self.at, utc: begin.plus(self.at) }
    }

    fn hear(&mut self, line: &str) {
        self.at += Duration::from_millis(15);
        let (stamp, input) = (self.stamp(), self.watch.input("ais"));
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        while self.watch.poll_output().is_some() {}
    }

    fn wait(&mut self, seconds: u64) {
        self.at += Duration::from_secs(seconds);
        self.watch.handle(Input::Tick { stamp: self.stamp() });
        while self.watch.poll_output().is_some() {}
    }

    fn resolve(&mut self) {
        let open: Vec<_> = self.watch.alerts().iter().map(|it| it.id).collect();
        for id in open {
            let (stamp, command) = (self.stamp(), Act::Resolve(id));
            self.watch.handle(Input::Command { stamp, command });
        }
        while self.watch.poll_output().is_some() {}
    }

    /// What is said now, and of those who are no casualties any more.
    fn say(&mut self) -> (String, String) {
        let picture = self.watch.picture(self.stamp());
        let form = Form { mob: true, steer: true };
        let gone = self.said.follow(&picture);
        let said = self.said.say(&picture, form, None);
        let text = |it: Vec<Saying>| it.into_iter().map(|it| it.sentences).collect::<String>();
        let (said, gone) = (text(said), text(gone));
        for line in said.lines().chain(gone.lines()) {
            body(line);
        }
        (said, gone)
    }
}

/// An address of this computer that is not loopback.
fn own_address() -> Option<std::net::Ipv4Addr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    // Nothing is sent: the system only chooses a way.
    socket.connect("192.0.2.1:9").ok()?;
    match socket.local_addr().ok()?.ip() {
        std::net::IpAddr::V4(ip) if !ip.is_loopback() => Some(ip),
        _ => None,
    }
}
