//! The whole engine over one recording, once and ten times over: the cost of a line must not grow
//! with the length of the watch.
//!
//! `cargo bench --bench engine`. The recording is one real day beside the project; without it,
//! nothing is measured, and that is said.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]

use std::path::PathBuf;
use std::time::Duration;

use divan::counter::ItemsCount;
use overside::capture::Reader;
use overside::edge::Clock;
use overside::watch::{Input, Settings, Watch};

mod table;
use table::row;

fn main() {
    if recording().is_none() {
        eprintln!("NOT RUN: ../shared/captures is missing");
        return;
    }
    divan::main();
}

fn recording() -> Option<Vec<u8>> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../shared/captures/ais/vernon_seine_20160331.log");
    std::fs::read(path).ok()
}

/// A watch over the recording so many times over, as so many files.
#[divan::bench(args = [1, 2, 5, 10], sample_count = 5)]
fn days(bencher: divan::Bencher, times: usize) {
    let bytes = recording().unwrap();
    let lines: Vec<&[u8]> = bytes.split(|&byte| byte == b'\n').collect();
    bencher.counter(ItemsCount::new(lines.len() * times)).bench(|| watch(&lines, times));
}

/// A row each of one day and of ten, the best of five.
pub fn table() {
    let Some(bytes) = recording() else { return };
    let lines: Vec<&[u8]> = bytes.split(|&byte| byte == b'\n').collect();
    let a_line = |times| {
        let took = (0..5).map(|_| {
            let clock = Clock::start();
            let begun = clock.now().at;
            watch(&lines, times);
            clock.now().at.since(begun)
        });
        let best: Duration = took.min().unwrap_or_default();
        best.as_nanos() as f64 / (lines.len() * times) as f64
    };
    let (one, ten) = (a_line(1), a_line(10));
    let beside = format!("ten such days {:.2} times as long a line", ten / one);
    row("engine, a day of real traffic", &format!("{one:.0} ns a line"), &beside);
}

/// A watch over these lines so many times over. How much it told.
fn watch(lines: &[&[u8]], times: usize) -> usize {
    let mut watch = Watch::new(Settings::default());
    let mut reader = Reader::new(&mut watch, "day");
    let mut events = 0;
    for _ in 0..times {
        reader.begin_file(&mut watch, "day");
        for bytes in lines {
            let moment = reader.place(&mut watch, bytes);
            watch.handle(Input::Line { stamp: moment.stamp, input: moment.input, bytes });
            while watch.poll_output().is_some() {
                events += 1;
            }
        }
    }
    events
}

/// What of that is the placing of the lines alone: their times and inputs.
#[divan::bench(sample_count = 5)]
fn placing(bencher: divan::Bencher) {
    let bytes = recording().unwrap();
    let lines: Vec<&[u8]> = bytes.split(|&byte| byte == b'\n').collect();
    bencher.counter(ItemsCount::new(lines.len())).bench(|| {
        let mut watch = Watch::new(Settings::default());
        let mut reader = Reader::new(&mut watch, "day");
        lines.iter().map(|bytes| reader.place(&mut watch, bytes).stamp.at).max()
    });
}
