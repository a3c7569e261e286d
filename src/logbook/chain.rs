//! The chain that holds the entries together.
//!
//! `hash = SHA-256(hash of the entry before, in hexadecimal + "\n" + body)`; the first entry follows
//! on 64 zeros. So anybody can check it with other tools:
//! `printf '%s\n%s' "$previous" "$body" | sha256sum`. A chain shows what was altered, taken out or
//! put in between. It cannot show that somebody wrote it all anew: for that the last hash has to be
//! noted elsewhere.

use std::fmt::Write as _;

use sha2::{Digest as _, Sha256};

/// What the first entry follows on.
pub const FIRST: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// The hash of a body that follows on `previous`, in lower-case hexadecimal.
pub fn link(previous: &str, body: &str) -> String {
    let mut hasher = Sha256::new();
    hasher.update(previous.as_bytes());
    hasher.update(b"\n");
    hasher.update(body.as_bytes());
    hasher.finalize().iter().fold(String::with_capacity(64), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// What a check of the whole chain found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// How many entries there are.
    pub entries: i64,
    /// Whether nothing is missing or altered.
    pub whole: bool,
    /// The first entry that is altered, or before which something is missing; one past the last if
    /// the end was cut off.
    pub first_bad: Option<i64>,
    /// What is wrong there.
    pub why: Option<String>,
    /// The hash of the last entry.
    pub last_hash: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The expected value is that of `printf "%s\n%s" "" abc | sha256sum`; tests/logbook.rs asks
    /// the program itself.
    #[test]
    fn a_link_is_the_hash_of_both() {
        assert_eq!(
            link("", "abc"),
            "f39d39bfc99287b848780d4110eb663f0e7c344ae41f46a390c4135b89dc2756"
        );
    }
}
