//! Six-bit armour (IEC 61162-1) and the bits under it.

use super::reject::Reject;
use super::word::{EVERY_BYTE, TOP_BITS, at_least, word};

/// The longest message looked at, in six-bit characters: 3072 bits. The longest the standard has
/// is five slots, 1192 bits with all that is around the data.
pub const CHARS_LIMIT: usize = 512;

/// Six-bit characters that are read at once: their bits fill three words.
const BLOCK: usize = 32;

const WORDS: usize = CHARS_LIMIT / BLOCK * 3;

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
    /// The first bit is the top one of the first word. One word more than the longest message has:
    /// a field is read from a pair of words.
    words: [u64; WORDS + 1],
    chars: usize,
    fill: usize,
}

impl Bits {
    /// No bits.
    pub const fn new() -> Self {
        Self { words: [0; WORDS + 1], chars: 0, fill: 0 }
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
        let (blocks, rest) = payload.as_chunks::<BLOCK>();
        let mut legal = TOP_BITS;
        let mut places = self.words.as_chunks_mut::<3>().0.iter_mut();
        for (block, place) in blocks.iter().zip(&mut places) {
            let (eights, _) = block.as_chunks();
            let all;
            let [a, b, c, d] = eights else { continue };
            (*place, all) = six_bit_values([word(a), word(b), word(c), word(d)]);
            legal &= all;
        }
        if let Some(place) = places.next() {
            let all;
            (*place, all) = six_bit_values(last_block(rest, payload));
            legal &= all;
        }
        // What an earlier message left.
        let had = self.chars.div_ceil(BLOCK);
        let has = payload.len().div_ceil(BLOCK);
        if had > has {
            self.words[has * 3..had * 3].fill(0);
        }
        self.chars = payload.len();
        self.fill = if fill <= 5 { usize::from(fill) } else { 0 };
        if legal == TOP_BITS { Ok(()) } else { Err(Reject::BadArmour) }
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

    /// The unsigned value of `count` bits (1 to 64) from `start`; zero beyond the end.
    #[inline]
    pub fn unsigned(&self, start: usize, count: usize) -> u64 {
        let (place, bit) = (start / 64, start % 64);
        let Some(&[first, second]) = self.words.get(place..).and_then(<[u64]>::first_chunk) else {
            return 0;
        };
        let after = if bit == 0 { 0 } else { second >> (64 - bit) };
        (first << bit | after) >> (64 - count)
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
}

/// The last characters of a payload, fewer than a block, with characters of no bits after them.
#[inline]
fn last_block(rest: &[u8], payload: &[u8]) -> [u64; 4] {
    let (eights, tail) = rest.as_chunks();
    let none = EVERY_BYTE * u64::from(armour(0));
    let after = tail.len() as u32 * 8;
    let last = match payload.last_chunk() {
        // Characters before the tail are pushed out.
        Some(last) => word(last).checked_shr(64 - after).unwrap_or(0),
        None => tail.iter().rev().fold(0, |word, &c| word << 8 | u64::from(c)),
    };
    let last = last | none << after;
    match eights {
        [] => [last, none, none, none],
        [a] => [word(a), last, none, none],
        [a, b] => [word(a), word(b), last, none],
        [a, b, c, ..] => [word(a), word(b), word(c), last],
    }
}

/// Takes the armour from 32 characters: 192 bits, and a top bit for each place in a word at which
/// all characters are legal.
#[inline]
fn six_bit_values([a, b, c, d]: [u64; 4]) -> ([u64; 3], u64) {
    let legal = is_legal(a) & is_legal(b) & is_legal(c) & is_legal(d);
    let [a, b, c, d] = [bits_of(a), bits_of(b), bits_of(c), bits_of(d)];
    ([a << 16 | b >> 32, b << 32 | c >> 16, c << 48 | d], legal)
}

/// A top bit for each of eight characters that is legal: 0 to W and ` to w.
#[inline(always)]
fn is_legal(chars: u64) -> u64 {
    let in_gap = at_least(chars, b'X') & !at_least(chars, b'`');
    at_least(chars, b'0') & !in_gap & !at_least(chars, b'x') & !chars
}

/// The 48 bits of eight characters.
#[inline(always)]
fn bits_of(chars: u64) -> u64 {
    let over_gap = at_least(chars, b'`') >> 4;
    let values = chars.wrapping_sub(EVERY_BYTE * u64::from(b'0')).wrapping_sub(over_gap);
    // Six bits of each byte, twelve of each two, 24 of each four: the first above the second.
    let twos = (values & 0x003F_003F_003F_003F) << 6 | values >> 8 & 0x003F_003F_003F_003F;
    let fours = (twos & 0x0000_0FFF_0000_0FFF) << 12 | twos >> 16 & 0x0000_0FFF_0000_0FFF;
    (fours & 0x00FF_FFFF) << 24 | fours >> 32
}

impl Default for Bits {
    fn default() -> Self {
        Self::new()
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

    /// Characters one by one by the table, against 32 at once.
    #[test]
    fn payloads_of_every_length_are_read_as_the_table_has_them() {
        let legal: Vec<u8> = (0..=255).filter(|&c| is_armour(&[c])).collect();
        let mut bits = Bits::new();
        for length in 0..=CHARS_LIMIT {
            let payload: Vec<u8> =
                legal.iter().cycle().skip(length * 7).take(length).copied().collect();
            bits.load(&payload, 0).unwrap();
            for place in 0..CHARS_LIMIT {
                let value = payload.get(place).map_or(0, |&c| ARMOUR[usize::from(c)]);
                assert_eq!(bits.unsigned(place * 6, 6), u64::from(value), "{place} of {length}");
                assert_eq!(bits.unsigned(place * 6 + 2, 3), u64::from(value >> 1 & 7));
            }
            let text = bits.text::<200>(0, 200);
            let expected: String = payload
                .iter()
                .map(|&c| ARMOUR[usize::from(c)])
                .take(200)
                .take_while(|&value| value != 0)
                .map(|value| char::from(if value < 32 { value + 64 } else { value }))
                .collect();
            assert_eq!(&*text, expected.trim_end_matches(' '), "{length}");
            assert_eq!(text, expected.parse().unwrap());
        }
    }

    #[test]
    fn no_character_of_another_alphabet_passes_at_any_place() {
        let mut bits = Bits::new();
        for length in 1..70 {
            for place in 0..length {
                for byte in 0..=255 {
                    let mut payload = vec![b'w'; length];
                    payload[place] = byte;
                    let taken = bits.load(&payload, 0).is_ok();
                    assert_eq!(taken, is_armour(&payload), "{byte} at {place} of {length}");
                }
            }
        }
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
