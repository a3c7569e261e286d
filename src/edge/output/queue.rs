//! What waits to be sent by one output, or to one of those who listen to it.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::Notify;

use crate::edge::Clock;
use crate::outputs::{Message, What};

/// So many messages of one kind may wait: at the limit the oldest of them give way. Our own.
const LIMIT: usize = 1_024;

/// What goes before what: no kind waits for one after it, or gives way to it. Our own.
const ORDER: [What; 5] = [What::Casualty, What::Alerts, What::SignalK, What::Events, What::Heard];

/// The queue: casualties go first, what was heard last, each kind in its order. Nobody who fills it
/// waits.
#[derive(Debug)]
pub(super) struct Queue {
    waiting: Mutex<Waiting>,
    wake: Notify,
    clock: Clock,
}

#[derive(Debug, Default)]
struct Waiting {
    /// Each kind in its place of [`ORDER`].
    kinds: [VecDeque<Arc<Message>>; ORDER.len()],
    /// Given to be sent, since the beginning, and never sent.
    sent: u64,
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

    /// Adds a message; what waits about the same casualty is brought up to date where it waits, so
    /// that a slow port says what is so now, of each in turn. How many others gave way to it.
    pub(super) fn push(&self, message: Arc<Message>) -> u64 {
        let mut waiting = self.lock();
        let place = ORDER.iter().position(|it| *it == message.what).unwrap_or_default();
        let kind = &mut waiting.kinds[place];
        let is_same = |it: &Arc<Message>| it.about.is_some() && it.about == message.about;
        // Not beyond what says that somebody's target is gone: the target would be gone after it.
        let mut later = kind.iter_mut().rev().take_while(|it| it.about.is_some());
        let mut dropped = 0;
        match later.find(|it| is_same(it)) {
            Some(old) => *old = message,
            None => {
                kind.push_back(message);
                if kind.len() > LIMIT {
                    kind.pop_front();
                    dropped = 1;
                }
            }
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
                while let Some(message) = waiting.kinds.iter_mut().find_map(VecDeque::pop_front) {
                    let age = now.since(message.stamp.at);
                    if message.what.holds().is_none_or(|holds| age <= holds) {
                        waiting.sent += 1;
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

    /// How many were given to be sent since the beginning.
    pub(super) fn sent(&self) -> u64 {
        self.lock().sent
    }

    /// How many were never sent since the beginning.
    pub(super) fn dropped(&self) -> u64 {
        self.lock().dropped
    }

    /// Whether nothing waits.
    pub(super) fn is_empty(&self) -> bool {
        self.lock().kinds.iter().all(VecDeque::is_empty)
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
    use crate::watch::CasualtyId;

    fn message(what: What, stamp: Stamp, text: &str) -> Arc<Message> {
        Arc::new(Message::own(what, stamp, false, text.to_owned()))
    }

    fn about(number: u16, stamp: Stamp, text: &str) -> Arc<Message> {
        let message = Message::own(What::Casualty, stamp, false, text.to_owned());
        Arc::new(Message { about: Some(CasualtyId::Mark(number)), ..message })
    }

    /// All that waits, in the order in which it goes out.
    async fn sent(queue: &Queue) -> Vec<String> {
        queue.close();
        let mut sent = Vec::new();
        while let Some(message) = queue.next().await {
            sent.push(String::from_utf8(message.bytes.to_vec()).unwrap());
        }
        sent
    }

    #[tokio::test]
    async fn a_casualty_goes_before_all_else_and_never_gives_way_to_it() {
        let clock = Clock::start();
        let queue = Queue::new(clock);
        let now = clock.now();
        for number in 0..2 * LIMIT {
            for what in [What::Heard, What::Events] {
                queue.push(message(what, now, &format!("{} {number}", what.word())));
            }
            if number == 7 {
                queue.push(message(What::Alerts, now, "alert"));
                queue.push(message(What::Casualty, now, "casualty"));
            }
        }
        assert_eq!(queue.dropped(), 2 * LIMIT as u64);
        let sent = sent(&queue).await;
        assert_eq!(sent.len(), 2 * LIMIT + 2);
        assert_eq!(sent[..3], ["casualty", "alert", "events 1024"]);
        assert_eq!(sent[LIMIT + 2], "heard 1024");
    }

    #[tokio::test]
    async fn a_slow_port_says_of_each_casualty_in_turn_what_is_so_now() {
        let clock = Clock::start();
        let queue = Queue::new(clock);
        let now = clock.now();
        for round in 0..3 {
            for number in 1..4 {
                queue.push(about(number, now, &format!("{number} at {round}")));
            }
        }
        // The second is over, and then in the water again: the word that it is over is not the last.
        queue.push(message(What::Casualty, now, "2 over"));
        queue.push(about(2, now, "2 again"));
        queue.push(about(2, now, "2 again, later"));
        assert_eq!(queue.dropped(), 0);
        let expected = ["1 at 2", "2 at 2", "3 at 2", "2 over", "2 again, later"];
        assert_eq!(sent(&queue).await, expected);
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
