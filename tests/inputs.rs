//! The inputs against the world: real sockets, a real pseudo-terminal, a real file.
//!
//! Retries are waited for without waiting: while nothing is connected the clock of the runtime is
//! paused, and then pauses pass at once.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use std::fs::File;
use std::io::Write;
use std::net::{Ipv4Addr, TcpListener, UdpSocket};
use std::os::unix::fs::symlink;
use std::path::Path;
use std::time::Duration;

use overside::edge::Clock;
use overside::edge::input::{Arrival, Important, Retry, Stations, What, spawn};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use tokio::sync::mpsc::{Receiver, channel};
use tokio::task::JoinHandle;

/// A SART's TEST text, published in libais' tests.
const TEST: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
/// The same on the other channel.
const OTHER: &str = "!AIVDM,1,1,,B,>>M@rl1<59B1@E=@0000000,2*0E";

/// Longer than any of this takes on the slowest machine.
const LONG: Duration = Duration::from_secs(30);

const RETRY: Retry =
    Retry { first: Duration::from_millis(10), longest: Duration::from_millis(100) };

/// An input under test, and what it said.
struct Heard {
    rx: Receiver<Arrival>,
    task: JoinHandle<()>,
    last: Option<Arrival>,
}

fn listen(uri: &str) -> Heard {
    let (tx, rx) = channel(64);
    let (clock, first, stations) = (Clock::start(), Important::default(), Stations::default());
    let task = spawn(7, uri.parse().unwrap(), clock, RETRY, tx, first, stations);
    Heard { rx, task, last: None }
}

impl Heard {
    /// The next thing it says.
    async fn next(&mut self) -> What {
        let next = tokio::time::timeout(LONG, self.rx.recv()).await;
        let arrival = next.expect("the input says something").expect("the input still runs");
        assert_eq!(arrival.input, 7);
        if let Some(last) = &self.last {
            assert!(arrival.stamp.at >= last.stamp.at, "{last:?} before {arrival:?}");
        }
        self.last = Some(arrival.clone());
        arrival.what
    }

    async fn opened(&mut self) {
        assert_eq!(self.next().await, What::Opened);
    }

    async fn line(&mut self, line: &str) {
        assert_eq!(self.next().await, What::Line(line.as_bytes().to_vec()));
    }

    /// It is lost, and says all of these.
    async fn lost(&mut self, parts: &[&str]) {
        self.rest_and_loss("", parts).await;
    }

    /// It is lost. The system may or may not hand over what was written just before.
    async fn rest_and_loss(&mut self, rest: &str, parts: &[&str]) {
        let mut what = self.next().await;
        if !rest.is_empty() && what == What::Line(rest.as_bytes().to_vec()) {
            what = self.next().await;
        }
        let What::Lost(reason) = what else { panic!("not lost: {what:?}") };
        for part in parts {
            assert!(reason.contains(part), "{part:?} is not in: {reason}");
        }
    }

    /// It says nothing in a minute of retries.
    async fn silent_for_a_minute(&mut self) {
        tokio::time::pause();
        let next = tokio::time::timeout(Duration::from_secs(60), self.rx.recv()).await;
        tokio::time::resume();
        assert!(next.is_err(), "{next:?}");
    }

    async fn ended(mut self) {
        assert_eq!(self.next().await, What::Ended);
        tokio::time::timeout(LONG, self.task).await.unwrap().unwrap();
    }
}

/// A UDP port that nobody uses.
fn free_udp_port() -> u16 {
    UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

#[tokio::test]
async fn a_datagram_holds_several_lines_and_its_end_ends_one() {
    let port = free_udp_port();
    let mut heard = listen(&format!("udp://127.0.0.1:{port}"));
    heard.opened().await;
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    for datagram in [format!("{TEST}\r\n{OTHER}\r\n"), TEST.to_owned(), OTHER.to_owned()] {
        sender.send_to(datagram.as_bytes(), ("127.0.0.1", port)).unwrap();
    }
    for line in [TEST, OTHER, TEST, OTHER] {
        heard.line(line).await;
    }
}

#[tokio::test]
async fn an_empty_or_odd_datagram_does_not_stop_the_next() {
    let port = free_udp_port();
    let mut heard = listen(&format!("udp://0.0.0.0:{port}"));
    heard.opened().await;
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    for datagram in [&b""[..], &[0xFF, 0, 0x0A, 0x0A], TEST.as_bytes()] {
        sender.send_to(datagram, ("127.0.0.1", port)).unwrap();
    }
    assert_eq!(heard.next().await, What::Line(vec![0xFF, 0]));
    heard.line("").await;
    heard.line(TEST).await;
}

/// IEC 61162-450 7.1.1, 7.1.2: what carries a file or the like is told by its first six bytes alone, not
/// cut into lines that would be noise.
#[tokio::test]
async fn a_datagram_that_is_no_sentences_is_passed_on_as_what_it_is() {
    let port = free_udp_port();
    let mut heard = listen(&format!("udp://127.0.0.1:{port}"));
    heard.opened().await;
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    for header in ["RaUdP", "RrUdP", "NkPgN", "RrTcP", "UdPbC"] {
        let datagram = format!("{header}\0{TEST}\r\n\u{1}\n\u{2}\n");
        sender.send_to(datagram.as_bytes(), ("127.0.0.1", port)).unwrap();
    }
    for header in ["RaUdP\0", "RrUdP\0", "NkPgN\0", "RrTcP\0"] {
        heard.line(header).await;
    }
    heard.line(&format!("UdPbC\0{TEST}")).await;
}

#[tokio::test]
async fn a_multicast_group_is_joined_and_broadcast_to_its_port_is_heard() {
    // A group of IEC 61162-450.
    let group = Ipv4Addr::new(239, 192, 0, 4);
    let port = free_udp_port();
    if let Err(error) = multicast_works_here(group) {
        eprintln!("NOT RUN: this machine has no multicast ({error}); the join is not tested");
        return;
    }
    let mut heard = listen(&format!("udp://{group}:{port}"));
    heard.opened().await;
    let sender = UdpSocket::bind("0.0.0.0:0").unwrap();
    sender.send_to(TEST.as_bytes(), (group, port)).unwrap();
    heard.line(TEST).await;
    sender.set_broadcast(true).unwrap();
    sender.send_to(OTHER.as_bytes(), ("127.255.255.255", port)).unwrap();
    heard.line(OTHER).await;
}

/// Whether a datagram to the group comes back to plain sockets of the standard library.
fn multicast_works_here(group: Ipv4Addr) -> std::io::Result<()> {
    let receiver = UdpSocket::bind("0.0.0.0:0")?;
    receiver.join_multicast_v4(&group, &Ipv4Addr::UNSPECIFIED)?;
    receiver.set_read_timeout(Some(Duration::from_secs(2)))?;
    let port = receiver.local_addr()?.port();
    UdpSocket::bind("0.0.0.0:0")?.send_to(b"probe", (group, port))?;
    receiver.recv(&mut [0; 16]).map(drop)
}

#[tokio::test]
async fn a_server_that_closes_is_connected_to_again() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap();
    let uri = format!("tcp://{address}");
    let mut heard = listen(&uri);
    heard.opened().await;
    let (mut peer, _) = server.accept().unwrap();
    peer.write_all(format!("{TEST}\r\n{OTHER}\n!AIV").as_bytes()).unwrap();
    heard.line(TEST).await;
    heard.line(OTHER).await;

    drop((peer, server));
    heard.line("!AIV").await;
    heard.lost(&[&uri, "the server closed the connection", "trying again"]).await;
    heard.silent_for_a_minute().await;

    let server = TcpListener::bind(address).unwrap();
    heard.opened().await;
    let (mut peer, _) = server.accept().unwrap();
    peer.write_all(format!("{TEST}\r\n").as_bytes()).unwrap();
    heard.line(TEST).await;
}

#[tokio::test]
async fn a_server_by_name_that_is_not_there_yet_is_waited_for() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap();
    drop(server);
    let uri = format!("tcp://localhost:{}", address.port());
    let mut heard = listen(&uri);
    heard.lost(&[&uri, "cannot be connected to", "refused", "does the server run"]).await;
    let _server = TcpListener::bind(address).unwrap();
    heard.opened().await;
}

#[tokio::test]
async fn a_file_is_read_to_its_end() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.nmea");
    std::fs::write(&path, format!("{TEST}\r\n\n{OTHER}")).unwrap();
    let mut heard = listen(&format!("file:{}", path.display()));
    heard.opened().await;
    heard.line(TEST).await;
    heard.line("").await;
    heard.line(OTHER).await;
    heard.ended().await;
}

#[tokio::test]
async fn a_file_that_cannot_be_read_is_lost_and_ends() {
    let folder = tempfile::tempdir().unwrap();
    let uri = format!("file:{}/none.nmea", folder.path().display());
    let mut heard = listen(&uri);
    heard.lost(&[&uri, "cannot be opened", "correct the path"]).await;
    heard.ended().await;
    // A folder can be opened and not be read.
    let uri = format!("file:{}", folder.path().display());
    let mut heard = listen(&uri);
    heard.opened().await;
    heard.lost(&[&uri, "reading failed"]).await;
    heard.ended().await;
}

/// One side of a pseudo-terminal: what is plugged in at the other end of the cable.
struct Plugged {
    wire: File,
    device: String,
}

impl Plugged {
    fn new() -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let device = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        Self { wire: File::from(master), device }
    }

    /// Gives the port its path, as the system does when something is plugged in.
    fn plug(self, path: &Path) -> File {
        symlink(&self.device, path).unwrap();
        self.wire
    }
}

/// The path goes first: the system may give the number of the old device to somebody else.
fn unplug(wire: File, path: &Path) {
    std::fs::remove_file(path).unwrap();
    drop(wire);
}

#[tokio::test]
async fn a_serial_port_is_unplugged_and_plugged_in_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ais");
    let mut wire = Plugged::new().plug(&path);
    let uri = format!("serial:{}?baud=38400", path.display());
    let mut heard = listen(&uri);
    for (line, rest) in [(TEST, "!AIVDM,1"), (OTHER, "")] {
        heard.opened().await;
        wire.write_all(format!("{line}\r\n").as_bytes()).unwrap();
        heard.line(line).await;
        wire.write_all(rest.as_bytes()).unwrap();
        unplug(wire, &path);
        heard
            .rest_and_loss(rest, &[&uri, "unplugged?", "trying again, at least every 0.1 s"])
            .await;
        heard.silent_for_a_minute().await;
        wire = Plugged::new().plug(&path);
    }
    heard.opened().await;
    wire.write_all(format!("{TEST}\n").as_bytes()).unwrap();
    heard.line(TEST).await;
}

#[tokio::test]
async fn a_serial_port_that_is_missing_at_the_start_is_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ais");
    let uri = format!("serial:{}?baud=4800", path.display());
    let mut heard = listen(&uri);
    heard.lost(&[&uri, "cannot be opened", "is it plugged in"]).await;
    heard.silent_for_a_minute().await;
    let mut wire = Plugged::new().plug(&path);
    heard.opened().await;
    wire.write_all(format!("{TEST}\r\n").as_bytes()).unwrap();
    heard.line(TEST).await;
}

#[tokio::test]
async fn bytes_that_end_no_line_are_told_of_and_lost_to_no_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ais");
    let mut wire = Plugged::new().plug(&path);
    let mut heard = listen(&format!("serial:{}?baud=38400", path.display()));
    heard.opened().await;
    let (begun, ended) = TEST.split_at(9);
    wire.write_all(begun.as_bytes()).unwrap();
    tokio::time::sleep(Duration::from_millis(1500)).await;
    wire.write_all(b"!").unwrap();
    assert_eq!(heard.next().await, What::Unended(format!("{begun}!").into_bytes()));
    wire.write_all(format!("{ended}\r\n").as_bytes()).unwrap();
    heard.line(&format!("{begun}!{ended}")).await;
}

#[tokio::test]
async fn an_input_ends_when_nobody_listens() {
    let folder = tempfile::tempdir().unwrap();
    let port = folder.path().join("ais");
    let wire = Plugged::new().plug(&port);
    let retrying = listen(&format!("serial:{}/none", folder.path().display()));
    let mut reading = listen(&format!("serial:{}", port.display()));
    reading.opened().await;
    for heard in [retrying, reading] {
        drop(heard.rx);
        tokio::time::timeout(LONG, heard.task).await.unwrap().unwrap();
    }
    drop(wire);
}

#[tokio::test]
async fn a_slow_program_holds_a_file_back_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.nmea");
    let lines: Vec<String> = (0..5000).map(|n| format!("$XXTXT,{n:04}*00")).collect();
    std::fs::write(&path, lines.join("\r\n")).unwrap();
    let mut heard = listen(&format!("file:{}", path.display()));
    heard.opened().await;
    for line in &lines {
        heard.line(line).await;
    }
    heard.ended().await;
}
