//! One output: what waits for it, and how it does.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::queue::Queue;
use crate::edge::Clock;
use crate::time::Mono;

/// Nothing dropped for so long: it is well again. Our own.
const WELL: Duration = Duration::from_secs(600);

/// How often the count of what was dropped is told anew. Our own.
const TELL_EVERY: Duration = Duration::from_secs(60);

/// How an output does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputReport {
    /// Which, by the number that it was given: another one each time it begins.
    pub number: u16,
    /// What is wrong with it, its name included; `None` when nothing is any more.
    pub fault: Option<String>,
}

/// Whoever is told how outputs do.
pub(super) type Report = Arc<dyn Fn(OutputReport) + Send + Sync>;

/// One output, as its thread and whoever fills it see it.
pub(super) struct Lane {
    pub(super) name: String,
    pub(super) queue: Queue,
    pub(super) clock: Clock,
    number: u16,
    report: Report,
    state: Mutex<Condition>,
    ended: AtomicBool,
}

#[derive(Default)]
struct Condition {
    failed: Option<String>,
    /// What was told to be dropped, and when.
    dropped: Option<(u64, Mono)>,
    /// How much of that was counted, and when that rose last.
    counted: (u64, Mono),
    told: Option<String>,
}

impl Lane {
    pub(super) fn new(number: u16, name: &str, clock: Clock, report: Report) -> Self {
        let (queue, state) = (Queue::new(clock), Mutex::default());
        let ended = AtomicBool::new(false);
        Self { name: name.to_owned(), queue, clock, number, report, state, ended }
    }

    /// Nothing more is sent: what waited has gone, or was given up.
    pub(super) fn end(&self) {
        self.ended.store(true, Ordering::Release);
    }

    /// Whether that is so.
    pub(super) fn has_ended(&self) -> bool {
        self.ended.load(Ordering::Acquire)
    }

    /// It carries.
    pub(super) fn works(&self) {
        if self.lock().failed.is_some() {
            self.change(|it| it.failed = None);
        }
    }

    /// It is not there any more: nothing is wrong with it.
    pub(super) fn leave(&self) {
        self.queue.close();
        self.change(|it| *it = Condition { told: it.told.take(), ..Condition::default() });
    }

    fn lock(&self) -> MutexGuard<'_, Condition> {
        // Whole at any moment: a panic elsewhere takes nothing from it.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// It does not, and why.
    pub(super) fn fail(&self, why: &str) {
        self.change(|it| it.failed = Some(why.to_owned()));
    }

    /// Looks whether anything was dropped, and tells it: at once, then once a minute.
    pub(super) fn look(&self, now: Mono) {
        let dropped = self.queue.dropped();
        self.change(|it| {
            let (counted, rose) = it.counted;
            if dropped > counted {
                it.counted = (dropped, now);
                if it.dropped.is_none_or(|(_, told)| now.since(told) >= TELL_EVERY) {
                    it.dropped = Some((dropped, now));
                }
            } else if it.dropped.is_some() && now.since(rose) >= WELL {
                it.dropped = None;
            }
        });
    }

    fn change(&self, change: impl FnOnce(&mut Condition)) {
        let mut state = self.lock();
        change(&mut state);
        let fault = match (&state.failed, state.dropped) {
            (Some(why), _) => Some(format!("{}: {why}", self.name)),
            (None, Some((dropped, _))) => Some(format!(
                "{}: too slow or away: {dropped} messages were not sent to it; casualties go first",
                self.name
            )),
            (None, None) => None,
        };
        if fault != state.told {
            state.told.clone_from(&fault);
            (self.report)(OutputReport { number: self.number, fault });
        }
    }
}
