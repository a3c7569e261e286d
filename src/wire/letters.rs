//! Texts of six-bit characters (ITU-R M.1371-5, table 47).

use super::reject::Reject;
use super::sixbit::Bits;
use super::word::{EVERY_BYTE, place_in_word};

impl Bits {
    /// The text of up to `count` six-bit characters from `start`, cut at the first `@`, without the
    /// spaces at its end. A left-over of fewer than six bits is no character.
    #[inline]
    pub fn text<const N: usize>(&self, start: usize, count: usize) -> Text<N> {
        self.raw_text::<N>(start, count).trimmed()
    }

    /// The same as if the count of fill bits were none: where that count is wrong, it costs a letter.
    pub fn gross_text<const N: usize>(&self, start: usize, count: usize) -> Text<N> {
        self.text_up_to::<N>(self.gross_len(), start, count).trimmed()
    }

    /// The text up to the first `@`, its spaces kept: for a name that goes on elsewhere.
    #[inline]
    pub fn raw_text<const N: usize>(&self, start: usize, count: usize) -> Text<N> {
        self.text_up_to(self.len(), start, count)
    }

    #[inline]
    fn text_up_to<const N: usize>(&self, end: usize, start: usize, count: usize) -> Text<N> {
        let whole = end.saturating_sub(start) / 6;
        let mut text = Text::EMPTY;
        let length = count.min(whole).min(N);
        // Eight characters a word.
        for (place, bytes) in text.bytes[..length].chunks_mut(8).enumerate() {
            let letters = letters(self.unsigned(start + place * 48, 48));
            let end = place_in_word(letters, b'@').map_or(8, |end| end as usize);
            let taken = end.min(bytes.len());
            // Equal texts are equal in all their bytes.
            let after = u64::MAX.checked_shl(8 * taken as u32).unwrap_or(0);
            let letters = (letters & !after).to_le_bytes();
            match <&mut [u8; 8]>::try_from(&mut *bytes) {
                Ok(eight) => *eight = letters,
                Err(_) => bytes.iter_mut().zip(letters).for_each(|(byte, letter)| *byte = letter),
            }
            text.len += taken as u8;
            if taken < 8 {
                break;
            }
        }
        text
    }
}

/// Eight characters of a text, from their 48 bits.
#[inline]
fn letters(bits: u64) -> u64 {
    let fours = bits >> 24 | (bits & 0x00FF_FFFF) << 32;
    let twos = fours >> 12 & 0x0000_0FFF_0000_0FFF | (fours & 0x0000_0FFF_0000_0FFF) << 16;
    let values = twos >> 6 & 0x003F_003F_003F_003F | (twos & 0x003F_003F_003F_003F) << 8;
    // What is below 32 stands 64 higher.
    values | (!values & EVERY_BYTE << 5) << 1
}

/// A six-bit text of at most `N` characters (`N` below 256), held in place: decoding allocates
/// nothing. Characters are those of ITU-R M.1371-5 table 47, all printable ASCII.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Text<const N: usize> {
    len: u8,
    bytes: [u8; N],
}

impl<const N: usize> Text<N> {
    /// No characters.
    pub const EMPTY: Self = Self { len: 0, bytes: [0; N] };

    /// The text as a string.
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.bytes[..usize::from(self.len)]).unwrap_or_default()
    }

    /// The text, or `None` if it is empty: how a name field says "not available".
    pub fn some(self) -> Option<Self> {
        (self.len > 0).then_some(self)
    }

    /// The text without the spaces at its end.
    fn trimmed(mut self) -> Self {
        while self.len > 0 && self.bytes[usize::from(self.len) - 1] == b' ' {
            self.len -= 1;
            // Equal texts are equal in all their bytes.
            self.bytes[usize::from(self.len)] = 0;
        }
        self
    }

    /// This text and then another, cut at `M` characters, spaces at the end trimmed.
    pub(crate) fn joined<const M: usize, const K: usize>(&self, more: &Text<K>) -> Text<M> {
        let mut text = Text::<M>::EMPTY;
        let all = self.as_str().bytes().chain(more.as_str().bytes());
        for (place, byte) in text.bytes.iter_mut().zip(all) {
            *place = byte;
            text.len += 1;
        }
        text.trimmed()
    }
}

impl<const N: usize> std::str::FromStr for Text<N> {
    type Err = Reject;

    /// Takes the characters six-bit ASCII has; lower case becomes upper case.
    ///
    /// # Errors
    /// `TooLong` over `N` characters, `BadField` for a character six-bit ASCII does not have.
    fn from_str(text: &str) -> Result<Self, Reject> {
        let mut made = Self::EMPTY;
        for byte in text.bytes().map(|b| b.to_ascii_uppercase()) {
            if usize::from(made.len) == N || made.len == u8::MAX {
                return Err(Reject::TooLong);
            }
            if !matches!(byte, 32..=63 | 65..=95) {
                return Err(Reject::BadField);
            }
            made.bytes[usize::from(made.len)] = byte;
            made.len += 1;
        }
        Ok(made.trimmed())
    }
}

impl<const N: usize> std::ops::Deref for Text<N> {
    type Target = str;

    fn deref(&self) -> &str {
        self.as_str()
    }
}

impl<const N: usize> std::fmt::Debug for Text<N> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Debug::fmt(self.as_str(), f)
    }
}

impl<const N: usize> serde::Serialize for Text<N> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self)
    }
}
