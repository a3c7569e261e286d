//! Heap allocations of decoding ten thousand messages of a type, which should be none, and of mixed
//! traffic, where parts of messages are kept.
//!
//! `cargo bench --bench allocations`. Divan prints rows named `alloc` below a bench that allocated,
//! and none below one that did not. Apart from the bench of speed, since counting takes time.

#![allow(clippy::unwrap_used, reason = "a bench that cannot go on has failed")]

use std::hint::black_box;

use divan::{AllocProfiler, Bencher};
use overside::time::Mono;
use overside::wire::{Decoder, InputId};

mod corpus;
use corpus::Corpus;

#[global_allocator]
static ALLOCATOR: AllocProfiler = AllocProfiler::system();

fn main() {
    divan::main();
}

/// Stands for mixed traffic where a message type is asked for.
const MIXED: u8 = 0;

fn corpus(kind: u8) -> Corpus {
    if kind == MIXED { Corpus::mixed() } else { Corpus::of_type(kind, 10_000) }
}

#[divan::bench(args = [1, 18, 14, MIXED])]
fn overside(bencher: Bencher<'_, '_>, kind: u8) {
    let corpus = corpus(kind);
    let mut decoder = Decoder::new();
    bencher.bench_local(|| {
        for line in &corpus.lines {
            let _ = black_box(&decoder.decode(InputId(0), Mono::START, line));
        }
    });
}

#[divan::bench(args = [1, 18, 14, MIXED])]
fn crate_ais(bencher: Bencher<'_, '_>, kind: u8) {
    let corpus = corpus(kind);
    let mut parser = ais::AisParser::new();
    bencher.bench_local(|| {
        for line in &corpus.lines {
            let _ = black_box(&parser.parse(line, true));
        }
    });
}
