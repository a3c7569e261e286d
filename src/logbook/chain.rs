//! The chain that shows whether an entry was altered or taken out.

use std::fmt::Write as _;

use sha2::{Digest as _, Sha256};

/// What the first entry has for its predecessor's hash.
pub(super) const FIRST_PREVIOUS: &str =
    "0000000000000000000000000000000000000000000000000000000000000000";

/// The hash of an entry: SHA-256 (FIPS 180-4) of its predecessor's hash in hexadecimal, a line feed
/// and its body, in lower-case hexadecimal.
///
/// `printf '%s\n%s' PREVIOUS BODY | sha256sum` gives the same.
pub fn hash(previous: &str, body: &str) -> String {
    let mut sum = Sha256::new();
    sum.update(previous.as_bytes());
    sum.update(b"\n");
    sum.update(body.as_bytes());
    let mut hex = String::with_capacity(64);
    for byte in sum.finalize() {
        let _ = write!(hex, "{byte:02x}");
    }
    hex
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `printf 'a\nb' | sha256sum`, GNU coreutils 9.1.
    #[test]
    fn the_hash_is_what_the_system_computes() {
        let expected = "7e18f737311b2dc3b2f269dd78396b0351f14fb66efa879f768cb23181883c78";
        assert_eq!(hash("a", "b"), expected);
    }
}
