//! Own ship: which fix to trust, and how old everything is that is known of her.
//!
//! Several inputs, and several sentences of one input, may each tell where she is. One of them is
//! in use; another takes over only when it is better or the one in use has fallen silent. So a
//! second receiver, some metres off, does not make the position jump to and fro.
//!
//! This does not judge sentences: what is void, or flagged invalid, must not be brought here.

use std::time::Duration;

use serde::Serialize;

use super::plane::Velocity;
use super::recent::Recent;
use super::{Position, Wind};
use crate::time::Mono;
use crate::units::{Celsius, Degrees, Knots};

/// A source that has been silent for longer than this gives way to any other.
/// A GNSS receiver speaks every second or two. Our own.
const GIVES_WAY_AFTER: Duration = Duration::from_secs(10);

/// A heading older than this is none: a small boat turns right round in less time than it takes
/// to notice. Our own.
const HEADING_LASTS: Duration = Duration::from_secs(10);

/// Course and speed older than this are none. Our own.
const MOTION_LASTS: Duration = Duration::from_secs(30);

/// A magnetic variation older than this is none. It changes by place, slowly: away from the poles
/// by less than a degree in the distance made good in this time. Our own.
const VARIATION_LASTS: Duration = Duration::from_secs(3600);

/// A current is the middle of what was measured in this time, a wind of that: shorter than a tide,
/// longer than a turn, a wave or a gust. Our own.
const CURRENT_OVER: Duration = Duration::from_secs(2 * 60);
const WIND_OVER: Duration = Duration::from_secs(10 * 60);

/// Slower than this a course over ground is noise. Our own.
const COURSE_FROM: Knots = Knots(1.0);

/// What the direction of the bow is taken from, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AheadFrom {
    /// A true heading, as told.
    Heading,
    /// A magnetic heading, and the variation as told.
    MagneticHeading,
    /// A magnetic heading, and the variation of the World Magnetic Model.
    MagneticHeadingAndModel,
    /// The course over ground: a stand-in, wrong by all that current and leeway make.
    CourseOverGround,
}

/// The magnetic variation and where it is from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Variation {
    /// In degrees, east positive.
    pub degrees_east: f64,
    /// Whether it is the model's and not an instrument's.
    pub is_models: bool,
}

impl Variation {
    /// A true direction as the compass shows it, deviation apart.
    pub fn magnetic(self, direction: Degrees) -> Degrees {
        Degrees::new(direction.value() - self.degrees_east)
    }
}

/// A water temperature older than this is none. Our own.
const WATER_TEMPERATURE_LASTS: Duration = Duration::from_secs(600);

/// How a fix was come by; a later one is trusted more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Dead reckoning, or entered by hand.
    Estimated,
    /// From the ship's own transponder: what it sends of itself (a VDO sentence).
    Transponder,
    /// From a satellite receiver's own sentences.
    Satellite,
}

/// One valid report of own ship's position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// When it arrived.
    pub at: Mono,
    /// Where she was.
    pub position: Position,
    /// Speed over ground, if the same report told it.
    pub sog: Option<Knots>,
    /// Course over ground, true, if the same report told it.
    pub cog: Option<Degrees>,
    /// How it was come by.
    pub grade: Grade,
    /// Which input and which kind of sentence: equal numbers are the same source, nothing more.
    pub source: u32,
}

/// What is known of own ship, each value with its age.
#[derive(Clone, Debug)]
pub struct OwnShip {
    fix: Option<Fix>,
    cog: Option<Motion<Degrees>>,
    sog: Option<Motion<Knots>>,
    true_heading: Option<Noted<Degrees>>,
    magnetic_heading: Option<Noted<Degrees>>,
    variation: Option<Noted<f64>>,
    model_variation: Option<Noted<f64>>,
    water_speed: Option<Noted<Knots>>,
    current: Recent,
    wind: Recent,
    water_temperature: Option<Noted<Celsius>>,
}

impl Default for OwnShip {
    fn default() -> Self {
        Self {
            fix: None,
            cog: None,
            sog: None,
            true_heading: None,
            magnetic_heading: None,
            variation: None,
            model_variation: None,
            water_speed: None,
            current: Recent::new(CURRENT_OVER),
            wind: Recent::new(WIND_OVER),
            water_temperature: None,
        }
    }
}

impl OwnShip {
    /// Takes a valid fix.
    ///
    /// One from the source in use always replaces the last. One from another source does so when
    /// its grade is higher or the fix in use is more than 10 s older. Its course and speed are
    /// taken by the rule of [`OwnShip::note_course_and_speed`] even if its position is not.
    pub fn note_fix(&mut self, fix: Fix) {
        note_motion(&mut self.cog, fix.at, fix.grade, fix.cog);
        note_motion(&mut self.sog, fix.at, fix.grade, fix.sog);
        let replaces = self.fix.is_none_or(|used| {
            fix.source == used.source
                || fix.grade > used.grade
                || fix.at.since(used.at) > GIVES_WAY_AFTER
        });
        if replaces {
            self.fix = Some(fix);
        }
        self.measure_current(fix.at);
    }

    /// Takes a true course and a speed over ground that came without a position (VTG), trusted
    /// like a satellite fix.
    ///
    /// The last heard of the highest grade is kept, each for itself: a value of a lower grade
    /// replaces one only after 10 s, and a missing one replaces nothing.
    pub fn note_course_and_speed(&mut self, at: Mono, cog: Option<Degrees>, sog: Option<Knots>) {
        note_motion(&mut self.cog, at, Grade::Satellite, cog);
        note_motion(&mut self.sog, at, Grade::Satellite, sog);
        self.measure_current(at);
    }

    /// Takes a true heading.
    pub fn note_heading(&mut self, at: Mono, heading: Degrees) {
        self.true_heading = Some(Noted { at, value: heading });
    }

    /// Takes a magnetic heading, already corrected for the compass's deviation.
    pub fn note_magnetic_heading(&mut self, at: Mono, heading: Degrees) {
        self.magnetic_heading = Some(Noted { at, value: heading });
    }

    /// Takes the magnetic variation in degrees, east positive. One beyond ±180 or not finite is
    /// none, and is not taken.
    pub fn note_variation(&mut self, at: Mono, degrees_east: f64) {
        if degrees_east.abs() <= 180.0 {
            self.variation = Some(Noted { at, value: degrees_east });
        }
    }

    /// Takes the variation that the World Magnetic Model gives for where the ship is: a stand-in for
    /// one that an instrument tells.
    pub fn note_model_variation(&mut self, at: Mono, degrees_east: f64) {
        self.model_variation = Some(Noted { at, value: degrees_east });
    }

    /// Whether the variation has to be looked up in the model, because no instrument tells it and it
    /// was not looked up in the last half hour.
    pub fn wants_model_variation(&self, now: Mono) -> bool {
        fresh(self.variation, now, VARIATION_LASTS).is_none()
            && fresh(self.model_variation, now, VARIATION_LASTS / 2).is_none()
    }

    /// Takes a true wind.
    pub fn note_wind(&mut self, at: Mono, wind: Wind) {
        let towards = Degrees::new(wind.from.value() + 180.0);
        self.wind.note(at, Velocity::of(towards, wind.speed));
    }

    /// Measures the current: what is left of the motion over ground when that through the water is
    /// taken off it. The boat's own leeway is in it.
    fn measure_current(&mut self, now: Mono) {
        let (Some(ground), Some(water)) = (self.over_ground(now), self.through_water(now)) else {
            return;
        };
        self.current.note(now, ground - water);
    }

    /// Takes the speed through the water.
    pub fn note_water_speed(&mut self, at: Mono, speed: Knots) {
        self.water_speed = Some(Noted { at, value: speed });
    }

    /// Takes the temperature of the water.
    pub fn note_water_temperature(&mut self, at: Mono, temperature: Celsius) {
        self.water_temperature = Some(Noted { at, value: temperature });
    }

    /// The temperature of the water; `None` if unknown or older than 10 min.
    pub fn water_temperature(&self, now: Mono) -> Option<Celsius> {
        fresh(self.water_temperature, now, WATER_TEMPERATURE_LASTS)
    }

    /// The fix in use, however old; `None` if there never was one.
    pub const fn fix(&self) -> Option<&Fix> {
        self.fix.as_ref()
    }

    /// How old the fix in use is.
    pub fn age(&self, now: Mono) -> Option<Duration> {
        self.fix.map(|fix| now.since(fix.at))
    }

    /// The position and its age, if it is no older than `max_age`.
    pub fn position_within(&self, now: Mono, max_age: Duration) -> Option<(Position, Duration)> {
        let fix = self.fix?;
        let age = now.since(fix.at);
        (age <= max_age).then_some((fix.position, age))
    }

    /// The true heading: as a true compass told it, else magnetic with the variation put on, as told
    /// or else the model's.
    /// `None` if what it needs is missing, or the heading is older than 10 s.
    pub fn heading(&self, now: Mono) -> Option<Degrees> {
        fresh(self.true_heading, now, HEADING_LASTS).or_else(|| {
            let magnetic = fresh(self.magnetic_heading, now, HEADING_LASTS)?;
            let variation = self.variation(now)?;
            Some(Degrees::new(magnetic.value() + variation.degrees_east))
        })
    }

    /// Where the bow points, true, by the best that is known: the heading, else the course over
    /// ground of a ship that makes a knot or more.
    pub fn ahead(&self, now: Mono) -> Option<(Degrees, AheadFrom)> {
        if let Some(heading) = self.heading(now) {
            let is_true = fresh(self.true_heading, now, HEADING_LASTS).is_some();
            let models = self.variation(now).is_some_and(|variation| variation.is_models);
            let from = match (is_true, models) {
                (true, _) => AheadFrom::Heading,
                (false, false) => AheadFrom::MagneticHeading,
                (false, true) => AheadFrom::MagneticHeadingAndModel,
            };
            return Some((heading, from));
        }
        let under_way = self.sog(now).is_some_and(|sog| sog >= COURSE_FROM);
        self.cog(now).filter(|_| under_way).map(|cog| (cog, AheadFrom::CourseOverGround))
    }

    /// The magnetic variation: as told within the hour, else that of the model.
    pub fn variation(&self, now: Mono) -> Option<Variation> {
        let told = fresh(self.variation, now, VARIATION_LASTS);
        told.map(|degrees_east| Variation { degrees_east, is_models: false }).or_else(|| {
            let degrees_east = fresh(self.model_variation, now, VARIATION_LASTS)?;
            Some(Variation { degrees_east, is_models: true })
        })
    }

    /// How she moves over ground; `None` if course or speed is unknown or older than 30 s. One that
    /// lies still needs no course.
    pub fn over_ground(&self, now: Mono) -> Option<Velocity> {
        let sog = self.sog(now)?;
        match self.cog(now) {
            Some(cog) => Some(Velocity::of(cog, sog)),
            None => (sog.0 < 0.3).then_some(Velocity::STILL),
        }
    }

    /// How she moves through the water, by heading and log; `None` without either of them.
    pub fn through_water(&self, now: Mono) -> Option<Velocity> {
        Some(Velocity::of(self.heading(now)?, self.water_speed(now)?))
    }

    /// The current, as the middle of the last two minutes' measurements; `None` without heading,
    /// log and a motion over ground in that time.
    pub fn current(&self, now: Mono) -> Option<Velocity> {
        self.current.median(now)
    }

    /// The true wind, as the middle of the last ten minutes'; `None` if there was none.
    pub fn wind(&self, now: Mono) -> Option<Wind> {
        let wind = self.wind.median(now)?;
        let from = Degrees::new(wind.towards().value() + 180.0);
        Some(Wind { from, speed: wind.speed() })
    }

    /// The true course over ground; `None` if unknown or older than 30 s.
    ///
    /// Below half a knot or so it is noise: callers look at [`OwnShip::sog`] before they use it.
    pub fn cog(&self, now: Mono) -> Option<Degrees> {
        fresh(self.cog.map(|motion| motion.noted), now, MOTION_LASTS)
    }

    /// The speed over ground; `None` if unknown or older than 30 s.
    pub fn sog(&self, now: Mono) -> Option<Knots> {
        fresh(self.sog.map(|motion| motion.noted), now, MOTION_LASTS)
    }

    /// The speed through the water; `None` if unknown or older than 30 s.
    pub fn water_speed(&self, now: Mono) -> Option<Knots> {
        fresh(self.water_speed, now, MOTION_LASTS)
    }
}

/// A value and when it arrived.
#[derive(Clone, Copy, Debug)]
struct Noted<T> {
    at: Mono,
    value: T,
}

/// A course or a speed over ground, and what it rests on.
#[derive(Clone, Copy, Debug)]
struct Motion<T> {
    noted: Noted<T>,
    grade: Grade,
}

/// Keeps the last heard value of the highest grade that still speaks.
///
/// The source is left out on purpose: a position may be in use from a sentence that tells no
/// speed, and the same receiver's next sentence has it.
fn note_motion<T>(held: &mut Option<Motion<T>>, at: Mono, grade: Grade, value: Option<T>) {
    let Some(value) = value else { return };
    let replaces = held
        .as_ref()
        .is_none_or(|held| grade >= held.grade || at.since(held.noted.at) > GIVES_WAY_AFTER);
    if replaces {
        *held = Some(Motion { noted: Noted { at, value }, grade });
    }
}

/// The value, if it is no older than it lasts.
fn fresh<T>(noted: Option<Noted<T>>, now: Mono, lasts: Duration) -> Option<T> {
    noted.filter(|noted| now.since(noted.at) <= lasts).map(|noted| noted.value)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GGA: u32 = 1;
    const RMC: u32 = 2;
    const VDO: u32 = 3;

    fn seconds(seconds: u64) -> Mono {
        Mono::from_micros(seconds * 1_000_000)
    }

    /// A fix without course and speed; its latitude tells it from others.
    fn fix(at: u64, lat: f64, grade: Grade, source: u32) -> Fix {
        let position = Position::new(lat, 0.0).unwrap();
        Fix { at: seconds(at), position, sog: None, cog: None, grade, source }
    }

    fn lat(ship: &OwnShip) -> f64 {
        ship.fix().unwrap().position.lat()
    }

    #[test]
    fn nothing_is_known_at_first() {
        let ship = OwnShip::default();
        assert_eq!(ship.fix(), None);
        assert_eq!(ship.age(Mono::START), None);
        assert_eq!(ship.position_within(Mono::START, Duration::MAX), None);
        assert_eq!(ship.heading(Mono::START), None);
        assert_eq!(ship.cog(Mono::START), None);
        assert_eq!(ship.sog(Mono::START), None);
        assert_eq!(ship.water_speed(Mono::START), None);
    }

    #[test]
    fn the_source_in_use_always_replaces_even_with_a_lower_grade() {
        let mut ship = OwnShip::default();
        ship.note_fix(fix(0, 1.0, Grade::Satellite, RMC));
        ship.note_fix(fix(1, 2.0, Grade::Estimated, RMC));
        assert_eq!(lat(&ship), 2.0);
        // Then any better source takes over at once.
        ship.note_fix(fix(1, 3.0, Grade::Transponder, VDO));
        assert_eq!(lat(&ship), 3.0);
    }

    #[test]
    fn another_source_of_the_same_grade_waits_for_ten_seconds_of_silence() {
        let mut ship = OwnShip::default();
        ship.note_fix(fix(0, 1.0, Grade::Satellite, RMC));
        ship.note_fix(fix(10, 2.0, Grade::Satellite, GGA));
        assert_eq!(lat(&ship), 1.0);
        ship.note_fix(fix(11, 2.0, Grade::Satellite, GGA));
        assert_eq!(lat(&ship), 2.0);
        // The first one, come back, must wait as well.
        ship.note_fix(fix(12, 3.0, Grade::Satellite, RMC));
        assert_eq!(lat(&ship), 2.0);
    }

    #[test]
    fn a_higher_grade_takes_over_at_once_and_a_lower_one_after_silence() {
        let mut ship = OwnShip::default();
        ship.note_fix(fix(0, 1.0, Grade::Transponder, VDO));
        ship.note_fix(fix(0, 2.0, Grade::Satellite, GGA));
        assert_eq!(lat(&ship), 2.0);
        ship.note_fix(fix(9, 3.0, Grade::Transponder, VDO));
        assert_eq!(lat(&ship), 2.0);
        ship.note_fix(fix(11, 4.0, Grade::Transponder, VDO));
        assert_eq!(lat(&ship), 4.0);
        ship.note_fix(fix(12, 5.0, Grade::Satellite, GGA));
        assert_eq!(lat(&ship), 5.0);
        assert!(Grade::Estimated < Grade::Transponder && Grade::Transponder < Grade::Satellite);
    }

    #[test]
    fn the_fix_stays_but_its_age_is_told() {
        let mut ship = OwnShip::default();
        ship.note_fix(fix(5, 1.0, Grade::Satellite, GGA));
        assert_eq!(ship.age(seconds(35)), Some(Duration::from_secs(30)));
        let found = ship.position_within(seconds(35), Duration::from_secs(30));
        assert_eq!(found, Position::new(1.0, 0.0).map(|p| (p, Duration::from_secs(30))));
        assert_eq!(ship.position_within(seconds(36), Duration::from_secs(30)), None);
        assert_eq!(lat(&ship), 1.0);
    }

    #[test]
    fn a_fix_without_course_and_speed_keeps_those_from_elsewhere_for_thirty_seconds() {
        let mut ship = OwnShip::default();
        ship.note_course_and_speed(seconds(0), Some(Degrees::new(45.0)), Some(Knots(5.2)));
        ship.note_fix(fix(1, 1.0, Grade::Satellite, GGA));
        assert_eq!(ship.cog(seconds(30)), Some(Degrees::new(45.0)));
        assert_eq!(ship.sog(seconds(30)), Some(Knots(5.2)));
        assert_eq!(ship.cog(seconds(31)), None);
        assert_eq!(ship.sog(seconds(31)), None);
    }

    #[test]
    fn course_and_speed_are_taken_from_a_fix_whose_position_is_not() {
        let mut ship = OwnShip::default();
        ship.note_fix(fix(0, 1.0, Grade::Satellite, GGA));
        ship.note_fix(Fix { sog: Some(Knots(6.0)), ..fix(0, 2.0, Grade::Satellite, RMC) });
        assert_eq!((lat(&ship), ship.sog(seconds(0))), (1.0, Some(Knots(6.0))));
        assert_eq!(ship.cog(seconds(0)), None);
    }

    #[test]
    fn course_and_speed_of_a_lower_grade_wait_for_ten_seconds_of_silence() {
        let mut ship = OwnShip::default();
        let vdo = |at| Fix { sog: Some(Knots(4.0)), ..fix(at, 1.0, Grade::Transponder, VDO) };
        ship.note_fix(vdo(0));
        ship.note_course_and_speed(seconds(0), None, Some(Knots(5.0)));
        ship.note_fix(vdo(10));
        assert_eq!(ship.sog(seconds(10)), Some(Knots(5.0)));
        ship.note_fix(vdo(11));
        assert_eq!(ship.sog(seconds(11)), Some(Knots(4.0)));
    }

    #[test]
    fn a_true_heading_wins_while_it_is_fresh() {
        let mut ship = OwnShip::default();
        ship.note_variation(seconds(0), -3.0);
        ship.note_heading(seconds(0), Degrees::new(43.5));
        ship.note_magnetic_heading(seconds(5), Degrees::new(1.0));
        assert_eq!(ship.heading(seconds(10)), Some(Degrees::new(43.5)));
        // Variation is east positive: west is taken off, round through north.
        assert_eq!(ship.heading(seconds(11)), Some(Degrees::new(358.0)));
        assert_eq!(ship.heading(seconds(16)), None);
    }

    #[test]
    fn a_magnetic_heading_is_none_without_a_variation_of_the_last_hour() {
        let mut ship = OwnShip::default();
        ship.note_magnetic_heading(seconds(3600), Degrees::new(44.7));
        assert_eq!(ship.heading(seconds(3600)), None);
        ship.note_variation(seconds(0), f64::NAN);
        ship.note_variation(seconds(0), 181.0);
        assert_eq!(ship.heading(seconds(3600)), None);
        ship.note_variation(seconds(0), 1.0);
        assert_eq!(ship.heading(seconds(3600)), Some(Degrees::new(45.7)));
        assert_eq!(ship.heading(seconds(3601)), None);
    }

    #[test]
    fn the_speed_through_the_water_lasts_thirty_seconds() {
        let mut ship = OwnShip::default();
        ship.note_water_speed(seconds(0), Knots(5.0));
        assert_eq!(ship.water_speed(seconds(30)), Some(Knots(5.0)));
        assert_eq!(ship.water_speed(seconds(31)), None);
    }
}
