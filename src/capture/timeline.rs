//! When the lines of a recording came in.

use std::time::Duration;

use crate::time::{Mono, Stamp, Utc};
use crate::wire::nmea::{Nmea, TimeOfDay};
use crate::wire::{Content, Decoder, InputId, Line, Tag};

/// What one line counts where nothing tells the time: a seventy-fifth of a second, as many
/// sentences as two full AIS channels carry in one (2 × 2250 slots a minute).
pub const LINE_INTERVAL: Duration = Duration::from_micros(13_333);

/// A step in one base that no watch would make: another recording begins.
const BREAK_AHEAD_MS: i64 = 24 * 3600 * 1000;
const BREAK_BACK_MS: i64 = 3600 * 1000;

/// What tells the time of a line, the best last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Base {
    /// Nothing: lines are counted.
    Counted,
    /// The time of day of the fixes of a GGA, while nothing tells the date.
    Daytime,
    /// The last UTC of an RMC or ZDA, or of a GGA with the date of one of them.
    OwnShip,
    /// A time a logger wrote beside the sentence.
    Recorded,
    /// The TAG block's `c:`.
    Tag,
}

/// Gives each line of a recording its stamp.
///
/// A line is placed by the best base seen so far; a line that has no time of its own keeps that of
/// the line before it. When a better base comes in, the label jumps and the arrival time does not:
/// ages go on. Arrival never goes back: lines out of order are held at the latest time.
pub struct Timeline {
    base: Base,
    now: Stamp,
    date: Option<(Utc, TimeOfDay)>,
    decoder: Decoder,
}

impl Timeline {
    /// The beginning: arrival at the start, 1970.
    pub fn new() -> Self {
        Self {
            base: Base::Counted,
            now: Stamp { at: Mono::START, utc: Utc::EPOCH },
            date: None,
            decoder: Decoder::new(),
        }
    }

    /// Another file begins: it may have another base, and its time goes on from here.
    pub fn begin_file(&mut self) {
        self.base = Base::Counted;
        self.date = None;
    }

    /// The stamp of the next line.
    pub fn stamp(&mut self, raw: &[u8], tag: Option<&Tag<'_>>, line: Option<&Line<'_>>) -> Stamp {
        let tagged = tag.and_then(|tag| tag.time).map(|utc| (Base::Tag, utc));
        let told = tagged.or_else(|| {
            let line = line?;
            line.recorded.map(|utc| (Base::Recorded, utc)).or_else(|| self.own_utc(raw, line))
        });
        match told {
            Some((base, utc)) if base > self.base => {
                self.base = base;
                self.now.utc = utc;
            }
            Some((base, utc)) if base == self.base => self.advance(utc),
            Some(_) => {}
            None if self.base == Base::Counted => {
                self.now = self.now.at(self.now.at + LINE_INTERVAL)
            }
            None => {}
        }
        self.now
    }

    fn advance(&mut self, utc: Utc) {
        let ms = utc.ms_since(self.now.utc);
        if (0..=BREAK_AHEAD_MS).contains(&ms) {
            self.now = Stamp { at: self.now.at + Duration::from_millis(ms as u64), utc };
        } else if !(-BREAK_BACK_MS..=0).contains(&ms) {
            self.now.utc = utc;
        }
    }

    /// The UTC an own-ship sentence tells; on the first day of 1970 if the date is not known. Cheap
    /// for all others.
    fn own_utc(&mut self, raw: &[u8], line: &Line<'_>) -> Option<(Base, Utc)> {
        if self.base > Base::OwnShip
            || line.sentence.talker == "P"
            || !matches!(line.sentence.formatter, "RMC" | "ZDA" | "GGA")
        {
            return None;
        }
        let decoded = self.decoder.decode(InputId(0), Mono::START, raw)?.ok()?;
        let (utc, time) = match decoded.content {
            Content::Nmea(Nmea::Rmc(rmc)) => (rmc.utc, rmc.time),
            Content::Nmea(Nmea::Zda(zda)) => (zda.utc, zda.time),
            Content::Nmea(Nmea::Gga(gga)) => {
                (None, gga.time.filter(|_| gga.is_fix() || self.date.is_some()))
            }
            _ => return None,
        };
        let time = time?;
        if let Some(utc) = utc {
            self.date = Some((utc, time));
            return Some((Base::OwnShip, utc));
        }
        // A time of day alone: of the last known date, or of the day after it past midnight.
        let Some((dated, of_day)) = self.date else {
            return Some((Base::Daytime, Utc::from_unix_ms(time.ms().into())?));
        };
        let mut ms = i64::from(time.ms()) - i64::from(of_day.ms());
        if ms < -12 * 3600 * 1000 {
            ms += 24 * 3600 * 1000;
        }
        Some((Base::OwnShip, Utc::from_unix_ms(dated.unix_ms() + ms)?))
    }
}

impl Default for Timeline {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::checksum;

    fn sealed(body: &str) -> String {
        format!("${body}*{:02X}", checksum(body.as_bytes()))
    }

    fn tagged(tag: &str, body: &str) -> String {
        format!("\\{tag}*{:02X}\\{}", checksum(tag.as_bytes()), sealed(body))
    }

    fn stamps(lines: &[String]) -> Vec<(u64, String)> {
        let mut timeline = Timeline::new();
        let stamp = |line: &String| {
            let parsed = Line::parse(line.as_bytes()).ok();
            let stamp = timeline.stamp(
                line.as_bytes(),
                parsed.as_ref().and_then(|it| it.tag.as_ref()),
                parsed.as_ref(),
            );
            (stamp.at.micros(), stamp.utc.to_string())
        };
        lines.iter().map(stamp).collect()
    }

    #[test]
    fn ages_go_on_over_a_change_of_base() {
        let seen = stamps(&[
            sealed("HEHDT,1.0,T"),
            sealed("GPRMC,120000,A,,,,,,,010126,,"),
            sealed("HEHDT,1.0,T"),
            sealed("GPGGA,120001.50,,,,,1,,,,,,,,"),
            tagged("c:1700000000", "HEHDT,1.0,T"),
            sealed("GPRMC,130000,A,,,,,,,010126,,"),
            tagged("c:1700000002", "HEHDT,1.0,T"),
            tagged("c:1700000001", "HEHDT,1.0,T"),
        ]);
        let (micros, utc): (Vec<u64>, Vec<String>) = seen.into_iter().unzip();
        assert_eq!(
            micros,
            [13_333, 13_333, 13_333, 1_513_333, 1_513_333, 1_513_333, 3_513_333, 3_513_333]
        );
        assert_eq!(utc[0], "1970-01-01T00:00:00.013Z");
        assert_eq!(utc[1], "2026-01-01T12:00:00.000Z");
        assert_eq!(utc[3], "2026-01-01T12:00:01.500Z");
        assert_eq!(utc[5], "2023-11-14T22:13:20.000Z", "the better base holds");
        assert_eq!(utc[7], "2023-11-14T22:13:22.000Z", "time is held, not turned back");
    }

    /// The day is not known, the time between two fixes is; without a fix the clock may stand still.
    #[test]
    fn a_time_of_day_without_a_date_tells_how_long() {
        let seen = stamps(&[
            sealed("HEHDT,1.0,T"),
            sealed("GPGGA,000000,,,,,0,,,,,,,,"),
            sealed("GPGGA,035235.00,2631.4,N,07658.5,W,2,10,1.0,,,,,,"),
            sealed("HEHDT,1.0,T"),
            sealed("GPGGA,035245.00,2631.4,N,07658.5,W,2,10,1.0,,,,,,"),
            sealed("GPRMC,035250,A,,,,,,,010126,,"),
        ]);
        let micros: Vec<u64> = seen.iter().map(|it| it.0).collect();
        assert_eq!(micros, [13_333, 26_666, 26_666, 26_666, 10_026_666, 10_026_666]);
        assert_eq!(seen[4].1, "1970-01-01T03:52:45.000Z");
        assert_eq!(seen[5].1, "2026-01-01T03:52:50.000Z");
    }

    #[test]
    fn a_time_of_day_passes_midnight() {
        let seen = stamps(&[
            sealed("GPRMC,235959,A,,,,,,,311225,,"),
            sealed("GPGGA,000001,,,,,1,,,,,,,,"),
        ]);
        assert_eq!(seen[1], (2_000_000, "2026-01-01T00:00:01.000Z".to_owned()));
    }
}
