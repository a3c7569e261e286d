//! What comes into the watch.

use super::alert::AlertId;
use super::mute::Muted;
use super::part::Part;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, Seas};
use crate::time::Stamp;
use crate::wire::InputId;

/// Everything that can happen to a watch. Each has its time: the watch has no clock.
#[derive(Clone, Copy, Debug)]
pub enum Input<'a> {
    /// A line came in, without its line end.
    Line {
        /// When.
        stamp: Stamp,
        /// By which input.
        input: InputId,
        /// The line.
        bytes: &'a [u8],
    },
    /// Bytes came in that no line end has followed for seconds: only whether the input speaks is
    /// judged by them.
    Unended {
        /// When.
        stamp: Stamp,
        /// By which input.
        input: InputId,
        /// The latest of them.
        bytes: &'a [u8],
    },
    /// An input was opened, for the first time or again.
    Opened {
        /// When.
        stamp: Stamp,
        /// Which.
        input: InputId,
    },
    /// An input broke off or could not be opened.
    Lost {
        /// When.
        stamp: Stamp,
        /// Which.
        input: InputId,
        /// Why, for a person.
        reason: &'a str,
    },
    /// Datagrams of an input were lost before they could be taken.
    Dropped {
        /// When that was noticed.
        stamp: Stamp,
        /// Of which.
        input: InputId,
        /// How many since it was told last, and by whom.
        dropped: Dropped,
    },
    /// Time has passed: at [`super::Watch::next_deadline`], or any time; early calls are harmless.
    Tick {
        /// When.
        stamp: Stamp,
    },
    /// A part around the watch works again, or does not.
    Fault {
        /// When.
        stamp: Stamp,
        /// Which part.
        part: Part,
        /// What is wrong, for a person; `None` when nothing is any more.
        fault: Option<&'a str>,
    },
    /// Somebody did something.
    Command {
        /// When.
        stamp: Stamp,
        /// What.
        command: Command,
    },
}

/// Datagrams that were lost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dropped {
    /// Those that this program had no room for.
    pub by_us: u64,
    /// Those that the system had no room for, as far as it tells.
    pub by_system: u64,
}

/// What the watchkeeper can do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Command {
    /// Take note of it.
    Acknowledge(AlertId),
    /// Stop its sound for 30 s.
    Silence(AlertId),
    /// Say that it is over.
    Resolve(AlertId),
    /// A person went overboard now, here.
    MarkOverboard,
    /// The beacon and the point set by hand whose place it took are two persons.
    Part(Mmsi),
    /// The ship is here: for a boat without a position receiver.
    PlaceShip(Position),
    /// The seas are so high: a search is planned by them.
    Seas(Seas),
    /// Let it raise no alert any more, until [`Self::Unmute`] or a restart; never one of the muster.
    Mute(Muted),
    /// Hear again all that is muted.
    Unmute,
    /// Say that somebody is there and awake; every other command says so too.
    Present,
}

impl Input<'_> {
    /// When it happened.
    pub fn stamp(&self) -> Stamp {
        match *self {
            Self::Line { stamp, .. }
            | Self::Unended { stamp, .. }
            | Self::Opened { stamp, .. }
            | Self::Lost { stamp, .. }
            | Self::Dropped { stamp, .. }
            | Self::Tick { stamp }
            | Self::Fault { stamp, .. }
            | Self::Command { stamp, .. } => stamp,
        }
    }
}
