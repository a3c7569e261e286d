//! What an alarm sounds like, and by which way. A thread of its own: neither a stuck terminal nor a
//! slow disk holds a sound up.
//!
//! The ways are tried in this order: the configured command, a player found on the system, the
//! terminal's bell. One that fails is told and the next is used at once; it is tried again after
//! five minutes.

mod method;
mod wave;

use std::ffi::OsString;
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

pub use method::SoundMethod;
pub use wave::{RATE, length, wave};

use super::Clock;
use super::process::Process;
use crate::mmsi::Mmsi;
use crate::thread;
use crate::time::Mono;
use crate::watch::{Alert, AlertId, Cause, Priority, State};

/// An alarm sounds again after this, every 7 to 10 s (IEC 62923-1 6.3).
const ALARM_AGAIN: Duration = Duration::from_secs(8);

/// The bell in an emergency: as near to a continuous sound as a bell comes. Our own.
const BELL_AGAIN: Duration = Duration::from_secs(1);

/// Between two strokes of the bell that belong together. Our own.
const STROKE: Duration = Duration::from_millis(300);

/// A way that failed is tried again after this. Our own.
const TRIED_AGAIN: Duration = Duration::from_secs(300);

/// How often a program that is sounding is looked at. Our own.
const LOOK: Duration = Duration::from_millis(40);

/// What is to sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sounding {
    /// How urgent it is.
    pub priority: Priority,
    /// What it is about.
    pub cause: Cause,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// The alert it comes from.
    pub alert: AlertId,
    /// How often that was repeated: a warning sounds again then.
    pub repeats: u32,
}

impl Sounding {
    /// The most urgent alert that sounds; of equals the latest. None below a warning.
    pub fn of(alerts: &[Alert]) -> Option<Self> {
        let sounds = |alert: &&Alert| {
            alert.state == State::ActiveUnacknowledged && alert.priority > Priority::Caution
        };
        let worst = alerts.iter().filter(sounds).max_by_key(|alert| (alert.priority, alert.id))?;
        Some(Self {
            priority: worst.priority,
            cause: worst.cause,
            mmsi: worst.mmsi,
            alert: worst.id,
            repeats: alerts
                .iter()
                .filter(sounds)
                .map(|alert| alert.repeats)
                .fold(0, u32::wrapping_add),
        })
    }
}

/// How a sounder is to sound.
#[derive(Clone, Debug)]
pub struct SounderSettings {
    /// The configured command.
    pub command: Option<Vec<String>>,
    /// Whether anything sounds at all.
    pub sound: bool,
    /// Whether there is a terminal that can ring.
    pub bell: bool,
    /// Where players are looked for: what is in `$PATH`.
    pub path: OsString,
    /// How much longer than its sound a program may run before it counts as hanging.
    pub hangs_after: Duration,
}

/// What the sounder has to say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SounderReport {
    /// The bell is to be rung, once.
    Ring,
    /// Sounds go out by this way from now on.
    Uses(SoundMethod),
    /// A way does not work.
    Failed {
        /// Which.
        way: SoundMethod,
        /// Why.
        why: String,
    },
    /// Every way that had failed works again.
    Recovered,
    /// A way was tried because somebody wanted to hear it.
    Checked {
        /// Which.
        way: SoundMethod,
        /// Whether it worked, as far as a program can tell.
        heard: Result<(), String>,
    },
    /// Every way was tried.
    CheckEnded,
    /// No way is left.
    Mute,
    /// Nothing is to sound, by configuration.
    Off,
}

enum Order {
    Want(Option<Sounding>),
    Settings(SounderSettings),
    Check,
}

/// The handle of the thread that sounds.
pub struct Sounder {
    orders: Sender<Order>,
    wanted: Option<Sounding>,
}

impl Sounder {
    /// Starts it. `report` is called from its thread.
    ///
    /// # Errors
    /// No thread can be started.
    pub fn start(
        settings: SounderSettings,
        clock: Clock,
        report: impl FnMut(SounderReport) + Send + 'static,
    ) -> std::io::Result<Self> {
        let (orders, taken) = mpsc::channel();
        let mut player = Player {
            settings,
            player: None,
            looked: None,
            clock,
            report: Box::new(report),
            folder: method::folder(),
            wanted: None,
            strokes: 0,
            next: None,
            running: None,
            failed: Vec::new(),
            used: None,
            mute: false,
            check: None,
        };
        thread::spawn("sounder", move |panicked| player.run(&taken, panicked))?;
        Ok(Self { orders, wanted: None })
    }

    /// What is to sound from now on; nothing if `None`. Never waits.
    pub fn want(&mut self, sounding: Option<Sounding>) {
        if self.wanted != sounding {
            self.wanted = sounding;
            let _ = self.orders.send(Order::Want(sounding));
        }
    }

    /// Sounds otherwise from now on.
    pub fn settings(&self, settings: SounderSettings) {
        let _ = self.orders.send(Order::Settings(settings));
    }

    /// Sounds the alarm once by every way, one after the other, unless something real sounds.
    pub fn check(&self) {
        let _ = self.orders.send(Order::Check);
    }
}

/// The side that sounds.
struct Player {
    settings: SounderSettings,
    /// The player that was found, and when one was looked for last: on a disk that may be slow.
    player: Option<(&'static str, PathBuf)>,
    looked: Option<Mono>,
    clock: Clock,
    report: Box<dyn FnMut(SounderReport) + Send>,
    folder: PathBuf,
    wanted: Option<Sounding>,
    /// Strokes of the bell that are still to come in this repetition.
    strokes: u8,
    /// When the next repetition or stroke begins.
    next: Option<Mono>,
    running: Option<(SoundMethod, Process)>,
    /// The ways that failed, and when.
    failed: Vec<(SoundMethod, Mono)>,
    used: Option<SoundMethod>,
    mute: bool,
    /// The ways that are still to be tried in a check, the present one first.
    check: Option<Vec<SoundMethod>>,
}

impl Player {
    /// Sounds what it is told to. After a panic it goes on with what is wanted, by the next way.
    fn run(&mut self, orders: &Receiver<Order>, panicked: Option<&str>) {
        if let Some(why) = panicked {
            self.stop();
            self.next = self.wanted.map(|_| self.clock.now().at);
            if let Some(way) = self.used {
                self.end(way, Err(why.to_owned()));
            }
        }
        self.choose();
        loop {
            let now = self.clock.now().at;
            let wait = match (&self.running, self.next) {
                (Some(_), _) => LOOK,
                (None, Some(next)) => next.since(now),
                (None, None) => Duration::from_secs(3600),
            };
            match orders.recv_timeout(wait) {
                Ok(order) => self.apply(order),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => {
                    self.stop();
                    let _ = std::fs::remove_dir_all(&self.folder);
                    return;
                }
            }
            self.look_after();
            self.go_on();
        }
    }

    fn apply(&mut self, order: Order) {
        let now = self.clock.now().at;
        match order {
            Order::Want(wanted) => {
                let before = self.wanted.take();
                self.wanted = wanted;
                match (before, wanted) {
                    (_, None) => self.stop(),
                    (Some(before), Some(it)) if before.priority == it.priority => {
                        // Another of the same urgency, or a warning that is repeated: after what
                        // sounds just now, which a flood would else never let end.
                        let again = before.alert != it.alert || it.priority == Priority::Warning;
                        if again && self.strokes == 0 {
                            self.next = Some(now);
                        }
                    }
                    (_, Some(_)) => {
                        self.stop();
                        self.next = Some(now);
                    }
                }
                if wanted.is_some() && self.check.take().is_some() {
                    (self.report)(SounderReport::CheckEnded);
                }
            }
            Order::Settings(settings) => {
                self.settings = settings;
                self.failed.clear();
                self.forget_player();
                self.choose();
            }
            Order::Check if self.wanted.is_none() => {
                self.stop();
                self.forget_player();
                self.check = Some(self.ways());
                self.next = Some(now);
            }
            Order::Check => (self.report)(SounderReport::CheckEnded),
        }
    }

    /// It is looked for again the next time.
    fn forget_player(&mut self) {
        (self.player, self.looked) = (None, None);
    }

    /// Looks for a player where none is known, but not at every alert.
    fn look_for_player(&mut self) {
        let now = self.clock.now().at;
        let is_due = self.looked.is_none_or(|at| now.since(at) >= TRIED_AGAIN);
        if self.player.is_none() && (is_due || self.mute) {
            self.player = method::player(&self.settings.path);
            self.looked = Some(now);
        }
    }

    /// The ways there are, in the order they are tried.
    fn ways(&mut self) -> Vec<SoundMethod> {
        self.look_for_player();
        let command = self.settings.command.is_some().then_some(SoundMethod::Command);
        let player = self.player.as_ref().map(|&(name, _)| SoundMethod::Player(name));
        let bell = self.settings.bell.then_some(SoundMethod::Bell);
        [command, player, bell].into_iter().flatten().collect()
    }

    /// The first way that has not failed of late. Says so if it is another than before.
    fn choose(&mut self) -> Option<SoundMethod> {
        if !self.settings.sound {
            self.used = None;
            (self.report)(SounderReport::Off);
            return None;
        }
        let now = self.clock.now().at;
        let ways = self.ways();
        let fails = |way: &SoundMethod| {
            self.failed.iter().any(|(it, at)| it == way && now.since(*at) < TRIED_AGAIN)
        };
        let way = ways.into_iter().find(|way| !fails(way));
        match way {
            Some(way) if self.used != Some(way) || self.mute => {
                (self.used, self.mute) = (Some(way), false);
                (self.report)(SounderReport::Uses(way));
            }
            None if !self.mute => {
                (self.used, self.mute) = (None, true);
                (self.report)(SounderReport::Mute);
            }
            _ => {}
        }
        way
    }

    /// Looks whether the program that is sounding has ended, or hangs.
    fn look_after(&mut self) {
        let now = self.clock.now().at;
        let Some((way, running)) = &mut self.running else { return };
        let way = *way;
        if let Some(heard) = running.ended(now) {
            self.running = None;
            self.end(way, heard);
        }
    }

    /// A way has sounded once, or has not.
    fn end(&mut self, way: SoundMethod, heard: Result<(), String>) {
        let now = self.clock.now().at;
        if let Some(check) = &mut self.check {
            check.retain(|it| *it != way);
            self.next = Some(now);
            (self.report)(SounderReport::Checked { way, heard: heard.clone() });
        }
        let known = self.failed.iter().any(|(it, _)| *it == way);
        self.failed.retain(|(it, _)| *it != way);
        match heard {
            Ok(()) if known && self.failed.is_empty() => {
                (self.report)(SounderReport::Recovered);
            }
            Ok(()) => {}
            Err(why) => {
                if matches!(way, SoundMethod::Player(_)) {
                    self.forget_player();
                }
                self.failed.push((way, now));
                if !known {
                    (self.report)(SounderReport::Failed { way, why });
                }
                // The next way, at once.
                self.next = Some(now);
            }
        }
    }

    /// Begins the next repetition, stroke or check, if it is time.
    fn go_on(&mut self) {
        let now = self.clock.now().at;
        if self.running.is_some() || self.next.is_none_or(|next| next > now) {
            return;
        }
        if let Some(check) = &self.check {
            let Some(&way) = check.first() else {
                (self.check, self.next) = (None, None);
                self.choose();
                (self.report)(SounderReport::CheckEnded);
                return;
            };
            let alarm = Sounding {
                priority: Priority::Alarm,
                cause: Cause::SounderFailed,
                mmsi: None,
                alert: AlertId(0),
                repeats: 0,
            };
            return self.sound(way, &alarm, now);
        }
        let Some(wanted) = self.wanted else {
            self.next = None;
            return;
        };
        match self.choose() {
            Some(way) => self.sound(way, &wanted, now),
            None => self.next = Some(now + TRIED_AGAIN),
        }
    }

    fn sound(&mut self, way: SoundMethod, sounding: &Sounding, now: Mono) {
        if way == SoundMethod::Bell {
            return self.ring(sounding, now);
        }
        self.next = match sounding.priority {
            // Not at once: a command that lights a lamp is done in no time.
            Priority::EmergencyAlarm => Some(now + wave::length(sounding.priority)),
            Priority::Alarm => Some(now + ALARM_AGAIN),
            _ => None,
        };
        self.look_for_player();
        let player = self.player.as_ref().map(|(_, path)| path.as_path());
        match method::start(way, &self.settings, player, sounding, &self.folder, now) {
            Ok(running) => self.running = Some((way, running)),
            Err(why) => self.end(way, Err(why.to_string())),
        }
    }

    /// One stroke of the bell. Three belong to an alarm, two to a warning.
    fn ring(&mut self, sounding: &Sounding, now: Mono) {
        if self.strokes == 0 {
            self.strokes = match sounding.priority {
                Priority::EmergencyAlarm => 1,
                Priority::Alarm => 3,
                _ => 2,
            };
        }
        (self.report)(SounderReport::Ring);
        self.strokes -= 1;
        self.next = match sounding.priority {
            _ if self.strokes > 0 => Some(now + STROKE),
            _ if self.check.is_some() => Some(now),
            Priority::EmergencyAlarm => Some(now + BELL_AGAIN),
            Priority::Alarm => Some(now + ALARM_AGAIN),
            _ => None,
        };
        if self.strokes == 0 && self.check.is_some() {
            self.end(SoundMethod::Bell, Ok(()));
        }
    }

    fn stop(&mut self) {
        if let Some((_, mut running)) = self.running.take() {
            running.kill();
        }
        (self.next, self.strokes) = (None, 0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 62923-1 6.3: from one beginning to the next 7 to 10 s, by a program and by the bell. An
    /// emergency goes on (annex G, figure G.1); a warning waits until it is repeated.
    #[test]
    fn an_alarm_sounds_again_after_7_to_10_s() {
        let sounding = |priority| Sounding {
            priority,
            cause: Cause::BeaconActive,
            mmsi: None,
            alert: AlertId(1),
            repeats: 0,
        };
        let again = |way, priority, strokes| {
            let mut player = Player {
                settings: SounderSettings {
                    command: Some(vec!["true".to_owned()]),
                    sound: true,
                    bell: true,
                    path: std::env::var_os("PATH").unwrap_or_default(),
                    hangs_after: Duration::from_secs(1),
                },
                player: None,
                looked: None,
                clock: Clock::start(),
                report: Box::new(|_| {}),
                folder: method::folder(),
                wanted: None,
                strokes: 0,
                next: Some(Mono::START),
                running: None,
                failed: Vec::new(),
                used: None,
                mute: false,
                check: None,
            };
            for _ in 0..strokes {
                let now = player.next.unwrap_or(Mono::START);
                player.sound(way, &sounding(priority), now);
            }
            let next = player.next;
            player.stop();
            next.map(|next| next.since(Mono::START).as_secs_f64())
        };
        use SoundMethod::{Bell, Command};
        for (way, strokes) in [(Command, 1), (Bell, 3)] {
            let seconds = again(way, Priority::Alarm, strokes);
            assert!(seconds.is_some_and(|it| (7.0..=10.0).contains(&it)), "{way:?} {seconds:?}");
        }
        let emergency = again(Command, Priority::EmergencyAlarm, 1);
        assert_eq!(emergency, Some(wave::length(Priority::EmergencyAlarm).as_secs_f64()));
        assert_eq!(again(Bell, Priority::EmergencyAlarm, 1), Some(1.0));
        for (way, strokes) in [(Command, 1), (Bell, 2)] {
            assert_eq!(again(way, Priority::Warning, strokes), None);
        }
    }
}
