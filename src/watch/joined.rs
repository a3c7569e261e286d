//! A point set by hand and a beacon that are taken for one person: when, and how a person parts them
//! again.

use std::time::Duration;

use super::Watch;
use super::alert::{Alert, Cause, Matter};
use super::beacon::Beacon;
use super::left_open::OpenAlert;
use super::mark::{Joined, Mark};
use crate::mmsi::Mmsi;
use crate::navigation::range_and_bearing;
use crate::time::{Stamp, Utc};
use crate::units::NauticalMiles;

/// A beacon of the muster takes over a point that was set no longer ago than this: a beacon may be
/// slow to float free, and a person slow to switch it on. Our own.
const JOINS_WITHIN: Duration = Duration::from_secs(30 * 60);

/// And no further from it than this, if the beacon knows where it is. Our own.
pub(super) const JOINS_NEARER: NauticalMiles = NauticalMiles(2.0);

impl Watch {
    /// A beacon of the muster is ACTIVE: if a point was set lately and nearby, and not after the
    /// beacon's first alarm, it is the same person. The beacon's emergency takes the place of the
    /// point's, and keeps the place where it happened. Whatever is less than an emergency may end by
    /// itself, and the person would be forgotten with it.
    pub(super) fn join_mark(&mut self, mmsi: Mmsi) {
        let now = self.now.at;
        // A rehearsed one is nobody who was really seen to fall.
        let ours = |it: &&mut Beacon| it.in_muster && it.origin.rehearsed().is_none();
        let Some(beacon) = self.beacons.find(mmsi).filter(ours) else { return };
        let emergency = matches!(beacon.alert(), Some((Cause::BeaconActive, _)));
        let Some(active) = beacon
            .activity
            .first_active
            .filter(|_| emergency && !beacon.is_declared() && !beacon.activity.took_point)
        else {
            return;
        };
        let near = |mark: &Mark| match mark.position.zip(beacon.position) {
            Some((here, there)) => range_and_bearing(here, there).0 <= JOINS_NEARER,
            None => true,
        };
        let fits = |mark: &Mark| {
            active > mark.at.at
                && now.since(mark.at.at) <= JOINS_WITHIN
                && mark.not_of != Some(mmsi)
                && near(mark)
        };
        let Some(place) = self.marks.iter().position(fits) else { return };
        let after = active.since(self.marks[place].at.at).as_secs();
        let taken = format!("taken for {}, first heard ACTIVE {after} s later", beacon.name());
        let matter = Matter::Mark(self.marks[place].number);
        // One beacon is one person: it takes the place of no second point.
        beacon.activity.took_point = true;
        let mark = self.marks.remove(place);
        if let Some(alert) = self.alerts.end_saying(&matter, &taken) {
            beacon.join(mark, alert);
        }
    }

    /// A person says that a beacon and the point whose place it took are two persons: the point's
    /// emergency is open again under its number, to be acknowledged anew; the beacon's stays.
    pub(super) fn part(&mut self, mmsi: Mmsi) {
        let Some(Joined { mut mark, mut alert, .. }) =
            self.beacons.find(mmsi).and_then(Beacon::part)
        else {
            return;
        };
        if self.is_mark(mark.number) {
            mark.number = self.free_number();
        }
        mark.not_of = Some(mmsi);
        alert.matter = Matter::Mark(mark.number);
        alert.enter(self.now.at);
        // There was room for it before: the limit of points does not count.
        self.marks.push(mark);
        self.alerts.put_back(alert);
        self.datums_due();
    }

    /// Goes on with a point that a beacon had taken the place of before a restart.
    pub(super) fn resume_joined(&mut self, mmsi: Mmsi, open: OpenAlert, now: Stamp) {
        let number = match open.matter {
            Some(Matter::Mark(number)) => number,
            _ => self.free_number(),
        };
        let mark = Mark::new(number, open.raised_at(now), open.place);
        let alert = open.into_alert(Matter::Mark(number), now.at);
        if let Some(beacon) = self.beacons.find(mmsi).filter(|it| it.joined.is_none()) {
            beacon.join(mark, alert);
        }
    }

    /// The beacon that took the place of the point which an alert was about.
    pub(super) fn joined_by(&self, alert: &Alert) -> Option<Mmsi> {
        let took = |it: &&Beacon| it.joined.as_ref().is_some_and(|it| it.alert.id == alert.id);
        self.beacons.iter().find(took).map(|beacon| beacon.mmsi)
    }
}

impl OpenAlert {
    /// When it was raised, by both clocks.
    pub(super) fn raised_at(&self, now: Stamp) -> Stamp {
        let ago = now.at.since(self.raised);
        let utc = Utc::from_unix_ms(now.utc.unix_ms() - ago.as_millis() as i64);
        Stamp { at: self.raised, utc: utc.unwrap_or(now.utc) }
    }
}
