//! Laws of the wire layer that hold for every value, not for chosen ones.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may")]

use overside::mmsi::{Mmsi, Station};
use overside::time::Mono;
use overside::wire::ais::{
    Body, ClassBReport, CommState, Dimensions, Message, PositionReport, SafetyText, StaticA,
    StaticB,
};
use overside::wire::{
    AisReport, Content, Decoder, InputId, LINE_LIMIT, Reject, Splitter, Text, checksum,
};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;

fn config() -> ProptestConfig {
    let kept = FileFailurePersistence::Direct("tests/regressions/properties.txt");
    ProptestConfig {
        cases: 2048,
        failure_persistence: Some(Box::new(kept)),
        ..ProptestConfig::default()
    }
}

// ---- messages over the whole range of each field -------------------------------------------------

fn mmsi() -> impl Strategy<Value = Mmsi> {
    let any = 0..=999_999_999_u32;
    let kinds = prop_oneof![
        4 => any,
        1 => 970_000_000..=970_999_999_u32,
        1 => 972_000_000..=972_999_999_u32,
        1 => 974_000_000..=974_999_999_u32,
        1 => 982_000_000..=987_999_999_u32,
    ];
    kinds.prop_map(|value| Mmsi::new(value).unwrap())
}

/// Characters of M.1371-5 table 47 but `@`; spaces at the end are no part of a text.
fn text<const N: usize>() -> impl Strategy<Value = Text<N>> {
    let six_bit = prop_oneof![32..=63_u8, 65..=95_u8];
    vec(six_bit, 0..=N).prop_map(|bytes| String::from_utf8(bytes).unwrap().parse().unwrap())
}

fn tenths(below: u16) -> impl Strategy<Value = Option<f64>> {
    proptest::option::of((0..below).prop_map(|raw| f64::from(raw) / 10.0))
}

fn coordinate(limit: i32) -> impl Strategy<Value = Option<f64>> {
    proptest::option::of((-limit..=limit).prop_map(|raw| f64::from(raw) / 600_000.0))
}

/// What types 1, 2, 3 and 18 have in common.
type Movement = (Option<f64>, bool, Option<f64>, Option<f64>, Option<f64>, Option<u16>, u8, bool);

fn movement() -> impl Strategy<Value = Movement> {
    (
        tenths(1023),
        any::<bool>(),
        coordinate(180 * 600_000),
        coordinate(90 * 600_000),
        tenths(3600),
        proptest::option::of(0..360_u16),
        0..64_u8,
        any::<bool>(),
    )
}

fn position_report() -> impl Strategy<Value = (u8, Body)> {
    let rest = (0..16_u8, any::<i8>(), 0..4_u8, 0..4_u8, 0..8_u8, 0..16_384_u16, 0..8192_u16);
    (1..=3_u8, movement(), rest).prop_map(|(kind, movement, rest)| {
        let (sog_kn, position_accuracy, lon, lat, cog_deg, heading_deg, utc_second, raim) =
            movement;
        let (nav_status, rate_of_turn_raw, manoeuvre, sync, timeout, submessage, increment) = rest;
        // M.1371-5 table 48: ±127 tells the side alone, -128 nothing.
        let root = f64::from(rate_of_turn_raw) / 4.733;
        let known = !matches!(rate_of_turn_raw, -128 | -127 | 127);
        let comm_state = if kind == 3 {
            CommState::Itdma { sync_state: Some(sync), slot_increment: Some(increment) }
        } else {
            CommState::sotdma(sync, timeout, submessage)
        };
        let report = PositionReport {
            nav_status,
            rate_of_turn_raw,
            rate_of_turn_deg_min: known.then_some(root * root.abs()),
            sog_kn,
            position_accuracy,
            lon,
            lat,
            cog_deg,
            heading_deg,
            utc_second,
            manoeuvre,
            raim,
            comm_state,
        };
        (kind, Body::Position(report))
    })
}

fn class_b() -> impl Strategy<Value = (u8, Body)> {
    (movement(), any::<bool>()).prop_map(|(movement, carrier_sense)| {
        let (sog_kn, position_accuracy, lon, lat, cog_deg, heading_deg, utc_second, raim) =
            movement;
        let report = ClassBReport {
            sog_kn,
            position_accuracy,
            lon,
            lat,
            cog_deg,
            heading_deg,
            utc_second,
            carrier_sense,
            raim,
        };
        (18, Body::ClassB(report))
    })
}

fn dimensions() -> impl Strategy<Value = Dimensions> {
    (0..512_u16, 0..512_u16, 0..64_u16, 0..64_u16).prop_map(|all| match all {
        (0, 0, 0, 0) => Dimensions::default(),
        (bow, stern, port, starboard) => Dimensions {
            to_bow_m: Some(bow),
            to_stern_m: Some(stern),
            to_port_m: Some(port),
            to_starboard_m: Some(starboard),
        },
    })
}

/// A size whose thirty bits are below any ship's identity: 1 to 94 m to the bow.
fn small(dimensions: Dimensions) -> Dimensions {
    Dimensions { to_bow_m: dimensions.to_bow_m.map(|bow| bow % 94 + 1), ..dimensions }
}

fn static_b(mmsi: Mmsi) -> impl Strategy<Value = (u8, Body)> {
    let is_child = mmsi.station() == Station::ParentCraft;
    // Only a ship is a parent; what would read as one cannot be the size of a craft of hers.
    let parent = proptest::option::of(200_000_000..=799_999_999_u32);
    (proptest::option::of(1..=255_u8), text(), text(), dimensions(), parent).prop_map(
        move |(ship_type, vendor, call_sign, dimensions, parent)| {
            let part = StaticB {
                part: 'B',
                ship_type,
                vendor: vendor.some(),
                call_sign: call_sign.some(),
                dimensions: match parent.filter(|_| is_child) {
                    Some(_) => Dimensions::default(),
                    None if is_child => small(dimensions),
                    None => dimensions,
                },
                parent_mmsi: parent.filter(|_| is_child).and_then(Mmsi::new),
            };
            (24, Body::StaticB(part))
        },
    )
}

fn message() -> impl Strategy<Value = Message> {
    (mmsi(), 0..4_u8).prop_flat_map(|(mmsi, repeat)| {
        let body = prop_oneof![
            position_report(),
            class_b(),
            text().prop_map(move |text| (14, Body::SafetyText(SafetyText::new(text, mmsi)))),
            text::<20>().prop_map(|name| (24, Body::StaticA(StaticA::new(name.some())))),
            static_b(mmsi),
        ];
        body.prop_map(move |(kind, body)| Message { kind, repeat, mmsi, body })
    })
}

// ---- and back ------------------------------------------------------------------------------------

/// The sentences of a message, of at most `size` payload characters each but no more than nine.
fn sentences(message: &Message, size: usize, sequence: u8, channel: char) -> Vec<String> {
    let (payload, fill) = message.encode().unwrap().armoured();
    let parts: Vec<&[u8]> =
        payload.as_bytes().chunks(size.max(payload.len().div_ceil(9))).collect();
    let total = parts.len();
    let sequence = if total == 1 { String::new() } else { sequence.to_string() };
    let sentence = |(i, part): (usize, &&[u8])| {
        let part = std::str::from_utf8(part).unwrap();
        let number = i + 1;
        let fill = if number == total { fill } else { 0 };
        let body = format!("AIVDM,{total},{number},{sequence},{channel},{part},{fill}");
        format!("!{body}*{:02X}", checksum(body.as_bytes()))
    };
    parts.iter().enumerate().map(sentence).collect()
}

/// What one line gives: a message, or nothing yet.
fn heard(decoder: &mut Decoder, input: u16, line: &str) -> Result<Option<AisReport>, Reject> {
    match decoder.decode(InputId(input), Mono::START, line.as_bytes()).unwrap()?.content {
        Content::Ais(report) => Ok(Some(report)),
        _ => Ok(None),
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_message_comes_back_as_it_was_written(message in message(), size in 1..=60_usize) {
        let mut decoder = Decoder::new();
        for size in [size, 60] {
            let lines = sentences(&message, size, 7, 'B');
            let (last, first) = lines.split_last().unwrap();
            for line in first {
                prop_assert_eq!(heard(&mut decoder, 0, line), Ok(None));
            }
            let expected = AisReport { channel: Some('B'), own: false, message: message.clone() };
            prop_assert_eq!(heard(&mut decoder, 0, last), Ok(Some(expected)));
        }
        prop_assert_eq!(decoder.tally().messages, 2);
        prop_assert_eq!(decoder.abandoned(), 0);
    }

    /// On two inputs with the same identifier and channel, and on one with another of either.
    #[test]
    fn interleaved_parts_give_both_messages(
        pair in [message(), message()],
        sizes in [1..=60_usize, 1..=60_usize],
        difference in 0..3_usize,
        order in vec(any::<bool>(), 0..18),
    ) {
        let (input, sequence, channel) = [(1, 0, 'A'), (0, 1, 'A'), (0, 0, 'B')][difference];
        let mut queues = [
            sentences(&pair[0], sizes[0], 0, 'A').into_iter(),
            sentences(&pair[1], sizes[1], sequence, channel).into_iter(),
        ];
        let inputs = [0, input];
        let mut decoder = Decoder::new();
        let mut found = [None, None];
        // What the order leaves over follows at the end.
        let rest = [[false; 9], [true; 9]].concat();
        for which in order.into_iter().chain(rest).map(usize::from) {
            if let Some(line) = queues[which].next() {
                let report = heard(&mut decoder, inputs[which], &line);
                prop_assert!(report.is_ok(), "{:?}: {}", report, line);
                if let Ok(Some(report)) = report {
                    prop_assert!(found[which].replace(report.message).is_none());
                }
            }
        }
        prop_assert_eq!(found, pair.map(Some));
    }

    /// However a stream is chunked it has the same lines, and no byte is lost uncounted.
    #[test]
    fn lines_do_not_depend_on_chunks(
        pieces in vec(prop_oneof![
            4 => vec(any::<u8>(), 0..40),
            2 => Just(b"\n".to_vec()),
            2 => Just(b"\r\n".to_vec()),
            1 => Just(b"\r".to_vec()),
            1 => (LINE_LIMIT - 2..LINE_LIMIT + 5).prop_map(|length| vec![b'x'; length]),
        ], 0..20),
        cuts in vec(any::<prop::sample::Index>(), 0..12),
    ) {
        let bytes = pieces.concat();
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len() + 1)).collect();
        cuts.sort_unstable();
        cuts.push(bytes.len());
        let mut splitter = Splitter::new();
        let mut lines: Vec<Vec<u8>> = Vec::new();
        let mut from = 0;
        for cut in cuts {
            splitter.push(&bytes[from..cut], |line| lines.push(line.to_vec()));
            from = cut;
        }
        splitter.finish(|line| lines.push(line.to_vec()));

        // The same, said plainly.
        let mut expected: Vec<Vec<u8>> = Vec::new();
        let mut dropped = 0;
        let mut ends = bytes.iter().filter(|&&b| b == b'\n').count();
        let mut segments: Vec<&[u8]> = bytes.split(|&b| b == b'\n').collect();
        if segments.last().is_some_and(|last| last.is_empty()) {
            segments.pop();
        }
        for segment in segments {
            let mut line = segment[..segment.len().min(LINE_LIMIT + 1)].to_vec();
            dropped += segment.len() - line.len();
            let is_whole = line.len() == segment.len();
            while is_whole && line.last() == Some(&b'\r') {
                line.pop();
                ends += 1;
            }
            expected.push(line);
        }
        prop_assert_eq!(&lines, &expected);
        prop_assert_eq!(splitter.dropped(), dropped as u64);
        let kept: usize = lines.iter().map(Vec::len).sum();
        prop_assert_eq!(kept + ends + dropped, bytes.len());
        // A line of which something was dropped never passes for a whole one.
        let whole = bytes.split(|&b| b == b'\n').filter(|line| line.len() > LINE_LIMIT + 1).count();
        prop_assert!(lines.iter().filter(|line| line.len() > LINE_LIMIT).count() >= whole);
    }
}
