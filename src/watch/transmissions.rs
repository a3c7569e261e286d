//! Tells one transmission heard twice from two transmissions.

use std::collections::VecDeque;

use super::settings::SAME_TRANSMISSION;
use crate::time::Mono;
use crate::wire::InputId;

/// How many are remembered: far more than two channels carry in a second and a half of what is
/// looked at here. What another station heard may come in later than others of then. Our own.
const REMEMBERED: usize = 256;

#[derive(Debug)]
struct Recent {
    digest: u64,
    at: Mono,
    heard_by: Vec<InputId>,
}

/// The transmissions of the last moments, by digest of their payload.
#[derive(Debug, Default)]
pub(super) struct Transmissions {
    recent: VecDeque<Recent>,
}

impl Transmissions {
    /// Whether this was heard before: the same payload by another input at that moment. The same
    /// payload by the same input is a new transmission.
    pub(super) fn is_repeat(&mut self, digest: u64, input: InputId, heard: Mono) -> bool {
        while self.recent.len() >= REMEMBERED {
            self.recent.pop_front();
        }
        let apart = |t: &Recent| heard.since(t.at).max(t.at.since(heard));
        let unheard = |t: &&mut Recent| {
            t.digest == digest && apart(t) <= SAME_TRANSMISSION && !t.heard_by.contains(&input)
        };
        if let Some(same) = self.recent.iter_mut().rev().find(unheard) {
            same.heard_by.push(input);
            return true;
        }
        self.recent.push_back(Recent { digest, at: heard, heard_by: vec![input] });
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_receivers_hear_one_transmission_and_two_bursts_are_two() {
        let mut heard = Transmissions::default();
        let (a, b) = (InputId(0), InputId(1));
        let mut repeat = |input, ms: u64| heard.is_repeat(7, input, Mono::from_micros(ms * 1000));
        assert!(!repeat(a, 0));
        assert!(repeat(b, 100));
        assert!(!repeat(a, 1000), "the same input hears it a second time");
        assert!(repeat(b, 1100));
        assert!(!repeat(b, 2000), "only the transmission at 1000 is recent, and b heard it");
        assert!(!repeat(a, 4000));
    }
}
