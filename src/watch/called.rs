//! One of the crew who has called by DSC and whose beacon is not heard: somebody to be found, from
//! the first second, like whoever is heard by AIS.

use super::Watch;
use super::alert::{Alert, Cause, Priority};
use super::casualty::{Casualty, CasualtyId};
use super::joined::JOINS_NEARER;
use super::trail::Trail;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Stamp, Utc};

/// A call that stands open. It has no memory of its own: all of it is in the alert.
pub(super) struct Called {
    mmsi: Mmsi,
    at: Stamp,
    position: Option<Position>,
    trail: Trail,
}

impl Casualty for Called {
    fn id(&self) -> CasualtyId {
        CasualtyId::Beacon(self.mmsi)
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
        self.position.map(|_| self.at.at)
    }

    fn heard(&self) -> Option<(Stamp, Stamp)> {
        Some((self.at, self.at))
    }

    fn is_casualty(&self) -> bool {
        true
    }

    fn unheard_since(&self) -> Option<Mono> {
        None
    }

    fn searched_from(&self) -> Option<Mono> {
        None
    }
}

impl Watch {
    /// The man-overboard calls of the crew that stand open: by the identity of a beacon of the
    /// muster, or by the ship's, which beacons with DSC have programmed into them.
    pub(super) fn called(&self, now: Stamp) -> impl Iterator<Item = Called> {
        let of_crew = move |alert: &Alert| {
            let overboard = alert.cause == Cause::DscDistress
                && alert.priority == Priority::EmergencyAlarm
                && alert.is_active();
            let mmsi = alert.mmsi.filter(|mmsi| overboard && self.settings.is_ours(*mmsi))?;
            let ago = now.at.since(alert.heard).as_millis() as i64;
            let utc = Utc::from_unix_ms(now.utc.unix_ms() - ago).unwrap_or(now.utc);
            let at = Stamp { at: alert.heard, utc };
            Some(Called { mmsi, at, position: alert.place, trail: Trail::default() })
        };
        self.alerts.open().iter().filter_map(of_crew)
    }

    /// Whether somebody of the crew who is in danger already, and whose place is given, may have made
    /// that call: whoever has its identity, and whoever is not known to be elsewhere.
    pub(super) fn is_known(
        &self,
        call: &Called,
        mut others: impl Iterator<Item = (CasualtyId, Option<Position>)>,
    ) -> bool {
        let near = |place: Option<Position>| match place.zip(call.position) {
            Some((here, there)) => range_and_bearing(here, there).0 <= JOINS_NEARER,
            None => true,
        };
        others.any(|(id, place)| id == call.id() || (!self.is_strangers(id) && near(place)))
    }
}
