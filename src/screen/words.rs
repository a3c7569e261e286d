//! The words of the screen, beside those that any front end has.

pub(super) use crate::advice::{age, identity, minutes, name, relative, short_age, side};
use crate::watch::{Priority, State};

/// How far an alert has been dealt with; nothing of a caution, which asks for no acknowledgement.
pub(super) fn state(state: State, priority: Priority) -> &'static str {
    match state {
        State::ActiveAcknowledged if priority == Priority::Caution => "",
        state => state.name(),
    }
}
