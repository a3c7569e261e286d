//! Six-bit armour (IEC 61162-1) and the bits and texts under it (ITU-R M.1371-5, table 47).

use super::reject::Reject;

/// The longest message looked at, in six-bit characters: 3072 bits. The longest the standard has
/// is five slots, 1192 bits with all that is around the data.
pub const CHARS_LIMIT: usize = 512;

const BYTES: usize = CHARS_LIMIT * 6 / 8;

/// The value of an armour character, 0 to 63, or `INVALID`.
const ARMOUR: [u8; 256] = {
    let mut table = [INVALID; 256];
    let mut value = 0;
    while value < 64 {
        let ascii = if value < 40 { value + 48 } else { value + 56 };
        table[ascii as usize] = value;
        value += 1;
    }
    table
};
const INVALID: u8 = 0x80;

/// The armour character of a six-bit value.
pub(crate) const fn armour(value: u8) -> u8 {
    let value = value & 63;
    if value < 40 { value + 48 } else { value + 56 }
}

/// Whether every character belongs to the armour.
pub(crate) fn is_armour(payload: &[u8]) -> bool {
    payload.iter().fold(0, |all, &c| all | ARMOUR[c as usize]) & INVALID == 0
}

/// The identity that an AIS sentence is sent in the name of, at a glance: neither its checksum nor
/// the rest is looked at. `None` of any other line, and of all parts of a message but the first.
pub fn sender_of(line: &[u8]) -> Option<u32> {
    let begin = line.iter().position(|&c| c == b'!')?;
    let mut fields = line[begin..].split(|&c| c == b',');
    let (part, payload) = (fields.nth(2)?, fields.nth(2)?);
    if part != b"1" {
        return None;
    }
    let first = payload.get(..7)?.iter();
    let bits = first.fold(0_u64, |bits, &c| bits << 6 | u64::from(ARMOUR[c as usize] & 63));
    // Six bits of type, two of repetition, thirty of identity, and four that follow.
    Some((bits >> 4) as u32 & 0x3FFF_FFFF)
}

/// The bits of one message. Bit 0 is the first transmitted. Beyond the end all bits are zero.
pub struct Bits {
    /// Twelve bytes more than the longest message: a field is read as one eight-byte word.
    bytes: [u8; BYTES + 12],
    chars: usize,
    fill: usize,
}

impl Bits {
    /// No bits.
    pub const fn new() -> Self {
        Self { bytes: [0; BYTES + 12], chars: 0, fill: 0 }
    }

    /// Fills itself from an armoured payload. `fill` bits at the end are none of the message's;
    /// more than five cannot be and are read as none.
    ///
    /// # Errors
    /// `BadArmour` for an illegal character, `TooLong` over [`CHARS_LIMIT`].
    #[inline]
    pub fn load(&mut self, payload: &[u8], fill: u8) -> Result<(), Reject> {
        if payload.len() > CHARS_LIMIT {
            return Err(Reject::TooLong);
        }
        let mut seen = 0;
        let mut out = 0;
        let mut groups = payload.chunks_exact(4);
        for group in &mut groups {
            let value = |i: usize| ARMOUR[group[i] as usize];
            let [a, b, c, d] = [value(0), value(1), value(2), value(3)];
            seen |= a | b | c | d;
            self.bytes[out] = a << 2 | b >> 4;
            self.bytes[out + 1] = b << 4 | c >> 2;
            self.bytes[out + 2] = c << 6 | d;
            out += 3;
        }
        let mut last = [0; 4];
        for (value, &c) in last.iter_mut().zip(groups.remainder()) {
            *value = ARMOUR[c as usize];
            seen |= *value;
        }
        let [a, b, c, _] = last;
        // The tail is cleared as far as a word that begins inside the message can reach.
        let tail = [a << 2 | b >> 4, b << 4 | c >> 2, c << 6, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        self.bytes[out..out + 12].copy_from_slice(&tail);
        self.chars = payload.len();
        self.fill = if fill <= 5 { usize::from(fill) } else { 0 };
        if seen & INVALID == 0 { Ok(()) } else { Err(Reject::BadArmour) }
    }

    /// The length in bits before fill bits are taken off: what a message type's minimum is held to,
    /// since the count of fill bits is often wrong in the wild.
    pub const fn gross_len(&self) -> usize {
        self.chars * 6
    }

    /// The length in bits without the fill bits.
    pub const fn len(&self) -> usize {
        (self.chars * 6).saturating_sub(self.fill)
    }

    /// Whether there are no bits at all.
    pub const fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The unsigned value of `count` bits (1 to 57) from `start`; zero beyond the end.
    #[inline]
    pub fn unsigned(&self, start: usize, count: usize) -> u64 {
        let byte = start / 8;
        if start >= self.gross_len() {
            return 0;
        }
        let mut word = [0; 8];
        word.copy_from_slice(&self.bytes[byte..byte + 8]);
        u64::from_be_bytes(word) << (start % 8) >> (64 - count)
    }

    /// The value of `count` bits from `start` in two's complement.
    #[inline]
    pub fn signed(&self, start: usize, count: usize) -> i64 {
        let shift = 64 - count;
        (self.unsigned(start, count) << shift) as i64 >> shift
    }

    /// One bit.
    #[inline]
    pub fn flag(&self, bit: usize) -> bool {
        self.unsigned(bit, 1) == 1
    }

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
        let mut left = count.min(whole).min(N);
        let mut bit = start;
        // Eight characters a word.
        while left > 0 {
            let take = left.min(8);
            let word = self.unsigned(bit, take * 6);
            for i in 0..take {
                let value = (word >> (6 * (take - 1 - i))) as u8 & 63;
                if value == 0 {
                    return text;
                }
                text.bytes[usize::from(text.len)] = if value < 32 { value + 64 } else { value };
                text.len += 1;
            }
            bit += take * 6;
            left -= take;
        }
        text
    }
}

impl Default for Bits {
    fn default() -> Self {
        Self::new()
    }
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

/// Writes bits in the order of transmission: the other half of [`Bits`], for tests and rehearsals.
#[derive(Debug, Default)]
pub struct BitWriter {
    bits: Vec<bool>,
}

impl BitWriter {
    /// Appends the low `count` bits of `value`.
    pub fn put(&mut self, value: u64, count: usize) -> &mut Self {
        self.bits.extend((0..count).rev().map(|bit| value >> bit & 1 == 1));
        self
    }

    /// Appends `count` characters of `text`, filled up with `@`.
    pub fn put_text(&mut self, text: &str, count: usize) -> &mut Self {
        let bytes = text.bytes().chain(std::iter::repeat(b'@')).take(count);
        for byte in bytes {
            self.put(u64::from(byte) & 63, 6);
        }
        self
    }

    /// The armoured payload and its number of fill bits.
    pub fn armoured(&self) -> (String, u8) {
        let chars = self.bits.chunks(6).map(|six| {
            let value = six.iter().fold(0, |v, &bit| v << 1 | u8::from(bit)) << (6 - six.len());
            char::from(armour(value))
        });
        (chars.collect(), ((6 - self.bits.len() % 6) % 6) as u8)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn armour_has_64_characters_and_no_others() {
        let legal = (0..=255).filter(|&c| is_armour(&[c])).collect::<Vec<u8>>();
        let expected: Vec<u8> = (b'0'..=b'W').chain(b'`'..=b'w').collect();
        assert_eq!(legal, expected);
    }

    #[test]
    fn bits_and_text_come_back_as_written() {
        let mut writer = BitWriter::default();
        writer.put(14, 6).put(3, 2).put_text("MOB TEST", 9).put(1, 1);
        let (payload, fill) = writer.armoured();
        let mut bits = Bits::new();
        bits.load(payload.as_bytes(), fill).unwrap();
        assert_eq!((bits.unsigned(0, 6), bits.unsigned(6, 2), bits.len()), (14, 3, 63));
        assert_eq!(&*bits.text::<20>(8, 9), "MOB TEST");
        assert!(bits.flag(62));
        assert_eq!(bits.unsigned(500, 57), 0);
    }

    #[test]
    fn what_an_earlier_message_left_does_not_show() {
        let mut bits = Bits::new();
        bits.load(&[b'w'; 60], 0).unwrap();
        bits.load(b"w", 0).unwrap();
        assert_eq!(bits.unsigned(0, 57), 63 << 51);
        assert_eq!(bits.unsigned(6, 57), 0);
    }
}
