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
//! A caution enters acknowledged and ends in normal: it is never acknowledged.
//!
//! Otherwise than the standard, on purpose: an emergency alarm of IEC 62923-1 (annex G, figure G.1)
//! can be neither acknowledged nor silenced. Here it is like an alarm, because a crew of two must be
//! able to stop the noise and work. A silence ends after 30 s, and what was acknowledged stays in
//! sight until the casualty is dealt with. A person overboard is not named among the emergency alarms
//! of A.1021(26) 3.2; nearest is the "immediate personnel hazard" of 3.2.4.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::part::Part;
use super::rehearsed::Rehearsed;
use super::settings::{EVIDENCE_HOLDS, MESSAGE_LIFETIME, Settings, WARNING_REPEATS};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Mono;
use crate::wire::InputId;

/// The number of an alert, rising from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AlertId(pub u32);

impl AlertId {
    /// Numbers that must be free after one that a watch goes on from: more than it ever gives. A
    /// number in a logbook without that room after it is passed over.
    pub const ROOM: u32 = 1_000_000;
}

/// Priorities, the most urgent last (MSC.302(87) section 6). IMO says in two ways what a warning is:
/// here it asks for attention at once, as there, and not for none, as in A.1021(26) 3.1.3.
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
    /// An input hears nothing on one of the two channels of AIS.
    ChannelSilent,
    /// A beacon would be heard much less far than usual.
    ReachReduced,
    /// An AIS set reports that a part of it does not work, or a beacon that is not heard here.
    SetAlarm,
    /// The ship's own position is not known any more.
    OwnPositionLost,
    /// The clock of the computer and that of the position receiver do not agree, or one stands.
    ClockSuspect,
    /// What happens is not being written down.
    LogbookFailed,
    /// A way to sound an alarm, or to pass one on, does not work.
    SounderFailed,
    /// An output to other equipment does not work, or is too slow.
    OutputFailed,
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
            | Self::SetAlarm
            | Self::ChannelSilent
            | Self::ReachReduced
            | Self::OwnPositionLost
            | Self::ClockSuspect
            | Self::LogbookFailed
            | Self::SounderFailed
            | Self::OutputFailed
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
    /// A DSC distress relay or acknowledgement of this station that does not name the casualty.
    UnnamedRelay(Option<Mmsi>),
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
    /// What the AIS set behind an input reports of itself, by the number of the alarm.
    Set(InputId, u16),
    /// A channel of an input.
    Channel(InputId, char),
    /// How far a beacon would be heard.
    Reach,
    /// The ship's own position.
    OwnPosition,
    /// More beacons than can be followed.
    TooManyBeacons,
    /// More alerts than can be kept.
    TooManyAlerts,
    /// More emergencies of this cause than can be kept one by one.
    TooManyEmergencies(Cause),
    /// The clocks.
    Clock,
    /// A part around the watch.
    Part(Part),
    /// The watchkeeper.
    Watchkeeper,
}

impl Matter {
    /// Whether it is about the muster, the watch or the ship: of these there are only so many. The
    /// texts of a station and the emitters of crew alarms are without number, whoever sends them.
    pub(super) fn is_ours(&self, settings: &Settings) -> bool {
        match self {
            Self::Notice(_) | Self::Text(..) | Self::UnnamedRelay(_) => false,
            Self::Emergency(_)
            | Self::Mode(_)
            | Self::Silent(_)
            | Self::Distress(_)
            | Self::Relay(_)
            | Self::Urgency(_)
            | Self::TestCall(_) => self.station().is_some_and(|mmsi| settings.is_ours(mmsi)),
            Self::Mark(_)
            | Self::Input(_)
            | Self::Set(..)
            | Self::Channel(..)
            | Self::Reach
            | Self::OwnPosition
            | Self::TooManyBeacons
            | Self::TooManyAlerts
            | Self::TooManyEmergencies(_)
            | Self::Clock
            | Self::Part(_)
            | Self::Watchkeeper => true,
        }
    }

    /// The station that it is about, if it names one.
    pub(super) const fn station(&self) -> Option<Mmsi> {
        match self {
            Self::Emergency(mmsi) | Self::Mode(mmsi) | Self::Silent(mmsi) => Some(*mmsi),
            Self::Distress(mmsi)
            | Self::Relay(mmsi)
            | Self::Urgency(mmsi)
            | Self::TestCall(mmsi)
            | Self::Text(mmsi, _) => *mmsi,
            Self::UnnamedRelay(_)
            | Self::Notice(_)
            | Self::Mark(_)
            | Self::Input(_)
            | Self::Set(..)
            | Self::Channel(..)
            | Self::Reach
            | Self::OwnPosition
            | Self::TooManyBeacons
            | Self::TooManyAlerts
            | Self::TooManyEmergencies(_)
            | Self::Clock
            | Self::Part(_)
            | Self::Watchkeeper => None,
        }
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
#[derive(Clone, Debug, Serialize)]
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
    #[serde(rename = "raised_at_s")]
    pub raised: Mono,
    /// How often an unacknowledged warning was repeated.
    pub repeats: u32,
    /// The line that raised it, if it was one; what is no text in it is replaced.
    pub sentence: Option<String>,
    /// What makes it the same alert when it comes again.
    pub matter: Matter,
    /// How it was rehearsed; `None` if it is real.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rehearsed: Option<Rehearsed>,
    /// The place that was told with it: by a call or notice, or by hand.
    #[serde(skip)]
    pub(super) place: Option<Position>,
    /// When that was heard, or what else raised it: before it was raised, if a station passed it on
    /// late.
    #[serde(skip)]
    pub(super) heard: Mono,
    /// The input that alone has heard it; `None` if several have, or none in this watch.
    #[serde(skip)]
    pub heard_by: Option<InputId>,
    /// When a silenced one sounds again.
    #[serde(skip)]
    pub(super) silent_until: Option<Mono>,
    /// When an unacknowledged warning is repeated next: counted from the raise (IEC 62923-1
    /// 6.3.5), or as soon as it is silent no more.
    #[serde(skip)]
    pub(super) repeated_at: Option<Mono>,
    /// When the condition ends by itself, if it does.
    #[serde(skip)]
    pub(super) expires_at: Option<Mono>,
}

impl Alert {
    /// Whether its condition is still there.
    pub fn is_active(&self) -> bool {
        !matches!(self.state, State::RectifiedUnacknowledged | State::Normal)
    }

    /// Whether somebody may be in danger by it.
    pub(super) fn is_grave(&self) -> bool {
        self.is_active() && self.cause.is_about_people() && self.priority >= Priority::Alarm
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
    pub(super) fn repetition_due(&self) -> Option<Mono> {
        self.repeated_at.filter(|_| self.silent_until.is_none())
    }
}
