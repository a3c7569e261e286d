//! Faults put on purpose into what the judge watches: each breaks one promise of the contract, and
//! the judge must see it. The core stays as it is; what goes into it and comes out of it does not.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use overside::watch::{
    Alert, AlertId, Cause, Command, Event, EventBody, LeftOpen, Priority, State,
};

use crate::air::{self, Call, Says, Truth};
use crate::script::{HOUR, MUSTER, SECOND};

macro_rules! sabotages {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {
        /// What is done.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Sabotage { $($(#[$doc])* $name),* }

        impl Sabotage {
            pub const ALL: &[Self] = &[$(Self::$name),*];
        }
    };
}

sabotages! {
    // Of what is told.
    DropsAnEmergency,
    LowersAnEmergency,
    TellsLate,
    JoinsTwoIdentities,
    TellsAnotherPriorityLater,
    ReusesANumber,
    // Of what goes in.
    SwallowsTheSecondCasualty,
    SwallowsCalls,
    SwallowsNotices,
    SwallowsMarks,
    HearsTheMusterAlone,
    IgnoresAnActivationAfterOff,
    // Of what the watch does.
    EndsAtTest,
    EndsWithSilence,
    EndsAtTheSecondAcknowledgement,
    EndsWithAcknowledgement,
    EndsWhenSilenced,
    EndsWhenAnInputIsLost,
    EndsWhenTheClockIsSet,
    EndsWhenTheDiskFails,
    EndsWhenTheMusterIsRead,
    EndsOnTheDoubledLine,
    EndsAllAtOneOff,
    EndsInAStorm,
    EndsAMarkAtAnyBeacon,
    EndsAfterAnHour,
    AcknowledgesByItself,
    RaisesFromATest,
    RaisesFromAText,
    RaisesFromATestCall,
    RaisesFromDoubt,
    ForgetsADeclaration,
    // Of a restart.
    ForgetsAll,
    ForgetsOne,
    ForgetsMarks,
    ForgetsStrangers,
    LowersAtRestart,
    RectifiesAtRestart,
    NumbersFromOne,
    ResumesLate,
    // Of the disk.
    SaysLoggedTooSoon,
    LosesTheLastEntry,
    HidesDamage,
}

use Sabotage as S;

/// What just went in.
#[derive(Clone, Copy, Debug)]
pub enum Cue<'a> {
    /// A line, and whether another input had it a moment ago.
    Line {
        truth: Truth,
        line: &'a str,
        doubled: bool,
    },
    Hand(Command),
    Lost,
    ClockSet,
    DiskFailed,
    MusterRead,
    Time,
}

/// What is done to the watch beside that.
#[derive(Clone, Debug)]
pub enum Meddling {
    Command(Command),
    Line(String),
}

pub struct Saboteur {
    what: Option<Sabotage>,
    held: VecDeque<(u64, Event)>,
    began: u64,
    acknowledged: BTreeSet<u32>,
    off: Vec<(u32, u64)>,
    first_mmsi: Option<overside::mmsi::Mmsi>,
    /// About whom each emergency is.
    emergencies: BTreeMap<u32, u32>,
    /// Whose incident the operator said to be over.
    declared: BTreeSet<u32>,
}

impl Saboteur {
    pub fn new(what: Option<Sabotage>) -> Self {
        Self {
            what,
            held: VecDeque::new(),
            began: 0,
            acknowledged: BTreeSet::new(),
            off: Vec::new(),
            first_mmsi: None,
            emergencies: BTreeMap::new(),
            declared: BTreeSet::new(),
        }
    }

    fn does(&self, what: Sabotage) -> bool {
        self.what == Some(what)
    }

    /// Whether the watch does not get a line that came.
    pub fn swallows(&mut self, truth: Truth, open: &[Alert], now: u64) -> bool {
        let other = |mmsi: u32| {
            open.iter().any(|it| is_emergency(it) && it.mmsi.is_some_and(|it| it.value() != mmsi))
        };
        match (self.what, truth) {
            (Some(S::SwallowsTheSecondCasualty), Truth::Beacon(mmsi, Says::Active)) => other(mmsi),
            (Some(S::SwallowsCalls), Truth::Call(..))
            | (Some(S::SwallowsNotices), Truth::Notice(..)) => true,
            (Some(S::HearsTheMusterAlone), Truth::Beacon(mmsi, Says::Active)) => is_stranger(mmsi),
            (Some(S::IgnoresAnActivationAfterOff), Truth::Beacon(mmsi, says)) => {
                if says == Says::Off {
                    self.off.push((mmsi, now));
                }
                let lately = |(it, at): &(u32, u64)| *it == mmsi && now - at < HOUR;
                says == Says::Active && self.off.iter().any(lately)
            }
            _ => false,
        }
    }

    pub fn swallows_command(&self, command: Command) -> bool {
        self.does(S::SwallowsMarks) && command == Command::MarkOverboard
    }

    /// What is done to the watch when this went in.
    pub fn meddle(&mut self, cue: Cue<'_>, open: &[Alert], now_us: u64) -> Vec<Meddling> {
        let Some(what) = self.what else { return Vec::new() };
        let end = |which: &dyn Fn(&Alert) -> bool| {
            let which = open.iter().filter(|it| is_emergency(it) && which(it));
            which.map(|it| Meddling::Command(Command::Resolve(it.id))).collect::<Vec<_>>()
        };
        let of = |mmsi: u32| move |it: &Alert| it.mmsi.is_some_and(|it| it.value() == mmsi);
        let line = |said: air::Said| vec![Meddling::Line(said.line)];
        match (what, cue) {
            (S::EndsAtTest, Cue::Line { truth: Truth::Beacon(mmsi, Says::Test), .. }) => {
                end(&of(mmsi))
            }
            (S::EndsWithSilence, _) => {
                let silent = |it: &Alert| {
                    open.iter().any(|o| o.cause == Cause::BeaconSilent && o.mmsi == it.mmsi)
                };
                end(&silent)
            }
            (S::EndsAtTheSecondAcknowledgement, Cue::Hand(Command::Acknowledge(id))) => {
                match self.acknowledged.insert(id.0) {
                    true => Vec::new(),
                    false => end(&|it| it.id == id),
                }
            }
            (S::EndsWithAcknowledgement, Cue::Hand(Command::Acknowledge(id)))
            | (S::EndsWhenSilenced, Cue::Hand(Command::Silence(id))) => end(&|it| it.id == id),
            (S::EndsWhenAnInputIsLost, Cue::Lost)
            | (S::EndsWhenTheClockIsSet, Cue::ClockSet)
            | (S::EndsWhenTheDiskFails, Cue::DiskFailed)
            | (S::EndsWhenTheMusterIsRead, Cue::MusterRead) => end(&|_| true),
            (
                S::EndsOnTheDoubledLine,
                Cue::Line { truth: Truth::Beacon(mmsi, Says::Active), doubled: true, .. },
            ) => line(air::text(mmsi, "OFF", 'A')),
            (S::EndsAllAtOneOff, Cue::Line { truth: Truth::Beacon(_, Says::Off), .. }) => {
                end(&|_| true)
            }
            (S::EndsInAStorm, _) if open.len() > 150 => end(&|_| true),
            (S::EndsAMarkAtAnyBeacon, Cue::Line { truth: Truth::Beacon(..), .. }) => {
                end(&|it| it.cause == Cause::OverboardMarked)
            }
            (S::EndsAfterAnHour, Cue::Time) => {
                end(&|it| now_us.saturating_sub(it.raised.micros()) > HOUR * 1000)
            }
            (S::AcknowledgesByItself, _) => {
                let fresh =
                    |it: &&Alert| is_emergency(it) && it.state == State::ActiveUnacknowledged;
                let fresh = open.iter().filter(fresh);
                fresh.map(|it| Meddling::Command(Command::Acknowledge(it.id))).collect()
            }
            (S::ForgetsADeclaration, cue) => {
                match cue {
                    Cue::Hand(Command::Resolve(id)) => {
                        self.declared.extend(self.emergencies.get(&id.0));
                    }
                    Cue::Line { truth: Truth::Beacon(mmsi, Says::Off), .. } => {
                        self.declared.remove(&mmsi);
                    }
                    _ => {}
                }
                end(&|it| it.mmsi.is_some_and(|it| self.declared.contains(&it.value())))
            }
            (S::RaisesFromATest, Cue::Line { truth: Truth::Beacon(mmsi, Says::Test), .. })
            | (S::RaisesFromDoubt, Cue::Line { truth: Truth::Beacon(mmsi, Says::Doubt), .. }) => {
                line(air::text(mmsi, "ACTIVE", 'A'))
            }
            (S::RaisesFromAText, Cue::Line { truth: Truth::Other, line: said, .. }) => {
                // A text has message type 14, armoured as `>`.
                let is_text = said.split(',').nth(5).is_some_and(|it| it.starts_with('>'));
                if is_text { line(air::notice(0xABCDE, 'A', 0)) } else { Vec::new() }
            }
            (S::RaisesFromATestCall, Cue::Line { truth: Truth::Call(mmsi, Call::Lesser), .. }) => {
                line(air::call(mmsi, air::Made::Overboard, 0))
            }
            _ => Vec::new(),
        }
    }

    /// What is told in place of what was to be told.
    pub fn tell(&mut self, now: u64, events: Vec<Event>) -> Vec<Event> {
        let mut told = Vec::new();
        for mut event in events {
            if let EventBody::Alert(alert) = &mut event.body {
                let emergency = alert.priority == Priority::EmergencyAlarm;
                let begins = alert.state == State::ActiveUnacknowledged;
                if emergency && let Some(mmsi) = alert.mmsi {
                    self.emergencies.insert(alert.id.0, mmsi.value());
                }
                match self.what {
                    Some(S::DropsAnEmergency) if emergency && alert.id.0 % 3 == 0 => {
                        continue;
                    }
                    Some(S::LowersAnEmergency) if emergency && begins => {
                        alert.priority = Priority::Alarm;
                    }
                    Some(S::TellsAnotherPriorityLater) if emergency && !begins => {
                        alert.priority = Priority::Alarm;
                    }
                    Some(S::TellsLate) if emergency && begins => {
                        self.held.push_back((now + 3 * SECOND, event));
                        continue;
                    }
                    Some(S::ResumesLate) if now < self.began + SECOND => {
                        self.held.push_back((now + 5 * SECOND, event));
                        continue;
                    }
                    Some(S::JoinsTwoIdentities) if emergency && alert.mmsi.is_some() => {
                        self.first_mmsi = self.first_mmsi.or(alert.mmsi);
                        alert.mmsi = self.first_mmsi;
                    }
                    Some(S::ReusesANumber) if alert.id.0 > 20 => {
                        alert.id = AlertId(alert.id.0 - 20)
                    }
                    _ => {}
                }
            }
            told.push(event);
        }
        told
    }

    /// What was held back and is told now.
    pub fn tell_held(&mut self, now: u64) -> Vec<Event> {
        let mut told = Vec::new();
        while self.due().is_some_and(|due| due <= now) {
            told.extend(self.held.pop_front().map(|(_, event)| event));
        }
        told
    }

    pub fn due(&self) -> Option<u64> {
        self.held.front().map(|(due, _)| *due)
    }

    /// A watch begins with what is left open.
    pub fn begin(&mut self, now: u64, left: &mut LeftOpen) {
        self.began = now;
        self.held.clear();
        match self.what {
            Some(S::ForgetsAll) => {
                *left = LeftOpen { last_id: left.last_id, ..LeftOpen::default() }
            }
            Some(S::ForgetsOne) => drop(left.alerts.pop()),
            Some(S::ForgetsMarks) => left.alerts.retain(|it| it.cause != Cause::OverboardMarked),
            Some(S::ForgetsStrangers) => {
                left.alerts.retain(|it| !it.mmsi.is_some_and(|mmsi| is_stranger(mmsi.value())))
            }
            Some(S::LowersAtRestart) => {
                let high = left.alerts.iter_mut().filter(|it| it.priority > Priority::Alarm);
                high.for_each(|it| it.priority = Priority::Alarm);
            }
            Some(S::RectifiesAtRestart) => {
                left.alerts.iter_mut().for_each(|it| it.rectified = true)
            }
            Some(S::NumbersFromOne) => left.last_id = 0,
            _ => {}
        }
    }

    pub fn says_logged_too_soon(&self) -> bool {
        self.does(S::SaysLoggedTooSoon)
    }

    pub fn hides_damage(&self) -> bool {
        self.does(S::HidesDamage)
    }

    pub fn loses_the_last_entry(&self) -> bool {
        self.does(S::LosesTheLastEntry)
    }
}

fn is_stranger(mmsi: u32) -> bool {
    !MUSTER.contains(&mmsi)
}

fn is_emergency(alert: &Alert) -> bool {
    alert.priority == Priority::EmergencyAlarm && alert.is_active()
}
