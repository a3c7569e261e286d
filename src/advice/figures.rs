//! The figures about one casualty as they are shown: worked out and worded once, so that a screen
//! and a page say the same.

use super::step::leg_now;
use super::whereabouts::Whereabouts;
use super::words::{magnetic, minutes};
use crate::navigation::{Position, Steer, Way, range_and_bearing};
use crate::units::{Degrees, Knots, NauticalMiles};
use crate::watch::{BeaconView, Picture};

/// Slower than this the time at the present speed says nothing. Our own.
const CREEPS: Knots = Knots(1.0);

/// The ring of a plot may be this far, in nautical miles.
const RINGS: [f64; 12] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];

/// Range and bearing as they are shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figures {
    /// In nautical miles, close by in metres; bracketed if it is the last known.
    pub range: String,
    /// In three figures, bracketed if it is the last known; none close by.
    pub bearing: Option<String>,
    /// Whether they are the last known.
    pub stale: bool,
}

impl Figures {
    /// Those of a casualty; `None` while one of the two positions is not known.
    pub fn of(picture: &Picture, beacon: &BeaconView) -> Option<Self> {
        let place = Whereabouts::of(picture, beacon)?;
        // Close by a mile is too large a unit.
        let (range, bearing) = match place.bearing {
            None => (format!("{:.0}", place.range.metres()), None),
            Some(bearing) => (miles(place.range), Some(three_figures(bearing))),
        };
        let stale = place.is_stale();
        let shown = |number| if stale { format!("[{number}]") } else { number };
        Some(Self { range: shown(range), bearing: bearing.map(shown), stale })
    }

    /// The unit of the range.
    pub const fn unit(&self) -> &'static str {
        if self.bearing.is_some() { "NM" } else { "m" }
    }

    /// Both in a line; `degrees_true` stands after the bearing.
    pub fn line(&self, degrees_true: &str) -> String {
        let bearing = self.bearing.as_ref().map(|bearing| format!(" {bearing}{degrees_true}"));
        format!("{} {}{}", self.range, self.unit(), bearing.unwrap_or_default())
    }
}

/// A range in nautical miles without its unit, in three figures.
pub fn miles(range: NauticalMiles) -> String {
    match range.0 {
        miles if miles < 9.995 => format!("{miles:.2}"),
        miles if miles < 99.95 => format!("{miles:.1}"),
        miles => format!("{miles:.0}"),
    }
}

/// A bearing in three figures.
fn three_figures(bearing: Degrees) -> String {
    format!("{:03}", bearing.value().round() as u32 % 360)
}

/// A radius in metres, from a mile on in miles.
pub fn metres(range: NauticalMiles) -> String {
    if range.0 < 0.995 { format!("{:.0} m", range.metres()) } else { format!("{:.1} NM", range.0) }
}

/// What to steer, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToSteer {
    /// The course, true and where it is known magnetic: `133°T 130°M`.
    pub course: String,
    /// How long it takes and at what speed, or for how long which leg of a search goes on.
    pub time: String,
}

impl ToSteer {
    /// On the leg of a search that the ship is on; `None` where she is on none.
    pub fn on_leg(picture: &Picture, beacon: &BeaconView) -> Option<Self> {
        let (leg, of) = leg_now(beacon)?;
        let by_compass = picture.own.variation.map(|it| it.magnetic(leg.course));
        Some(Self {
            course: both(leg.course, by_compass),
            time: format!("{} leg {} of {of}", minutes(leg.time), leg.place.leg),
        })
    }

    /// To a casualty, and the time at the present speed, or else at that which is set for this;
    /// `None` where it drifts too fast for any course.
    pub fn on_way(way: &Way) -> Option<Self> {
        let at = |steer: &Steer, says: &str, speed: Knots| Self {
            course: both(steer.course, steer.magnetic),
            time: format!("{} {says} {speed}", minutes(steer.time)),
        };
        match (way.steer.zip(way.speed), way.steer_at_set_speed) {
            (Some((steer, speed)), _) if speed >= CREEPS => Some(at(&steer, "at", speed)),
            (_, Some(steer)) => Some(at(&steer, "if at", way.set_speed)),
            (Some((steer, speed)), None) => Some(at(&steer, "at", speed)),
            (None, None) => None,
        }
    }
}

fn both(course: Degrees, by_compass: Option<Degrees>) -> String {
    match by_compass {
        Some(by_compass) => format!("{course} {}", magnetic(by_compass)),
        None => course.to_string(),
    }
}

/// How far the ring of a plot about `own` is, in nautical miles: the smallest that holds the
/// casualties, or the place to return to; on a quiet watch, the nearest few ships.
pub fn ring(picture: &Picture, own: Position, casualty: Option<&BeaconView>) -> f64 {
    let farthest = |beacon: &BeaconView| {
        let circle = beacon.datum.as_ref().map_or(0.0, |(datum, _)| datum.radius95.0);
        beacon.range.map(|range| range.0 + circle)
    };
    let casualties = picture.beacons.iter().filter(|b| b.casualty).filter_map(farthest);
    let others = picture.beacons.iter().filter(|b| b.casualty).filter_map(|it| it.other_place);
    let others = others.map(|it| range_and_bearing(own, it.position).0.0);
    let farthest = casualties.chain(others).fold(0.0, f64::max);
    let wanted = match (casualty, casualty.and_then(|it| it.own_at_first)) {
        (Some(_), _) if farthest > 0.0 => farthest,
        (Some(_), Some(first)) => range_and_bearing(own, first).0.0,
        _ => picture.nearest.iter().take(5).map(|ship| ship.range.0).fold(0.5, f64::max),
    };
    let fits = |ring: &&f64| **ring >= wanted * 1.05;
    RINGS.iter().find(fits).copied().unwrap_or(256.0)
}
