//! Whether a self-test was received on board: the verdict for every way a burst can come in, on real
//! sentences, on the command line and in the dialogue.
//!
//! A test is one burst of eight messages 2 s apart on alternating channels (M.1371-5 annex 9, section
//! 5); its texts are the first and the last (from memory), and the verdict must not depend on that.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;

use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::proof::{Judgement, PositionKind, Subject, Verdict, judge};
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Input, Settings, Watch};
use serde_json::Value;

const MATE: u32 = 972_000_017;
const SHIP: u32 = 200_000_000;
const OWN: (f64, f64) = (57.7003, 10.5836);
const HERE: (f64, f64) = (57.70032, 10.58365);

/// A test as it comes in, and what differs from a good one.
struct Test {
    mmsi: u32,
    /// Messages of the burst that are lost, from 0.
    lost: Vec<usize>,
    /// Which messages are texts, and what they say.
    texts: Vec<usize>,
    text: &'static str,
    status: u8,
    place: Option<(f64, f64)>,
    second: u8,
    /// What the receiver says of the channel: `None` says it as it is.
    channel: Option<&'static str>,
    own: bool,
    /// Lines besides, with their seconds.
    besides: Vec<(f64, String)>,
    /// A second receiver hears it all, half a second later.
    twice: bool,
}

impl Default for Test {
    fn default() -> Self {
        Self {
            mmsi: MATE,
            lost: Vec::new(),
            texts: vec![0, 7],
            text: "MOB TEST",
            status: 15,
            place: Some(HERE),
            second: 17,
            channel: None,
            own: true,
            besides: Vec::new(),
            twice: false,
        }
    }
}

impl Test {
    fn lines(&self) -> Vec<(f64, &'static str, String)> {
        let mut lines: Vec<(f64, &str, String)> = Vec::new();
        if self.own {
            let place = support::nmea_position(OWN.0, OWN.1);
            let rmc = format!("GPRMC,083000.00,A,{place},0.0,,090526,,,A");
            lines.push((0.0, "gnss", support::sealed(&rmc)));
        }
        for message in (0..8).filter(|message| !self.lost.contains(message)) {
            let body = match self.texts.contains(&message) {
                true => support::text(self.mmsi, self.text),
                false => support::position(self.mmsi, self.status, self.place, self.second),
            };
            let channel = if message % 2 == 0 { 'A' } else { 'B' };
            let mut line = support::vdm(&body, channel);
            if let Some(other) = self.channel {
                // The fifth field of a VDM is the channel (IEC 61162-1).
                let fields: Vec<&str> = line.trim_start_matches('!').split(['*']).collect();
                let mut parts: Vec<&str> = fields[0].split(',').collect();
                parts[4] = other;
                let body = parts.join(",");
                line = format!("!{body}*{:02X}", overside::wire::checksum(body.as_bytes()));
            }
            let at = 10.0 + 2.0 * message as f64;
            if self.twice {
                lines.push((at + 0.5, "masthead", line.clone()));
            }
            lines.push((at, "ais", line));
        }
        lines.extend(self.besides.iter().map(|(at, line)| (*at, "ais", line.clone())));
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        lines
    }

    fn verdict(&self, subject: &Subject) -> Verdict {
        let begun = Utc::parse_rfc3339("2026-05-09T08:30:00Z").unwrap();
        let mut watch = Watch::new(Settings::default());
        watch.record_reception();
        let mut last = begun;
        for (at, input, line) in self.lines() {
            let span = Duration::from_millis((at * 1000.0) as u64);
            last = begun.plus(span);
            let stamp = Stamp { at: Mono::START + span, utc: last };
            let input = watch.input(input);
            watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
            while watch.poll_output().is_some() {}
        }
        judge(subject, &[], (begun, last), watch.received())
    }
}

fn mate() -> Subject {
    Subject {
        mmsi: Mmsi::new(MATE),
        person: Some("Mate".to_owned()),
        dsc_mmsi: Mmsi::new(SHIP),
        stranger: false,
    }
}

/// A DSC test call to the ship, by this identity (ITU-R M.493: individual, safety, test).
fn test_call(by: u32) -> String {
    support::sealed(&format!("CDDSC,20,{by}0,08,18,26,,,,,S,"))
}

#[track_caller]
fn proven(test: &Test) -> Verdict {
    let verdict = test.verdict(&mate());
    assert_eq!((verdict.verdict, &verdict.findings), (Judgement::Proven, &Vec::new()));
    verdict
}

/// The findings, which must be as many as these and contain these words.
#[track_caller]
fn partial(test: &Test, words: &[&str]) -> Verdict {
    partial_of(test, &mate(), words)
}

#[track_caller]
fn partial_of(test: &Test, subject: &Subject, words: &[&str]) -> Verdict {
    let verdict = test.verdict(subject);
    assert_eq!(verdict.verdict, Judgement::Partial, "{verdict:?}");
    assert_eq!(verdict.findings.len(), words.len(), "{:?}", verdict.findings);
    for word in words {
        let found = verdict.findings.iter().any(|finding| finding.contains(word));
        assert!(found, "{word:?} is not in {:?}", verdict.findings);
    }
    verdict
}

#[test]
fn a_whole_burst_is_proven() {
    let verdict = proven(&Test::default());
    assert_eq!((verdict.messages_heard, verdict.messages_expected), (8, 8));
    assert_eq!((verdict.text_messages, verdict.position_reports), (2, 6));
    assert_eq!((verdict.channel_a, verdict.channel_b, verdict.bursts), (4, 4, 1));
    assert_eq!((verdict.position, verdict.dsc_call), (PositionKind::Valid, Some(false)));
    assert!(verdict.range_m.is_some_and(|range| range < 10), "{:?}", verdict.range_m);
}

/// The same text with the fill bits of the standard, with others, and padded as public captures have
/// it: real sentences of one identity, of the tests of several decoders (captures/SOURCES.md).
#[test]
fn wrong_fill_bits_are_a_text_all_the_same() {
    let mmsi = 970_113_381;
    for body in [
        "AIVDM,1,1,,A,>>M;1IM<59B1@E=@,0",
        "AIVDM,1,1,,A,>>M;1IM<59B1@E=@,2",
        "AIVDM,1,1,,A,>>M;1IM<59B1@E=@,4",
        "AIVDM,1,1,,A,>>M;1IM<59B1@E=@0000000,2",
    ] {
        let besides = vec![(9.0, support::sealed_armour(body))];
        let test = Test { mmsi, texts: Vec::new(), besides, ..Test::default() };
        let subject = Subject { mmsi: Mmsi::new(mmsi), ..Subject::default() };
        let verdict = test.verdict(&subject);
        assert_eq!(verdict.verdict, Judgement::Proven, "{body}: {:?}", verdict.findings);
        assert_eq!(verdict.text_messages, 1);
    }
}

/// Each of the eight missing, and the texts wherever they may be.
#[test]
fn one_missing_of_eight_is_normal() {
    for lost in 0..8 {
        let verdict = proven(&Test { lost: vec![lost], ..Test::default() });
        assert_eq!(verdict.messages_heard, 7);
    }
    for first in 0..7 {
        proven(&Test { texts: vec![first, first + 1], ..Test::default() });
    }
    proven(&Test { texts: vec![3], ..Test::default() });
    proven(&Test { lost: vec![1, 4], ..Test::default() });
    // Fewer than six are a finding.
    partial(&Test { lost: vec![1, 2, 3], ..Test::default() }, &["only 5 of 8"]);
}

#[test]
fn two_receivers_hear_one_test() {
    let verdict = proven(&Test { twice: true, ..Test::default() });
    assert_eq!(verdict.messages_heard, 8);
}

#[test]
fn one_channel_is_a_finding() {
    for (lost, word) in [(vec![1, 3, 5, 7], "only channel A"), (vec![0, 2, 4, 6], "only channel B")]
    {
        partial(&Test { lost, ..Test::default() }, &[word, "only 4 of 8"]);
    }
    partial(&Test { channel: Some(""), ..Test::default() }, &["does not tell the channel"]);
    // Channels 1 and 2 are A and B.
    let verdict = partial(&Test { channel: Some("2"), ..Test::default() }, &["only channel B"]);
    assert_eq!((verdict.channel_a, verdict.channel_b), (0, 8));
}

#[test]
fn the_text_is_looked_for() {
    partial(&Test { texts: Vec::new(), ..Test::default() }, &["no TEST text"]);
    // In which of the eight they are is from memory: nothing may depend on it.
    for texts in [vec![0, 7], vec![4, 5], vec![0, 1], vec![3, 6]] {
        proven(&Test { texts, ..Test::default() });
    }
    let damaged = Test { text: "MOB TESP", ..Test::default() };
    partial(&damaged, &["no TEST text", "\"MOB TESP\" is no known word"]);
    // The suffix of M.1371-6.
    proven(&Test { text: "MOB TEST A01", ..Test::default() });
}

#[test]
fn the_position_is_looked_at() {
    let default = Test { place: None, second: 60, ..Test::default() };
    assert_eq!(partial(&default, &["position default"]).position, PositionKind::Default);
    let stale = Test { second: 63, ..Test::default() };
    assert_eq!(partial(&stale, &["position old"]).position, PositionKind::Stale);
    let none = Test { texts: (0..8).collect(), ..Test::default() };
    assert_eq!(partial(&none, &["no position report"]).position, PositionKind::None);
    // 200 m are a tenth of a minute of latitude and a little more.
    proven(&Test { place: Some((OWN.0 + 0.0017, OWN.1)), ..Test::default() });
    let away = Test { place: Some((OWN.0 + 0.0019, OWN.1)), ..Test::default() };
    partial(&away, &["not this beacon"]);
    let far = Test { place: Some((OWN.0 + 3.2 / 60.0, OWN.1)), ..Test::default() };
    partial(&far, &["3.21 NM away: not this beacon"]);
    partial(&Test { own: false, ..Test::default() }, &["own position not known"]);
}

/// Any evidence of ACTIVE outweighs everything else.
#[test]
fn active_in_the_middle_is_active() {
    let active = |line: String| Test { besides: vec![(15.0, line)], ..Test::default() };
    let report = support::vdm(&support::position(MATE, 14, Some(HERE), 17), 'A');
    let text = support::vdm(&support::text(MATE, "MOB ACTIVE"), 'B');
    // A DSC distress alert in its name: man overboard (M.493-16).
    let call = support::sealed(&format!("CDDSC,12,{MATE}0,12,10,00,0574201035,0830,,,S,"));
    for line in [report, text, call] {
        let verdict = active(line).verdict(&mate());
        assert_eq!(verdict.verdict, Judgement::ActiveHeard);
        assert!(verdict.findings[0].contains("switch it off now"));
    }
}

#[test]
fn nothing_from_it_is_not_heard() {
    let verdict = Test { mmsi: 972_000_018, ..Test::default() }.verdict(&mate());
    assert_eq!((verdict.verdict, verdict.messages_heard), (Judgement::NotHeard, 0));
    assert_eq!(verdict.position, PositionKind::None);
}

#[test]
fn another_beacon_beside_it_changes_nothing() {
    let besides = Test { mmsi: 972_000_018, text: "MOB TEST", ..Test::default() };
    let besides: Vec<(f64, String)> =
        besides.lines().into_iter().map(|(at, _, line)| (at + 0.7, line)).collect();
    proven(&Test { besides, ..Test::default() });
}

#[test]
fn the_call_of_the_radio_is_joined() {
    let with = |by: u32| Test { besides: vec![(12.0, test_call(by))], ..Test::default() };
    assert_eq!(proven(&with(SHIP)).dsc_call, Some(true));
    assert_eq!(proven(&with(MATE)).dsc_call, Some(true));
    let verdict = partial(&with(201_000_000), &["201000000"]);
    assert_eq!(verdict.dsc_call, Some(false));
    // Long before or after, it is another's.
    proven(&Test { besides: vec![(400.0, test_call(201_000_000))], ..Test::default() });
    let without = Subject { dsc_mmsi: None, ..mate() };
    assert_eq!(Test::default().verdict(&without).dsc_call, None);
}

#[test]
fn a_stranger_and_a_beacon_left_on_are_findings() {
    let stranger = Subject { stranger: true, ..mate() };
    partial_of(&Test::default(), &stranger, &["not in the muster"]);
    let again: Vec<(f64, String)> =
        Test::default().lines().into_iter().map(|(at, _, line)| (at + 120.0, line)).collect();
    let verdict =
        partial(&Test { besides: again, ..Test::default() }, &["longer than a self-test"]);
    assert_eq!(verdict.bursts, 2);
    partial(&Test { status: 0, ..Test::default() }, &["status 0 is neither"]);
}

/// Real sentences of a self-test, from two channels of one receiver
/// (../shared/captures/beacons; identity 972122131).
#[test]
fn a_real_self_test_is_heard_in_part() {
    let Some(folder) = support::recordings() else { return };
    let bytes = std::fs::read(folder.join("beacons/single_beacon_sentences.nmea")).unwrap();
    let mut watch = Watch::new(Settings::default());
    watch.record_reception();
    let input = watch.input("ais");
    let stamp = Stamp { at: Mono::START, utc: Utc::EPOCH };
    for bytes in bytes.split(|&byte| byte == b'\n') {
        watch.handle(Input::Line { stamp, input, bytes });
    }
    let subject = |mmsi| Subject { mmsi: Mmsi::new(mmsi), ..Subject::default() };
    let window = (Utc::EPOCH, Utc::EPOCH);
    let verdict = judge(&subject(972_122_131), &[], window, watch.received());
    assert_eq!(verdict.verdict, Judgement::Partial);
    assert_eq!((verdict.text_messages, verdict.position_reports), (1, 1));
    assert_eq!((verdict.channel_a, verdict.channel_b), (1, 1));
    let verdict = judge(&subject(970_227_235), &[], window, watch.received());
    assert_eq!(verdict.verdict, Judgement::ActiveHeard);
}

fn overside(args: &[&str]) -> (i32, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_CONFIG_HOME", folder.path())
        .env("XDG_DATA_HOME", folder.path())
        .env_remove("OVERSIDE_CONFIG")
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// What was rehearsed.
const REHEARSED: [&str; 3] = ["prove", "--capture", "captures/self_test_alongside.nmea"];

/// A capture of the project with the mark of the rehearsal taken off each line, as if its beacons had
/// been heard really.
fn heard_really(name: &str) -> String {
    let marked = std::fs::read_to_string(format!("captures/{name}.nmea")).unwrap();
    let line = |line: &str| {
        let (tag, sentence) = line.trim_start_matches('\\').split_once('\\').unwrap();
        let (tag, _) = tag.split_once(",t:REHEARSAL").expect("every rehearsed line is marked");
        format!("{}{sentence}\r\n", support::tag(tag))
    };
    let lines: String = marked.lines().map(line).collect();
    let path = support::file(&format!("{name}_heard_really.nmea"), &lines);
    path.to_str().unwrap().to_owned()
}

#[test]
fn a_recording_is_judged_by_the_same_code() {
    let (alongside, overboard) =
        (heard_really("self_test_alongside"), heard_really("overboard_drill"));
    let alongside = ["prove", "--capture", &alongside];
    let json = ["--beacon", "972000017", "--json"];
    let (code, out, _) = overside(&[&alongside[..], &json].concat());
    let verdict: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, &verdict["verdict"]), (0, &"proven".into()));
    assert_eq!(verdict.get("rehearsed"), None);
    let keys: Vec<&str> = verdict.as_object().unwrap().keys().map(String::as_str).collect();
    for key in [
        "verdict",
        "mmsi",
        "person",
        "started",
        "ended",
        "text_messages",
        "position_reports",
        "messages_heard",
        "messages_expected",
        "channel_a",
        "channel_b",
        "bursts",
        "position",
        "range_m",
        "dsc_call",
        "findings",
    ] {
        assert!(keys.contains(&key), "{key} of the contract is missing");
    }
    let muster = [&alongside[..], &["--config", "captures/demo.toml"]].concat();
    let (code, out, _) = overside(&muster);
    assert_eq!(code, 1, "the Skipper's was not heard: {out}");
    let (code, ..) = overside(&[&muster[..], &["--beacon", "Mate"]].concat());
    assert_eq!(code, 0);
    let drill = ["prove", "--capture", &overboard, "--beacon", "972000017"];
    assert_eq!(overside(&drill).0, 3, "heard ACTIVE");
    let nobody = [&alongside[..], &["--beacon", "Nobody"]].concat();
    let (code, _, err) = overside(&nobody);
    assert!(code == 2 && err.contains("Nobody"), "{code} {err}");
    assert_eq!(overside(&["prove", "--capture", "no such file"]).0, 2);
    assert_eq!(overside(&["prove", "--input", "-"]).0, 2, "no muster, and no beacon named");
}

#[test]
fn a_rehearsed_recording_proves_nothing() {
    let (code, out, _) = overside(&[&REHEARSED[..], &["--beacon", "972000017", "--json"]].concat());
    let verdict: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, &verdict["verdict"]), (1, &"partial".into()), "{verdict}");
    assert_eq!(verdict["rehearsed"], true);
    assert_eq!(verdict["messages_heard"], 7, "all the same it is told what was heard");
    let (code, out, _) = overside(&[&REHEARSED[..], &["--beacon", "972000017"]].concat());
    assert!(code == 1 && out.starts_with("REHEARSAL: proves nothing."), "{code} {out}");
    let drill = ["prove", "--capture", "captures/overboard_drill.nmea", "--beacon", "972000017"];
    let (code, out, _) = overside(&drill);
    assert!(code == 3 && out.starts_with("REHEARSAL: proves nothing."), "{code} {out}");
}

/// Both are heard: what was heard really is judged, and nothing rehearsed helps it.
#[test]
fn a_rehearsal_helps_no_real_test() {
    let mut test = Test::default();
    test.besides = test
        .lines()
        .into_iter()
        .map(|(at, _, line)| (at, format!("{}{line}", support::tag("s:ais,t:REHEARSAL"))))
        .collect();
    test.lost = (1..8).collect();
    let verdict = test.verdict(&mate());
    assert_eq!((verdict.verdict, verdict.rehearsed), (Judgement::Partial, false));
    assert_eq!(verdict.messages_heard, 1);
}

/// What the radio and the receiver say of a test, poured in over UDP. That the messages come faster
/// than on the air changes nothing of what is judged.
fn play(port: u16, test: &Test) {
    let sender = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    for (_, _, line) in test.lines() {
        let _ = sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", port));
    }
}

fn free_port() -> u16 {
    let socket = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.local_addr().unwrap().port()
}

/// The dialogue on a terminal: what a test may be, one beacon after the other, each message as it
/// comes, the verdict; all of it on the record.
#[test]
fn a_round_of_tests_is_led_through() {
    let folder = tempfile::tempdir().unwrap();
    let port = free_port();
    let config = folder.path().join("overside.toml");
    let text = format!(
        "[vessel]\nmmsi = {SHIP}\n[[input]]\nname = \"ais\"\nuri = \"udp://127.0.0.1:{port}\"\n\
         [[person]]\nname = \"Skipper\"\n[[person]]\nname = \"Mate\"\n\
         [[beacon]]\nmmsi = 972000016\nholder = \"Skipper\"\n\
         [[beacon]]\nmmsi = {MATE}\nholder = \"Mate\"\ndsc_mmsi = {SHIP}\n"
    );
    std::fs::write(&config, text).unwrap();
    let mut command = pty::overside(&[], folder.path());
    command.args(["prove", "--storage", folder.path().to_str().unwrap()]);
    let terminal = pty::Terminal::start(command);
    // It does not begin before an input says anything at all.
    let heard = (0..300).any(|_| {
        play(port, &Test { lost: (0..8).collect(), ..Test::default() });
        terminal
            .waited(Duration::from_millis(100), |screen| screen.contents().contains("Enter begins"))
    });
    assert!(heard, "{}", terminal.text());
    terminal.wait_for_text("never ACTIVE");
    terminal.press("\r");
    terminal.wait_for_text("Skipper's beacon 972000016: test it NOW");
    play(port, &Test { mmsi: 972_000_016, ..Test::default() });
    terminal.wait_for_text("text \"MOB TEST\"");
    terminal.wait_for_text("Skipper's beacon 972000016: test PROVEN: 8 of 8 heard");
    terminal.wait_for_text("Mate's beacon 972000017: be ready");
    terminal.press("\r");
    terminal.wait_for_text("Mate's beacon 972000017: test it NOW");
    play(port, &Test { lost: vec![1, 3, 5, 7], ..Test::default() });
    terminal.wait_for_text("heard IN PART: 4 of 8");
    terminal.wait_for_text("only channel A heard");
    // The radio gives no DSC to the program: whether it rang, a person knows.
    terminal.wait_for_text("Did the radio itself ring");
    terminal.press("y\r");
    assert_eq!(terminal.exit_status().exit_code(), 1);
    let reader = overside::logbook::Reader::open(folder.path()).unwrap().unwrap();
    let verdicts: Vec<Value> = [1, 2]
        .map(|entry| {
            reader.get(entry).unwrap().unwrap().draft.details.keys().details["verdict"].clone()
        })
        .into();
    assert_eq!(verdicts, ["proven", "partial"]);
    let entry = reader.get(2).unwrap().unwrap();
    assert_eq!(entry.draft.details.keys().details["radio_rang"], true);
    assert!(entry.draft.text.ends_with("the radio itself rang"), "{}", entry.draft.text);
}

/// Live and plain, for a script; and a receiver that says nothing proves nothing.
#[test]
fn a_proof_is_live_and_a_deaf_receiver_is_none() {
    let deaf = std::thread::spawn(|| {
        let input = format!("udp://127.0.0.1:{}", free_port());
        overside(&["prove", "--plain", "--beacon", "972000017", "--input", &input, "--no-log"])
    });
    let port = free_port();
    let input = format!("udp://127.0.0.1:{port}");
    let (done, ended) = std::sync::mpsc::channel::<()>();
    let radio = std::thread::spawn(move || {
        // The port opens some time after the start; before that all is lost.
        while ended.recv_timeout(Duration::from_secs(4)).is_err() {
            play(port, &Test::default());
        }
    });
    let args = ["prove", "--json", "--beacon", "972000017", "--input", &input, "--no-log"];
    let (code, out, err) = overside(&args);
    done.send(()).unwrap();
    radio.join().unwrap();
    let verdict: Value = serde_json::from_str(&out).unwrap_or_else(|_| panic!("{out}{err}"));
    assert_eq!((code, &verdict["verdict"]), (0, &"proven".into()), "{verdict}");
    // Of the burst that showed that the receiver hears, some may count too.
    assert!(verdict["messages_heard"].as_u64() >= Some(8), "{verdict}");
    let (code, _, err) = deaf.join().unwrap();
    assert!(code == 2 && err.contains("nothing is received"), "{code} {err}");
}

/// A receiver of 4800 bits a second that is read at 38400: what it gives is told, not that it gives
/// nothing.
#[test]
fn a_wrong_baud_rate_is_told_and_proves_nothing() {
    let pair = portable_pty::native_pty_system().openpty(Default::default()).unwrap();
    let port = pair.master.tty_name().unwrap();
    let mut receiver = pair.master.take_writer().unwrap();
    let (done, ended) = std::sync::mpsc::channel::<()>();
    let sends = std::thread::spawn(move || {
        while ended.recv_timeout(Duration::from_millis(100)).is_err() {
            receiver.write_all(&[0x00, 0x80, 0xF0, 0xE0, 0x00, 0xFE, 0x80, 0xC0]).unwrap();
        }
    });
    let input = format!("serial:{}?baud=38400", port.display());
    let args = ["prove", "--plain", "--beacon", "972000017", "--input", &input, "--no-log"];
    let (code, _, err) = overside(&args);
    done.send(()).unwrap();
    sends.join().unwrap();
    assert!(code == 2 && err.contains("no sentences: wrong baud rate? try 4800"), "{code} {err}");
    assert!(!err.contains("no input has said anything"), "{err}");
}

/// Plays a recording as if it came in now, ten times as fast, without its TAG blocks; in the end, or
/// when nobody listens any more, it is over.
fn on_the_air(recording: &str, port: u16, ended: &std::sync::mpsc::Receiver<()>) {
    let sender = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    let lines = std::fs::read_to_string(recording).unwrap();
    let mut before: Option<u64> = None;
    for line in lines.lines() {
        let (tag, sentence) = line.trim_start_matches('\\').split_once('\\').unwrap();
        let (_, time) = tag.split_once("c:").unwrap();
        let at: u64 = time.split(['*', ',']).next().unwrap().parse().unwrap();
        let wait = Duration::from_millis((at - before.replace(at).unwrap_or(at)) / 10);
        if ended.recv_timeout(wait) != Err(std::sync::mpsc::RecvTimeoutError::Timeout) {
            return;
        }
        let _ = sender.send_to(format!("{sentence}\r\n").as_bytes(), ("127.0.0.1", port));
    }
}

/// A ship with the demo's muster, whose Mate's beacon was proven in May and whose Skipper's never.
struct Aboard {
    folder: tempfile::TempDir,
    port: u16,
}

impl Aboard {
    fn new() -> Self {
        let (folder, port) = (tempfile::tempdir().unwrap(), free_port());
        let demo = std::fs::read_to_string("captures/demo.toml").unwrap();
        let config = folder.path().join("overside.toml");
        std::fs::write(config, demo.replace("10110", &port.to_string())).unwrap();
        let aboard = Self { folder, port };
        let may = heard_really("self_test_alongside");
        let may = aboard.run(&["prove", "--capture", &may, "--beacon", "Mate", "--record"]);
        assert_eq!(may.0, 0, "{may:?}");
        aboard
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        let folder = self.folder.path().to_str().unwrap();
        let config = format!("{folder}/overside.toml");
        let given: &[&str] = match args[0] {
            "logbook" => &["--storage", folder],
            _ => &["--config", &config, "--storage", folder],
        };
        overside(&[args, given].concat())
    }

    /// The exit code, and the status of each.
    fn muster(&self, args: &[&str]) -> (i32, [String; 2]) {
        let (code, out, err) = self.run(&[&["muster", "--json"], args].concat());
        let muster: Value = serde_json::from_str(&out).unwrap_or_else(|_| panic!("{out}{err}"));
        let status = |place: usize| muster["persons"][place]["status"].as_str().unwrap().to_owned();
        (code, [status(0), status(1)])
    }

    #[track_caller]
    fn has_entries(&self, count: usize) {
        let (code, out, _) = self.run(&["logbook", "check"]);
        let entries = if count == 1 { "1 entry".to_owned() } else { format!("{count} entries") };
        assert!(code == 0 && out.starts_with(&format!("intact: {entries},")), "{out}");
    }
}

/// The whole round: the muster is overdue; the beacons are heard over loopback, a proof listens, and
/// the muster is ready, on the record, without a file touched by hand.
#[test]
fn the_muster_goes_from_overdue_to_ready() {
    let aboard = Aboard::new();
    let before = aboard.muster(&["--as-of", "2026-11-25"]);
    assert_eq!(before, (1, ["due".to_owned(), "overdue".to_owned()]));
    let (over, ended) = std::sync::mpsc::channel::<()>();
    let (round, port) = (heard_really("muster_round"), aboard.port);
    let air = std::thread::spawn(move || on_the_air(&round, port, &ended));
    let (code, out, err) = aboard.run(&["prove", "--plain", "--by", "Skipper"]);
    drop(over);
    air.join().unwrap();
    assert_eq!(code, 0, "{out}{err}");
    // The day on which this test runs, as the program knows it.
    assert_eq!(aboard.muster(&[]), (0, ["ready".to_owned(), "ready".to_owned()]));
    aboard.has_entries(3);
}

/// The same round rehearsed: it is gone through as it will be, and the muster is as it was.
#[test]
fn a_rehearsed_round_counts_for_no_muster() {
    let aboard = Aboard::new();
    let before = aboard.muster(&[]);
    let uri = format!("udp://127.0.0.1:{}", aboard.port);
    let mut air = std::process::Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(["rehearse", "captures/muster_round.toml", "--live", &uri, "--speed", "10"])
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let (code, out, err) = aboard.run(&["prove", "--plain", "--by", "Skipper"]);
    let _ = air.kill();
    let _ = air.wait();
    assert_eq!(code, 1, "{out}{err}");
    assert_eq!(out.matches("REHEARSAL: proves nothing.").count(), 2, "{out}");
    assert!(!out.contains("PROVEN") && !err.contains("written down"), "{out}{err}");
    assert_eq!(aboard.muster(&[]), before);
    aboard.has_entries(1);
}

/// On the record, and on a page to be printed, in which hostile names are inert.
#[test]
fn a_proof_is_written_down_and_printed() {
    let alongside = heard_really("self_test_alongside");
    let alongside = ["prove", "--capture", &alongside];
    let folder = tempfile::tempdir().unwrap();
    let config = folder.path().join("overside.toml");
    let text = "[vessel]\nname = \"<b>Yacht</b> & Co\"\n[[person]]\nname = \"Mate \\\"<i>\\\"\"\n\
                [[beacon]]\nmmsi = 972000017\nholder = \"Mate \\\"<i>\\\"\"\n";
    std::fs::write(&config, text).unwrap();
    let page = folder.path().join("page.html");
    let (config, page_name) = (config.to_str().unwrap(), page.to_str().unwrap());
    let storage = folder.path().to_str().unwrap();
    let args = [
        &alongside[..],
        &["--config", config, "--record", "--storage", storage, "--certificate", page_name],
        &["--by", "Skipper"],
    ];
    let (code, _, err) = overside(&args.concat());
    assert_eq!(code, 0, "{err}");
    let reader = overside::logbook::Reader::open(folder.path()).unwrap().unwrap();
    let entry = reader.get(1).unwrap().unwrap();
    assert_eq!(entry.draft.kind(), Some(overside::logbook::Kind::Test));
    assert_eq!(entry.draft.details.keys().details["verdict"], "proven");
    assert_eq!(entry.draft.operator.as_deref(), Some("Skipper"));
    assert_eq!(entry.draft.sentences.len(), 8, "seven messages and a call");
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains(&entry.hash) && page.contains("PROVEN"), "{page}");
    assert!(page.contains("57°42.02&#39;N 010°35.02&#39;E"), "the place is not on it: {page}");
    assert!(page.contains("&lt;b&gt;Yacht&lt;/b&gt; &amp; Co"));
    assert!(!page.contains("<b>") && !page.contains("<i>"), "{page}");
    // A logbook that cannot be written costs neither the verdict nor the page.
    let (other, bad) = (folder.path().join("other.html"), folder.path().join("bad"));
    std::fs::create_dir(&bad).unwrap();
    std::fs::write(bad.join("logbook.db"), "this is no logbook").unwrap();
    let to = ["--record", "--storage", bad.to_str().unwrap(), "--certificate"];
    let args = [&alongside[..], &["--config", config], &to, &[other.to_str().unwrap()]];
    let (code, out, err) = overside(&args.concat());
    assert!(code == 2 && out.contains("PROVEN") && err.contains("damaged"), "{out}{err}");
    assert!(std::fs::read_to_string(&other).unwrap().contains("not written down"));
    assert!(!page.contains("<script") && !page.contains("http"), "{page}");
    // A rehearsal is on the page as what it is, and in no logbook.
    let empty = tempfile::tempdir().unwrap();
    let to = ["--record", "--storage", empty.path().to_str().unwrap(), "--certificate"];
    let args = [&REHEARSED[..], &["--config", config], &to, &[other.to_str().unwrap()]];
    let (code, ..) = overside(&args.concat());
    let page = std::fs::read_to_string(other).unwrap();
    assert!(code == 1 && page.contains("REHEARSAL: proves nothing"), "{page}");
    assert!(page.contains("not written down"), "{page}");
    let reader = overside::logbook::Reader::open(empty.path()).unwrap();
    assert!(reader.is_none_or(|reader| reader.get(1).unwrap().is_none()));
}
