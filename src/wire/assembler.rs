//! Puts the sentences of one message together.
//!
//! Parts belong together when input, talker, total, sequence identifier and channel agree, and, as
//! far as both carry them, the TAG block's group and source (a null channel on a later part agrees
//! with any). Many sources may share one input and identifiers come round again after ten messages,
//! so a set is kept until it is whole, replaced by a new first part with the same key, too old, or
//! the oldest of a full table. Parts out of order are not put together: an old second part before a
//! new first one would make a message that nobody sent.

use std::time::Duration;

use super::decoder::InputId;
use super::reject::Reject;
use super::sixbit;
use crate::time::{Mono, Utc};

/// How long the parts of a message may take. Between them lie other sentences at most; at 4800 baud
/// a full one takes 0.17 s. Our own.
const PATIENCE: Duration = Duration::from_secs(4);

/// How many messages may be under way at once. A shore feed interleaves a dozen.
const SETS: usize = 64;

/// One sentence of a message that has several.
#[derive(Clone, Copy, Debug)]
pub(super) struct Part<'a> {
    pub key: MessageKey,
    /// From 1.
    pub number: u8,
    pub at: Mono,
    /// When the line was received, by its own account.
    pub utc: Option<Utc>,
    pub payload: &'a [u8],
}

/// What the sentences of one message have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct MessageKey {
    pub input: InputId,
    pub own: bool,
    pub talker: [u8; 2],
    pub total: u8,
    pub sequence: Option<u8>,
    pub channel: Option<u8>,
    /// Digests of the TAG block's source and group.
    pub source: Option<u64>,
    pub group: Option<u64>,
}

impl MessageKey {
    /// Whether a later part with this key may belong to a set begun with `first`.
    fn continues(&self, first: &Self) -> bool {
        let agree = |a: Option<u64>, b: Option<u64>| a.is_none() || b.is_none() || a == b;
        (self.input, self.own, self.talker, self.total, self.sequence)
            == (first.input, first.own, first.talker, first.total, first.sequence)
            && (self.channel.is_none() || self.channel == first.channel)
            && agree(self.source, first.source)
            && agree(self.group, first.group)
    }
}

/// A message under way. Once whole it is passed on and its buffer used again.
#[derive(Debug)]
pub(super) struct Set<S> {
    key: Option<MessageKey>,
    next: u8,
    at: Mono,
    utc: Option<Utc>,
    /// What the first line said of itself.
    pub said: Option<S>,
    pub payload: Vec<u8>,
    /// The channel of the first part.
    pub channel: Option<u8>,
}

/// The messages under way.
#[derive(Debug)]
pub(super) struct Assembler<S> {
    sets: Vec<Set<S>>,
    abandoned: u64,
}

impl<S> Assembler<S> {
    pub fn new() -> Self {
        Self { sets: Vec::new(), abandoned: 0 }
    }

    /// Messages of which a part never came.
    pub fn abandoned(&self) -> u64 {
        self.abandoned
    }

    /// Takes a part; `said` is kept with a first one. Gives the set if the part completes it.
    pub fn take(&mut self, part: Part<'_>, said: S) -> Result<Option<&Set<S>>, Reject> {
        if !sixbit::is_armour(part.payload) {
            return Err(Reject::BadArmour);
        }
        if part.number == 1 {
            self.begin(part, said);
            return Ok(None);
        }
        let found = self
            .sets
            .iter()
            .enumerate()
            .filter(|(_, set)| set.key.is_some_and(|first| part.key.continues(&first)));
        let Some(place) = found.max_by_key(|(_, set)| set.at).map(|(place, _)| place) else {
            return Err(Reject::PartMismatch);
        };
        let set = &mut self.sets[place];
        if set.is_too_old(&part) {
            set.key = None;
            self.abandoned += 1;
            return Err(Reject::PartExpired);
        }
        if part.number + 1 == set.next && set.payload.ends_with(part.payload) {
            // Heard twice, as over two receivers on one line.
            return Ok(None);
        }
        if part.number != set.next || set.payload.len() + part.payload.len() > sixbit::CHARS_LIMIT {
            let why = if part.number == set.next { Reject::TooLong } else { Reject::PartMismatch };
            set.key = None;
            self.abandoned += 1;
            return Err(why);
        }
        set.payload.extend_from_slice(part.payload);
        set.next += 1;
        if part.number < part.key.total {
            return Ok(None);
        }
        set.key = None;
        Ok(Some(set))
    }

    fn begin(&mut self, part: Part<'_>, said: S) {
        let same = self.sets.iter().position(|set| set.key == Some(part.key));
        let free = || self.sets.iter().position(|set| set.key.is_none());
        let place = match same.or_else(free) {
            Some(place) => place,
            None if self.sets.len() < SETS => {
                let payload = Vec::with_capacity(sixbit::CHARS_LIMIT);
                let key = None;
                self.sets.push(Set {
                    key,
                    next: 2,
                    at: part.at,
                    utc: None,
                    said: None,
                    payload,
                    channel: None,
                });
                self.sets.len() - 1
            }
            None => {
                let ages = self.sets.iter().enumerate();
                ages.min_by_key(|(_, set)| set.at).map_or(0, |(place, _)| place)
            }
        };
        let set = &mut self.sets[place];
        if set.key.is_some() && set.payload != part.payload {
            self.abandoned += 1;
        }
        set.key = Some(part.key);
        set.next = 2;
        set.at = part.at;
        set.utc = part.utc;
        set.said = Some(said);
        set.channel = part.key.channel;
        set.payload.clear();
        set.payload.extend_from_slice(part.payload);
    }
}

impl<S> Set<S> {
    /// By the lines' own times where both have one: a feed that collects from many stations delays
    /// one more than another.
    fn is_too_old(&self, part: &Part<'_>) -> bool {
        match (self.utc, part.utc) {
            (Some(first), Some(now)) => {
                now.ms_since(first).unsigned_abs() > PATIENCE.as_millis() as u64
            }
            _ => part.at.since(self.at) > PATIENCE,
        }
    }
}
