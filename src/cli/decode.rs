//! `overside decode`: sentences in, one JSON object a line out.
//!
//! Reads a stream of any length in bounded memory. What a line says is the wire's business; here
//! it gets its line number and its place in the output.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::{Error, ExitCode};
use crate::mmsi::Mmsi;
use crate::text::json_line;
use crate::thread;
use crate::time::{Mono, Utc};
use crate::wire::nmea::Nmea;
use crate::wire::{
    AisReport, Content, Decoded, Decoder, InputId, Line, Reject, Source, Splitter, Tally,
};

/// Read at a time, its objects written at a time: large enough that system calls do not count.
const CHUNK_BYTES: usize = 64 * 1024;

/// What decoding is told.
#[derive(Debug, clap::Args)]
pub struct DecodeArgs {
    /// The files, in order; none or - for standard input
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Exit with 1 if any line was rejected
    #[arg(long)]
    pub strict: bool,
    /// Print no objects but one of totals
    #[arg(long)]
    pub tally: bool,
}

/// Decodes the files, or standard input.
pub(super) fn run(args: &DecodeArgs) -> Result<ExitCode, Error> {
    let stdin = [PathBuf::from("-")];
    let files = if args.files.is_empty() { &stdin[..] } else { &args.files };
    super::check_files(files)?;
    let rejects = if args.tally { count(files) } else { print(files) }?;
    Ok(if args.strict && rejects > 0 { ExitCode::Finding } else { ExitCode::Done })
}

/// Prints an object for each line, file after file; how many lines were rejected.
fn print(files: &[PathBuf]) -> Result<u64, Error> {
    let mut output = io::stdout().lock();
    let mut reading = Reading::new(false);
    for (place, path) in files.iter().enumerate() {
        // Parts of a message lie within one file.
        reading.input = InputId(place as u16);
        reading.open(path, &mut output)?;
    }
    Ok(reading.decoder.tally().rejects)
}

/// Counts what is in the files, each for itself on all cores, and prints the totals; how many lines
/// were rejected.
fn count(files: &[PathBuf]) -> Result<u64, Error> {
    let readings = thread::each(files, |_, path| {
        let mut reading = Reading::new(true);
        reading.open(path, &mut io::sink()).map(|()| reading)
    });
    let mut totals = Totals::default();
    for reading in readings {
        totals.add(reading?);
    }
    let mut json = Vec::new();
    put(&mut json, &totals);
    pass_on(&mut json, &mut io::stdout().lock())?;
    Ok(totals.rejects)
}

/// The state of a run over one or several files, whose lines count on.
struct Reading {
    decoder: Decoder,
    input: InputId,
    /// Whether only to count.
    silent: bool,
    /// Objects not yet written.
    json: Vec<u8>,
    /// Identities of survivor beacons heard. There are three million at most.
    beacons: BTreeSet<Mmsi>,
    /// The earliest and the latest time a line told.
    times: Option<(Utc, Utc)>,
}

impl Reading {
    fn new(silent: bool) -> Self {
        let (decoder, input) = (Decoder::new(), InputId::default());
        Self { decoder, input, silent, json: Vec::new(), beacons: BTreeSet::new(), times: None }
    }

    fn open(&mut self, path: &Path, output: &mut impl Write) -> Result<(), Error> {
        if path == Path::new("-") {
            return self.read(path, io::stdin().lock(), output);
        }
        let file = File::open(path).map_err(|why| Error::unreadable(path, &why))?;
        self.read(path, file, output)
    }

    /// Reads one file to its end. What it gave is passed on before more is waited for: a live feed
    /// comes out as it comes in.
    fn read(
        &mut self,
        path: &Path,
        mut file: impl Read,
        output: &mut impl Write,
    ) -> Result<(), Error> {
        let mut splitter = Splitter::new();
        let mut chunk = vec![0; CHUNK_BYTES];
        loop {
            let count = match file.read(&mut chunk) {
                Err(why) if why.kind() == io::ErrorKind::Interrupted => continue,
                read => read.map_err(|why| Error::unreadable(path, &why))?,
            };
            if count == 0 {
                splitter.finish(|line| self.take(line));
                return pass_on(&mut self.json, output);
            }
            splitter.push(&chunk[..count], |line| self.take(line));
            pass_on(&mut self.json, output)?;
        }
    }

    /// Takes one line.
    fn take(&mut self, line: &[u8]) {
        let at = by_count(self.decoder.tally().lines);
        // Looked at where it is: it is large.
        let decoded = &self.decoder.decode(self.input, at, line);
        let number = self.decoder.tally().lines;
        match decoded {
            None => {}
            Some(Ok(decoded)) => {
                self.note(decoded);
                if !self.silent && !matches!(decoded.content, Content::Part) {
                    put(&mut self.json, &Object::new(number, decoded));
                }
            }
            Some(Err(why)) if !self.silent => {
                put(&mut self.json, &Rejected::new(number, line, *why));
            }
            Some(Err(_)) => {}
        }
    }

    fn note(&mut self, decoded: &Decoded<'_>) {
        if let Some(at) = decoded.at {
            self.times = spanning(self.times, Some((at, at)));
        }
        if let Content::Ais(report) = &decoded.content {
            let mmsi = report.message.mmsi;
            if mmsi.beacon_kind().is_some() {
                self.beacons.insert(mmsi);
            }
        }
    }
}

/// Writes what is there, and forgets it.
fn pass_on(json: &mut Vec<u8>, output: &mut impl Write) -> Result<(), Error> {
    output
        .write_all(json)
        .and_then(|()| output.flush())
        .map_err(|why| Error::unwritable("standard output", &why))?;
    json.clear();
    Ok(())
}

/// When the line after so many came in, if nothing else tells: each counts 13.333 ms, a slot and a
/// half of the radio channel. Only parts of a message without a time of their own depend on it.
fn by_count(lines: u64) -> Mono {
    Mono::from_micros(lines.saturating_mul(40_000) / 3)
}

fn put(json: &mut Vec<u8>, object: &impl Serialize) {
    // Writing plain data into memory does not fail.
    let _ = json_line(json, object);
}

/// What a line said. The order of the keys is that of the output.
#[derive(Serialize)]
struct Object<'a> {
    line: u64,
    at: Option<Utc>,
    source: Option<Source>,
    talker: &'a str,
    sentence: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    ais: Option<&'a AisReport>,
    #[serde(flatten)]
    nmea: Option<&'a Nmea>,
}

impl<'a> Object<'a> {
    fn new(line: u64, decoded: &'a Decoded<'a>) -> Self {
        let &Decoded { at, source, talker, formatter: sentence, ref content } = decoded;
        let (ais, nmea) = match content {
            Content::Ais(report) => (Some(report), None),
            Content::Nmea(nmea) => (None, Some(nmea)),
            Content::Part | Content::Other => (None, None),
        };
        Self { line, at, source, talker, sentence, ais, nmea }
    }
}

/// A line that was not taken, with as much of its envelope as is sound.
#[derive(Serialize)]
struct Rejected<'a> {
    line: u64,
    at: Option<Utc>,
    source: Option<Escaped<'a>>,
    talker: Option<&'a str>,
    sentence: Option<&'a str>,
    reject: Reject,
    raw: Escaped<'a>,
}

impl<'a> Rejected<'a> {
    fn new(line: u64, raw: &'a [u8], reject: Reject) -> Self {
        let parts = Line::parse(raw).ok();
        Self {
            line,
            at: parts.and_then(|line| line.time()),
            source: parts.and_then(|line| line.tag?.source).map(Escaped),
            talker: parts.map(|line| line.sentence.talker),
            sentence: parts.map(|line| line.sentence.formatter),
            reject,
            raw: Escaped(raw),
        }
    }
}

/// Bytes made printable: what is no printable ASCII becomes `\xNN`, the rest stays as it is.
struct Escaped<'a>(&'a [u8]);

impl fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|&byte| match byte {
            b' '..=b'~' => fmt::Write::write_char(f, char::from(byte)),
            other => write!(f, "\\x{other:02x}"),
        })
    }
}

impl Serialize for Escaped<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// What was counted in all.
#[derive(Default, Serialize)]
struct Totals {
    lines: u64,
    sentences: u64,
    messages: u64,
    rejects: u64,
    lenient: u64,
    by_type: BTreeMap<usize, u64>,
    beacons: BTreeSet<Mmsi>,
    /// Between the earliest and the latest time known.
    #[serde(rename = "seconds", serialize_with = "seconds")]
    times: Option<(Utc, Utc)>,
}

impl Totals {
    fn add(&mut self, reading: Reading) {
        let &Tally { lines, sentences, messages, rejects, lenient, by_type } =
            reading.decoder.tally();
        self.lines += lines;
        self.sentences += sentences;
        self.messages += messages;
        self.rejects += rejects;
        self.lenient += lenient;
        for (kind, count) in by_type.into_iter().enumerate().filter(|&(_, count)| count > 0) {
            *self.by_type.entry(kind).or_default() += count;
        }
        self.beacons.extend(reading.beacons);
        self.times = spanning(self.times, reading.times);
    }
}

/// From the earlier beginning to the later end.
fn spanning(one: Option<(Utc, Utc)>, other: Option<(Utc, Utc)>) -> Option<(Utc, Utc)> {
    match (one, other) {
        (Some((from, to)), Some((begin, end))) => Some((from.min(begin), to.max(end))),
        _ => one.or(other),
    }
}

fn seconds<S: serde::Serializer>(
    times: &Option<(Utc, Utc)>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    times.map(|(first, last)| last.ms_since(first) as f64 / 1000.0).serialize(serializer)
}
