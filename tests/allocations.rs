//! Decoding takes nothing from the heap, whatever the message, as long as it fits one sentence; the
//! parts of longer ones are kept in buffers that are used again.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may")]

use std::path::Path;

use allocation_counter::measure;
use overside::time::Mono;
use overside::wire::{Content, Decoded, Decoder, InputId};

#[path = "bench/corpus.rs"]
mod corpus;
use corpus::Corpus;

/// How often the heap was asked while these lines were decoded, a slot and a half apart.
fn allocations(decoder: &mut Decoder, lines: &[Vec<u8>]) -> u64 {
    let begun = decoder.tally().lines;
    let counted = measure(|| {
        for (line, place) in lines.iter().zip(begun..) {
            let at = Mono::from_micros(place * 13_333);
            let decoded = decoder.decode(InputId(0), at, line);
            assert!(!matches!(decoded, Some(Ok(decoded)) if decoded.talker.is_empty()));
        }
    });
    counted.count_total
}

#[test]
fn the_messages_of_the_benches_take_nothing_from_the_heap() {
    for kind in [1, 14, 18] {
        let lines = Corpus::of_type(kind, 1_000).lines;
        let mut decoder = Decoder::new();
        assert_eq!(allocations(&mut decoder, &lines), 0, "type {kind}");
        assert_eq!(decoder.tally().by_type[usize::from(kind)], 1_000);
    }
}

/// The messages of the vectors that are whole in one sentence: every type, and the traps.
#[test]
fn no_message_in_one_sentence_takes_anything_from_the_heap() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors");
    let mut types = [0; 64];
    for entry in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let file: toml::Table = toml::from_str(&text).unwrap();
        for vector in file["vector"].as_array().unwrap() {
            for line in vector["lines"].as_array().unwrap() {
                let line = line.as_str().unwrap().as_bytes().to_vec();
                let mut decoder = Decoder::new();
                let decoded = decoder.decode(InputId(0), Mono::START, &line);
                if !matches!(decoded, Some(Ok(Decoded { content: Content::Ais(_), .. }))) {
                    continue;
                }
                let mut decoder = Decoder::new();
                let text = String::from_utf8_lossy(&line).into_owned();
                assert_eq!(allocations(&mut decoder, &[line]), 0, "{text}");
                let counts = types.iter_mut().zip(decoder.tally().by_type);
                counts.for_each(|(sum, count)| *sum += count);
            }
        }
    }
    for kind in [1, 2, 3, 4, 9, 12, 14, 18, 19, 21, 24, 27] {
        assert!(types[kind] > 0, "no vector of type {kind} in one sentence");
    }
}

/// A buffer for each of the 64 messages that may be under way, and the table that holds them.
#[test]
fn parts_of_messages_take_their_buffers_once() {
    let lines = Corpus::mixed().lines;
    let mut decoder = Decoder::new();
    let taken: u64 = (0..3).map(|_| allocations(&mut decoder, &lines)).sum();
    assert!(taken <= 64 + 8, "{taken}");
    let tally = decoder.tally();
    assert!(tally.messages < tally.sentences || lines.len() < 3_000, "no message of several parts");
}
