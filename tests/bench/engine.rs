//! The whole engine over one recording, once and ten times over: the cost of a line must not grow
//! with the length of the watch.
//!
//! `cargo bench --bench engine`. The recording is one real day beside the project; without it,
//! nothing is measured, and that is said.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]

use std::path::PathBuf;

use divan::counter::ItemsCount;
use overside::capture::Reader;
use overside::watch::{Input, Settings, Watch};

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
    bencher.counter(ItemsCount::new(lines.len() * times)).bench(|| {
        let mut watch = Watch::new(Settings::default());
        let mut reader = Reader::new(&mut watch, "day");
        let mut events = 0;
        for _ in 0..times {
            reader.begin_file(&mut watch, "day");
            for bytes in &lines {
                let moment = reader.place(&mut watch, bytes);
                watch.handle(Input::Line { stamp: moment.stamp, input: moment.input, bytes });
                while watch.poll_output().is_some() {
                    events += 1;
                }
            }
        }
        events
    });
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
