//! What all connections share.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::{Notify, broadcast, mpsc, watch};
use tokio_util::bytes::Bytes;

use super::code::Door;
use super::page::State;
use super::phones::Phones;
use super::{News, Settings, Snapshot};
use crate::edge::Clock;
use crate::text;
use crate::time::Utc;
use crate::watch::Event;

/// So many look at most: phones, and programs that are told of events.
pub(super) const VIEWERS: usize = 16;

/// So many of them may be one phone: its connection before may not have been found dead yet. Our own.
const OF_ONE: usize = 2;

/// A picture older than this shows no contact with the watch.
pub(super) const STALE: Duration = Duration::from_secs(5);

/// What the thread shares with the loop.
pub(super) struct Links {
    pub clock: Clock,
    pub snapshots: watch::Receiver<Option<Arc<Snapshot>>>,
    pub events: broadcast::Sender<Arc<Event>>,
    pub news: mpsc::Sender<News>,
    pub looking: Arc<AtomicUsize>,
}

/// What all connections share.
pub(super) struct House {
    pub settings: Settings,
    pub clock: Clock,
    pub door: Mutex<Door>,
    pub phones: Mutex<Phones>,
    pub snapshots: watch::Receiver<Option<Arc<Snapshot>>>,
    pub events: broadcast::Sender<Arc<Event>>,
    /// The newest state, as it is sent.
    pub states: watch::Sender<Option<Bytes>>,
    pub news: mpsc::Sender<News>,
    pub looking: Arc<AtomicUsize>,
    viewers: Mutex<Vec<Place>>,
}

/// One that looks.
struct Place {
    number: usize,
    /// The hash of its secret.
    hash: String,
    ended: Arc<Notify>,
}

/// One that looks, until this is dropped.
pub(super) struct Viewer {
    house: Arc<House>,
    number: usize,
    pub hash: String,
    pub ended: Arc<Notify>,
}

/// What is behind a lock; a panic beside it has not left it half done.
pub(super) fn locked<T>(it: &Mutex<T>) -> MutexGuard<'_, T> {
    it.lock().unwrap_or_else(PoisonError::into_inner)
}

impl House {
    pub(super) fn new(settings: Settings, links: Links) -> Self {
        let Links { clock, snapshots, events, news, looking } = links;
        Self {
            door: Mutex::new(Door::new(settings.code.clone())),
            phones: Mutex::new(Phones::open(settings.folder.as_deref())),
            settings,
            clock,
            snapshots,
            events,
            states: watch::Sender::default(),
            news,
            looking,
            viewers: Mutex::default(),
        }
    }

    /// How things stand, and since when there is no contact with the watch; `None` before the first
    /// picture.
    pub(super) fn newest(&self) -> Option<(Arc<Snapshot>, Option<Utc>)> {
        let snapshot = self.snapshots.borrow().clone()?;
        let stale = self.clock.now().at.since(snapshot.handed) > STALE;
        let since = stale.then_some(snapshot.picture.now.utc);
        Some((snapshot, since))
    }

    /// What a page shows of it.
    pub(super) fn state(&self, snapshot: &Snapshot) -> State {
        State::of(snapshot, &self.settings.vessel, self.settings.may_acknowledge)
    }

    /// The same as an event, as it is sent.
    pub(super) fn state_event(&self, snapshot: &Snapshot) -> Bytes {
        let json = text::json(&self.state(snapshot)).unwrap_or_default();
        format!("event: state\ndata: {json}\n\n").into()
    }

    /// Gives somebody a place; `None` if all are taken. Of one phone the oldest gives way.
    pub(super) fn viewer(self: &Arc<Self>, hash: String) -> Option<Viewer> {
        let mut viewers = locked(&self.viewers);
        let own = viewers.iter().filter(|it| it.hash == hash).count();
        let full = viewers.len() >= VIEWERS;
        if (own >= OF_ONE || full)
            && let Some(oldest) = viewers.iter().position(|it| it.hash == hash)
        {
            viewers.remove(oldest).ended.notify_one();
        }
        if viewers.len() >= VIEWERS {
            return None;
        }
        let number = viewers.iter().map(|it| it.number + 1).max().unwrap_or(0);
        let ended = Arc::<Notify>::default();
        viewers.push(Place { number, hash: hash.clone(), ended: Arc::clone(&ended) });
        self.looking.store(viewers.len(), Ordering::Relaxed);
        Some(Viewer { house: Arc::clone(self), number, hash, ended })
    }
}

impl Drop for Viewer {
    fn drop(&mut self) {
        let mut viewers = locked(&self.house.viewers);
        viewers.retain(|it| it.number != self.number);
        self.house.looking.store(viewers.len(), Ordering::Relaxed);
    }
}
