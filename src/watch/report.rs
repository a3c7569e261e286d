//! What events tell of the way to a casualty: course and drift, datum, search. Field names are those
//! of the JSON events.

use serde::Serialize;

use super::casualty::CasualtyId;
use crate::mmsi::Mmsi;
use crate::navigation::{
    AheadFrom, Basis, Conditions, Datum, Drift, Leg, Medium, Pattern, Position, Search, Way,
    range_and_bearing,
};
use crate::time::rounded_up;
use crate::units::{Degrees, Knots, NauticalMiles};

/// The way to a casualty. What is not known is `None`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct WayReport {
    /// Where it bears from the bow, -180 to 180, starboard positive.
    pub relative_bearing_deg: Option<f64>,
    /// What the bow was taken from.
    pub relative_bearing_from: Option<AheadFrom>,
    /// Where it bears by a steering compass, deviation apart.
    pub magnetic_bearing_deg: Option<Degrees>,
    /// The true course to steer at the present speed: a heading if `steer_through` is `water`.
    pub course_to_steer_deg: Option<Degrees>,
    /// The same by a steering compass, deviation apart.
    pub course_to_steer_magnetic_deg: Option<Degrees>,
    /// How long that takes, in minutes.
    pub time_to_reach_min: Option<f64>,
    /// What the course is steered through: `water` with heading and log, else `ground`.
    pub steer_through: Option<Medium>,
    /// How close it comes if the present course is held, in metres.
    pub closest_approach_m: Option<f64>,
    /// In how many seconds that is; negative if it is past.
    pub closest_approach_in_s: Option<f64>,
    /// How it drifts over ground, by its own fixes.
    pub drift: Option<DriftReport>,
}

impl WayReport {
    pub(super) fn of(way: &Way) -> Self {
        let tenths = |value: f64| (value * 10.0).round() / 10.0;
        Self {
            relative_bearing_deg: way.relative.map(|(degrees, _)| tenths(degrees)),
            relative_bearing_from: way.relative.map(|(_, from)| from),
            magnetic_bearing_deg: way.magnetic,
            course_to_steer_deg: way.steer.map(|steer| steer.course),
            course_to_steer_magnetic_deg: way.steer.and_then(|steer| steer.magnetic),
            time_to_reach_min: way.steer.map(|steer| tenths(steer.time.as_secs_f64() / 60.0)),
            steer_through: way.steer.map(|_| way.medium),
            closest_approach_m: way.approach.map(|approach| approach.range.metres().round()),
            closest_approach_in_s: way.approach.and_then(|it| it.in_s).map(f64::round),
            drift: None,
        }
    }
}

/// A drift over ground.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct DriftReport {
    /// Where to, true.
    pub set_deg: Degrees,
    /// How fast.
    pub rate_kn: Knots,
    /// How many fixes it is made from.
    pub fixes: usize,
    /// Over which time, in whole seconds.
    pub over_s: u64,
    /// How far the rate may be off: the standard deviation along each axis.
    pub rate_sd_kn: Knots,
}

impl DriftReport {
    pub(super) fn of(drift: &Drift) -> Self {
        Self {
            set_deg: drift.velocity.towards(),
            rate_kn: drift.velocity.speed(),
            fixes: drift.fixes,
            over_s: drift.span.as_secs(),
            rate_sd_kn: drift.rate_sd(),
        }
    }
}

/// Where a casualty is reckoned to be.
#[derive(Clone, Debug, Serialize)]
pub struct DatumReport {
    /// The beacon's identity; `None` for a point set by hand.
    pub mmsi: Option<Mmsi>,
    /// The number of the point that was set by hand.
    pub mark: Option<u16>,
    /// The likeliest place, in degrees.
    pub lat: f64,
    /// See `lat`.
    pub lon: f64,
    /// Half of all such casualties are within this, in whole metres.
    pub radius50_m: f64,
    /// Nineteen of twenty are within this, in whole metres.
    pub radius95_m: f64,
    /// What it is made from.
    pub basis: Basis,
    /// How old the last fix is, in whole seconds.
    pub since_s: u64,
    /// Where it moves to over ground, true.
    pub set_deg: Degrees,
    /// How fast.
    pub rate_kn: Knots,
    /// How far it is from the ship.
    pub range_nm: Option<NauticalMiles>,
    /// Where it bears from her, true.
    pub bearing_deg: Option<Degrees>,
    /// What it is made from, for a person.
    pub text: String,
}

impl DatumReport {
    pub(super) fn of(datum: &Datum, id: CasualtyId, text: String, own: Option<Position>) -> Self {
        let (range_nm, bearing_deg) = own.map(|own| range_and_bearing(own, datum.position)).unzip();
        let (mmsi, mark) = id.parts();
        Self {
            mmsi,
            mark,
            lat: datum.position.lat(),
            lon: datum.position.lon(),
            radius50_m: datum.radius50.metres().round(),
            radius95_m: datum.radius95.metres().round(),
            basis: datum.basis,
            since_s: rounded_up(datum.at.since(datum.since), 1),
            set_deg: datum.velocity.towards(),
            rate_kn: datum.velocity.speed(),
            range_nm,
            bearing_deg,
            text,
        }
    }

    /// The likeliest place.
    pub fn position(&self) -> Option<Position> {
        Position::new(self.lat, self.lon)
    }
}

/// A search for a casualty that is silent.
#[derive(Clone, Debug, Serialize)]
pub struct SearchReport {
    /// The beacon's identity; `None` for a point set by hand.
    pub mmsi: Option<Mmsi>,
    /// The number of the point that was set by hand.
    pub mark: Option<u16>,
    /// Which pattern.
    pub pattern: Pattern,
    /// The radius of a sector search, or the track spacing of a square.
    pub size_nm: NauticalMiles,
    /// The direction of the first leg, true.
    pub first_leg_deg: Degrees,
    /// How wide a strip is searched.
    pub sweep_width_nm: NauticalMiles,
    /// The speed it was planned for.
    pub speed_kn: Knots,
    /// Which, why and how sure.
    pub why: String,
    /// What was taken for granted; empty if all of it is known.
    pub assumed: String,
    /// The legs of both passes, the way to the datum first.
    pub legs: Vec<LegReport>,
}

/// A leg of a search.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct LegReport {
    /// The pass, from 1.
    pub pass: u8,
    /// The leg, from 1; 0 is the way to the datum.
    pub leg: u32,
    /// The true course to steer, through the water.
    pub course_to_steer_deg: Degrees,
    /// How long it is through the water.
    pub length_nm: NauticalMiles,
    /// How long it takes, in whole seconds.
    pub time_s: u64,
    /// Where it begins, over ground.
    pub from: Position,
    /// Where its end will be by then, over ground.
    pub to: Position,
}

impl SearchReport {
    pub(super) fn of(
        search: &Search,
        legs: &[Leg],
        conditions: &Conditions,
        id: CasualtyId,
    ) -> Self {
        let plan = search.shape();
        let (mmsi, mark) = id.parts();
        let legs = legs.iter().map(|leg| LegReport {
            pass: leg.place.pass,
            leg: leg.place.leg,
            course_to_steer_deg: leg.course,
            length_nm: leg.length,
            time_s: leg.time.as_secs(),
            from: leg.from,
            to: leg.to,
        });
        Self {
            mmsi,
            mark,
            pattern: plan.pattern,
            size_nm: plan.size,
            first_leg_deg: plan.first_leg,
            sweep_width_nm: plan.sweep_width,
            speed_kn: conditions.speed,
            why: search.why().to_owned(),
            assumed: conditions.assumed(),
            legs: legs.collect(),
        }
    }
}
