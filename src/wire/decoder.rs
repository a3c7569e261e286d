//! One line in, one fact or one reject out.

use std::hash::{DefaultHasher, Hash, Hasher};

use serde::Serialize;

use super::ais;
use super::assembler::{Assembler, MessageKey, Part};
use super::framing::LINE_LIMIT;
use super::line::{Line, received};
use super::nmea::{self, Nmea};
use super::reject::Reject;
use super::sentence::{Fields, Sentence};
use super::sixbit::Bits;
use super::vdm::{Single, Vdm};
use crate::mmsi::{Mmsi, Station};
use crate::time::{Mono, Utc};

/// Which input a line came in by: parts of a message are put together within one input.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
)]
pub struct InputId(pub u16);

/// The name of a TAG block's source, cut at 48 bytes (the standard has 15 at most).
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Source {
    len: u8,
    bytes: [u8; 48],
}

/// What a line said.
#[derive(Clone, Debug, PartialEq)]
pub struct Decoded<'a> {
    /// When it was received, from the TAG block or the time recorded beside it. A message of
    /// several sentences has that of its first if the last says nothing.
    pub at: Option<Utc>,
    /// The TAG block's `s:`; likewise.
    pub source: Option<Source>,
    /// Two letters, or `P` for a maker's own sentence.
    pub talker: &'a str,
    /// The formatter: three letters, or what follows the `P`.
    pub formatter: &'a str,
    /// The content.
    pub content: Content,
}

/// The content of a sentence.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// An AIS message, whole.
    Ais(AisReport),
    /// A sentence of instruments or radios that is understood.
    Nmea(Nmea),
    /// A part of an AIS message whose other parts are still to come.
    Part,
    /// A sound sentence of a kind that is not looked into.
    Other,
}

/// An AIS message with what its sentence says of it.
#[derive(Clone, Debug, PartialEq)]
pub struct AisReport {
    /// `A` or `B`, as far as the receiver tells.
    pub channel: Option<char>,
    /// Whether it is the ship's own transmission (VDO).
    pub own: bool,
    /// The message.
    pub message: ais::Message,
}

/// Counts of what a decoder took.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Lines, empty ones included.
    pub lines: u64,
    /// Sound sentences of any kind.
    pub sentences: u64,
    /// Whole AIS messages.
    pub messages: u64,
    /// Lines that were not taken.
    pub rejects: u64,
    /// AIS sentences taken though not by the letter: begun with `$`, or with a count of fill bits
    /// that is missing or above five (read as none).
    pub lenient: u64,
    /// AIS messages by type, 0 to 63.
    pub by_type: [u64; 64],
}

/// Turns lines into facts. Keeps nothing between lines but the parts of messages under way.
pub struct Decoder {
    bits: Bits,
    assembler: Assembler<(Option<Utc>, Option<Source>)>,
    tally: Tally,
}

/// A line before its fact is built: what it says of itself.
struct AcceptedLine<'a> {
    at: Option<Utc>,
    source: Option<Source>,
    talker: &'a str,
    formatter: &'a str,
}

/// What a line holds.
enum Whole<'a> {
    /// A message, whose bits are loaded.
    Message { channel: Option<char>, own: bool, head: (u8, u8, Mmsi) },
    /// A part of a message, kept.
    Part,
    /// Another sentence: the three letters of its formatter and its fields.
    Sentence([u8; 3], Fields<'a>),
}

impl Decoder {
    /// A decoder that has heard nothing.
    pub fn new() -> Self {
        Self {
            bits: Bits::new(),
            assembler: Assembler::new(),
            tally: Tally {
                lines: 0,
                sentences: 0,
                messages: 0,
                rejects: 0,
                lenient: 0,
                by_type: [0; 64],
            },
        }
    }

    /// Reads one line, without its line end, that came in by `input` at `at`. `None` for an empty
    /// line.
    ///
    /// # Errors
    /// The reason the line was not taken.
    #[inline]
    pub fn decode<'a>(
        &mut self,
        input: InputId,
        at: Mono,
        line: &'a [u8],
    ) -> Option<Result<Decoded<'a>, Reject>> {
        let Some((lead, single)) = split(line) else {
            return self.decode_with_care(input, at, line);
        };
        let Single { talker, formatter, channel, payload, fill } = single;
        let (Ok(()), Ok(head)) = (self.bits.load(payload, fill), ais::head(&self.bits)) else {
            return self.decode_with_care(input, at, line);
        };
        self.tally.lines += 1;
        let (at, source) = if lead.is_empty() { (None, None) } else { received(lead) };
        let source = source.map(Source::new);
        let line = AcceptedLine { at, source, talker, formatter };
        self.message(line, channel, formatter == "VDO", head)
    }

    /// The same without the shortcut for messages in one sentence: what that is held to.
    ///
    /// # Errors
    /// As [`Self::decode`].
    #[inline(never)]
    pub fn decode_with_care<'a>(
        &mut self,
        input: InputId,
        at: Mono,
        line: &'a [u8],
    ) -> Option<Result<Decoded<'a>, Reject>> {
        self.tally.lines += 1;
        if line.trim_ascii().is_empty() {
            return None;
        }
        let lenient = self.tally.lenient;
        let fact = match self.hear(input, at, line) {
            Ok((line, Whole::Message { channel, own, head })) => {
                return self.message(line, channel, own, head);
            }
            Ok((line, Whole::Part)) => Ok((line, Content::Part)),
            Ok((line, Whole::Sentence(letters, fields))) => match nmea::parse(&letters, fields) {
                None => Ok((line, Content::Other)),
                Some(nmea) => nmea.map(|nmea| (line, Content::Nmea(nmea))),
            },
            Err(why) => Err(why),
        };
        Some(match fact {
            Ok((AcceptedLine { at, source, talker, formatter }, content)) => {
                self.tally.sentences += 1;
                Ok(Decoded { at, source, talker, formatter, content })
            }
            Err(why) => {
                // What is not taken was not taken leniently either.
                self.tally.lenient = lenient;
                self.tally.rejects += 1;
                Err(why)
            }
        })
    }

    /// The fact of a message whose bits are loaded, built where the caller wants it, in one
    /// expression: it is large, and moving it about costs more than reading the message.
    #[inline(always)]
    fn message<'a>(
        &mut self,
        line: AcceptedLine<'a>,
        channel: Option<char>,
        own: bool,
        (kind, repeat, mmsi): (u8, u8, Mmsi),
    ) -> Option<Result<Decoded<'a>, Reject>> {
        self.tally.sentences += 1;
        self.tally.messages += 1;
        self.tally.by_type[usize::from(kind & 63)] += 1;
        let AcceptedLine { at, source, talker, formatter } = line;
        ais::Body::decode(&self.bits, kind, mmsi, |body| {
            let message = ais::Message { kind, repeat, mmsi, body };
            let content = Content::Ais(AisReport { channel, own, message });
            Some(Ok(Decoded { at, source, talker, formatter, content }))
        })
    }

    /// What was counted so far.
    pub fn tally(&self) -> &Tally {
        &self.tally
    }

    /// Messages of which a part never came, or came too late.
    pub fn abandoned(&self) -> u64 {
        self.assembler.abandoned()
    }

    /// A digest of the bits of the AIS message last decoded: equal for equal transmissions.
    pub fn digest(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        for start in (0..self.bits.gross_len()).step_by(48) {
            self.bits.unsigned(start, 48).hash(&mut hasher);
        }
        hasher.finish()
    }

    /// Whether the AIS message last decoded cannot be what it says: a position out of range, an
    /// impossible date.
    pub fn is_nonsense(&self) -> bool {
        ais::is_nonsense(&self.bits)
    }

    /// Takes a line as far as it goes without building anything large.
    #[inline]
    fn hear<'a>(
        &mut self,
        input: InputId,
        arrival: Mono,
        line: &'a [u8],
    ) -> Result<(AcceptedLine<'a>, Whole<'a>), Reject> {
        let line = Line::parse(line)?;
        let Sentence { talker, formatter, .. } = line.sentence;
        let mut at = line.time();
        let mut source = line.tag.and_then(|tag| tag.source).map(Source::new);
        let mut letters = [0; 3];
        if talker != "P" && formatter.len() == 3 {
            letters.copy_from_slice(formatter.as_bytes());
            letters.make_ascii_uppercase();
        }
        let content = if matches!(&letters, b"VDM" | b"VDO") {
            let own = letters[2] == b'O';
            match self.load(input, arrival, &line, own, &mut at, &mut source)? {
                None => Whole::Part,
                Some(channel) => Whole::Message { channel, own, head: ais::head(&self.bits)? },
            }
        } else {
            Whole::Sentence(letters, line.sentence.fields())
        };
        Ok((AcceptedLine { at, source, talker, formatter }, content))
    }

    /// Loads the bits of the message that a line holds or completes and gives its channel; `None`
    /// if parts are still to come. The first part's time and source stand in for those the last
    /// one lacks.
    #[inline]
    fn load(
        &mut self,
        input: InputId,
        arrival: Mono,
        line: &Line<'_>,
        own: bool,
        at: &mut Option<Utc>,
        source: &mut Option<Source>,
    ) -> Result<Option<Option<char>>, Reject> {
        let Vdm { total, number, sequence, channel, payload, fill } =
            Vdm::read(line.sentence.fields())?;
        self.tally.lenient += u64::from(fill.is_none() || !line.sentence.encapsulated);
        let fill = fill.unwrap_or(0);
        if total == 1 {
            self.bits.load(payload, fill)?;
            return Ok(Some(channel));
        }
        let key = MessageKey {
            input,
            own,
            talker: line.sentence.talker.as_bytes().try_into().unwrap_or_default(),
            total,
            sequence,
            channel: channel.map(|c| c as u8),
            source: line.tag.and_then(|tag| tag.source).map(digest),
            group: line.tag.and_then(|tag| tag.group).map(|group| digest(group.id)),
        };
        let part = Part { key, number, at: arrival, utc: *at, payload };
        let Some(set) = self.assembler.take(part, (*at, *source))? else { return Ok(None) };
        self.bits.load(&set.payload, fill)?;
        if let Some((first_at, first_source)) = set.said {
            *at = at.or(first_at);
            *source = source.or(first_source);
        }
        Ok(Some(channel.or(set.channel.map(char::from))))
    }
}

/// A line in two: what stands before, and a message in one sentence.
#[inline]
fn split(line: &[u8]) -> Option<(&[u8], Single<'_>)> {
    let start = if line.first() == Some(&b'!') { 0 } else { memchr::memrchr(b'!', line)? };
    (line.len() <= LINE_LIMIT).then_some(())?;
    Some((&line[..start], Single::read(&line[start..])?))
}

pub(super) fn digest(bytes: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    hasher.finish()
}

impl Default for Decoder {
    fn default() -> Self {
        Self::new()
    }
}

impl Source {
    fn new(name: &[u8]) -> Self {
        let mut bytes = [0; 48];
        let len = name.len().min(bytes.len());
        bytes[..len].copy_from_slice(&name[..len]);
        Self { len: len as u8, bytes }
    }

    /// The bytes of the name.
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes[..usize::from(self.len)]
    }

    /// The name, with what is no UTF-8 replaced.
    pub fn to_text(&self) -> String {
        String::from_utf8_lossy(self.as_bytes()).into_owned()
    }
}

impl std::fmt::Debug for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Debug::fmt(&self.to_text(), f)
    }
}

impl Serialize for Source {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.to_text())
    }
}

impl Serialize for AisReport {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct View<'a> {
            r#type: u8,
            repeat: u8,
            mmsi: u32,
            station: Station,
            channel: Option<char>,
            own: bool,
            #[serde(flatten)]
            body: &'a ais::Body,
        }
        let ais::Message { kind, repeat, mmsi, body } = &self.message;
        let (channel, own) = (self.channel, self.own);
        let (mmsi, station) = (mmsi.value(), mmsi.station());
        View { r#type: *kind, repeat: *repeat, mmsi, station, channel, own, body }
            .serialize(serializer)
    }
}
