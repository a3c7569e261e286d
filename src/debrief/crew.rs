//! Whose beacon makes calls in the name of a ship: the muster tells.

use std::time::Duration;

use super::heard::Beacon;
use super::log::{LogEntry, Logged};
use crate::mmsi::Mmsi;
use crate::navigation::range_and_bearing;
use crate::units::NauticalMiles;

/// A call is of an incident that is no further away in time than this. Our own.
const SAME_INCIDENT: Duration = Duration::from_secs(30 * 60);

/// Two places no further apart than this may be of one casualty, in nautical miles: a call tells whole
/// minutes. Our own.
const SAME_PLACE: NauticalMiles = NauticalMiles(2.0);

/// A beacon of the muster, for those who call in the name of the ship.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Enrolled {
    /// Its own identity.
    pub mmsi: Mmsi,
    /// Whose it is.
    pub person: Option<String>,
    /// The identity that its DSC part calls with.
    pub dsc_mmsi: Option<Mmsi>,
}

/// Joins calls that were made with the identity of a ship to the beacon of the muster that calls with
/// it: to the one that is heard then and there, else to the only one there is. Persons of beacons that
/// called alone come from the muster.
pub(super) fn join(
    casualties: &mut Vec<Beacon>,
    crew: &[Enrolled],
    log: Option<&mut Vec<LogEntry>>,
) {
    let mut renamed = Vec::new();
    let mut at = 0;
    while let Some(called) = casualties.get(at) {
        let Some(ship) = called.mmsi else {
            at += 1;
            continue;
        };
        let members: Vec<&Enrolled> = crew.iter().filter(|it| it.dsc_mmsi == Some(ship)).collect();
        if ship.beacon_kind().is_some() || members.is_empty() {
            at += 1;
            continue;
        }
        let is_heard = |it: &Beacon| {
            it.mmsi != Some(ship)
                && members.iter().any(|member| Some(member.mmsi) == it.mmsi)
                && same(it, called)
        };
        if let Some(place) = casualties.iter().position(is_heard) {
            let called = casualties.remove(at);
            let place = if place > at { place - 1 } else { place };
            renamed.extend(casualties[place].mmsi.map(|mmsi| (ship, mmsi)));
            casualties[place].join(called);
        } else {
            if let [member] = members.as_slice() {
                renamed.push((ship, member.mmsi));
                casualties[at].mmsi = Some(member.mmsi);
            }
            at += 1;
        }
    }
    for beacon in casualties.iter_mut().filter(|it| it.person.is_none()) {
        let member = crew.iter().find(|it| Some(it.mmsi) == beacon.mmsi);
        beacon.person = member.and_then(|it| it.person.clone());
    }
    for entry in log.into_iter().flatten() {
        entry.what = renamed.iter().fold(entry.what.clone(), Logged::renamed);
    }
}

/// Whether calls may be about a beacon that was heard.
fn same(heard: &Beacon, called: &Beacon) -> bool {
    let (Some(from), Some(until)) = (called.calls.first(), called.calls.last()) else {
        return false;
    };
    let is_near = || {
        let theirs = heard.places().into_iter().next();
        let ours = called.calls.iter().find_map(|it| it.place);
        theirs.zip(ours).is_none_or(|((_, theirs), (_, ours))| {
            range_and_bearing(theirs, ours).0.0 <= SAME_PLACE.0
        })
    };
    let goes_on = heard.off.is_none_or(|off| off >= from.at);
    !heard.messages.is_empty()
        && goes_on
        && heard.is_heard_within(from.at, until.at, SAME_INCIDENT)
        && is_near()
}

impl Logged {
    /// The same about another station, where it is about the first of these.
    fn renamed(self, (from, to): &(Mmsi, Mmsi)) -> Self {
        let of = |mmsi: Mmsi| if mmsi == *from { *to } else { mmsi };
        match self {
            Self::Heard(mmsi) => Self::Heard(of(mmsi)),
            Self::Raised(mmsi) => Self::Raised(of(mmsi)),
            Self::Acknowledged(mmsi) => Self::Acknowledged(of(mmsi)),
            Self::DeclaredOver(mmsi) => Self::DeclaredOver(of(mmsi)),
            Self::Withdrawn(mmsi) => Self::Withdrawn(of(mmsi)),
            Self::Remark { .. } | Self::Correction { .. } => self,
        }
    }
}
