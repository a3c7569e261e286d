//! When frames are drawn, and what flashes is lit.

use std::time::Duration;

use crate::time::Mono;

/// At most ten frames a second. Our own.
pub const FRAME: Duration = Duration::from_millis(100);

/// Something that flashes is lit for the first two thirds of a second, dark for the last: 1 Hz (0.5
/// to 1.5 Hz and lit for at least half, A.830(19) 5.2).
const LIT: Duration = Duration::from_millis(667);
const FLASH: Duration = Duration::from_secs(1);

/// Where in the second a moment lies.
fn phase(at: Mono) -> Duration {
    Duration::from_micros(at.micros() % 1_000_000)
}

/// When frames are drawn.
#[derive(Debug, Default)]
pub struct Pace {
    /// When the last one was.
    last: Option<Mono>,
    /// Something has changed since.
    pub stale: bool,
    /// Something on it flashes.
    flashing: bool,
}

impl Pace {
    /// A frame was drawn now.
    pub fn drawn(now: Mono, flashing: bool) -> Self {
        Self { last: Some(now), stale: false, flashing }
    }

    /// Whether what flashes is lit now.
    pub fn is_lit(flashing: bool, now: Mono) -> bool {
        !flashing || phase(now) < LIT
    }

    /// How long until a frame is due: a tenth of a second after the last one if something has
    /// changed; else on the second, and where something that flashes goes dark.
    pub fn wait(&self, now: Mono) -> Duration {
        let Some(drawn) = self.last else { return Duration::ZERO };
        let after = if self.stale {
            FRAME
        } else if self.flashing && phase(drawn) < LIT {
            FRAME.max(LIT - phase(drawn))
        } else {
            FRAME.max(FLASH.saturating_sub(phase(drawn)))
        };
        after.saturating_sub(now.since(drawn))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn ms(ms: u64) -> Mono {
        Mono::from_micros(ms * 1000)
    }

    /// When frames come while something changes all the time or never.
    fn frames(stale: bool, flashing: bool) -> Vec<u64> {
        let mut pace = Pace::default();
        let mut drawn = Vec::new();
        for at in 0..4_000 {
            if pace.wait(ms(at)).is_zero() {
                drawn.push(at);
                pace = Pace { last: Some(ms(at)), stale, flashing };
            }
        }
        drawn
    }

    #[test]
    fn a_frame_is_drawn_once_a_second_and_at_most_ten_times() {
        assert_eq!(frames(false, false), [0, 1_000, 2_000, 3_000]);
        // Lit for two thirds of each second.
        assert_eq!(frames(false, true), [0, 667, 1_000, 1_667, 2_000, 2_667, 3_000, 3_667]);
        assert!(frames(true, true).windows(2).all(|pair| pair[1] - pair[0] == 100));
        // What changes just before the second does not bring two frames close together.
        let pace = Pace { last: Some(ms(1_950)), stale: false, flashing: false };
        assert_eq!(pace.wait(ms(1_950)), Duration::from_millis(100));
    }
}
