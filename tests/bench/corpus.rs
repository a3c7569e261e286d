//! What the benches read: real traffic as far as it is there, and messages of our own.

use std::path::Path;

use overside::mmsi::Mmsi;
use overside::wire::ais::{Body, ClassBReport, CommState, Message, PositionReport, SafetyText};
use overside::wire::checksum;

/// Lines of a corpus, without line ends.
pub struct Corpus {
    pub lines: Vec<Vec<u8>>,
}

impl Corpus {
    /// Mixed traffic: some 16 000 sentences of four recordings, 9 000 of a fifth that is mostly
    /// type 2, and a tenth of class B reports and safety texts, of which those have few. Without
    /// times and TAG blocks, which the other libraries do not all take.
    pub fn mixed() -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/captures/ais");
        let mut lines = Vec::new();
        for (name, most) in [
            ("norway_tagblock_20190807.nm4", 1_000),
            ("world_feed_ns_20190216.nmea", 1_000),
            ("uscg_stations_20060715.ais", 1_000),
            ("puget_sound_20070425.log", 13_000),
            ("vernon_seine_20160331.log", 9_000),
        ] {
            match std::fs::read(folder.join(name)) {
                Ok(bytes) => {
                    let sentences = bytes.split(|&b| b == b'\n').filter_map(bare_sentence);
                    lines.extend(sentences.take(most));
                }
                Err(why) => eprintln!("NOT IN THE CORPUS: {name}: {why}"),
            }
        }
        let class_b = Self::of_type(18, 2_000).lines;
        let texts = Self::of_type(14, 500).lines;
        let mut more = class_b.into_iter().chain(texts);
        let mut mixed = Vec::new();
        for (place, line) in lines.into_iter().enumerate() {
            // Not between the two sentences of one message.
            let whole = line.starts_with(b"!AIVDM,1") || line.starts_with(b"!BSVDM,1");
            if place % 10 == 0 && whole {
                mixed.extend(more.next());
            }
            mixed.push(line);
        }
        mixed.extend(more);
        Self { lines: mixed }
    }

    /// Messages of one type, 1, 14 or 18, each with another identity, place and speed.
    pub fn of_type(kind: u8, count: u32) -> Self {
        let line = |n: u32| {
            let mmsi = Mmsi::new(200_000_000 + n).unwrap();
            let lat = Some(f64::from(n % 1800) / 10.0 - 90.0);
            let lon = Some(f64::from(n % 3600) / 10.0 - 180.0);
            let (sog_kn, cog_deg) =
                (Some(f64::from(n % 300) / 10.0), Some(f64::from(n % 3600) / 10.0));
            let body = match kind {
                14 => {
                    let text = if n.is_multiple_of(2) { "MOB TEST" } else { "SART ACTIVE" };
                    Body::SafetyText(SafetyText::new(text.parse().unwrap(), mmsi))
                }
                18 => Body::ClassB(ClassBReport {
                    sog_kn,
                    position_accuracy: true,
                    lon,
                    lat,
                    cog_deg,
                    heading_deg: None,
                    utc_second: (n % 60) as u8,
                    carrier_sense: true,
                    raim: false,
                }),
                _ => Body::Position(PositionReport {
                    nav_status: 0,
                    sog_kn,
                    lon,
                    lat,
                    cog_deg,
                    heading_deg: Some((n % 360) as u16),
                    utc_second: (n % 60) as u8,
                    comm_state: CommState::sotdma(0, 2, (n % 2250) as u16),
                    ..PositionReport::unavailable()
                }),
            };
            sentence(&Message { kind, repeat: 0, mmsi, body }, n)
        };
        Self { lines: (0..count).map(line).collect() }
    }
}

pub fn sentence(message: &Message, n: u32) -> Vec<u8> {
    let (payload, fill) = message.encode().unwrap().armoured();
    let channel = if n.is_multiple_of(2) { 'A' } else { 'B' };
    let body = format!("AIVDM,1,1,,{channel},{payload},{fill}");
    format!("!{body}*{:02X}", checksum(body.as_bytes())).into_bytes()
}

fn bare_sentence(line: &[u8]) -> Option<Vec<u8>> {
    let start = line.iter().rposition(|&b| b == b'!')?;
    let star = line.iter().rposition(|&b| b == b'*')?;
    Some(line.get(start..star + 3)?.to_vec())
}
