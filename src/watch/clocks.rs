//! Whether the computer's clock and that of the position receiver agree.
//!
//! A small computer without a battery boots in 1970 or in last month; a gateway without a fix says
//! 1970; a receiver whose weeks have rolled over is years behind; some repeat one time for ever.
//! Nothing here moves a timer: arrival alone does that. The two are set side by side, and the
//! person is told when they differ.

use std::time::Duration;

use serde::Serialize;

use crate::time::{Mono, Stamp, Utc};

/// How far the two may differ; what lies below is the way of the sentence through the cables. Our
/// own.
pub(super) const CLOCKS_AGREE: Duration = Duration::from_secs(2);

/// How long a source must go evenly before it is believed, or stand before it is said to. Our own.
const SETTLED: Duration = Duration::from_secs(5);

/// A source not heard for this long tells the time no more. Our own.
const HEARD: Duration = Duration::from_secs(60);

/// How many sources of UTC are told apart. Our own.
const SOURCES: usize = 8;

/// One sentence of one input that tells UTC.
#[derive(Debug)]
struct Source {
    id: u32,
    utc: Utc,
    at: Mono,
    /// The host's label when it came.
    host: Utc,
    /// Since when it has gone as fast as the arrival count, and what it said then.
    even_since: (Mono, Utc),
    /// Since when it has said the same.
    same_since: Mono,
    /// Since when the difference to the host has lain on the same side of the limit.
    side_since: Mono,
}

impl Source {
    fn difference_ms(&self) -> i64 {
        self.host.ms_since(self.utc)
    }

    fn differs(&self) -> bool {
        self.difference_ms().unsigned_abs() > CLOCKS_AGREE.as_millis() as u64
    }

    fn is_settled(&self) -> bool {
        self.at.since(self.even_since.0) >= SETTLED
    }
}

/// What the sources of UTC say.
#[derive(Debug, Default)]
pub(super) struct Clocks {
    sources: Vec<Source>,
}

/// The two clocks, side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockView {
    /// No position receiver has told UTC evenly of late.
    HostAlone,
    /// They agree within two seconds. The host's minus the receiver's, in milliseconds.
    #[serde(rename = "agree_ms")]
    Agree(i64),
    /// They do not; the later of the two is more likely right, for clocks that lose the time begin
    /// in the past.
    Differ {
        /// The host's minus the receiver's, in milliseconds.
        host_ahead_ms: i64,
        /// The present moment by the receiver.
        gnss: Utc,
    },
    /// The receiver says the same time again and again.
    Stands(Utc),
}

impl ClockView {
    /// The same in a few words.
    pub fn words(&self) -> String {
        match self {
            Self::HostAlone => "computer clock only".to_owned(),
            Self::Agree(_) => "agrees with GNSS".to_owned(),
            Self::Differ { host_ahead_ms, .. } => {
                let side = if *host_ahead_ms < 0 { "behind" } else { "ahead of" };
                format!("{} {side} GNSS", span_words(*host_ahead_ms))
            }
            Self::Stands(_) => "GNSS clock has stopped".to_owned(),
        }
    }

    /// The present moment as a person should read it: by the host, or by the receiver where it is
    /// later.
    pub fn best(&self, host: Utc) -> Utc {
        match self {
            Self::Differ { gnss, .. } => host.max(*gnss),
            _ => host,
        }
    }
}

impl Clocks {
    /// Takes a UTC that a source told.
    pub(super) fn hear(&mut self, id: u32, utc: Utc, now: Stamp) {
        let at = now.at;
        self.sources.retain(|source| at.since(source.at) <= HEARD);
        let Some(source) = self.sources.iter_mut().find(|source| source.id == id) else {
            if self.sources.len() < SOURCES {
                self.sources.push(Source {
                    id,
                    utc,
                    at,
                    host: now.utc,
                    even_since: (at, utc),
                    same_since: at,
                    side_since: at,
                });
            }
            return;
        };
        let differed = source.differs();
        if utc != source.utc {
            source.same_since = at;
        }
        let (since, then) = source.even_since;
        let passed = at.since(since).as_millis() as i64;
        if utc.ms_since(then).abs_diff(passed) > CLOCKS_AGREE.as_millis() as u64 {
            source.even_since = (at, utc);
        }
        (source.utc, source.at, source.host) = (utc, at, now.utc);
        if source.differs() != differed {
            source.side_since = at;
        }
    }

    /// The source that is believed: the one that goes evenly and is latest.
    fn believed(&self, now: Mono) -> Option<&Source> {
        let even = self.sources.iter().filter(|it| it.is_settled() && now.since(it.at) <= HEARD);
        even.max_by_key(|source| {
            source.utc.ms_since(Utc::EPOCH) - (source.at.micros() / 1000) as i64
        })
    }

    /// UTC by the position receiver, carried on from when it was told last.
    pub(super) fn gnss(&self, now: Mono) -> Option<Utc> {
        self.believed(now).map(|source| source.utc.plus(now.since(source.at)))
    }

    /// The two side by side.
    pub(super) fn view(&self, now: Mono) -> ClockView {
        if let Some(source) = self.believed(now) {
            let settled = source.at.since(source.side_since) >= SETTLED;
            // What has only just begun to differ, or to agree, may be one late sentence.
            return match source.differs() == settled {
                true => ClockView::Differ {
                    host_ahead_ms: source.difference_ms(),
                    gnss: source.utc.plus(now.since(source.at)),
                },
                false => ClockView::Agree(source.difference_ms()),
            };
        }
        let has_stopped =
            |it: &&Source| it.at.since(it.same_since) >= SETTLED && it.at > it.same_since;
        self.sources
            .iter()
            .filter(|it| now.since(it.at) <= HEARD)
            .find(has_stopped)
            .map_or(ClockView::HostAlone, |source| ClockView::Stands(source.utc))
    }
}

/// A span of milliseconds as it is said: `3 h 12 min`, `56 years`.
fn span_words(ms: i64) -> String {
    let seconds = ms.unsigned_abs() / 1000;
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", seconds / 60),
        7_200..172_800 => format!("{} h {} min", seconds / 3600, seconds / 60 % 60),
        172_800..63_072_000 => format!("{} days", seconds / 86_400),
        _ => format!("{} years", seconds / 31_556_952),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn host(seconds: i64) -> Stamp {
        let utc = Utc::from_unix_ms(1_790_000_000_000 + seconds * 1000).unwrap();
        Stamp { at: Mono::from_micros(seconds as u64 * 1_000_000), utc }
    }

    /// Hears a source each second; what it told is a function of the second.
    fn heard(seconds: i64, told: impl Fn(i64) -> i64) -> Clocks {
        let mut clocks = Clocks::default();
        for second in 0..=seconds {
            let utc = Utc::from_unix_ms(1_790_000_000_000 + told(second)).unwrap();
            clocks.hear(1, utc, host(second));
        }
        clocks
    }

    fn view(clocks: &Clocks, seconds: u64) -> ClockView {
        clocks.view(Mono::from_micros(seconds * 1_000_000))
    }

    #[test]
    fn a_receiver_a_little_behind_agrees() {
        assert_eq!(view(&heard(10, |s| s * 1000 - 900), 10), ClockView::Agree(900));
        assert_eq!(view(&heard(3, |s| s * 1000), 3), ClockView::HostAlone, "not settled yet");
        assert_eq!(view(&heard(10, |s| s * 1000), 71), ClockView::HostAlone, "not heard any more");
    }

    #[test]
    fn a_computer_that_booted_last_month_differs_and_the_later_is_shown() {
        const MONTH: i64 = 30 * 86_400_000;
        let clocks = heard(10, |s| s * 1000 + MONTH);
        let ClockView::Differ { host_ahead_ms, gnss } = view(&clocks, 12) else {
            panic!("{:?}", view(&clocks, 12))
        };
        assert_eq!(host_ahead_ms, -MONTH);
        assert_eq!(gnss, Utc::from_unix_ms(1_790_000_012_000 + MONTH).unwrap());
        assert_eq!(view(&clocks, 12).best(host(12).utc), gnss);
        assert_eq!(span_words(host_ahead_ms), "30 days");
    }

    /// The gateway of ../shared/captures/ownship/gothenburg_n2k_gateway.txt says 1970 and goes on.
    #[test]
    fn a_gateway_in_1970_differs_and_the_computer_is_shown() {
        let clocks = heard(10, |s| s * 1000 - 1_790_000_000_000);
        let view = view(&clocks, 10);
        assert!(matches!(view, ClockView::Differ { host_ahead_ms: 1_790_000_000_000, .. }));
        assert_eq!(view.best(host(10).utc), host(10).utc);
        assert_eq!(span_words(1_790_000_000_000), "56 years");
    }

    #[test]
    fn a_clock_that_stands_is_not_believed() {
        let stood = Utc::from_unix_ms(1_790_000_000_000).unwrap();
        assert_eq!(view(&heard(10, |_| 0), 10), ClockView::Stands(stood));
        let clocks = heard(10, |_| 0);
        assert_eq!(clocks.gnss(Mono::from_micros(10_000_000)), None);
    }

    #[test]
    fn one_late_sentence_changes_nothing() {
        let clocks = heard(20, |s| if s == 20 { 17_000 } else { s * 1000 });
        assert!(matches!(view(&clocks, 20), ClockView::HostAlone | ClockView::Agree(_)));
    }
}
