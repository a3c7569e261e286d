//! Eight bytes at once, in one machine word: the first of them is its lowest byte. What a line is
//! asked of each of its bytes is so asked in a tenth of the time.

/// A word with one in each of its bytes.
pub(super) const EVERY_BYTE: u64 = u64::from_le_bytes([1; 8]);

/// The top bit of every byte.
pub(super) const TOP_BITS: u64 = EVERY_BYTE << 7;

/// Eight bytes as a word.
#[inline]
pub(super) fn word(bytes: &[u8; 8]) -> u64 {
    u64::from_le_bytes(*bytes)
}

/// The top bits of those bytes of a word that are `least` or more. Means nothing if one of them is
/// no ASCII.
#[inline]
pub(super) fn at_least(word: u64, least: u8) -> u64 {
    word.wrapping_add(EVERY_BYTE * u64::from(0x80 - least)) & TOP_BITS
}

/// How many bytes of a word stand before the first that equals `byte`; `None` if none does.
#[inline]
pub(super) fn place_in_word(word: u64, byte: u8) -> Option<u32> {
    // An equal byte becomes zero, and the lowest zero is what first borrows a top bit.
    let word = word ^ (EVERY_BYTE * u64::from(byte));
    let found = word.wrapping_sub(EVERY_BYTE) & !word & TOP_BITS;
    (found != 0).then(|| found.trailing_zeros() / 8)
}

/// The eight bytes of a word, exclusive or.
#[inline]
pub(super) fn fold(word: u64) -> u8 {
    let word = word ^ word >> 32;
    let word = word ^ word >> 16;
    (word ^ word >> 8) as u8
}
