//! When own ship turned back, what she did before that, and when her bow pointed at the casualty.
//!
//! The turn back is the one after the fall that ends on a course towards the casualty; it begins where
//! she first left the course for good. A tack or a gybe before it is a manoeuvre of its own: one that
//! swept somebody off is the commonest way to go overboard under sail.

use super::adrift::KNOT_M_S;
use super::courses::{Compass, Leg, TURNED_DEG, held, swept};
use super::drill::Wind;
use super::scene::{Scene, Step, metres};
use crate::navigation::Velocity;
use crate::units::Degrees;

/// A turn begun so long before the first message counts where nobody knows when the casualty fell:
/// the crew may have seen it, and the message comes up to a minute later. Our own.
const BEFORE_FIRST_S: f64 = 30.0;

/// The casualty fell no longer than this before the first message, as a rule, and own ship was no
/// further from it then than this, in metres. Our own.
const FELL_WITHIN_S: f64 = 90.0;
const FELL_WITHIN_M: f64 = 100.0;

/// Manoeuvres so long before the first message are of interest, and so many of them. Our own.
const INTEREST_S: f64 = 180.0;
const MANOEUVRES: usize = 12;

/// A course that leads away from the casualty and is held for less than this between two turns is a
/// part of the turn back, as the beam reach of some ways to sail it is. Our own.
const PART_OF_TURN_S: f64 = 45.0;

/// Nobody turns further than this after a fall but for the casualty, whatever course it ends on: she
/// may overrun it. In degrees, our own.
const ROUND_DEG: f64 = 200.0;

/// A gap in own track in which she may have turned, in seconds. Our own.
const UNSEEN_S: f64 = 10.0;

/// The bow points at the casualty within this angle to either side, for so long. Our own.
const POINTING_DEG: f64 = 20.0;
const POINTING_S: f64 = 5.0;

/// She is on her way to the casualty when her course is within this of its bearing, on average over
/// so long: under sail she may have to beat. Nearer than this, in metres, a bearing is noise. Our own.
const TOWARDS_DEG: f64 = 75.0;
const TOWARDS_S: f64 = 20.0;
const NOISE_M: f64 = 30.0;

/// The tolerance of the beginning of a turn, and of the pointing, in seconds. Our own.
pub(super) const TURN_S: f64 = 5.0;
pub(super) const POINTING_TOLERANCE_S: f64 = 10.0;

/// Manoeuvres as they are called: with the head through the wind, with the stern, otherwise.
pub(super) const DOES: [&str; 3] = ["tacks", "gybes", "turns"];
pub(super) const DID: [&str; 3] = ["tacked", "gybed", "turned"];

/// What is known of the turns of a drill.
#[derive(Clone, Debug, Default)]
pub(super) struct Turns {
    /// When the turn back began.
    pub back: Option<f64>,
    /// Whether no position told where that turn led, of the casualty's or her own.
    pub is_blind: bool,
    /// Whether it was, or may have been, in a gap of own track: when it began is not known then.
    pub is_unseen: bool,
    /// Whether one that may have been it led to the casualty or past it, as near as positions tell.
    pub is_unsure: bool,
    /// What she did before it.
    pub manoeuvres: Vec<Manoeuvre>,
}

/// A change from one course to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Manoeuvre {
    pub begun: f64,
    /// When the next course was held.
    pub ended: f64,
    pub from: Degrees,
    pub to: Degrees,
    /// How far she turned, clockwise.
    pub swept_deg: f64,
}

/// When the casualty fell, and how sure that is, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fall {
    pub t: f64,
    pub off_s: f64,
}

/// How the turn was found.
pub(super) fn turn_words(compass: Compass, is_blind: bool) -> String {
    let what = if is_blind {
        "no position tells where a turn led: the first one from half a minute before the first \
         message on"
    } else {
        "the turn after the fall that ended on a course towards the casualty, or went round"
    };
    format!(
        "{what}; where own {} first left the course before it for good, by more than 30°; ±{TURN_S:.0} s",
        compass.word()
    )
}

/// How the pointing was found.
pub(super) fn pointing_words(compass: Compass) -> String {
    let ahead = match compass {
        Compass::Heading => "heading",
        Compass::Course => "course against its drift, for want of a heading",
    };
    format!(
        "the casualty within {POINTING_DEG:.0}° of own {ahead} for {POINTING_S:.0} s; \
         ±{POINTING_TOLERANCE_S:.0} s"
    )
}

impl Fall {
    /// When own ship was where the casualty's track leads back to, in the minute and a half before the
    /// first message; `None` where that does not tell.
    pub(super) fn in_scene(scene: &Scene<'_>, first: f64) -> Option<Self> {
        let ranges = scene.ranges(first - FELL_WITHIN_S, first);
        let &(t, _) = ranges
            .iter()
            .filter(|(_, range)| *range <= FELL_WITHIN_M)
            .min_by(|one, other| one.1.total_cmp(&other.1))?;
        let step = scene.steps(t, t + 1.0).first()?;
        let off_s = scene.range_off(t)? / (step.sog?.0 * KNOT_M_S);
        (off_s <= FELL_WITHIN_S).then_some(Self { t, off_s })
    }
}

impl Turns {
    /// Looks for them, from shortly before the first message at `first` to `until`.
    pub(super) fn in_scene(
        scene: &Scene<'_>,
        compass: Compass,
        (first, fall): (f64, Option<Fall>),
        until: f64,
    ) -> Self {
        let legs = held(scene, compass, first - INTEREST_S - 60.0, until);
        let after = fall.map_or(first - BEFORE_FIRST_S, |fall| fall.t);
        let surely = fall.map_or(after, |fall| fall.t - fall.off_s);
        let mut found = Self::default();
        // Which leg the turn back ends on.
        let mut ends = None;
        for (place, leg) in legs.iter().enumerate() {
            let next = legs.get(place + 1);
            if leg.until < after - BEFORE_FIRST_S {
                continue;
            }
            if !leg.is_left {
                let turned = next.map_or(0.0, |next| next.course.relative_to(leg.course).abs());
                let led = || leads_back(scene, compass, leg.until, next, (after, surely), until);
                found.is_unseen = turned > TURNED_DEG && led() != Led::Away;
                if found.is_unseen {
                    break;
                }
                continue;
            }
            match leads_back(scene, compass, leg.until, next, (after, surely), until) {
                Led::Back => ends = Some(place),
                Led::Untold if leg.until >= after => (ends, found.is_blind) = (Some(place), true),
                Led::Unsure if leg.until >= after => found.is_unsure = true,
                _ => continue,
            }
            break;
        }
        let mut begins = ends;
        while let Some(place) = begins
            && let Some(before) = place.checked_sub(1)
            && legs[place].until - legs[place].from < PART_OF_TURN_S
            && legs[before].is_left
            && legs[before].until >= after
            && !found.is_blind
        {
            begins = Some(before);
        }
        found.back = begins.map(|place| legs[place].until);
        let pairs = legs.iter().zip(legs.iter().skip(1)).take(begins.unwrap_or(legs.len()));
        let is_of_interest = |(leg, next): &(&Leg, &Leg)| {
            leg.is_left && leg.until >= first - INTEREST_S && next.from - leg.until < 120.0
        };
        found.manoeuvres = pairs
            .filter(is_of_interest)
            .take(MANOEUVRES)
            .map(|(leg, next)| Manoeuvre {
                begun: leg.until,
                ended: next.from,
                from: leg.course,
                to: next.course,
                swept_deg: swept(scene, compass, leg.until, next.from),
            })
            .collect();
        found
    }
}

/// Where a turn led.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Led {
    /// Towards the casualty.
    Back,
    Away,
    /// To it or past it: as near as that, positions do not tell.
    Unsure,
    /// No position tells.
    Untold,
}

/// Where a turn that begins at `begun` leads, on its way or on the course after it. The casualty fell at
/// `after`, and not before `surely`.
fn leads_back(
    scene: &Scene<'_>,
    compass: Compass,
    begun: f64,
    next: Option<&Leg>,
    (after, surely): (f64, f64),
    until: f64,
) -> Led {
    let from = begun.max(after + POINTING_S);
    let turned = next.map_or(until, |leg| leg.from);
    let is_round = begun >= surely && swept(scene, compass, begun, turned).abs() >= ROUND_DEG;
    if next.is_some() && is_round || pointing(scene, compass, (from, turned), NOISE_M).is_some() {
        return Led::Back;
    }
    // What she did where her track has a gap may have been the whole of it.
    let has_gap = scene.steps(begun, turned).windows(2).any(|two| two[1].t - two[0].t > UNSEEN_S);
    if has_gap && begun >= after {
        return Led::Untold;
    }
    let known = |t: f64| scene.casualty_at(t).is_some();
    let Some(next) = next else { return if known(from) { Led::Away } else { Led::Untold } };
    let from = next.from.max(after + POINTING_S);
    let (mut angles, mut offs, mut count) = (0.0, 0.0, 0.0);
    for step in scene.steps(from, next.until.min(from + TOWARDS_S)) {
        let angle = off_bow(scene, compass, step).filter(|(_, far_m)| *far_m > NOISE_M);
        if let Some(((angle, far_m), off_m)) = angle.zip(scene.range_off(step.t)) {
            angles += angle;
            offs += off_m.atan2(far_m).to_degrees();
            count += 1.0;
        }
    }
    if count == 0.0 {
        let is_later = scene.bursts.first().is_none_or(|first| first.t > next.from);
        return if is_later { Led::Untold } else { Led::Away };
    }
    match angles / count - TOWARDS_DEG {
        more if more < 0.0 => Led::Back,
        more if more < offs / count => Led::Unsure,
        _ => Led::Away,
    }
}

/// How far the casualty is off her bow, in degrees, and off her, in metres. A course over ground tells of
/// her bow what the drift leaves of it.
fn off_bow(scene: &Scene<'_>, compass: Compass, step: &Step) -> Option<(f64, f64)> {
    let way = scene.casualty_at(step.t)? - step.place;
    let ahead = compass.of_step(step)?;
    let ahead = match compass {
        Compass::Heading => ahead,
        Compass::Course => {
            let drift = scene.in_water(step.t).map_or(Velocity::STILL, |it| it.velocity);
            (scene.own_motion(step)? - drift).towards()
        }
    };
    Some((way.bearing().relative_to(ahead).abs(), metres(way)))
}

impl Manoeuvre {
    /// What the boat did, by the wind where that is known: `tacked from 040° to 310°`.
    pub(super) fn words(&self, [tack, gybe, turn]: [&str; 3], wind: Option<&Wind>) -> String {
        let (from, to) = (three(self.from), three(self.to));
        let passes = |direction: Degrees| {
            let begin = self.from.relative_to(direction);
            let turns = |by: f64| (by / 360.0).floor();
            turns(begin) != turns(begin + self.swept_deg)
        };
        let side = if self.swept_deg < 0.0 { "port" } else { "starboard" };
        let (head, stern) = wind.map_or((false, false), |wind| {
            (passes(wind.from_deg), passes(Degrees::new(wind.from_deg.value() + 180.0)))
        });
        match (head, stern) {
            (true, false) => format!("{tack} from {from} to {to}"),
            (false, true) => format!("{gybe} from {from} to {to}"),
            _ => format!("{turn} to {side} from {from} to {to}"),
        }
    }
}

/// A course to five degrees: it is the mean of what was held.
fn three(course: Degrees) -> String {
    format!("{:03.0}°", (course.value() / 5.0).round() * 5.0 % 360.0)
}

/// When her bow points at the casualty within a time, from further off than so many metres.
pub(super) fn pointing(
    scene: &Scene<'_>,
    compass: Compass,
    (from, until): (f64, f64),
    nearest_m: f64,
) -> Option<f64> {
    let mut since: Option<f64> = None;
    for step in scene.steps(from, until) {
        let points = off_bow(scene, compass, step)
            .is_some_and(|(angle, far_m)| angle <= POINTING_DEG && far_m >= nearest_m);
        if !points {
            since = None;
            continue;
        }
        let begun = *since.get_or_insert(step.t);
        if step.t - begun >= POINTING_S {
            return Some(begun);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Knots;

    #[test]
    fn a_manoeuvre_has_its_name_by_the_wind() {
        let wind = |from: f64| Wind { from_deg: Degrees::new(from), speed_kn: Knots(12.0) };
        let of = |from: f64, swept_deg: f64| Manoeuvre {
            begun: 0.0,
            ended: 10.0,
            from: Degrees::new(from),
            to: Degrees::new(from + swept_deg),
            swept_deg,
        };
        for (from, swept, wind_from, words) in [
            (40.0, -90.0, 355.0, "tacked from 040° to 310°"),
            (310.0, 90.0, 355.0, "tacked from 310° to 040°"),
            (150.0, 60.0, 0.0, "gybed from 150° to 210°"),
            (210.0, -60.0, 0.0, "gybed from 210° to 150°"),
            (90.0, 40.0, 0.0, "turned to starboard from 090° to 130°"),
            // Once around by head and stern.
            (90.0, -300.0, 0.0, "turned to port from 090° to 150°"),
        ] {
            assert_eq!(of(from, swept).words(DID, Some(&wind(wind_from))), words);
        }
        assert_eq!(of(40.0, -90.0).words(DID, None), "turned to port from 040° to 310°");
    }
}
