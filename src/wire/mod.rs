//! Bytes → facts. Framing, TAG block, sentence envelope, six-bit armour, multi-sentence assembly;
//! one file per AIS message family under `ais`, one per sentence under `nmea`.
//!
//! *Invariant:* never fails a stream, never panics, reads no clock. Every line ends as exactly one
//! of a `Decoded` and a [`Reject`], and each is counted.

mod framing;
mod line;
mod reject;
mod sentence;
mod sixbit;
mod tag;

pub use framing::{LINE_LIMIT, Splitter};
pub use line::Line;
pub use reject::Reject;
pub use sentence::{Fields, Sentence, checksum, claimed_formatter};
pub use sixbit::{BitWriter, Bits, CHARS_LIMIT, Text};
pub use tag::{Group, Tag};
