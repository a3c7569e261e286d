//! Any bytes: each line ends as one fact, one reject or nothing, with the shortcuts as without.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::time::Mono;
use overside::wire::{Content, Decoder, InputId, Line, Splitter};

fuzz_target!(|bytes: &[u8]| {
    let (mut decoder, mut splitter, mut answered) = (Decoder::new(), Splitter::new(), 0);
    let mut careful = Decoder::new();
    let mut take = |line: &[u8]| {
        let decoded = decoder.decode(InputId(0), Mono::START, line);
        assert_eq!(decoded, careful.decode_with_care(InputId(0), Mono::START, line));
        assert_eq!(Line::parse(line), Line::parse_with_care(line));
        match decoded {
            Some(Ok(decoded)) => match &decoded.content {
                Content::Ais(report) => {
                    let _ = (serde_json::to_string(report), report.message.body.motion());
                }
                Content::Nmea(nmea) => {
                    let _ = (serde_json::to_string(nmea), nmea.position());
                }
                Content::Part | Content::Other => {}
            },
            Some(Err(_)) => {}
            None => answered += 1,
        }
        assert_eq!(decoder.digest(), careful.digest());
    };
    splitter.push(bytes, &mut take);
    splitter.finish(&mut take);
    let tally = decoder.tally();
    assert_eq!(tally.lines, answered + tally.sentences + tally.rejects);
    assert!(tally.lenient <= tally.sentences);
    assert_eq!(tally, careful.tally());
});
