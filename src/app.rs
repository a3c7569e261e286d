//! The one loop, and the only place that knows all parts.
//!
//! *Invariant:* one input, then outputs until none, then the next input. What is told goes out
//! before anything that can block.

mod player;

use std::io;
use std::path::PathBuf;
use std::time::Duration;

use tokio::sync::mpsc;

pub use player::{Replay, replay};

use crate::config::Config;
use crate::edge::input::{self, Arrival, Retry, What};
use crate::edge::{Clock, InputUri};
use crate::screen::{ReplayState, Request};
use crate::time::{Stamp, Utc};
use crate::watch::{Event, Input, Settings, Watch};
use crate::wire::InputId;

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
const WAITING_LINES: usize = 1024;

/// The side of the program that a person or a script sees.
pub trait Front {
    /// Tells of an event.
    ///
    /// # Errors
    /// That of the output.
    fn tell(&mut self, event: &Event) -> io::Result<()>;

    /// After the outputs of an input, and when a frame is due: shows how things stand.
    ///
    /// # Errors
    /// That of the output.
    fn show(&mut self, watch: &Watch, now: Stamp, replay: Option<&ReplayState>) -> io::Result<()>;

    /// How long until [`Self::show`] is wanted although nothing happens.
    fn next_frame(&self) -> Option<Duration>;

    /// The next thing a person wants; pending for ever where nobody can want anything.
    fn request(&mut self) -> impl Future<Output = Request>;

    /// Forgets what was told: a replay begins again.
    fn forget(&mut self) {}

    /// Whether a replay stays open at its end, for a person to look back.
    fn stays(&self) -> bool {
        false
    }
}

/// Why a watch or a replay ended early.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A recording that cannot be read.
    #[error("cannot read {}: {cause}", path.display())]
    Unreadable {
        /// Which.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// The output does not take events any more.
    #[error("cannot tell of events: {0}")]
    Untold(#[from] io::Error),
}

/// What the configuration tells the watch.
pub fn settings(config: &Config) -> Settings {
    Settings {
        muster: config.beacons.iter().map(|beacon| (beacon.mmsi, beacon.holder.clone())).collect(),
        ais_silence: Duration::from_secs(config.silence.ais_silence_s.into()),
        gnss_silence: Duration::from_secs(config.silence.gnss_silence_s.into()),
        asking: None,
        expects_inputs: false,
    }
}

fn drain(watch: &mut Watch, from: Option<Utc>, front: &mut impl Front) -> io::Result<()> {
    while let Some(event) = watch.poll_output() {
        if from.is_none_or(|from| event.at >= from) {
            front.tell(&event)?;
        }
    }
    Ok(())
}

/// Keeps the live watch until it is ended by a signal or a person, or until every input has come to
/// its end.
///
/// # Errors
/// An output that is closed.
pub async fn watch(
    inputs: &[(String, InputUri)],
    settings: Settings,
    front: &mut impl Front,
) -> Result<(), Error> {
    let clock = Clock::start();
    let mut watch = Watch::new(Settings { expects_inputs: true, ..settings });
    let (tx, mut arrivals) = mpsc::channel(WAITING_LINES);
    let mut ids: Vec<InputId> = Vec::new();
    for (place, (name, uri)) in inputs.iter().enumerate() {
        ids.push(watch.input(name));
        input::spawn(place, uri.clone(), clock, Retry::default(), tx.clone());
    }
    drop(tx);
    let mut ended = std::pin::pin!(end_signal(front.stays()));
    let mut open = inputs.len();
    while open > 0 || front.stays() {
        let now = clock.now();
        let wait = watch.next_deadline().map(|due| due.since(now.at));
        let frame = front.next_frame();
        tokio::select! {
            biased;
            () = &mut ended => break,
            request = front.request() => match request {
                Request::Quit => break,
                Request::Command(command) => {
                    watch.handle(Input::Command { stamp: clock.now(), command });
                }
                _ => {}
            },
            Some(arrival) = arrivals.recv() => {
                open -= usize::from(take(&mut watch, &ids, &arrival));
            }
            () = tokio::time::sleep(wait.unwrap_or_default()), if wait.is_some() => {
                watch.handle(Input::Tick { stamp: clock.now() });
            }
            () = tokio::time::sleep(frame.unwrap_or_default()), if frame.is_some() => {}
        }
        drain(&mut watch, None, front)?;
        front.show(&watch, clock.now(), None)?;
    }
    Ok(())
}

/// Hands an arrival to the watch. Whether its input has ended for good.
fn take(watch: &mut Watch, ids: &[InputId], arrival: &Arrival) -> bool {
    let stamp = arrival.stamp;
    let Some(&input) = ids.get(arrival.input) else { return false };
    match &arrival.what {
        What::Line(bytes) => watch.handle(Input::Line { stamp, input, bytes }),
        What::Opened => watch.handle(Input::Opened { stamp, input }),
        What::Lost(reason) => watch.handle(Input::Lost { stamp, input, reason }),
        What::Ended => {
            if ids.len() > 1 {
                let reason = "it has come to its end";
                watch.handle(Input::Lost { stamp, input, reason });
            }
            return true;
        }
    }
    false
}

/// Waits for an interrupt or a request to end; on a screen for the end of its terminal, too. What
/// runs without one may outlive the terminal it was started from.
async fn end_signal(on_screen: bool) {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let hang_up = async {
            match on_screen.then(|| signal(SignalKind::hangup())) {
                Some(Ok(mut hang_up)) => hang_up.recv().await,
                _ => std::future::pending().await,
            }
        };
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = terminate.recv() => {}
                _ = hang_up => {}
            }
            return;
        }
    }
    #[cfg(not(unix))]
    let _ = on_screen;
    let _ = tokio::signal::ctrl_c().await;
}
