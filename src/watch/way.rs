//! The way to the casualties: the course to each, its drift, its datum once it is silent, and who
//! else could go there.

use super::Watch;
use super::casualty::Casualty;
use super::event::EventBody;
use super::report::{DatumReport, DriftReport, WayReport};
use super::trail::Trail;
use crate::mmsi::Mmsi;
use crate::navigation::{Basis, Datum, Velocity, Way, Wind, range_and_bearing, variation};
use crate::time::Mono;
use crate::units::{Degrees, Knots};

impl Watch {
    /// The way to a casualty, as far as it and own ship are known.
    pub(super) fn way_to(&self, casualty: &dyn Casualty, now: Mono) -> Option<Way> {
        let (own, _) = self.own.position_within(now, super::settings::OWN_POSITION_NONE)?;
        let (target, drift) = casualty.target(now)?;
        let way = Way::to(target, drift, &self.own, own, now, self.settings.approach_speed);
        Some(way.turning(|turn| casualty.trail().side.keep(turn)))
    }

    /// The ship has moved: on which side she is told to turn towards each casualty.
    fn review_turns(&mut self) {
        let now = self.now.at;
        let turn = |it: &dyn Casualty| self.way_to(it, now)?.turn();
        let turns: Vec<Option<f64>> =
            self.casualties().map(|it| if it.is_casualty() { turn(it) } else { None }).collect();
        for (casualty, turn) in self.casualties_mut().zip(turns) {
            if let Some(turn) = turn {
                casualty.trail_mut().side.note(turn);
            }
        }
    }

    /// The way to a beacon and its drift, as an update tells them.
    pub(super) fn report_way(&self, mmsi: Mmsi) -> WayReport {
        let now = self.now.at;
        let Some(beacon) = self.beacons.get(mmsi) else { return WayReport::default() };
        let drift = beacon.trail.drift().map(|drift| DriftReport::of(&drift));
        let way = self.way_to(beacon, now);
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
        self.review_turns();
        let mut passed = Vec::new();
        for casualty in self.casualties_mut().filter(|it| it.is_casualty()) {
            if casualty.unheard_since().is_some() {
                casualty.trail_mut().advance(own, now);
                continue;
            }
            let Some((target, _)) = casualty.target(now) else { continue };
            let range = range_and_bearing(own, target).0;
            let noticed = casualty.trail_mut().passing.note(range, now);
            if let (Some(range_nm), Some(mmsi)) = (noticed, casualty.id().parts().0) {
                passed.push(EventBody::Passed { mmsi, range_nm });
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
        let (fed, mut told) = (self.fed, Vec::new());
        for casualty in self.casualties_mut() {
            let due = casualty.datum_due(fed).is_some_and(|due| due <= now);
            let (Some(position), true) = (casualty.position(), due) else { continue };
            let fix_at = casualty.fix_at().or(casualty.heard().map(|(_, last)| last.at));
            let (id, searched_from) = (casualty.id(), casualty.searched_from());
            let trail = casualty.trail_mut();
            let datum = trail.reckon(position, fix_at.unwrap_or(now), now, weather);
            let text = made_from(&datum, trail, weather);
            told.push(EventBody::Datum(DatumReport::of(&datum, id, text, own)));
            if searched_from.is_some_and(|from| from <= now) {
                told.extend(trail.search(datum, own, &conditions, &wishes, id));
            }
        }
        for body in told {
            self.tell(body);
        }
    }

    /// When the next datum is to be told.
    pub(super) fn datum_deadline(&self) -> Option<Mono> {
        self.casualties().filter_map(|it| it.datum_due(self.fed)).min()
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
