//! The alerts for a bridge's alert management (IEC 62923, IEC 61162-1 edition 6): each change as ALF,
//! all that is open as ALC, and HBT that this program is alive; what such a system asks for as ACN,
//! and what is refused as ARC.
//!
//! Otherwise than the standard, on purpose: an emergency alarm can be acknowledged and silenced here,
//! and is told with the states of an alarm (see `watch/alert.rs`).

use std::time::Duration;

use super::sentence::{LONGEST, sentence, time_of_day, with_text};
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{Alert, AlertId, Cause, Command, Priority, Rehearsed, State};
use crate::wire::Line;

/// ALC and HBT at least so often (IEC 62923-2; IEC 61162-1 8.3.13, 8.3.49).
pub const CYCLE: Duration = Duration::from_secs(30);

/// The maker's letters, needed where an identifier is no standard's. Registered nowhere; our own.
const MAKER: &str = "OVS";

/// Identifiers of our own begin here (IEC 61162-1: 10000 and above are the maker's).
const OWN_IDENTIFIERS: u32 = 10_000;

/// So many alerts are told: at three to a sentence, as many as the sixteen sentences hold that equipment
/// takes of a list.
const MOST: usize = 48;

/// The alerts as they were told last.
#[derive(Debug, Default)]
pub struct AlertList {
    told: Vec<Told>,
    /// When the list is to be told next.
    due: Mono,
    heartbeat: u8,
    /// Numbers the sentences that belong together, 0 to 9 and 0 to 99.
    sequence: u8,
}

#[derive(Clone, Debug)]
struct Told {
    alert: Alert,
    at: Utc,
    revision: u8,
}

/// What became of a command that came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// It is for no alert of this program, or is no command.
    Nothing,
    /// Somebody takes note of an alert, or silences it or several.
    Acts(Vec<AlertAct>),
    /// All that is open is to be told again.
    Repeat,
    /// It is refused, and told so.
    Refused,
}

/// What can be done to an alert from there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AlertAct {
    /// Take note of it.
    Acknowledge(AlertId),
    /// Stop its sound for 30 s.
    Silence(AlertId),
}

impl From<AlertAct> for Command {
    fn from(act: AlertAct) -> Self {
        match act {
            AlertAct::Acknowledge(id) => Self::Acknowledge(id),
            AlertAct::Silence(id) => Self::Silence(id),
        }
    }
}

impl AlertList {
    /// Takes the open alerts: an ALF pair for each that has changed. Of too many the most urgent are
    /// told, the crew's (`is_ours`) before strangers', then the first raised.
    pub fn follow(
        &mut self,
        open: &[Alert],
        is_ours: impl Fn(&Alert) -> bool,
        now: Stamp,
    ) -> Vec<(bool, String)> {
        let mut said = Vec::new();
        let mut before = std::mem::take(&mut self.told);
        let is_over = |it: &mut Told| open.iter().all(|alert| alert.id != it.alert.id);
        let gone: Vec<Told> = before.extract_if(.., is_over).collect();
        let mut open: Vec<&Alert> = open.iter().collect();
        open.sort_by_key(|it| std::cmp::Reverse((it.priority, is_ours(it))));
        for alert in open.into_iter().take(MOST) {
            let known = before.iter().position(|it| it.alert.id == alert.id);
            let known = known.map(|place| before.swap_remove(place));
            let revision = match &known {
                Some(told) if same(&told.alert, alert) => None,
                Some(told) => Some(next(told.revision)),
                None => Some(1),
            };
            let changed =
                revision.map(|revision| Told { alert: alert.clone(), at: now.utc, revision });
            if let Some(told) = &changed {
                said.push((alert.rehearsed.is_some(), self.alf(told)));
            }
            self.told.extend(changed.or(known));
        }
        for mut gone in gone {
            gone.alert.state = State::Normal;
            gone.revision = next(gone.revision);
            gone.at = now.utc;
            said.push((gone.alert.rehearsed.is_some(), self.alf(&gone)));
        }
        said
    }

    /// Somebody new listens: all is to be told at once.
    pub const fn hurry(&mut self) {
        self.due = Mono::START;
    }

    /// When the list is to be told next; at [`Mono::START`] somebody was told nothing yet.
    pub const fn due(&self) -> Mono {
        self.due
    }

    /// The whole list, and that this program is alive: with what is only rehearsed, and without.
    pub fn cycle(&mut self, now: Stamp) -> [String; 2] {
        self.due = now.at + CYCLE;
        self.heartbeat = (self.heartbeat + 1) % 10;
        self.sequence = (self.sequence + 1) % 100;
        [true, false].map(|rehearsed_too| self.list(rehearsed_too))
    }

    fn list(&self, rehearsed_too: bool) -> String {
        let open: Vec<&Told> =
            self.told.iter().filter(|it| rehearsed_too || it.alert.rehearsed.is_none()).collect();
        // Each alert whole in one sentence.
        let entry = |it: &&Told| {
            let (maker, identifier) = identifier(&it.alert);
            format!(",{maker},{identifier},{},{}", instance(it.alert.id), it.revision)
        };
        let entries: Vec<String> = open.iter().map(entry).collect();
        let mut groups: Vec<Vec<&str>> = vec![Vec::new()];
        for entry in &entries {
            let full = |group: &Vec<&str>| {
                let length: usize = group.iter().map(|it| it.len()).sum();
                "$U8ALC,00,00,00,00*hh\r\n".len() + length + entry.len() > LONGEST
            };
            if groups.last().is_some_and(full) {
                groups.push(Vec::new());
            }
            if let Some(group) = groups.last_mut() {
                group.push(entry);
            }
        }
        let total = groups.len();
        let lists = groups.iter().enumerate().map(|(number, group)| {
            let (number, sequence, count) = (number + 1, self.sequence, group.len());
            sentence(&format!("ALC,{total:02},{number:02},{sequence:02},{count}{}", group.concat()))
        });
        let lists: String = lists.collect();
        lists + &sentence(&format!("HBT,{}.0,A,{}", CYCLE.as_secs(), self.heartbeat))
    }

    /// All that is open, again, as it was told.
    pub fn repeat(&mut self) -> Vec<(bool, String)> {
        let told = self.told.clone();
        told.iter().map(|it| (it.alert.rehearsed.is_some(), self.alf(it))).collect()
    }

    /// Takes a line that has come in: what it asks for, and the answer, if there is one. Acts are
    /// `accepted` or refused.
    pub fn asked(&self, line: &[u8], accepted: bool, now: Stamp) -> (Asked, Option<String>) {
        let Some(ask) = Ask::read(line) else { return (Asked::Nothing, None) };
        if ask.command == 'Q' {
            return (Asked::Repeat, None);
        }
        let those: Vec<&Alert> =
            self.told.iter().map(|it| &it.alert).filter(|it| ask.is_about(it)).collect();
        let acts: Vec<AlertAct> = those.iter().filter_map(|it| ask.act(it)).collect();
        // An identifier that is ours alone is refused; any other, and all there are, may be another's.
        let is_ours = ask.maker == MAKER || !those.is_empty();
        if accepted && !acts.is_empty() {
            (Asked::Acts(acts), None)
        } else if !is_ours || accepted && ask.identifier == 0 {
            (Asked::Nothing, None)
        } else {
            (Asked::Refused, Some(ask.refused(now)))
        }
    }

    /// ALF: what it is called in the first sentence, what it says in the second.
    fn alf(&mut self, told: &Told) -> String {
        self.sequence = (self.sequence + 1) % 100;
        let sequence = self.sequence % 10;
        let Told { alert, at, revision } = told;
        let (maker, identifier) = identifier(alert);
        let escalation = match alert.repeats {
            count @ 0..=9 => count,
            more => (more - 1) % 9 + 1,
        };
        let which = format!("{maker},{identifier},{},{revision},{escalation},", instance(alert.id));
        let (priority, state) = (priority(alert.priority), state(alert.state));
        let first =
            format!("ALF,2,1,{sequence},{},B,{priority},{state},{which}", time_of_day(Some(*at)));
        let second = format!("ALF,2,2,{sequence},,,,,{which}");
        let text = Rehearsed::marked(alert.rehearsed, &alert.text);
        with_text(&first, title(alert.cause)) + &with_text(&second, &text)
    }
}

/// Whether a line may ask something of the alerts: it is an ACN.
pub fn is_asked(line: &[u8]) -> bool {
    Ask::read(line).is_some()
}

/// A command from elsewhere: `$--ACN,hhmmss.ss,maker,identifier,instance,c,C`, the last two in either
/// order (IEC 61162-1 8.3.7). Identifier 0 is every alert, instance 0 each of an identifier.
struct Ask {
    maker: String,
    identifier: u32,
    instance: u32,
    command: char,
}

impl Ask {
    fn read(line: &[u8]) -> Option<Self> {
        // Few lines are one.
        memchr::memmem::find(line, b"ACN,")?;
        let sentence = Line::parse(line).ok()?.sentence;
        if sentence.formatter != "ACN" {
            return None;
        }
        let mut fields = sentence.fields();
        fields.skip(1);
        let text =
            |field: Option<&[u8]>| String::from_utf8_lossy(field.unwrap_or_default()).into_owned();
        let maker = text(fields.take());
        let identifier = text(fields.take()).parse().ok()?;
        let instance = text(fields.take()).parse().unwrap_or(0);
        let letters = [text(fields.take()), text(fields.take())];
        let command = letters.iter().find(|it| *it != "C" && it.len() == 1)?.chars().next()?;
        matches!(command, 'A' | 'Q' | 'O' | 'S').then_some(Self {
            maker,
            identifier,
            instance,
            command,
        })
    }

    /// Whether it is meant for an alert.
    fn is_about(&self, alert: &Alert) -> bool {
        let (maker, identifier) = identifier(alert);
        let is_all = self.identifier == 0 && [MAKER, ""].contains(&self.maker.as_str());
        let is_one = identifier == self.identifier && maker == self.maker;
        (is_all || is_one) && (self.instance == 0 || self.instance == instance(alert.id))
    }

    /// What is to be done to an alert that it is meant for; `None` if that may not be.
    fn act(&self, alert: &Alert) -> Option<AlertAct> {
        let open = alert.state;
        match self.command {
            // Several are silenced at once, never taken note of (8.3.7 comment 5).
            'A' if self.instance != 0
                && !matches!(open, State::ActiveAcknowledged | State::Normal) =>
            {
                Some(AlertAct::Acknowledge(alert.id))
            }
            'S' if open == State::ActiveUnacknowledged => Some(AlertAct::Silence(alert.id)),
            // Nobody here can take the responsibility over, or give it back.
            _ => None,
        }
    }

    /// ARC: the command is refused.
    fn refused(&self, now: Stamp) -> String {
        let Self { maker, identifier, instance, command } = self;
        let maker = super::sentence::plain(maker, 3);
        let time = time_of_day(Some(now.utc));
        sentence(&format!("ARC,{time},{maker},{identifier},{instance},{command}"))
    }
}

/// Whether there is nothing new to tell.
fn same(told: &Alert, now: &Alert) -> bool {
    (told.state, told.priority, told.repeats, &told.text)
        == (now.state, now.priority, now.repeats, &now.text)
}

/// 1 to 99 and again from 1.
const fn next(revision: u8) -> u8 {
    revision % 99 + 1
}

/// 1 to 999999, which only a program that has raised a million alerts gives twice.
const fn instance(id: AlertId) -> u32 {
    (id.0.wrapping_sub(1)) % 999_999 + 1
}

/// The maker's letters and the identifier. One of IEC 62923-2 table A.1, or of a type-approved DSC
/// radio, only where it has the priority that it has there; else our own, by the cause.
fn identifier(alert: &Alert) -> (&'static str, u32) {
    let standard = match (alert.cause, alert.priority) {
        (Cause::InputSilent, Priority::Warning) => Some(3002),
        (Cause::OwnPositionLost, Priority::Warning) => Some(3015),
        (Cause::OwnPositionLost, Priority::Caution) => Some(3016),
        (Cause::DscUrgency | Cause::DscRelay, Priority::Warning) => Some(3122),
        (Cause::DscTest, Priority::Caution) => Some(3123),
        _ => None,
    };
    match standard {
        Some(identifier) => ("", identifier),
        None => (MAKER, OWN_IDENTIFIERS + number(alert.cause)),
    }
}

/// The number of a cause, for ever: a new one is added at the end.
const fn number(cause: Cause) -> u32 {
    match cause {
        Cause::BeaconActive => 1,
        Cause::BeaconUnverified => 2,
        Cause::BeaconTest => 3,
        Cause::BeaconSilent => 4,
        Cause::DscDistress => 5,
        Cause::DscRelay => 6,
        Cause::DscUrgency => 7,
        Cause::DscTest => 8,
        Cause::MobNotice => 9,
        Cause::OverboardMarked => 10,
        Cause::SafetyText => 11,
        Cause::InputSilent => 12,
        Cause::ChannelSilent => 13,
        Cause::SetAlarm => 14,
        Cause::OwnPositionLost => 15,
        Cause::ClockSuspect => 16,
        Cause::LogbookFailed => 17,
        Cause::SounderFailed => 18,
        Cause::OutputFailed => 19,
        Cause::WatchkeeperSilent => 20,
        Cause::ReachReduced => 21,
    }
}

/// What it is called, in 16 characters at most (IEC 62923-2).
const fn title(cause: Cause) -> &'static str {
    match cause {
        Cause::BeaconActive | Cause::OverboardMarked | Cause::MobNotice => "PERSON OVERBOARD",
        Cause::BeaconUnverified => "BEACON IN DOUBT",
        Cause::BeaconTest => "BEACON TEST",
        Cause::BeaconSilent => "BEACON SILENT",
        Cause::DscDistress => "DSC DISTRESS",
        Cause::DscRelay => "DSC RELAY",
        Cause::DscUrgency => "DSC URGENCY",
        Cause::DscTest => "DSC TEST",
        Cause::SafetyText => "SAFETY TEXT",
        Cause::InputSilent => "INPUT LOST",
        Cause::ChannelSilent => "AIS CHANNEL LOST",
        Cause::ReachReduced => "REACH REDUCED",
        Cause::SetAlarm => "AIS SET FAULT",
        Cause::OwnPositionLost => "POSITION LOST",
        Cause::ClockSuspect => "CLOCK IN DOUBT",
        Cause::LogbookFailed => "LOGBOOK FAILED",
        Cause::SounderFailed => "ALARM NOT HEARD",
        Cause::OutputFailed => "OUTPUT FAILED",
        Cause::WatchkeeperSilent => "WATCHKEEPER",
    }
}

const fn priority(priority: Priority) -> char {
    match priority {
        Priority::EmergencyAlarm => 'E',
        Priority::Alarm => 'A',
        Priority::Warning => 'W',
        Priority::Caution => 'C',
    }
}

const fn state(state: State) -> char {
    match state {
        State::ActiveUnacknowledged => 'V',
        State::ActiveSilenced => 'S',
        State::ActiveAcknowledged => 'A',
        State::RectifiedUnacknowledged => 'U',
        State::Normal => 'N',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cause_has_a_number_and_a_title_of_its_own_that_fits() {
        let mut numbers: Vec<u32> = Cause::ALL.iter().map(|it| number(*it)).collect();
        numbers.sort_unstable();
        numbers.dedup();
        assert_eq!(numbers.len(), Cause::ALL.len());
        assert!(Cause::ALL.iter().all(|it| title(*it).len() <= 16));
        assert_eq!([1, 98, 99].map(next), [2, 99, 1]);
        assert_eq!([1, 999_999, 1_000_000].map(|it| instance(AlertId(it))), [1, 999_999, 1]);
    }
}
