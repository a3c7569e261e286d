//! The one place that reads a clock.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use crate::time::{Mono, Stamp, Utc};

/// The clock of one watch: arrival counted from its start, and the host's wall clock.
///
/// The two are read together and never mixed. The wall clock may be wrong, even by decades (a
/// small computer without a battery clock boots in the past); the count never goes back. On Linux
/// the count stands still while the computer sleeps.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    start: Instant,
    /// What the count began with.
    before: Duration,
}

#[expect(clippy::disallowed_methods, reason = "this is the clock that everything else asks")]
impl Clock {
    /// Begins the count.
    pub fn start() -> Self {
        Self::start_after(Duration::ZERO)
    }

    /// Begins the count as if this much had passed: so that what happened before this watch began
    /// has a place in it.
    pub fn start_after(before: Duration) -> Self {
        Self { start: Instant::now(), before }
    }

    /// The present moment: microseconds since the start, and what the host holds to be UTC.
    /// A wall clock before 1970 or after the year 9999 reads 1970-01-01T00:00:00Z.
    pub fn now(&self) -> Stamp {
        let count = (self.before + self.start.elapsed()).as_micros();
        let wall = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_millis();
        Stamp {
            at: Mono::from_micros(u64::try_from(count).unwrap_or(u64::MAX)),
            utc: i64::try_from(wall).ok().and_then(Utc::from_unix_ms).unwrap_or(Utc::EPOCH),
        }
    }
}

/// The system's own monotonic count in microseconds, as a service manager wants it.
#[cfg(unix)]
pub(super) fn since_boot_us() -> i64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    now.tv_sec * 1_000_000 + now.tv_nsec / 1_000
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_of_the_clock_goes_on_with_the_same_count() {
        let clock = Clock::start();
        let copy = clock;
        let first = clock.now();
        let second = copy.now();
        assert!(second.at >= first.at);
        // The day this was written: no host that runs this test lives before it.
        assert!(first.utc > Utc::from_date_and_ms(2020, 1, 1, 0).unwrap(), "{}", first.utc);
    }
}
