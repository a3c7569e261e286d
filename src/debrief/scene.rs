//! Own ship and a casualty on one plane, in seconds from the beginning of the recording.

use super::drill::{CasualtyFix, OwnPoint, Unwatched};
use super::heard::Beacon;
use super::labels::{after, seconds};
use crate::beacon;
use crate::navigation::{Drift, Offset, Position, Velocity};
use crate::time::{Mono, Utc};
use crate::units::{Degrees, Knots};

/// A message this long after the first of a burst begins another, as in the watch.
pub(super) const BURST_S: f64 = beacon::ANOTHER_BURST.as_secs_f64();

/// Own positions further apart than this have nothing between them.
const OWN_GAP_S: f64 = 35.0;

/// For so long before its first and after its last position a casualty is carried by its drift.
const CARRIED_S: f64 = 5.0 * 60.0;

/// A jump of a casualty's place that nobody makes, in metres a second (10 knots) and metres.
const FASTEST_M_S: f64 = 5.2;
const JUMP_M: f64 = 60.0;

/// Own ship at one moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub t: f64,
    pub place: Offset,
    pub sog: Option<Knots>,
    pub cog: Option<Degrees>,
    pub heading: Option<Degrees>,
}

/// Where a casualty was.
#[derive(Clone, Debug)]
pub(super) struct CasualtyTrack {
    /// One place a burst.
    pub points: Vec<(f64, Offset)>,
    /// What carries it where nothing was heard, over ground, and from what that is known.
    pub drift: Option<Drift>,
    pub velocity: Velocity,
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
    pub way: Option<CasualtyTrack>,
    /// The middle of the plane; `None` where no place is known at all.
    origin: Option<Position>,
}

impl<'a> Scene<'a> {
    /// The scene of a casualty in a recording.
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
            })
        });
        let offset = |(at, place)| Some((seconds(zero, at), Offset::between(origin?, place)));
        let fixes = plausible(places.into_iter().filter_map(offset));
        let mut scene = Self {
            beacon,
            zero,
            end: seconds(zero, span.1),
            own: steps.collect(),
            gaps: gaps.iter().map(|it| (seconds(zero, it.from), seconds(zero, it.until))).collect(),
            fixes,
            way: None,
            origin,
        };
        scene.way = scene.way_of(&scene.bursts_of_fixes());
        scene
    }

    /// Fits the drift anew, from what was heard while the casualty was in the water.
    pub(super) fn fit_until(&mut self, until: f64) {
        let in_water: Vec<_> =
            self.bursts_of_fixes().into_iter().filter(|(t, _)| *t <= until).collect();
        let drift = self.drift_of(&in_water);
        if let Some(way) = &mut self.way {
            way.drift = drift;
            way.velocity = drift.map_or(Velocity::STILL, |drift| drift.velocity);
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
        let points = self.way.iter().flat_map(|way| &way.points);
        points
            .filter_map(|&(t, place)| {
                Some(CasualtyFix { at: self.utc(t), position: self.position(place)? })
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

    /// Where the casualty was: between bursts in a straight line, outside of them carried by its
    /// drift for five minutes.
    pub(super) fn casualty_at(&self, t: f64) -> Option<Offset> {
        let way = self.way.as_ref()?;
        let next = way.points.partition_point(|(at, _)| *at < t);
        let after = way.points.get(next);
        let before = next.checked_sub(1).and_then(|it| way.points.get(it));
        match (before, after) {
            (Some(before), Some(after)) => {
                Some(between(before.1, after.1, (t - before.0) / (after.0 - before.0)))
            }
            // Switched off, it is on board or wherever somebody took it.
            (Some(_), None) if self.beacon.off.is_some_and(|off| t > self.t(off) + BURST_S) => None,
            (Some(end), None) | (None, Some(end)) if (t - end.0).abs() <= CARRIED_S => {
                Some(end.1 + carried(way.velocity, t - end.0))
            }
            _ => None,
        }
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

    /// The mean of the fixes of each burst.
    fn bursts_of_fixes(&self) -> Vec<(f64, Offset)> {
        let mut bursts: Vec<(f64, f64, Offset, f64)> = Vec::new();
        for &(t, place) in &self.fixes {
            match bursts.last_mut() {
                Some((first, sum, total, count)) if t - *first <= BURST_S => {
                    (*sum, *total, *count) = (*sum + t, *total + place, *count + 1.0);
                }
                _ => bursts.push((t, t, place, 1.0)),
            }
        }
        let mean = |(_, sum, total, count): (f64, f64, Offset, f64)| {
            let place = Offset { east_m: total.east_m / count, north_m: total.north_m / count };
            (sum / count, place)
        };
        bursts.into_iter().map(mean).collect()
    }

    fn way_of(&self, points: &[(f64, Offset)]) -> Option<CasualtyTrack> {
        if points.is_empty() {
            return None;
        }
        let drift = self.drift_of(points);
        let velocity = drift.map_or(Velocity::STILL, |drift| drift.velocity);
        Some(CasualtyTrack { points: points.to_vec(), drift, velocity })
    }

    fn drift_of(&self, points: &[(f64, Offset)]) -> Option<Drift> {
        let timed: Vec<(Mono, Position)> = points
            .iter()
            .filter_map(|&(t, place)| Some((mono(t), self.position(place)?)))
            .collect();
        Drift::fit(&timed)
    }
}

/// Arrival as the fit of a drift counts it: a day before the recording is its zero.
fn mono(t: f64) -> Mono {
    Mono::from_micros(((t + 86_400.0).max(0.0) * 1e6) as u64)
}

/// The fixes without those that jump further than anybody drifts and do not stay there.
fn plausible(fixes: impl Iterator<Item = (f64, Offset)>) -> Vec<(f64, Offset)> {
    let mut kept: Vec<(f64, Offset)> = Vec::new();
    let mut doubted: Vec<(f64, Offset)> = Vec::new();
    let agree = |one: &(f64, Offset), other: &(f64, Offset)| {
        metres(other.1 - one.1) <= JUMP_M + FASTEST_M_S * (other.0 - one.0).abs()
    };
    for fix in fixes {
        if kept.last().is_none_or(|last| agree(last, &fix)) {
            kept.push(fix);
            doubted.clear();
        } else if doubted.last().is_some_and(|last| !agree(last, &fix)) {
            doubted = vec![fix];
        } else {
            doubted.push(fix);
            // A whole burst of it: the casualty is there.
            if doubted.len() >= beacon::MESSAGES {
                kept.append(&mut doubted);
            }
        }
    }
    kept
}

/// A place on the line between two.
fn between(from: Offset, to: Offset, share: f64) -> Offset {
    let way = to - from;
    from + Offset { east_m: way.east_m * share, north_m: way.north_m * share }
}

/// Where a velocity leads in seconds, which may be negative.
pub(super) fn carried(velocity: Velocity, t: f64) -> Offset {
    Offset { east_m: velocity.east() * t, north_m: velocity.north() * t }
}

/// How long a way is, in metres.
pub(super) fn metres(way: Offset) -> f64 {
    way.east_m.hypot(way.north_m)
}
