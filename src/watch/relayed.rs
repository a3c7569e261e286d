//! Lines that a receiver of another station heard, and how long ago it did.
//!
//! *Invariant:* what was heard late raises what it would have raised, told as late and counted from
//! when it was heard; it takes the place of nothing that is newer, and ends nothing that is.

use std::time::Duration;

use super::Watch;
use super::activity::Evidence;
use super::beacon::{Beacon, MessageEffect};
use super::settings::LATE;
use crate::beacon::SILENCE;
use crate::mmsi::Mmsi;
use crate::time::{Mono, Stamp, Utc, rounded_up};
use crate::wire::ais::{BeaconWord, Body};
use crate::wire::{Content, InputId, Line, Tag, checksum};

/// The key of a TAG block that says so. Our own: the standard's are single letters.
const KEY: &str = "ago";

/// A line of another station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Relayed {
    /// How long before it came in here it was heard there.
    pub ago: Duration,
}

impl Relayed {
    /// The TAG block of such a line: `\s:pier,ago:45000*hh\`, in milliseconds.
    pub fn tag(self, station: &str) -> String {
        let body = format!("s:{},{KEY}:{}", Tag::value_of(station), self.ago.as_millis());
        format!("\\{body}*{:02X}\\", checksum(body.as_bytes()))
    }

    /// What a line says of itself; `None` for one that a receiver here heard. The first block that
    /// says so counts: it was put there last.
    pub fn of_line(bytes: &[u8]) -> Option<Self> {
        // Few lines are of another station.
        memchr::memmem::find(bytes, b"ago:")?;
        let start = Line::parse(bytes).ok()?.start();
        let mut blocks = bytes.get(..start)?.split(|&byte| byte == b'\\').filter_map(Tag::parse);
        let ms = blocks.find_map(|tag| {
            let (_, value) = tag.fields().find(|(key, _)| *key == KEY.as_bytes())?;
            std::str::from_utf8(value).ok()?.parse().ok()
        })?;
        Some(Self { ago: Duration::from_millis(ms) })
    }

    /// When it was heard that came in now.
    pub fn heard_at(self, now: Mono) -> Mono {
        let micros = u64::try_from(self.ago.as_micros()).unwrap_or(u64::MAX);
        Mono::from_micros(now.micros().saturating_sub(micros))
    }

    /// Whether it is told as late.
    fn is_late(self) -> bool {
        self.ago > LATE
    }
}

/// An age as it is said, rounded up: `45 s`, `3 min`, `2 h 10 min`, `3 days`.
fn span(ago: Duration) -> String {
    match rounded_up(ago, 1) {
        seconds @ 0..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", rounded_up(ago, 60)),
        172_800.. => format!("{} days", rounded_up(ago, 86_400)),
        _ => {
            let minutes = rounded_up(ago, 60);
            format!("{} h {} min", minutes / 60, minutes % 60)
        }
    }
}

impl Watch {
    /// Whether the line that is being taken is of another station. What other ships sent tells how
    /// much later than others it hears; beacons say the same twice too soon for that.
    pub(super) fn look_for_relay(&mut self, input: InputId, bytes: &[u8], content: &Content) {
        let relayed = Relayed::of_line(bytes);
        self.relayed = relayed.map(|it| Relayed { ago: self.lags.corrected(input, it.ago) });
        if let Content::Ais(report) = content
            && !report.own
            && report.message.mmsi.beacon_kind().is_none()
            && (relayed.is_some() || !self.lags.is_idle())
            && relayed.is_none_or(|it| !it.is_late())
        {
            let now = self.now.at;
            let at = relayed.map_or(now, |it| it.heard_at(now));
            self.lags.learn(self.decoder.digest(), input, relayed.is_some(), at);
        }
    }

    /// How long ago that was heard, if it is told as late.
    pub(super) fn late(&self) -> Option<Duration> {
        self.relayed.filter(|it| it.is_late()).map(|it| it.ago)
    }

    /// When it was heard: now, unless a station heard it before.
    pub(super) fn heard_at(&self) -> Stamp {
        let Stamp { at, utc } = self.now;
        let Some(relayed) = self.relayed else { return self.now };
        let ms = i64::try_from(relayed.ago.as_millis()).unwrap_or(i64::MAX);
        Stamp {
            at: relayed.heard_at(at),
            utc: Utc::from_unix_ms(utc.unix_ms().saturating_sub(ms)).unwrap_or(utc),
        }
    }

    /// The time by which what a line says is judged: that at which it was heard, if that is late.
    /// Else now: a moment on the way changes no order.
    pub(super) fn counts_from(&self) -> Stamp {
        if self.late().is_some() { self.heard_at() } else { self.now }
    }

    /// `passed on 3 min late by station pier`, if that is late: it stays true while the alert is open.
    pub(super) fn late_words(&self) -> Option<String> {
        let late = span(self.late()?);
        let input = self.alerts.line_of().and_then(|input| self.inputs.name(input));
        Some(format!("passed on {late} late by {}", input.unwrap_or("another station")))
    }

    /// An input has heard a message of this beacon, as another may have.
    pub(super) fn note_hearer(&mut self, mmsi: Mmsi, input: InputId) {
        let relayed = self.relayed.is_some();
        if let Some(beacon) = self.beacons.find(mmsi) {
            beacon.hearers.note(input, relayed);
        }
    }

    /// Whether anything was heard or raised of a casualty since then: a word from before ends none of
    /// it.
    pub(super) fn is_known_since(&self, mmsi: Mmsi, moment: Mono) -> bool {
        let heard = self.beacons.get(mmsi).is_some_and(|it| it.knows_better_than(moment));
        let mut open = self.alerts.open().iter().filter(|alert| alert.mmsi == Some(mmsi));
        heard || open.any(|alert| alert.raised > moment)
    }

    /// What a beacon said before something newer is known of it. ACTIVE raises the alarm unless it
    /// was taken back since; all else is only counted. What it changed.
    pub(super) fn hear_overtaken(
        &mut self,
        mmsi: Mmsi,
        evidence: Evidence,
        body: &Body,
        heard: Stamp,
    ) -> MessageEffect {
        let Some(beacon) = self.beacons.find(mmsi) else { return MessageEffect::default() };
        beacon.messages = beacon.messages.saturating_add(1);
        let over = beacon.activity.is_taken_back_since(heard.at)
            || beacon.declared.is_some_and(|it| it.at >= heard.at);
        let active = matches!(
            evidence,
            Evidence::Status(14) | Evidence::Word(BeaconWord::Active) | Evidence::DamagedText
        );
        let mut effect = MessageEffect::default();
        if active && !over && !beacon.activity.in_danger {
            let before = beacon.activity.mode;
            let last = beacon.last.map_or(heard.at, |last| last.at);
            beacon.activity.judge(evidence, last);
            effect.mode_changed = beacon.activity.mode != before;
        }
        if let Body::Position(report) = body
            && !over
            && beacon.fix_at.is_none_or(|fix| fix < heard.at)
        {
            effect.first_position = beacon.place(report, heard.at);
        }
        effect
    }
}

impl Beacon {
    /// Whether something newer is known of it than what was heard then.
    pub(super) fn knows_better_than(&self, heard: Mono) -> bool {
        self.last.is_some_and(|last| last.at > heard)
            || self.declared.is_some_and(|declared| declared.at > heard)
    }

    /// Takes a message that was heard late, and is the newest all the same. One that was silent stays
    /// so if that was too long ago.
    pub(super) fn hear_late(
        &mut self,
        evidence: Evidence,
        heard: Stamp,
        now: Mono,
    ) -> MessageEffect {
        let stays_silent = std::mem::take(&mut self.silent) && now.since(heard.at) >= SILENCE;
        let effect = self.hear(evidence, heard);
        self.silent = stays_silent;
        effect
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_and_the_first_block_counts() {
        let sentence = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
        let relayed = |ms| Relayed { ago: Duration::from_millis(ms) };
        let own = relayed(45_000).tag("station pier");
        assert!(own.starts_with("\\s:station^20pier,ago:45000*"), "{own}");
        let theirs = relayed(7).tag("x");
        for (line, read) in [
            (sentence.to_owned(), None),
            (format!("{own}{sentence}"), Some(relayed(45_000))),
            (format!("{own}{theirs}{sentence}"), Some(relayed(45_000))),
            (format!("{sentence} ago:1"), None),
        ] {
            assert_eq!(Relayed::of_line(line.as_bytes()), read, "{line}");
        }
    }

    #[test]
    fn an_age_never_looks_younger_than_it_is() {
        let said = |seconds| span(Duration::from_secs(seconds));
        assert_eq!(
            [said(45), said(121), said(7_261), said(180_000)],
            ["45 s", "3 min", "2 h 2 min", "3 days"]
        );
    }
}
