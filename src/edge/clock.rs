//! The one place that reads a clock.

use std::time::{Instant, SystemTime, UNIX_EPOCH};

use crate::time::{Mono, Stamp, Utc};

/// The clock of one watch: arrival counted from its start, and the host's wall clock.
///
/// The two are read together and never mixed. The wall clock may be wrong, even by decades (a
/// small computer without a battery clock boots in the past); the count never goes back. On Linux
/// the count stands still while the computer sleeps.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    start: Instant,
}

#[expect(clippy::disallowed_methods, reason = "this is the clock that everything else asks")]
impl Clock {
    /// Begins the count.
    pub fn start() -> Self {
        Self { start: Instant::now() }
    }

    /// The present moment: microseconds since the start, and what the host holds to be UTC.
    /// A wall clock before 1970 or after the year 9999 reads 1970-01-01T00:00:00Z.
    pub fn now(&self) -> Stamp {
        let count = self.start.elapsed().as_micros();
        let wall = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_millis();
        Stamp {
            at: Mono::from_micros(u64::try_from(count).unwrap_or(u64::MAX)),
            utc: i64::try_from(wall).ok().and_then(Utc::from_unix_ms).unwrap_or(Utc::EPOCH),
        }
    }
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
