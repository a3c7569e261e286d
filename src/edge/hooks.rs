//! Commands that are told of alerts: a relay, a phone, a lamp. Each gets the event as one JSON line
//! on its standard input; one at a time, in order, ended when it hangs.

use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::Clock;
use super::process::Process;
use crate::thread;
use crate::watch::Priority;

/// How many events may wait for a command: at the limit the oldest of the least urgent is given up,
/// and that is told. Our own.
const LIMIT: usize = 256;

/// How often a running command is looked at. Our own.
const LOOK: Duration = Duration::from_millis(50);

/// A command, and from which priority on it is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hook {
    /// The program and its arguments, never given to a shell.
    pub command: Vec<String>,
    /// The least urgent alert it is told of.
    pub from: Priority,
    /// It hangs, and is ended, after this.
    pub hangs_after: Duration,
}

impl Hook {
    /// What it is called: its program.
    fn name(&self) -> &str {
        self.command.first().map_or("", String::as_str)
    }
}

/// What the hooks have to say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HookReport {
    /// A command failed; said once until all work again.
    Failed {
        /// The program.
        command: String,
        /// Why.
        why: String,
    },
    /// It works again.
    Works,
}

/// The hooks of a watch, each with a thread of its own.
pub struct Hooks {
    hooks: Vec<(Hook, Arc<Queue>)>,
    clock: Clock,
    report: Arc<dyn Fn(HookReport) + Send + Sync>,
}

impl Hooks {
    /// Makes the hooks ready. `report` is called from their threads.
    pub fn start(
        hooks: Vec<Hook>,
        clock: Clock,
        report: impl Fn(HookReport) + Send + Sync + 'static,
    ) -> Self {
        let mut all = Self { hooks: Vec::new(), clock, report: Arc::new(report) };
        all.replace(hooks);
        all
    }

    /// Other hooks from now on. Those before finish what they were told.
    pub fn replace(&mut self, hooks: Vec<Hook>) {
        for (_, queue) in self.hooks.extract_if(.., |(hook, _)| !hooks.contains(hook)) {
            queue.close();
        }
        for hook in hooks {
            if self.hooks.iter().any(|(known, _)| *known == hook) {
                continue;
            }
            let queue = Arc::new(Queue::default());
            let mut runner = Runner {
                hook: hook.clone(),
                clock: self.clock,
                report: Arc::clone(&self.report),
                queue: Arc::clone(&queue),
                running: None,
                failed: false,
                given_up: 0,
            };
            match thread::spawn("hook", move |panicked| runner.run(panicked)) {
                Ok(_) => self.hooks.push((hook, queue)),
                Err(why) => (self.report)(HookReport::Failed {
                    command: hook.name().to_owned(),
                    why: format!("no thread for it: {why}"),
                }),
            }
        }
    }

    /// Tells those who want to be told. Never waits.
    pub fn tell(&self, priority: Priority, json: &str) {
        for (_, queue) in self.hooks.iter().filter(|(hook, _)| hook.from <= priority) {
            queue.push(priority, format!("{json}\n"));
        }
    }
}

impl Drop for Hooks {
    /// What they were told is told on; nothing more comes.
    fn drop(&mut self) {
        self.hooks.iter().for_each(|(_, queue)| queue.close());
    }
}

/// What waits for a command.
#[derive(Default)]
struct Queue {
    waiting: Mutex<Waiting>,
    wake: Condvar,
}

#[derive(Default)]
struct Waiting {
    events: VecDeque<(Priority, String)>,
    /// Events given up since that was told.
    given_up: u64,
    closed: bool,
}

impl Queue {
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What waits is whole at any moment: a panic elsewhere takes nothing from it.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn push(&self, priority: Priority, json: String) {
        let mut waiting = self.lock();
        waiting.push(priority, json);
        self.wake.notify_one();
    }

    fn close(&self) {
        self.lock().closed = true;
        self.wake.notify_one();
    }

    /// Waits until there may be something to do: at most so long.
    fn wait(&self, longest: Option<Duration>) -> MutexGuard<'_, Waiting> {
        let waiting = self.lock();
        let Some(longest) = longest else {
            let idle = |it: &mut Waiting| it.events.is_empty() && !it.closed;
            return self.wake.wait_while(waiting, idle).unwrap_or_else(PoisonError::into_inner);
        };
        let waited = self.wake.wait_timeout(waiting, longest);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }
}

impl Waiting {
    /// At the limit the least urgent gives way, the oldest of them first.
    fn push(&mut self, priority: Priority, json: String) {
        self.events.push_back((priority, json));
        if self.events.len() > LIMIT
            && let Some((least, _)) = self.events.iter().enumerate().min_by_key(|(_, it)| it.0)
        {
            self.events.remove(least);
            self.given_up += 1;
        }
    }
}

/// One hook.
struct Runner {
    hook: Hook,
    clock: Clock,
    report: Arc<dyn Fn(HookReport) + Send + Sync>,
    queue: Arc<Queue>,
    running: Option<Process>,
    failed: bool,
    /// Events that it was never told of, since it worked last.
    given_up: u64,
}

impl Runner {
    fn run(&mut self, panicked: Option<&str>) {
        if let Some(why) = panicked {
            self.end(Err(why.to_owned()));
        }
        loop {
            let mut waiting = self.queue.wait(self.running.as_ref().map(|_| LOOK));
            let next = if self.running.is_none() { waiting.events.pop_front() } else { None };
            let is_last = waiting.closed && next.is_none();
            // At once, and then with each command: a flood is not told event by event.
            let may_tell = self.given_up == 0 || next.is_some();
            let given_up = if may_tell { std::mem::take(&mut waiting.given_up) } else { 0 };
            drop(waiting);
            if given_up > 0 {
                self.tell_given_up(given_up);
            }
            match next {
                Some((_, json)) => self.begin(&json),
                None if is_last && self.running.is_none() => return,
                None => self.look_after(),
            }
        }
    }

    /// It takes events more slowly than they come: what it never got is told with its number.
    fn tell_given_up(&mut self, events: u64) {
        self.given_up = self.given_up.saturating_add(events);
        self.failed = true;
        (self.report)(HookReport::Failed {
            command: self.hook.name().to_owned(),
            why: format!(
                "too slow: {} of the least urgent events were not told to it",
                self.given_up
            ),
        });
    }

    fn begin(&mut self, json: &str) {
        let until = self.clock.now().at + self.hook.hangs_after;
        match Process::start(&self.hook.command, Some(json.as_bytes()), until) {
            Ok(process) => self.running = Some(process),
            Err(why) => self.end(Err(why.to_string())),
        }
    }

    fn look_after(&mut self) {
        let now = self.clock.now().at;
        if let Some(done) = self.running.as_mut().and_then(|it| it.ended(now)) {
            self.running = None;
            self.end(done);
        }
    }

    fn end(&mut self, done: Result<(), String>) {
        match done {
            Ok(()) if self.failed => {
                (self.failed, self.given_up) = (false, 0);
                (self.report)(HookReport::Works);
            }
            Err(why) if !self.failed => {
                self.failed = true;
                let command = self.hook.name().to_owned();
                (self.report)(HookReport::Failed { command, why });
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_the_limit_the_least_urgent_give_way_and_never_an_emergency_before_them() {
        let order = [Priority::Caution, Priority::Warning, Priority::Alarm];
        let mut waiting = Waiting::default();
        waiting.push(Priority::EmergencyAlarm, "the first".to_owned());
        for priority in order {
            for number in 0..LIMIT / 3 {
                waiting.push(priority, format!("{priority:?} {number}"));
            }
        }
        // Full: what comes is urgent, and takes the place of what is not.
        let first = |waiting: &Waiting, priority| {
            waiting.events.iter().find(|it| it.0 == priority).map(|it| it.1.clone())
        };
        waiting.push(Priority::EmergencyAlarm, "one".to_owned());
        assert_eq!((waiting.events.len(), waiting.given_up), (LIMIT, 1));
        assert_eq!(first(&waiting, Priority::Caution).as_deref(), Some("Caution 1"));
        for gone in order {
            while first(&waiting, gone).is_some() {
                waiting.push(Priority::EmergencyAlarm, "another".to_owned());
            }
            assert!(order.into_iter().all(|it| it <= gone || first(&waiting, it).is_some()));
        }
        // Nothing else is left: what is less urgent does not come in.
        waiting.push(Priority::Alarm, "late".to_owned());
        assert_eq!(first(&waiting, Priority::Alarm), None);
        assert_eq!(waiting.events[0].1, "the first");
        assert_eq!(waiting.given_up, LIMIT as u64);
    }
}
