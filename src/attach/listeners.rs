//! Those who hear what the inputs of the watch receive: proofs beside it.
//!
//! *Invariant:* nobody is waited for. Who has not taken what came before is given up, and told so at
//! the end of it: they may come again, and know from when on they have heard nothing.

use std::collections::BTreeMap;

use tokio::sync::mpsc;
use tokio_util::bytes::Bytes;

use crate::edge::passed_on::{self, State};
use crate::watch::Input;

/// What an input does that has not said anything yet.
const NOT_OPEN: &str = "the watch has not opened it";

/// One who listens to one input.
#[derive(Debug)]
struct Listener {
    id: u64,
    input: String,
    queue: mpsc::Sender<Bytes>,
}

/// All who listen, and how each input does that they can listen to.
#[derive(Debug, Default)]
pub(super) struct Listeners {
    all: Vec<Listener>,
    inputs: BTreeMap<String, State>,
}

impl Listeners {
    /// Somebody listens from now on. How the input does comes first.
    pub(super) fn add(&mut self, id: u64, input: String, queue: mpsc::Sender<Bytes>) {
        let not_open = || State::Lost(NOT_OPEN.to_owned());
        let first = self.inputs.get(&input).cloned().unwrap_or_else(not_open);
        if queue.try_send(passed_on::state(&first)).is_ok() {
            tracing::info!("another program hears what {input} receives");
            self.all.push(Listener { id, input, queue });
        }
    }

    /// Somebody is gone.
    pub(super) fn remove(&mut self, id: u64) {
        self.all.retain(|it| it.id != id);
    }

    /// Passes on what an input gave.
    pub(super) fn overhear(&mut self, input: &str, what: Input<'_>) {
        let state = match what {
            Input::Opened { .. } => State::Opened,
            Input::Lost { reason, .. } => State::Lost(reason.to_owned()),
            Input::Dropped { dropped, .. } => State::from(dropped),
            Input::Line { stamp, bytes, .. } => {
                if self.all.iter().any(|it| it.input == input) {
                    self.pass_on(input, &passed_on::line(input, stamp.utc, bytes));
                }
                return;
            }
            Input::Unended { .. }
            | Input::Tick { .. }
            | Input::Fault { .. }
            | Input::Command { .. } => return,
        };
        self.pass_on(input, &passed_on::state(&state));
        if !matches!(state, State::Dropped(..)) {
            self.inputs.insert(input.to_owned(), state);
        }
    }

    fn pass_on(&mut self, input: &str, frame: &Bytes) {
        self.all.retain(|it| it.input != input || it.queue.try_send(frame.clone()).is_ok());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::{Mono, Stamp, Utc};
    use crate::wire::InputId;

    #[test]
    fn who_takes_nothing_is_given_up_and_the_others_hear_on() {
        let mut listeners = Listeners::default();
        let (stamp, input) = (Stamp { at: Mono::START, utc: Utc::EPOCH }, InputId(0));
        listeners.overhear("ais", Input::Opened { stamp, input });
        let (slow, mut kept) = mpsc::channel(2);
        let (quick, mut taken) = mpsc::channel(2);
        listeners.add(1, "ais".to_owned(), slow);
        listeners.add(2, "ais".to_owned(), quick);
        for line in [b"one", b"two"] {
            taken.try_recv().unwrap();
            listeners.overhear("ais", Input::Line { stamp, input, bytes: line });
            listeners.overhear("gnss", Input::Line { stamp, input, bytes: line });
        }
        assert_eq!(taken.try_recv().unwrap(), passed_on::line("ais", Utc::EPOCH, b"two"));
        // All that it was given before, and then the end.
        assert_eq!(kept.try_recv().unwrap(), passed_on::state(&State::Opened));
        assert_eq!(kept.try_recv().unwrap(), passed_on::line("ais", Utc::EPOCH, b"one"));
        assert_eq!(kept.try_recv(), Err(mpsc::error::TryRecvError::Disconnected));
        // Who comes later is told first that it is lost.
        let reason = "unplugged";
        listeners.overhear("ais", Input::Lost { stamp, input, reason });
        let (queue, mut late) = mpsc::channel(2);
        listeners.add(3, "ais".to_owned(), queue);
        let lost = State::Lost(reason.to_owned());
        assert_eq!(late.try_recv().unwrap(), passed_on::state(&lost));
    }
}
