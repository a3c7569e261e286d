//! Rehearsed drills whose truth is known: own ship's way and the casualty's are worked out here on a
//! plane, second by second, and nothing of the debrief is used for it.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::fmt::Write as _;
use std::path::PathBuf;

use overside::app;
use overside::debrief::{About, Drill, Observer};
use overside::mmsi::Mmsi;
use overside::navigation::{Offset, Position};
use overside::rehearse::Scenario;
use overside::time::Utc;
use overside::watch::Settings;

pub const MMSI: u32 = 972_000_017;
pub const START: &str = "2026-06-14T14:00:00Z";

/// Metres a second in a knot.
pub const KNOT: f64 = 1852.0 / 3600.0;

/// A place on the plane: metres east and north of where she begins.
pub type Place = (f64, f64);

/// Own ship in one second.
#[derive(Clone, Copy, Debug)]
pub struct Now {
    pub place: Place,
    pub course: f64,
    pub knots: f64,
}

/// A course and a speed for so many seconds; turns at so many degrees a minute, 0 for at once.
#[derive(Clone, Copy, Debug)]
pub struct Leg {
    pub course: f64,
    pub knots: f64,
    pub seconds: usize,
    pub turn: f64,
}

/// How the drill ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum End {
    /// Recovered, sailed on, switched off later.
    SailsOn,
    /// Recovered, switched off alongside.
    OffAlongside,
    /// The recording ends on the way back.
    Nothing,
}

/// A drill with its truth. Seconds from the start.
pub struct Rehearsed {
    pub toml: String,
    pub way: Vec<Now>,
    pub fallen: usize,
    pub turned: usize,
    /// When she is alongside, and when she leaves.
    pub there: Option<usize>,
    pub leaves: Option<usize>,
    pub aboard: Option<usize>,
    pub passes: usize,
    pub end: End,
    pub drift: (f64, f64),
    pub has_heading: bool,
    pub jitter: (f64, f64),
}

pub fn utc(seconds: f64) -> Utc {
    let start = Utc::parse_rfc3339(START).unwrap();
    Utc::from_unix_ms(start.unix_ms() + (seconds * 1000.0).round() as i64).unwrap()
}

pub fn seconds(at: Utc) -> f64 {
    at.ms_since(Utc::parse_rfc3339(START).unwrap()) as f64 / 1000.0
}

fn ahead(place: Place, course: f64, metres: f64) -> Place {
    let (east, north) = course.to_radians().sin_cos();
    (place.0 + east * metres, place.1 + north * metres)
}

pub fn apart(one: Place, other: Place) -> f64 {
    (one.0 - other.0).hypot(one.1 - other.1)
}

pub fn bearing(from: Place, to: Place) -> f64 {
    (to.0 - from.0).atan2(to.1 - from.1).to_degrees().rem_euclid(360.0)
}

/// The angle between two directions, 0 to 180.
pub fn angle(one: f64, other: f64) -> f64 {
    let turn = (one - other).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

/// One second at the helm: towards the leg's course as fast as she turns.
fn steer(course: f64, leg: &Leg) -> f64 {
    let turn = (leg.course - course + 180.0).rem_euclid(360.0) - 180.0;
    let step = if leg.turn == 0.0 { f64::INFINITY } else { leg.turn / 60.0 };
    if turn.abs() <= step { leg.course } else { (course + step.copysign(turn)).rem_euclid(360.0) }
}

/// The way that legs make, second by second.
pub fn way(legs: &[Leg]) -> Vec<Now> {
    let (mut place, mut course) = ((0.0, 0.0), legs[0].course);
    let mut way = Vec::new();
    for leg in legs {
        for _ in 0..leg.seconds {
            course = steer(course, leg);
            way.push(Now { place, course, knots: leg.knots });
            place = ahead(place, course, leg.knots * KNOT);
        }
    }
    way
}

/// The course on which a drifting target is met, and in how many seconds (law of sines).
pub fn meet(from: Place, target: Place, drift: (f64, f64), knots: f64) -> Option<(f64, f64)> {
    let direct = bearing(from, target);
    let across = drift.1 / knots * (drift.0 - direct).to_radians().sin();
    if across.abs() >= 1.0 {
        return None;
    }
    let course = (direct + across.asin().to_degrees()).rem_euclid(360.0);
    let closing = knots * (course - direct).to_radians().cos()
        - drift.1 * (drift.0 - direct).to_radians().cos();
    (closing > 0.0).then(|| (course, apart(from, target) / (closing * KNOT)))
}

/// Legs that turn towards the casualty, and then meet it or pass it by `aside` metres; the last one
/// ends when she is nearest.
fn towards(
    legs: &mut Vec<Leg>,
    fallen: usize,
    drift: (f64, f64),
    (knots, turn): (f64, f64),
    aside: f64,
) {
    let target = |legs: &[Leg]| {
        let before = way(legs);
        let last = *before.last().unwrap();
        let here = ahead(last.place, last.course, last.knots * KNOT);
        let drifted = drift.1 * KNOT * (before.len() - fallen) as f64;
        (last.course, here, ahead(before[fallen].place, drift.0, drifted))
    };
    let (course, here, there) = target(legs);
    let back = bearing(here, there);
    let turning = (angle(course, back) / (turn / 60.0)).ceil() as usize + 5;
    legs.push(Leg { course: back, knots, seconds: turning, turn });
    let (_, here, there) = target(legs);
    let there = ahead(there, bearing(here, there) + 90.0, aside);
    let (course, run) = meet(here, there, drift, knots).unwrap();
    legs.push(Leg { course, knots, seconds: run as usize, turn: 0.0 });
}

impl Rehearsed {
    /// The drill of a seed.
    pub fn of(seed: u64) -> Self {
        let mut dice = fastrand::Rng::with_seed(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let mut within = |low: f64, high: f64| low + dice.f64() * (high - low);
        let drift = (within(0.0, 360.0), within(0.0, 1.3));
        let fallen = within(150.0, 400.0) as usize;
        let turned = fallen + within(80.0, 220.0) as usize;
        let speed = within(4.0, 7.0);
        let turn = within(120.0, 900.0);
        let (back, away) = (within(3.0, 6.0), within(0.0, 360.0));
        let mut legs =
            vec![Leg { course: within(0.0, 360.0), knots: speed, seconds: turned, turn: 0.0 }];
        let passes = usize::from(seed % 3 == 1);
        let end = match seed % 5 {
            0 => End::Nothing,
            1 | 2 => End::OffAlongside,
            _ => End::SailsOn,
        };
        if passes == 1 {
            let aside = within(50.0, 80.0);
            towards(&mut legs, fallen, drift, (back, turn), aside);
            // On for 300 m and more beyond the nearest point.
            legs.last_mut().unwrap().seconds += (320.0 / ((back - drift.1) * KNOT)) as usize;
        }
        towards(&mut legs, fallen, drift, (back, turn), 0.0);
        let run = &mut legs.last_mut().unwrap().seconds;
        let mut found = Self {
            toml: String::new(),
            way: Vec::new(),
            fallen,
            turned,
            there: None,
            leaves: None,
            aboard: None,
            passes,
            end,
            drift,
            has_heading: !seed.is_multiple_of(4),
            jitter: (within(0.0, 3.0), within(0.0, 9.0)),
        };
        let mut off = None;
        if end == End::Nothing {
            *run = (*run * 2 / 3).max(1);
        } else {
            *run -= (8.0 / (back * KNOT)) as usize;
            let there: usize = legs.iter().map(|leg| leg.seconds).sum();
            let beside = within(100.0, 200.0) as usize;
            legs.push(Leg { course: drift.0, knots: drift.1, seconds: beside, turn: 0.0 });
            legs.push(Leg { course: away, knots: 5.0, seconds: 420, turn: 0.0 });
            let leaves = there + beside;
            (found.there, found.leaves) = (Some(there), Some(leaves));
            found.aboard = Some(there + 50);
            off = Some(if end == End::SailsOn { leaves + 200 } else { there + 60 });
        }
        found.way = way(&legs);
        let faded = found.there.unwrap_or(found.way.len());
        let fade = (seed % 7 == 3 && faded > fallen + 420)
            .then(|| (fallen as f64 + within(70.0, 120.0), within(60.0, 180.0)));
        let share = within(0.75, 1.0);
        found.toml = found.scenario(seed, &legs, off, fade, share);
        found
    }

    fn scenario(
        &self,
        seed: u64,
        legs: &[Leg],
        off: Option<usize>,
        fade: Option<(f64, f64)>,
        share: f64,
    ) -> String {
        let lon = [10.4, -5.0, 179.999, -70.0][(seed % 4) as usize];
        let lat = [57.8, -33.0, 1.0, 70.0][(seed / 4 % 4) as usize];
        let mut toml = format!(
            "about = \"A drill whose truth is known.\"\nstart = {START}\nduration_s = {}\nseed = {seed}\n\
             [own]\nmmsi = 200000000\nlat = {lat}\nlon = {lon}\nheading_deg = {}\njitter_m = {}\n",
            self.way.len(),
            legs[0].course,
            self.jitter.0
        );
        if self.has_heading {
            toml += "hdt_every_s = 1\nvhw_every_s = 2\n";
        }
        for leg in legs {
            let minutes = leg.seconds as f64 / 60.0;
            let _ = write!(
                toml,
                "[[own.leg]]\ncourse_deg = {}\nspeed_kn = {}\nminutes = {minutes}\n",
                leg.course, leg.knots
            );
            if leg.turn > 0.0 {
                let _ = writeln!(toml, "turn_deg_min = {}", leg.turn);
            }
        }
        let (set, rate) = self.drift;
        let _ = write!(
            toml,
            "[[beacon]]\nmmsi = {MMSI}\nmode = \"active\"\nactivate_s = {}\nfix_delay_s = {}\n\
             drift = {{ set_deg = {set}, rate_kn = {rate} }}\njitter_m = {}\n\
             reception = {{ base = {share}, sure_nm = 3, horizon_nm = 6 }}\n",
            self.fallen,
            seed % 3 * 20,
            self.jitter.1
        );
        if let Some((off, aboard)) = off.zip(self.aboard) {
            let _ = write!(toml, "off_s = {off}\naboard_from_s = {aboard}\n");
        }
        if let Some((from, length)) = fade {
            let _ = writeln!(toml, "fades = [{{ from_s = {from}, until_s = {} }}]", from + length);
        }
        toml
    }

    /// The same with everything heard.
    pub fn all_heard(&self) -> String {
        let lines =
            self.toml.lines().filter(|it| !it.starts_with("reception") && !it.starts_with("fades"));
        lines.map(|line| format!("{line}\n")).collect()
    }

    /// Where the casualty is.
    pub fn casualty(&self, second: f64) -> Place {
        if self.aboard.is_some_and(|aboard| second >= aboard as f64) {
            return self.own(second);
        }
        let begin = self.way[self.fallen].place;
        ahead(begin, self.drift.0, self.drift.1 * KNOT * (second - self.fallen as f64))
    }

    /// Where own ship is.
    pub fn own(&self, second: f64) -> Place {
        let whole = (second.max(0.0) as usize).min(self.way.len() - 1);
        let Now { place, course, knots } = self.way[whole];
        ahead(place, course, knots * KNOT * (second - whole as f64))
    }

    /// How far they are apart, in metres.
    pub fn range(&self, second: f64) -> f64 {
        apart(self.own(second), self.casualty(second))
    }

    /// The least or greatest range of the whole seconds of a time.
    pub fn ranges(&self, from: usize, until: usize) -> impl Iterator<Item = f64> + Clone + '_ {
        (from..until).map(|second| self.range(second as f64))
    }
}

/// The lines of a scenario as a recording has them.
pub fn recorded(toml: &str) -> String {
    let scenario = Scenario::parse(toml).unwrap_or_else(|why| panic!("{why}\n{toml}"));
    scenario.lines().map(|line| scenario.tagged(&line)).collect()
}

/// A file with this text, to be removed with the folder.
pub fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// What the program makes of recorded parts.
pub fn debriefed(parts: &[PathBuf], about: About) -> Drill {
    let muster = [(Mmsi::new(MMSI).unwrap(), Some("Mate".to_owned()))].into();
    let mut observer = Observer::new();
    let settings = Settings { muster, ..Settings::default() };
    app::observe(parts, None, settings, &mut observer, |_| {}).unwrap();
    observer.finish(about)
}

/// The same of one text.
pub fn debriefed_text(text: &str) -> Drill {
    let folder = tempfile::tempdir().unwrap();
    let path = file(&folder, "drill.nmea", text);
    debriefed(&[path], About { recording: "drill".to_owned(), ..About::default() })
}

/// The recording of a drill in which a crew alarm on board alone tells of the casualty, every 20 s:
/// its own place (`source` 1), or what the ship reckons (0): her own.
pub fn by_crew_alarm(seed: u64, source: u8) -> String {
    let truth = Rehearsed::of(seed);
    let origin = [10.4, -5.0, 179.999, -70.0][(seed % 4) as usize];
    let origin = Position::new([57.8, -33.0, 1.0, 70.0][(seed / 4 % 4) as usize], origin).unwrap();
    let own = recorded(&truth.toml.replacen(
        "[[own.leg]]",
        "wind = { from_deg = 300, speed_kn = 12 }\n[[own.leg]]",
        1,
    ));
    let mut lines: Vec<(i64, String)> = own
        .lines()
        .filter(|line| !line.contains("VDM"))
        .map(|line| (ms_of(line), line.to_owned()))
        .collect();
    for at in (truth.fallen + 4..truth.there.unwrap_or(truth.way.len()) + 40).step_by(20) {
        let at_s = at as f64;
        let (east_m, north_m) = if source == 1 { truth.casualty(at_s) } else { truth.own(at_s) };
        let place = Offset { east_m, north_m }.from(origin);
        let minutes = |degrees: f64, width: usize| {
            let degrees = degrees.abs();
            format!("{:0width$}{:07.4}", degrees.trunc(), degrees.fract() * 60.0)
        };
        let (lat, lon) = (minutes(place.lat(), 2), minutes(place.lon(), 3));
        let (north, east) =
            (if place.lat() < 0.0 { 'S' } else { 'N' }, if place.lon() < 0.0 { 'W' } else { 'E' });
        let clock = utc(at_s).clock().replace([':', 'Z'], "");
        let body =
            format!("IIMOB,000FF,A,{clock},{source},0,{clock},{lat},{north},{lon},{east},,,,0");
        let sum = |text: &str| text.bytes().fold(0, |sum, byte| sum ^ byte);
        let ms = utc(at_s).unix_ms();
        let tag = format!("c:{ms}");
        lines.push((ms, format!("\\{tag}*{:02X}\\${body}*{:02X}", sum(&tag), sum(&body))));
    }
    lines.sort_by_key(|(ms, _)| *ms);
    lines.into_iter().map(|(_, line)| line + "\r\n").collect()
}

/// The time of a line of a recording.
pub fn ms_of(line: &str) -> i64 {
    let digits = line.split_once("c:").unwrap().1;
    digits.split(['*', ',']).next().unwrap().parse().unwrap()
}

/// A recording of the drill of a seed, in a boat with a wind instrument, in which the beacon is not heard on AIS, with these calls.
pub fn without_ais(seed: u64, calls: &str) -> (Rehearsed, String) {
    let truth = Rehearsed::of(seed);
    let wind = "wind = { from_deg = 300, speed_kn = 12 }\n[[own.leg]]";
    let toml = truth.toml.replacen("[[own.leg]]", wind, 1) + calls;
    let heard = recorded(&toml);
    let lines = heard.lines().filter(|line| !line.contains("VDM"));
    (truth, lines.map(|line| format!("{line}\r\n")).collect())
}

/// Calls from the fall on, every two minutes while they are in the water.
pub fn calls(meaning: &str, about: &str, truth: &Rehearsed, expansion: bool) -> String {
    let end = truth.there.unwrap() + 40;
    let times = (truth.fallen + 12..end).step_by(120);
    times
        .map(|at| {
            format!(
                "[[call]]\nat_s = {at}\nmeaning = \"{meaning}\"\n{about}\nnature = \"man_overboard\"\n\
                 position_of = {MMSI}\nexpansion = {expansion}\n"
            )
        })
        .collect()
}
