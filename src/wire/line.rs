//! A recorded line: a sentence, and what a sender or a logger put around it.

use super::reject::Reject;
use super::sentence::{self, Sentence};
use super::tag::{Tag, unix_time};
use crate::time::Utc;

/// The header of an IEC 61162-450 datagram.
const DATAGRAM_HEADER: &[u8] = b"UdPbC\0";

/// A line taken apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line<'a> {
    /// The TAG block, if there is one and its checksum is right. Of two the second counts.
    pub tag: Option<Tag<'a>>,
    /// The time a logger wrote before or after the sentence.
    pub recorded: Option<Utc>,
    /// The last whole sentence in the line.
    pub sentence: Sentence<'a>,
    /// Where the sentence begins in the line as it came.
    from: usize,
}

impl<'a> Line<'a> {
    /// Takes a line apart.
    ///
    /// # Errors
    /// `TooLong` over [`super::LINE_LIMIT`] bytes; otherwise what keeps the last sentence in it
    /// from being taken.
    #[inline(always)]
    pub fn parse(line: &'a [u8]) -> Result<Self, Reject> {
        Self::parse_by(line, sentence::find)
    }

    /// The same without the shortcut for sentences of the usual shape: what that is held to.
    ///
    /// # Errors
    /// As [`Self::parse`].
    pub fn parse_with_care(line: &'a [u8]) -> Result<Self, Reject> {
        Self::parse_by(line, sentence::find_with_care)
    }

    #[inline(always)]
    fn parse_by(
        line: &'a [u8],
        find: impl Fn(&'a [u8]) -> Result<Sentence<'a>, Reject>,
    ) -> Result<Self, Reject> {
        if line.len() > super::LINE_LIMIT {
            return Err(Reject::TooLong);
        }
        let whole = line.len();
        let line = line.strip_prefix(DATAGRAM_HEADER).unwrap_or(line);
        let sentence = find(line)?;
        let (start, end) = sentence.span;
        let (tag, recorded) = before(&line[..start]);
        let recorded = recorded.or_else(|| time_after(&line[end..]));
        Ok(Self { tag, recorded, sentence, from: whole - line.len() + start })
    }

    /// Where the sentence begins in the line.
    pub fn start(&self) -> usize {
        self.from
    }

    /// The TAG block at the very beginning of a line whose sentence is damaged: when and by what it
    /// was received holds all the same.
    pub fn tag_of_damaged(line: &'a [u8]) -> Option<Tag<'a>> {
        let rest = line.strip_prefix(b"\\")?;
        Tag::parse(&rest[..memchr::memchr(b'\\', rest)?])
    }

    /// When the line was received: what the TAG block says, else what the logger wrote.
    pub fn time(&self) -> Option<Utc> {
        self.tag.and_then(|tag| tag.time).or(self.recorded)
    }
}

/// When a line was received and by what, from all that stands before its sentence, if nothing
/// stands after it.
pub(super) fn received(lead: &[u8]) -> (Option<Utc>, Option<&[u8]>) {
    let (tag, recorded) = before(lead.strip_prefix(DATAGRAM_HEADER).unwrap_or(lead));
    (tag.and_then(|tag| tag.time).or(recorded), tag.and_then(|tag| tag.source))
}

/// The TAG block, and the time that a logger wrote before it. In place: a TAG block is large to move.
#[inline(always)]
fn before(lead: &[u8]) -> (Option<Tag<'_>>, Option<Utc>) {
    let (tag, lead) = match lead {
        [before @ .., b'\\'] => match memchr::memrchr(b'\\', before) {
            Some(open) => (Tag::parse(&before[open + 1..]), &before[..open]),
            None => (None, &[][..]),
        },
        lead => (None, lead),
    };
    (tag, time_before(lead))
}

/// A time that is all that stands before the sentence, save commas and spaces: RFC 3339, the same
/// with a space for the T or without a zone (taken as UTC), or a count since 1970.
fn time_before(lead: &[u8]) -> Option<Utc> {
    if !lead.first()?.is_ascii_digit() {
        return None;
    }
    let lead = lead.trim_ascii();
    let lead = lead.strip_suffix(b",").unwrap_or(lead).trim_ascii_end();
    unix_time(lead)
        .or_else(|| unzoned_time(lead))
        .or_else(|| Utc::parse_rfc3339(std::str::from_utf8(lead).ok()?))
}

/// `2016-03-31 00:00:01.5`, what loggers write most, taken as UTC.
fn unzoned_time(text: &[u8]) -> Option<Utc> {
    let (&clock, decimals) = text.split_first_chunk::<19>()?;
    let number = |from: usize, to: usize| {
        clock[from..to].iter().try_fold(0_u32, |number, digit| {
            digit.is_ascii_digit().then(|| number * 10 + u32::from(digit - b'0'))
        })
    };
    let marks = [clock[4], clock[7], clock[13], clock[16]];
    if marks != *b"--::" || !matches!(clock[10], b' ' | b'T' | b't') {
        return None;
    }
    let (year, month, day) = (number(0, 4)? as i32, number(5, 7)?, number(8, 10)?);
    let (hour, minute, second) = (number(11, 13)?, number(14, 16)?, number(17, 19)?);
    let ms = match decimals {
        [] => 0,
        [b'.', decimals @ ..]
            if !decimals.is_empty() && decimals.iter().all(u8::is_ascii_digit) =>
        {
            decimals.iter().chain(b"000").take(3).fold(0, |ms, d| ms * 10 + u32::from(d - b'0'))
        }
        _ => return None,
    };
    let clock = (hour < 24 && minute < 60 && second < 60)
        .then_some(((hour * 60 + minute) * 60 + second) * 1000 + ms)?;
    Utc::from_date_and_ms(year, month, day, clock)
}

/// A count of seconds since 1970 as the last of the fields a shore station added.
fn time_after(tail: &[u8]) -> Option<Utc> {
    let last = tail.strip_prefix(b",")?.rsplit(|&b| b == b',').next()?;
    unix_time(last.trim_ascii())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SART TEST, published in libais' tests.
    const TEST: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";

    fn tag(body: &str) -> String {
        format!("\\{body}*{:02X}\\", super::super::checksum(body.as_bytes()))
    }

    fn time(line: &str) -> Option<String> {
        Line::parse(line.as_bytes()).unwrap().time().map(|t| t.to_string())
    }

    #[test]
    fn a_time_beside_the_sentence_is_used() {
        for lead in [
            "2019-02-16T07:52:46.167Z ",
            "2019-02-16T08:52:46.167+01:00,",
            "2019-02-16 07:52:46.167, ",
            "1550303566167 ",
            "1550303566167726,",
            "1550303566167726840 ",
            &tag("c:1550303566167"),
            &format!("1400000000 {}", tag("c:1550303566167")),
            &format!("{}{}", tag("c:1400000000"), tag("c:1550303566167")),
        ] {
            let line = format!("{lead}{TEST}");
            assert_eq!(time(&line).as_deref(), Some("2019-02-16T07:52:46.167Z"), "{line}");
        }
        assert_eq!(
            time(&format!("2016-03-31 00:00:01, {TEST}")).as_deref(),
            Some("2016-03-31T00:00:01.000Z")
        );
        // The form of a shore station's log of 2006.
        assert_eq!(
            time(&format!("{TEST},r003669987,1152921693")).as_deref(),
            Some("2006-07-15T00:01:33.000Z")
        );
    }

    #[test]
    fn what_is_no_time_is_passed_over() {
        for line in ["12 ", "x1550303566 ", "\\c:1550303566167*00\\", "\\c:1550303566167", "13P7E"]
        {
            assert_eq!(time(&format!("{line}{TEST}")), None, "{line}");
        }
        assert_eq!(time(&format!("{TEST}0,x,y")), None);
    }

    #[test]
    fn a_datagram_header_is_passed_over() {
        let line = [DATAGRAM_HEADER, tag("s:ais").as_bytes(), TEST.as_bytes()].concat();
        let line = Line::parse(&line).unwrap();
        assert_eq!(line.tag.unwrap().source, Some(&b"ais"[..]));
    }
}
