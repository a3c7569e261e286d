//! What a watch left open, as the next one is told of it.

use super::alert::{Alert, AlertId, Cause, Matter, Priority, State};
use super::declaration::Declaration;
use super::mode::Mode;
use super::rehearsed::Rehearsed;
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::{Mono, Stamp};

/// What a watch before this one left open.
#[derive(Clone, Debug, Default)]
pub struct LeftOpen {
    /// The alerts, in the order they were raised.
    pub alerts: Vec<OpenAlert>,
    /// The beacons behind them.
    pub beacons: Vec<OpenBeacon>,
    /// The highest number an alert has had: numbers go on from there.
    pub last_id: u32,
}

/// An alert that was open.
#[derive(Clone, Debug)]
pub struct OpenAlert {
    /// Its number, which it keeps.
    pub id: AlertId,
    /// The number it had, if that is another's by now and it has a fresh one.
    pub was: Option<AlertId>,
    /// What it is about.
    pub cause: Cause,
    /// How urgent it is.
    pub priority: Priority,
    /// Whether its condition was over and nobody had taken note.
    pub rectified: bool,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// What it says to a person.
    pub text: String,
    /// What makes it the same alert when it comes again; `None` from an entry that does not say so.
    pub matter: Option<Matter>,
    /// When it was raised, by this watch's count.
    pub raised: Mono,
    /// The place that was told with it, last.
    pub place: Option<Position>,
    /// When that was heard, or what else raised it.
    pub heard: Mono,
    /// The line that raised it.
    pub sentence: Option<String>,
    /// How it was rehearsed; `None` if it is real.
    pub rehearsed: Option<Rehearsed>,
    /// The beacon that had taken the place of the point set by hand which it is about.
    pub joined_by: Option<Mmsi>,
}

/// A beacon that was heard.
#[derive(Clone, Debug)]
pub struct OpenBeacon {
    /// Its identity.
    pub mmsi: Mmsi,
    /// What it did.
    pub mode: Mode,
    /// Since when it did that.
    pub since: Stamp,
    /// When it was heard last.
    pub last: Stamp,
    /// Where it was.
    pub position: Option<Position>,
    /// When it was there.
    pub fix_at: Option<Mono>,
    /// Where the ship was when it was heard first.
    pub own_at_first: Option<Position>,
    /// That the operator declared it safe, if that may hold yet.
    pub declared: Option<Declaration>,
    /// The alert of the point set by hand whose place it took.
    pub joined: Option<OpenAlert>,
}

impl From<&Alert> for OpenAlert {
    fn from(alert: &Alert) -> Self {
        Self {
            id: alert.id,
            was: None,
            cause: alert.cause,
            priority: alert.priority,
            rectified: alert.state == State::RectifiedUnacknowledged,
            mmsi: alert.mmsi,
            text: alert.text.clone(),
            matter: Some(alert.matter.clone()),
            raised: alert.raised,
            place: alert.place,
            heard: alert.heard,
            sentence: alert.sentence.clone(),
            rehearsed: alert.rehearsed,
            joined_by: None,
        }
    }
}
