//! The stations that are heard through brokers: which there are, what came of each already, and how
//! far its clock is off.

use std::collections::{HashMap, HashSet, VecDeque};
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::time::Mono;

/// How many stations are told apart; the lines of others are the broker's. Each may take a hundred
/// kilobytes. Our own.
const STATIONS: usize = 128;

/// How many lines of a station are known again: a minute of a busy coast. Our own.
const LINES: usize = 4096;

/// The longest name of a station, in characters. Our own.
const LONGEST_NAME: usize = 32;

/// How long the way from a station must be even before it is taken for the difference of the clocks,
/// and how even. Our own.
const SETTLED: Duration = Duration::from_secs(5);
const EVEN_MS: i64 = 2_000;

/// What a first message may have taken, its clock not being known. Our own.
const FIRST_MS: i64 = 10_000;

/// The stations of one program. Clones share them: one station may be heard through two brokers.
#[derive(Clone, Debug, Default)]
pub struct Stations {
    known: Arc<Mutex<HashMap<String, Station>>>,
}

/// One of them.
#[derive(Debug)]
pub(super) struct Station {
    /// What the watch calls it.
    pub(super) name: Arc<str>,
    pub(super) clock: StationClock,
    seen: HashSet<u64>,
    /// The same, oldest first.
    order: VecDeque<u64>,
    /// The inputs through which it is heard, and whether it is there by each.
    through: Vec<(usize, bool)>,
}

impl Stations {
    /// An input is read no more: it does not tell that any of them is there.
    pub fn forget(&self, input: usize) {
        for station in self.lock().values_mut() {
            station.through.retain(|(known, _)| *known != input);
        }
    }

    pub(super) fn lock(&self) -> MutexGuard<'_, HashMap<String, Station>> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Whether a station can be called so: 1 to 32 letters, digits, spaces, `-`, `_` or `.`.
pub fn is_name(name: &str) -> bool {
    let plain = |c: char| c.is_alphanumeric() || " _-.".contains(c);
    !name.is_empty() && name.chars().count() <= LONGEST_NAME && name.chars().all(plain)
}

/// The station of a topic, new if need be; `None` for one too many, and for a name that is none.
pub(super) fn find<'a>(
    stations: &'a mut HashMap<String, Station>,
    name: &str,
) -> Option<&'a mut Station> {
    let room = stations.len() < STATIONS || stations.contains_key(name);
    (is_name(name) && room).then(|| {
        stations.entry(name.to_owned()).or_insert_with(|| Station {
            name: format!("station {name}").into(),
            clock: StationClock::default(),
            seen: HashSet::new(),
            order: VecDeque::new(),
            through: Vec::new(),
        })
    })
}

impl Station {
    /// Whether this very line has not come yet: what is sent at least once may come twice, and by two
    /// brokers.
    pub(super) fn is_new(&mut self, line: &[u8]) -> bool {
        let mut hasher = DefaultHasher::new();
        line.hash(&mut hasher);
        let digest = hasher.finish();
        if !self.seen.insert(digest) {
            return false;
        }
        self.order.push_back(digest);
        if self.order.len() > LINES
            && let Some(oldest) = self.order.pop_front()
        {
            self.seen.remove(&oldest);
        }
        true
    }

    /// It is there by this input, or not any more. Whether that changes whether it is there at all.
    pub(super) fn is_there(&mut self, input: usize, there: bool) -> bool {
        let any = |it: &Self| it.through.iter().any(|(_, there)| *there);
        let (before, first) = (any(self), self.through.is_empty());
        match self.through.iter_mut().find(|(known, _)| *known == input) {
            Some(known) => known.1 = there,
            None => self.through.push((input, there)),
        }
        first || any(self) != before
    }
}

/// How far the clock of a station is off ours, found from how long its messages seem to take.
///
/// The least of what they seem to take is the difference of the clocks and the shortest way; more is
/// what a message waited on its way. What waited comes faster than it was sent: so what comes evenly
/// did not wait.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct StationClock {
    /// Ours minus the station's, in milliseconds, the shortest way included.
    off_ms: Option<i64>,
    even: Option<Even>,
}

/// A time over which messages seemed to take the same.
#[derive(Clone, Copy, Debug)]
struct Even {
    since: Mono,
    first_ms: i64,
    least_ms: i64,
}

impl StationClock {
    /// How long a message has waited on its way, in milliseconds, that by the two clocks seems to
    /// have taken so long.
    pub(super) fn waited_ms(&mut self, seems_ms: i64, now: Mono) -> i64 {
        match &mut self.even {
            Some(even) if (seems_ms - even.first_ms).abs() <= EVEN_MS => {
                even.least_ms = even.least_ms.min(seems_ms);
                if now.since(even.since) >= SETTLED {
                    self.off_ms = Some(even.least_ms);
                    self.even = None;
                }
            }
            even => *even = Some(Even { since: now, first_ms: seems_ms, least_ms: seems_ms }),
        }
        if self.off_ms.is_none() && seems_ms.abs() <= FIRST_MS {
            self.off_ms = Some(seems_ms);
        }
        let off = self.off_ms.unwrap_or(0);
        if (off - EVEN_MS..off).contains(&seems_ms) {
            self.off_ms = Some(seems_ms);
        }
        (seems_ms - off).max(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Mono {
        Mono::from_micros(seconds * 1_000_000)
    }

    #[test]
    fn a_clock_that_is_off_is_no_delay_and_a_queue_is() {
        for off_ms in [0, 1_900, -1_900, 9_000] {
            let mut clock = StationClock::default();
            for second in 0..20 {
                let jitter = (second as i64 * 37) % 200;
                let waited = clock.waited_ms(off_ms + 50 + jitter, at(second));
                assert!(waited <= 200, "{off_ms} {waited}");
            }
            // It goes too fast or too slow by a second in half an hour.
            for drift_ppm in [600, -600] {
                let mut clock = StationClock::default();
                for second in 0..3_600 {
                    let jitter = (second as i64 * 37) % 200;
                    let drift = second as i64 * drift_ppm / 1_000;
                    let waited = clock.waited_ms(off_ms + drift + 50 + jitter, at(second));
                    assert!(waited <= 220, "{off_ms} {drift_ppm} {waited}");
                }
            }
            // The broker was gone for a minute: what waited comes all at once.
            for second in 0..60 {
                let waited = clock.waited_ms(off_ms + 50 + 60_000 - second * 1_000, at(80));
                let truth = 60_000 - second * 1_000;
                assert!((waited - truth).abs() <= 250, "{off_ms} {waited} {truth}");
            }
        }
    }

    #[test]
    fn a_clock_set_to_1970_is_known_after_some_seconds() {
        let mut clock = StationClock::default();
        let off_ms = 1_790_000_000_000;
        assert_eq!(clock.waited_ms(off_ms, at(0)), off_ms, "late rather than now");
        for second in 1..=5 {
            clock.waited_ms(off_ms + 20, at(second));
        }
        assert_eq!(clock.waited_ms(off_ms + 20, at(6)), 20);
        // It is set right.
        for second in 7..=12 {
            clock.waited_ms(30, at(second));
        }
        assert_eq!(clock.waited_ms(40, at(13)), 10);
    }

    #[test]
    fn what_waited_before_the_first_message_is_no_clock() {
        let mut clock = StationClock::default();
        let first = (0..60).map(|i| clock.waited_ms(60_000 - i * 1_000, at(0))).next();
        assert_eq!(first, Some(60_000));
        assert!(clock.waited_ms(50, at(1)) <= 50);
    }

    #[test]
    fn lines_are_known_again_and_names_are_plain() {
        let mut stations = HashMap::new();
        for name in ["", "a/b", "\u{1b}[2J", &"x".repeat(33)] {
            assert!(find(&mut stations, name).is_none(), "{name:?}");
        }
        let pier = find(&mut stations, "pier").unwrap();
        assert_eq!(&*pier.name, "station pier");
        assert!(pier.is_new(b"a") && !pier.is_new(b"a") && pier.is_new(b"b"));
        (0..LINES).for_each(|i| assert!(pier.is_new(&i.to_le_bytes())));
        assert!(pier.is_new(b"a") && pier.seen.len() <= LINES);
        for number in 0..STATIONS {
            find(&mut stations, &number.to_string());
        }
        assert!(find(&mut stations, "one more").is_none() && find(&mut stations, "pier").is_some());
    }

    #[test]
    fn a_station_by_two_brokers_is_gone_when_it_is_gone_by_both() {
        let mut stations = HashMap::new();
        let pier = find(&mut stations, "pier").unwrap();
        assert!(pier.is_there(1, true));
        assert!(!pier.is_there(2, true));
        assert!(!pier.is_there(1, false));
        assert!(pier.is_there(2, false));
    }
}
