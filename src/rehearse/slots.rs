//! The AIS link: slots, communication states, reception, and what a receiver makes of a message.

use std::f64::consts::TAU;

use super::sealed;
use crate::navigation::{Position, destination};
use crate::time::Utc;
use crate::units::{Degrees, NauticalMiles};
use crate::wire::ais::{CommState, Message};

/// Slots a minute on one channel (ITU-R M.1371-5 annex 2, 3.1.2).
pub(super) const SLOTS_PER_FRAME: i64 = 2250;

/// Armour characters in one sentence, so that it has at most 82 characters in all.
const PAYLOAD: usize = 56;

/// A slot, counted since 1970. Frames begin with the UTC minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Slot(i64);

impl Slot {
    /// The slot that is under way at a moment. A slot is 60 000 / 2250 ms = 80 / 3 ms long.
    pub fn at(moment: Utc) -> Self {
        Self(moment.unix_ms().saturating_mul(3).div_euclid(80))
    }

    /// The slot this many slots later.
    pub const fn plus(self, slots: i64) -> Self {
        Self(self.0 + slots)
    }

    /// When it begins.
    pub fn begin(self) -> Utc {
        Utc::from_unix_ms(self.0.saturating_mul(80).div_euclid(3)).unwrap_or(Utc::EPOCH)
    }

    /// When it ends, and a receiver has the message.
    pub fn end(self) -> Utc {
        self.plus(1).begin()
    }

    /// Its number in its frame, 0 to 2249.
    pub const fn number(self) -> u16 {
        self.0.rem_euclid(SLOTS_PER_FRAME) as u16
    }

    /// The UTC second in which it begins.
    pub fn second(self) -> u8 {
        (self.begin().unix_ms().div_euclid(1000).rem_euclid(60)) as u8
    }
}

/// What a message's communication state tells beside its time-out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reservation {
    /// 0 UTC direct, 3 none of its own.
    pub sync_state: u8,
    /// Frames until a new slot, 7 to 0.
    pub timeout: u8,
    /// Slots to the next place, told at time-out 0; 0 gives the slot up.
    pub offset: u16,
    /// Stations received.
    pub stations: u16,
}

impl Reservation {
    /// The state of a message in this slot (M.1371-5 tables 18 and 19).
    pub fn comm_state(self, slot: Slot) -> CommState {
        let submessage = match self.timeout {
            0 => self.offset,
            1 => {
                let minutes = slot.begin().unix_ms().div_euclid(60_000).rem_euclid(1440) as u16;
                (minutes / 60) << 9 | (minutes % 60) << 2
            }
            2 | 4 | 6 => slot.number(),
            _ => self.stations,
        };
        CommState::sotdma(self.sync_state, self.timeout, submessage)
    }
}

/// The channel of the `index`th message of a station that alternates, AIS 1 first.
pub(super) const fn channel(index: usize) -> char {
    if index.is_multiple_of(2) { 'A' } else { 'B' }
}

/// The sentences of a message: VDM, or VDO of own ship. None for types that are not written here.
pub(super) fn sentences(
    message: &Message,
    formatter: &str,
    slot: Slot,
    channel: char,
) -> Vec<String> {
    let Some(bits) = message.encode() else { return Vec::new() };
    let (payload, fill) = bits.armoured();
    let parts: Vec<&str> = (0..payload.len())
        .step_by(PAYLOAD)
        .map(|at| &payload[at..payload.len().min(at + PAYLOAD)])
        .collect();
    let total = parts.len();
    // Messages in neighbouring slots get different numbers.
    let sequence = if total > 1 { (slot.number() % 10).to_string() } else { String::new() };
    let sentence = |(index, part): (usize, &&str)| {
        let number = index + 1;
        // Only the last part has fill bits: the others are whole.
        let fill = if number == total { fill } else { 0 };
        sealed(&format!("!AI{formatter},{total},{number},{sequence},{channel},{part},{fill}"))
    };
    parts.iter().enumerate().map(sentence).collect()
}

/// A place anywhere within `metres` of another. Rolls the dice twice.
pub(super) fn jittered(place: Position, metres: f64, dice: &mut fastrand::Rng) -> Position {
    let bearing = Degrees::new(dice.f64() * TAU.to_degrees());
    // The root spreads the places evenly over the disc.
    let range = NauticalMiles::from_metres(metres * dice.f64().sqrt());
    destination(place, bearing, range)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_has_2250_slots_and_begins_with_the_minute() {
        let minute = Utc::parse_rfc3339("2026-06-14T02:07:00Z").unwrap();
        let first = Slot::at(minute);
        assert_eq!((first.number(), first.begin()), (0, minute));
        assert_eq!(first.plus(2250).begin().ms_since(minute), 60_000);
        assert_eq!(first.plus(75).end().ms_since(first.end()), 2000, "75 slots, 2.000 s");
        assert_eq!((first.plus(-1).number(), first.plus(-1).second()), (2249, 59));
    }

    /// M.1371-5 table 19.
    #[test]
    fn the_submessage_goes_with_the_time_out() {
        let slot = Slot::at(Utc::parse_rfc3339("2026-06-14T02:07:00Z").unwrap()).plus(1000);
        let tell = |timeout| {
            let state = Reservation { sync_state: 0, timeout, offset: 2300, stations: 4 };
            match state.comm_state(slot) {
                CommState::Sotdma { slot_submessage, .. } => slot_submessage.unwrap(),
                CommState::Itdma { .. } => unreachable!(),
            }
        };
        assert_eq!([tell(7), tell(5), tell(3)], [4; 3]);
        assert_eq!([tell(6), tell(4), tell(2)], [1000; 3]);
        assert_eq!(tell(1), 2 << 9 | 7 << 2);
        assert_eq!(tell(0), 2300);
    }
}
