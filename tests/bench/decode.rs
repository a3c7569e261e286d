//! Decoding beside the crates `ais` and `nmea-parser`, on the same lines in the same run.
//!
//! `cargo bench --bench decode`. First the ratios, then divan's tables; with ` -- ratios` those alone.
//! It fails if mixed traffic takes more than a fifth of what it takes the crate `ais`.

#![allow(clippy::unwrap_used, reason = "a bench that cannot go on has failed")]

use std::hint::black_box;
use std::time::Duration;

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use overside::time::Mono;
use overside::wire::{Decoder, InputId};

mod corpus;
mod table;
use corpus::Corpus;
use table::row;

/// How many times as long as we the crate `ais` must take at least for mixed traffic. Six is usual.
const LEAST_RATIO: f64 = 5.0;

const CORPORA: [&str; 4] = ["mixed", "type 1", "type 18", "type 14"];

fn main() {
    // One of the others panics now and then.
    std::panic::set_hook(Box::new(|_| {}));
    let mixed = ratios();
    if mixed < LEAST_RATIO {
        eprintln!("TOO SLOW: the crate ais takes {mixed:.1} times as long, not {LEAST_RATIO}");
        std::process::exit(1);
    }
    divan::main();
}

fn corpus(name: &str) -> Corpus {
    match name {
        "type 1" => Corpus::of_type(1, 10_000),
        "type 18" => Corpus::of_type(18, 10_000),
        "type 14" => Corpus::of_type(14, 10_000),
        _ => Corpus::mixed(),
    }
}

#[divan::bench(args = CORPORA)]
fn overside(bencher: Bencher<'_, '_>, name: &str) {
    bench(bencher, name, read_overside);
}

#[divan::bench(args = CORPORA)]
fn crate_ais(bencher: Bencher<'_, '_>, name: &str) {
    bench(bencher, name, read_ais);
}

#[divan::bench(args = CORPORA, sample_count = 20)]
fn crate_nmea_parser(bencher: Bencher<'_, '_>, name: &str) {
    bench(bencher, name, read_nmea_parser);
}

fn bench(bencher: Bencher<'_, '_>, name: &str, read: fn(&Corpus)) {
    let corpus = corpus(name);
    bencher
        .counter(ItemsCount::new(corpus.lines.len()))
        .counter(BytesCount::new(corpus.lines.iter().map(Vec::len).sum::<usize>()))
        .bench_local(|| read(black_box(&corpus)));
}

fn read_overside(corpus: &Corpus) {
    let mut decoder = Decoder::new();
    for (place, line) in corpus.lines.iter().enumerate() {
        let at = Mono::from_micros(place as u64 * 13_333);
        let _ = black_box(&decoder.decode(InputId(0), at, line));
    }
}

fn read_ais(corpus: &Corpus) {
    let mut parser = ais::AisParser::new();
    for line in &corpus.lines {
        let _ = black_box(&parser.parse(line, true));
    }
}

fn read_nmea_parser(corpus: &Corpus) {
    let mut parser = nmea_parser::NmeaParser::new();
    for line in &corpus.lines {
        let line = std::str::from_utf8(line).unwrap();
        // It panics on short messages of types 25 and 26.
        let parse = std::panic::AssertUnwindSafe(|| parser.parse_sentence(line));
        let _ = black_box(&std::panic::catch_unwind(parse));
    }
}

/// Prints how long the others take for what we do in one, and gives that of the crate `ais` for
/// mixed traffic.
pub fn ratios() -> f64 {
    let of_ais = CORPORA.map(|name| {
        let corpus = corpus(name);
        // In turns, so that a busy machine is busy for all; the best of seven each.
        let mut best = [Duration::MAX; 3];
        for _ in 0..7 {
            for (best, read) in best.iter_mut().zip([read_overside, read_ais, read_nmea_parser]) {
                *best = (*best).min(time(|| read(black_box(&corpus))));
            }
        }
        let [ours, ais, parser] =
            best.map(|time| time.as_nanos() as f64 / corpus.lines.len() as f64);
        let (ais, parser) = (ais / ours, parser / ours);
        row(
            &format!("decode, {name}"),
            &format!("{ours:.1} ns a sentence"),
            &format!("ais {ais:.1} times as long, nmea-parser {parser:.1}"),
        );
        ais
    });
    of_ais[0]
}

#[expect(clippy::disallowed_methods, reason = "a bench is what a clock is for")]
fn time(work: impl FnOnce()) -> Duration {
    let start = std::time::Instant::now();
    work();
    start.elapsed()
}
