//! Several stations as one watch: relays, a real broker (mosquitto) and a watch, each a process of its
//! own. Traffic goes in by datagrams on loopback.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]
#![expect(clippy::disallowed_methods, reason = "what real processes take is measured")]

mod support;

use std::collections::{HashMap, HashSet};
use std::io::{BufRead as _, BufReader};
use std::net::{TcpListener, TcpStream, UdpSocket};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;

/// How long what must come may take.
const PATIENCE: Duration = Duration::from_secs(60);

/// A process that ends with the test.
struct Process(Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Process {
    fn terminate(&mut self) {
        let pid = self.0.id().to_string();
        assert!(Command::new("kill").arg(pid).status().unwrap().success());
        self.0.wait().unwrap();
    }
}

/// Looks again and again until it is so.
fn wait_for(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < PATIENCE, "it never came: {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// The broker, or `None`, said loudly, where there is none; under CI that is a failure.
fn mosquitto() -> Option<PathBuf> {
    let found = ["/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto", "/usr/bin/mosquitto"];
    let found = found.iter().map(PathBuf::from).find(|path| path.is_file());
    if found.is_none() {
        assert!(std::env::var_os("CI").is_none(), "mosquitto is missing under CI");
        eprintln!("NOT RUN: mosquitto is missing, and with it every check of many stations");
    }
    found
}

/// Test material, made once: an authority, another, and what the first vouches for.
fn certificates(name: &str) -> String {
    format!("{}/tests/support/certificates/{name}.pem", env!("CARGO_MANIFEST_DIR"))
}

struct Broker {
    port: u16,
    /// The certificate by which it proves who it is, if the connection is encrypted.
    certificate: Option<&'static str>,
    folder: tempfile::TempDir,
    program: PathBuf,
    process: Option<Process>,
}

impl Broker {
    fn start() -> Option<Self> {
        Self::start_as(None)
    }

    fn start_as(certificate: Option<&'static str>) -> Option<Self> {
        let (port, folder) = (free_port(), tempfile::tempdir().unwrap());
        let mut broker = Self { port, certificate, folder, program: mosquitto()?, process: None };
        broker.begin();
        Some(broker)
    }

    /// It remembers nothing of what was before.
    fn begin(&mut self) {
        let file = self.folder.path().join("broker.conf");
        let mut text = format!(
            "user root\nlistener {} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\n\
             max_inflight_messages 0\nset_tcp_nodelay true\nlog_type none\n",
            self.port
        );
        if let Some(name) = self.certificate {
            let path = certificates(name);
            text.push_str(&format!("certfile {path}\nkeyfile {path}\n"));
        }
        std::fs::write(&file, text).unwrap();
        let mut command = Command::new(&self.program);
        let begun = command.arg("-c").arg(&file).stderr(Stdio::null()).stdout(Stdio::null());
        self.process = Some(Process(begun.spawn().unwrap()));
        wait_for("the broker", || TcpStream::connect(("127.0.0.1", self.port)).is_ok());
    }

    /// Killed, without a word to anybody.
    fn kill(&mut self) {
        self.process = None;
    }

    fn address(&self, topic: &str) -> String {
        if self.certificate.is_none() {
            return format!("mqtt://127.0.0.1:{}{topic}", self.port);
        }
        let mark = if topic.contains('?') { '&' } else { '?' };
        format!("mqtts://localhost:{}{topic}{mark}ca={}", self.port, certificates("ca"))
    }
}

/// A station: a relay, and a socket that stands for its receiver.
struct Station {
    relay: Process,
    socket: UdpSocket,
    folder: tempfile::TempDir,
}

/// The program in a place of its own.
fn program(folder: &Path) -> Command {
    let built = assert_cmd::cargo::cargo_bin!("overside");
    let mut command =
        Command::new(std::env::var_os("OVERSIDE_PROGRAM").unwrap_or_else(|| built.into()));
    for name in ["HOME", "XDG_RUNTIME_DIR", "XDG_CONFIG_HOME", "XDG_DATA_HOME"] {
        command.env(name, folder);
    }
    command.current_dir(folder).stdin(Stdio::null());
    command
}

impl Station {
    fn start(name: &str, brokers: &[&Broker]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let relay = Self::begin(name, brokers, folder.path(), port);
        let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
        socket.connect(("127.0.0.1", port)).unwrap();
        Self { relay, socket, folder }
    }

    /// After its relay has ended.
    fn begin_again(&mut self, name: &str, brokers: &[&Broker]) {
        let port = self.socket.peer_addr().unwrap().port();
        self.relay = Self::begin(name, brokers, self.folder.path(), port);
    }

    fn begin(name: &str, brokers: &[&Broker], folder: &Path, port: u16) -> Process {
        let mut command = program(folder);
        command.arg("relay").arg("--storage").arg(folder);
        command.arg("--input").arg(format!("udp://127.0.0.1:{port}"));
        for (number, broker) in brokers.iter().enumerate() {
            let spool = folder.join(number.to_string());
            let topic = format!("/overside/{name}?spool={}", spool.display());
            command.arg("--output").arg(broker.address(&topic));
        }
        let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
        let said = BufReader::new(child.stderr.take().unwrap());
        let mut said = said.lines();
        assert!(said.any(|line| line.unwrap().contains("is open")), "the relay ended");
        std::thread::spawn(move || said.for_each(drop));
        Process(child)
    }

    /// What waits on its disk for the first of its brokers.
    fn waits(&self) -> String {
        text_of(&self.folder.path().join("0"))
    }

    fn hears(&self, line: &str) {
        self.socket.send(line.as_bytes()).unwrap();
    }
}

/// All files of a folder, one after the other.
fn text_of(folder: &Path) -> String {
    let entries = std::fs::read_dir(folder).into_iter().flatten();
    let mut files: Vec<_> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    // One may have been sent and be gone by now.
    files.iter().map(|file| std::fs::read_to_string(file).unwrap_or_default()).collect()
}

/// A watch of many ears.
struct Watch {
    process: Process,
    events: Arc<Mutex<Vec<Value>>>,
    /// When the first alarm about each beacon came.
    times: Arc<Mutex<HashMap<u32, Instant>>>,
    folder: tempfile::TempDir,
}

impl Watch {
    fn start(brokers: &[&Broker]) -> Self {
        let addresses: Vec<String> = brokers.iter().map(|it| it.address("")).collect();
        Self::start_at(&addresses)
    }

    fn start_at(inputs: &[String]) -> Self {
        Self::begin(tempfile::tempdir().unwrap(), inputs, &[])
    }

    fn begin(folder: tempfile::TempDir, inputs: &[String], more: &[&str]) -> Self {
        let mut command = program(folder.path());
        command.args(more);
        command.args(["watch", "--headless", "--json", "--storage"]).arg(folder.path());
        for input in inputs {
            command.arg("--input").arg(input);
        }
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let events = Arc::new(Mutex::new(Vec::new()));
        let times = Arc::new(Mutex::new(HashMap::new()));
        let (told, timed) = (Arc::clone(&events), Arc::clone(&times));
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let event: Value = serde_json::from_str(&line).unwrap();
                if let Some(mmsi) = event["mmsi"].as_u64().filter(|_| event["event"] == "alert") {
                    timed.lock().unwrap().entry(mmsi as u32).or_insert_with(Instant::now);
                }
                told.lock().unwrap().push(event);
            }
        });
        Self { process: Process(child), events, times, folder }
    }

    fn count(&self, fits: impl Fn(&Value) -> bool) -> usize {
        self.events.lock().unwrap().iter().filter(|event| fits(event)).count()
    }

    fn find(&self, fits: impl Fn(&Value) -> bool) -> Option<Value> {
        self.events.lock().unwrap().iter().find(|event| fits(event)).cloned()
    }

    fn wait(&self, what: &str, fits: impl Fn(&Value) -> bool) -> Value {
        let mut found = None;
        wait_for(what, || {
            found = self.find(&fits);
            found.is_some()
        });
        found.unwrap()
    }

    /// The sentences that it recorded, in order.
    fn recorded(&self) -> Vec<String> {
        let text = text_of(&self.folder.path().join("recordings"));
        let sentence = |line: &str| line.rsplit('\\').next().map(str::to_owned);
        text.lines().filter_map(sentence).filter(|it| it.starts_with('!')).collect()
    }
}

fn active(mmsi: u32, second: u8) -> String {
    let place = Some((50.0, -1.5));
    support::vdm(&support::position(mmsi, 14, place, second), 'A')
}

/// Traffic whose lines differ, on both channels.
fn ship(number: u32) -> String {
    let lat = 50.0 + f64::from(number % 5000) / 10_000.0;
    let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
    support::vdm(&support::class_b(211_000_001 + number % 7, lat, -1.0), channel)
}

fn is_alarm(event: &Value, mmsi: u32) -> bool {
    is_raised(event, "beacon_active", mmsi)
}

fn is_raised(event: &Value, cause: &str, mmsi: u32) -> bool {
    event["event"] == "alert"
        && event["cause"] == cause
        && event["mmsi"] == mmsi
        && event["state"] == "active_unacknowledged"
}

/// Until the watch hears a station.
fn join(watch: &Watch, station: &Station, name: &str) {
    let (mut number, mut sent) = (100_000, Instant::now());
    station.hears(&ship(number));
    wait_for("the station", || {
        if sent.elapsed() > Duration::from_millis(500) {
            (number, sent) = (number + 1, Instant::now());
            station.hears(&ship(number));
        }
        let is_it = |event: &Value| event["event"] == "input_state" && event["input"] == name;
        watch.find(|event| is_it(event) && event["state"] == "live").is_some()
    });
}

#[test]
fn a_beacon_that_only_the_remote_antenna_heard_raises_the_alarm() {
    let Some(broker) = Broker::start() else { return };
    let watch = Watch::start(&[&broker]);
    let mut station = Station::start("pier", &[&broker]);
    join(&watch, &station, "station pier");
    station.hears(&active(972_000_017, 17));
    let alarm = watch.wait("the alarm", |event| is_alarm(event, 972_000_017));
    assert!(!alarm["text"].as_str().unwrap().contains("passed on"), "{alarm}");
    let heard = watch.wait("the beacon", |event| event["event"] == "beacon_heard");
    let evidence = heard["evidence"].as_array().unwrap();
    assert!(evidence.iter().any(|it| it == "heard by station pier"), "{heard}");
    // Its computer loses its power: the broker tells its will.
    station.relay.0.kill().unwrap();
    let lost =
        watch.wait("its loss", |event| event["event"] == "input_state" && event["state"] == "lost");
    assert_eq!(lost["input"], "station pier");
}

/// A DSC sentence as a radio gives it.
fn dsc(body: &str) -> String {
    let body = format!("CDDSC,{body}");
    format!("${body}*{:02X}", overside::wire::checksum(body.as_bytes()))
}

/// A person overboard, called by a ship; and that this was a mistake.
fn distress(mmsi: u32) -> String {
    dsc(&format!("12,{mmsi}0,12,10,26,1500000130,0201,,,S,"))
}

fn cancel(mmsi: u32) -> String {
    dsc(&format!("12,{mmsi}0,12,10,26,1500000130,0201,{mmsi}0,10,S,"))
}

/// Whatever anybody who listens gets of it from now on.
fn all_published(broker: &Broker) -> Arc<Mutex<Vec<u8>>> {
    use rumqttc::{Client, Event, MqttOptions, Packet, QoS};

    let (client, mut connection) =
        Client::new(MqttOptions::new("all", "127.0.0.1", broker.port), 9);
    client.subscribe("#", QoS::AtLeastOnce).unwrap();
    let got = Arc::new(Mutex::new(Vec::new()));
    let (all, listens) = (Arc::clone(&got), Arc::new(AtomicBool::new(false)));
    let begun = Arc::clone(&listens);
    std::thread::spawn(move || {
        let _client = client;
        for event in connection.iter().map_while(Result::ok) {
            match event {
                Event::Incoming(Packet::SubAck(_)) => begun.store(true, Ordering::Release),
                Event::Incoming(Packet::Publish(message)) => {
                    all.lock().unwrap().extend_from_slice(&message.payload);
                }
                _ => {}
            }
        }
    });
    wait_for("the subscription", || listens.load(Ordering::Acquire));
    got
}

#[test]
fn a_distress_call_that_only_remote_radios_heard_alarms_once_and_is_no_order_to_a_radio() {
    const OWN: u32 = 200_000_000;
    let Some(mut broker) = Broker::start() else { return };
    let watch = Watch::start(&[&broker]);
    let pier = Station::start("pier", &[&broker]);
    let north = Station::start("north", &[&broker]);
    join(&watch, &pier, "station pier");
    join(&watch, &north, "station north");
    let published = all_published(&broker);
    // Both hear it.
    pier.hears(&distress(OWN));
    north.hears(&distress(OWN));
    let alarm = watch.wait("the alarm", |event| is_raised(event, "dsc_distress", OWN));
    assert_eq!(alarm["priority"], "emergency_alarm");
    assert!(!alarm["text"].as_str().unwrap().contains("passed on"), "{alarm}");
    // A sentence on a wire into a radio is a call to be sent: none of what anybody gets is one.
    wait_for("the call at whoever listens", || {
        String::from_utf8_lossy(&published.lock().unwrap()).matches("CDDSC").count() == 2
    });
    let text = String::from_utf8_lossy(&published.lock().unwrap()).into_owned();
    assert!(!text.contains('$'), "{text}");
    // Taken back, and by another one it goes on.
    pier.hears(&cancel(OWN));
    watch.wait("the cancel", |event| {
        event["event"] == "alert"
            && event["id"] == alarm["id"]
            && event["state"] == "rectified_unacknowledged"
    });
    // While the broker is away.
    broker.kill();
    north.hears(&distress(972_000_033));
    let lost = |event: &Value| event["event"] == "input_state" && event["state"] == "lost";
    watch.wait("the loss of the broker", lost);
    std::thread::sleep(Duration::from_secs(12));
    broker.begin();
    let late = watch.wait("the late one", |event| is_raised(event, "dsc_distress", 972_000_033));
    let text = late["text"].as_str().unwrap();
    assert!(text.contains(", passed on ") && text.ends_with(" s late by station north"), "{text}");
    for mmsi in [OWN, 972_000_033] {
        assert_eq!(watch.count(|event| is_raised(event, "dsc_distress", mmsi)), 1, "{mmsi}");
    }
    let is_call = |event: &Value| event["event"] == "dsc_call";
    assert_eq!(watch.count(is_call), 3, "one call by two stations is one");
}

/// Whatever anybody else publishes there, what stations hear gets through, once.
#[test]
fn foreign_and_hostile_messages_hold_up_nobody() {
    use rumqttc::{Client, MqttOptions, QoS};
    let Some(broker) = Broker::start() else { return };
    let watch = Watch::start(&[&broker]);
    let station = Station::start("pier", &[&broker]);
    join(&watch, &station, "station pier");
    let mut options = MqttOptions::new("foreign", "127.0.0.1", broker.port);
    options.set_max_packet_size(32 << 20, 32 << 20);
    let (client, mut connection) = Client::new(options, 99);
    std::thread::spawn(move || connection.iter().take_while(Result::is_ok).for_each(drop));
    let publish = |topic: &str, payload: &[u8]| {
        client.publish(topic, QoS::AtLeastOnce, false, payload).unwrap();
    };
    let (sentence, random) = (active(972_000_017, 17), (0..=255).collect::<Vec<u8>>());
    let long_name = format!("overside/{}/heard", "x".repeat(33));
    for topic in [
        "overside/pier/heard",
        "overside//heard",
        "overside/ /heard",
        "overside/a$b/heard",
        "overside/Öst 2/heard",
        &long_name,
        "overside/pier/state",
    ] {
        for payload in [
            random.as_slice(),
            b"",
            b"\\",
            b"{",
            b"[1,2]",
            b"{\"call\":[1]}",
            b"{\"state\":7}",
            &sentence.as_bytes()[..20],
            b"\\c:99999999999999999999*00\\",
            &[b'x'; 200_000],
            &vec![b'\n'; 200_000],
        ] {
            publish(topic, payload);
        }
    }
    // More than is taken of one message, and what is heard behind it.
    for bytes in [300 << 10, 1 << 20, 20 << 20] {
        publish("overside/pier/heard", &vec![b'x'; bytes]);
        publish("overside/north/heard", &vec![0; bytes]);
    }
    watch.wait("the loss of the broker", |event| event["text"].to_string().contains("too large"));
    // The same again and again, as a broker may send it at QoS 1.
    wait_for("the alarm after it", || {
        std::thread::sleep(Duration::from_millis(100));
        publish("overside/north/heard", active(972_000_033, 5).as_bytes());
        watch.find(|event| is_alarm(event, 972_000_033)).is_some()
    });
    publish("overside/north/heard", active(972_000_033, 5).as_bytes());
    station.hears(&sentence);
    watch.wait("the alarm", |event| is_alarm(event, 972_000_017));
    station.hears(&active(972_000_044, 7));
    watch.wait("another", |event| is_alarm(event, 972_000_044));
    for mmsi in [972_000_017, 972_000_033] {
        assert_eq!(watch.count(|event| is_alarm(event, mmsi)), 1);
    }
    let update =
        watch.find(|event| event["event"] == "beacon_update" && event["mmsi"] == 972_000_033);
    assert!(update.is_none_or(|it| it["messages_heard"] == 1), "told twice");
}

#[test]
fn events_outlive_a_watch_that_ends_while_the_broker_is_away() {
    let Some(mut broker) = Broker::start() else { return };
    broker.kill();
    let folder = tempfile::tempdir().unwrap();
    let (config, spool) = (folder.path().join("own.toml"), folder.path().join("spool"));
    let uri = broker.address(&format!("/overside/club?spool={}", spool.display()));
    let text = format!(
        "[alarm]\nsound = false\n[[output]]\nname = \"coast\"\nuri = \"{uri}\"\nwhat = [\"events\"]\n\
         [[output]]\nname = \"club\"\nuri = \"{uri}\"\nwhat = [\"alerts\"]\n"
    );
    std::fs::write(&config, text).unwrap();
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let input = [format!("udp://127.0.0.1:{port}")];
    let more = ["--config", config.to_str().unwrap()];
    let mut watch = Watch::begin(folder, &input, &more);
    wait_for("the alarm", || {
        socket.send_to(active(972_000_017, 17).as_bytes(), ("127.0.0.1", port)).unwrap();
        watch.find(|event| is_alarm(event, 972_000_017)).is_some()
    });
    let waits = || text_of(&spool);
    wait_for("the events on disk", || waits().contains("beacon_active"));
    watch.process.terminate();
    let told: Vec<String> =
        waits().lines().filter(|it| it.contains("beacon_heard")).map(str::to_owned).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    broker.begin();
    let published = all_published(&broker);
    let Watch { folder, .. } = watch;
    let _again = Watch::begin(folder, &input, &more);
    wait_for("what was told before", || {
        String::from_utf8_lossy(&published.lock().unwrap()).contains(&told[0])
    });
    // Two outputs to one station do not hang each other up.
    wait_for("the alerts", || {
        String::from_utf8_lossy(&published.lock().unwrap()).contains("$U8HBT,")
    });
    wait_for("nothing more on disk", || waits().is_empty());
}

#[test]
fn a_broker_that_proves_who_it_is_is_heard_and_one_that_does_not_is_refused_in_words() {
    let Some(broker) = Broker::start_as(Some("broker")) else { return };
    let (elsewhere, expired) =
        (Broker::start_as(Some("elsewhere")).unwrap(), Broker::start_as(Some("expired")).unwrap());
    // One that takes the connection and says nothing.
    let mute = TcpListener::bind("127.0.0.1:0").unwrap();
    let local = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let stranger = broker.address("").replace("ca.pem", "other.pem");
    let mute_at = format!(
        "mqtts://localhost:{}?ca={}",
        mute.local_addr().unwrap().port(),
        certificates("ca")
    );
    let watch = Watch::start_at(&[
        broker.address(""),
        stranger,
        elsewhere.address(""),
        expired.address(""),
        mute_at,
        format!("udp://127.0.0.1:{local}"),
    ]);
    let station = Station::start("pier", &[&broker]);
    join(&watch, &station, "station pier");
    station.hears(&active(972_000_017, 17));
    watch.wait("the alarm", |event| is_alarm(event, 972_000_017));
    for words in ["vouches for it", "another name", "has expired", "not answer"] {
        let lost = watch.wait(words, |event| {
            let text = event["text"].as_str().unwrap_or_default();
            event["event"] == "input_state" && event["state"] == "lost" && text.contains(words)
        });
        assert!(!lost.to_string().contains("station pier"), "{lost}");
    }
    // None of them holds anything up.
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.send_to(active(972_000_033, 5).as_bytes(), ("127.0.0.1", local)).unwrap();
    watch.wait("the alarm by the receiver on board", |event| is_alarm(event, 972_000_033));
}

#[test]
fn a_relay_that_begins_again_while_the_broker_hangs_or_is_away_loses_no_line() {
    let Some(mut broker) = Broker::start() else { return };
    let watch = Watch::start(&[&broker]);
    let mut station = Station::start("pier", &[&broker]);
    join(&watch, &station, "station pier");
    // Until it keeps nothing any more of what the broker confirms.
    std::thread::sleep(Duration::from_secs(7));
    wait_for("all that waited at the broker", || station.waits().is_empty());
    // The broker takes what it is sent and confirms none of it; the relay is ended.
    let pid = broker.process.as_ref().unwrap().0.id().to_string();
    assert!(Command::new("kill").args(["-STOP", &pid]).status().unwrap().success());
    let (first, second) = (active(972_000_017, 1), active(972_000_033, 2));
    station.hears(&first);
    std::thread::sleep(Duration::from_millis(500));
    station.relay.terminate();
    wait_for("what was not confirmed on disk", || station.waits().contains(&first));
    broker.kill();
    station.begin_again("pier", &[&broker]);
    station.hears(&second);
    wait_for("what is heard meanwhile on disk", || station.waits().contains(&second));
    // And its power fails.
    station.relay.0.kill().unwrap();
    station.relay.0.wait().unwrap();
    station.begin_again("pier", &[&broker]);
    broker.begin();
    for mmsi in [972_000_017, 972_000_033] {
        watch.wait("the alarm", |event| is_alarm(event, mmsi));
        assert_eq!(watch.count(|event| is_alarm(event, mmsi)), 1);
    }
}

/// `OVERSIDE_AWAY_S=60` keeps the broker away for a minute.
#[test]
fn a_broker_killed_in_an_emergency_loses_no_line_and_no_alarm_is_told_twice() {
    let Some(mut broker) = Broker::start() else { return };
    let mut watch = Watch::start(&[&broker]);
    let mut station = Station::start("pier", &[&broker]);
    join(&watch, &station, "station pier");
    let mut sent: Vec<String> = Vec::new();
    let mut hears = |line: String| {
        station.hears(&line);
        sent.push(line);
        std::thread::sleep(Duration::from_millis(25));
    };
    hears(active(972_000_017, 1));
    watch.wait("the first alarm", |event| is_alarm(event, 972_000_017));
    (0..40).for_each(|number| hears(ship(number)));
    broker.kill();
    (40..160).for_each(|number| hears(ship(number)));
    hears(active(972_000_017, 2));
    // One who goes overboard while nothing gets through.
    hears(active(972_000_033, 3));
    let gone = Instant::now();
    let away_s: u32 =
        std::env::var("OVERSIDE_AWAY_S").map_or(9, |seconds| seconds.parse().unwrap());
    let back = 160 + 40 * away_s;
    (160..back).for_each(|number| hears(ship(number)));
    watch.wait("the loss of the broker", |event| {
        event["event"] == "input_state" && event["state"] == "lost"
    });
    assert!(gone.elapsed() > Duration::from_secs(away_s.into()));
    broker.begin();
    let second = watch.wait("the second alarm", |event| is_alarm(event, 972_000_033));
    let text = second["text"].as_str().unwrap();
    assert!(text.contains(", passed on ") && text.ends_with(" s late by station pier"), "{text}");
    (back..back + 180).for_each(|number| hears(ship(number)));
    let wanted: HashSet<&String> = sent.iter().collect();
    wait_for("every line", || {
        let came: HashSet<String> = watch.recorded().into_iter().collect();
        wanted.iter().all(|line| came.contains(*line))
    });
    station.relay.terminate();
    watch.process.terminate();
    let recorded = watch.recorded();
    for line in &sent {
        assert_eq!(recorded.iter().filter(|it| *it == line).count(), 1, "{line}");
    }
    for mmsi in [972_000_017, 972_000_033] {
        assert_eq!(watch.count(|event| is_alarm(event, mmsi)), 1, "{mmsi}");
    }
}

#[test]
fn a_station_at_two_brokers_is_one_and_outlives_either() {
    let Some((mut one, other)) = Broker::start().zip(Broker::start()) else { return };
    let watch = Watch::start(&[&one, &other]);
    let pier = Station::start("pier", &[&one, &other]);
    let north = Station::start("north", &[&one, &other]);
    join(&watch, &pier, "station pier");
    join(&watch, &north, "station north");
    for station in [&pier, &north] {
        station.hears(&active(972_000_017, 1));
    }
    watch.wait("the alarm", |event| is_alarm(event, 972_000_017));
    one.kill();
    watch.wait("the loss of one broker", |event| {
        event["event"] == "input_state" && event["state"] == "lost"
    });
    std::thread::sleep(Duration::from_secs(2));
    for station in [&north, &pier] {
        station.hears(&active(972_000_017, 5));
    }
    // A burst later.
    std::thread::sleep(Duration::from_secs(31));
    pier.hears(&active(972_000_017, 6));
    let update = watch.wait("the next burst", |event| event["event"] == "beacon_update");
    assert_eq!(update["messages_heard"], 3, "{update}");
    let evidence = update["evidence"].to_string();
    assert!(evidence.contains("station pier") && evidence.contains("station north"), "{evidence}");
    assert_eq!(watch.count(|event| is_alarm(event, 972_000_017)), 1);
    let lost = |event: &Value| event["event"] == "input_state" && event["state"] == "lost";
    assert_eq!(watch.count(lost), 1, "no station is lost while one broker has it");
}

/// Jiffies of a hundredth of a second that a process has worked.
#[cfg(target_os = "linux")]
fn worked(process: &Process) -> u64 {
    let stat = std::fs::read_to_string(format!("/proc/{}/stat", process.0.id())).unwrap();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap().split(' ').collect();
    fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap()
}

/// Of several stations of 75 messages a second each no alarm is missing. Three of them for some
/// seconds; `OVERSIDE_STATIONS=50 cargo test --release --test many_stations -- --nocapture so_many`
/// takes a minute and prints what one watch needs for so many, and how long an alarm takes.
#[cfg(target_os = "linux")]
#[test]
fn so_many_stations_at_one_watch_and_no_alarm_is_missing() {
    use rumqttc::{AsyncClient, MqttOptions, QoS};

    const A_SECOND: u32 = 75;
    let wanted = std::env::var("OVERSIDE_STATIONS").ok().map(|count| count.parse().unwrap());
    // How long, and of that at first without alarms and not measured.
    let (stations, seconds, first): (u32, u32, u32) = match wanted {
        Some(stations) => (stations, 60, 10),
        None => (3, 6, 2),
    };
    let first = first * 100;
    let Some(broker) = Broker::start() else { return };
    let watch = Watch::start(&[&broker]);
    let mut options = MqttOptions::new("many", "127.0.0.1", broker.port);
    options.set_inflight(10_000);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let (mut published, mut busy) = (Vec::new(), (0, 0));
    let took = runtime.block_on(async {
        let (client, mut events) = AsyncClient::new(options, 20_000);
        events.network_options.set_tcp_nodelay(true);
        tokio::spawn(async move { while events.poll().await.is_ok() {} });
        tokio::time::sleep(Duration::from_secs(2)).await;
        let (begun, mut sent) = (Instant::now(), 0_u32);
        for tick in 0..seconds * 100 {
            if tick == first {
                busy = (worked(&watch.process), worked(broker.process.as_ref().unwrap()));
            }
            let due = stations * A_SECOND * (tick + 1) / 100;
            let now = || {
                let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
                now.unwrap().as_millis()
            };
            let payload = |line: &str| {
                let (sent, heard) = (support::tag(&format!("c:{}", now())), now());
                format!("{sent}\r\n{}{line}\r\n", support::tag(&format!("s:ais,c:{heard}")))
            };
            while sent < due {
                let topic = format!("overside/s{}/heard", sent % stations);
                let line = payload(&ship(sent / stations + sent % stations * 131));
                client.publish(topic, QoS::AtLeastOnce, false, line).await.unwrap();
                sent += 1;
            }
            if tick >= first && tick % 25 == 0 {
                let mmsi = 972_000_100 + tick / 25;
                let topic = format!("overside/s{}/heard", tick / 25 % stations);
                published.push((mmsi, Instant::now()));
                let line = payload(&active(mmsi, 7));
                client.publish(topic, QoS::AtLeastOnce, false, line).await.unwrap();
            }
            let next = begun + Duration::from_millis(10) * (tick + 1);
            tokio::time::sleep_until(next.into()).await;
        }
        begun.elapsed()
    });
    let after = (worked(&watch.process), worked(broker.process.as_ref().unwrap()));
    wait_for("every alarm", || {
        let told = watch.times.lock().unwrap();
        published.iter().all(|(mmsi, _)| told.contains_key(mmsi))
    });
    let told = watch.times.lock().unwrap().clone();
    let mut took_ms: Vec<u128> =
        published.iter().map(|(mmsi, at)| told[mmsi].duration_since(*at).as_millis()).collect();
    took_ms.sort_unstable();
    let share =
        |before: u64, after: u64| (after - before) as f64 / f64::from(seconds - first / 100);
    let at = |per_cent: usize| took_ms[(took_ms.len() - 1) * per_cent / 100];
    println!(
        "{stations} stations, {} s: {} alarms, p50 {} ms, p99 {} ms, longest {} ms; watch {:.1} % \
         of a core, broker {:.1} %",
        took.as_secs(),
        took_ms.len(),
        at(50),
        at(99),
        at(100),
        share(busy.0, after.0),
        share(busy.1, after.1)
    );
}
