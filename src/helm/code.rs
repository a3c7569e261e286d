//! The code of six digits: what is given for it, and how often it may be got wrong.
//!
//! *Invariant:* how long a comparison takes tells nothing of the code.

use std::io;
use std::time::Duration;

use crate::time::Mono;

/// So many may be wrong within [`WITHIN`] before there is a pause.
const WRONG: usize = 5;
const WITHIN: Duration = Duration::from_secs(60);

/// The first pause, doubled with each further one: at the longest, to try all codes takes years. Our
/// own.
const PAUSE: Duration = Duration::from_secs(60);
const LONGEST: Duration = Duration::from_secs(15 * 60);

/// Random bytes that nobody can foretell, from the system.
///
/// # Errors
/// The system has none.
pub(super) fn random<const N: usize>() -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    let source = rustls::crypto::ring::default_provider().secure_random;
    source.fill(&mut bytes).map_err(|_| io::Error::other("the system gives no random numbers"))?;
    Ok(bytes)
}

/// A new code of six digits.
///
/// # Errors
/// The system has no random numbers.
pub fn new() -> io::Result<String> {
    // Of 2^64 numbers a million divides so nearly evenly that no code is likelier than another.
    Ok(format!("{:06}", u64::from_le_bytes(random()?) % 1_000_000))
}

/// Who may try, and whether that was right.
#[derive(Debug)]
pub(super) struct Door {
    code: String,
    /// When the last ones were wrong.
    wrong: Vec<Mono>,
    /// Until when nobody may try.
    shut_until: Option<Mono>,
    pause: Duration,
}

/// What came of a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tried {
    Right,
    Wrong,
    /// Nobody may try for so long.
    Shut(Duration),
}

impl Door {
    pub(super) const fn new(code: String) -> Self {
        Self { code, wrong: Vec::new(), shut_until: None, pause: PAUSE }
    }

    /// Tries a code. While nobody may, the right one is not taken either.
    pub(super) fn try_code(&mut self, given: &str, now: Mono) -> Tried {
        if let Some(left) = self.shut_until.map(|it| it.since(now)).filter(|it| !it.is_zero()) {
            return Tried::Shut(left);
        }
        let digits: Vec<u8> = given.bytes().filter(u8::is_ascii_digit).collect();
        if is_same(&digits, self.code.as_bytes()) {
            (self.wrong, self.shut_until, self.pause) = (Vec::new(), None, PAUSE);
            return Tried::Right;
        }
        self.wrong.retain(|it| now.since(*it) < WITHIN);
        self.wrong.push(now);
        if self.wrong.len() < WRONG {
            return Tried::Wrong;
        }
        let pause = self.pause;
        self.wrong.clear();
        (self.shut_until, self.pause) = (Some(now + pause), (pause * 2).min(LONGEST));
        Tried::Shut(pause)
    }
}

/// Whether two are the same, in a time that depends on their lengths alone.
fn is_same(one: &[u8], other: &[u8]) -> bool {
    let differ = one.iter().zip(other).fold(0, |differ, (a, b)| differ | (a ^ b));
    one.len() == other.len() && differ == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_wrong_ones_a_minute_shut_the_door_longer_each_time() {
        let mut door = Door::new("004217".to_owned());
        let at = |seconds: u64| Mono::START + Duration::from_secs(seconds);
        for second in 0..4 {
            assert_eq!(door.try_code("004218", at(second)), Tried::Wrong);
        }
        // Slowly enough it may be got wrong for ever.
        assert_eq!(door.try_code("04217", at(63)), Tried::Wrong);
        for second in 64..67 {
            assert_eq!(door.try_code("0042170", at(second)), Tried::Wrong);
        }
        let minute = Duration::from_secs(60);
        assert_eq!(door.try_code("", at(67)), Tried::Shut(minute));
        assert_eq!(door.try_code("004217", at(67)), Tried::Shut(minute));
        assert_eq!(door.try_code("004217", at(126)), Tried::Shut(Duration::from_secs(1)));
        for _ in 0..4 {
            assert_eq!(door.try_code("1", at(127)), Tried::Wrong);
        }
        assert_eq!(door.try_code("1", at(127)), Tried::Shut(2 * minute));
        assert_eq!(door.try_code("004 217", at(248)), Tried::Right);
        for _ in 0..4 {
            assert_eq!(door.try_code("1", at(249)), Tried::Wrong);
        }
        assert_eq!(door.try_code("1", at(249)), Tried::Shut(minute));
    }

    #[test]
    fn a_code_is_six_digits() {
        let codes: std::collections::HashSet<String> = (0..8).map(|_| new().unwrap()).collect();
        assert!(codes.len() > 1);
        assert!(codes.iter().all(|it| it.len() == 6 && it.bytes().all(|b| b.is_ascii_digit())));
    }
}
