//! One output: what waits for it, and how it does.

use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::queue::Queue;
use crate::edge::Clock;
use crate::outputs::{Wants, What};
use crate::text::counted;
use crate::time::{Mono, Stamp};

/// Nothing dropped for so long: it is well again. Our own.
const WELL: Duration = Duration::from_secs(600);

/// How often the count of what was dropped is told anew. Our own.
const TELL_EVERY: Duration = Duration::from_secs(60);

/// What an output has to say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OutputReport {
    /// How it does.
    Does {
        /// Which, by the number that it was given: another one each time it begins.
        number: u16,
        /// What is wrong with it, its name included; `None` when nothing is any more.
        fault: Option<String>,
    },
    /// A display that is connected to it asks something of the alerts.
    Asked {
        /// Which display, in words.
        by: String,
        /// Whether that is accepted there.
        accept: bool,
        /// What it said, without its end; at most one byte over the limit of a line.
        line: Vec<u8>,
    },
}

/// Whoever is told how outputs do.
pub(super) type Report = Arc<dyn Fn(OutputReport) + Send + Sync>;

/// One output, as its thread and whoever fills it see it.
pub(super) struct Lane {
    pub(super) name: String,
    pub(super) queue: Queue,
    pub(super) clock: Clock,
    /// How many displays are connected.
    pub(super) connected: AtomicUsize,
    wants: Wants,
    number: u16,
    report: Report,
    state: Mutex<Condition>,
    ended: AtomicBool,
}

struct Condition {
    failed: Option<String>,
    /// What was told to be dropped, and when.
    dropped: Option<(u64, Mono)>,
    /// How much of that was counted, and when that rose last.
    counted: (u64, Mono),
    told: Option<String>,
    /// Since when anything or nothing is told to be wrong.
    since: Stamp,
}

impl Condition {
    /// Nothing is wrong with it.
    const fn well(since: Stamp) -> Self {
        let counted = (0, Mono::START);
        Self { failed: None, dropped: None, counted, told: None, since }
    }

    fn fault(&self) -> Option<String> {
        let too_slow = |(dropped, _)| {
            let were = if dropped == 1 { "was" } else { "were" };
            let messages = counted(dropped, "message");
            format!("too slow or away: {messages} {were} not sent to it; casualties go first")
        };
        self.failed.clone().or_else(|| self.dropped.map(too_slow))
    }
}

impl Lane {
    pub(super) fn new(number: u16, name: &str, wants: Wants, clock: Clock, report: Report) -> Self {
        Self {
            name: name.to_owned(),
            queue: Queue::new(clock),
            clock,
            connected: AtomicUsize::new(0),
            wants,
            number,
            report,
            state: Mutex::new(Condition::well(clock.now())),
            ended: AtomicBool::new(false),
        }
    }

    /// Whether what a display says there is listened to.
    pub(super) fn is_asked(&self) -> bool {
        self.wants.says(What::Alerts)
    }

    /// A display asks something of the alerts.
    pub(super) fn asked(&self, from: IpAddr, line: &[u8]) {
        let by = format!("output {}, by {from}", self.name);
        (self.report)(OutputReport::Asked { by, accept: self.wants.accept, line: line.to_vec() });
    }

    /// What is wrong with it, and since when that is so.
    pub(super) fn condition(&self) -> (Option<String>, Stamp) {
        let state = self.lock();
        (state.fault(), state.since)
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
        self.change(|it| *it = Condition { told: it.told.take(), ..Condition::well(it.since) });
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
        let fault = state.fault();
        if fault != state.told {
            if fault.is_some() != state.told.is_some() {
                state.since = self.clock.now();
            }
            state.told.clone_from(&fault);
            let fault = fault.map(|why| format!("{}: {why}", self.name));
            (self.report)(OutputReport::Does { number: self.number, fault });
        }
    }
}
