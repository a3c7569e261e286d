//! The loop of a live watch, in this process: its front breaks, its logbook does not answer.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::collections::VecDeque;
use std::io;
use std::net::UdpSocket;
use std::path::PathBuf;
use std::time::Duration;

use overside::app::{Plan, watch};
use overside::edge::SounderSettings;
use overside::frontend::{Context, Frontend, Request};
use overside::time::Stamp;
use overside::watch::{AlertId, Cause, Command, Event, EventBody, Settings, State, Watch};

const MATE: u32 = 972_000_017;
const OTHER: u32 = 972_000_016;

/// Whoever looks on; ends the watch once it is told what is waited for.
#[derive(Default)]
struct Eye {
    /// Panics as often in each of these.
    tells: u32,
    shows: u32,
    asks: u32,
    told: Vec<Event>,
    /// An emergency is acknowledged as soon as it is shown.
    keys: VecDeque<AlertId>,
    /// The casualties that were acknowledged: as many as end the watch.
    enough: usize,
    acknowledged: Vec<u32>,
}

/// Counts one down.
fn one_of(left: &mut u32) -> bool {
    let is_one = *left > 0;
    *left = left.saturating_sub(1);
    is_one
}

impl Frontend for Eye {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        self.told.push(event.clone());
        if let EventBody::Alert(alert) = &event.body
            && alert.state == State::ActiveAcknowledged
            && alert.cause == Cause::BeaconActive
        {
            self.acknowledged.extend(alert.mmsi.map(|it| it.value()));
        }
        let emergency =
            matches!(&event.body, EventBody::Alert(it) if it.cause == Cause::BeaconActive);
        assert!(!(emergency && one_of(&mut self.tells)), "it cannot be told");
        Ok(())
    }

    fn show(&mut self, watch: &Watch, _: Stamp, _: Context<'_>) -> io::Result<()> {
        let new = watch.alerts().iter().filter(|it| {
            it.cause == Cause::BeaconActive && it.state == State::ActiveUnacknowledged
        });
        self.keys = new.map(|it| it.id).collect();
        assert!(self.keys.is_empty() || !one_of(&mut self.shows), "it cannot be shown");
        Ok(())
    }

    fn next_frame(&self) -> Option<Duration> {
        None
    }

    async fn request(&mut self) -> Request {
        if self.acknowledged.len() >= self.enough {
            return Request::Quit;
        }
        let Some(id) = self.keys.pop_front() else { return std::future::pending().await };
        assert!(!one_of(&mut self.asks), "it cannot be asked");
        Request::Command(Command::Acknowledge(id))
    }
}

fn plan(port: u16, folder: Option<PathBuf>) -> Plan {
    let uri = format!("udp://127.0.0.1:{port}");
    Plan {
        inputs: vec![("ais".to_owned(), uri.parse().unwrap())],
        settings: Settings::default(),
        muster: Vec::new(),
        sounder: SounderSettings {
            command: None,
            sound: false,
            bell: false,
            path: Default::default(),
            hangs_after: Duration::from_secs(1),
        },
        hooks: Vec::new(),
        outputs: Vec::new(),
        finds: None,
        keeps_logbook: folder.is_some(),
        folder,
        configuration: None,
        record: None,
        door: None,
        watchkeeper: None,
    }
}

/// Keeps a watch until enough was acknowledged, or for ten seconds. `sends` sends meanwhile.
fn keep(plan: Plan, eye: &mut Eye, sends: impl Future<Output = ()>) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let done = runtime.block_on(async {
        tokio::select! {
            done = watch(plan, || None, eye) => Some(done),
            () = async { sends.await; tokio::time::sleep(Duration::from_secs(10)).await } => None,
        }
    });
    runtime.shutdown_background();
    match done {
        Some(done) => done.unwrap(),
        None => panic!("not enough was acknowledged: {:?}", eye.told),
    }
}

fn active(mmsi: u32) -> String {
    support::vdm(&support::position(mmsi, 14, None, 60), 'A') + "\r\n"
}

fn sender() -> (UdpSocket, u16) {
    let free = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    (UdpSocket::bind("127.0.0.1:0").unwrap(), free)
}

/// A front that panics as it tells, shows or is asked: the watch goes on, keys are answered, what
/// comes after is heard, and the fault is told.
#[test]
fn a_panic_in_the_front_ends_no_watch() {
    let faults = [
        Eye { tells: 1, ..Eye::default() },
        Eye { shows: 1, ..Eye::default() },
        Eye { asks: 1, ..Eye::default() },
        Eye { tells: 3, shows: 3, asks: 2, ..Eye::default() },
    ];
    for mut eye in faults {
        eye.enough = 2;
        let (sender, port) = sender();
        keep(plan(port, None), &mut eye, async move {
            for mmsi in [MATE, OTHER] {
                tokio::time::sleep(Duration::from_millis(300)).await;
                sender.send_to(active(mmsi).as_bytes(), ("127.0.0.1", port)).unwrap();
            }
        });
        assert_eq!(eye.acknowledged, [MATE, OTHER]);
        let failed = |it: &Event| matches!(&it.body, EventBody::Alert(it) if it.text.contains("it panicked: it cannot be"));
        assert!(eye.told.iter().any(failed), "{:?}", eye.told);
    }
}

/// One burst while the logbook does not answer, right after the start.
#[test]
fn what_comes_in_before_the_logbook_answers_is_heard() {
    let folder = tempfile::tempdir().unwrap();
    let lock = rusqlite::Connection::open(folder.path().join("logbook.db")).unwrap();
    let held = "CREATE TABLE held (it); PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE";
    lock.execute_batch(held).unwrap();
    let (sender, port) = sender();
    let mut eye = Eye { enough: 1, ..Eye::default() };
    keep(plan(port, Some(folder.path().to_owned())), &mut eye, async move {
        tokio::time::sleep(Duration::from_millis(100)).await;
        sender.send_to(active(MATE).as_bytes(), ("127.0.0.1", port)).unwrap();
    });
    assert_eq!(eye.acknowledged, [MATE]);
}

/// A front that waits at each hop for what is to have happened by then, and looks that nothing is
/// written down yet as it is told: the loop stands while it waits.
struct Hops {
    folder: PathBuf,
    passed: Vec<&'static str>,
    /// What the output says to the alarm.
    closed: bool,
}

impl Hops {
    fn is_alarm(event: &Event) -> bool {
        matches!(&event.body, EventBody::Alert(it) if it.cause == Cause::BeaconActive)
    }

    fn is_logged(&self) -> bool {
        let book = overside::logbook::Reader::open(&self.folder).unwrap().unwrap();
        let mut found = false;
        let all = overside::logbook::Filter::default();
        book.entries::<overside::logbook::Error>(&all, |entry| {
            found |= entry.draft.alert().is_some_and(|it| it.cause == Cause::BeaconActive);
            Ok(())
        })
        .unwrap();
        found
    }

    fn is_recorded(&self) -> bool {
        let line = active(MATE);
        std::fs::read_dir(self.folder.join("recordings")).is_ok_and(|mut files| {
            files.any(|it| {
                std::fs::read_to_string(it.unwrap().path()).unwrap().contains(line.trim_end())
            })
        })
    }

    /// Whether this is so within the patience.
    fn waited(is_so: impl Fn() -> bool, patience: u32) -> bool {
        (0..patience / 10).any(|_| {
            std::thread::sleep(Duration::from_millis(10));
            is_so()
        })
    }
}

impl Frontend for Hops {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        if !Self::is_alarm(event) || !self.passed.is_empty() {
            return Ok(());
        }
        if Self::waited(|| self.folder.join("sounds").exists(), 20_000) {
            self.passed.push("sound wanted");
        }
        // Longer than a recording waits for its disk.
        let written = || self.is_logged() || self.is_recorded();
        if !Self::waited(written, 1_000) {
            self.passed.push("nothing written");
        }
        self.passed.push("told");
        if self.closed { Err(io::ErrorKind::BrokenPipe.into()) } else { Ok(()) }
    }

    fn let_go(&mut self) -> io::Result<()> {
        if self.passed.last() == Some(&"told") {
            let written = self.is_logged() || self.is_recorded();
            self.passed.push(if written { "let go late" } else { "let go" });
        }
        Ok(())
    }

    fn show(&mut self, watch: &Watch, _: Stamp, _: Context<'_>) -> io::Result<()> {
        let alarm = watch.alerts().iter().any(|it| it.cause == Cause::BeaconActive);
        if alarm && self.passed.last() != Some(&"drawn") {
            if Self::waited(|| self.is_logged(), 20_000) {
                self.passed.push("logged");
            }
            if Self::waited(|| self.is_recorded(), 20_000) {
                self.passed.push("recorded");
            }
            self.passed.push("drawn");
        }
        Ok(())
    }

    fn next_frame(&self) -> Option<Duration> {
        None
    }

    async fn request(&mut self) -> Request {
        if self.passed.contains(&"drawn") {
            return Request::Quit;
        }
        std::future::pending().await
    }
}

/// The order in which an alarm passes the hops; an output that has closed costs no entry.
#[test]
fn an_alarm_sounds_and_is_told_before_it_is_written_down_and_drawn() {
    for closed in [false, true] {
        let folder = tempfile::tempdir().unwrap();
        let (sender, port) = sender();
        let mut plan = plan(port, Some(folder.path().to_owned()));
        let sounds = folder.path().join("sounds").display().to_string();
        plan.sounder.command = Some(vec!["/usr/bin/env".into(), "touch".into(), sounds]);
        plan.sounder.sound = true;
        plan.record = Some(overside::capture::Retention { days: 30, disk_percent: 90 });
        let mut hops = Hops { folder: folder.path().to_owned(), passed: Vec::new(), closed };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let done = runtime.block_on(async {
            let sends = async {
                tokio::time::sleep(Duration::from_millis(500)).await;
                sender.send_to(active(MATE).as_bytes(), ("127.0.0.1", port)).unwrap();
                tokio::time::sleep(Duration::from_secs(60)).await;
            };
            tokio::select! {
                done = watch(plan, || None, &mut hops) => Some(done),
                () = sends => None,
            }
        });
        runtime.shutdown_background();
        let hop =
            ["sound wanted", "nothing written", "told", "let go", "logged", "recorded", "drawn"];
        assert_eq!(hops.passed, hop, "closed: {closed}");
        done.unwrap().unwrap();
    }
}
