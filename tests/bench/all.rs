//! One table of everything: decoding beside its peers, the engine, alerts beside a bare receive, what
//! it takes at rest, starts, the weight of the program, its memory over a tenth of a month.
//!
//! `cargo bench --bench all -- [SECONDS] [PROGRAM]`: so long a row of alerts, 4 if left out; another
//! build of the program for the rows of whole processes. Each part alone: see the other benches.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]
#![allow(clippy::duplicate_mod, reason = "each bench is also one of its own")]
#![allow(dead_code, reason = "each has parts that it needs alone")]

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use overside::edge::Clock;
use overside::time::Mono;
use overside::wire::checksum;

#[path = "corpus.rs"]
mod corpus;
#[path = "decode.rs"]
mod decode;
#[path = "engine.rs"]
mod engine;
#[path = "latency.rs"]
mod latency;
#[path = "start.rs"]
mod start;
#[path = "table.rs"]
mod table;

use table::row;

/// Lines of a tenth of a month of a coastal station.
const LINES: usize = 20_000_000;

/// Entries of the largest logbook.
const ENTRIES: usize = 1_000_000;

fn main() {
    if latency::is_floor() {
        return;
    }
    let given: Vec<String> = std::env::args().skip(1).filter(|it| it != "--bench").collect();
    let seconds = given.iter().find_map(|it| it.parse().ok()).unwrap_or(4);
    let program = given.iter().find_map(|it| std::fs::canonicalize(it).ok());
    let program: PathBuf = program.unwrap_or_else(|| env!("CARGO_BIN_EXE_overside").into());
    // One of the peers panics now and then.
    std::panic::set_hook(Box::new(|_| {}));
    decode::ratios();
    let _ = std::panic::take_hook();
    engine::table();
    latency::table(program.clone(), seconds);
    start::table(&program, ENTRIES);
    let bytes = std::fs::metadata(&program).unwrap().len();
    row("weight of the program", &format!("{:.2} MiB", mebi(bytes)), "aim 5 MiB, published");
    memory(&program);
}

/// What a replay takes of memory: lines without end come through a pipe, half of them and all.
fn memory(program: &Path) {
    let lines = corpus::Corpus::mixed().lines;
    let clock = Clock::start();
    let mut command = Command::new(program);
    command.args(["replay", "--headless", "--speed", "max", "-"]);
    command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
    let mut child = command.spawn().unwrap();
    let mut input = std::io::BufWriter::new(child.stdin.take().unwrap());
    let peak = |pid| {
        let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap_or_default();
        let peak = status.lines().find_map(|it| it.strip_prefix("VmHWM:"));
        peak.and_then(|it| it.trim().strip_suffix(" kB")?.parse().ok()).map(|kib: u64| kib * 1024)
    };
    let mut half = None;
    for (number, line) in lines.iter().cycle().take(LINES).enumerate() {
        if number == LINES / 2 {
            half = peak(child.id());
        }
        let tag = format!("c:{}", 1_600_000_000_000 + number as u64 * 13);
        write!(input, "\\{tag}*{:02X}\\", checksum(tag.as_bytes())).unwrap();
        input.write_all(line).and_then(|()| input.write_all(b"\n")).unwrap();
    }
    input.flush().unwrap();
    let all = peak(child.id());
    drop(input);
    child.wait().unwrap();
    let each = clock.now().at.since(Mono::START).as_nanos() / LINES as u128;
    let said = |bytes: Option<u64>| {
        bytes.map_or_else(|| "not known".to_owned(), |it| format!("{:.1} MiB", mebi(it)))
    };
    let what = format!("memory, {} million lines through a pipe", LINES / 1_000_000);
    row(&what, &said(all), &format!("{} after half of them; {each} ns a line", said(half)));
}

fn mebi(bytes: u64) -> f64 {
    bytes as f64 / f64::from(1 << 20)
}
