//! Sentences as IEC 61162-1 wants them: at most 82 characters, nothing in a text that would end it.

use super::TALKER;
use crate::position::Position;
use crate::time::Utc;
use crate::wire::checksum;

/// The longest sentence, from its start to CR LF (IEC 61162-1; NMEA 0183).
pub const LONGEST: usize = 82;

/// What stands around a body: `$` and the talker, `*hh` and CR LF.
const AROUND: usize = 1 + TALKER.len() + 3 + 2;

/// A sentence from its formatter and fields, with talker, checksum and end.
pub fn sentence(body: &str) -> String {
    let body = format!("{TALKER}{body}");
    debug_assert!(body.len() + 6 <= LONGEST, "{body} is too long");
    format!("${body}*{:02X}\r\n", checksum(body.as_bytes()))
}

/// A sentence whose last field is a text, cut to what there is room for. A character that has a
/// meaning of its own, and one of ISO 8859-1 beyond ASCII, is `^` and its number, as in a TXT (IEC
/// 61162-1); others become `?`.
pub fn with_text(before: &str, text: &str) -> String {
    let room = LONGEST.saturating_sub(AROUND + before.len());
    let mut field = String::new();
    for c in text.trim_end().chars() {
        let code = match (is_plain(c), u32::from(c)) {
            (true, _) => c.to_string(),
            (false, number @ (0x20..=0x7e | 0xa0..=0xff)) => format!("^{number:02X}"),
            _ => "?".to_owned(),
        };
        if field.len() + code.len() > room {
            break;
        }
        field += &code;
    }
    sentence(&format!("{before}{field}"))
}

/// Whether a character has no meaning of its own.
fn is_plain(c: char) -> bool {
    matches!(c, ' '..='~') && !"$*,!\\^~".contains(c)
}

/// A text as a field: nothing but characters that have no meaning of their own, at most so many.
/// Others, reserved ones too, become `?`; old displays know no code for them.
pub fn plain(text: &str, most: usize) -> String {
    let plain: String =
        text.chars().map(|c| if is_plain(c) { c } else { '?' }).take(most).collect();
    plain.trim_end().to_owned()
}

/// A place as four fields, to a ten-thousandth of a minute (0.2 m); four null ones if it is not known.
pub fn place(place: Option<Position>, decimals: u32) -> String {
    let Some(place) = place else { return ",,,".to_owned() };
    let parts = 10_u32.pow(decimals);
    let split = |degrees: f64| {
        let all = (degrees.abs() * 60.0 * f64::from(parts)).round() as u32;
        (all / (60 * parts), f64::from(all % (60 * parts)) / f64::from(parts))
    };
    let ((lat, lat_min), (lon, lon_min)) = (split(place.lat()), split(place.lon()));
    let (width, decimals) = (decimals as usize + 3, decimals as usize);
    let north = if place.lat() < 0.0 { 'S' } else { 'N' };
    let east = if place.lon() < 0.0 { 'W' } else { 'E' };
    format!(
        "{lat:02}{lat_min:0width$.decimals$},{north},{lon:03}{lon_min:0width$.decimals$},{east}"
    )
}

/// A time of day as a field; null if it is not known.
pub fn time_of_day(at: Option<Utc>) -> String {
    let Some(at) = at else { return String::new() };
    let ms = at.unix_ms().rem_euclid(86_400_000);
    let (hour, minute) = (ms / 3_600_000, ms / 60_000 % 60);
    format!("{hour:02}{minute:02}{:02}.{:02}", ms / 1_000 % 60, ms % 1_000 / 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_ends_nothing_and_fits() {
        assert_eq!(plain("Mate, 2*3$\r\n", 99), "Mate? 2?3???");
        assert_eq!(plain("Jürgen", 99), "J?rgen");
        let before = "ALF,2,2,1,,,,,OVS,10001,999999,99,9,";
        for (text, least) in [("x", LONGEST), (",", LONGEST - 2)] {
            let long = with_text(before, &text.repeat(200));
            assert!((least..=LONGEST).contains(&long.len()), "{long}");
            assert!(crate::wire::Line::parse(long.trim_end().as_bytes()).is_ok());
        }
        let coded = with_text(before, "Jürgen, 7°*\r");
        assert!(coded.contains(",J^FCrgen^2C 7^B0^2A*"), "{coded}");
    }

    #[test]
    fn a_place_is_rounded_before_it_is_parted() {
        let at = |lat, lon| place(Position::new(lat, lon), 4);
        assert_eq!(at(54.5, -10.25), "5430.0000,N,01015.0000,W");
        assert_eq!(at(-0.999_999_999, 179.999_999_999), "0100.0000,S,18000.0000,E");
        assert_eq!(place(Position::new(54.5, 10.25), 3), "5430.000,N,01015.000,E");
        assert_eq!(place(None, 4), ",,,");
        assert_eq!(time_of_day(Utc::from_unix_ms(45_319_129)), "123519.12");
    }
}
