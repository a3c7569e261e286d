//! What a watch says to other equipment: a second process and real sockets for every output, slow,
//! dead and resetting readers, two programs that face each other.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]
#![expect(clippy::disallowed_methods, reason = "what real sockets take is measured")]

mod support;
#[path = "support/watching.rs"]
mod watching;

use std::io::{BufRead as _, BufReader, Read as _};
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
    _home: tempfile::TempDir,
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
        let mut talking = Self { child, events, to, port, _home: home };
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

    fn send(&self, line: &str) {
        let _ = self.to.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.port));
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

#[test]
fn what_is_heard_goes_on_byte_for_byte_and_soon() {
    let (display, uri) = display();
    let watch = Talking::start(&output("plotter", &uri, "\"heard\""));
    let sentence = vdm(&position(211_000_002, 0, Some((54.5, 10.25)), 7), 'A');
    let lines = [
        sentence.clone(),
        format!("{}{}", tag("s:mast,c:1781402400"), vdm(&position(211_000_003, 0, None, 9), 'B')),
        // Not by the letter, and good.
        format!(" {}  ", sealed("IIMTW,16.5,C")),
        sealed("PXYZ,anything,1"),
    ];
    let mut fastest = Duration::MAX;
    for line in &lines {
        let begun = Instant::now();
        watch.send(line);
        assert_eq!(next_of(&display), format!("{line}\r\n"));
        fastest = fastest.min(begun.elapsed());
    }
    // The others may have met a crowded machine.
    assert!(fastest < Duration::from_millis(5), "{fastest:?}");
    // Noise, a wrong checksum, what makes a transponder transmit, our own: none of it.
    watch.send("noise");
    watch.send(&sentence.replace('*', "*F"));
    watch.send(&sealed("!AIABM,1,1,0,972000017,1,6,0,0"));
    watch.send(&sealed("CDDSC,20,2110000020,00,21,26,,,,,B,"));
    watch.send(&sealed("U8TLL,99,5430.000,N,01015.000,E,Mate,120000,T,"));
    nothing_more(&display);
    watch.send(&sealed("IIMTW,17.5,C"));
    assert!(next_of(&display).contains("17.5"));
    watch.stop();
}

#[test]
fn displays_connect_and_a_slow_or_dead_one_holds_up_nobody() {
    let port = free_port();
    let uri = format!("tcp-listen://127.0.0.1:{port}");
    let watch = Talking::start(&output("plotters", &uri, "\"heard\", \"events\""));
    let connect = || TcpStream::connect(("127.0.0.1", port)).unwrap();
    let good = connect();
    good.set_read_timeout(Some(PATIENCE)).unwrap();
    // One that never reads, one that resets in the middle, one that hangs up at once.
    let slow = socket2::Socket::new(socket2::Domain::IPV4, socket2::Type::STREAM, None).unwrap();
    slow.set_recv_buffer_size(2_048).unwrap();
    slow.connect(&std::net::SocketAddr::from(([127, 0, 0, 1], port)).into()).unwrap();
    let slow = TcpStream::from(slow);
    let mut resets = Some(connect());
    drop(connect());
    std::thread::sleep(Duration::from_millis(200));
    let mut lines = BufReader::new(good).lines().map(Result::unwrap);
    for number in 0..3_000 {
        let line = sealed(&format!("IIMTW,{}.{:02},C", number / 100, number % 100));
        watch.send(&line);
        assert!(lines.any(|it| it == line), "{number}");
        if number == 100 {
            // Unread bytes make a reset of a close.
            resets = None;
        }
    }
    assert!(resets.is_none());
    // That the slow one is too slow is told.
    watch.event(|it| it["cause"] == "output_failed");
    watch.send(&vdm(&text(972_000_017, "MOB ACTIVE"), 'A'));
    let alarm = lines.find(|it| it.contains("emergency_alarm")).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&alarm).unwrap()["mmsi"], 972_000_017);
    watch.event(|it| it["event"] == "alert" && it["priority"] == "emergency_alarm");
    // The slow one is hung up on: it finds an end.
    std::thread::sleep(Duration::from_secs(11));
    slow.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut taken = Vec::new();
    let _ = (&slow).read_to_end(&mut taken);
    assert!(taken.starts_with(b"$") || taken.starts_with(b"{"));
    assert!(taken.len() < 60_000, "{}", taken.len());
    // Others come and go.
    watch.send(&sealed("IIMTW,17.5,C"));
    assert!(lines.any(|it| it.contains("17.5")));
    watch.stop();
}

#[test]
fn a_port_that_is_taken_is_an_alert_and_tried_again() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let uri = format!("tcp-listen://{}", taken.local_addr().unwrap());
    let watch = Talking::start(&output("plotters", &uri, "\"heard\""));
    let failed = |state: &'static str| {
        move |it: &Value| {
            it["cause"] == "output_failed" && it["event"] == "alert" && it["state"] == state
        }
    };
    drop(taken);
    // Rectified, and nobody took note.
    let over = watch.event(failed("rectified_unacknowledged"));
    assert!(over["text"].as_str().unwrap().starts_with("Output: plotters: port 127."), "{over}");
    assert_eq!(over["priority"], "warning");
    watch.stop();
}

/// Each hears the other and passes on what it hears: a line goes round once and ends.
#[test]
fn a_loop_of_two_programs_ends() {
    let (display, uri) = display();
    let (one, two) = (free_port(), free_port());
    let to_two = output("two", &format!("udp://127.0.0.1:{two}"), "\"heard\", \"casualty\"");
    let first = Talking::start_at(one, &(to_two + &output("plotter", &uri, "\"heard\"")));
    let to_one = output("one", &format!("udp://127.0.0.1:{one}"), "\"heard\", \"casualty\"");
    let second = Talking::start_at(two, &to_one);
    let line = vdm(&position(211_000_002, 0, Some((54.5, 10.25)), 7), 'A');
    first.send(&line);
    assert_eq!(next_of(&display), format!("{line}\r\n"));
    nothing_more_of(&display);
    second.send(&vdm(&position(211_000_002, 0, Some((54.6, 10.25)), 8), 'B'));
    next_of(&display);
    nothing_more_of(&display);
    // And a casualty: one alarm in each, and the point of it goes round no more either.
    first.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    for watch in [&first, &second] {
        let alarm = watch.event(|it| it["event"] == "alert" && it["priority"] == "emergency_alarm");
        assert_eq!(alarm["cause"], "beacon_active");
    }
    let ours = next_of(&display);
    assert!(ours.starts_with("!AIVDM"), "{ours}");
    nothing_more_of(&display);
    first.stop();
    second.stop();
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

#[test]
fn a_casualty_is_a_target_a_waypoint_a_notice_and_a_way_until_it_is_over() {
    let (display, uri) = display();
    let more = "rate = 60\nmob = true\nsteer = true\n";
    let watch = Talking::start(&(output("plotter", &uri, "\"casualty\"") + more));
    watch.send(&sealed(OWN));
    // A test is no casualty.
    for (status, channel) in [(15, 'A'), (15, 'B')] {
        watch.send(&vdm(&position(972_000_018, status, Some((54.51, 10.25)), 5), channel));
    }
    watch.send(&vdm(&text(972_000_018, "MOB TEST"), 'A'));
    watch.event(|it| it["cause"] == "beacon_test");
    nothing_more(&display);
    // One without a place: a notice with null fields alone.
    watch.send(&vdm(&position(972_000_017, 14, None, 60), 'B'));
    let notice = own(&display, "MOB");
    assert!(notice.starts_with("U8MOB,00011,A,"), "{notice}");
    assert!(notice.ends_with(",,,,,,,,211000001,"), "{notice}");
    // 1.5 NM to the east.
    watch.send(&sealed(OWN));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let target = own(&display, "TLL");
    assert!(target.starts_with("U8TLL,99,5430.0000,N,01017.5800,E,Mate,"), "{target}");
    assert!(target.ends_with(",T,"), "{target}");
    watch.send(&sealed(OWN));
    let way = own(&display, "RMB");
    assert!(way.starts_with("U8RMB,A,0.00,L,,MOB99,5430.000,N,01017.580,E,1.5,09"), "{way}");
    assert!(way.ends_with(",V,A"), "{way}");
    // Once a second, with all that belongs to it in one datagram.
    let all = next(&display);
    let kinds: Vec<&str> = all.lines().map(|it| &it[3..6]).collect();
    assert_eq!(kinds, ["TLL", "WPL", "MOB", "RMB", "BOD"]);
    assert!(all.contains("$U8WPL,5430.0000,N,01017.5800,E,MOB99*"), "{all}");
    // Near by, somebody must take the helm.
    watch.send(&sealed("GPRMC,120010.00,A,5430.00000,N,01017.40000,E,5.0,90.0,140626,,,A"));
    let until = Instant::now() + PATIENCE;
    while !own(&display, "RMB").starts_with("U8RMB,V,") {
        assert!(Instant::now() < until);
    }
    // Over: said once, and nothing after it.
    watch.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !own(&display, "TLL").ends_with(",Mate,,L,") {
        assert!(Instant::now() < until);
    }
    std::thread::sleep(Duration::from_millis(200));
    nothing_more(&display);
    watch.stop();
}

#[test]
fn alerts_are_told_by_state_and_acknowledged_only_where_that_is_accepted() {
    let ((strict, to_strict), (open, to_open)) = (display(), display());
    let refuses = Talking::start(&output("bams", &to_strict, "\"alerts\""));
    let accepts = Talking::start(&(output("bams", &to_open, "\"alerts\"") + "accept = true\n"));
    // At once: nothing is open, and this program is alive.
    assert!(own(&open, "ALC").starts_with("U8ALC,01,01,"));
    let line = vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A');
    for watch in [&refuses, &accepts] {
        watch.send(&line);
    }
    let raised = own(&open, "ALF");
    let fields: Vec<&str> = raised.split(',').collect();
    assert_eq!(fields[1..3], ["2", "1"], "{raised}");
    assert_eq!(fields[5..10], ["B", "E", "V", "OVS", "10001"], "{raised}");
    assert_eq!(fields[11..], ["1", "0", "PERSON OVERBOARD"], "{raised}");
    let instance = fields[10].to_owned();
    assert!(own(&strict, "ALF").contains(",E,V,OVS,10001,"));
    let ask = |command: &str| sealed(&format!("CAACN,120000.00,OVS,10001,{instance},{command},C"));
    // Silenced, then acknowledged.
    accepts.send(&ask("S"));
    assert!(own(&open, "ALF").contains(",E,S,OVS,10001,"));
    accepts.send(&ask("A"));
    assert!(own(&open, "ALF").contains(",E,A,OVS,10001,"));
    accepts.event(|it| it["event"] == "alert" && it["state"] == "active_acknowledged");
    // Nobody here gives the responsibility away.
    accepts.send(&ask("O"));
    assert!(own(&open, "ARC").ends_with(&format!(",OVS,10001,{instance},O")));
    // Told again when it is asked for.
    accepts.send(&ask("Q"));
    assert!(own(&open, "ALF").contains(",E,A,OVS,10001,"));
    for command in ["A", "S"] {
        refuses.send(&ask(command));
        assert!(own(&strict, "ARC").ends_with(&format!(",OVS,10001,{instance},{command}")));
    }
    nothing_more(&strict);
    // An acknowledged emergency is still an emergency; OFF ends it.
    accepts.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !own(&open, "ALF").contains(",E,N,OVS,10001,") {
        assert!(Instant::now() < until);
    }
    refuses.stop();
    accepts.stop();
}

#[test]
fn signal_k_is_told_who_is_overboard_and_when_nobody_is_any_more() {
    let (display, uri) = display();
    let watch = Talking::start(&(output("server", &uri, "\"signalk\"") + "rate = 60\n"));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let deltas: Vec<Value> =
        next(&display).lines().map(|it| serde_json::from_str(it).unwrap()).collect();
    let value = &deltas[0]["updates"][0]["values"][0];
    assert_eq!(deltas[0]["context"], "vessels.urn:mrn:imo:mmsi:211000001");
    assert_eq!(value["path"], "notifications.mob");
    assert_eq!(value["value"]["state"], "emergency");
    assert_eq!(value["value"]["message"], "Person overboard: Mate");
    assert_eq!(deltas[1]["context"], "sar.urn:mrn:imo:mmsi:972000017");
    let place = &deltas[1]["updates"][0]["values"][0];
    assert_eq!(place["path"], "navigation.position");
    assert!((place["value"]["latitude"].as_f64().unwrap() - 54.5).abs() < 1e-5);
    watch.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !next(&display).contains("\"normal\"") {
        assert!(Instant::now() < until);
    }
    nothing_more(&display);
    watch.stop();
}

/// Whatever happens, nothing that makes a radio or a transponder transmit leaves the program; every
/// formatter there can be is tried on what is passed on, and each of our own sentences is looked at.
#[test]
fn nothing_that_transmits_ever_leaves() {
    let letters = || (b'A'..=b'Z').map(char::from);
    let (mut heard, mut withheld) = (overside::outputs::Heard::default(), Vec::new());
    for formatter in letters()
        .flat_map(|a| letters().flat_map(move |b| letters().map(move |c| format!("{a}{b}{c}"))))
    {
        let line = sealed(&format!("AI{formatter},1,2,3"));
        let verdict = heard.judge(Default::default(), Default::default(), line.as_bytes());
        assert_eq!(verdict == Verdict::Withheld, is_of_a_transmitter(&formatter), "{formatter}");
        if verdict == Verdict::Withheld {
            withheld.push(formatter);
        }
    }
    for needed in ["ABM", "BBM", "AIR", "DSC", "SSD", "VSD", "ACA", "LRF", "FSI"] {
        assert!(withheld.iter().any(|it| it == needed), "{needed}");
    }
    let ours = ["TLL", "WPL", "MOB", "RMB", "BOD", "ALF", "ALC", "ARC", "HBT"];
    assert!(ours.iter().all(|it| !is_of_a_transmitter(it)));
    // What is written: no other formatter is made anywhere in the room.
    let room = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/outputs");
    let mut made = std::collections::BTreeSet::new();
    for file in ["alerts.rs", "casualty.rs"] {
        let text = std::fs::read_to_string(room.join(file)).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap().to_owned();
        for piece in code.split('"').skip(1).step_by(2) {
            let begins = piece.get(..4).filter(|it| {
                it.ends_with(',') && it[..3].bytes().all(|byte| byte.is_ascii_uppercase())
            });
            made.extend(begins.map(|it| it[..3].to_owned()));
        }
    }
    // `ACN,` is what is looked for in what comes in.
    made.remove("ACN");
    assert_eq!(made.into_iter().collect::<Vec<_>>(), {
        let mut ours = ours.map(str::to_owned);
        ours.sort();
        ours.to_vec()
    });
}

/// At 4,800 bits a second not half of what a receiver says at 38,400 has room: what has not is counted
/// and told, and a casualty waits for one sentence at most.
#[test]
fn a_slow_serial_port_drops_what_was_heard_and_says_so_and_the_casualty_goes_first() {
    use std::os::fd::AsFd as _;
    let pair =
        rustix::pty::openpt(rustix::pty::OpenptFlags::RDWR | rustix::pty::OpenptFlags::NOCTTY)
            .unwrap();
    rustix::pty::grantpt(&pair).unwrap();
    rustix::pty::unlockpt(&pair).unwrap();
    let path = rustix::pty::ptsname(pair.as_fd(), Vec::new()).unwrap();
    let path = path.to_str().unwrap().to_owned();
    let (tx, came) = mpsc::channel();
    std::thread::spawn(move || {
        let mut lines = BufReader::new(std::fs::File::from(pair)).lines();
        while let Some(Ok(line)) = lines.next() {
            if tx.send((Instant::now(), line)).is_err() {
                return;
            }
        }
    });
    let uri = format!("serial:{path}?baud=4800");
    let watch = Talking::start(&output("old plotter", &uri, "\"heard\", \"casualty\""));
    let begun = Instant::now();
    let line = |number: u32| {
        let place = Some((54.5, 10.25 + f64::from(number) / 1e4));
        let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
        vdm(&position(211_000_002, 0, place, number as u8 % 60), channel)
    };
    // 75 sentences a second are some 38,400 bits.
    for number in 0..75 * 8 {
        watch.send(&line(number));
        std::thread::sleep(Duration::from_millis(12));
    }
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    let sent = Instant::now();
    let (mut bytes, mut heard) = (0, 0);
    let told = loop {
        let (at, line) = came.recv_timeout(PATIENCE).unwrap();
        bytes += line.len() + 2;
        if line.starts_with("$U8TLL") {
            break at;
        }
        heard += 1;
    };
    assert!(told.duration_since(sent) < Duration::from_secs(2), "{:?}", told.duration_since(sent));
    // No faster than the line.
    let possible = told.duration_since(begun).as_secs_f64() * 480.0;
    assert!((bytes as f64) < possible + 200.0, "{bytes} of {possible}");
    assert!(heard < 75 * 8 / 2, "{heard}");
    let alert = watch.event(|it| it["cause"] == "output_failed");
    let text = alert["text"].as_str().unwrap();
    assert!(text.starts_with("Output: old plotter: too slow or away: "), "{text}");
    watch.stop();
}

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

fn line_of<'a>(said: &'a str, formatter: &str) -> &'a str {
    let begin = format!("$U8{formatter},");
    said.lines().find(|it| it.starts_with(&begin)).unwrap_or_else(|| panic!("{said}"))
}

#[test]
fn while_it_is_silent_the_datum_is_told_and_moves_and_nothing_is_steered_for() {
    let mut scene = Scene::new();
    scene.hear(&sealed(OWN));
    // It drifts to the east, half a knot: a fix a minute.
    for minute in 0..5 {
        let place = Some((54.52, 10.30 + f64::from(minute) * 0.000_24));
        scene.hear(&vdm(&position(972_000_017, 14, place, 9), 'A'));
        scene.wait(60);
    }
    let (heard, _) = scene.say();
    assert!(line_of(&heard, "TLL").contains(",Mate,"), "{heard}");
    assert!(line_of(&heard, "MOB").contains(",1,0,"), "{heard}");
    let mut east = Vec::new();
    for _ in 0..3 {
        scene.wait(600);
        scene.hear(&sealed(OWN));
        let (said, gone) = scene.say();
        assert_eq!(gone, "");
        let target = line_of(&said, "TLL");
        assert!(target.contains(",Mate EST,") && target.contains(",T,*"), "{target}");
        // Estimated by the ship.
        assert!(line_of(&said, "MOB").contains(",0,0,"), "{said}");
        assert!(line_of(&said, "RMB").starts_with("$U8RMB,V,"), "{said}");
        assert!(line_of(&said, "RMB").contains(",E*"), "{said}");
        east.push(target.split(',').nth(4).unwrap().parse::<f64>().unwrap());
    }
    assert!(east.is_sorted() && east[2] - east[0] > 0.05, "{east:?}");
    // The operator says that it is over.
    scene.resolve();
    let (said, gone) = scene.say();
    assert_eq!(said, "");
    assert!(line_of(&gone, "TLL").contains("TLL,99,,,,,Mate EST,,L,"), "{gone}");
    assert_eq!(scene.say(), (String::new(), String::new()));
}

/// However many strangers are heard, the crew's casualty is told, under its number, and nobody who may
/// be in the water is told as lost.
#[test]
fn a_flood_of_strangers_hides_nobody_and_loses_nobody() {
    let mut scene = Scene::new();
    scene.hear(&sealed(OWN));
    let stranger = |number: u32| {
        // Each nearer than those before.
        let place = Some((54.5 + 0.1 / f64::from(number + 1), 10.25));
        vdm(
            &position(972_100_000 + number, 14, place, 9),
            if number.is_multiple_of(2) { 'A' } else { 'B' },
        )
    };
    for number in 0..150 {
        scene.hear(&stranger(number));
        let (said, gone) = scene.say();
        assert!(said.matches("$U8TLL,").count() <= 10, "{said}");
        assert_eq!(gone, "", "{number}");
        let numbers: Vec<_> = said.lines().filter(|it| it.starts_with("$U8TLL")).collect();
        let unique: std::collections::HashSet<_> = numbers.iter().map(|it| &it[7..9]).collect();
        assert_eq!(unique.len(), numbers.len(), "{said}");
        // Nobody's way is shown to a stranger.
        assert!(!said.contains("RMB"), "{said}");
    }
    scene.hear(&vdm(&position(972_000_017, 14, Some((54.6, 10.25)), 9), 'A'));
    let (said, gone) = scene.say();
    assert!(said.lines().next().unwrap().contains(",Mate,"), "{said}");
    assert!(said.contains("$U8RMB,A,"), "{said}");
    assert_eq!(gone, "");
}

/// However many alerts strangers raise, the crew's are told, none that is open is told as over, and
/// the list says how many there are, each sentence as long as it may be.
#[test]
fn a_flood_of_alerts_hides_none_of_the_crew() {
    let mut scene = Scene::new();
    let mut list = overside::outputs::AlertList::default();
    let mut told = String::new();
    for number in 0..300_u32 {
        let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
        scene.hear(&vdm(&position(972_100_000 + number, 14, None, 60), channel));
        let ours = |it: &overside::watch::Alert| it.mmsi == Mmsi::new(972_000_017);
        for (_, text) in list.follow(scene.watch.alerts(), ours, scene.stamp()) {
            told += &text;
        }
    }
    scene.hear(&vdm(&position(972_000_017, 14, None, 60), 'A'));
    let ours = |it: &overside::watch::Alert| it.mmsi == Mmsi::new(972_000_017);
    let said = list.follow(scene.watch.alerts(), ours, scene.stamp());
    let said: String = said.into_iter().map(|it| it.1).collect();
    assert!(said.contains("Mate"), "{said}");
    told += &said;
    let [all, real] = list.cycle(scene.stamp());
    assert_eq!(all, real);
    let (mut entries, mut total) = (0, 0);
    for line in told.lines().chain(all.lines()) {
        let body = body(line);
        assert!(!body.contains(",B,E,N,"), "{body}");
        if let Some(fields) = body.strip_prefix("U8ALC,") {
            let fields: Vec<&str> = fields.split(',').collect();
            entries += fields[3].parse::<usize>().unwrap();
            assert_eq!(fields.len(), 4 + 4 * fields[3].parse::<usize>().unwrap());
            total = fields[0].parse().unwrap();
        }
    }
    let lists = all.lines().filter(|it| it.contains("ALC")).count();
    assert_eq!((entries, lists), (200, total));
    assert!(total <= 99, "{total}");
}

/// All that was recorded of real traffic goes through unchanged, but what makes others transmit.
#[test]
fn real_traffic_is_passed_on_byte_for_byte() {
    let Some(folder) = support::recordings() else { return };
    let mut heard = overside::outputs::Heard::default();
    let (mut passed, mut at) = (0, Duration::ZERO);
    let mut folders = vec![folder];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            for line in std::fs::read(&path).unwrap().split(|&byte| byte == b'\n') {
                let line = line.strip_suffix(b"\r").unwrap_or(line);
                at += Duration::from_millis(600);
                let stamp = Stamp { at: Mono::START + at, utc: Utc::EPOCH };
                let verdict = heard.judge(Default::default(), stamp.at, line);
                let good = overside::wire::Line::parse(line);
                match (&good, verdict) {
                    (Ok(_), Verdict::PassedOn) => {
                        let message = Message::heard("ais", stamp, line, false);
                        assert_eq!(&*message.bytes, [line, b"\r\n"].concat());
                        passed += 1;
                    }
                    (Ok(it), Verdict::Withheld) => {
                        assert!(is_of_a_transmitter(it.sentence.formatter));
                    }
                    (Err(_), Verdict::Bad) => {}
                    other => panic!("{other:?}: {}", String::from_utf8_lossy(line)),
                }
            }
        }
    }
    assert!(passed > 1_000, "{passed}");
}

/// Nothing but the clock by which the start was waited for.
fn nothing_more_of(display: &UdpSocket) {
    display.set_read_timeout(Some(Duration::from_millis(700))).unwrap();
    let mut buffer = [0; 4096];
    while let Ok(length) = display.recv(&mut buffer) {
        let came = String::from_utf8_lossy(&buffer[..length]);
        assert!(came.contains("ZDA"), "{came}");
    }
    display.set_read_timeout(Some(PATIENCE)).unwrap();
}

/// What is only rehearsed stays on this computer: it goes to loopback, and to no other address.
#[test]
fn a_rehearsal_does_not_leave_this_computer() {
    let (display, uri) = display();
    let file = tempfile::NamedTempFile::new().unwrap();
    let beyond = UdpSocket::bind("0.0.0.0:0").unwrap();
    beyond.set_read_timeout(Some(Duration::from_millis(300))).unwrap();
    let Some(address) = own_address() else {
        eprintln!("NOT RUN: this computer has no address but loopback");
        return;
    };
    let port = beyond.local_addr().unwrap().port();
    let outputs = [
        output("plotter", &uri, "\"heard\", \"events\", \"casualty\", \"alerts\", \"signalk\""),
        output(
            "net",
            &format!("udp://{address}:{port}"),
            "\"heard\", \"events\", \"casualty\", \"alerts\", \"signalk\"",
        ),
        output("file", &format!("file:{}", file.path().display()), "\"heard\""),
    ];
    let watch = Talking::start(&outputs.concat());
    let line = format!(
        "{}{}",
        tag("t:REHEARSAL"),
        vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A')
    );
    watch.send(&line);
    assert!(std::iter::repeat_with(|| next_of(&display)).any(|it| it.starts_with(&line)));
    watch.event(|it| it["event"] == "alert" && it["rehearsed"] == "rehearsal");
    let mut buffer = [0; 4096];
    while let Ok(length) = beyond.recv(&mut buffer) {
        let came = String::from_utf8_lossy(&buffer[..length]);
        assert!(!came.contains("972000017") && !came.contains("REHEARSAL"), "{came}");
        assert!(!came.contains("Mate"), "{came}");
    }
    watch.stop();
    assert!(std::fs::read_to_string(file.path()).unwrap().contains(&line));
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
