//! Our decoder beside two others, the crates `ais` and `nmea-parser`, over recordings of real
//! traffic: message by message, field by field.
//!
//! Both have faults, and we decide some things otherwise on purpose. Every disagreement must be
//! explained by a row of [`known::DIFFERENCES`]; one that is not fails the test with its sentence.
//! So does a row that explains nothing any more.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::{BTreeMap, HashMap};
use std::panic::{AssertUnwindSafe, catch_unwind};

use overside::time::Mono;
use overside::wire::{Bits, Content, Decoder, InputId, Line};
use serde_json::{Map, Value, json};

#[path = "support/captures.rs"]
mod captures;
#[path = "oracle/crate_ais.rs"]
mod crate_ais;
#[path = "oracle/crate_nmea_parser.rs"]
mod crate_nmea_parser;
#[path = "oracle/known.rs"]
mod known;

use known::{DIFFERENCES, Difference, Library, What};

type Facts = Map<String, Value>;

#[test]
fn we_agree_with_two_other_decoders_or_know_why_not() {
    let mut comparison = Comparison::default();
    for (sentence, library, key) in known::TRAPS {
        let before = comparison.seen.clone();
        comparison.compare_lines(sentence.as_bytes());
        let now = comparison.seen.iter().filter(|&(row, count)| before.get(row) != Some(count));
        let mut rows = now.map(|(&row, _)| &DIFFERENCES[row]);
        let found = rows.any(|known| known.library == *library && known.what.concerns(key));
        assert!(found, "{library:?} does not differ in {key}: {sentence}");
    }
    if let Some(folder) = captures::path("ais") {
        let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        for file in entries.filter(|path| path.is_file()) {
            comparison.compare_lines(&std::fs::read(file).unwrap());
        }
        assert!(comparison.messages > 70_000, "{} messages compared", comparison.messages);
    }
    if let Some(folder) = captures::path("beacons") {
        let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        for file in entries {
            comparison.compare_lines(&std::fs::read(file).unwrap());
        }
        comparison.report();
    }
}

#[derive(Default)]
struct Comparison {
    /// Parts of messages under way, by what their sentences have in common.
    parts: HashMap<Vec<u8>, Vec<Vec<u8>>>,
    messages: u64,
    fields: u64,
    /// How often each row of the table was needed.
    seen: BTreeMap<usize, u64>,
    unexplained: Vec<String>,
}

impl Comparison {
    fn compare_lines(&mut self, lines: &[u8]) {
        let mut decoder = Decoder::new();
        self.parts.clear();
        for (count, line) in lines.split(|&b| b == b'\n').enumerate() {
            let Some(sentence) = bare_sentence(line) else { continue };
            let at = Mono::from_micros(count as u64 * 13_333);
            let Some(decoded) = decoder.decode(InputId(0), at, line.trim_ascii_end()) else {
                continue;
            };
            let ours = match &decoded {
                Ok(decoded) => match &decoded.content {
                    Content::Ais(report) => match serde_json::to_value(report).unwrap() {
                        Value::Object(facts) => Ok(facts),
                        other => panic!("{other} is no object"),
                    },
                    Content::Part => {
                        self.keep_part(sentence);
                        continue;
                    }
                    Content::Nmea(_) | Content::Other => continue,
                },
                Err(why) => Err(why.to_string()),
            };
            let sentences = match Line::parse(line) {
                Ok(_) => self.whole(sentence),
                // With a damaged envelope the part belongs to nothing.
                Err(_) => vec![sentence.to_vec()],
            };
            self.compare(&sentences, ours);
        }
    }

    fn keep_part(&mut self, sentence: &[u8]) {
        let (key, number) = part_key(sentence);
        let parts = self.parts.entry(key).or_default();
        if number == b"1" {
            parts.clear();
        }
        parts.push(sentence.to_vec());
    }

    /// The sentences of the message that this one ends.
    fn whole(&mut self, sentence: &[u8]) -> Vec<Vec<u8>> {
        let mut parts = self.parts.remove(&part_key(sentence).0).unwrap_or_default();
        parts.push(sentence.to_vec());
        parts
    }

    fn compare(&mut self, sentences: &[Vec<u8>], ours: Result<Facts, String>) {
        self.messages += 1;
        let payload = sentences.iter().flat_map(|s| s.split(|&b| b == b',').nth(5).unwrap_or(b""));
        let mut bits = Bits::new();
        let payload: Vec<u8> = payload.copied().collect();
        // Illegal armour leaves nonsense, which no row depends on.
        let _ = bits.load(&payload, 0);
        let none = Facts::new();
        for library in [Library::Ais, Library::NmeaParser] {
            let read = match library {
                Library::Ais => crate_ais::read,
                Library::NmeaParser => crate_nmea_parser::read,
            };
            let known = ours.as_ref().unwrap_or(&none);
            let asked = if ours.is_ok() { known } else { &json_head(&bits) };
            let theirs = catch_unwind(AssertUnwindSafe(|| read(sentences, asked)))
                .unwrap_or_else(|_| Err("panic".into()));
            let sight = |what, ours: Value, theirs: Value| Difference {
                library,
                what,
                ours,
                theirs,
                kind: bits.unsigned(0, 6) as u8,

                bits: &bits,
                facts: known,
                parts: sentences.len(),
            };
            let found = match (&ours, theirs) {
                (Err(_), Err(_)) => vec![],
                (Err(why), Ok(facts)) => vec![sight(What::OnlyTheirs, json!(why), facts.into())],
                (Ok(_), Err(why)) => vec![sight(What::OnlyOurs, Value::Null, json!(why))],
                (Ok(ours), Ok(theirs)) => {
                    self.fields += theirs.len() as u64;
                    let differs = |(key, theirs): (&String, &Value)| {
                        let ours = ours.get(key).cloned().unwrap_or(json!("no such field"));
                        (!same(library, &ours, theirs))
                            .then(|| sight(What::Field(known::field(key)), ours, theirs.clone()))
                    };
                    theirs.iter().filter_map(differs).collect()
                }
            };
            for difference in found {
                self.explain(&difference, sentences);
            }
        }
    }

    fn explain(&mut self, difference: &Difference<'_>, sentences: &[Vec<u8>]) {
        match DIFFERENCES.iter().position(|known| known.explains(difference)) {
            Some(row) => *self.seen.entry(row).or_default() += 1,
            None => self.unexplained.push(format!(
                "{:?} {:?}: ours {}, theirs {}\n    {}",
                difference.library,
                difference.what,
                difference.ours,
                difference.theirs,
                sentences.iter().map(|s| String::from_utf8_lossy(s)).collect::<Vec<_>>().join(" "),
            )),
        }
    }

    fn report(&self) {
        println!("{} messages, {} fields compared", self.messages, self.fields);
        for (row, count) in &self.seen {
            let known = &DIFFERENCES[*row];
            println!("{count:6} × {:?} {:?}: {}", known.library, known.what, known.reason);
        }
        let more = self.unexplained.iter().take(20).cloned().collect::<Vec<_>>().join("\n");
        assert!(self.unexplained.is_empty(), "{} unexplained:\n{more}", self.unexplained.len());
        for (row, known) in DIFFERENCES.iter().enumerate() {
            let needed = self.seen.contains_key(&row);
            assert!(
                needed,
                "explains nothing: {:?} {:?}: {}",
                known.library, known.what, known.reason
            );
        }
    }
}

/// The sentence alone, without what a logger put around it.
fn bare_sentence(line: &[u8]) -> Option<&[u8]> {
    let start = line.iter().rposition(|&b| b == b'!')?;
    let sentence = &line[start..];
    let end = sentence.iter().position(|&b| b == b'*').map_or(sentence.len(), |star| star + 3);
    sentence.get(..end)
}

/// What the sentences of one message have in common, and the number of this one.
fn part_key(sentence: &[u8]) -> (Vec<u8>, &[u8]) {
    let fields: Vec<_> = sentence.split(|&b| b == b',').collect();
    let field = |place: usize| fields.get(place).copied().unwrap_or_default();
    ([field(0), field(1), field(3), field(4)].join(&b','), field(2))
}

/// The type alone, for a message that we did not take.
fn json_head(bits: &Bits) -> Facts {
    Facts::from_iter([("type".to_owned(), json!(bits.unsigned(0, 6)))])
}

fn same(library: Library, ours: &Value, theirs: &Value) -> bool {
    match (ours.as_f64(), theirs.as_f64()) {
        (Some(ours), Some(theirs)) => {
            // The crate `ais` keeps numbers in single precision: some metres at 180°. The other
            // crate, and pyais in check.py, see the last digit.
            let precision = if library == Library::Ais { 2e-7 } else { 1e-12 };
            (ours - theirs).abs() <= precision * ours.abs().max(1.0)
        }
        _ => ours == theirs,
    }
}

/// A code number from a library that has an enumeration in its place: ours if it means the same.
fn coded(ours: &Facts, key: &str, means_theirs: impl Fn(u8) -> bool) -> Value {
    let raw = ours.get(key).and_then(Value::as_u64).unwrap_or(0) as u8;
    if means_theirs(raw) {
        return ours.get(key).cloned().unwrap_or_default();
    }
    (0..=255).find(|&raw| means_theirs(raw)).map_or(json!("no code"), Value::from)
}

/// A moment in RFC 3339 as we print it, null if a part is missing or there is no such moment.
fn moment(parts: [Option<u32>; 6]) -> Value {
    let [Some(year), Some(month), Some(day), Some(hour), Some(minute), Some(second)] = parts else {
        return Value::Null;
    };
    let date = chrono::NaiveDate::from_ymd_opt(year as i32, month, day);
    let moment = date.and_then(|date| date.and_hms_opt(hour, minute, second));
    moment.map_or(Value::Null, |m| json!(m.format("%Y-%m-%dT%H:%M:%S.000Z").to_string()))
}

/// Four distances to the sides of a ship; all zero is not available.
fn sizes(value: &mut Value, metres: [u16; 4]) {
    let keys = ["to_bow_m", "to_stern_m", "to_port_m", "to_starboard_m"];
    for (key, metres_to_side) in keys.into_iter().zip(metres) {
        value[key] = if metres == [0; 4] { Value::Null } else { json!(metres_to_side) };
    }
}

/// A text, null if empty.
fn text(text: &str) -> Value {
    if text.is_empty() { Value::Null } else { json!(text) }
}
