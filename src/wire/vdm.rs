//! What an AIS sentence, VDM or VDO (IEC 61162-1), says of the payload it carries.

use super::reject::Reject;
use super::sentence::{Fields, sealed};

/// The fields of an AIS sentence.
pub(super) struct Vdm<'a> {
    /// How many sentences the message has, 1 to 9.
    pub total: u8,
    /// Which of them this is, from 1.
    pub number: u8,
    /// What the parts of one message have in common, 0 to 9.
    pub sequence: Option<u8>,
    /// `A` or `B`, as far as the receiver tells.
    pub channel: Option<char>,
    /// The six-bit armour, not yet looked at.
    pub payload: &'a [u8],
    /// How many bits at the end are none of the message's, 0 to 5; `None` if that is missing or
    /// more.
    pub fill: Option<u8>,
}

impl<'a> Vdm<'a> {
    /// Reads the fields one by one.
    ///
    /// # Errors
    /// `BadField` for a part that there cannot be.
    pub fn read(mut fields: Fields<'a>) -> Result<Self, Reject> {
        let total = digit(&mut fields)?.ok_or(Reject::BadField)?;
        let number = digit(&mut fields)?.ok_or(Reject::BadField)?;
        if total == 0 || number == 0 || number > total {
            return Err(Reject::BadField);
        }
        let sequence = digit(&mut fields)?;
        let channel = match fields.take() {
            Some(b"A" | b"1") => Some('A'),
            Some(b"B" | b"2") => Some('B'),
            _ => None,
        };
        let payload = fields.take().unwrap_or_default();
        let fill = match fields.take() {
            Some(&[fill @ b'0'..=b'5']) => Some(fill - b'0'),
            _ => None,
        };
        Ok(Self { total, number, sequence, channel, payload, fill })
    }
}

/// A message in one sentence, as nearly all senders write it: `!AIVDM,1,1,,A,payload,0*hh`.
pub(super) struct Single<'a> {
    /// As [`super::Sentence::talker`].
    pub talker: &'static str,
    /// `VDM` or `VDO`.
    pub formatter: &'static str,
    /// As [`Vdm::channel`].
    pub channel: Option<char>,
    /// As [`Vdm::payload`].
    pub payload: &'a [u8],
    /// How many bits at the end are none of the message's, 0 to 5.
    pub fill: u8,
}

impl<'a> Single<'a> {
    /// Reads a sentence at a glance. If what it takes for the payload is armour, it is what is found
    /// with care; `None`, or a payload that is none, says nothing of the sentence.
    #[inline]
    pub fn read(sentence: &'a [u8]) -> Option<Self> {
        let (head, rest) = sealed(sentence)?.split_first_chunk()?;
        let (talker, formatter) = match head {
            b"AIVDM,1,1,," => ("AI", "VDM"),
            b"AIVDO,1,1,," => ("AI", "VDO"),
            // Base stations.
            b"BSVDM,1,1,," => ("BS", "VDM"),
            b"ABVDM,1,1,," => ("AB", "VDM"),
            _ => return None,
        };
        let [rest @ .., b',', fill @ b'0'..=b'5'] = rest else { return None };
        let (channel, payload) = match rest {
            [b'A' | b'1', b',', payload @ ..] => (Some('A'), payload),
            [b'B' | b'2', b',', payload @ ..] => (Some('B'), payload),
            [b',', payload @ ..] => (None, payload),
            _ => return None,
        };
        Some(Self { talker, formatter, channel, payload, fill: fill - b'0' })
    }
}

/// A field of one digit, or null.
fn digit(fields: &mut Fields<'_>) -> Result<Option<u8>, Reject> {
    match fields.take() {
        None => Ok(None),
        Some(&[digit @ b'0'..=b'9']) => Ok(Some(digit - b'0')),
        Some(_) => Err(Reject::BadField),
    }
}
