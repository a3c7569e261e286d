//! Rehearsals: the traffic of a drill, made from a scenario, as receivers on board would have heard
//! it.
//!
//! *Invariant:* the same scenario gives the same bytes. Nothing but its seed decides what chance
//! does, and each beacon and ship has its own dice, so that one more changes none of the others.
//!
//! Everything made here is fictional: identities whose first three digits are no country's (200) or
//! whose manufacturer code is that for tests (00, ITU-R M.1371-5 annex 9, section 6).

mod beacon;
mod calls;
mod drill;
mod error;
mod live;
mod loops;
mod own;
mod receivers;
mod scenario;
mod slots;
mod traffic;
mod values;

use std::io::{self, Write};
use std::time::Duration;

pub use drill::NoDrill;
pub use error::Error;
pub use live::{Destination, Refusal};
pub use scenario::Scenario;

use crate::time::Utc;
use crate::wire::checksum;
use own::Track;
use slots::Slot;

/// A sentence and the moment an input received it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimedLine {
    /// When.
    pub at: Utc,
    /// The name of the input.
    pub source: String,
    /// The sentence with its checksum, without line end; damaged if the scenario says so.
    pub sentence: String,
}

impl Scenario {
    /// All that is received, in the order of time.
    pub fn lines(&self) -> impl Iterator<Item = TimedLine> + use<> {
        let stage = Stage { scenario: self, own: Track::of(self) };
        let mut lines = own::lines(&stage);
        for beacon in &self.beacons {
            lines.extend(beacon::lines(&stage, beacon));
        }
        lines.extend(traffic::lines(&stage));
        lines.extend(calls::lines(&stage));
        lines.retain(|line| line.at >= self.start && line.at < stage.utc(self.duration_s.0));
        // The order of lines with the same time is kept: a DSE stays behind its DSC.
        lines.sort_by_key(|line| line.at);
        let mut dice = stage.dice(u64::MAX);
        for line in &mut lines {
            if dice.f64() < self.damage_of(&line.source) {
                damage(&mut line.sentence, &mut dice);
            }
        }
        lines.into_iter()
    }

    /// The share of damaged lines of an input.
    fn damage_of(&self, source: &str) -> f64 {
        let receiver = self.receivers.iter().find(|it| it.name.get_ref().0 == source);
        receiver.and_then(|it| it.damage).unwrap_or(self.damage).0
    }

    /// A line of this scenario as it is written down and played: `\s:NAME,c:MILLISECONDS*hh\SENTENCE`
    /// and CR LF. The TAG block says what it is: `t:REHEARSAL`, or `t:DRILL` in a drill.
    pub fn tagged(&self, line: &TimedLine) -> String {
        let tag = format!("s:{},c:{},t:{}", line.source, line.at.unix_ms(), self.word());
        format!("\\{tag}*{:02X}\\{}\r\n", checksum(tag.as_bytes()), line.sentence)
    }
}

/// Writes a rehearsal as a capture, its lines as [`Scenario::tagged`] makes them.
///
/// # Errors
/// Those of the writer.
pub fn write_capture(scenario: &Scenario, mut to: impl Write) -> io::Result<()> {
    for line in scenario.lines() {
        to.write_all(scenario.tagged(&line).as_bytes())?;
    }
    to.flush()
}

/// What all players share: the scenario, and where own ship is.
struct Stage<'a> {
    scenario: &'a Scenario,
    own: Track,
}

impl Stage<'_> {
    /// The moment this many seconds after the start.
    fn utc(&self, seconds: f64) -> Utc {
        self.scenario.start.plus(Duration::from_secs_f64(seconds.max(0.0)))
    }

    /// The seconds from the start to a moment, negative before it.
    fn seconds(&self, at: Utc) -> f64 {
        at.ms_since(self.scenario.start) as f64 / 1000.0
    }

    /// The chance that belongs to one player.
    fn dice(&self, player: u64) -> fastrand::Rng {
        // Fibonacci hashing: neighbouring identities get seeds far apart.
        let salt = player.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        fastrand::Rng::with_seed(self.scenario.seed ^ salt)
    }
}

/// A sentence with its checksum: `body` with its start character.
fn sealed(body: &str) -> String {
    format!("{body}*{:02X}", checksum(body.as_bytes().get(1..).unwrap_or_default()))
}

/// The sentences of one message at the end of its slot, at each of these inputs.
fn received(by: &[&str], slot: Slot, sentences: &[String]) -> Vec<TimedLine> {
    let line = |source: &&str, sentence: &String| TimedLine {
        at: slot.end(),
        source: (*source).to_owned(),
        sentence: sentence.clone(),
    };
    by.iter().flat_map(|source| sentences.iter().map(move |said| line(source, said))).collect()
}

/// Flips the lowest bit of one letter or digit before the checksum, which is wrong then.
fn damage(sentence: &mut String, dice: &mut fastrand::Rng) {
    let end = sentence.find('*').unwrap_or(sentence.len());
    let places = sentence.bytes().take(end).enumerate();
    let letters: Vec<usize> =
        places.filter(|(_, b)| b.is_ascii_alphanumeric()).map(|(place, _)| place).collect();
    let Some(&hit) = dice.choice(&letters) else { return };
    let flip = |(place, c): (usize, char)| {
        if place == hit { char::from(c as u8 ^ 1) } else { c }
    };
    // A sentence is ASCII throughout, so a place in bytes is one in characters.
    *sentence = sentence.chars().enumerate().map(flip).collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn damage_makes_the_checksum_wrong() {
        let mut dice = fastrand::Rng::with_seed(1);
        for _ in 0..100 {
            let mut sentence = sealed("$HEHDT,123.4,T");
            damage(&mut sentence, &mut dice);
            let (body, sum) = sentence[1..].split_once('*').unwrap();
            assert_ne!(format!("{:02X}", checksum(body.as_bytes())), sum);
            assert_eq!(sentence.len(), 17);
        }
    }
}
