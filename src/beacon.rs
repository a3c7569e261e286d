//! When a survivor beacon speaks, once for all rooms (ITU-R M.1371-5 annex 9, section 5):
//!
//! ```text
//! burst    8 messages 2 s apart, 14 s from the first start to the last
//! cycle    8 bursts, one a minute; the next begins a minute ± 6 s after the last
//! ```

use std::time::Duration;

/// Messages in a burst.
pub const MESSAGES: usize = 8;

/// Bursts in a cycle.
pub const BURSTS: u8 = 8;

/// From one message of a burst to the next.
pub const SPACING: Duration = Duration::from_secs(2);

/// A burst, and with it a self-test, from the first start to the last.
pub const BURST: Duration = SPACING.saturating_mul(MESSAGES as u32 - 1);

/// From one burst to the next; between cycles it is 54 to 66 s (EN 303 098 V2.2.1, B.2, as
/// reported).
pub const PERIOD: Duration = Duration::from_secs(60);

/// One cycle.
pub const CYCLE: Duration = PERIOD.saturating_mul(BURSTS as u32);

/// A message this long after the first of a burst begins another: a burst takes 14 s, and the next
/// begins 54 s after it at the least (M.1371-5 annex 9, figure 43). The 6 s for its reception are
/// our own.
pub const ANOTHER_BURST: Duration = BURST.saturating_add(Duration::from_secs(6));

/// So long after a beacon's last message its burst is over: a lost message or two must not end it.
/// Our own.
pub const BURST_OVER: Duration = SPACING.saturating_mul(6);

/// A position older than this is an old one: two bursts were missed. Our own.
pub const FIX_OLD: Duration = PERIOD.saturating_mul(2).saturating_add(Duration::from_secs(30));

/// A beacon not heard for this long is silent: five of its bursts were missed. The number five is
/// our own.
pub const SILENCE: Duration = PERIOD.saturating_mul(5);
