//! A flood of forged beacons at the full rate of loopback: the program itself tells of the muster's
//! beacon all the same. `cargo test --test loopback -- --nocapture` prints the figures.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]
#![expect(clippy::disallowed_methods, reason = "how long the program itself takes is measured")]

mod support;

use std::io::{BufRead as _, BufReader};
use std::net::UdpSocket;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use overside::edge::Clock;
use overside::edge::input::{Important, Retry, Stations, What, spawn};
use overside::mmsi::Mmsi;
use serde_json::Value;

const MATE: u32 = 972_000_017;
/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(30);
/// How long the flood lasts before the crew's beacon is heard, and at most.
const FLOOD_BEFORE: Duration = Duration::from_secs(2);
const FLOOD_AT_MOST: Duration = Duration::from_secs(30);

/// While nobody takes the lines that came before, datagrams are read on: that of the muster is kept.
#[tokio::test]
async fn a_line_of_the_muster_waits_where_others_are_dropped() {
    let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let (tx, mut arrivals) = tokio::sync::mpsc::channel(16);
    let important = Important::default();
    important.set(Mmsi::new(MATE).into_iter());
    let uri = format!("udp://127.0.0.1:{port}").parse().unwrap();
    let task = spawn(0, uri, Clock::start(), Retry::default(), tx, important, Stations::default());
    assert_eq!(arrivals.recv().await.unwrap().what, What::Opened);
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let line = |of| support::vdm(&support::position(of, 14, Some((50.0, -1.5)), 17), 'A');
    let send = |line: &str| sender.send_to(line.as_bytes(), ("127.0.0.1", port)).unwrap();
    let (forged, mate) = (line(972_001_000), line(MATE));
    // More than any buffer of the system holds, and no faster than they are read.
    for _ in 0..400 {
        for _ in 0..50 {
            send(&forged);
        }
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    send(&mate);
    tokio::time::sleep(Duration::from_millis(100)).await;
    let mut lines = 0;
    loop {
        let next = tokio::time::timeout(PATIENCE, arrivals.recv()).await.expect("it was dropped");
        lines += 1;
        match next.unwrap().what {
            What::Line(line) if line == mate.as_bytes() => break,
            other => assert_eq!(other, What::Line(forged.clone().into_bytes())),
        }
    }
    assert_eq!(lines, 17, "those that were waiting, and it");
    // How many were not taken is told, once there is room: each of them, whoever dropped it.
    let dropped = loop {
        let next = tokio::time::timeout(PATIENCE, arrivals.recv()).await.expect("it is not told");
        if let What::Dropped(dropped) = next.unwrap().what {
            break dropped;
        }
    };
    assert!(dropped.by_us > 0, "{dropped:?}");
    assert_eq!(dropped.by_us + dropped.by_system, 400 * 50 - 16);
    task.abort();
}

/// What is told, and when it was read.
fn told(child: &mut Child) -> mpsc::Receiver<(Instant, Value)> {
    let (tx, rx) = mpsc::channel();
    let output = BufReader::new(child.stdout.take().unwrap());
    std::thread::spawn(move || {
        for line in output.lines() {
            let event = serde_json::from_str(&line.unwrap()).unwrap();
            if tx.send((Instant::now(), event)).is_err() {
                return;
            }
        }
    });
    rx
}

/// Sends lines of ten thousand forged identities, one after the other, until it is told to stop.
fn flood(port: u16) -> (Arc<AtomicBool>, Arc<AtomicU64>, std::thread::JoinHandle<()>) {
    let (stop, sent) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicU64::new(0)));
    let (stopped, count) = (stop.clone(), sent.clone());
    let lines: Vec<String> = (0..10_000)
        .map(|number| {
            let body = support::position(972_001_000 + number, 14, Some((50.0, -1.5)), 17);
            format!("{}\r\n", support::vdm(&body, 'A'))
        })
        .collect();
    let thread = std::thread::spawn(move || {
        let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
        let begin = Instant::now();
        for line in lines.iter().cycle() {
            if stopped.load(Ordering::Relaxed) || begin.elapsed() > FLOOD_AT_MOST {
                return;
            }
            // A full buffer refuses some: that is what a flood is.
            if socket.send_to(line.as_bytes(), ("127.0.0.1", port)).is_ok() {
                count.fetch_add(1, Ordering::Relaxed);
            }
        }
    });
    (stop, sent, thread)
}

#[test]
fn the_crew_is_told_of_in_a_flood() {
    let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let folder = tempfile::tempdir().unwrap();
    let config = folder.path().join("overside.toml");
    let muster = format!("[[beacon]]\nmmsi = {MATE}\n");
    std::fs::write(&config, format!("[alarm]\nsound = false\n{muster}")).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(["watch", "--headless", "--json", "--input", &format!("udp://127.0.0.1:{port}")])
        .arg("--config")
        .arg(&config)
        .arg("--storage")
        .arg(folder.path())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let told = told(&mut child);
    let (stop, sent, thread) = flood(port);
    let forged = |event: &Value| event["event"] == "alert" && event["mmsi"] != MATE;
    while !forged(&told.recv_timeout(PATIENCE).unwrap().1) {}
    std::thread::sleep(FLOOD_BEFORE);
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let line = support::vdm(&support::position(MATE, 14, Some((50.0, -1.5)), 17), 'A');
    let begin = Instant::now();
    let mut lines = 0;
    // A burst a second as long as nothing is told.
    let alarmed = loop {
        lines += 1;
        sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", port)).unwrap();
        let until = Instant::now() + Duration::from_secs(1);
        let found = loop {
            let left = until.saturating_duration_since(Instant::now());
            match told.recv_timeout(left) {
                Ok((at, event)) if event["event"] == "alert" && event["mmsi"] == MATE => {
                    break Some((at, event));
                }
                Ok(_) => {}
                Err(_) => break None,
            }
        };
        if let Some((at, event)) = found {
            assert_eq!(event["priority"], "emergency_alarm");
            break at - begin;
        }
        assert!(begin.elapsed() < PATIENCE);
    };
    stop.store(true, Ordering::Relaxed);
    thread.join().unwrap();
    // One line may be lost in the system's buffer on a machine that has other work; not all of them.
    assert!(lines <= 24, "{lines} lines were lost");
    println!(
        "{} datagrams sent, told after {alarmed:?} and {lines} lines",
        sent.load(Ordering::Relaxed)
    );
    child.kill().unwrap();
    child.wait().unwrap();
}
