//! Local time beside UTC: the zone that the configuration names.

use std::fmt;
use std::sync::Arc;

use chrono::{DateTime, Duration};

use crate::time::Utc;

/// A time zone, as the system's data describe it.
#[derive(Clone)]
pub struct Zone {
    name: String,
    zone: Arc<tz::TimeZone>,
}

impl Zone {
    /// The zone of this name that these bytes describe (TZif, RFC 8536); `None` if they describe none.
    pub fn read(name: &str, bytes: &[u8]) -> Option<Self> {
        let zone = tz::TimeZone::from_tz_data(bytes).ok()?;
        Some(Self { name: name.to_owned(), zone: Arc::new(zone) })
    }

    /// Its name: `Europe/Oslo`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Hours and minutes of a moment with what the zone calls them: `04:09 CEST`; `None` where its
    /// data do not reach.
    pub fn clock(&self, utc: Utc) -> Option<String> {
        let seconds = utc.unix_ms().div_euclid(1000);
        let local = self.zone.find_local_time_type(seconds).ok()?;
        let offset = local.ut_offset();
        let at = DateTime::from_timestamp(seconds, 0)?;
        let at = at.checked_add_signed(Duration::try_seconds(i64::from(offset))?)?;
        let word = local.time_zone_designation();
        // Some zones have a number in place of a word, some nothing.
        let word = match word.chars().next() {
            Some(first) if first.is_ascii_alphabetic() => word.to_owned(),
            _ => {
                let (sign, offset) = (if offset < 0 { '-' } else { '+' }, offset.unsigned_abs());
                format!("{sign}{:02}:{:02}", offset / 3600, offset / 60 % 60)
            }
        };
        Some(format!("{} {word}", at.format("%H:%M")))
    }

    /// The time of day in UTC with the local one beside it, where there is a zone:
    /// `02:09:55Z (04:09 CEST)`.
    pub fn both(zone: Option<&Self>, utc: Utc) -> String {
        utc.clock() + &Self::beside(zone, utc)
    }

    /// The same in brackets, to stand behind UTC; empty without a zone.
    pub fn beside(zone: Option<&Self>, utc: Utc) -> String {
        let clock = zone.and_then(|zone| zone.clock(utc));
        clock.map(|clock| format!(" ({clock})")).unwrap_or_default()
    }
}

impl fmt::Debug for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Zone").field(&self.name).finish()
    }
}

impl PartialEq for Zone {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A zone of the first form (RFC 8536 section 3.1) that has one time, an hour ahead, and one name.
    fn hour_ahead(word: &str) -> Vec<u8> {
        let mut bytes = b"TZif\0".to_vec();
        bytes.extend([0; 15]);
        for count in [0_u32, 0, 0, 0, 1, word.len() as u32 + 1] {
            bytes.extend(count.to_be_bytes());
        }
        bytes.extend(3600_i32.to_be_bytes());
        bytes.extend([0, 0]);
        bytes.extend(word.as_bytes());
        bytes.push(0);
        bytes
    }

    #[test]
    fn local_time_stands_beside_utc() {
        let utc = Utc::parse_rfc3339("2026-06-14T23:09:55Z").unwrap();
        let zone = Zone::read("Nowhere/Hour", &hour_ahead("CET")).unwrap();
        assert_eq!(zone.clock(utc).unwrap(), "00:09 CET");
        assert_eq!(Zone::beside(Some(&zone), utc), " (00:09 CET)");
        let numbered = Zone::read("Nowhere/Hour", &hour_ahead("+01")).unwrap();
        assert_eq!(numbered.clock(utc).unwrap(), "00:09 +01:00");
        assert_eq!(Zone::beside(None, utc), "");
        for bytes in [&b""[..], b"TZif", b"no zone at all, but as long as one would have to be...."]
        {
            assert_eq!(Zone::read("Nowhere/None", bytes), None);
        }
    }
}
