//! Points set by hand: somebody went over the side, and whoever saw it pressed the key. There need
//! not be a beacon; if one is heard afterwards, it takes the point over.

use std::time::Duration;

use super::Watch;
use super::alert::{Cause, Matter, Priority};
use super::alerts::Raise;
use super::beacon::Beacon;
use super::casualty::{Casualty, CasualtyId};
use super::event::EventBody;
use super::left_open::OpenAlert;
use super::trail::Trail;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Stamp, Utc};
use crate::units::NauticalMiles;

/// How many points may be open at once: more than a small boat has people.
const MARKS_LIMIT: usize = 16;

/// A beacon of the muster takes over a point that was set no longer ago than this: a beacon may be
/// slow to float free, and a person slow to switch it on. Our own.
const JOINS_WITHIN: Duration = Duration::from_secs(30 * 60);

/// And no further from it than this, if the beacon knows where it is. Our own.
pub(super) const JOINS_NEARER: NauticalMiles = NauticalMiles(2.0);

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

impl Watch {
    /// Somebody went over the side now, here.
    pub(super) fn mark_overboard(&mut self) {
        if self.marks.len() >= MARKS_LIMIT {
            let text = format!(
                "Point not set: {MARKS_LIMIT} are open. Write time and position down; end one with o"
            );
            let matter = Matter::TooManyEmergencies(Cause::OverboardMarked);
            let priority = Priority::EmergencyAlarm;
            self.raise(Raise::of_ship(matter, Cause::OverboardMarked, priority, text));
            return;
        }
        let number = self.free_number();
        let position = self.own_position().0;
        let at = self.now;
        self.marks.push(Mark { number, at, position, trail: Trail::default() });
        let here = position.map_or("own position not known".to_owned(), |it| it.to_string());
        self.raise(Raise {
            matter: Matter::Mark(number),
            cause: Cause::OverboardMarked,
            priority: Priority::EmergencyAlarm,
            mmsi: None,
            text: format!("Person overboard, marked by hand at {}: {here}", at.utc.clock()),
            place: position,
            acknowledged: false,
        });
        self.tell(EventBody::OverboardMarked { mark: number, position });
        self.datums_due();
    }

    /// Goes on with a point that was set before a restart, under its number if that is known and no
    /// other point's. There is room for what was open, whatever the limit.
    pub(super) fn resume_mark(&mut self, open: &OpenAlert, now: Stamp) -> Matter {
        let ago = now.at.since(open.raised);
        let utc = Utc::from_unix_ms(now.utc.unix_ms() - ago.as_millis() as i64);
        let at = Stamp { at: open.raised, utc: utc.unwrap_or(now.utc) };
        let number = match open.matter {
            Some(Matter::Mark(number)) if !self.is_mark(number) => number,
            _ => self.free_number(),
        };
        self.marks.push(Mark { number, at, position: open.place, trail: Trail::default() });
        Matter::Mark(number)
    }

    fn is_mark(&self, number: u16) -> bool {
        self.marks.iter().any(|mark| mark.number == number)
    }

    /// The next number that no point has.
    fn free_number(&self) -> u16 {
        let last = self.marks.iter().map(|mark| mark.number).max().unwrap_or(0);
        let next = last.checked_add(1);
        next.or_else(|| (1..last).find(|&number| !self.is_mark(number))).unwrap_or(last)
    }

    /// A point is done with.
    pub(super) fn forget_mark(&mut self, number: u16) {
        self.marks.retain(|mark| mark.number != number);
    }

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
            active > mark.at.at && now.since(mark.at.at) <= JOINS_WITHIN && near(mark)
        };
        let Some(place) = self.marks.iter().position(fits) else { return };
        let mark = self.marks.remove(place);
        beacon.overboard(mark.at, mark.position);
        // One beacon is one person: it takes the place of no second point.
        beacon.activity.took_point = true;
        self.alerts.end(&Matter::Mark(mark.number));
    }
}
