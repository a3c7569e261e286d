//! What waits to be written: bounded, and at the limit the least worth gives way first.

use std::collections::VecDeque;

use super::details::{BeaconEvent, Details};
use super::draft::Draft;
use crate::watch::Priority;

/// Drafts that may wait.
pub(super) const LIMIT: usize = 20_000;

/// How many ranks of worth there are.
const RANKS: usize = 4;

/// Drafts in the order they came, parted by worth.
#[derive(Debug)]
pub(super) struct Queue {
    /// By worth, the least first; each with its place in the order.
    ranks: [VecDeque<(u64, Draft)>; RANKS],
    next: u64,
    limit: usize,
    /// Drafts that gave way and are not told of yet.
    lost: u64,
}

impl Queue {
    pub(super) fn new(limit: usize) -> Self {
        Self { ranks: Default::default(), next: 0, limit, lost: 0 }
    }

    pub(super) fn len(&self) -> usize {
        self.ranks.iter().map(VecDeque::len).sum()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.ranks.iter().all(VecDeque::is_empty)
    }

    /// Drafts that gave way since [`Self::take_lost`].
    pub(super) fn lost(&self) -> u64 {
        self.lost
    }

    /// The same, and begins to count anew.
    pub(super) fn take_lost(&mut self) -> u64 {
        std::mem::take(&mut self.lost)
    }

    /// Adds a draft. At the limit the oldest of those that are worth least gives way, the new one
    /// itself if it is worth still less.
    pub(super) fn push(&mut self, draft: Draft) {
        let rank = worth(&draft);
        if self.len() >= self.limit {
            self.lost += 1;
            match self.ranks.iter_mut().take(rank + 1).find(|waiting| !waiting.is_empty()) {
                Some(least) => {
                    least.pop_front();
                }
                None => return,
            }
        }
        self.ranks[rank].push_back((self.next, draft));
        self.next += 1;
    }

    /// Takes the oldest, at most so many.
    pub(super) fn take(&mut self, most: usize) -> Vec<Draft> {
        let mut taken = Vec::new();
        while taken.len() < most {
            let fronts = self.ranks.iter_mut().filter(|waiting| !waiting.is_empty());
            let oldest = fronts.min_by_key(|waiting| waiting.front().map(|(place, _)| *place));
            match oldest.and_then(VecDeque::pop_front) {
                Some((_, draft)) => taken.push(draft),
                None => break,
            }
        }
        taken
    }
}

/// How much is lost with it, 0 to 3.
fn worth(draft: &Draft) -> usize {
    match &draft.details {
        Details::Position | Details::Input { .. } | Details::Reach { .. } => 0,
        Details::Beacon { event: Some(BeaconEvent::BeaconUpdate), .. } => 0,
        Details::SafetyText { .. } => 1,
        // A flood of cautions must not push an emergency out.
        Details::Alert(alert) => match alert.priority {
            Priority::Caution => 1,
            Priority::Warning => 2,
            Priority::Alarm | Priority::EmergencyAlarm => 3,
        },
        Details::Operator { .. } => 3,
        _ => 2,
    }
}

#[cfg(test)]
mod tests {
    use super::super::details::AlertChange;
    use super::super::kind::Kind;
    use super::*;
    use crate::watch::{AlertId, Cause, InputState, State};

    fn draft(kind: Kind, text: &str) -> Draft {
        let details = match kind {
            Kind::Alert => Details::Alert(AlertChange {
                alert: AlertId(1),
                cause: Cause::BeaconActive,
                priority: Priority::EmergencyAlarm,
                state: State::ActiveUnacknowledged,
                matter: None,
                joined_by: None,
            }),
            Kind::SafetyText => Details::SafetyText { addressed: None },
            Kind::Operator => Details::Operator { act: None, alert: None },
            Kind::Input => Details::Input { input: "ais".to_owned(), state: InputState::Lost },
            _ => Details::Position,
        };
        Draft { text: text.to_owned(), details, ..Draft::default() }
    }

    fn texts(queue: &mut Queue, most: usize) -> Vec<String> {
        queue.take(most).into_iter().map(|draft| draft.text).collect()
    }

    #[test]
    fn drafts_come_out_in_the_order_they_came() {
        let mut queue = Queue::new(10);
        for (kind, text) in [(Kind::Alert, "a"), (Kind::Position, "b"), (Kind::SafetyText, "c")] {
            queue.push(draft(kind, text));
        }
        queue.push(draft(Kind::Alert, "d"));
        assert_eq!(texts(&mut queue, 3), ["a", "b", "c"]);
        assert_eq!(texts(&mut queue, 3), ["d"]);
        assert!(queue.is_empty());
    }

    #[test]
    fn at_the_limit_positions_give_way_first_and_alerts_last() {
        let mut queue = Queue::new(3);
        queue.push(draft(Kind::Alert, "alert 1"));
        queue.push(draft(Kind::SafetyText, "text 1"));
        queue.push(draft(Kind::Position, "position 1"));
        queue.push(draft(Kind::Operator, "act 1"));
        queue.push(draft(Kind::Input, "input 1"));
        queue.push(draft(Kind::Alert, "alert 2"));
        assert_eq!((queue.len(), queue.lost()), (3, 3));
        queue.push(draft(Kind::Alert, "alert 3"));
        assert_eq!(queue.take_lost(), 4);
        assert_eq!(queue.lost(), 0);
        assert_eq!(texts(&mut queue, 9), ["act 1", "alert 2", "alert 3"]);
    }
}
