//! Priorities and states as they are read on the screen, beside the words that any front end has.

pub(super) use crate::advice::{age, identity, magnetic, minutes, name, relative, short_age, side};
use crate::watch::{Priority, State};

/// A priority in a column of nine.
pub(super) fn priority(priority: Priority) -> &'static str {
    match priority {
        Priority::EmergencyAlarm => "EMERGENCY",
        Priority::Alarm => "ALARM",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    }
}

/// How far an alert has been dealt with.
pub(super) fn state(state: State, priority: Priority) -> &'static str {
    match state {
        State::ActiveUnacknowledged => "not ackn.",
        State::ActiveSilenced => "silenced",
        State::ActiveAcknowledged if priority == Priority::Caution => "",
        State::ActiveAcknowledged => "ackn.",
        State::RectifiedUnacknowledged => "over, not ackn.",
        State::Normal => "over",
    }
}
