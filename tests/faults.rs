//! What goes wrong around the program itself while it keeps the watch: each fault with the alert it
//! gives, what goes on meanwhile, and how it ends. `docs/robustness.md` is the whole list.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, UdpSocket};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;

/// Generous: a loaded machine does any of this in that time.
const PATIENCE: Duration = Duration::from_secs(30);

/// The program, watching, and what it tells. Without what it needs to write: that is another test.
struct Watching {
    child: Child,
    data: std::path::PathBuf,
    events: mpsc::Receiver<Value>,
    seen: Vec<Value>,
}

impl Watching {
    fn start(inputs: &[String]) -> Self {
        Self::start_by(Command::new(env!("CARGO_BIN_EXE_overside")), inputs)
    }

    fn start_by(mut command: Command, inputs: &[String]) -> Self {
        let settings = "[alarm]\nsound = false\n[watch]\nais_silence_s = 10\n";
        command.args(["watch", "--headless", "--json", "--no-record"]);
        command.args(inputs.iter().flat_map(|uri| ["--input", uri]));
        let settings = support::file("faults.toml", settings);
        let data = tempfile::tempdir().unwrap().keep();
        // Whoever it is started as.
        for path in [&data, &settings] {
            let anybody = std::os::unix::fs::PermissionsExt::from_mode(0o777);
            std::fs::set_permissions(path, anybody).unwrap();
        }
        let mut child = command
            .env("OVERSIDE_CONFIG", settings)
            .env("XDG_DATA_HOME", &data)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let (tx, events) = mpsc::channel();
        std::thread::spawn(move || {
            let told = output.lines().map(|line| serde_json::from_str(&line.unwrap()).unwrap());
            told.take_while(|event: &Value| tx.send(event.clone()).is_ok()).count()
        });
        Self { child, data, events, seen: Vec::new() }
    }

    /// The first event from now on that is so.
    fn wait_for(&mut self, what: &str, is_so: impl Fn(&Value) -> bool) -> Value {
        while self.seen.len() < 200 {
            let Ok(event) = self.events.recv_timeout(PATIENCE) else { break };
            self.seen.push(event.clone());
            if is_so(&event) {
                return event;
            }
        }
        panic!("no {what} in {:?}", self.seen)
    }

    /// Sends an ACTIVE beacon until its emergency is told: an input opens some time after the start.
    fn hears(&mut self, port: u16, mmsi: u32) {
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        for _ in 0..300 {
            let _ = sender.send_to(active(mmsi).as_bytes(), ("127.0.0.1", port));
            let told = self.events.recv_timeout(Duration::from_millis(100));
            let emergency = |it: &Value| it["cause"] == "beacon_active" && it["mmsi"] == mmsi;
            self.seen.extend(told.clone());
            if told.as_ref().is_ok_and(emergency) {
                return;
            }
        }
        panic!("{mmsi} raises nothing: {:?}", self.seen)
    }

    /// An input's alert in this state, with this in it.
    fn input(&mut self, state: &str, text: &str) {
        self.wait_for(text, |it| {
            it["cause"] == "input_silent"
                && it["state"] == state
                && it["text"].as_str().is_some_and(|it| it.contains(text))
        });
    }

    fn signal(&self, name: &str) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args([name, &pid]).status().unwrap().success());
    }

    /// It ends, and soon.
    fn ends(&mut self) {
        let ended = (0..60).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            self.child.try_wait().unwrap().is_some_and(|it| it.success())
        });
        assert!(ended, "it does not end");
    }

    /// Another limit while it runs; whether the system has a program for that.
    fn limit(&self, limit: &str) -> bool {
        let pid = self.child.id().to_string();
        let done = Command::new("prlimit").args(["--pid", &pid, limit]).status();
        done.is_ok_and(|it| it.success())
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The next connection, in time.
fn accept(server: &TcpListener) -> std::net::TcpStream {
    server.set_nonblocking(true).unwrap();
    let next = (0..600).find_map(|_| {
        std::thread::sleep(Duration::from_millis(50));
        server.accept().ok()
    });
    let (connection, _) = next.expect("a connection, in time");
    connection
}

fn active(mmsi: u32) -> String {
    format!("{}\r\n", support::vdm(&support::position(mmsi, 14, None, 60), 'A'))
}

fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn udp(port: u16) -> String {
    format!("udp://127.0.0.1:{port}")
}

/// Stopped like a computer that sleeps or hangs: what came in meanwhile is heard, what was due is
/// told, and nothing is said of clocks. For three seconds, or `OVERSIDE_STOPPED_S=60` of them.
#[test]
fn what_came_while_it_was_stopped_is_told_when_it_goes_on() {
    let port = free_port();
    let mut watching = Watching::start(&[udp(port)]);
    watching.hears(port, 972_000_017);
    watching.signal("-STOP");
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    sender.send_to(active(972_000_016).as_bytes(), ("127.0.0.1", port)).unwrap();
    let seconds = std::env::var("OVERSIDE_STOPPED_S").ok().and_then(|it| it.parse().ok());
    std::thread::sleep(Duration::from_secs(seconds.unwrap_or(3)));
    watching.signal("-CONT");
    watching.wait_for("second beacon", |it| {
        it["cause"] == "beacon_active" && it["mmsi"] == 972_000_016
    });
    assert!(!watching.seen.iter().any(|it| it["cause"] == "clock_suspect"), "{:?}", watching.seen);
}

/// A disk that takes half a second for each write, as one wakes up or wears out: another program
/// that lets the logbook go for moments alone is the same to the writer. Every alarm is told while
/// the disk is busy, and each is written down in the end.
#[test]
fn a_slow_disk_delays_entries_and_no_alarm() {
    let port = free_port();
    let mut watching = Watching::start(&[udp(port)]);
    watching.hears(port, 972_000_017);
    watching.wait_for("entry", |it| it["event"] == "logged" && it["mmsi"] == 972_000_017);
    let book = rusqlite::Connection::open(watching.data.join("overside/logbook.db")).unwrap();
    book.busy_timeout(PATIENCE).unwrap();
    let (busy, done) = mpsc::channel::<()>();
    let disk = std::thread::spawn(move || {
        let mut pulses = 0;
        while done.try_recv() == Err(mpsc::TryRecvError::Empty) {
            book.execute_batch("BEGIN IMMEDIATE").unwrap();
            std::thread::sleep(Duration::from_millis(500));
            book.execute_batch("COMMIT").unwrap();
            std::thread::sleep(Duration::from_millis(15));
            pulses += 1;
        }
        pulses
    });
    let mates = [972_000_016, 972_000_015, 972_000_014];
    for mmsi in mates {
        watching.hears(port, mmsi);
    }
    for mmsi in mates {
        let is_entry = |it: &Value| it["event"] == "logged" && it["mmsi"] == mmsi;
        if !watching.seen.iter().any(is_entry) {
            watching.wait_for("entry", is_entry);
        }
    }
    drop(busy);
    assert!(disk.join().unwrap() > 0);
    let place = |is_so: &dyn Fn(&Value) -> bool| watching.seen.iter().position(is_so).unwrap();
    for mmsi in mates {
        let told = place(&|it| it["cause"] == "beacon_active" && it["mmsi"] == mmsi);
        assert!(told < place(&|it| it["event"] == "logged" && it["mmsi"] == mmsi), "{mmsi}");
    }
}

/// Another program keeps the port for itself: told, the other input alarms, and the port is opened
/// when it is free.
#[test]
fn an_address_that_is_taken_is_told_and_opened_when_it_is_free() {
    let taken = UdpSocket::bind("127.0.0.1:0").unwrap();
    let (port, other) = (taken.local_addr().unwrap().port(), free_port());
    let mut watching = Watching::start(&[udp(port), udp(other)]);
    watching.input("active_unacknowledged", "does another program keep this port");
    watching.hears(other, 972_000_017);
    drop(taken);
    watching.hears(port, 972_000_016);
}

/// No file descriptor is left as a server hangs up: told, the other input alarms, and it is connected
/// to again when there are some.
#[test]
fn a_lost_connection_comes_back_when_descriptors_do() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = free_port();
    let tcp = format!("tcp://{}", server.local_addr().unwrap());
    let mut watching = Watching::start(&[tcp, udp(port)]);
    let mut connection = accept(&server);
    connection.write_all(active(972_000_017).as_bytes()).unwrap();
    watching.wait_for("emergency", |it| it["mmsi"] == 972_000_017);
    watching.hears(port, 972_000_016);
    if !watching.limit("--nofile=3:4096") {
        eprintln!("NOT RUN: no prlimit on this machine, or it is not allowed");
        return;
    }
    // It is told as it breaks; that it cannot be opened again is the same loss.
    drop(connection);
    watching.input("active_unacknowledged", "the server closed the connection");
    std::thread::sleep(Duration::from_secs(1));
    assert!(server.accept().is_err());
    watching.hears(port, 972_000_015);
    assert!(watching.limit("--nofile=64:4096"));
    let mut connection = accept(&server);
    connection.write_all(active(972_000_014).as_bytes()).unwrap();
    watching
        .wait_for("emergency", |it| it["cause"] == "beacon_active" && it["mmsi"] == 972_000_014);
}

/// No thread is left but that of the output, as another program of the same user takes them all: it
/// hears and alarms, and says what it cannot do. For another user than root, whom no limit binds.
#[test]
fn out_of_threads_it_alarms_and_says_what_it_cannot_do() {
    let as_another = |then: &[&str]| {
        let mut command = Command::new("setpriv");
        command.args(["--reuid=64913", "--regid=64913", "--clear-groups", "prlimit"]).args(then);
        command
    };
    let program = env!("CARGO_BIN_EXE_overside");
    if !as_another(&["--nproc=8", program, "--version"]).status().is_ok_and(|it| it.success()) {
        eprintln!("NOT RUN: this user may not start the program as another");
        return;
    }
    let port = free_port();
    let limited = as_another(&["--nproc=2", program]);
    let mut watching = Watching::start_by(limited, &[udp(port)]);
    watching.hears(port, 972_000_017);
    for what in ["Logbook not written: no thread", "No audible alarm works: no thread"] {
        let is_it = |it: &Value| it["text"].as_str().is_some_and(|it| it.starts_with(what));
        if !watching.seen.iter().any(is_it) {
            watching.wait_for(what, is_it);
        }
    }
}

/// Standard error is a pipe that is full and that nobody reads, as that of a terminal which was
/// stopped: what the program has to say there holds up neither an alarm nor the end.
#[test]
fn a_standard_error_that_sticks_delays_no_alarm() {
    let (_unread, mut full) = std::io::pipe().unwrap();
    let port = free_port();
    let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
    command.stderr(full.try_clone().unwrap());
    std::thread::spawn(move || while full.write_all(&[b'.'; 4096]).is_ok() {});
    let mut watching = Watching::start_by(command, &[udp(port)]);
    watching.hears(port, 972_000_017);
    // It warns of this one.
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    sender.send_to(&[b'x'; 2000], ("127.0.0.1", port)).unwrap();
    watching.hears(port, 972_000_016);
    watching.signal("-TERM");
    watching.ends();
}

/// The same for its last words, why it ends: the end waits for nobody.
#[test]
fn why_it_ends_waits_for_no_standard_error() {
    let (_unread, mut full) = std::io::pipe().unwrap();
    let (first, second) = (free_port(), free_port());
    let mut keeps = Watching::start(&[udp(first)]);
    keeps.hears(first, 972_000_017);
    let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
    command.args(["watch", "--headless", "--no-record", "--input", &udp(second), "--storage"]);
    command.arg(keeps.data.join("overside")).stdout(Stdio::null());
    command.stderr(full.try_clone().unwrap());
    std::thread::spawn(move || while full.write_all(&[b'.'; 4096]).is_ok() {});
    std::thread::sleep(Duration::from_millis(200));
    let mut refused = command.spawn().unwrap();
    let code = (0..200).find_map(|_| {
        std::thread::sleep(Duration::from_millis(50));
        refused.try_wait().unwrap()
    });
    let _ = refused.kill();
    assert_eq!(code.and_then(|it| it.code()), Some(2));
}

/// A name server takes a question and never answers: told after five seconds, the other input alarms
/// at once, and the end of the program waits for nobody.
#[test]
fn a_name_server_that_hangs_holds_up_neither_an_alarm_nor_the_end() {
    let Ok(_silent) = UdpSocket::bind("127.0.0.77:53") else {
        eprintln!("NOT RUN: this user may not stand in for a name server");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let servers = folder.path().join("resolv.conf");
    std::fs::write(&servers, "nameserver 127.0.0.77\noptions timeout:30\n").unwrap();
    let mount = "mount --bind \"$0\" /etc/resolv.conf";
    let shell = |then: &str| {
        let mut command = Command::new("unshare");
        command.args(["--mount", "sh", "-c", &format!("{mount} && {then}")]).arg(&servers);
        command
    };
    if !shell("true").status().is_ok_and(|it| it.success()) {
        eprintln!("NOT RUN: this user may not give the program another name server");
        return;
    }
    let port = free_port();
    let mut command = shell("exec \"$@\"");
    command.arg(env!("CARGO_BIN_EXE_overside"));
    let mut watching =
        Watching::start_by(command, &["tcp://mast.invalid-boat.test:2000".to_owned(), udp(port)]);
    watching.hears(port, 972_000_017);
    assert!(!watching.seen.iter().any(|it| it["cause"] == "input_silent"), "{:?}", watching.seen);
    watching.input("active_unacknowledged", "no answer in 5 s");
    watching.signal("-TERM");
    watching.ends();
}

/// Nothing depends on the time zone of the computer, nor on its having any.
#[test]
fn the_time_zone_changes_nothing() {
    let recording = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.nmea");
    let told = |zone: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
        command.args(["replay", recording, "--json", "--headless", "--speed", "max"]);
        let output = command.env("TZ", zone).env("TZDIR", "/nowhere").output().unwrap();
        assert!(output.status.success() && output.stdout.len() > 100, "{output:?}");
        output.stdout
    };
    let utc = told("");
    for zone in ["America/St_Johns", ":/no/such/file", "XXX-99:99:99YYY", "\u{1b}[2J"] {
        assert!(told(zone) == utc, "{zone}");
    }
}
