//! The TAG block before a sentence (NMEA 0183 4.10, IEC 61162-450): `\s:ais,c:1700000000*hh\`.

use nom::Parser as _;
use nom::bytes::complete::take_while_m_n;
use nom::character::complete::{char, u8 as number};
use nom::combinator::{all_consuming, rest};
use nom::sequence::separated_pair;

use crate::time::Utc;

/// A TAG block whose checksum was right. Keys that are not named here are kept in [`Tag::fields`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tag<'a> {
    raw: &'a [u8],
    /// `c`: when the line was received. Seconds or milliseconds since 1970, told by magnitude.
    pub time: Option<Utc>,
    /// `s`: the source.
    pub source: Option<&'a [u8]>,
    /// `d`: the destination.
    pub destination: Option<&'a [u8]>,
    /// `t`: a text.
    pub text: Option<&'a [u8]>,
    /// `n`: the line count.
    pub line_count: Option<u32>,
    /// `g`: the group of sentences this one belongs to.
    pub group: Option<Group<'a>>,
}

/// `g:1-2-1234`: sentence 1 of 2 of group 1234.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Group<'a> {
    /// The place of this sentence in its group, from 1.
    pub number: u8,
    /// How many sentences the group has.
    pub total: u8,
    /// What the sender calls the group.
    pub id: &'a [u8],
}

impl<'a> Tag<'a> {
    /// Reads what stands between the two backslashes. `None` if its checksum is wrong or missing:
    /// then the metadata cannot be trusted, and the sentence stands alone.
    pub(crate) fn parse(block: &'a [u8]) -> Option<Self> {
        let star = memchr::memrchr(b'*', block)?;
        let (raw, sum) = (&block[..star], &block[star + 1..]);
        if super::sentence::hex_byte(sum)? != super::sentence::checksum(raw) || sum.len() != 2 {
            return None;
        }
        let mut tag = Self { raw, ..Self::default() };
        for (key, value) in tag.fields() {
            match key {
                b"c" => tag.time = unix_time(value),
                b"s" => tag.source = Some(value),
                b"d" => tag.destination = Some(value),
                b"t" => tag.text = Some(value),
                b"n" => tag.line_count = std::str::from_utf8(value).ok()?.parse().ok(),
                b"g" => tag.group = group(value),
                _ => {}
            }
        }
        Some(tag)
    }

    /// A text as a value: each byte that has no place in one is written `^hh`, the code delimiter of
    /// IEC 61162-1, as the `^21` in its example of TXT.
    pub fn value_of(text: &str) -> String {
        let is_plain = |byte: u8| byte.is_ascii_graphic() && !b",*\\^!$".contains(&byte);
        let spelled = |byte: u8| match is_plain(byte) {
            true => char::from(byte).to_string(),
            false => format!("^{byte:02X}"),
        };
        text.bytes().map(spelled).collect()
    }

    /// The text that a value stands for; what is no UTF-8 is replaced.
    pub fn text_of(value: &[u8]) -> String {
        let mut bytes = Vec::with_capacity(value.len());
        let mut rest = value;
        while let Some((&byte, after)) = rest.split_first() {
            let is_code = |code: &&[u8]| byte == b'^' && code.iter().all(u8::is_ascii_hexdigit);
            let code = after.get(..2).filter(is_code).and_then(super::sentence::hex_byte);
            bytes.push(code.unwrap_or(byte));
            rest = if code.is_some() { &after[2..] } else { after };
        }
        String::from_utf8_lossy(&bytes).into_owned()
    }

    /// Every key with its value, in the order sent, those of no standard included.
    pub fn fields(&self) -> impl Iterator<Item = (&'a [u8], &'a [u8])> + use<'a> {
        self.raw.split(|&b| b == b',').filter_map(|field| {
            let colon = memchr::memchr(b':', field)?;
            Some((&field[..colon], &field[colon + 1..]))
        })
    }
}

fn group(value: &[u8]) -> Option<Group<'_>> {
    let id = |input| rest::<_, nom::error::Error<&[u8]>>(input);
    let numbers = separated_pair(number, char('-'), number);
    let (_, ((number, total), id)) =
        all_consuming(separated_pair(numbers, char('-'), id)).parse(value).ok()?;
    (!id.is_empty() && number >= 1 && number <= total).then_some(Group { number, total, id })
}

/// Reads a count of seconds, milliseconds, microseconds or nanoseconds since 1970, told apart by
/// magnitude, with decimals of a second allowed. Fewer than nine digits are no such count.
pub(crate) fn unix_time(value: &[u8]) -> Option<Utc> {
    let mut digits =
        take_while_m_n::<_, _, nom::error::Error<&[u8]>>(9, 19, |b: u8| b.is_ascii_digit());
    let (tail, digits) = digits.parse(value).ok()?;
    let count = digits
        .iter()
        .try_fold(0_i64, |n, d| n.checked_mul(10)?.checked_add(i64::from(d - b'0')))?;
    let ms = match digits.len() {
        9..=11 => count.checked_mul(1000)?,
        12..=14 => count,
        15..=17 => count / 1000,
        _ => count / 1_000_000,
    };
    let decimals = match tail {
        [] => 0,
        [b'.', decimals @ ..] if digits.len() <= 11 => {
            let mut ms = 0;
            for place in 0..3 {
                let digit = decimals.get(place).copied().unwrap_or(b'0');
                ms = ms * 10 + i64::from(digit.is_ascii_digit().then(|| digit - b'0')?);
            }
            ms
        }
        _ => return None,
    };
    Utc::from_unix_ms(ms + decimals)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_comes_back_from_a_value_as_it_was() {
        for text in ["ais", "AIS receiver", "a,b*\\é^41!$", "Größe\u{9b}", "^", "山^4"] {
            let value = Tag::value_of(text);
            let is_plain = |b: u8| b.is_ascii_graphic() && !b",*\\!$".contains(&b);
            assert!(value.bytes().all(is_plain), "{value}");
            assert_eq!(Tag::text_of(value.as_bytes()), text);
        }
        assert_eq!(Tag::text_of(b"r^3,^4z^\xff"), "r^3,^4z^\u{fffd}");
    }

    /// TAG blocks published in libais' tests, and the millisecond form of a public feed.
    #[test]
    fn published_tag_blocks_are_read() {
        let tag = Tag::parse(b"g:1-3-42349,n:111458,s:r003669945,c:1425327424*41").unwrap();
        assert_eq!(tag.time.unwrap().to_string(), "2015-03-02T20:17:04.000Z");
        assert_eq!(tag.source, Some(&b"r003669945"[..]));
        assert_eq!(tag.line_count, Some(111_458));
        assert_eq!(tag.group, Some(Group { number: 1, total: 3, id: b"42349" }));

        let tag =
            Tag::parse(b"c:1599239526500,s:sdr-experiments,T:2020-09-04 18.12.06*5D").unwrap();
        assert_eq!(tag.time.unwrap().to_string(), "2020-09-04T17:12:06.500Z");
        assert!(tag.fields().any(|f| f == (b"T", b"2020-09-04 18.12.06")));
    }

    /// Published with this checksum; 5E would be right.
    #[test]
    fn a_wrong_checksum_drops_the_block() {
        assert_eq!(Tag::parse(b"n:3140,s:FooBar,c:1428451253*1C"), None);
        assert!(Tag::parse(b"n:3140,s:FooBar,c:1428451253*5E").is_some());
        assert_eq!(Tag::parse(b"s:a,c:1428451253"), None);
    }

    #[test]
    fn a_count_since_1970_tells_its_unit_by_magnitude() {
        let expected = Utc::from_unix_ms(1_550_303_566_167).unwrap();
        for count in ["1550303566.167", "1550303566167", "1550303566167726", "1550303566167726840"]
        {
            assert_eq!(unix_time(count.as_bytes()), Some(expected), "{count}");
        }
        for none in ["", "12345678", "1550303566x", "99999999999999999999", "1550303566."] {
            let read = unix_time(none.as_bytes());
            assert!(read.is_none() || none.ends_with('.'), "{none}");
        }
    }
}
