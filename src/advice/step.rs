//! What to do next, in one line.

use std::time::Duration;

use serde::Serialize;

use super::attention::{alert_in_view, is_stranger, is_unacknowledged};
use super::whereabouts::{Hold, Rough, Whereabouts, own_is_old};
use super::words::{short_age, side};
use crate::navigation::Leg;
use crate::time::seconds;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{BeaconView, CasualtyId, Mode, Picture};

/// Less than this is no turn worth a word, in degrees. Our own.
const ON_COURSE: f64 = 10.0;

/// What to do next.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Take note of an alert.
    Acknowledge {
        /// What it says, if it is about another than the casualty.
        other: Option<String>,
    },
    /// The casualty was passed near by.
    TurnBack {
        /// How near.
        #[serde(rename = "range_nm")]
        range: NauticalMiles,
        /// How long ago.
        #[serde(rename = "ago_s", serialize_with = "seconds")]
        ago: Duration,
    },
    /// Turn onto a leg of the search.
    TurnOntoLeg(Onto),
    /// Go on along a leg of the search.
    HoldLeg {
        /// Its course.
        #[serde(rename = "course_deg")]
        course: Degrees,
    },
    /// The ship is at the place where the casualty is reckoned to be.
    LookAllRound,
    /// She was, as far as the own position tells, which is old.
    OwnPositionOld,
    /// The ship is at the casualty.
    SlowDown {
        /// Where to look, if that is known at all.
        look: Option<Rough>,
    },
    /// Turn towards the casualty, or the place that holds so far.
    TurnTowards {
        /// The turn.
        #[serde(flatten)]
        onto: Onto,
        /// What there is at the end of it.
        to: Hold,
    },
    /// Steer to the place that holds so far.
    Steer {
        /// The course; the bearing where no course can be worked out.
        #[serde(rename = "course_deg")]
        course: Degrees,
        /// What there is at the end of it.
        to: Hold,
    },
    /// One of the crew is overboard, nobody knows where: the ship's own track leads there.
    TurnBackOnTrack,
    /// See whether anybody is missing.
    CountHeads,
}

/// A turn onto a course.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Onto {
    /// How far to turn, -200 to 200, starboard positive: near dead astern the side that was said
    /// first is kept.
    #[serde(rename = "turn_deg")]
    pub turn: f64,
    /// The course to steer then.
    #[serde(rename = "course_deg")]
    pub course: Degrees,
}

impl Step {
    /// The next step about one beacon, for who looks at one casualty or at none in particular.
    pub fn of(picture: &Picture, selected: Option<CasualtyId>, beacon: &BeaconView) -> Self {
        let waiting = alert_in_view(picture, selected).filter(|alert| is_unacknowledged(alert));
        if let Some(alert) = waiting {
            let own = alert.casualty() == Some(beacon.id);
            return Self::Acknowledge { other: (!own).then(|| alert.text.clone()) };
        }
        Self::onward(picture, beacon)
    }

    /// The next step about one beacon, whatever waits to be acknowledged: that has a place of its
    /// own where there is room for both.
    pub fn onward(picture: &Picture, beacon: &BeaconView) -> Self {
        let place = Whereabouts::of(picture, beacon);
        let is_close = place.is_some_and(|place| place.is_close());
        if let Some((range, ago)) = beacon.passed.filter(|_| beacon.datum.is_none() && !is_close) {
            return Self::TurnBack { range, ago };
        }
        if let Some((leg, _)) = leg_now(beacon) {
            return Self::on_leg(picture, leg);
        }
        if is_close && picture.own.age.is_none_or(own_is_old) {
            return Self::OwnPositionOld;
        }
        match (is_close, &beacon.datum) {
            (true, Some(_)) => Self::LookAllRound,
            (true, None) => Self::SlowDown { look: place.and_then(|place| place.rough) },
            (false, _) => Self::towards(picture, beacon, place),
        }
    }

    fn on_leg(picture: &Picture, leg: &Leg) -> Self {
        let course = leg.course;
        let turn = picture.own.ahead.map(|(ahead, _)| course.relative_to(ahead));
        match turn.filter(|turn| turn.abs() >= ON_COURSE) {
            Some(turn) => Self::TurnOntoLeg(Onto { turn, course }),
            None => Self::HoldLeg { course },
        }
    }

    fn towards(picture: &Picture, beacon: &BeaconView, place: Option<Whereabouts>) -> Self {
        let stale = place.is_some_and(|place| place.is_stale());
        let to = match (&beacon.datum, stale) {
            (Some(_), _) => Hold::Reckoned,
            (None, true) => Hold::LastKnown,
            (None, false) => Hold::Now,
        };
        let steer = beacon.way.and_then(|way| way.steer.or(way.steer_at_set_speed));
        if let Some((steer, turn)) = steer.and_then(|steer| Some((steer, steer.turn?)))
            && turn.abs() >= ON_COURSE
        {
            return Self::TurnTowards { onto: Onto { turn, course: steer.course }, to };
        }
        let certain = beacon.mode == Some(Mode::Active) || beacon.is_call();
        let crew = certain && (beacon.person.is_some() || !is_stranger(picture, beacon));
        match steer.map(|steer| steer.course).or(beacon.bearing) {
            Some(course) => Self::Steer { course, to },
            None if crew && beacon.position.is_none() => Self::TurnBackOnTrack,
            None => Self::CountHeads,
        }
    }

    /// The same to be said of a person, if it is known who it is.
    pub fn words(&self, person: Option<&str>) -> String {
        let pointing = || match person {
            Some(person) => format!("keep pointing at {person}"),
            None => "keep pointing".to_owned(),
        };
        // Nobody can point at a place that is but known from before.
        let end = |to| match to {
            Hold::Now => format!("; {}", pointing()),
            Hold::LastKnown => "; to last known position".to_owned(),
            Hold::Reckoned => "; to estimated position".to_owned(),
        };
        match self {
            Self::Acknowledge { other: None } => "acknowledge".to_owned(),
            Self::Acknowledge { other: Some(text) } => format!("acknowledge: {text}"),
            Self::TurnBack { range, ago } => {
                format!("PASSED at {range} {} ago; turn back", short_age(*ago))
            }
            Self::TurnOntoLeg(Onto { turn, course }) => {
                format!("turn to {} onto {course}", side(*turn))
            }
            Self::HoldLeg { course } => format!("hold {course}, look all round"),
            Self::OwnPositionOld => "own position is old; look all round".to_owned(),
            Self::LookAllRound => "at estimated position: look all round".to_owned(),
            Self::SlowDown { look: Some(rough) } => {
                format!("slow down, look {}; {}", rough.words(), pointing())
            }
            Self::SlowDown { look: None } => format!("slow down, look all round; {}", pointing()),
            Self::TurnTowards { onto: Onto { turn, course }, to } => {
                format!("turn to {} onto {course}{}", side(*turn), end(*to))
            }
            Self::Steer { course, to: Hold::Now } => format!("steer {course}; {}", pointing()),
            Self::Steer { course, to: Hold::LastKnown } => {
                format!("steer {course} to last known position")
            }
            Self::Steer { course, to: Hold::Reckoned } => {
                format!("steer {course} to estimated position")
            }
            Self::TurnBackOnTrack => "turn back on your track".to_owned(),
            Self::CountHeads => "count heads: is everybody aboard?".to_owned(),
        }
    }
}

/// The leg of a search that the ship is on, once she has come to the datum; and of how many.
pub fn leg_now(beacon: &BeaconView) -> Option<(&Leg, u32)> {
    let search = beacon.search.as_ref()?;
    let leg = &search.guidance.as_ref().ok()?.as_ref()?.leg;
    (leg.place.leg > 0).then_some((leg, search.legs))
}
