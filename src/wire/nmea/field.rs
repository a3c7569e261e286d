//! What the fields of many sentences have in common.

use nom::Parser as _;
use nom::bytes::complete::{take_while, take_while_m_n};
use nom::character::complete::{char, one_of};
use nom::combinator::{all_consuming, opt, recognize};
use nom::sequence::preceded;
use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use crate::time::Utc;

/// A time of day in UTC, to the millisecond; second 60 is taken, for a leap second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeOfDay {
    ms: u32,
}

impl TimeOfDay {
    /// Milliseconds since midnight, below 86 401 000.
    pub const fn ms(self) -> u32 {
        self.ms
    }

    /// The moment it names on a day.
    pub fn on(self, (year, month, day): (i32, u32, u32)) -> Option<Utc> {
        Utc::from_date_and_ms(year, month, day, self.ms)
    }
}

impl Serialize for TimeOfDay {
    /// `12:35:19.000`
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (seconds, ms) = (self.ms / 1000, self.ms % 1000);
        let minutes = seconds / 60;
        let (minutes, seconds) = if minutes == 1440 { (1439, 60) } else { (minutes, seconds % 60) };
        let (hour, minute) = (minutes / 60, minutes % 60);
        serializer.collect_str(&format_args!("{hour:02}:{minute:02}:{seconds:02}.{ms:03}"))
    }
}

type Error<'a> = nom::error::Error<&'a [u8]>;

fn digits<'a>() -> impl nom::Parser<&'a [u8], Output = &'a [u8], Error = Error<'a>> {
    take_while(|b: u8| b.is_ascii_digit())
}

/// Reads a decimal number: sign, digits, point, digits. No exponent, no `nan`, and not so many
/// digits that it would be infinite.
pub(super) fn decimal(field: &[u8]) -> Result<f64, Reject> {
    let number = (opt(one_of("+-")), digits(), opt(preceded(char('.'), digits())));
    let (_, text) = all_consuming(recognize(number)).parse(field).map_err(|_| Reject::BadField)?;
    let text = std::str::from_utf8(text).map_err(|_| Reject::BadField)?;
    text.parse().ok().filter(|value: &f64| value.is_finite()).ok_or(Reject::BadField)
}

/// The next field as a number, null as `None`.
pub(super) fn number(fields: &mut Fields<'_>) -> Result<Option<f64>, Reject> {
    fields.take().map(decimal).transpose()
}

/// The next field as a number that is not negative.
pub(super) fn magnitude(fields: &mut Fields<'_>) -> Result<Option<f64>, Reject> {
    number(fields)?.map(|v| if v >= 0.0 { Ok(v) } else { Err(Reject::BadField) }).transpose()
}

/// The next field as a direction, 0 to 360 degrees; 360 becomes 0.
pub(super) fn direction(fields: &mut Fields<'_>) -> Result<Option<f64>, Reject> {
    match magnitude(fields)? {
        Some(degrees) if degrees > 360.0 => Err(Reject::BadField),
        direction => Ok(direction.map(|degrees| if degrees == 360.0 { 0.0 } else { degrees })),
    }
}

/// The next two fields as an angle and E or W: east positive.
pub(super) fn east_or_west(fields: &mut Fields<'_>) -> Result<Option<f64>, Reject> {
    let angle = magnitude(fields)?;
    match (angle, fields.take()) {
        (None, _) => Ok(None),
        (Some(angle), _) if angle > 180.0 => Err(Reject::BadField),
        (Some(angle), Some(b"E")) => Ok(Some(angle)),
        (Some(angle), Some(b"W")) => Ok(Some(-angle)),
        // An angle of zero needs no side.
        (Some(0.0), None) => Ok(Some(0.0)),
        (Some(_), _) => Err(Reject::BadField),
    }
}

/// The next four fields as latitude and longitude in degrees: `ddmm.mm,N,dddmm.mm,E`.
pub(super) fn position(fields: &mut Fields<'_>) -> Result<(Option<f64>, Option<f64>), Reject> {
    Ok((coordinate(fields, 2, b"N", b"S", 90.0)?, coordinate(fields, 3, b"E", b"W", 180.0)?))
}

/// A coordinate without its side, or with a side that is none, is not taken for either side.
fn coordinate(
    fields: &mut Fields<'_>,
    degree_digits: usize,
    positive: &[u8],
    negative: &[u8],
    limit: f64,
) -> Result<Option<f64>, Reject> {
    let (Some(value), side) = (fields.take(), fields.take()) else { return Ok(None) };
    let whole = |n| take_while_m_n::<_, _, Error<'_>>(n, n, |b: u8| b.is_ascii_digit());
    let minutes = recognize((whole(2), opt(preceded(char('.'), digits()))));
    let (_, (degrees, minutes)) = all_consuming((whole(degree_digits), minutes))
        .parse(value)
        .map_err(|_| Reject::BadField)?;
    let (degrees, minutes) = (decimal(degrees)?, decimal(minutes)?);
    let value = degrees + minutes / 60.0;
    if minutes >= 60.0 || value > limit {
        return Err(Reject::BadField);
    }
    match side {
        Some(side) if side == positive => Ok(Some(value)),
        Some(side) if side == negative => Ok(Some(-value)),
        _ => Err(Reject::BadField),
    }
}

/// The next field as a time of day, `hhmmss.ss`; `None` if null or impossible.
pub(super) fn time_of_day(fields: &mut Fields<'_>) -> Option<TimeOfDay> {
    let field = fields.take()?;
    let [hour, minute, second] = [two(field, 0)?, two(field, 2)?, two(field, 4)?];
    let ms = match &field[6..] {
        [] => 0,
        [b'.', decimals @ ..] if decimals.iter().all(u8::is_ascii_digit) => {
            decimals.iter().chain(b"000").take(3).fold(0, |ms, d| ms * 10 + u32::from(d - b'0'))
        }
        _ => return None,
    };
    let leap = second == 60 && minute == 59;
    (hour < 24 && minute < 60 && (second < 60 || leap))
        .then(|| TimeOfDay { ms: ((hour * 60 + minute) * 60 + second) * 1000 + ms })
}

/// Two digits at a place.
pub(super) fn two(field: &[u8], place: usize) -> Option<u32> {
    match field.get(place..place + 2)? {
        [a @ b'0'..=b'9', b @ b'0'..=b'9'] => Some(u32::from((a - b'0') * 10 + (b - b'0'))),
        _ => None,
    }
}

/// A date `ddmmyy`; `None` if there is no such day. Years 70 to 99 are of the
/// last century: a clock that was never set says 1970.
pub(super) fn date(field: &[u8]) -> Option<(i32, u32, u32)> {
    if field.len() != 6 {
        return None;
    }
    let [day, month, year] = [two(field, 0)?, two(field, 2)?, two(field, 4)?];
    let year = year as i32 + if year < 70 { 2000 } else { 1900 };
    Utc::from_date_and_ms(year, month, day, 0)?;
    Some((year, month, day))
}

/// The next field as one letter.
pub(super) fn letter(fields: &mut Fields<'_>) -> Option<char> {
    match fields.take()? {
        [letter] => Some(char::from(*letter)),
        _ => None,
    }
}

/// The next field as a small whole number; `None` if null or no such number.
pub(super) fn small(fields: &mut Fields<'_>) -> Option<u16> {
    std::str::from_utf8(fields.take()?).ok()?.parse().ok()
}

/// The next field as a whole number; `None` if null or no such number.
pub(super) fn whole(fields: &mut Fields<'_>) -> Option<u32> {
    std::str::from_utf8(fields.take()?).ok()?.parse().ok()
}

/// The next field as yes (`A`) or no (`V`); `None` for anything else.
pub(super) fn a_or_v(fields: &mut Fields<'_>) -> Option<bool> {
    match fields.take()? {
        b"A" => Some(true),
        b"V" => Some(false),
        _ => None,
    }
}

/// The next field as a text; `None` if null. `^` and two hexadecimal digits are the character of
/// that number in ISO 8859-1, as which other bytes beyond ASCII are taken too.
pub(super) fn text(fields: &mut Fields<'_>) -> Option<String> {
    let mut rest = fields.take()?;
    let mut text = String::with_capacity(rest.len());
    while let [byte, after @ ..] = rest {
        let escaped = (*byte == b'^').then(|| hexadecimal(after)).flatten();
        rest = if escaped.is_some() { &after[2..] } else { after };
        text.push(char::from(escaped.unwrap_or(*byte)));
    }
    Some(text)
}

/// The byte that two hexadecimal digits at the beginning tell.
fn hexadecimal(text: &[u8]) -> Option<u8> {
    let [high, low, ..] = text else { return None };
    let digit = |byte: &u8| char::from(*byte).to_digit(16);
    Some((digit(high)? << 4 | digit(low)?) as u8)
}
