//! A point set by hand: where and when somebody went over the side.

use std::time::Duration;

use super::alert::Alert;
use super::casualty::{Casualty, CasualtyId};
use super::trail::Trail;
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::{Mono, Stamp};

/// After this a person whose point was set by hand is searched for. Our own.
const TURN_BACK_FIRST: Duration = Duration::from_secs(2 * 60);

/// A point set by hand.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    pub number: u16,
    pub at: Stamp,
    /// Where the ship was then; `None` if nobody knew.
    pub position: Option<Position>,
    pub trail: Trail,
    /// The beacon from which a person has parted it: it is another person's.
    pub not_of: Option<Mmsi>,
}

/// A point whose place a beacon has taken.
#[derive(Clone, Debug)]
pub(super) struct Joined {
    pub mark: Mark,
    /// Its alert as it stood before.
    pub alert: Alert,
    /// Where the ship was when the beacon was heard first, which the point's place stands for.
    pub own_at_first: Option<Position>,
}

impl Mark {
    pub(super) fn new(number: u16, at: Stamp, position: Option<Position>) -> Self {
        Self { number, at, position, trail: Trail::default(), not_of: None }
    }

    /// When it was set, as evidence.
    pub(super) fn words(&self) -> String {
        format!("marked by hand at {}", self.at.utc.clock())
    }
}

impl Casualty for Mark {
    fn id(&self) -> CasualtyId {
        CasualtyId::Mark(self.number)
    }

    fn trail(&self) -> &Trail {
        &self.trail
    }

    fn trail_mut(&mut self) -> &mut Trail {
        &mut self.trail
    }

    fn position(&self) -> Option<Position> {
        self.position
    }

    fn fix_at(&self) -> Option<Mono> {
        Some(self.at.at)
    }

    fn heard(&self) -> Option<(Stamp, Stamp)> {
        Some((self.at, self.at))
    }

    fn is_casualty(&self) -> bool {
        true
    }

    fn unheard_since(&self) -> Option<Mono> {
        Some(self.at.at)
    }

    /// Whoever has just gone over is not searched for: one turns back.
    fn searched_from(&self) -> Option<Mono> {
        Some(self.at.at + TURN_BACK_FIRST)
    }
}
