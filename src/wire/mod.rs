//! Bytes → facts. Framing, TAG block, sentence envelope, six-bit armour, multi-sentence assembly;
//! one file per AIS message family under [`ais`], one per sentence under [`nmea`].
//!
//! *Invariant:* never fails a stream, never panics, reads no clock. Every line ends as exactly one
//! of a [`Decoded`] and a [`Reject`], and each is counted.

pub mod ais;
mod assembler;
mod datagram;
mod decoder;
mod framing;
mod garble;
mod letters;
mod line;
mod link;
pub mod nmea;
mod reject;
mod sentence;
mod sixbit;
mod tag;
mod vdm;
mod word;

pub use datagram::OtherDatagram;
pub use decoder::{AisReport, Content, Decoded, Decoder, InputId, Source, Tally};
pub use framing::{LINE_LIMIT, Splitter};
pub use garble::Garble;
pub use letters::Text;
pub use line::Line;
pub use link::{Joined, Link};
pub use reject::Reject;
pub use sentence::{Fields, Sentence, checksum};
pub use sixbit::{BitWriter, Bits, CHARS_LIMIT, sender_of};
pub use tag::{Group, Tag};
