//! A casualty that the operator declared safe while the beacon goes on: it stays in the picture, and
//! is an emergency again if that lasts, or if the range grows.

use super::Watch;
use super::beacon::{Beacon, MessageEffect};
use super::declaration::{DECLARED_HOLDS, Declaration, DeclaredSafe};
use super::words::whereabouts;
use crate::beacon::SILENCE;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Stamp};
use crate::units::NauticalMiles;

/// And how much the range may grow meanwhile (the same rule). Our own.
const GROWS_BY: NauticalMiles = NauticalMiles(0.2);

impl Beacon {
    /// Whether the operator's word holds.
    pub(super) fn is_declared(&self) -> bool {
        self.declared.is_some_and(|it| it.holds)
    }

    /// That it is declared safe and goes on; no more once it is silent.
    pub(super) fn declared_safe(&self, now: Mono) -> Option<DeclaredSafe> {
        let declared =
            self.declared.filter(|it| it.holds && self.may_be_active() && !self.muted)?;
        let goes_on = !self.silent && now.since(self.last?.at) < SILENCE;
        goes_on.then(|| {
            let ago = now.since(declared.at);
            DeclaredSafe { ago, again_in: DECLARED_HOLDS.saturating_sub(ago) }
        })
    }

    /// When it is an emergency again by the time alone; `None` if it is or will be silent before.
    fn again_at(&self, now: Mono) -> Option<Mono> {
        self.declared_safe(now)?;
        let due = self.declared?.at + DECLARED_HOLDS;
        Some(due).filter(|&due| self.last.is_some_and(|last| due < last.at + SILENCE))
    }

    /// Takes the present range. Whether the operator's word holds no more.
    fn review_declared(&mut self, own: Option<Position>, now: Mono) -> bool {
        let range = own.zip(self.position).map(|(own, it)| range_and_bearing(own, it).0);
        let lasts = self.again_at(now).is_some_and(|due| due <= now);
        let goes_on = self.declared_safe(now).is_some();
        let Some(declared) = self.declared.as_mut().filter(|_| goes_on) else { return false };
        declared.range = declared.range.or(range);
        let grows = declared.range.zip(range).is_some_and(|(then, it)| it.0 >= then.0 + GROWS_BY.0);
        declared.holds = !(lasts || grows);
        !declared.holds
    }

    /// What it does and where, to be read aloud, seen from the ship.
    pub(super) fn alert_text(&self, own: Option<Position>, now: Mono) -> String {
        let place = whereabouts(self.position, own);
        match self.declared.filter(|it| !it.holds) {
            Some(declared) if self.is_active() => {
                let place = match place.split_once(',') {
                    Some((range, bearing)) => format!(" {range} away,{bearing}"),
                    None => format!(", {place}"),
                };
                format!("{}: {}, still ACTIVE{place}", self.name(), declared.words(now))
            }
            Some(declared) => format!("{}, {}, {place}", self.sentence(), declared.words(now)),
            None => format!("{}, {place}", self.sentence()),
        }
    }

    /// The same of one that is silent: until when it was so, and where it was then.
    pub(super) fn silent_text(&self, last: Stamp, own: Option<Position>) -> String {
        let known = if self.position.is_some() { "last known " } else { "" };
        let place = whereabouts(self.position, own);
        format!("{} when last heard {}, {known}{place}", self.sentence(), last.utc.clock())
    }
}

impl Watch {
    /// The operator says that it is over: the beacon may go on as it is for a while without being
    /// raised again.
    pub(super) fn declare_safe(&mut self, mmsi: Mmsi) {
        let (now, own) = (self.now.at, self.own_position().0);
        if let Some(beacon) = self.beacons.find(mmsi) {
            let range = own.zip(beacon.position).map(|(own, it)| range_and_bearing(own, it).0);
            beacon.declared = Some(Declaration::new(now, range));
        }
    }

    /// Raises again whoever was declared safe and is not left to it any longer.
    pub(super) fn review_declared(&mut self) {
        let (now, own) = (self.now.at, self.own_position().0);
        let declared = self.beacons.iter_mut().filter(|it| it.is_declared());
        let again = declared.filter_map(|it| it.review_declared(own, now).then_some(it.mmsi));
        for mmsi in again.collect::<Vec<_>>() {
            self.alert_beacon(mmsi, MessageEffect::default());
        }
    }

    /// When [`Self::review_declared`] has something to do by the time alone.
    pub(super) fn declared_deadline(&self) -> Option<Mono> {
        self.beacons.iter().filter_map(|beacon| beacon.again_at(self.now.at)).min()
    }
}
