//! How much later than others a station seems to hear: by what is left of the error of its clock, and
//! by the shortest way its messages take. It is found from the ships that others hear too.
//!
//! Each transmission that several heard says how far two of them are apart; the median of the last
//! ones counts, so that a few that were delayed or mistaken change nothing.

use std::collections::{HashMap, VecDeque};
use std::time::Duration;

use crate::time::Mono;
use crate::wire::InputId;

/// Two hear the same within this time, or it is not the same: two stations may differ by four seconds
/// (each by two), and have a second for the way. Our own.
const TOGETHER_US: i64 = 5_000_000;

/// How many of the last ones count, and from how many on. Our own.
const SAMPLES: usize = 15;
const ENOUGH: usize = 5;

/// How many transmissions are remembered: five seconds of fifty busy stations with few in common.
/// Our own.
const REMEMBERED: usize = 16_384;

/// What the stations heard and others too.
#[derive(Debug, Default)]
pub(super) struct Lags {
    stations: HashMap<InputId, Lag>,
    recent: HashMap<u64, Reception>,
    /// The same, oldest first.
    order: VecDeque<(u64, Mono)>,
}

/// How much later a station seems to hear.
#[derive(Debug, Default)]
struct Lag {
    /// In microseconds, oldest first.
    samples: VecDeque<i64>,
    median_us: i64,
}

/// Whoever hears a transmission and is gone by: the ship's own receivers, else the station known
/// longest. So none is found from one that is found from it.
#[derive(Clone, Copy, Debug)]
struct Reception {
    by: InputId,
    /// Whether it is another station's.
    relayed: bool,
    /// As it seems.
    at: Mono,
}

impl Lags {
    /// Whether there is any station: else nobody needs to know.
    pub(super) fn is_idle(&self) -> bool {
        self.stations.is_empty()
    }

    /// How long ago a station heard what by its own word it heard so long ago.
    pub(super) fn corrected(&self, input: InputId, ago: Duration) -> Duration {
        let lag_us = self.lag_us(input);
        let by = Duration::from_micros(lag_us.unsigned_abs());
        if lag_us < 0 { ago.saturating_sub(by) } else { ago + by }
    }

    /// An input has heard a ship, as it seems at that moment.
    pub(super) fn learn(&mut self, digest: u64, by: InputId, relayed: bool, at: Mono) {
        if relayed {
            self.stations.entry(by).or_default();
        }
        let new = Reception { by, relayed, at };
        let known = self.recent.get(&digest).copied();
        let known = known.filter(|it| it.by != by && difference_us(at, it.at).abs() <= TOGETHER_US);
        let Some(known) = known else { return self.remember(digest, new) };
        let rank = |it: &Reception| (it.relayed, it.by);
        let (first, second) = if rank(&known) <= rank(&new) { (known, new) } else { (new, known) };
        if second.relayed {
            let lag_us = difference_us(second.at, first.at) + self.lag_us(first.by);
            self.stations.entry(second.by).or_default().take(lag_us);
        }
        if first.by == by {
            self.remember(digest, new);
        }
    }

    fn lag_us(&self, input: InputId) -> i64 {
        self.stations.get(&input).map_or(0, |it| it.median_us)
    }

    fn remember(&mut self, digest: u64, new: Reception) {
        self.recent.insert(digest, new);
        self.order.push_back((digest, new.at));
        if self.order.len() > REMEMBERED
            && let Some((oldest, at)) = self.order.pop_front()
            && self.recent.get(&oldest).is_some_and(|it| it.at == at)
        {
            self.recent.remove(&oldest);
        }
    }
}

impl Lag {
    fn take(&mut self, lag_us: i64) {
        self.samples.push_back(lag_us);
        if self.samples.len() > SAMPLES {
            self.samples.pop_front();
        }
        if self.samples.len() >= ENOUGH {
            let mut sorted: Vec<i64> = self.samples.iter().copied().collect();
            sorted.sort_unstable();
            self.median_us = sorted[sorted.len() / 2];
        }
    }
}

fn difference_us(later: Mono, earlier: Mono) -> i64 {
    let us = |it: Mono| i64::try_from(it.micros()).unwrap_or(i64::MAX);
    us(later) - us(earlier)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Microseconds off of a station's hearing, after some minutes of ships of which it hears some.
    fn left_us(own: bool, off_ms: [i64; 3], drift_ppm: i64) -> [i64; 3] {
        let mut lags = Lags::default();
        let seems = |station: usize, true_us: i64, ship: i64| {
            let jitter = (ship * 7 + station as i64 * 13) % 11 * 8_000;
            // One in nine was held up on its way.
            let held = if (ship + station as i64) % 9 == 0 { 1_500_000 } else { 0 };
            let drift = true_us / 1_000_000 * drift_ppm * (station as i64 - 1);
            let us = true_us + off_ms[station] * 1_000 + drift + jitter + held;
            Mono::from_micros(us.unsigned_abs())
        };
        for ship in 0..300_i64 {
            let true_us = 100_000_000 + ship * 700_000;
            if own && ship % 2 == 0 {
                let at = Mono::from_micros(true_us.unsigned_abs());
                lags.learn(ship.unsigned_abs(), InputId(9), false, at);
            }
            for station in (0..3).filter(|it| (ship + *it as i64) % 4 != 0) {
                let (by, at) = (InputId(station as u16), seems(station, true_us, ship));
                lags.learn(ship.unsigned_abs(), by, true, at);
            }
        }
        let end_us = 310_000_000;
        [0, 1, 2].map(|station| {
            let drift = end_us / 1_000_000 * drift_ppm * (station as i64 - 1);
            off_ms[station] * 1_000 + drift - lags.lag_us(InputId(station as u16))
        })
    }

    #[test]
    fn clocks_that_are_off_and_go_wrong_are_found_from_common_ships() {
        for off_ms in [[0, 0, 0], [2_000, -2_000, 700], [-2_000, 2_000, -1_300], [1_900, 1_900, 0]]
        {
            for drift_ppm in [0, 100, -100] {
                for left in left_us(true, off_ms, drift_ppm) {
                    assert!(left.abs() < 120_000, "{off_ms:?} {drift_ppm} {left}");
                }
                // Without a receiver on board they are at one among themselves.
                let [one, two, three] = left_us(false, off_ms, drift_ppm);
                for (a, b) in [(one, two), (two, three), (one, three)] {
                    assert!((a - b).abs() < 200_000, "{off_ms:?} {drift_ppm} {a} {b}");
                }
            }
        }
    }

    #[test]
    fn a_few_are_not_enough_and_it_is_bounded() {
        let mut lags = Lags::default();
        let at = |ms: u64| Mono::from_micros(ms * 1_000);
        for ship in 0..4 {
            lags.learn(ship, InputId(0), false, at(ship * 100));
            lags.learn(ship, InputId(1), true, at(ship * 100 + 900));
        }
        let ago = Duration::from_millis(50);
        assert_eq!(lags.corrected(InputId(1), ago), ago);
        lags.learn(4, InputId(0), false, at(400));
        lags.learn(4, InputId(1), true, at(1_300));
        assert_eq!(lags.corrected(InputId(1), ago), Duration::from_millis(950));
        for ship in 0..3 * REMEMBERED as u64 {
            lags.learn(ship, InputId(1), true, at(ship));
        }
        assert!(lags.recent.len() <= REMEMBERED && lags.order.len() <= REMEMBERED);
    }
}
