//! What a watch of this computer receives, from its socket.

use std::time::Duration;

use super::sender::{ArrivalSender, Unheard};
use super::{Arrival, What};
use crate::edge::passed_on::{Listener, Passed, State};
use crate::time::{Mono, Stamp, Utc};
use crate::watch::Dropped;

/// No line is older than this when it comes over: rather was the clock set. Our own.
const OLDEST: Duration = Duration::from_secs(3600);

/// Why the watch passes on no more, where it does not say.
const GONE: &str = "the watch that reads it is gone";

/// Passes on what the watch receives until it passes on no more; says whether that was anything, and
/// why it ended.
pub(super) async fn listen(
    mut listener: Listener,
    sender: &ArrivalSender,
) -> Result<(bool, String), Unheard> {
    let mut heard = false;
    while let Some(passed) = listener.next().await {
        let what = match passed {
            Passed::Line(at, bytes) => {
                heard = true;
                let stamp = came_in(sender.clock.now(), at);
                let (input, what) = (sender.input, What::Line(bytes));
                sender.pass(vec![Arrival { input, station: None, stamp, what }]).await?;
                continue;
            }
            Passed::Ended(why) => return Ok((heard, why)),
            Passed::State(State::Opened) => What::Opened,
            Passed::State(State::Lost(why)) => What::Lost(why),
            Passed::State(State::Dropped(by_us, by_system)) => {
                What::Dropped(Dropped { by_us, by_system })
            }
        };
        sender.say(what).await?;
    }
    Ok((heard, GONE.to_owned()))
}

/// When a line came in, by the clock of this program: the watch tells by the clock that both have.
fn came_in(now: Stamp, utc: Utc) -> Stamp {
    let ago = u64::try_from(now.utc.ms_since(utc)).map_or(Duration::ZERO, Duration::from_millis);
    let micros = ago.min(OLDEST).as_micros() as u64;
    Stamp { at: Mono::from_micros(now.at.micros().saturating_sub(micros)), utc }
}
