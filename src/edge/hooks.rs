//! Commands that are told of alerts: a relay, a phone, a lamp. Each gets the event as one JSON line
//! on its standard input; one at a time, in order, ended when it hangs.

use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, SyncSender, TrySendError};
use std::time::Duration;

use super::Clock;
use super::process::Process;
use crate::thread;
use crate::watch::Priority;

/// How many events may wait for a command: at the limit the oldest are given up.
const LIMIT: usize = 256;

/// How often a running command is looked at.
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
    hooks: Vec<(Hook, SyncSender<String>)>,
    clock: Clock,
    report: std::sync::Arc<dyn Fn(HookReport) + Send + Sync>,
}

impl Hooks {
    /// Makes the hooks ready. `report` is called from their threads.
    pub fn start(
        hooks: Vec<Hook>,
        clock: Clock,
        report: impl Fn(HookReport) + Send + Sync + 'static,
    ) -> Self {
        let mut all = Self { hooks: Vec::new(), clock, report: std::sync::Arc::new(report) };
        all.replace(hooks);
        all
    }

    /// Other hooks from now on. Those before finish what they were told.
    pub fn replace(&mut self, hooks: Vec<Hook>) {
        self.hooks.retain(|(hook, _)| hooks.contains(hook));
        for hook in hooks {
            if self.hooks.iter().any(|(known, _)| *known == hook) {
                continue;
            }
            let (tell, told) = mpsc::sync_channel(LIMIT);
            let mut runner = Runner {
                hook: hook.clone(),
                clock: self.clock,
                report: std::sync::Arc::clone(&self.report),
                waiting: VecDeque::new(),
                running: None,
                failed: false,
            };
            match thread::spawn("hook", move |panicked| runner.run(&told, panicked)) {
                Ok(_) => self.hooks.push((hook, tell)),
                Err(why) => (self.report)(HookReport::Failed {
                    command: hook.name().to_owned(),
                    why: format!("no thread for it: {why}"),
                }),
            }
        }
    }

    /// Tells those who want to be told. Never waits.
    pub fn tell(&self, priority: Priority, json: &str) {
        for (hook, tell) in self.hooks.iter().filter(|(hook, _)| hook.from <= priority) {
            // Its thread takes them out all the time: this is full only if that is gone.
            if let Err(TrySendError::Full(_)) = tell.try_send(format!("{json}\n")) {
                tracing::warn!("hook {} is told of too much", hook.name());
            }
        }
    }
}

/// One hook.
struct Runner {
    hook: Hook,
    clock: Clock,
    report: std::sync::Arc<dyn Fn(HookReport) + Send + Sync>,
    waiting: VecDeque<String>,
    running: Option<Process>,
    failed: bool,
}

impl Runner {
    fn run(&mut self, told: &Receiver<String>, panicked: Option<&str>) {
        if let Some(why) = panicked {
            self.end(Err(why.to_owned()));
        }
        let mut open = true;
        while open || self.running.is_some() || !self.waiting.is_empty() {
            let wait = if self.running.is_some() { LOOK } else { Duration::from_secs(3600) };
            match told.recv_timeout(wait) {
                Ok(json) => {
                    if self.waiting.len() >= LIMIT {
                        self.waiting.pop_front();
                        tracing::warn!("hook {}: an event was given up", self.hook.name());
                    }
                    self.waiting.push_back(json);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => {
                    open = false;
                    if self.running.is_some() {
                        std::thread::sleep(LOOK);
                    }
                }
            }
            self.look_after();
            if self.running.is_none()
                && let Some(json) = self.waiting.pop_front()
            {
                self.begin(&json);
            }
        }
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
                self.failed = false;
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
