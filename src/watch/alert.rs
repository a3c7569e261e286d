//! Alerts after bridge alert management (IMO MSC.302(87), IEC 62923): priorities, states and what
//! moves between them.
//!
//! ```text
//!            raise                    acknowledge
//!  normal ─────────▶ active, unack. ─────────────▶ active, acknowledged
//!    ▲                │  ▲   │ rectify                   │ rectify
//!    │        silence ▼  │30 s                           ▼
//!    │          active, silenced                      normal
//!    │                │ rectify
//!    └── acknowledge ─┴─▶ rectified, unack.    (raise: active, unack. again)
//! ```
//! A caution enters acknowledged and ends in normal: it is never acknowledged. An emergency alarm
//! is acknowledged like an alarm.

use std::cmp::Reverse;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::part::Part;
use super::settings::{
    ALERTS_LIMIT, EVIDENCE_HOLDS, MESSAGE_LIFETIME, TEMPORARY_SILENCE, WARNING_REPEATS,
};
use crate::mmsi::Mmsi;
use crate::time::Mono;
use crate::wire::InputId;

/// The number of an alert, rising from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AlertId(pub u32);

/// Priorities, the most urgent last (MSC.302(87) section 6).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Priority {
    /// Something out of the ordinary.
    Caution,
    /// Something that may become hazardous.
    Warning,
    /// Something that needs action at once.
    Alarm,
    /// Somebody's life is in danger.
    EmergencyAlarm,
}

/// States (MSC.302(87) section 7; names of IEC 62923-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// It sounds and flashes.
    ActiveUnacknowledged,
    /// It flashes and is silent for 30 s.
    ActiveSilenced,
    /// Somebody has taken note.
    ActiveAcknowledged,
    /// It is over and nobody took note.
    RectifiedUnacknowledged,
    /// It is over.
    Normal,
}

/// What an alert is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// A survivor beacon is active.
    BeaconActive,
    /// A beacon's identity was heard, and not what it means.
    BeaconUnverified,
    /// A beacon is being tested.
    BeaconTest,
    /// A beacon that was active is not heard any more.
    BeaconSilent,
    /// A DSC distress alert.
    DscDistress,
    /// A DSC distress relay or acknowledgement.
    DscRelay,
    /// A DSC urgency call.
    DscUrgency,
    /// A DSC test call.
    DscTest,
    /// A crew alarm on board told of a person overboard.
    MobNotice,
    /// Somebody set the point by hand where a person went overboard.
    OverboardMarked,
    /// A safety text came in.
    SafetyText,
    /// An input is silent, lost or noisy.
    InputSilent,
    /// The ship's own position is not known any more.
    OwnPositionLost,
    /// The clock of the computer and that of the position receiver do not agree, or one stands.
    ClockSuspect,
    /// What happens is not being written down.
    LogbookFailed,
    /// A way to sound an alarm, or to pass one on, does not work.
    SounderFailed,
    /// The watchkeeper did not answer.
    WatchkeeperSilent,
}

/// Whom an alert concerns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// People: it goes on over a restart.
    People,
    /// The watch or the ship: after a restart it is found again, or not.
    Things,
}

/// What ends the condition of an alert. The operator's word always does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// OFF, CANCEL or a DSC cancel; for a mode below an emergency, another mode.
    ByWord,
    /// What was wrong is right again.
    Rectified,
    /// It was not seen again for this long; an emergency never ends so.
    After(Duration),
}

/// How an alert of one cause is dealt with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Policy {
    /// Whom it concerns.
    pub about: About,
    /// What ends it.
    pub ends: Ends,
}

impl Cause {
    /// How an alert of this cause is dealt with.
    pub const fn policy(self) -> Policy {
        use About::{People, Things};
        use Ends::{After, ByWord, Rectified};
        let (about, ends) = match self {
            Self::BeaconActive
            | Self::BeaconUnverified
            | Self::DscDistress
            | Self::DscRelay
            | Self::OverboardMarked => (People, ByWord),
            Self::BeaconSilent => (People, Rectified),
            Self::BeaconTest => (People, After(EVIDENCE_HOLDS)),
            Self::DscUrgency | Self::DscTest | Self::MobNotice | Self::SafetyText => {
                (People, After(MESSAGE_LIFETIME))
            }
            Self::InputSilent
            | Self::OwnPositionLost
            | Self::ClockSuspect
            | Self::LogbookFailed
            | Self::SounderFailed
            | Self::WatchkeeperSilent => (Things, Rectified),
        };
        Policy { about, ends }
    }

    /// Whether an alert of this cause is about people, and so goes on over a restart.
    pub const fn is_about_people(self) -> bool {
        matches!(self.policy().about, About::People)
    }

    /// How long its condition counts without being seen again; for ever if `None`.
    pub(super) fn lifetime(self, priority: Priority) -> Option<Duration> {
        match self.policy().ends {
            Ends::After(span) if priority < Priority::EmergencyAlarm => Some(span),
            Ends::After(_) | Ends::ByWord | Ends::Rectified => None,
        }
    }
}

/// What an alert is about: two about the same matter are one. It is written into the logbook and
/// read back by later versions, so variants are added and none is renamed or given other fields.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Matter {
    /// A beacon's emergency.
    Emergency(Mmsi),
    /// A beacon's mode below an emergency.
    Mode(Mmsi),
    /// A beacon that is not heard any more.
    Silent(Mmsi),
    /// A DSC distress alert for this casualty.
    Distress(Option<Mmsi>),
    /// A DSC distress relay or acknowledgement for this casualty.
    Relay(Option<Mmsi>),
    /// A DSC urgency call of this station.
    Urgency(Option<Mmsi>),
    /// A DSC test call of this station.
    TestCall(Option<Mmsi>),
    /// A crew alarm's emitter, as its sentence calls it.
    Notice(Option<String>),
    /// A point set by hand.
    Mark(u16),
    /// A station and the text it sent.
    Text(Option<Mmsi>, String),
    /// An input.
    Input(InputId),
    /// The ship's own position.
    OwnPosition,
    /// More beacons than can be followed.
    TooManyBeacons,
    /// The clocks.
    Clock,
    /// A part around the watch.
    Part(Part),
    /// The watchkeeper.
    Watchkeeper,
}

impl Matter {
    /// About the watch or the ship herself: of these there are only so many.
    const fn is_of_ship(&self) -> bool {
        matches!(
            self,
            Self::Input(_)
                | Self::OwnPosition
                | Self::TooManyBeacons
                | Self::Clock
                | Self::Part(_)
                | Self::Watchkeeper
        )
    }

    /// The alerts of one casualty, by beacon and by DSC: one incident.
    pub(super) const fn of_incident(mmsi: Mmsi) -> [Self; 5] {
        let call = Some(mmsi);
        [
            Self::Emergency(mmsi),
            Self::Mode(mmsi),
            Self::Silent(mmsi),
            Self::Distress(call),
            Self::Relay(call),
        ]
    }
}

/// One alert.
#[derive(Clone, Debug)]
pub struct Alert {
    /// Its number.
    pub id: AlertId,
    /// What it is about.
    pub cause: Cause,
    /// How urgent it is.
    pub priority: Priority,
    /// How far it has been dealt with.
    pub state: State,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// What it says to a person.
    pub text: String,
    /// When it was raised.
    pub raised: Mono,
    /// How often an unacknowledged warning was repeated.
    pub repeats: u32,
    /// The line that raised it, if it was one; what is no text in it is replaced.
    pub sentence: Option<String>,
    /// What makes it the same alert when it comes again.
    pub matter: Matter,
    /// When a silenced one sounds again.
    pub(super) silent_until: Option<Mono>,
    /// When an unacknowledged warning is repeated next: counted from the raise (IEC 62923-1
    /// 6.3.5), or as soon as it is silent no more.
    pub(super) repeated_at: Option<Mono>,
    /// When the condition ends by itself, if it does.
    pub(super) expires_at: Option<Mono>,
}

/// What an alert is raised with.
#[derive(Clone, Debug)]
pub(super) struct Raise {
    pub matter: Matter,
    pub cause: Cause,
    pub priority: Priority,
    pub mmsi: Option<Mmsi>,
    pub text: String,
    /// Somebody took note of the same incident by another alert.
    pub acknowledged: bool,
}

impl Raise {
    /// An alert about the watch or the ship herself, which stands until it is rectified.
    pub(super) const fn of_ship(
        matter: Matter,
        cause: Cause,
        priority: Priority,
        text: String,
    ) -> Self {
        Self { matter, cause, priority, mmsi: None, text, acknowledged: false }
    }
}

/// The open alerts, in the order they were raised.
#[derive(Debug, Default)]
pub(super) struct Alerts {
    open: Vec<Alert>,
    raised: u32,
    /// Alerts whose state or priority changed, to be told.
    changed: Vec<Alert>,
    /// The line that is being taken.
    line: Vec<u8>,
}

impl Alerts {
    pub(super) fn open(&self) -> &[Alert] {
        &self.open
    }

    /// What is raised from now on is raised by this line; by none if it is empty.
    pub(super) fn by_line(&mut self, line: &[u8]) {
        self.line.clear();
        self.line.extend_from_slice(line);
    }

    /// The line that is being taken.
    pub(super) fn line(&self) -> &[u8] {
        &self.line
    }

    /// How many were raised since the beginning.
    pub(super) fn raised(&self) -> u32 {
        self.raised
    }

    /// Numbers go on from this one.
    pub(super) fn count_from(&mut self, last: u32) {
        self.raised = self.raised.max(last);
    }

    /// Puts an alert back that was open before.
    pub(super) fn put_back(&mut self, alert: Alert) {
        if self.open.len() < ALERTS_LIMIT && self.get(&alert.matter).is_none() {
            self.changed.push(alert.clone());
            if alert.state != State::Normal {
                self.open.push(alert);
            }
        }
    }

    pub(super) fn get(&self, matter: &Matter) -> Option<&Alert> {
        self.open.iter().find(|alert| alert.matter == *matter)
    }

    /// Raises an alert, or sees the condition of an open one again: its priority may rise, and one
    /// that was rectified is active again.
    ///
    /// At the limit one that is about the muster (`ours`) or the ship herself is raised all the
    /// same: of these there are only so many.
    pub(super) fn raise(&mut self, raise: Raise, ours: bool, now: Mono) {
        if self.get(&raise.matter).is_some_and(|alert| alert.cause != raise.cause) {
            self.end(&raise.matter);
        }
        let expires_at = |priority| raise.cause.lifetime(priority).map(|span| now + span);
        if let Some(alert) = self.open.iter_mut().find(|alert| alert.matter == raise.matter) {
            // What stands until somebody ends it is not shortened by a lesser sign; what was over
            // begins anew.
            if alert.is_active() {
                alert.expires_at = alert.expires_at.and(expires_at(raise.priority));
            } else {
                alert.expires_at = expires_at(raise.priority.max(alert.priority));
            }
            let rises = raise.priority > alert.priority;
            if raise.priority >= alert.priority {
                alert.text = raise.text;
            }
            if rises || alert.state == State::RectifiedUnacknowledged {
                alert.priority = alert.priority.max(raise.priority);
                alert.enter(now);
                self.changed.push(alert.clone());
            }
            return;
        }
        self.make_room(raise.priority);
        let few = ours || raise.matter.is_of_ship();
        if self.open.len() >= ALERTS_LIMIT && !few {
            return;
        }
        self.raised += 1;
        let mut alert = Alert {
            id: AlertId(self.raised),
            cause: raise.cause,
            priority: raise.priority,
            state: State::Normal,
            mmsi: raise.mmsi,
            text: raise.text,
            raised: now,
            repeats: 0,
            sentence: (!self.line.is_empty())
                .then(|| String::from_utf8_lossy(&self.line).into_owned()),
            matter: raise.matter,
            silent_until: None,
            repeated_at: None,
            expires_at: expires_at(raise.priority),
        };
        alert.enter(now);
        if raise.acknowledged {
            (alert.state, alert.repeated_at) = (State::ActiveAcknowledged, None);
        }
        self.changed.push(alert.clone());
        self.open.push(alert);
    }

    /// The condition is over: an alert nobody took note of stays until somebody does.
    pub(super) fn rectify(&mut self, matter: &Matter) {
        self.change(
            |alert| alert.matter == *matter,
            |alert| {
                alert.state = match alert.state {
                    State::ActiveAcknowledged => State::Normal,
                    _ => State::RectifiedUnacknowledged,
                };
            },
        );
    }

    /// Ends an alert whatever its state: another takes its place.
    pub(super) fn end(&mut self, matter: &Matter) {
        self.change(|alert| alert.matter == *matter, |alert| alert.state = State::Normal);
    }

    /// One incident has one emergency: once that of a beacon is open, the calls' alerts for the same
    /// casualty end.
    pub(super) fn give_way_to_beacon(&mut self, mmsi: Mmsi) {
        if self.get(&Matter::Emergency(mmsi)).is_some_and(Alert::is_active) {
            self.end(&Matter::Distress(Some(mmsi)));
            self.end(&Matter::Relay(Some(mmsi)));
        }
    }

    /// Somebody takes note. A caution needs no acknowledgement.
    pub(super) fn acknowledge(&mut self, id: AlertId) {
        self.change(
            |alert| alert.id == id,
            |alert| {
                alert.state = match alert.state {
                    State::RectifiedUnacknowledged | State::Normal => State::Normal,
                    _ => State::ActiveAcknowledged,
                };
            },
        );
    }

    /// Stops the sound for 30 s.
    pub(super) fn silence(&mut self, id: AlertId, now: Mono) {
        self.change(
            |alert| alert.id == id,
            |alert| {
                if alert.state == State::ActiveUnacknowledged {
                    alert.state = State::ActiveSilenced;
                    alert.silent_until = Some(now + TEMPORARY_SILENCE);
                }
            },
        );
    }

    /// The operator says it is over: noted and rectified at once.
    pub(super) fn resolve(&mut self, id: AlertId) -> Option<Matter> {
        let matter = self.open.iter().find(|alert| alert.id == id)?.matter.clone();
        self.end(&matter);
        Some(matter)
    }

    /// Does what is due by now.
    pub(super) fn tick(&mut self, now: Mono) {
        let over = |alert: &Alert| alert.expires_at.is_some_and(|until| until <= now);
        let ended = self.open.iter().filter(|alert| over(alert)).map(|alert| alert.matter.clone());
        for matter in ended.collect::<Vec<_>>() {
            self.rectify(&matter);
        }
        for alert in &mut self.open {
            if alert.silent_until.is_some_and(|until| until <= now) {
                (alert.state, alert.silent_until) = (State::ActiveUnacknowledged, None);
                self.changed.push(alert.clone());
            }
            if let Some(at) = alert.repetition_due().filter(|&at| at <= now) {
                alert.repeats = alert.repeats.saturating_add(1);
                alert.repeated_at = Some(at + WARNING_REPEATS);
            }
        }
    }

    /// When [`Self::tick`] has something to do next.
    pub(super) fn next_deadline(&self) -> Option<Mono> {
        let times = |alert: &Alert| [alert.silent_until, alert.repetition_due(), alert.expires_at];
        self.open.iter().flat_map(times).flatten().min()
    }

    /// What changed since the last call, in order.
    pub(super) fn take_changed(&mut self) -> Vec<Alert> {
        std::mem::take(&mut self.changed)
    }

    fn change(&mut self, which: impl Fn(&Alert) -> bool, how: impl FnOnce(&mut Alert)) {
        let Some(place) = self.open.iter().position(which) else { return };
        let alert = &mut self.open[place];
        let before = alert.state;
        how(alert);
        if alert.state == before {
            return;
        }
        if alert.state != State::ActiveSilenced {
            (alert.silent_until, alert.repeated_at) = (None, None);
        }
        if !alert.is_active() {
            alert.expires_at = None;
        }
        self.changed.push(alert.clone());
        if alert.state == State::Normal {
            self.open.remove(place);
        }
    }

    /// At the limit, what is over gives way to what is as urgent, and what is not over to what is
    /// more urgent; of equals the latest.
    fn make_room(&mut self, priority: Priority) {
        let over = |alert: &Alert| !alert.is_active() && alert.priority <= priority;
        let gives_way = |alert: &&Alert| over(alert) || alert.priority < priority;
        let rank = |alert: &&Alert| (alert.priority, alert.is_active(), Reverse(alert.id));
        while self.open.len() >= ALERTS_LIMIT {
            let least = self.open.iter().filter(gives_way).min_by_key(rank);
            let Some(matter) = least.map(|alert| alert.matter.clone()) else { return };
            self.end(&matter);
        }
    }
}

impl Alert {
    /// Whether its condition is still there.
    pub fn is_active(&self) -> bool {
        !matches!(self.state, State::RectifiedUnacknowledged | State::Normal)
    }

    pub(super) fn enter(&mut self, now: Mono) {
        self.silent_until = None;
        (self.state, self.repeated_at) = match self.priority {
            Priority::Caution => (State::ActiveAcknowledged, None),
            Priority::Warning => (State::ActiveUnacknowledged, Some(now + WARNING_REPEATS)),
            _ => (State::ActiveUnacknowledged, None),
        };
    }

    /// When it is to be repeated, unless it is silent until after that.
    fn repetition_due(&self) -> Option<Mono> {
        self.repeated_at.filter(|_| self.silent_until.is_none())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Mono {
        Mono::from_micros(seconds * 1_000_000)
    }

    fn raised(priority: Priority) -> Alerts {
        let mut alerts = Alerts::default();
        let cause = Cause::BeaconUnverified;
        let (matter, text) = (Matter::OwnPosition, String::new());
        alerts.raise(
            Raise { matter, cause, priority, mmsi: None, text, acknowledged: false },
            false,
            at(0),
        );
        alerts
    }

    fn states(alerts: &mut Alerts) -> Vec<State> {
        alerts.take_changed().iter().map(|alert| alert.state).collect()
    }

    /// Transitions of standards.md 2.4: rows P of MSC.302(87) 7.3 and MSC.252(83) 20.2, the rest
    /// IEC 62923-1 from memory, confirmed by type-approved equipment (addenda 2.4).
    #[test]
    fn every_transition_of_an_alarm() {
        use State::*;
        let id = AlertId(1);
        let mut alerts = raised(Priority::Alarm);
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged]);
        alerts.silence(id, at(10));
        assert_eq!(states(&mut alerts), [ActiveSilenced]);
        alerts.tick(at(39));
        assert_eq!(states(&mut alerts), []);
        alerts.tick(at(40));
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged]);
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [RectifiedUnacknowledged]);
        alerts.acknowledge(id);
        assert_eq!(states(&mut alerts), [Normal]);

        let mut alerts = raised(Priority::Alarm);
        alerts.acknowledge(id);
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged, ActiveAcknowledged, Normal]);
        assert!(alerts.open().is_empty());
    }

    #[test]
    fn a_caution_enters_acknowledged_and_ends_in_normal() {
        let mut alerts = raised(Priority::Caution);
        alerts.silence(AlertId(1), at(1));
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [State::ActiveAcknowledged, State::Normal]);
    }

    #[test]
    fn an_unacknowledged_warning_is_repeated_and_does_not_change() {
        let mut alerts = raised(Priority::Warning);
        alerts.tick(at(60));
        alerts.tick(at(120));
        assert_eq!(states(&mut alerts), [State::ActiveUnacknowledged]);
        assert_eq!(alerts.open()[0].repeats, 2);
        alerts.acknowledge(AlertId(1));
        assert_eq!(alerts.next_deadline(), None);
    }

    /// Who silences it again and again does not put the repetition off.
    #[test]
    fn repetitions_count_from_the_raise() {
        let mut alerts = raised(Priority::Warning);
        for second in 0..=240 {
            alerts.tick(at(second));
            alerts.silence(AlertId(1), at(second));
        }
        // Silent from 0, 30, 60 … on: what fell due in a silence comes at its end.
        assert_eq!(alerts.open()[0].repeats, 4);

        let mut alerts = raised(Priority::Warning);
        alerts.silence(AlertId(1), at(50));
        alerts.tick(at(60));
        assert_eq!((alerts.open()[0].repeats, alerts.next_deadline()), (0, Some(at(80))));
        alerts.tick(at(80));
        assert_eq!((alerts.open()[0].repeats, alerts.next_deadline()), (1, Some(at(120))));
    }
}
