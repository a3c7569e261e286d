//! Whatever comes down the wire, the wire layer answers: nothing panics, no value is out of its
//! range, and every line ends as exactly one of a fact, a reject and an empty line.
//!
//! Overflow checks are on in the profile these tests run in. Seeds are the committed corpus and the
//! lines of every vector.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may")]

use std::path::Path;
use std::time::Duration;

use overside::time::Mono;
use overside::wire::nmea::{Dsc, Nmea};
use overside::wire::{Content, Decoder, InputId, LINE_LIMIT, Line, Splitter, checksum};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use proptest::test_runner::FileFailurePersistence;
use serde_json::Value;

fn config(cases: u32) -> ProptestConfig {
    let kept = FileFailurePersistence::Direct("tests/regressions/fuzz.txt");
    ProptestConfig {
        cases,
        failure_persistence: Some(Box::new(kept)),
        max_shrink_iters: 20_000,
        ..ProptestConfig::default()
    }
}

/// The lines of the corpus and of the vectors.
fn seeds() -> Vec<Vec<u8>> {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let mut seeds = Vec::new();
    for entry in std::fs::read_dir(tests.join("corpus")).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        seeds.extend(bytes.split(|&b| b == b'\n').map(<[u8]>::to_vec));
    }
    for entry in std::fs::read_dir(tests.join("vectors")).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let file: toml::Table = toml::from_str(&text).unwrap();
        for vector in file["vector"].as_array().unwrap() {
            let lines = vector["lines"].as_array().unwrap();
            seeds.extend(lines.iter().map(|line| line.as_str().unwrap().as_bytes().to_vec()));
        }
    }
    // A directory has no order of its own, and a case must come again as it came.
    seeds.sort_unstable();
    assert!(seeds.len() > 300, "only {} seeds", seeds.len());
    seeds
}

/// Everything that is done with a line, and what must hold after it.
struct Watch {
    decoder: Decoder,
    /// Takes no shortcut.
    careful: Decoder,
    call: Option<Dsc>,
    at: Mono,
    empty: u64,
    sentences: u64,
    rejects: u64,
}

impl Watch {
    fn new() -> Self {
        Self {
            decoder: Decoder::new(),
            careful: Decoder::new(),
            call: None,
            at: Mono::START,
            empty: 0,
            sentences: 0,
            rejects: 0,
        }
    }

    fn take(&mut self, input: u16, line: &[u8]) {
        self.at = self.at + Duration::from_millis(100);
        let parsed = Line::parse(line);
        assert_eq!(parsed, Line::parse_with_care(line));
        let _ = parsed.map(|line| line.time());
        let decoded = self.decoder.decode(InputId(input), self.at, line);
        assert_eq!(decoded, self.careful.decode_with_care(InputId(input), self.at, line));
        match decoded {
            None => {
                self.empty += 1;
                assert!(line.trim_ascii().is_empty());
            }
            Some(Err(_)) => self.rejects += 1,
            Some(Ok(decoded)) => {
                self.sentences += 1;
                assert!(line.len() <= LINE_LIMIT);
                assert!(decoded.talker.len() <= 2 && decoded.formatter.len() <= 15);
                let _ = (decoded.at.map(|at| at.to_string()), decoded.source.map(|s| s.to_text()));
                match &decoded.content {
                    Content::Ais(report) => sound("ais", &serde_json::to_value(report).unwrap()),
                    Content::Nmea(nmea) => {
                        sound("nmea", &serde_json::to_value(nmea).unwrap());
                        self.join(nmea);
                    }
                    Content::Part | Content::Other => {}
                }
            }
        }
        let tally = self.decoder.tally();
        assert_eq!(tally, self.careful.tally());
        assert_eq!((tally.sentences, tally.rejects), (self.sentences, self.rejects));
        assert_eq!(tally.lines, self.sentences + self.rejects + self.empty);
        assert_eq!(tally.messages, tally.by_type.iter().sum::<u64>());
        assert_eq!(self.decoder.digest(), self.careful.digest());
    }

    fn join(&mut self, nmea: &Nmea) {
        match nmea {
            Nmea::Dsc(call) => self.call = Some(call.clone()),
            Nmea::Dse(dse) => {
                if let Some(call) = &mut self.call {
                    call.refine(dse);
                    sound("dsc", &serde_json::to_value(call).unwrap());
                }
            }
            _ => {}
        }
    }
}

/// Numbers within what their names allow; texts that were trimmed.
fn sound(key: &str, value: &Value) {
    match value {
        // What a device says of itself is of ISO 8859-1, and may end as it likes.
        Value::Object(fields) if matches!(key, "alr" | "alf" | "txt") => {
            let numbers = fields.iter().filter(|(_, value)| value.is_number());
            numbers.for_each(|(key, value)| sound(key, value));
        }
        Value::Object(fields) => fields.iter().for_each(|(key, value)| sound(key, value)),
        Value::String(text) if matches!(key, "text" | "name" | "call_sign" | "destination") => {
            assert!(!text.contains('@') && !text.ends_with(' '), "{key} {text:?}");
            assert!(text.bytes().all(|b| (32..=95).contains(&b)), "{key} {text:?}");
        }
        Value::Number(number) => {
            let number = number.as_f64().unwrap();
            let range = match key {
                "lat" => -90.0..=90.0,
                "lon" => -180.0..=180.0,
                "cog_deg" | "heading_deg" | "magnetic_deg" | "angle_deg" => {
                    0.0..=360_f64.next_down()
                }
                "mmsi" | "caller_mmsi" | "casualty_mmsi" | "parent_mmsi" => 0.0..=999_999_999.0,
                "lat_minutes" | "lon_minutes" => 0.0..=0.9999,
                "type" => 0.0..=63.0,
                _ => f64::MIN..=f64::MAX,
            };
            assert!(range.contains(&number), "{key} is {number}");
        }
        _ => {}
    }
}

/// Puts right the checksum of the last sentence and of a TAG block before it, so that what was
/// changed between them is looked at.
fn with_right_checksums(line: &mut [u8]) {
    let digits = |sum: u8| format!("{sum:02X}").into_bytes();
    let Some(start) = line.iter().rposition(|b| matches!(b, b'!' | b'$')) else { return };
    let star = line[start..].iter().position(|&b| b == b'*').map(|star| start + star);
    if let Some(star) = star.filter(|&star| star + 3 <= line.len()) {
        let sum = digits(checksum(&line[start + 1..star]));
        line[star + 1..star + 3].copy_from_slice(&sum);
    }
    if start >= 5 && line[start - 1] == b'\\' && line[start - 4] == b'*' {
        let open = line[..start - 4].iter().rposition(|&b| b == b'\\');
        if let Some(open) = open {
            let sum = digits(checksum(&line[open + 1..start - 4]));
            line[start - 3..start - 1].copy_from_slice(&sum);
        }
    }
}

/// One change to a line.
#[derive(Clone, Debug)]
enum Change {
    Set(Index, u8),
    Insert(Index, u8),
    Remove(Index),
    Repeat(Index, Index, u8),
    Cut(Index),
    Swap(Index, Index),
}

fn change() -> impl Strategy<Value = Change> {
    // Bytes that mean something come more often than others.
    let byte = || {
        let telling = b"!$\\*,,,,:.-+0123456789ABCEFNSTVWXw`_ @\0\r\x7f\xff".to_vec();
        prop_oneof![3 => select(telling), 1 => any::<u8>()]
    };
    let place = any::<Index>;
    prop_oneof![
        5 => (place(), byte()).prop_map(|(at, b)| Change::Set(at, b)),
        2 => (place(), byte()).prop_map(|(at, b)| Change::Insert(at, b)),
        2 => place().prop_map(Change::Remove),
        1 => (place(), place(), 1..40_u8).prop_map(|(a, b, n)| Change::Repeat(a, b, n)),
        1 => place().prop_map(Change::Cut),
        1 => (place(), place()).prop_map(|(a, b)| Change::Swap(a, b)),
    ]
}

fn apply(line: &mut Vec<u8>, change: &Change) {
    let length = line.len();
    if length == 0 {
        return;
    }
    match change {
        Change::Set(at, byte) => line[at.index(length)] = *byte,
        Change::Insert(at, byte) => line.insert(at.index(length + 1), *byte),
        Change::Remove(at) => {
            line.remove(at.index(length));
        }
        Change::Repeat(from, to, times) => {
            let (from, to) = (from.index(length), to.index(length));
            let piece = line[from.min(to)..=from.max(to)].repeat(usize::from(*times));
            line.splice(from.min(to)..from.min(to), piece);
        }
        Change::Cut(at) => line.truncate(at.index(length)),
        Change::Swap(a, b) => line.swap(a.index(length), b.index(length)),
    }
}

/// A line made from one of the seeds.
fn mutated(seeds: Vec<Vec<u8>>) -> impl Strategy<Value = Vec<u8>> {
    (select(seeds), vec(change(), 0..5), 0..10_u8).prop_map(|(mut line, changes, dice)| {
        changes.iter().for_each(|change| apply(&mut line, change));
        if dice < 8 {
            with_right_checksums(&mut line);
        }
        line
    })
}

/// Whole days of real traffic and what loggers made of it, with shortcuts and without.
#[test]
fn recordings_are_read_alike_at_a_glance_and_with_care() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/captures");
    let folders = ["ais", "ais/edge", "beacons", "ownship"].map(|name| folder.join(name));
    let (mut quick, mut careful) = (Decoder::new(), Decoder::new());
    let mut lines = 0;
    for entry in folders.iter().flat_map(std::fs::read_dir).flatten() {
        let Ok(bytes) = std::fs::read(entry.unwrap().path()) else { continue };
        for line in bytes.split(|&byte| byte == b'\n') {
            let line = line.trim_ascii_end();
            let at = Mono::from_micros(lines * 13_333);
            let (quick, careful) = (
                quick.decode(InputId(0), at, line),
                careful.decode_with_care(InputId(0), at, line),
            );
            assert_eq!(quick, careful, "{}", line.escape_ascii());
            assert_eq!(Line::parse(line), Line::parse_with_care(line), "{}", line.escape_ascii());
            lines += 1;
        }
    }
    assert_eq!(quick.tally(), careful.tally());
    if lines == 0 {
        eprintln!("NOT RUN: ../shared/captures is missing");
    }
}

#[test]
fn every_seed_is_answered() {
    let mut watch = Watch::new();
    for seed in seeds() {
        watch.take(0, &seed);
    }
    assert!(watch.sentences > 200 && watch.rejects > 50);
}

proptest! {
    #![proptest_config(config(4000))]

    #[test]
    fn mutated_lines_are_answered(lines in vec((0..3_u16, mutated(seeds())), 1..30)) {
        let mut watch = Watch::new();
        for (input, line) in &lines {
            watch.take(*input, line);
        }
    }

    #[test]
    fn any_bytes_are_answered(bytes in vec(any::<u8>(), 0..3000), chunk in 1..700_usize) {
        let (mut watch, mut splitter) = (Watch::new(), Splitter::new());
        for piece in bytes.chunks(chunk) {
            splitter.push(piece, |line| watch.take(0, line));
        }
        splitter.finish(|line| watch.take(0, line));
    }

    /// A sound envelope around fields of anything, for every formatter that is looked into.
    #[test]
    fn any_fields_are_answered(
        formatter in select(vec![
            "VDM", "VDO", "RMC", "GGA", "GLL", "GNS", "VTG", "ZDA", "HDT", "THS", "HDG", "HDM",
            "VHW", "MWD", "MWV", "MTW", "DPT", "DSC", "DSE", "MOB",
        ]),
        fields in vec("([0-9A-Z.+-]{0,12}|[ -~]{0,20}|\\PC{0,8}|[0-9]{0,10}|[0-9]{4}\\.[0-9]{0,4})", 0..20),
    ) {
        let fields = fields.join(",").replace(['*', '!', '$'], "");
        let body = format!("AI{formatter},{fields}");
        let mut watch = Watch::new();
        watch.take(0, format!("!{body}*{:02X}", checksum(body.as_bytes())).as_bytes());
    }

    /// Armour of any length and content, as each type.
    #[test]
    fn any_payload_is_answered(kind in 0..64_u8, values in vec(0..64_u8, 0..200), fill in 0..8_u8) {
        let armour = |v: &u8| char::from(if *v < 40 { v + 48 } else { v + 56 });
        let payload: String = std::iter::once(&kind).chain(&values).map(armour).collect();
        let body = format!("AIVDM,1,1,,A,{payload},{fill}");
        let mut watch = Watch::new();
        watch.take(0, format!("!{body}*{:02X}", checksum(body.as_bytes())).as_bytes());
    }
}
