//! `/events`: what happens, as it happens, as server-sent events.
//!
//! *Invariant:* nobody is waited for. Who takes states too slowly gets fewer; who takes events too
//! slowly is told how many were missed.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use futures_util::stream;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{broadcast, watch};
use tokio::time::{Interval, interval};
use tokio_util::bytes::Bytes;

use super::house::{House, Viewer, locked};
use crate::text;
use crate::watch::Event;

/// So often something is said, and looked whether the phone is still known. Our own.
const ALIVE: Duration = Duration::from_secs(5);

/// Which of both is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    All,
    States,
    Events,
}

impl Wanted {
    /// What the query asks for: `only=state`, `only=events`, or both.
    pub(super) fn of(query: Option<&str>) -> Self {
        let asks = |what: &str| query.is_some_and(|it| it.split('&').any(|part| part == what));
        match () {
            () if asks("only=state") => Self::States,
            () if asks("only=events") => Self::Events,
            () => Self::All,
        }
    }
}

/// What one that looks waits for.
struct Waiting {
    house: Arc<House>,
    viewer: Viewer,
    wanted: Wanted,
    states: watch::Receiver<Option<Bytes>>,
    events: broadcast::Receiver<Arc<Event>>,
    begun: bool,
    /// A clock of its own: states come oftener than that, and must not hold it up.
    alive: Interval,
}

/// All that comes, for ever.
pub(super) fn body(house: Arc<House>, viewer: Viewer, wanted: Wanted) -> Body {
    let (mut states, events) = (house.states.subscribe(), house.events.subscribe());
    states.mark_unchanged();
    let waiting =
        Waiting { house, viewer, wanted, states, events, begun: false, alive: interval(ALIVE) };
    Body::from_stream(stream::unfold(waiting, |mut waiting| async {
        waiting.next().await.map(|bytes| (Ok::<_, Infallible>(bytes), waiting))
    }))
}

impl Waiting {
    /// The next thing to be said; `None` when it is over.
    async fn next(&mut self) -> Option<Bytes> {
        if !std::mem::replace(&mut self.begun, true)
            && let Some(first) = self.first()
        {
            return Some(first);
        }
        let (states, events) = (self.wanted != Wanted::Events, self.wanted != Wanted::States);
        tokio::select! {
            biased;
            () = self.viewer.ended.notified() => None,
            _ = self.alive.tick() => {
                let now = self.house.clock.now().utc;
                let known = locked(&self.house.phones).of_hash(&self.viewer.hash, now);
                known.map(|_| nothing())
            }
            told = self.events.recv(), if events => match told {
                Ok(event) => Some(event_message(&event)),
                Err(RecvError::Lagged(missed)) => {
                    Some(format!("event: missed\ndata: {missed}\n\n").into())
                }
                Err(RecvError::Closed) => None,
            },
            Ok(()) = self.states.changed(), if states => {
                self.states.borrow_and_update().clone().or_else(|| Some(nothing()))
            }
        }
    }

    /// The present state comes first, unless there is no contact with the watch.
    fn first(&self) -> Option<Bytes> {
        let (snapshot, no_contact) = self.house.newest()?;
        let wanted = self.wanted != Wanted::Events && no_contact.is_none();
        Some(if wanted { self.house.state_event(&snapshot) } else { nothing() })
    }
}

/// A comment: it shows that the connection lives.
const fn nothing() -> Bytes {
    Bytes::from_static(b":\n\n")
}

fn event_message(event: &Event) -> Bytes {
    format!("data: {}\n\n", text::json(event).unwrap_or_default()).into()
}
