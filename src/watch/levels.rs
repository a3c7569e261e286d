//! With what signal a message was heard: a VSI joined to its message, which may come before or after
//! it, by the TAG group where both are in one, else by the link number, and in any case by nearness in
//! time. What names neither belongs to the message right before it (IEC 62320-1 sends it after).

use std::collections::VecDeque;
use std::time::Duration;

use serde::Serialize;

use super::Watch;
use crate::mmsi::Mmsi;
use crate::time::Mono;
use crate::wire::nmea::Vsi;
use crate::wire::{AisReport, InputId, Joined, Link};

/// Longer after one another the two do not belong together: the link number begins anew after ten
/// messages, which two full channels carry in 130 ms; a receiver sends the two in one breath. Our own.
const NEAR: Duration = Duration::from_secs(1);

/// How many of either wait for their other half: the numbers there are. Our own.
const WAITING: usize = 10;

/// What a signal can be: the noise of a channel of 25 kHz lies at -130 dBm, and +10 dBm would be a
/// ship alongside. What is beyond is no level. Our own.
const SIGNAL_DBM: std::ops::RangeInclusive<f64> = -140.0..=10.0;
const SIGNAL_TO_NOISE_DB: std::ops::RangeInclusive<f64> = -30.0..=100.0;

/// With what signal a message was heard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Level {
    /// Its strength in dBm, -140 to 10; `None` if the receiver does not tell.
    pub signal_dbm: Option<f64>,
    /// How far it was above the noise, in dB, -30 to 100; `None` if the receiver does not tell.
    pub signal_to_noise_db: Option<f64>,
}

impl Level {
    /// What a VSI tells; `None` if that is nothing, or nothing that can be.
    pub(super) fn of(vsi: &Vsi) -> Option<Self> {
        // Receivers write 0 for what they do not measure.
        let signal_dbm = vsi.signal_dbm.filter(|it| *it != 0.0 && SIGNAL_DBM.contains(it));
        let signal_to_noise_db =
            vsi.signal_to_noise_db.filter(|it| *it != 0.0 && SIGNAL_TO_NOISE_DB.contains(it));
        let level = Self { signal_dbm, signal_to_noise_db };
        (signal_dbm.is_some() || signal_to_noise_db.is_some()).then_some(level)
    }
}

/// The messages and levels of one input that wait for each other, oldest first.
#[derive(Debug, Default)]
pub(super) struct Levels {
    /// It has told a level: only then its messages are remembered.
    told: bool,
    /// Of each who sent it; `None` if that is not who was heard.
    messages: VecDeque<Half<Option<Mmsi>>>,
    levels: VecDeque<Half<Level>>,
}

#[derive(Debug)]
struct Half<T> {
    link: Link,
    at: Mono,
    of: T,
}

impl Levels {
    /// Takes a message that came in this line. Its level, if that came before.
    pub(super) fn on_message(&mut self, line: &[u8], of: Option<Mmsi>, at: Mono) -> Option<Level> {
        if !self.told {
            return None;
        }
        let link = Link::of(line)?;
        let level = take(&mut self.levels, &link, at, false);
        if level.is_none() {
            wait(&mut self.messages, Half { link, at, of });
        }
        level
    }

    /// Takes a level that came in this line. The station it is of, if its message came before.
    pub(super) fn on_level(&mut self, line: &[u8], of: Level, at: Mono) -> Option<Mmsi> {
        self.told = true;
        let link = Link::of(line)?;
        let sender = take(&mut self.messages, &link, at, true);
        if sender.is_none() {
            wait(&mut self.levels, Half { link, at, of });
        }
        sender?
    }
}

fn wait<T>(waiting: &mut VecDeque<Half<T>>, half: Half<T>) {
    if waiting.len() >= WAITING {
        waiting.pop_front();
    }
    waiting.push_back(half);
}

/// Takes the latest that belongs to this link; by being adjacent alone only where that is allowed, and
/// then nothing before it is.
fn take<T>(waiting: &mut VecDeque<Half<T>>, link: &Link, now: Mono, adjacent: bool) -> Option<T> {
    waiting.retain(|half| now.since(half.at) <= NEAR);
    if let Some(named) = waiting.iter().rposition(|it| it.link.joins(link) == Joined::ByName) {
        return waiting.remove(named).map(|half| half.of);
    }
    let last = waiting.back().is_some_and(|it| it.link.joins(link) == Joined::IfAdjacent);
    (adjacent && last).then(|| waiting.drain(..).next_back().map(|half| half.of))?
}

impl Watch {
    /// Joins the level that a VSI tells to its message.
    pub(super) fn on_vsi(&mut self, input: InputId, vsi: &Vsi, line: &[u8]) {
        let (Some(level), now) = (Level::of(vsi), self.now.at) else { return };
        let levels = self.inputs.levels_mut(input);
        if let Some(mmsi) = levels.and_then(|levels| levels.on_level(line, level, now)) {
            self.on_level(input, mmsi, level);
        }
    }

    /// Joins a message of another station to the level that was told before it.
    pub(super) fn find_level(&mut self, input: InputId, report: &AisReport, line: &[u8]) {
        let now = self.now.at;
        // The level of what was repeated is the repeater's.
        let sender = (report.message.repeat == 0).then_some(report.message.mmsi);
        let levels = self.inputs.levels_mut(input).filter(|_| !report.own);
        let level = levels.and_then(|levels| levels.on_message(line, sender, now));
        if let Some((level, mmsi)) = level.zip(sender) {
            self.on_level(input, mmsi, level);
        }
    }

    /// The level of the message that a station sent last is known, once a message.
    fn on_level(&mut self, input: InputId, mmsi: Mmsi, level: Level) {
        if self.relayed.is_none() {
            self.reach.measure(input, mmsi, level, self.now.at);
        }
        self.contacts.set_level(mmsi, level);
        let beacon = self.beacons.find(mmsi);
        if let Some(last) = beacon.and_then(|beacon| beacon.receptions.back_mut()) {
            last.level = Some(level);
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may")]
mod tests {
    use std::collections::BTreeMap;

    use super::super::{Input, Settings};
    use super::*;
    use crate::time::{Stamp, Utc};
    use crate::wire::checksum;

    /// Two ships and a beacon, of which all that matters here is who they are.
    const FIRST: (&str, u32) = ("177KQJ5000G?tO`K>RA1wUbN0TKH", 477_553_000);
    const SECOND: (&str, u32) = ("15M67FC000G?ufbE`FepT@3n00Sa", 366_053_209);

    fn message(number: &str, of: (&str, u32)) -> String {
        sealed(&format!("!AIVDM,1,1,{number},B,{},0", of.0))
    }

    fn vsi(number: &str, dbm: &str) -> String {
        sealed(&format!("$ABVSI,r3669961,{number},013536.96,1386,{dbm},"))
    }

    fn sealed(text: &str) -> String {
        format!("{text}*{:02X}", checksum(&text.as_bytes()[1..]))
    }

    fn tagged(group: &str, line: &str) -> String {
        format!("{}\\{line}", sealed(&format!("\\g:{group}")))
    }

    /// The level of each station that has one, after these lines at these milliseconds.
    fn levels(lines: &[(u64, String)]) -> BTreeMap<u32, f64> {
        let mut watch = Watch::new(Settings::default());
        let input = watch.input("ais");
        // That it tells levels is known after the first.
        for (ms, line) in [(0, vsi("9", "-50"))].iter().chain(lines) {
            let stamp = Stamp { at: Mono::from_micros((ms + 10_000) * 1000), utc: Utc::EPOCH };
            watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        }
        let heard = watch.contacts.present(watch.now.at);
        heard.filter_map(|it| Some((it.mmsi.value(), it.level?.signal_dbm?))).collect()
    }

    #[test]
    fn a_group_joins_them_in_either_order() {
        let both = BTreeMap::from([(FIRST.1, -98.0), (SECOND.1, -71.0)]);
        let after = [
            (0, tagged("1-2-34", &message("", FIRST))),
            (1, tagged("1-2-35", &message("", SECOND))),
            (2, tagged("2-2-35", &vsi("1", "-71"))),
            (3, tagged("2-2-34", &vsi("1", "-98"))),
        ];
        assert_eq!(levels(&after), both);
        let mut before = after;
        before.reverse();
        for (ms, line) in before.iter_mut().enumerate() {
            line.0 = ms as u64;
        }
        assert_eq!(levels(&before), both);
    }

    #[test]
    fn a_number_joins_them_if_they_are_near_in_time() {
        let of = |ms| {
            levels(&[
                (0, message("3", FIRST)),
                (1, message("4", SECOND)),
                (ms, vsi("3", "-98")),
                (ms, vsi("4", "-71")),
            ])
        };
        assert_eq!(of(900), BTreeMap::from([(FIRST.1, -98.0), (SECOND.1, -71.0)]));
        assert_eq!(of(1002), BTreeMap::new());
        let before = [(0, vsi("3", "-98")), (10, message("3", FIRST)), (20, message("3", SECOND))];
        assert_eq!(levels(&before), BTreeMap::from([(FIRST.1, -98.0)]), "once a level");
    }

    #[test]
    fn what_is_not_named_follows_its_message_at_once() {
        let (one, two) = (message("", FIRST), message("", SECOND));
        let lines = [(0, one.clone()), (1, two), (2, vsi("7", "-71")), (3, vsi("8", "-60"))];
        assert_eq!(levels(&lines), BTreeMap::from([(SECOND.1, -71.0)]));
        assert_eq!(levels(&[(0, vsi("", "-71")), (1, one)]), BTreeMap::new());
    }

    /// The first ship's message with the repeat indicator set, bits 6 and 7.
    #[test]
    fn the_level_of_what_was_repeated_is_not_the_senders() {
        let text = FIRST.0.replacen("17", "1G", 1);
        let repeated = (text.as_str(), FIRST.1);
        let lines = [
            (0, message("", SECOND)),
            (1, message("", repeated)),
            (2, vsi("7", "-71")),
            (3, vsi("3", "-60")),
            (4, message("3", repeated)),
        ];
        assert_eq!(levels(&lines), BTreeMap::new());
    }

    #[test]
    fn what_cannot_be_a_level_is_none() {
        for dbm in ["0", "", "-141", "11", "-900"] {
            let lines = [(0, message("", FIRST)), (1, vsi("", dbm))];
            assert_eq!(levels(&lines), BTreeMap::new(), "{dbm}");
        }
    }

    #[test]
    fn ten_thousand_forged_levels_and_messages_are_bounded() {
        let mut waiting = Levels::default();
        let level = Level { signal_dbm: Some(-90.0), signal_to_noise_db: None };
        for number in 0..10_000_u32 {
            let of_group = |line: &str| tagged(&format!("1-2-{number}"), line);
            waiting.on_level(of_group(&vsi("1", "-90")).as_bytes(), level, Mono::START);
            let forged = tagged(&format!("1-2-x{number}"), &message("", FIRST));
            waiting.on_message(forged.as_bytes(), Mmsi::new(FIRST.1), Mono::START);
        }
        assert_eq!((waiting.levels.len(), waiting.messages.len()), (WAITING, WAITING));
    }
}
