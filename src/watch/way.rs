//! The way to the casualties: the course to each, its drift, its datum once it is silent, and who
//! else could go there.

use std::time::Duration;

use super::beacon::Beacon;
use super::event::EventBody;
use super::report::{DatumReport, DriftReport, WayReport};
use super::trail::Trail;
use super::{CasualtyId, Watch};
use crate::mmsi::Mmsi;
use crate::navigation::{
    Basis, Datum, Position, Velocity, Way, Wind, range_and_bearing, variation,
};
use crate::time::Mono;
use crate::units::{Degrees, Knots};

/// After this a person whose point was set by hand is searched for. Our own.
const TURN_BACK_FIRST: Duration = Duration::from_secs(2 * 60);

impl Watch {
    /// The way to a casualty, as far as it and own ship are known.
    pub(super) fn way_to(
        &self,
        trail: &Trail,
        position: Option<Position>,
        fix_at: Option<Mono>,
        now: Mono,
    ) -> Option<Way> {
        let (own, _) = self.own.position_within(now, super::settings::OWN_POSITION_NONE)?;
        let (target, drift) = trail.target(position, fix_at, now)?;
        Some(Way::to(target, drift, &self.own, own, now, self.settings.approach_speed))
    }

    /// The way to a beacon and its drift, as an update tells them.
    pub(super) fn report_way(&self, mmsi: Mmsi) -> WayReport {
        let now = self.now.at;
        let Some(beacon) = self.beacons.get(mmsi) else { return WayReport::default() };
        let drift = beacon.trail.drift().map(|drift| DriftReport::of(&drift));
        let way = self.way_to(&beacon.trail, beacon.position, beacon.fix_at, now);
        WayReport { drift, ..way.map(|way| WayReport::of(&way)).unwrap_or_default() }
    }

    /// The ship has moved: how the range to each casualty goes.
    pub(super) fn review_ranges(&mut self) {
        let now = self.now.at;
        if self.own.wants_model_variation(now)
            && let Some(fix) = self.own.fix()
            && let Some(degrees) = variation(fix.position, self.now.utc)
        {
            self.own.note_model_variation(now, degrees);
        }
        let Some(own) = self.own_position().0 else { return };
        let mut passed = Vec::new();
        for mark in &mut self.marks {
            mark.trail.advance(own, now);
        }
        for beacon in self.beacons.iter_mut().filter(|beacon| beacon.is_casualty()) {
            if beacon.silent {
                beacon.trail.advance(own, now);
                continue;
            }
            let target = beacon.trail.target(beacon.position, beacon.fix_at, now);
            let Some((target, _)) = target else { continue };
            let range = range_and_bearing(own, target).0;
            if let Some(range_nm) = beacon.trail.passing.note(range, now) {
                passed.push(EventBody::Passed { mmsi: beacon.mmsi, range_nm });
            }
        }
        for event in passed {
            self.tell(event);
        }
    }

    /// Wind and current, as far as the boat feels them.
    fn weather(&self) -> (Option<Wind>, Option<Velocity>) {
        (self.own.wind(self.now.at), self.own.current(self.now.at))
    }

    /// Casualties that are silent, and points set by hand: where each is by now.
    pub(super) fn datums_due(&mut self) {
        let (now, weather) = (self.now.at, self.weather());
        let own = self.own_position().0;
        let (conditions, wishes) = (self.conditions(), self.settings.wishes);
        let mut told = Vec::new();
        for beacon in self.beacons.iter_mut() {
            let due = beacon.datum_due().is_some_and(|due| due <= now);
            let (Some(position), true) = (beacon.position, due) else { continue };
            let fix_at = beacon.fix_at.or(beacon.last.map(|last| last.at)).unwrap_or(now);
            let datum = beacon.trail.reckon(position, fix_at, now, weather);
            let text = made_from(&datum, &beacon.trail, weather);
            let id = CasualtyId::Beacon(beacon.mmsi);
            told.push(EventBody::Datum(DatumReport::of(&datum, id, text, own)));
            told.extend(beacon.trail.search(datum, own, &conditions, &wishes, id));
        }
        for mark in &mut self.marks {
            let due = mark.due().is_some_and(|due| due <= now);
            let (Some(position), true) = (mark.position, due) else { continue };
            let datum = mark.trail.reckon(position, mark.at.at, now, weather);
            let text = made_from(&datum, &mark.trail, weather);
            let id = CasualtyId::Mark(mark.number);
            told.push(EventBody::Datum(DatumReport::of(&datum, id, text, own)));
            // Whoever has just gone over is not searched for: one turns back.
            if now.since(mark.at.at) >= TURN_BACK_FIRST {
                told.extend(mark.trail.search(datum, own, &conditions, &wishes, id));
            }
        }
        for body in told {
            self.tell(body);
        }
    }

    /// When the next datum is to be told.
    pub(super) fn datum_deadline(&self) -> Option<Mono> {
        let beacons = self.beacons.iter().filter_map(Beacon::datum_due);
        beacons.chain(self.marks.iter().filter_map(super::marks::Mark::due)).min()
    }
}

/// What a datum is made from, in plain words.
pub(super) fn made_from(
    datum: &Datum,
    trail: &Trail,
    (wind, current): (Option<Wind>, Option<Velocity>),
) -> String {
    let current = current.filter(|current| current.speed().0 >= 0.05);
    let water = current.map(|current| moves(current, "current"));
    match datum.basis {
        Basis::Fixes => {
            let drift = trail.drift();
            let of = drift.map(|drift| format!(" of {}", fixes(drift.fixes, drift.span.as_secs())));
            format!("{}{}", moves(datum.velocity, "drift"), of.unwrap_or_default())
        }
        Basis::Leeway => {
            let wind = wind.map(|wind| format!(" in {} from {}", wind.speed, wind.from));
            let water = water.map(|water| format!(" and {water}"));
            format!("leeway{}{}", wind.unwrap_or_default(), water.unwrap_or_default())
        }
        Basis::LastPosition if wind.is_some() => "last position, so far".to_owned(),
        Basis::LastPosition => match water {
            Some(water) => format!("last position and {water}; wind not known"),
            None => "last position alone; wind and current not known".to_owned(),
        },
    }
}

/// `6 fixes in 5 min`.
pub(super) fn fixes(count: usize, seconds: u64) -> String {
    format!("{count} fixes in {} min", (seconds + 30) / 60)
}

/// `drift 077°T 0.8 kn`.
fn moves(velocity: Velocity, what: &str) -> String {
    let (towards, speed): (Degrees, Knots) = (velocity.towards(), velocity.speed());
    format!("{what} {towards} {speed}")
}
