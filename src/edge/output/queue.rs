//! What waits to be sent by one output, or to one of those who listen to it.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::Notify;

use crate::edge::Clock;
use crate::outputs::{Message, What};

/// So many sentences that were heard may wait, and as much of our own: at the limit the oldest give
/// way. Our own.
const LIMIT: usize = 1_024;

/// The queue: what is our own goes first, each kind in its order. Nobody who fills it waits.
#[derive(Debug)]
pub(super) struct Queue {
    waiting: Mutex<Waiting>,
    wake: Notify,
    clock: Clock,
}

#[derive(Debug, Default)]
struct Waiting {
    /// Casualties, alerts, events.
    own: VecDeque<Arc<Message>>,
    heard: VecDeque<Arc<Message>>,
    /// Never sent, since the beginning.
    dropped: u64,
    closed: bool,
}

impl Queue {
    pub(super) fn new(clock: Clock) -> Self {
        Self { waiting: Mutex::default(), wake: Notify::new(), clock }
    }

    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What waits is whole at any moment: a panic elsewhere takes nothing from it.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Adds a message. How many others gave way to it.
    pub(super) fn push(&self, message: Arc<Message>) -> u64 {
        let mut waiting = self.lock();
        let lane = match message.what {
            What::Heard => &mut waiting.heard,
            _ => &mut waiting.own,
        };
        lane.push_back(message);
        let dropped = u64::from(lane.len() > LIMIT);
        if dropped > 0 {
            lane.pop_front();
        }
        waiting.dropped += dropped;
        drop(waiting);
        self.wake.notify_one();
        dropped
    }

    /// The next message that is worth sending; `None` when it is closed and nothing waits.
    pub(super) async fn next(&self) -> Option<Arc<Message>> {
        loop {
            {
                let now = self.clock.now().at;
                let mut waiting = self.lock();
                while let Some(message) =
                    waiting.own.pop_front().or_else(|| waiting.heard.pop_front())
                {
                    let age = now.since(message.stamp.at);
                    if message.what.holds().is_none_or(|holds| age <= holds) {
                        return Some(message);
                    }
                    waiting.dropped += 1;
                }
                if waiting.closed {
                    return None;
                }
            }
            self.wake.notified().await;
        }
    }

    /// Counts messages that were never sent for another reason.
    pub(super) fn count_dropped(&self, messages: u64) {
        self.lock().dropped += messages;
    }

    /// How many were never sent since the beginning.
    pub(super) fn dropped(&self) -> u64 {
        self.lock().dropped
    }

    /// Whether nothing waits.
    pub(super) fn is_empty(&self) -> bool {
        let waiting = self.lock();
        waiting.own.is_empty() && waiting.heard.is_empty()
    }

    /// Nothing more comes.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.wake.notify_one();
    }

    /// Whether nothing more comes.
    pub(super) fn is_closed(&self) -> bool {
        self.lock().closed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Stamp;

    fn message(what: What, stamp: Stamp, text: &str) -> Arc<Message> {
        let bytes = text.as_bytes().into();
        Arc::new(Message { what, input: None, stamp, rehearsed: false, bytes })
    }

    #[tokio::test]
    async fn a_casualty_goes_before_what_was_heard_and_never_gives_way_to_it() {
        let clock = Clock::start();
        let queue = Queue::new(clock);
        let now = clock.now();
        for number in 0..2 * LIMIT {
            queue.push(message(What::Heard, now, &number.to_string()));
            if number == 7 {
                queue.push(message(What::Casualty, now, "casualty"));
            }
        }
        assert_eq!(queue.dropped(), LIMIT as u64);
        queue.close();
        let mut sent = Vec::new();
        while let Some(message) = queue.next().await {
            sent.push(String::from_utf8(message.bytes.to_vec()).unwrap());
        }
        assert_eq!(sent.len(), LIMIT + 1);
        assert_eq!((sent[0].as_str(), sent[1].as_str()), ("casualty", "1024"));
    }

    #[tokio::test]
    async fn what_is_old_is_not_sent_as_if_it_were_now() {
        let clock = Clock::start_after(std::time::Duration::from_secs(60));
        let queue = Queue::new(clock);
        let before = Stamp { at: crate::time::Mono::START, utc: crate::time::Utc::EPOCH };
        for what in What::ALL {
            queue.push(message(what, before, what.word()));
        }
        queue.close();
        assert_eq!(queue.next().await.unwrap().what, What::Events);
        assert!(queue.next().await.is_none());
        assert_eq!(queue.dropped(), 4);
    }
}
