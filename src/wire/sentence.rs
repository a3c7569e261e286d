//! The envelope of a sentence: start, address, fields, checksum (IEC 61162-1).

use nom::Parser as _;
use nom::bytes::complete::take_while_m_n;
use nom::character::complete::char;
use nom::sequence::terminated;

use super::reject::Reject;

/// A sentence whose checksum was right, borrowed from its line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sentence<'a> {
    /// Two letters for the kind of talker, or `P` for a maker's own sentence.
    pub talker: &'a str,
    /// The three letters of the formatter; of a proprietary sentence, all that follows the `P`.
    pub formatter: &'a str,
    /// Whether it began with `!`, as one does that carries six-bit armour.
    pub encapsulated: bool,
    /// What stands between the address and the checksum, commas included.
    body: &'a [u8],
    /// Where the sentence stands in its line, from its start character to its checksum.
    pub(crate) span: (usize, usize),
}

impl<'a> Sentence<'a> {
    /// The fields, in order.
    pub fn fields(&self) -> Fields<'a> {
        Fields { rest: Some(self.body) }
    }
}

/// The fields of a sentence, one by one. Beyond the last one every field is null: a talker may
/// leave out trailing fields, and may send more than the standard has.
#[derive(Clone, Copy, Debug)]
pub struct Fields<'a> {
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    /// The next field without the spaces around it; `None` if it is null or absent.
    #[inline]
    pub fn take(&mut self) -> Option<&'a [u8]> {
        let rest = self.rest?;
        // Null and one letter are what most fields are.
        match rest {
            [b',', rest @ ..] => {
                self.rest = Some(rest);
                return None;
            }
            [letter, b',', after @ ..] if !letter.is_ascii_whitespace() => {
                self.rest = Some(after);
                return Some(std::slice::from_ref(letter));
            }
            _ => {}
        }
        let field = match comma(rest) {
            Some(comma) => {
                self.rest = Some(&rest[comma + 1..]);
                &rest[..comma]
            }
            None => {
                self.rest = None;
                rest
            }
        };
        let field = field.trim_ascii();
        (!field.is_empty()).then_some(field)
    }

    /// Passes over `count` fields.
    pub fn skip(&mut self, count: usize) -> &mut Self {
        for _ in 0..count {
            self.take();
        }
        self
    }

    /// Whether no field is left, not even a null one.
    pub fn is_at_end(&self) -> bool {
        self.rest.is_none()
    }
}

/// A word with one in each of its bytes.
const EVERY_BYTE: u64 = u64::from_le_bytes([1; 8]);

/// How many bytes of a word stand before the first that equals `byte`, the word being in the order
/// of memory; `None` if none does.
#[inline]
fn place_in_word(word: u64, byte: u8) -> Option<u32> {
    // An equal byte becomes zero, and the lowest zero is what first borrows a top bit.
    let word = word ^ (EVERY_BYTE * u64::from(byte));
    let found = word.wrapping_sub(EVERY_BYTE) & !word & (EVERY_BYTE << 7);
    (found != 0).then(|| found.trailing_zeros() / 8)
}

#[inline]
fn word(bytes: &[u8; 8]) -> u64 {
    u64::from_le_bytes(*bytes)
}

/// Where the first comma is. Most fields are so short that a call of memchr costs more than it
/// saves: eight bytes are looked at in one word.
#[inline]
fn comma(text: &[u8]) -> Option<usize> {
    let (words, rest) = text.as_chunks();
    for (i, bytes) in words.iter().enumerate() {
        if let Some(place) = place_in_word(word(bytes), b',') {
            return Some(i * 8 + place as usize);
        }
    }
    let place = rest.iter().position(|&b| b == b',');
    place.map(|place| words.len() * 8 + place)
}

/// The checksum of IEC 61162-1: all characters between the start and the `*`, exclusive or.
#[inline]
pub fn checksum(bytes: &[u8]) -> u8 {
    let (words, rest) = bytes.as_chunks();
    let sum = words.iter().fold(0, |sum, bytes| sum ^ word(bytes));
    fold(sum) ^ rest.iter().fold(0, |sum, byte| sum ^ byte)
}

/// The first star and the checksum of what stands before it, in one pass.
#[inline]
fn star_and_checksum(text: &[u8]) -> Option<(usize, u8)> {
    let (words, rest) = text.as_chunks();
    let mut sum = 0;
    for (i, bytes) in words.iter().enumerate() {
        let word = word(bytes);
        if let Some(place) = place_in_word(word, b'*') {
            let before = word & ((1 << (place * 8)) - 1);
            return Some((i * 8 + place as usize, fold(sum ^ before)));
        }
        sum ^= word;
    }
    let place = rest.iter().position(|&b| b == b'*')?;
    Some((words.len() * 8 + place, fold(sum) ^ checksum(&rest[..place])))
}

/// The eight bytes of a word, exclusive or.
#[inline]
fn fold(word: u64) -> u8 {
    let word = word ^ word >> 32;
    let word = word ^ word >> 16;
    (word ^ word >> 8) as u8
}

/// Reads up to two hexadecimal digits, upper or lower case, at the beginning of `text`.
#[inline]
pub(crate) fn hex_byte(text: &[u8]) -> Option<u8> {
    let digit = |byte: &u8| char::from(*byte).to_digit(16).map(|d| d as u8);
    let first = digit(text.first()?)?;
    Some(text.get(1).and_then(digit).map_or(first, |second| first << 4 | second))
}

/// Finds the last whole sentence of a line.
///
/// Start characters are reserved in IEC 61162-1, so a second one begins a new sentence: the rest of
/// one that was cut off stands before it. The last with a right checksum is taken; if there is
/// none, the reason is that of the last one that looks like a sentence.
#[inline(always)]
pub(crate) fn find(line: &[u8]) -> Result<Sentence<'_>, Reject> {
    let mut reason = None;
    let mut end = line.len();
    while let Some(start) = memchr::memrchr2(b'!', b'$', &line[..end]) {
        match envelope(line, start, end) {
            Ok(sentence) => return Ok(sentence),
            Err(Reject::NotASentence) => {}
            Err(why) => reason = reason.or(Some(why)),
        }
        end = start;
    }
    Err(reason.unwrap_or(Reject::NotASentence))
}

/// Reads the sentence whose start character is at `start`, and which ends before `end`.
#[inline(always)]
fn envelope(line: &[u8], start: usize, end: usize) -> Result<Sentence<'_>, Reject> {
    type Error<'a> = nom::error::Error<&'a [u8]>;
    let text = &line[start + 1..end];
    let address = take_while_m_n(3, 16, |b: u8| b.is_ascii_alphanumeric());
    let (rest, address) = terminated(address, char::<_, Error<'_>>(','))
        .parse(text)
        .map_err(|_| Reject::NotASentence)?;
    let (star, expected) = star_and_checksum(text).ok_or(Reject::MissingChecksum)?;
    let (body, sum) = (&text[text.len() - rest.len()..star], &text[star + 1..]);
    if sum.is_empty() {
        return Err(Reject::MissingChecksum);
    }
    if hex_byte(sum) != Some(expected) {
        return Err(Reject::BadChecksum);
    }
    let digits = sum.iter().take(2).take_while(|b| b.is_ascii_hexdigit()).count();
    // Nothing but ASCII was taken above.
    let address = std::str::from_utf8(address).map_err(|_| Reject::NotASentence)?;
    let (talker, formatter) = address.split_at(if address.starts_with('P') { 1 } else { 2 });
    let encapsulated = line[start] == b'!';
    let span = (start, start + star + 2 + digits);
    Ok(Sentence { talker, formatter, encapsulated, body, span })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn null_absent_and_spaced_fields() {
        let body = "GPXTE,A,,  4.5 ,";
        let line = format!("${body}*{:02X}", checksum(body.as_bytes()));
        let sentence = find(line.as_bytes()).unwrap();
        let mut fields = sentence.fields();
        assert_eq!(fields.take(), Some(&b"A"[..]));
        assert_eq!(fields.take(), None);
        assert_eq!(fields.take(), Some(&b"4.5"[..]));
        assert!(!fields.is_at_end());
        assert_eq!(fields.take(), None);
        assert!(fields.is_at_end());
        assert_eq!(fields.take(), None);
    }

    #[test]
    fn proprietary_sentences_pass() {
        let body = b"PGRME,4.1,M,6.2,M,8.3,M";
        let line = [b"$", &body[..], b"*24"].concat();
        let sentence = find(&line).unwrap();
        assert_eq!((sentence.talker, sentence.formatter), ("P", "GRME"));
    }

    #[test]
    fn one_digit_stands_for_a_checksum_below_16_only() {
        // A sentence with the checksum 0E, found by search over its value.
        let line = (0..1000)
            .map(|n| format!("$HEROT,{n},A"))
            .find(|s| checksum(&s.as_bytes()[1..]) == 0x0E)
            .unwrap();
        assert!(find(format!("{line}*0E").as_bytes()).is_ok());
        assert!(find(format!("{line}*E").as_bytes()).is_ok());
        assert!(find(format!("{line}*0e").as_bytes()).is_ok());
        assert_eq!(find(format!("{line}*0").as_bytes()), Err(Reject::BadChecksum));
        assert_eq!(find(format!("{line}*").as_bytes()), Err(Reject::MissingChecksum));
        assert_eq!(find(line.as_bytes()), Err(Reject::MissingChecksum));
    }
}
