//! Own ship and a casualty on one plane, in seconds from the beginning of the recording.

use super::adrift::{Adrift, Basis, KNOT_M_S, Moment};
pub(super) use super::adrift::{carried, metres};
use super::drill::{CasualtyFix, OwnPoint, Unwatched};
use super::heard::Beacon;
use super::labels::{after, seconds};
use crate::beacon;
use crate::navigation::{Offset, Position, Velocity};
use crate::time::Utc;
use crate::units::{Degrees, Knots};

/// A message this long after the first of a burst begins another, as in the watch.
pub(super) const BURST_S: f64 = beacon::ANOTHER_BURST.as_secs_f64();

/// Own positions further apart than this have nothing between them. Our own.
const OWN_GAP_S: f64 = 35.0;

/// For so long before its first and after its last position a casualty is carried by its drift.
/// Our own.
const CARRIED_S: f64 = 5.0 * 60.0;

/// How far own position is off along each axis, in metres; and how late it comes, in seconds. Our own.
const OWN_SD_M: f64 = 3.5;
const OWN_LATE_S: f64 = 0.5;

/// Within so many standard deviations along an axis a distance is right 95 of 100 times: between the
/// 1.96 of a line and the 2.45 of a plane. Our own.
const RANGE_95: f64 = 2.2;

/// Own speed over ground is the mean of so many seconds to either side where no receiver tells it.
/// Our own.
const SPEED_OVER_S: f64 = 4.0;

/// Slower than this a ship without a course over ground lies. Our own.
const LIES: Knots = Knots(0.5);

/// Own ship at one moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub t: f64,
    pub place: Offset,
    pub sog: Option<Knots>,
    pub cog: Option<Degrees>,
    pub heading: Option<Degrees>,
    pub water_speed: Option<Knots>,
}

/// What a burst told.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    pub t: f64,
    pub place: Offset,
    /// Metres from own ship; `None` if her place was not known.
    pub beside_m: Option<f64>,
}

/// All that the measures of one casualty look at.
#[derive(Debug)]
pub(super) struct Scene<'a> {
    pub beacon: &'a Beacon,
    /// The beginning of the recording, and its end in seconds.
    pub zero: Utc,
    pub end: f64,
    pub own: Vec<Step>,
    /// The times in which nobody listened.
    pub gaps: Vec<(f64, f64)>,
    /// Each fix that the beacon told.
    pub fixes: Vec<(f64, Offset)>,
    /// The same, one place a burst.
    pub bursts: Vec<Told>,
    /// Its way in the water.
    pub adrift: Option<Adrift>,
    /// From what its drift was known before any position.
    pub basis: Basis,
    /// The first burst that went with the ship: by then it was on board.
    pub rides_from: Option<f64>,
    /// When she was no longer beside where it drifts after she had been there, and no position tells
    /// whether it is on board: no range is known from then until something tells it.
    pub unsure_from: Option<f64>,
    /// When it is held to be on board.
    pub aboard_from: Option<f64>,
    /// The middle of the plane; `None` where no place is known at all.
    origin: Option<Position>,
}

impl<'a> Scene<'a> {
    /// The scene of a casualty in a recording; what was told in the water is not sorted yet.
    pub(super) fn of(
        beacon: &'a Beacon,
        own: &[OwnPoint],
        gaps: &[Unwatched],
        span: (Utc, Utc),
    ) -> Self {
        let zero = span.0;
        let places = beacon.places();
        let origin = places.first().map(|(_, place)| *place);
        let origin = origin.or_else(|| own.first().map(|it| it.position));
        let steps = own.iter().filter_map(|it| {
            Some(Step {
                t: seconds(zero, it.at),
                place: Offset::between(origin?, it.position),
                sog: it.sog_kn,
                cog: it.cog_deg,
                heading: it.heading_deg,
                water_speed: it.water_speed_kn,
            })
        });
        let offset = |(at, place)| Some((seconds(zero, at), Offset::between(origin?, place)));
        Self {
            beacon,
            zero,
            end: seconds(zero, span.1),
            own: steps.collect(),
            gaps: gaps.iter().map(|it| (seconds(zero, it.from), seconds(zero, it.until))).collect(),
            fixes: places.into_iter().filter_map(offset).collect(),
            bursts: Vec::new(),
            adrift: None,
            basis: Basis::Nothing,
            rides_from: None,
            unsure_from: None,
            aboard_from: None,
            origin,
        }
    }

    /// From when to when somebody listened without a break, around a moment of it.
    pub(super) fn watch_around(&self, t: f64) -> (f64, f64) {
        let before = self.gaps.iter().rev().find(|(_, until)| *until <= t);
        let after = self.gaps.iter().find(|(from, _)| *from >= t);
        (before.map_or(0.0, |(_, until)| *until), after.map_or(self.end, |(from, _)| *from))
    }

    /// The parts of a time in which somebody listened: each with its beginning and its end.
    pub(super) fn watched(&self, from: f64, until: f64) -> Vec<(f64, f64)> {
        let mut begin = from;
        let mut parts = Vec::new();
        for &(gap, over) in self.gaps.iter().filter(|(gap, over)| *gap < until && *over > from) {
            parts.push((begin, gap));
            begin = over;
        }
        parts.push((begin, until));
        parts.retain(|(begin, end)| end > begin);
        parts
    }

    /// A moment of the recording.
    pub(super) fn utc(&self, t: f64) -> Utc {
        after(self.zero, t)
    }

    /// The seconds of a moment.
    pub(super) fn t(&self, utc: Utc) -> f64 {
        seconds(self.zero, utc)
    }

    /// A place on the earth.
    pub(super) fn position(&self, place: Offset) -> Option<Position> {
        Some(place.from(self.origin?))
    }

    /// The casualty's line, one place a burst.
    pub(super) fn track(&self) -> Vec<CasualtyFix> {
        let points = self.bursts.iter();
        points
            .filter_map(|it| {
                Some(CasualtyFix { at: self.utc(it.t), position: self.position(it.place)? })
            })
            .collect()
    }

    /// Where own ship was, between two of her positions.
    pub(super) fn own_at(&self, t: f64) -> Option<Offset> {
        let next = self.own.partition_point(|step| step.t < t);
        let after = self.own.get(next);
        let before = next.checked_sub(1).and_then(|it| self.own.get(it));
        match (before, after) {
            (_, Some(after)) if after.t - t < 1e-9 => Some(after.place),
            (Some(before), Some(after)) if after.t - before.t <= OWN_GAP_S => {
                let share = (t - before.t) / (after.t - before.t);
                Some(between(before.place, after.place, share))
            }
            (Some(before), _) if t - before.t <= 2.0 => Some(before.place),
            (_, Some(after)) if after.t - t <= 2.0 => Some(after.place),
            _ => None,
        }
    }

    /// How she moved over ground.
    pub(super) fn own_motion(&self, step: &Step) -> Option<Velocity> {
        match (step.cog, step.sog) {
            (Some(cog), Some(sog)) => Some(Velocity::of(cog, sog)),
            (None, Some(sog)) if sog.0 < LIES.0 => Some(Velocity::STILL),
            _ => {
                let from = self.own_at(step.t - SPEED_OVER_S)?;
                let way = self.own_at(step.t + SPEED_OVER_S)? - from;
                let share = 1.0 / (2.0 * SPEED_OVER_S);
                Some(Velocity::new(way.east_m * share, way.north_m * share))
            }
        }
    }

    /// How fast she moved against the casualty's drift.
    pub(super) fn speed_against(&self, step: &Step) -> Option<Knots> {
        Some((self.own_motion(step)? - self.in_water(step.t)?.velocity).speed())
    }

    /// The step nearest to a moment, if there is one within the time that own positions are apart.
    pub(super) fn step_at(&self, t: f64) -> Option<&Step> {
        let near = self.steps(t - OWN_GAP_S / 2.0, t + OWN_GAP_S / 2.0).iter();
        near.min_by(|one, other| (one.t - t).abs().total_cmp(&(other.t - t).abs()))
    }

    /// The casualty in the water: between its positions and, for five minutes, outside of them.
    pub(super) fn in_water(&self, t: f64) -> Option<Moment> {
        let adrift = self.adrift.as_ref()?;
        let (first, last) = adrift.span()?;
        let last = self.rides_from.map_or(last, |rides| last.max(rides));
        ((first - CARRIED_S)..=(last + CARRIED_S)).contains(&t).then(|| adrift.at(t))?
    }

    /// Where the casualty was: in the water as its positions and its drift tell, and then with the
    /// ship.
    pub(super) fn casualty_at(&self, t: f64) -> Option<Offset> {
        // Switched off, it is on board or wherever somebody took it.
        if self.beacon.off.is_some_and(|off| t > self.t(off) + BURST_S) {
            return None;
        }
        if self.is_aboard(t) {
            let last = self.bursts.last()?.t;
            return self.own_at(t).filter(|_| t <= last + CARRIED_S);
        }
        let is_unsure = self.unsure_from.is_some_and(|from| t >= from);
        Some(self.in_water(t).filter(|_| !is_unsure)?.place)
    }

    fn is_aboard(&self, t: f64) -> bool {
        self.aboard_from.is_some_and(|from| t >= from)
    }

    /// When own ship was no longer beside where the casualty drifts, after she had been there and
    /// after its last position in the water: it may be on board by then.
    pub(super) fn parted(&self, there: f64) -> Option<f64> {
        let (_, last) = self.adrift.as_ref()?.span()?;
        let is_away = |step: &&Step| {
            let range = self.in_water(step.t).map(|it| metres(step.place - it.place));
            range.zip(self.range_off(step.t)).is_some_and(|(range, off)| range > off)
        };
        self.steps(there.max(last), self.end).iter().find(is_away).map(|step| step.t)
    }

    /// How far a range may be off then, in metres: 95 of 100 are nearer the truth.
    pub(super) fn range_off(&self, t: f64) -> Option<f64> {
        let own = self.own_sd_m(t);
        let casualty = if self.is_aboard(t) { own } else { self.in_water(t)?.place_sd() };
        Some(RANGE_95 * own.hypot(casualty))
    }

    /// The least that a range may be where the casualty's place is no longer known, in metres: by where
    /// it would have drifted.
    pub(super) fn least_range(&self, step: &Step) -> Option<f64> {
        let there = self.adrift.as_ref()?.at(step.t)?;
        let off = RANGE_95 * self.own_sd_m(step.t).hypot(there.place_sd());
        Some((metres(step.place - there.place) - off).max(0.0))
    }

    /// How far own position is off along each axis, in metres.
    fn own_sd_m(&self, t: f64) -> f64 {
        let own_m_s = self.step_at(t).and_then(|step| step.sog).map_or(0.0, |sog| sog.0 * KNOT_M_S);
        OWN_SD_M.hypot(OWN_LATE_S * own_m_s)
    }

    /// How far a distance from own position may be off by that alone within a time, at the most.
    pub(super) fn own_off(&self, from: f64, until: f64) -> f64 {
        let sd = self.steps(from, until).iter().map(|step| self.own_sd_m(step.t));
        RANGE_95 * sd.fold(OWN_SD_M, f64::max)
    }

    /// How far own ship was from the casualty, in metres.
    pub(super) fn range_at(&self, t: f64) -> Option<f64> {
        Some(metres(self.casualty_at(t)? - self.own_at(t)?))
    }

    /// The steps within a time.
    pub(super) fn steps(&self, from: f64, until: f64) -> &[Step] {
        let begin = self.own.partition_point(|step| step.t < from);
        let end = self.own.partition_point(|step| step.t <= until);
        self.own.get(begin..end.max(begin)).unwrap_or_default()
    }

    /// The range at each step within a time, where it is known.
    pub(super) fn ranges(&self, from: f64, until: f64) -> Vec<(f64, f64)> {
        let steps = self.steps(from, until).iter();
        steps
            .filter_map(|step| Some((step.t, metres(self.casualty_at(step.t)? - step.place))))
            .collect()
    }
}

/// A place on the line between two.
fn between(from: Offset, to: Offset, share: f64) -> Offset {
    let way = to - from;
    from + Offset { east_m: way.east_m * share, north_m: way.north_m * share }
}
