//! The page at the helm as whoever can reach it may use or misuse it: by plain sockets. The watch
//! alarms on meanwhile.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]
#![expect(clippy::disallowed_methods, reason = "how long the program itself takes is measured")]

mod support;

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{TcpListener, TcpStream, UdpSocket};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

use serde_json::Value;
use tempfile::TempDir;

/// Generous: a loaded machine answers in this time.
const PATIENCE: Duration = Duration::from_secs(30);

/// A watch with a page.
struct Watch {
    child: Child,
    folder: TempDir,
    /// Where lines are sent to.
    input: u16,
    /// Where its page is.
    port: u16,
    code: String,
    /// What it says on standard error.
    warned: Receiver<String>,
    events: Receiver<Value>,
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn overside(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
    command.args(args).current_dir(folder).env("HOME", folder).env("OVERSIDE_TEST_PANIC", "helm");
    for name in ["XDG_STATE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_RUNTIME_DIR"] {
        command.env(name, folder);
    }
    command
}

impl Watch {
    fn start(config: &str) -> Self {
        Self::at(free_port(), config, tempfile::tempdir().unwrap())
    }

    fn at(port: u16, config: &str, folder: TempDir) -> Self {
        let input = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let file = folder.path().join("overside.toml");
        let listen = format!("listen = \"127.0.0.1:{port}\"");
        let text = format!("[alarm]\nsound = false\n[helm]\n{listen}\n{config}\n");
        std::fs::write(&file, text).unwrap();
        let (file, uri) = (file.to_str().unwrap(), format!("udp://127.0.0.1:{input}"));
        let args = ["watch", "--headless", "--json", "--config", file, "--input", &uri];
        let mut child = overside(folder.path(), &args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
        let sign = said.find(|it| it.contains("Page at the helm")).unwrap();
        let code = sign.rsplit(' ').next().unwrap().to_owned();
        let (tx, warned) = mpsc::channel();
        std::thread::spawn(move || said.for_each(|it| drop(tx.send(it))));
        let (tx, events) = mpsc::channel();
        let output = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                let _ = tx.send(serde_json::from_str(&line).unwrap());
            }
        });
        Self { child, folder, input, port, code, warned, events }
    }

    /// Waits until the page is served.
    fn served(self) -> Self {
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", self.port)).is_err() {
            assert!(begun.elapsed() < PATIENCE, "no page");
            std::thread::sleep(Duration::from_millis(20));
        }
        self
    }

    /// A beacon says ACTIVE; the watch alarms at once. The number of the alert.
    fn alarms(&self, mmsi: u32) -> u64 {
        let line = support::vdm(&support::position(mmsi, 14, Some((57.8, 10.4)), 60), 'A');
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        let begun = Instant::now();
        loop {
            sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.input)).unwrap();
            while let Ok(event) = self.events.recv_timeout(Duration::from_millis(500)) {
                if event["cause"] == "beacon_active" && event["mmsi"] == mmsi {
                    return event["id"].as_u64().unwrap();
                }
            }
            assert!(begun.elapsed() < PATIENCE, "no alarm");
        }
    }

    /// Waits for an event of which this is true.
    fn told(&self, is: impl Fn(&Value) -> bool) -> Value {
        let begun = Instant::now();
        loop {
            let event = self.events.recv_timeout(PATIENCE).expect("nothing is told");
            if is(&event) {
                return event;
            }
            assert!(begun.elapsed() < PATIENCE, "not told");
        }
    }

    /// What it has in memory, in kilobytes; 0 where the system does not tell.
    fn memory_kb(&self) -> u64 {
        let status = format!("/proc/{}/status", self.child.id());
        let status = std::fs::read_to_string(status).unwrap_or_default();
        let line = status.lines().find_map(|it| it.strip_prefix("VmRSS:"));
        line.and_then(|it| it.split_whitespace().next()?.parse().ok()).unwrap_or(0)
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream
    }

    /// Sends a request and reads the whole answer.
    fn ask(&self, method: &str, path: &str, headers: &[&str], body: &str) -> String {
        let host = format!("Host: 127.0.0.1:{}", self.port);
        let own = if headers.iter().any(|it| it.starts_with("Host:")) { "" } else { &host };
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        for line in headers.iter().chain([&own]).filter(|it| !it.is_empty()) {
            head.push_str(&format!("{line}\r\n"));
        }
        let mut stream = self.connect();
        // What is refused early may be cut off while it is still being sent.
        let _ = write!(stream, "{head}Content-Length: {}\r\n\r\n{body}", body.len());
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn get(&self, path: &str, headers: &[&str]) -> String {
        self.ask("GET", path, headers, "")
    }

    /// Gives the code. The header that tells who it is from then on.
    fn enter(&self, name: &str) -> String {
        let answer = self.ask("POST", "/enter", &[], &format!("code={}&name={name}", self.code));
        assert_eq!(status(&answer), 303, "{answer}");
        let cookie = answer.lines().find_map(|it| it.strip_prefix("set-cookie: ")).unwrap();
        for part in ["; HttpOnly", "; SameSite=Strict", "; Max-Age=2592000", "; Path=/"] {
            assert!(cookie.contains(part), "{cookie}");
        }
        format!("Cookie: {}", cookie.split(';').next().unwrap())
    }

    /// Follows `/events`: the stream after its head.
    fn follow(&self, path: &str, who: &str) -> BufReader<TcpStream> {
        let mut stream = self.connect();
        let host = format!("Host: 127.0.0.1:{}", self.port);
        write!(stream, "GET {path} HTTP/1.1\r\n{host}\r\n{who}\r\n\r\n").unwrap();
        let mut reader = BufReader::new(stream);
        let mut line = String::new();
        reader.read_line(&mut line).unwrap();
        assert!(line.starts_with("HTTP/1.1 200"), "{line}");
        while line != "\r\n" {
            line.clear();
            reader.read_line(&mut line).unwrap();
        }
        reader
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|it| it.parse().ok()).unwrap_or(0)
}

/// The next line of a stream that begins so; the rest of it.
fn line_with(reader: &mut BufReader<TcpStream>, begin: &str) -> String {
    loop {
        let mut line = String::new();
        assert!(reader.read_line(&mut line).unwrap() > 0, "it ended before {begin}");
        if let Some(rest) = line.strip_prefix(begin) {
            return rest.trim_end().to_owned();
        }
    }
}

#[test]
fn nothing_is_shown_to_who_has_not_given_the_code() {
    let watch = Watch::start("may_acknowledge = true").served();
    for path in ["/state.json", "/events", "/events?only=state", "/"] {
        assert_eq!(status(&watch.get(path, &[])), 401, "{path}");
        for forged in [
            "Cookie: overside_helm=",
            "Cookie: overside_helm=0000000000000000000000000000000000000000000000000000000000000000",
            "Authorization: Bearer ",
            "Authorization: Basic b3ZlcnNpZGU=",
        ] {
            assert_eq!(status(&watch.get(path, &[forged])), 401, "{path} {forged}");
        }
    }
    assert!(watch.get("/", &["Accept: text/html"]).contains("location: /enter"));
    for path in ["/acknowledge", "/silence"] {
        assert_eq!(status(&watch.ask("POST", path, &[], "alert=1")), 401, "{path}");
    }
    let known = watch.enter("cockpit");
    for path in ["/..", "/%2e%2e/etc/passwd", "/phones", "/enter/", "//"] {
        assert_eq!(status(&watch.get(path, &[])), 401, "{path}");
        assert_eq!(status(&watch.get(path, &[&known])), 404, "{path}");
    }
    // Before anything is watched there is nothing to show.
    let begun = Instant::now();
    while status(&watch.get("/", &[&known])) == 503 && begun.elapsed() < PATIENCE {
        std::thread::sleep(Duration::from_millis(50));
    }
    let page = watch.get("/", &[&known]);
    assert_eq!(status(&page), 200);
    for header in [
        "content-security-policy: default-src 'none'; script-src 'self';",
        "cache-control: no-store",
        "x-content-type-options: nosniff",
        "referrer-policy: same-origin",
    ] {
        assert!(page.contains(header), "{header}");
    }
    // Of what stands in the folder nothing lets in.
    let kept = std::fs::read_to_string(watch.folder.path().join("overside/phones")).unwrap();
    let kept: Value = serde_json::from_str(&kept).unwrap();
    let stolen = format!("Cookie: overside_helm={}", kept[0]["hash"].as_str().unwrap());
    assert_eq!(status(&watch.get("/", &[&stolen])), 401);
}

#[test]
fn five_wrong_codes_shut_the_door_and_who_is_known_looks_on() {
    let watch = Watch::start("").served();
    let known = watch.enter("cockpit");
    let wrong = format!("code={:06}", (watch.code.parse::<u32>().unwrap() + 1) % 1_000_000);
    for _ in 0..4 {
        assert_eq!(status(&watch.ask("POST", "/enter", &[], &wrong)), 403);
    }
    let right = format!("code={}", watch.code);
    for body in [&wrong, &right] {
        let answer = watch.ask("POST", "/enter", &[], body);
        assert_eq!(status(&answer), 429);
        assert!(answer.contains("retry-after: ") && !answer.contains("set-cookie"), "{answer}");
    }
    assert_eq!(status(&watch.get("/", &[&known])), 200);
}

#[test]
fn other_addresses_and_pages_of_other_sites_reach_nothing() {
    let watch = Watch::start("may_acknowledge = true").served();
    let known = watch.enter("cockpit");
    let port = watch.port;
    for host in ["Host: evil.example", "Host: 127.0.0.1", "Host: boat.local:8010"] {
        assert_eq!(status(&watch.get("/state.json", &[host, &known])), 403, "{host}");
    }
    for origin in ["http://evil.example", "null", "https://127.0.0.1"] {
        let origin = format!("Origin: {origin}");
        assert_eq!(status(&watch.get("/state.json", &[&origin, &known])), 403, "{origin}");
        let body = format!("code={}", watch.code);
        assert_eq!(status(&watch.ask("POST", "/enter", &[&origin], &body)), 403, "{origin}");
        assert_eq!(status(&watch.ask("POST", "/acknowledge", &[&origin, &known], "alert=1")), 403);
    }
    // A browser that does not say from where it sends the cookie changes nothing.
    assert_eq!(status(&watch.ask("POST", "/acknowledge", &[&known], "alert=1")), 403);
    let own = format!("Origin: http://127.0.0.1:{port}");
    assert_eq!(status(&watch.ask("POST", "/acknowledge", &[&own, &known], "alert=7777")), 409);
    assert_eq!(status(&watch.get(&format!("http://127.0.0.1:{port}/state.json"), &[&known])), 200);
}

#[test]
fn a_phone_acknowledges_where_it_may_and_the_logbook_says_which() {
    let watch = Watch::start("may_acknowledge = true").served();
    let known = watch.enter("cockpit");
    let own = format!("Origin: http://127.0.0.1:{}", watch.port);
    let mut told = watch.follow("/events?only=events", &known);
    let id = watch.alarms(972_000_017);
    let event: Value = serde_json::from_str(&line_with(&mut told, "data: ")).unwrap();
    assert!(event["event"].is_string(), "{event}");
    // The state is told as often as a screen is drawn, the event at once.
    let state = || -> Value {
        let state = watch.get("/state.json", &[&known]);
        serde_json::from_str(state.split("\r\n\r\n").nth(1).unwrap()).unwrap()
    };
    let begun = Instant::now();
    let state = loop {
        let state = state();
        if state["casualties"][0].is_object() || begun.elapsed() > PATIENCE {
            break state;
        }
        std::thread::sleep(Duration::from_millis(50));
    };
    assert_eq!(state["casualties"][0]["situation"], "casualty", "{state}");
    assert_eq!(state["picture"]["beacons"][0]["range_nm"], Value::Null, "{state}");
    for (path, then) in [("/silence", "active_silenced"), ("/acknowledge", "active_acknowledged")] {
        let answer = watch.ask("POST", path, &[&own, &known], &format!("alert={id}"));
        assert_eq!(status(&answer), 303, "{answer}");
        watch.told(|it| it["id"] == id && it["state"] == then);
    }
    for wrong in ["alert=7777", "alert=-1", "alert=", "", "alert=1&alert=x"] {
        let answer = watch.ask("POST", "/acknowledge", &[&own, &known], wrong);
        assert!([400, 409].contains(&status(&answer)), "{wrong}: {answer}");
    }
    watch.told(|it| it["event"] == "logged" && it["state"] == "active_acknowledged");
    let folder = watch.folder.path();
    let listed = overside(folder, &["logbook", "list", "--json"]).output().unwrap().stdout;
    let listed = String::from_utf8(listed).unwrap();
    assert!(listed.contains("phone cockpit"), "{listed}");
    // Not where it may not.
    let other = Watch::start("").served();
    let known = other.enter("cockpit");
    let own = format!("Origin: http://127.0.0.1:{}", other.port);
    assert_eq!(status(&other.ask("POST", "/acknowledge", &[&own, &known], "alert=1")), 404);
}

#[test]
fn sixteen_look_and_who_is_forgotten_does_not() {
    let watch = Watch::start("").served();
    let known: Vec<String> = (0..17).map(|n| watch.enter(&format!("phone{n}"))).collect();
    let mut looking: Vec<_> = known[..16].iter().map(|it| watch.follow("/events", it)).collect();
    for stream in &mut looking {
        assert_eq!(line_with(stream, "event: "), "state");
    }
    assert_eq!(status(&watch.get("/events", &[&known[16]])), 503);
    // One that lost its connection gets another, and the lost one ends.
    let mut again = watch.follow("/events", &known[0]);
    assert_eq!(line_with(&mut again, "event: "), "state");
    looking.remove(0).read_to_end(&mut Vec::new()).unwrap();
    assert_eq!(status(&watch.get("/state.json", &[&known[16]])), 200);
    let forgot = overside(watch.folder.path(), &["watch", "--helm-forget"]).output().unwrap();
    assert!(forgot.status.success());
    let said = String::from_utf8(forgot.stderr).unwrap();
    assert!(said.contains("17 phones are forgotten"), "{said}");
    assert_eq!(status(&watch.get("/state.json", &[&known[0]])), 401);
    // Who looks just now does not for long.
    again.read_to_end(&mut Vec::new()).unwrap();
}

/// Sixteen phones that take nothing: each is dropped and makes room, nothing piles up for them, and the
/// watch alarms.
#[test]
fn who_takes_nothing_is_dropped_and_nothing_piles_up() {
    let watch = Watch::start("").served();
    let known: Vec<String> = (0..17).map(|n| watch.enter(&format!("phone{n}"))).collect();
    // A page with some people in danger is long, and comes often.
    for n in 20..30 {
        watch.alarms(972_000_000 + n);
    }
    let before = watch.memory_kb();
    let slow: Vec<_> = known[..16].iter().map(|it| watch.follow("/events", it)).collect();
    let begun = Instant::now();
    let mut most = 0;
    let follows = loop {
        most = most.max(watch.memory_kb().saturating_sub(before));
        let mut stream = watch.connect();
        let host = format!("Host: 127.0.0.1:{}", watch.port);
        write!(stream, "GET /events HTTP/1.1\r\n{host}\r\n{}\r\n\r\n", known[16]).unwrap();
        let mut first = String::new();
        let mut reader = BufReader::new(stream);
        reader.read_line(&mut first).unwrap();
        if status(&first) == 200 {
            break reader;
        }
        assert_eq!(status(&first), 503, "{first}");
        assert!(begun.elapsed() < 4 * PATIENCE, "nobody is dropped");
        std::thread::sleep(Duration::from_millis(300));
    };
    watch.alarms(972_000_017);
    assert!(most < 8 * 1024, "{most} kB more");
    drop((follows, slow));
}

#[test]
fn what_is_too_long_or_never_ends_is_cut_off_and_the_watch_alarms() {
    let watch = Watch::start("").served();
    let known = watch.enter("cockpit");
    let long = format!("X-Long: {}", "x".repeat(64 * 1024));
    assert!([0, 431].contains(&status(&watch.get("/enter", &[&long]))));
    let many: Vec<String> = (0..500).map(|n| format!("X-{n}: 1")).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert!([0, 431].contains(&status(&watch.get("/enter", &many))));
    let body = format!("code={}&name={}", watch.code, "x".repeat(4096));
    assert!([0, 413].contains(&status(&watch.ask("POST", "/enter", &[], &body))));
    // Half a request, half a body, nothing at all, and one byte a second.
    let begun = Instant::now();
    let mut half = watch.connect();
    write!(half, "GET / HTTP/1.1\r\nHost: 127.0.0.1").unwrap();
    let mut body = watch.connect();
    let host = format!("Host: 127.0.0.1:{}", watch.port);
    write!(body, "POST /enter HTTP/1.1\r\n{host}\r\nContent-Length: 11\r\n\r\ncode=").unwrap();
    let mut nothing = watch.connect();
    let mut slow = watch.connect();
    std::thread::spawn(move || {
        while slow.write_all(b"G").is_ok() {
            std::thread::sleep(Duration::from_secs(1));
        }
    });
    for stream in [&mut half, &mut nothing, &mut body] {
        let _ = stream.read_to_end(&mut Vec::new());
    }
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
    watch.alarms(972_000_017);
    assert_eq!(status(&watch.get("/", &[&known])), 200);
    // What is no HTTP.
    let mut stream = watch.connect();
    stream.write_all(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n").unwrap();
    let _ = stream.read_to_end(&mut Vec::new());
    assert_eq!(status(&watch.get("/", &[&known])), 200);
}

#[test]
fn ten_thousand_connections_cost_no_alarm() {
    let watch = Watch::start("").served();
    let known = watch.enter("cockpit");
    let mut stream = watch.follow("/events?only=state", &known);
    let mut held = std::collections::VecDeque::new();
    for number in 0..10_000_u32 {
        if let Ok(it) = TcpStream::connect(("127.0.0.1", watch.port)) {
            held.push_back(it);
        }
        if held.len() > 200 {
            held.pop_front();
        }
        if number == 5_000 {
            watch.alarms(972_000_017);
        }
    }
    watch.alarms(972_000_018);
    // Who was there before is told of both.
    while !line_with(&mut stream, "data: ").contains("OVERBOARD") {}
    held.clear();
    let begun = Instant::now();
    while status(&watch.get("/", &[&known])) != 200 {
        assert!(begun.elapsed() < PATIENCE, "nobody is let in any more");
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn a_port_that_is_taken_is_an_alert_and_is_tried_again() {
    let other = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = other.local_addr().unwrap().port();
    let watch = Watch::at(port, "", tempfile::tempdir().unwrap());
    let of_page =
        |it: &Value| it["text"].as_str().is_some_and(|text| text.starts_with("Page at the helm:"));
    let alert = watch.told(|it| of_page(it) && it["state"] == "active_unacknowledged");
    assert_eq!((&alert["priority"], &alert["cause"]), (&"warning".into(), &"output_failed".into()));
    watch.alarms(972_000_017);
    drop(other);
    watch.told(|it| of_page(it) && it["state"] == "rectified_unacknowledged");
    let known = watch.enter("cockpit");
    assert_eq!(status(&watch.get("/", &[&known])), 200);
}

#[test]
fn a_panic_of_the_page_is_told_and_the_watch_goes_on() {
    let watch = Watch::start("").served();
    let known = watch.enter("cockpit");
    let answer = watch.get("/panic", &[&known]);
    assert_eq!(status(&answer), 0, "{answer}");
    watch.told(|it| it["text"].as_str().is_some_and(|text| text.contains("it panicked")));
    watch.alarms(972_000_017);
    let watch = watch.served();
    assert_eq!(status(&watch.get("/", &[&known])), 200);
}

/// What has changed of the page is not done at a reload, and that is said.
#[test]
fn a_reload_says_that_the_page_goes_on_as_before() {
    let watch = Watch::start("").served();
    watch.alarms(972_000_017);
    let file = watch.folder.path().join("overside.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text + "may_acknowledge = true\n").unwrap();
    let pid = watch.child.id().to_string();
    assert!(Command::new("kill").args(["-HUP", &pid]).status().unwrap().success());
    while !watch.warned.recv_timeout(PATIENCE).unwrap().contains("[helm] has changed") {}
    watch.alarms(972_000_018);
}

/// Nothing white flashes where the code is given: the browser is told the colours before the style comes.
#[test]
fn where_the_code_is_given_the_colours_are_those_of_the_phone() {
    let watch = Watch::start("").served();
    for (name, scheme) in [("night", "dark"), ("day", "light"), ("dusk", "dark"), ("x", "dark")] {
        let page = watch.get("/enter", &[&format!("Cookie: colours={name}")]);
        let shown = if name == "x" { "dusk" } else { name };
        assert!(page.contains(&format!("data-colours=\"{shown}\"")), "{page}");
        let meta = format!("<meta name=\"color-scheme\" content=\"{scheme}\">");
        assert!(page.contains(&meta), "{page}");
    }
}

#[test]
fn an_address_that_everybody_reaches_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for address in ["0.0.0.0:8010", "[::]:8010", "8.8.8.8:8010", "8010"] {
        let args = ["watch", "--headless", "--input", "-", "--helm", address];
        let output = overside(folder.path(), &args).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{address}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("What to do: write"), "{said}");
    }
}
