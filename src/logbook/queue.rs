//! What waits to be written. Whoever puts something in never waits for the disk.

use std::collections::VecDeque;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::draft::Draft;

/// How many drafts may wait: days of a quiet coast. At the limit the least weighty give way, the
/// latest of them, and the casualty's stay.
const LIMIT: usize = 20_000;

/// How many are written in one transaction.
const BATCH: usize = 256;

#[derive(Debug, Default)]
struct Waiting {
    drafts: VecDeque<Draft>,
    /// Given up at the limit.
    lost: u64,
    closing: bool,
    /// The writer has ended.
    ended: bool,
}

/// The queue between the watch and the writer.
#[derive(Debug, Default)]
pub(super) struct Queue {
    waiting: Mutex<Waiting>,
    changed: Condvar,
}

/// What the writer is to do next.
pub(super) struct Batch {
    pub drafts: Vec<Draft>,
    /// How many were given up since the last batch.
    pub lost: u64,
    pub closing: bool,
}

impl Queue {
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What waits is whole at any moment: a panic elsewhere takes nothing from it.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn push(&self, draft: Draft) {
        let mut waiting = self.lock();
        if waiting.drafts.len() >= LIMIT {
            waiting.lost += 1;
            let least = waiting.drafts.iter().enumerate().rev().min_by_key(|(_, it)| it.weight());
            match least.map(|(place, it)| (place, it.weight())) {
                Some((place, weight)) if weight <= draft.weight() => {
                    waiting.drafts.remove(place);
                }
                _ => return,
            }
        }
        waiting.drafts.push_back(draft);
        self.changed.notify_all();
    }

    /// Waits until there is something to write, or the end.
    pub(super) fn next(&self) -> Batch {
        let idle = |waiting: &mut Waiting| waiting.drafts.is_empty() && !waiting.closing;
        let waited = self.changed.wait_while(self.lock(), idle);
        let mut waiting = waited.unwrap_or_else(PoisonError::into_inner);
        let count = waiting.drafts.len().min(BATCH);
        let drafts = waiting.drafts.drain(..count).collect();
        Batch { drafts, lost: std::mem::take(&mut waiting.lost), closing: waiting.closing }
    }

    /// Puts back what could not be written, in its place, and waits a while, but not into the end.
    pub(super) fn put_back(&self, batch: Batch, pause: Duration) {
        let mut waiting = self.lock();
        for draft in batch.drafts.into_iter().rev() {
            waiting.drafts.push_front(draft);
        }
        waiting.lost += batch.lost;
        let _ = self.changed.wait_timeout_while(waiting, pause, |waiting| !waiting.closing);
    }

    /// No more will come.
    pub(super) fn close(&self) {
        self.lock().closing = true;
        self.changed.notify_all();
    }

    /// The writer has ended.
    pub(super) fn end(&self) {
        self.lock().ended = true;
        self.changed.notify_all();
    }

    /// Waits for the end of the writer, not for ever. How many drafts were not written.
    pub(super) fn wait_for_end(&self, patience: Duration) -> usize {
        let goes_on = |waiting: &mut Waiting| !waiting.ended;
        let waited = self.changed.wait_timeout_while(self.lock(), patience, goes_on);
        let (waiting, _) = waited.unwrap_or_else(PoisonError::into_inner);
        waiting.drafts.len()
    }
}

#[cfg(test)]
mod tests {
    use super::super::draft::{Kind, Moment};
    use super::*;
    use crate::time::Utc;

    #[test]
    fn at_the_limit_what_matters_stays() {
        let queue = Queue::default();
        let moment = Moment::at(Utc::EPOCH);
        queue.push(Draft::new(Kind::Operator, "the first act", &moment));
        for _ in 0..LIMIT + 500 {
            queue.push(Draft::new(Kind::Position, "", &moment));
        }
        queue.push(Draft::new(Kind::Operator, "the last act", &moment));
        queue.close();
        let mut all = Vec::new();
        loop {
            let batch = queue.next();
            if batch.drafts.is_empty() {
                break;
            }
            all.extend(batch.drafts);
        }
        assert_eq!(all.len(), LIMIT);
        assert_eq!(all.first().unwrap().text, "the first act");
        assert_eq!(all.last().unwrap().text, "the last act");
    }
}
