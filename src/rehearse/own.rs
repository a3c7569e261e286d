//! Own ship: where she is at any time, and what her instruments say of it.

use super::scenario::{GnssLost, Own, Scenario, Wind};
use super::slots::jittered;
use super::{Stage, TimedLine, sealed};
use crate::navigation::{Position, destination};
use crate::time::Utc;
use crate::units::{Degrees, Knots, NauticalMiles};

/// How long a receiver takes from the moment of a fix to its sentence (our own).
const GNSS_LATENCY_S: f64 = 0.12;

/// The same of the other instruments.
const INSTRUMENT_LATENCY_S: f64 = 0.05;

/// Where something is and how it moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Motion {
    pub place: Position,
    pub course: Degrees,
    pub speed: Knots,
}

impl Motion {
    /// Straight on for some seconds.
    pub fn after(self, seconds: f64) -> Self {
        let range = NauticalMiles(self.speed.0 * seconds / 3600.0);
        Self { place: destination(self.place, self.course, range), ..self }
    }
}

/// Two motions at once: that of something through the water and that of the water, each as direction
/// and speed. Without one of them the other is as it was, to the last bit.
pub(super) fn together(one: (Degrees, Knots), other: (Degrees, Knots)) -> (Degrees, Knots) {
    if other.1.0 == 0.0 {
        return one;
    }
    if one.1.0 == 0.0 {
        return other;
    }
    let parts = |(towards, speed): (Degrees, Knots)| {
        let (east, north) = towards.value().to_radians().sin_cos();
        (east * speed.0, north * speed.0)
    };
    let ((one_east, one_north), (other_east, other_north)) = (parts(one), parts(other));
    let (east, north) = (one_east + other_east, one_north + other_north);
    (Degrees::new(east.atan2(north).to_degrees()), Knots(east.hypot(north)))
}

/// Own ship's way, second by second.
pub(super) struct Track {
    moments: Vec<OwnMotion>,
}

/// How own ship moves at one moment.
#[derive(Clone, Copy, Debug)]
struct OwnMotion {
    /// Over ground.
    ground: Motion,
    /// Where her bow points, and her speed through the water.
    heading: Degrees,
    water_speed: Knots,
}

impl Track {
    /// The way that a scenario's legs and current make.
    pub fn of(scenario: &Scenario) -> Self {
        let own = &scenario.own;
        let start = Position::new(own.lat.0, own.lon.0);
        let (Some(mut place), mut course) = (start, Degrees::new(own.heading_deg.0)) else {
            // The limits of the keys are those of a position.
            return Self { moments: Vec::new() };
        };
        // Without legs she is moored.
        let current = scenario.current.filter(|_| !own.legs.is_empty());
        let current = current.map_or((Degrees::new(0.0), Knots(0.0)), |current| {
            (Degrees::new(current.set_deg.0), Knots(current.rate_kn.0))
        });
        let mut speed = Knots(0.0);
        let mut moments = Vec::new();
        for second in 0..=scenario.duration_s.0 as u32 {
            (course, speed) = steered(own, f64::from(second), (course, speed));
            let (over_ground, made_good) = together((course, speed), current);
            let ground = Motion { place, course: over_ground, speed: made_good };
            moments.push(OwnMotion { ground, heading: course, water_speed: speed });
            place = ground.after(1.0).place;
        }
        Self { moments }
    }

    /// Where she is this many seconds after the start, and how she moves over ground; before and
    /// after it all, where she began and ended.
    pub fn at(&self, seconds: f64) -> Option<Motion> {
        let (moment, rest) = self.moment(seconds)?;
        Some(moment.ground.after(rest))
    }

    /// Her heading and her speed through the water then.
    pub fn through_water(&self, seconds: f64) -> Option<(Degrees, Knots)> {
        let (moment, _) = self.moment(seconds)?;
        Some((moment.heading, moment.water_speed))
    }

    /// The whole second before, and how long ago that was.
    fn moment(&self, seconds: f64) -> Option<(&OwnMotion, f64)> {
        let last = self.moments.len().checked_sub(1)?;
        let whole = (seconds.max(0.0) as usize).min(last);
        let rest = (seconds - whole as f64).clamp(0.0, 1.0);
        Some((self.moments.get(whole)?, rest))
    }
}

/// The heading and speed that the helm makes of the present ones: those of the leg, or on the way to
/// them.
fn steered(own: &Own, seconds: f64, present: (Degrees, Knots)) -> (Degrees, Knots) {
    let mut begins = 0.0;
    let mut legs = own.legs.iter().take_while(|leg| {
        let begun = begins <= seconds;
        begins += leg.minutes.0 * 60.0;
        begun
    });
    let Some(leg) = legs.by_ref().last() else { return present };
    let wanted = Degrees::new(leg.course_deg.0);
    let turn = wanted.relative_to(present.0);
    let step = leg.turn_deg_min.map_or(f64::INFINITY, |rate| rate.0 / 60.0);
    let course = if turn.abs() <= step {
        wanted
    } else {
        Degrees::new(present.0.value() + step.copysign(turn))
    };
    (course, Knots(leg.speed_kn.0))
}

/// What GNSS and instruments say.
pub(super) fn lines(stage: &Stage<'_>) -> Vec<TimedLine> {
    let own = &stage.scenario.own;
    let sources = &stage.scenario.sources;
    let mut dice = stage.dice(0);
    let mut lines = Vec::new();
    let mut say = |every: f64, latency: f64, source: &str, tell: &mut Tell<'_>| {
        let mut seconds = 0.0;
        while seconds < stage.scenario.duration_s.0 {
            let sentence = tell(seconds);
            lines.extend(sentence.map(|body| TimedLine {
                at: stage.utc(seconds + latency),
                source: source.to_owned(),
                sentence: sealed(&body),
            }));
            seconds += every;
        }
    };
    say(own.rmc_every_s.0, GNSS_LATENCY_S, &sources.gnss.0, &mut |seconds| {
        let motion = stage.own.at(seconds)?;
        let place = jittered(motion.place, own.jitter_m.0, &mut dice);
        let lost = own.gnss_lost.iter().map(toml::Spanned::get_ref);
        match lost.clone().find(|lost| (lost.from_s..lost.until_s).contains(&seconds)) {
            Some(GnssLost { says_so: false, .. }) => None,
            Some(_) => Some(rmc(stage.utc(seconds), None)),
            None => Some(rmc(stage.utc(seconds), Some(Motion { place, ..motion }))),
        }
    });
    let instruments = &sources.instruments.0;
    if let Some(every) = own.hdt_every_s {
        say(every.0, INSTRUMENT_LATENCY_S, instruments, &mut |seconds| {
            let (heading, _) = stage.own.through_water(seconds)?;
            Some(format!("$HEHDT,{:.1},T", tenths(heading)))
        });
    }
    if let Some(every) = own.vhw_every_s {
        say(every.0, INSTRUMENT_LATENCY_S, instruments, &mut |seconds| {
            let (heading, Knots(speed)) = stage.own.through_water(seconds)?;
            let kmh = speed * 1.852;
            Some(format!("$VWVHW,{:.1},T,,M,{speed:.1},N,{kmh:.1},K", tenths(heading)))
        });
    }
    if let Some(wind) = &own.wind {
        say(wind.every_s.0, INSTRUMENT_LATENCY_S, instruments, &mut |seconds| {
            let (heading, _) = stage.own.through_water(seconds)?;
            Some(mwv(wind, heading, stage.own.at(seconds)?))
        });
    }
    lines
}

/// Makes the body of a sentence, with its start character, for a time.
type Tell<'a> = dyn FnMut(f64) -> Option<String> + 'a;

/// RMC; without a motion, one that says that there is no position.
fn rmc(at: Utc, motion: Option<Motion>) -> String {
    let ms = at.unix_ms().rem_euclid(86_400_000);
    let (hour, minute, seconds) = (ms / 3_600_000, ms / 60_000 % 60, (ms % 60_000) as f64 / 1000.0);
    let time = format!("{hour:02}{minute:02}{seconds:05.2}");
    let date = at.date().format("%d%m%y");
    let Some(Motion { place, course, speed }) = motion else {
        return format!("$GPRMC,{time},V,,,,,,,{date},,,N");
    };
    let (lat_deg, lat_min) = degrees_and_minutes(place.lat());
    let (lon_deg, lon_min) = degrees_and_minutes(place.lon());
    let north = if place.lat() < 0.0 { 'S' } else { 'N' };
    let east = if place.lon() < 0.0 { 'W' } else { 'E' };
    // At rest there is no course.
    let course = if speed.0 > 0.0 { format!("{:.1}", tenths(course)) } else { String::new() };
    format!(
        "$GPRMC,{time},A,{lat_deg:02}{lat_min:08.5},{north},{lon_deg:03}{lon_min:08.5},{east},{:.1},{course},{date},,,A",
        speed.0
    )
}

/// Whole degrees and minutes, rounded to five decimals before they are parted.
fn degrees_and_minutes(degrees: f64) -> (u32, f64) {
    let hundred_thousandths = (degrees.abs() * 6_000_000.0).round() as u32;
    (hundred_thousandths / 6_000_000, f64::from(hundred_thousandths % 6_000_000) / 100_000.0)
}

/// A direction to a tenth of a degree, below 360.
fn tenths(direction: Degrees) -> f64 {
    Degrees::new((direction.value() * 10.0).round() / 10.0).value()
}

/// MWV of the wind felt on board, from the bow: the true wind and that of her own motion.
fn mwv(wind: &Wind, heading: Degrees, motion: Motion) -> String {
    let part = |from: f64, speed: f64| {
        let (east, north) = from.to_radians().sin_cos();
        (east * speed, north * speed)
    };
    let (east, north) = part(wind.from_deg.0, wind.speed_kn.0);
    let (own_east, own_north) = part(motion.course.value(), motion.speed.0);
    let (east, north) = (east + own_east, north + own_north);
    let from = east.atan2(north).to_degrees() - heading.value();
    format!("$WIMWV,{:.1},R,{:.1},N,A", tenths(Degrees::new(from)), east.hypot(north))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::navigation::range_and_bearing;

    fn scenario(own: &str) -> Scenario {
        let head = "about = \"x\"\nstart = 2026-06-14T02:00:00Z\nduration_s = 600\nseed = 1\n";
        Scenario::parse(&format!("{head}[own]\nmmsi = 200000000\nlat = 57.7\nlon = 10.5\n{own}"))
            .unwrap()
    }

    #[test]
    fn legs_lead_where_their_courses_and_speeds_say() {
        let track = Track::of(&scenario(
            "[[own.leg]]\ncourse_deg = 90\nspeed_kn = 6\nminutes = 5\n\
             [[own.leg]]\ncourse_deg = 180\nspeed_kn = 12\nminutes = 1\nturn_deg_min = 90\n",
        ));
        let start = track.at(0.0).unwrap().place;
        let (range, bearing) = range_and_bearing(start, track.at(300.0).unwrap().place);
        assert!((range.0 - 0.5).abs() < 1e-4 && (bearing.value() - 90.0).abs() < 0.01);
        assert_eq!(track.at(299.9).unwrap().course.value(), 90.0);
        assert_eq!(track.at(329.0).unwrap().course.value(), 135.0, "half the turn after 30 s");
        assert_eq!(track.at(599.0).unwrap().course.value(), 180.0, "the last leg goes on");
        assert_eq!(track.at(599.0).unwrap().speed.0, 12.0);
    }

    #[test]
    fn the_wind_felt_on_board_is_the_sum_of_both() {
        let wind = Wind {
            from_deg: 0.0.try_into().unwrap(),
            speed_kn: 8.0.try_into().unwrap(),
            every_s: 1.0.try_into().unwrap(),
        };
        let place = Position::new(57.7, 10.5).unwrap();
        let sail = |course| Motion { place, course: Degrees::new(course), speed: Knots(6.0) };
        assert_eq!(mwv(&wind, Degrees::new(0.0), sail(0.0)), "$WIMWV,0.0,R,14.0,N,A");
        assert_eq!(
            mwv(&wind, Degrees::new(90.0), sail(90.0)),
            "$WIMWV,306.9,R,10.0,N,A",
            "3, 4, 5"
        );
    }

    #[test]
    fn sixty_minutes_are_a_degree() {
        assert_eq!(degrees_and_minutes(-9.999_999_999), (10, 0.0));
        assert_eq!(degrees_and_minutes(57.7), (57, 42.0));
    }
}
