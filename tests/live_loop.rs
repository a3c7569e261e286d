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
