//! Whether an input hears both channels of AIS. Stations send on the two in turn, and about half of
//! what is heard comes on each: in whole days of real traffic never more than fourteen in a row on
//! one (`tests/captures.rs`). A receiver, a filter or an antenna that fails on one of them still
//! shows ships, and a beacon's burst of eight shrinks to four.
//!
//! The test is sequential: each message on one channel is evidence that the other is dead, each on
//! the other far stronger evidence that it is not.

use super::Watch;
use super::alert::{Cause, Matter, Priority};
use super::alerts::Raise;
use super::set_conditions::ONE_CHANNEL;
use crate::mmsi::Mmsi;
use crate::time::Stamp;
use crate::wire::InputId;

/// What a message weighs, in thousandths of a natural logarithm: of a channel that works, one in five
/// messages comes on it or more; of a dead one, one in a hundred (what is still heard of a strong
/// ship near by). Our own.
const ON_THE_OTHER: i32 = 213; // ln(0.99 / 0.8)
const ON_THIS: i32 = -2996; // ln(0.01 / 0.2)

/// Enough evidence: a channel that works is called dead once in e¹⁹ messages, two full channels for a
/// month, and far more rarely where both carry half. Ninety messages of the other. Our own.
const ENOUGH: i32 = 19_100;

/// Of so many stations at least: a single one may send on one channel alone. Our own.
const STATIONS: usize = 3;

/// The channels of one input.
#[derive(Debug, Default)]
pub(super) struct Channels {
    a: Channel,
    b: Channel,
}

#[derive(Debug, Default)]
struct Channel {
    /// That it is dead.
    evidence: i32,
    /// When it was heard last; else when the input was heard first.
    heard: Option<Stamp>,
    /// Who was heard on the other since.
    others: [Option<Mmsi>; STATIONS],
    dead: bool,
    /// Anything was ever heard on it.
    known: bool,
}

impl Channel {
    fn hear(&mut self, now: Stamp) {
        self.heard = Some(now);
        self.known = true;
        self.evidence = (self.evidence + ON_THIS).max(0);
        self.others = [None; STATIONS];
        self.dead &= self.evidence > 0;
    }

    fn miss(&mut self, mmsi: Mmsi, now: Stamp) {
        self.heard = self.heard.or(Some(now));
        self.evidence = (self.evidence + ON_THE_OTHER).min(ENOUGH);
        if !self.others.contains(&Some(mmsi))
            && let Some(free) = self.others.iter_mut().find(|it| it.is_none())
        {
            *free = Some(mmsi);
        }
        self.dead |= self.evidence == ENOUGH && self.others.iter().all(Option::is_some);
    }
}

impl Channels {
    /// Whether A and B are heard; `None` of one on which nothing has come yet.
    pub(super) fn heard(&self) -> [Option<bool>; 2] {
        [&self.a, &self.b].map(|it| if it.dead { Some(false) } else { it.known.then_some(true) })
    }

    /// Takes a message of another station. Whether one of the channels died or came back.
    pub(super) fn hear(&mut self, channel: char, mmsi: Mmsi, now: Stamp) -> bool {
        let before = (self.a.dead, self.b.dead);
        let (this, other) = match channel {
            'A' => (&mut self.a, &mut self.b),
            'B' => (&mut self.b, &mut self.a),
            _ => return false,
        };
        this.hear(now);
        other.miss(mmsi, now);
        before != (self.a.dead, self.b.dead)
    }
}

impl Watch {
    /// Counts a message of another station on its channel.
    pub(super) fn on_channel(&mut self, input: InputId, channel: char, mmsi: Mmsi) {
        let Some(channels) = self.inputs.channels_mut(input) else { return };
        if !channels.hear(channel, mmsi, self.now) {
            return;
        }
        let dead = [('A', &channels.a), ('B', &channels.b)]
            .map(|(letter, it)| (letter, it.heard.filter(|_| it.dead)));
        for (letter, since) in dead {
            let matter = Matter::Channel(input, letter);
            let Some(since) = since else {
                self.alerts.rectify(&matter);
                continue;
            };
            let name = self.inputs.name(input).unwrap_or_default();
            if self.settings.one_channel.contains(name) {
                continue;
            }
            let text = format!(
                "Input {name}: nothing on channel {letter} since {}. {ONE_CHANNEL}",
                since.utc.clock()
            );
            self.raise(Raise::of_ship(matter, Cause::ChannelSilent, Priority::Caution, text));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::{Mono, Utc};

    const NOW: Stamp = Stamp { at: Mono::START, utc: Utc::EPOCH };

    fn station(number: u32) -> Mmsi {
        Mmsi::new(211_000_000 + number).unwrap()
    }

    #[test]
    fn the_weights_are_logarithms_of_what_is_said_of_them() {
        let thousandths = |ratio: f64| (ratio.ln() * 1000.0).round() as i32;
        assert_eq!(ON_THE_OTHER, thousandths(0.99 / 0.8));
        assert_eq!(ON_THIS, thousandths(0.01 / 0.2));
        // Wald: below one in e^ENOUGH. Two full channels of 2250 slots a minute, for thirty days.
        let month = 2.0 * 2250.0 * 60.0 * 24.0 * 30.0;
        assert!((f64::from(ENOUGH) / 1000.0).exp() > month);
    }

    #[test]
    fn ninety_messages_of_three_stations_are_enough_and_a_few_bring_it_back() {
        let mut channels = Channels::default();
        let died = (1..).find(|&n| channels.hear('A', station(n % 3), NOW)).unwrap();
        assert_eq!(died, 90);
        assert_eq!(channels.heard(), [Some(true), Some(false)]);
        let back = (1..).find(|&n| channels.hear('B', station(n), NOW)).unwrap();
        assert_eq!(back, 7);
        assert_eq!(channels.heard(), [Some(true), Some(true)]);
    }

    #[test]
    fn two_stations_are_never_enough_and_other_channels_are_none() {
        let mut channels = Channels::default();
        for n in 0..10_000 {
            assert!(!channels.hear('A', station(n % 2), NOW));
            assert!(!channels.hear('C', station(n), NOW));
        }
        assert_eq!(channels.heard(), [Some(true), None]);
    }

    #[test]
    fn a_channel_on_which_a_quarter_comes_is_not_dead() {
        let mut random = fastrand::Rng::with_seed(18);
        let mut channels = Channels::default();
        for n in 0..2_000_000 {
            let channel = if random.u8(..) < 64 { 'B' } else { 'A' };
            assert!(!channels.hear(channel, station(n % 40), NOW));
        }
    }
}
