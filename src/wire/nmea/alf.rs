//! ALF: an alert of bridge alert management (IEC 61162-1 8.3.14).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// `$--ALF,x,x,x,hhmmss.ss,a,a,a,aaa,x.x,x.x,x.x,x,c--c*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alf {
    /// How many sentences it has, 1 or 2.
    pub total: Option<u16>,
    /// Which this is: the first has the title, the second a longer text.
    pub number: Option<u16>,
    /// What joins the two, 0 to 9.
    pub sequence: Option<u16>,
    /// When it changed.
    pub time: Option<TimeOfDay>,
    /// How it is dealt with: `A`, `B` or `C`.
    pub category: Option<char>,
    /// How urgent it is; `None` in a second sentence.
    pub priority: Option<AlfPriority>,
    /// How far it has been dealt with; `None` in a second sentence.
    pub state: Option<AlfState>,
    /// The maker, if the number is one of its own.
    pub manufacturer: Option<String>,
    /// The number of the kind of alert, up to seven digits.
    pub alert: Option<u32>,
    /// Which of several of that kind.
    pub instance: Option<u32>,
    /// Counts its changes, 1 to 99 and again from 1.
    pub revision: Option<u16>,
    /// How often it has grown more urgent.
    pub escalation: Option<u16>,
    /// Title or text.
    pub text: Option<String>,
}

/// The priority in an ALF.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AlfPriority {
    /// `E`.
    EmergencyAlarm,
    /// `A`.
    Alarm,
    /// `W`.
    Warning,
    /// `C`.
    Caution,
}

/// The state in an ALF.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AlfState {
    /// `V`.
    ActiveUnacknowledged,
    /// `S`.
    ActiveSilenced,
    /// `A`.
    ActiveAcknowledged,
    /// `O`: somebody else answers for it.
    ActiveTransferred,
    /// `U`.
    RectifiedUnacknowledged,
    /// `N`.
    Normal,
}

impl Alf {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            total: field::small(&mut fields),
            number: field::small(&mut fields),
            sequence: field::small(&mut fields),
            time: field::time_of_day(&mut fields),
            category: field::letter(&mut fields),
            priority: match fields.take() {
                Some(b"E") => Some(AlfPriority::EmergencyAlarm),
                Some(b"A") => Some(AlfPriority::Alarm),
                Some(b"W") => Some(AlfPriority::Warning),
                Some(b"C") => Some(AlfPriority::Caution),
                _ => None,
            },
            state: match fields.take() {
                Some(b"V") => Some(AlfState::ActiveUnacknowledged),
                Some(b"S") => Some(AlfState::ActiveSilenced),
                Some(b"A") => Some(AlfState::ActiveAcknowledged),
                Some(b"O") => Some(AlfState::ActiveTransferred),
                Some(b"U") => Some(AlfState::RectifiedUnacknowledged),
                Some(b"N") => Some(AlfState::Normal),
                _ => None,
            },
            manufacturer: field::text(&mut fields),
            alert: field::whole(&mut fields),
            instance: field::whole(&mut fields),
            revision: field::small(&mut fields),
            escalation: field::small(&mut fields),
            text: field::text(&mut fields),
        })
    }
}
