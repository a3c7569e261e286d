//! The program itself, fed by another process: it alarms on the first datagram, ends with its
//! input, and ends quietly when asked.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::UdpSocket;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;

/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(30);

/// A folder for the logbook of each watch alone.
fn storage() -> std::path::PathBuf {
    tempfile::tempdir().unwrap().keep()
}

fn overside(args: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(args)
        .current_dir(std::env::temp_dir())
        .env("OVERSIDE_CONFIG", support::file("sound_off.toml", "[alarm]\nsound = false\n"))
        .env("XDG_DATA_HOME", storage())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

fn events(child: &mut Child) -> mpsc::Receiver<Value> {
    let (tx, rx) = mpsc::channel();
    let output = BufReader::new(child.stdout.take().unwrap());
    std::thread::spawn(move || {
        for line in output.lines() {
            let event = serde_json::from_str(&line.unwrap()).unwrap();
            if tx.send(event).is_err() {
                return;
            }
        }
    });
    rx
}

fn free_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[test]
fn the_first_datagram_raises_the_alarm() {
    let port = free_port();
    let uri = format!("udp://127.0.0.1:{port}");
    let mut child = overside(&["watch", "--headless", "--json", "--input", &uri]);
    let events = events(&mut child);
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let line = support::vdm(&support::position(972_000_017, 14, None, 60), 'A');
    // The port opens some time after the start; a datagram before that is lost.
    let first = (0..300).find_map(|_| {
        let _ = sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", port));
        events.recv_timeout(Duration::from_millis(100)).ok()
    });
    let mut heard = vec![first.expect("no event within the patience")];
    while !heard.iter().any(|event| event["event"] == "beacon_heard") {
        heard.push(events.recv_timeout(PATIENCE).unwrap());
    }
    let alert = heard.iter().find(|event| event["event"] == "alert").unwrap();
    assert_eq!(alert["cause"], "beacon_active");
    assert_eq!(alert["priority"], "emergency_alarm");
    assert_eq!(alert["mmsi"], 972_000_017);
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn a_pipe_that_ends_ends_the_watch() {
    let mut child = overside(&["watch", "--headless", "--json", "--input", "-"]);
    let events = events(&mut child);
    let line = support::vdm(&support::text(972_000_017, "MOB TEST"), 'B');
    child.stdin.take().unwrap().write_all(line.as_bytes()).unwrap();
    let kinds: Vec<String> = std::iter::from_fn(|| events.recv_timeout(PATIENCE).ok())
        .map(|event| event["event"].as_str().unwrap().to_owned())
        .collect();
    let (logged, kinds): (Vec<_>, Vec<_>) = kinds.into_iter().partition(|kind| kind == "logged");
    assert_eq!(kinds, ["input_state", "alert", "beacon_heard"]);
    assert_eq!(logged.len(), 1);
    assert!(child.wait().unwrap().success());
}

#[cfg(unix)]
#[test]
fn a_request_to_end_is_obeyed_while_standard_input_is_open() {
    let port = free_port();
    let uri = format!("udp://127.0.0.1:{port}");
    let mut child = overside(&["watch", "--headless", "--input", "-", "--input", &uri]);
    // Something was heard, so the watch is in its loop.
    let mut stdin = child.stdin.take().unwrap();
    let line = support::vdm(&support::text(972_000_017, "MOB TEST"), 'B');
    stdin.write_all(format!("{line}\n").as_bytes()).unwrap();
    let mut said = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut said).unwrap();
    let pid = child.id().to_string();
    assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
    assert!(child.wait().unwrap().success());
}

/// What a service manager hears (sd_notify(3)): ready, the watchdog, reloading and ready again, the
/// end. And the configuration that was read again holds, while what was open goes on.
#[cfg(unix)]
#[test]
fn a_service_manager_is_told_and_obeyed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notify");
    let manager = std::os::unix::net::UnixDatagram::bind(&path).unwrap();
    manager.set_read_timeout(Some(PATIENCE)).unwrap();
    let hear = |wanted: &str| {
        let mut buffer = [0; 256];
        loop {
            let length = manager.recv(&mut buffer).expect(wanted);
            let text = String::from_utf8_lossy(&buffer[..length]).into_owned();
            if text.starts_with(wanted) {
                return;
            }
        }
    };
    let (first, second) = (free_port(), free_port());
    let config = folder.path().join("overside.toml");
    let write = |ports: &[u16], more: &str| {
        let inputs = ports.iter().map(|port| {
            format!("[[input]]\nname = \"{port}\"\nuri = \"udp://127.0.0.1:{port}\"\n")
        });
        let text = format!("[alarm]\nsound = false\n{}{more}", inputs.collect::<String>());
        std::fs::write(&config, text).unwrap();
    };
    write(&[first], "");
    let mut child = Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(["watch", "--headless", "--json", "--config"])
        .arg(&config)
        .arg("--storage")
        .arg(folder.path())
        .env("NOTIFY_SOCKET", &path)
        .env("WATCHDOG_USEC", "200000")
        .env_remove("WATCHDOG_PID")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let events = events(&mut child);
    hear("READY=1");
    hear("WATCHDOG=1");
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    let alert_by = |port: u16, mmsi: u32| {
        let line = support::vdm(&support::position(mmsi, 14, None, 60), 'A');
        (0..300).find_map(|_| {
            let _ = sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", port));
            let event = events.recv_timeout(Duration::from_millis(100)).ok()?;
            (event["event"] == "alert" && event["mmsi"] == mmsi).then_some(event)
        })
    };
    let before = alert_by(first, 972_000_017).expect("an alert by the first input");
    let pid = child.id().to_string();
    let signal = |name: &str| {
        assert!(Command::new("kill").args([name, &pid]).status().unwrap().success());
    };
    // Another input, and a name for the second beacon; a file that is wrong changes nothing.
    std::fs::write(&config, "this is no TOML").unwrap();
    signal("-HUP");
    hear("RELOADING=1");
    hear("READY=1");
    write(
        &[first, second],
        "[[person]]\nname = \"Cook\"\n[[beacon]]\nmmsi = 972000018\nholder = \"Cook\"\n",
    );
    signal("-HUP");
    hear("RELOADING=1");
    hear("READY=1");
    let after = alert_by(second, 972_000_018).expect("an alert by the second input");
    assert!(after["text"].as_str().unwrap().starts_with("Cook (972000018)"), "{after}");
    assert!(after["id"].as_u64() > before["id"].as_u64());
    // A file that gives no answer, as on a disk of the network: alarms and the watchdog go on without.
    std::fs::remove_file(&config).unwrap();
    assert!(Command::new("mkfifo").arg(&config).status().unwrap().success());
    signal("-HUP");
    hear("RELOADING=1");
    alert_by(second, 972_000_019).expect("an alert while the file does not answer");
    hear("WATCHDOG=1");
    write(&[first], "");
    hear("READY=1");
    signal("-TERM");
    hear("STOPPING=1");
    assert!(child.wait().unwrap().success());
}

/// Standard output is closed by its reader, as by `| head`: with a logbook the watch goes on, alarms,
/// writes it down, and says once what it goes on without.
#[test]
fn a_closed_output_ends_no_watch_with_a_logbook() {
    let folder = storage();
    let mut child = Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(["watch", "--headless", "--json", "--input", "-", "--storage"])
        .arg(&folder)
        .env("OVERSIDE_CONFIG", support::file("sound_off.toml", "[alarm]\nsound = false\n"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut input = child.stdin.take().unwrap();
    let line = |mmsi| support::vdm(&support::position(mmsi, 14, None, 60), 'A');
    let book = || overside::logbook::Reader::open(&folder).ok().flatten();
    let has = |word: &str| {
        let texts = (1..40).filter_map(|entry| Some(book()?.get(entry).ok()??.draft.text));
        texts.filter(|text| text.contains(word)).count()
    };
    for mmsi in 972_000_017..972_000_020_u32 {
        writeln!(input, "{}", line(mmsi)).unwrap();
        let told = (0..600).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            has(&mmsi.to_string()) > 0
        });
        assert!(told, "{mmsi} is not in the book");
    }
    drop(input);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(told.matches("goes on without it").count(), 1, "{told}");
    assert_eq!(has("goes on without it"), 1);
}

/// No file may grow: neither a signal nor an error ends the watch, it alarms and says what it cannot
/// do. The same with nothing left to open files by.
#[cfg(target_os = "linux")]
#[test]
fn limits_of_files_end_no_watch() {
    for limit in ["-n 6", "-n 7", "-n 8"] {
        let script = format!("ulimit {limit}; exec \"$0\" watch --headless --input -");
        let output = Command::new("sh")
            .args(["-c", &script, env!("CARGO_BIN_EXE_overside")])
            .env("XDG_DATA_HOME", storage())
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(2) && told.contains("how many files"), "{told}");
    }
    for limit in ["-f 0", "-n 24", "-n 18", "-n 14", "-n 12"] {
        let script = format!("ulimit {limit}; exec \"$0\" \"$@\"");
        let mut child = Command::new("sh")
            .args(["-c", &script, env!("CARGO_BIN_EXE_overside")])
            .args(["watch", "--headless", "--json", "--input", "-", "--storage"])
            .arg(storage())
            .env("OVERSIDE_CONFIG", support::file("sound_off.toml", "[alarm]\nsound = false\n"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let events = events(&mut child);
        let mut input = child.stdin.take().unwrap();
        let line = support::vdm(&support::position(972_000_017, 14, None, 60), 'A');
        writeln!(input, "{line}").unwrap();
        let wait = |cause: &str| {
            let mut seen = Vec::new();
            while let Ok(event) = events.recv_timeout(PATIENCE) {
                if event["cause"] == cause {
                    return;
                }
                seen.push(event);
            }
            panic!("{limit}: no {cause} in {seen:?}");
        };
        wait("beacon_active");
        if ["-f 0", "-n 12"].contains(&limit) {
            wait("logbook_failed");
        }
        drop(input);
        let output = child.wait_with_output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(!told.contains("panicked"), "{limit}: {told}");
        assert_eq!(output.status.code(), Some(0), "{limit}: {told}");
    }
}
