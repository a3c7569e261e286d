//! Rehearsals played by the program itself: what arrives over loopback and at a pseudo-terminal, and
//! all that it refuses.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::io::{BufRead as _, BufReader, Read as _};
use std::net::UdpSocket;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, UNIX_EPOCH};

use overside::rehearse::{Destination, Refusal, Scenario};
use overside::time::{Mono, Utc};
use overside::wire::{Content, Decoder, InputId};

/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(30);

const SHORT: &str = "about = \"x\"\nstart = 2020-01-01T00:00:00Z\nduration_s = 60\nseed = 1\n\
    [own]\nmmsi = 200000000\nlat = 57.7\nlon = 10.583\n\
    [[beacon]]\nmmsi = 972000017\nmode = \"test\"\nactivate_s = 5\n";

fn start(scenario: &Path, args: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_overside"))
        .arg("rehearse")
        .arg(scenario)
        .args(args)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Exit code and standard error.
fn run(scenario: &Path, args: &[&str]) -> (i32, String) {
    let done = start(scenario, args).wait_with_output().unwrap();
    (done.status.code().unwrap(), String::from_utf8(done.stderr).unwrap())
}

/// The time in a line's TAG block, and whether it is an AIS message.
fn decoded(line: &str) -> (Utc, bool) {
    let line = line.strip_suffix("\r\n").unwrap();
    let decoded = Decoder::new().decode(InputId(0), Mono::START, line.as_bytes()).unwrap().unwrap();
    assert!(decoded.source.is_some(), "{line}");
    (decoded.at.unwrap(), matches!(decoded.content, Content::Ais(_)))
}

#[test]
fn every_line_comes_as_one_datagram_with_the_times_of_the_present() {
    let scenario = support::file("live_short.toml", SHORT);
    let expected = Scenario::parse(SHORT).unwrap().lines().count();
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.set_read_timeout(Some(PATIENCE)).unwrap();
    let to = format!("udp://{}", socket.local_addr().unwrap());
    let child = start(&scenario, &["--live", &to, "--speed", "1000"]);
    let mut datagram = [0; 512];
    let mut lines = Vec::new();
    while lines.len() < expected {
        let length = socket.recv(&mut datagram).unwrap();
        lines.push(String::from_utf8(datagram[..length].to_vec()).unwrap());
    }
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success() && done.stdout.is_empty());
    let told = String::from_utf8(done.stderr).unwrap();
    assert!(told.contains("identities 972000017 are being sent as a rehearsal"), "{told}");

    let heard: Vec<_> = lines.iter().map(|line| decoded(line)).collect();
    assert_eq!(heard.iter().filter(|(_, is_ais)| *is_ais).count(), 8, "one burst");
    assert!(heard.is_sorted_by_key(|(at, _)| *at));
    // A file made now tells the time.
    let made = tempfile::NamedTempFile::new().unwrap().as_file().metadata().unwrap();
    let now = made.modified().unwrap().duration_since(UNIX_EPOCH).unwrap().as_millis() as i64;
    assert!((now - heard[0].0.unix_ms()).abs() < 60_000, "{}", heard[0].0);
    // RMC of the first second: her time is the present, too.
    let (tag, rmc) = lines[0].rsplit_once('\\').unwrap();
    let time = heard[0].0.to_string();
    let clock: String = time[11..19].chars().filter(char::is_ascii_digit).collect();
    assert!(rmc.starts_with(&format!("$GPRMC,{clock}.00,A,")), "{tag} {rmc}");
}

#[cfg(unix)]
#[test]
fn a_pseudo_terminal_is_opened_like_a_serial_port_and_ends_with_ctrl_c() {
    use rustix::fs::{Mode, OFlags, open};

    let scenario = support::file("live_short.toml", SHORT);
    let mut child = start(&scenario, &["--live", "pty"]);
    let mut told = BufReader::new(child.stderr.take().unwrap());
    let mut first = String::new();
    told.read_line(&mut first).unwrap();
    let uri = first.split_whitespace().find(|word| word.starts_with("serial:")).unwrap();
    let device = uri.strip_prefix("serial:").unwrap().strip_suffix("?baud=38400").unwrap();
    let port = open(device, OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).unwrap();
    let mut port = BufReader::new(std::fs::File::from(port));
    for _ in 0..2 {
        let mut line = String::new();
        port.read_line(&mut line).unwrap();
        decoded(&line);
        assert!(line.contains("$GPRMC,"), "{line}");
    }
    let pid = child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &pid]).status().unwrap().success());
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let mut rest = String::new();
    told.read_to_string(&mut rest).unwrap();
    assert!(!rest.contains("error"), "{rest}");
}

#[test]
fn networks_and_ports_are_refused_and_the_reason_is_told() {
    let scenario = support::file("live_short.toml", SHORT);
    for address in [
        "192.0.2.10:10110",
        "255.255.255.255:10110",
        "239.192.0.4:60004",
        "0.0.0.0:10110",
        "[2001:db8::1]:10110",
        "[ff02::1]:10110",
    ] {
        let (code, told) = run(&scenario, &["--live", &format!("udp://{address}")]);
        assert_eq!(code, 2);
        assert!(told.contains("other displays on it would raise a real alarm"), "{told}");
        assert!(told.contains("--to-network"), "{told}");
    }
    for port in ["/dev/ttyS0", "serial:/dev/ttyS0", "serial:/dev/ttyS0?baud=4800", "ttyS0", "COM3"]
    {
        for args in [vec!["--live", port], vec!["--live", port, "--to-network"]] {
            let (code, told) = run(&scenario, &args);
            assert_eq!(code, 2, "{told}");
            assert!(told.contains("a serial port"), "{told}");
        }
    }
    for other in ["tcp://127.0.0.1:10110", "file:x.nmea", "-"] {
        assert_eq!(run(&scenario, &["--live", other]).0, 2);
    }
}

#[test]
fn identities_of_real_beacons_stay_on_this_computer_and_only_if_that_is_meant() {
    let foreign = SHORT.replace("972000017", "972110017");
    let meant = format!("real_identities = true\n{foreign}");
    let called = format!("{SHORT}[[call]]\nat_s = 1\nmeaning = \"test\"\ncaller = 972110017\n");
    let here = Destination::Udp("127.9.9.9:10110".parse().unwrap());
    let here6 = Destination::Udp("[::1]:10110".parse().unwrap());
    let network = Destination::Udp("192.0.2.10:10110".parse().unwrap());
    let judge =
        |text: &str, to: Destination, word: bool| to.admits(&Scenario::parse(text).unwrap(), word);
    for to in [here, here6, Destination::PseudoTerminal] {
        assert_eq!(judge(SHORT, to, false), Ok(()));
        assert_eq!(judge(&meant, to, false), Ok(()));
        assert!(matches!(judge(&foreign, to, true), Err(Refusal::Foreign(_))));
        assert!(matches!(judge(&called, to, false), Err(Refusal::Foreign(_))));
    }
    assert!(matches!(judge(SHORT, network, false), Err(Refusal::Network(_))));
    assert_eq!(judge(SHORT, network, true), Ok(()));
    for text in [&foreign, &meant, &called] {
        assert!(matches!(judge(text, network, true), Err(Refusal::ForeignOnNetwork(_))));
    }
    let path = support::file("live_foreign.toml", &foreign);
    let (code, told) = run(&path, &["--live", "udp://127.0.0.1:9"]);
    assert_eq!(code, 2);
    assert!(told.contains("972110017") && told.contains("real_identities = true"), "{told}");
    // A file alarms nobody.
    assert_eq!(run(&path, &[]).0, 0);
}

/// When the drill's beacon is heard first, in seconds after the start.
fn drilled(scenario: &Path, folder: &Path) -> f64 {
    let to: PathBuf = folder.join("drill.nmea");
    let (code, told) =
        run(scenario, &["--drill", "--within", "20", "--to", &to.display().to_string()]);
    assert_eq!((code, &*told), (0, ""), "nothing tells when it begins");
    let capture = std::fs::read_to_string(to).unwrap();
    let tags = capture.lines().map(|line| line.split('*').next().unwrap());
    assert!(tags.into_iter().all(|tag| tag.ends_with(",t:DRILL")));
    let first = capture.split_inclusive('\n').map(decoded).find(|(_, is_ais)| *is_ais).unwrap();
    first.0.ms_since(Utc::parse_rfc3339("2020-01-01T00:00:00Z").unwrap()) as f64 / 1000.0
}

#[test]
fn nobody_knows_when_a_drill_begins_but_within_what_time() {
    let scenario = support::file("live_drill.toml", &SHORT.replace("\"test\"", "\"active\""));
    let folder = tempfile::tempdir().unwrap();
    let begins: Vec<f64> = (0..4).map(|_| drilled(&scenario, folder.path())).collect();
    // A beacon is first heard 10 to 30 s after it is switched on.
    assert!(begins.iter().all(|begin| (15.0..1230.1).contains(begin)), "{begins:?}");
    assert!(begins.iter().any(|begin| (begin - begins[0]).abs() > 1.0), "{begins:?}");
    let (code, told) =
        run(&scenario, &["--drill", "--live", "udp://127.0.0.1:9", "--speed", "max"]);
    assert_eq!(code, 0);
    assert!(
        told.contains("DRILL") && told.contains("somebody went overboard in the drill at"),
        "{told}"
    );
    let (code, told) = run(&support::file("live_short.toml", SHORT), &["--drill"]);
    assert_eq!(code, 2);
    assert!(told.contains("nobody goes overboard in it"), "{told}");
}
