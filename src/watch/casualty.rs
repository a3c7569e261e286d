//! Who is to be found: the bearer of a beacon, or the person whose point was set by hand. What the
//! two share is asked for here.

use std::time::Duration;

use serde::Serialize;

use super::Watch;
use super::alert::{Alert, Matter};
use super::trail::Trail;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, Velocity};
use crate::time::{Mono, Stamp};

/// Which casualty.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CasualtyId {
    /// The one behind this beacon.
    Beacon(Mmsi),
    /// The one whose point was set by hand, by its number.
    Mark(u16),
}

impl CasualtyId {
    /// The beacon's identity, or the number of the point.
    pub fn parts(self) -> (Option<Mmsi>, Option<u16>) {
        match self {
            Self::Beacon(mmsi) => (Some(mmsi), None),
            Self::Mark(number) => (None, Some(number)),
        }
    }
}

impl Alert {
    /// The casualty it is about, if it is about one.
    pub fn casualty(&self) -> Option<CasualtyId> {
        match self.matter {
            Matter::Mark(number) => Some(CasualtyId::Mark(number)),
            _ => self.mmsi.map(CasualtyId::Beacon),
        }
    }
}

/// Somebody to be found.
pub(super) trait Casualty {
    /// Which.
    fn id(&self) -> CasualtyId;
    /// Where it goes.
    fn trail(&self) -> &Trail;
    /// The same, to be moved on.
    fn trail_mut(&mut self) -> &mut Trail;
    /// Where it was last.
    fn position(&self) -> Option<Position>;
    /// When it was there, as far as that is known.
    fn fix_at(&self) -> Option<Mono>;
    /// When it was heard first in its mode, and last; for a point, when it was set. `None` if it was
    /// never heard.
    fn heard(&self) -> Option<(Stamp, Stamp)>;
    /// Whether somebody may be in the water.
    fn is_casualty(&self) -> bool;
    /// Since when nothing tells where it is: from then on its place is reckoned.
    fn unheard_since(&self) -> Option<Mono>;
    /// When it may be searched for at the soonest.
    fn searched_from(&self) -> Option<Mono>;

    /// Where to steer for now, and how it moves over ground: the datum, or the last position carried
    /// on by the drift if that is known.
    fn target(&self, now: Mono) -> Option<(Position, Option<Velocity>)> {
        if let Some(datum) = &self.trail().datum {
            return Some((datum.position_at(now), Some(datum.velocity)));
        }
        let position = self.position()?;
        let Some(drift) = self.trail().drift() else { return Some((position, None)) };
        let carried = match self.fix_at() {
            Some(at) if now.since(at) > Duration::ZERO => {
                drift.velocity.over(now.since(at)).from(position)
            }
            _ => position,
        };
        Some((carried, Some(drift.velocity)))
    }

    /// When its datum is to be told next, if it is one to be told of and nothing comes in after `fed`.
    fn datum_due(&self, fed: Mono) -> Option<Mono> {
        let from = self.unheard_since().filter(|_| self.is_casualty())?;
        self.position().map(|_| self.trail().due(from, fed))
    }
}

impl Watch {
    /// All that were heard, and all points set by hand.
    pub(super) fn casualties(&self) -> impl Iterator<Item = &dyn Casualty> {
        let beacons = self.beacons.iter().map(|it| it as &dyn Casualty);
        beacons.chain(self.marks.iter().map(|it| it as &dyn Casualty))
    }

    /// The same, to be moved on.
    pub(super) fn casualties_mut(&mut self) -> impl Iterator<Item = &mut dyn Casualty> {
        let beacons = self.beacons.iter_mut().map(|it| it as &mut dyn Casualty);
        beacons.chain(self.marks.iter_mut().map(|it| it as &mut dyn Casualty))
    }
}
