//! The envelope of a sentence: start, address, fields, checksum (IEC 61162-1).

use nom::Parser as _;
use nom::bytes::complete::take_while_m_n;
use nom::character::complete::char;
use nom::sequence::terminated;

use super::reject::Reject;
use super::word::{TOP_BITS, at_least, fold, place_in_word, word};

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
    if let Some(sentence) = usual(line, 0, line.len()) {
        return Ok(sentence);
    }
    find_by(line, |start, end| {
        usual(line, start, end).map_or_else(|| envelope(line, start, end), Ok)
    })
}

/// The same without the shortcut for the usual shape.
pub(super) fn find_with_care(line: &[u8]) -> Result<Sentence<'_>, Reject> {
    find_by(line, |start, end| envelope(line, start, end))
}

fn find_by<'a>(
    line: &'a [u8],
    read: impl Fn(usize, usize) -> Result<Sentence<'a>, Reject>,
) -> Result<Sentence<'a>, Reject> {
    let mut reason = None;
    let mut end = line.len();
    while let Some(start) = memchr::memrchr2(b'!', b'$', &line[..end]) {
        match read(start, end) {
            Ok(sentence) => return Ok(sentence),
            Err(Reject::NotASentence) => {}
            Err(why) => reason = reason.or(Some(why)),
        }
        end = start;
    }
    Err(reason.unwrap_or(Reject::NotASentence))
}

/// What [`envelope`] reads, if the sentence has the shape that nearly all have. `None` says nothing
/// of the line: it is then read with care.
#[inline(always)]
fn usual(line: &[u8], start: usize, end: usize) -> Option<Sentence<'_>> {
    let text = sealed(&line[start..end])?;
    let [address @ .., b','] = text.first_chunk::<6>()? else { return None };
    if address[0] == b'P' || !address.iter().all(u8::is_ascii_alphanumeric) {
        return None;
    }
    let (talker, formatter) = std::str::from_utf8(address).ok()?.split_at(2);
    let (encapsulated, body) = (line[start] == b'!', &text[6..]);
    Some(Sentence { talker, formatter, encapsulated, body, span: (start, end) })
}

/// What stands between the start character and the checksum of a sentence that ends with two right
/// digits of it, and holds nothing that could begin or end another. `None` says nothing.
#[inline]
pub(super) fn sealed(sentence: &[u8]) -> Option<&[u8]> {
    let [b'!' | b'$', text @ .., b'*', high, low] = sentence else { return None };
    let digit = |byte: u8| char::from(byte).to_digit(16);
    let sum = digit(*high)? << 4 | digit(*low)?;
    (checksum_of_plain(text).map(u32::from) == Some(sum)).then_some(text)
}

/// The checksum of a text that is plain: ASCII without a character below the comma, so without `!`,
/// `$`, `*` and spaces. `None` also of a text below eight characters.
#[inline]
fn checksum_of_plain(text: &[u8]) -> Option<u8> {
    let (words, rest) = text.as_chunks();
    // The last eight overlap those before them, of which the checksum takes none twice.
    let tail = word(text.last_chunk()?);
    let mut sum = tail.checked_shr(64 - rest.len() as u32 * 8).unwrap_or(0);
    let (mut any, mut plain) = (tail, at_least(tail, b','));
    for word in words.iter().map(word) {
        sum ^= word;
        any |= word;
        plain &= at_least(word, b',');
    }
    (any & TOP_BITS == 0 && plain == TOP_BITS).then(|| fold(sum))
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
