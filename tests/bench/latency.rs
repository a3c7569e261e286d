//! From a datagram to the alert's line, and what the program takes at rest, beside a bare receive and
//! print in the same run.
//!
//! `cargo bench --bench latency -- [SECONDS] [PROGRAM]`: so long a row, 20 if left out; another build
//! of the program, to compare with. Real processes, loopback datagrams, Linux.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]
#![cfg_attr(not(target_os = "linux"), allow(dead_code, unused_imports))]

use std::io::{BufRead as _, BufReader, Read, Write as _};
use std::net::UdpSocket;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use overside::edge::Clock;
use overside::mmsi::Mmsi;
use overside::wire::ais::{Body, Message, SafetyText};
use portable_pty::{CommandBuilder, MasterPty, PtySize, native_pty_system};

mod corpus;
mod memory;
mod table;
use corpus::{Corpus, sentence};
use memory::folder;
use table::row;

/// Tells this program that it is the bare receiver, and its port.
const FLOOR: &str = "OVERSIDE_BENCH_FLOOR";

/// Words of the beacon a second: one that raises an alert, one that ends it.
const WORDS: u32 = 25;

fn main() {
    if !cfg!(target_os = "linux") {
        eprintln!("NOT RUN: what a process takes is read from /proc");
        return;
    }
    if is_floor() {
        return;
    }
    let given: Vec<String> = std::env::args().skip(1).filter(|it| it != "--bench").collect();
    let seconds = given.iter().find_map(|it| it.parse().ok()).unwrap_or(20);
    let program = given.iter().find_map(|it| std::fs::canonicalize(it).ok());
    let program = program.unwrap_or_else(|| env!("CARGO_BIN_EXE_overside").into());
    table(program, seconds);
}

/// Whether this process was the bare receiver, until it was ended.
pub fn is_floor() -> bool {
    let port = std::env::var(FLOOR).ok().and_then(|it| it.parse().ok());
    port.map(floor).is_some()
}

/// A row for each way of being told of an alert, and of each at rest.
pub fn table(program: PathBuf, seconds: u32) {
    let bench = Bench { program, seconds, lines: Corpus::mixed().lines, clock: Clock::start() };
    for rate in [75, 750] {
        let bare = bench.alerts(BARE, &bench.floor(), rate, None);
        for place in [Place::Nowhere, Place::Memory, Place::SlowDisk] {
            let watch = bench.headless(place);
            let slow = (place == Place::SlowDisk).then(|| slow_disk(watch.home.path()));
            bench.alerts(place.name(), &watch, rate, Some(bare));
            drop(slow);
        }
        bench.alerts("bell, screen", &bench.on_screen(), rate, Some(bare));
    }
    for rate in [75, 0] {
        bench.at_rest(BARE, &bench.floor(), rate);
        bench.at_rest(Place::Memory.name(), &bench.headless(Place::Memory), rate);
        bench.at_rest("screen", &bench.on_screen(), rate);
    }
}

/// What everything is beside.
const BARE: &str = "bare receive and print";

/// Receives and prints, and nothing else: what no program on this runtime can be faster than.
fn floor(port: u16) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let socket = tokio::net::UdpSocket::bind(("127.0.0.1", port)).await.unwrap();
        let mut buffer = [0; 2048];
        let mut out = std::io::stdout().lock();
        loop {
            let length = socket.recv(&mut buffer).await.unwrap();
            out.write_all(&buffer[..length]).and_then(|()| out.flush()).unwrap();
        }
    });
}

/// Where a watch without a screen keeps its logbook.
#[derive(Clone, Copy, PartialEq)]
enum Place {
    Nowhere,
    Memory,
    SlowDisk,
}

impl Place {
    const fn name(self) -> &'static str {
        match self {
            Self::Nowhere => "no logbook",
            Self::Memory => "logbook in memory",
            Self::SlowDisk => "500 ms a write",
        }
    }
}

/// Another program lets the logbook go for moments alone: to the writer the same as such a disk.
fn slow_disk(home: &Path) -> mpsc::Sender<()> {
    let book = rusqlite::Connection::open(home.join("book/logbook.db")).unwrap();
    book.busy_timeout(Duration::from_secs(60)).unwrap();
    let (busy, done) = mpsc::channel();
    std::thread::spawn(move || {
        while done.try_recv() == Err(mpsc::TryRecvError::Empty) {
            book.execute_batch("BEGIN IMMEDIATE").unwrap();
            std::thread::sleep(Duration::from_millis(500));
            book.execute_batch("COMMIT").unwrap();
            std::thread::sleep(Duration::from_millis(15));
        }
    });
    busy
}

/// A program that is fed, and when each line came that tells of an alert.
struct Subject {
    child: Option<Child>,
    /// The terminal it draws on.
    _terminal: Option<Box<dyn MasterPty + Send>>,
    pid: u32,
    port: u16,
    told: Receiver<u64>,
    home: tempfile::TempDir,
}

impl Drop for Subject {
    fn drop(&mut self) {
        // By a signal that lets it end well.
        let _ = Command::new("kill").arg(self.pid.to_string()).status();
        if let Some(child) = &mut self.child {
            let _ = child.wait();
        }
    }
}

/// Half and 99 of 100 are told within so many microseconds.
#[derive(Clone, Copy)]
struct Slowest {
    p50: u64,
    p99: u64,
}

struct Bench {
    program: PathBuf,
    seconds: u32,
    lines: Vec<Vec<u8>>,
    clock: Clock,
}

impl Bench {
    fn floor(&self) -> Subject {
        let port = free_port();
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.env(FLOOR, port.to_string());
        let line = spoken("MOB ACTIVE", 0);
        let payload = line.split(|&byte| byte == b',').nth(5).unwrap_or_default();
        self.start(command, port, folder(), payload)
    }

    fn headless(&self, place: Place) -> Subject {
        let (port, home) = (free_port(), folder());
        let mut command = Command::new(&self.program);
        command.env_clear().env("HOME", home.path()).env("XDG_RUNTIME_DIR", home.path());
        command.args(["watch", "--headless", "--json", "--input"]);
        command.arg(format!("udp://127.0.0.1:{port}"));
        let config = home.path().join("overside.toml");
        // A player that ends at once: the sound is started as ever.
        std::fs::write(&config, "[alarm]\ncommand = [\"true\"]\n").unwrap();
        command.env("PATH", "/usr/bin:/bin").arg("--config").arg(config);
        if place != Place::Nowhere {
            command.arg("--storage").arg(home.path().join("book"));
        } else {
            // No folder for it is known: nothing is written.
            command.env_remove("HOME");
        }
        self.start(command, port, home, b"\"state\":\"active_unacknowledged\",\"mmsi\":972000017")
    }

    fn on_screen(&self) -> Subject {
        let (port, home) = (free_port(), folder());
        let mut command = CommandBuilder::new(&self.program);
        command.env_clear();
        command.cwd(home.path());
        for (name, value) in [("TERM", "xterm-256color"), ("LANG", "C.UTF-8"), ("PATH", "/none")] {
            command.env(name, value);
        }
        command.env("HOME", home.path());
        command.args(["watch", "--input", &format!("udp://127.0.0.1:{port}"), "--storage"]);
        command.arg(home.path().join("book"));
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut child = pair.slave.spawn_command(command).unwrap();
        let pid = child.process_id().unwrap();
        std::thread::spawn(move || child.wait());
        let mut output = pair.master.try_clone_reader().unwrap();
        let (tell, told) = mpsc::channel();
        let clock = self.clock;
        std::thread::spawn(move || {
            let mut bytes = [0; 65_536];
            while let Ok(length @ 1..) = output.read(&mut bytes) {
                let now = clock.now().at.micros();
                if memchr::memchr(7, &bytes[..length]).is_some() && tell.send(now).is_err() {
                    return;
                }
            }
        });
        std::thread::sleep(Duration::from_secs(1));
        let _terminal = Some(pair.master);
        Subject { child: None, _terminal, pid, port, told, home }
    }

    /// Starts one that prints lines; those with `mark` tell of an alert.
    fn start(
        &self,
        mut command: Command,
        port: u16,
        home: tempfile::TempDir,
        mark: &[u8],
    ) -> Subject {
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let (tell, told) = mpsc::channel();
        let clock = self.clock;
        let mark = memchr::memmem::Finder::new(mark).into_owned();
        std::thread::spawn(move || {
            for line in output.split(b'\n') {
                let now = clock.now().at.micros();
                if mark.find(&line.unwrap()).is_some() && tell.send(now).is_err() {
                    return;
                }
            }
        });
        // Until it listens, and what it does at its beginning is done.
        std::thread::sleep(Duration::from_secs(1));
        let pid = child.id();
        Subject { child: Some(child), _terminal: None, pid, port, told, home }
    }

    /// Sends so many lines a second; `each` is called before each with its number.
    fn feed(&self, to: &Subject, rate: u32, mut each: impl FnMut(u32, &dyn Fn(&[u8]))) {
        let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
        socket.connect(("127.0.0.1", to.port)).unwrap();
        let send = |line: &[u8]| drop(socket.send(&[line, b"\r\n"].concat()));
        let begun = self.clock.now().at.micros();
        for (n, line) in (0..rate * self.seconds).zip(self.lines.iter().cycle()) {
            let due = begun + u64::from(n) * 1_000_000 / u64::from(rate);
            std::thread::sleep(Duration::from_micros(
                due.saturating_sub(self.clock.now().at.micros()),
            ));
            each(n, &send);
            send(line);
        }
    }

    /// Raises one alert after the other, each ended before the next.
    fn alerts(&self, name: &str, subject: &Subject, rate: u32, bare: Option<Slowest>) -> Slowest {
        let mut took = Vec::new();
        let mut missing = 0;
        let mut raised = false;
        self.feed(subject, rate, |n, send| {
            if !n.is_multiple_of(rate / WORDS) {
                return;
            }
            raised = !raised;
            if !raised {
                return send(&spoken("MOB OFF", n));
            }
            while subject.told.try_recv().is_ok() {}
            let sent = self.clock.now().at.micros();
            send(&spoken("MOB ACTIVE", n));
            match subject.told.recv_timeout(Duration::from_secs(2)) {
                Ok(told) => took.push(told.saturating_sub(sent)),
                Err(_) => missing += 1,
            }
        });
        took.sort_unstable();
        let at = |share: usize| took.get(took.len() * share / 100).copied().unwrap_or(u64::MAX);
        let slowest = Slowest { p50: at(50), p99: at(99) };
        let ms = |us: u64| us as f64 / 1000.0;
        let figure = format!("p50 {:.3} p99 {:.3} ms", ms(slowest.p50), ms(slowest.p99));
        let times = |of: u64, by: u64| of as f64 / by as f64;
        let beside = bare.map(|bare| {
            let (p50, p99) = (times(slowest.p50, bare.p50), times(slowest.p99, bare.p99));
            format!("{p50:.1} and {p99:.1} times the bare receive, ")
        });
        let more = if missing > 0 { format!(", {missing} NOT TOLD") } else { String::new() };
        let beside = format!("{}{} alerts{more}", beside.unwrap_or_default(), took.len());
        row(&format!("alert at {rate} a second, {name}"), &figure, &beside);
        slowest
    }

    /// Nothing but traffic, or nothing at all.
    fn at_rest(&self, name: &str, subject: &Subject, rate: u32) {
        // What it does at its beginning is done, and an input that is silent has been told.
        std::thread::sleep(Duration::from_secs(4));
        let before = taken(subject.pid);
        let begun = self.clock.now().at.micros();
        if rate > 0 {
            self.feed(subject, rate, |_, _| {});
        } else {
            std::thread::sleep(Duration::from_secs(self.seconds.into()));
        }
        let after = taken(subject.pid);
        let seconds = (self.clock.now().at.micros() - begun) as f64 / 1e6;
        let share = (after.0 - before.0) as f64 / 1e7 / seconds;
        let switches = (after.1 - before.1) as f64 / seconds;
        let beside = format!("{switches:.1} switches a second");
        row(
            &format!("at rest at {rate} a second, {name}"),
            &format!("{share:.2} % of a core"),
            &beside,
        );
    }
}

/// A beacon's word.
fn spoken(word: &str, n: u32) -> Vec<u8> {
    let mmsi = Mmsi::new(972_000_017).unwrap();
    let body = Body::SafetyText(SafetyText::new(word.parse().unwrap(), mmsi));
    sentence(&Message { kind: 14, repeat: 0, mmsi, body }, n)
}

/// Nanoseconds on a processor and switches of its own accord, of all threads of a process.
fn taken(pid: u32) -> (u64, u64) {
    let threads = std::fs::read_dir(format!("/proc/{pid}/task")).unwrap();
    let of = |thread: PathBuf| {
        let read = |name: &str| std::fs::read_to_string(thread.join(name)).unwrap_or_default();
        let ran = read("schedstat").split(' ').next().and_then(|it| it.parse().ok()).unwrap_or(0);
        let status = read("status");
        let switched = status.lines().find_map(|it| it.strip_prefix("voluntary_ctxt_switches:"));
        (ran, switched.and_then(|it| it.trim().parse().ok()).unwrap_or(0))
    };
    threads
        .map(|it| of(it.unwrap().path()))
        .fold((0, 0), |all: (u64, u64), it| (all.0 + it.0, all.1 + it.1))
}

fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}
