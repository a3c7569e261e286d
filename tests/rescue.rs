//! The way to a casualty from end to end: boats that steer what the watch shows, and the drill of
//! the demo with a current against it, or with a beacon that is not heard again.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::fs;
use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::navigation::{Medium, Offset, Position, Velocity, course_along};
use overside::rehearse::Scenario;
use overside::time::{Mono, Stamp, Utc};
use overside::units::{Degrees, Knots, NauticalMiles};
use overside::watch::{EventBody, Input, Settings, Watch};
use support::{nmea_position, position, sealed, vdm};

const MATE: u32 = 972_000_017;

/// Chance, the same each time.
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A normal deviate.
    fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.unit()).ln()).sqrt() * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// A place that a receiver holds to be it.
    fn off(&mut self, place: Position, metres: f64) -> Position {
        Offset { east_m: metres * self.normal(), north_m: metres * self.normal() }.from(place)
    }
}

/// A boat, her crew member in the water, and what both are in.
struct Scene {
    dice: Dice,
    watch: Watch,
    second: u64,
    own: Position,
    casualty: Position,
    current: Velocity,
    drift: Velocity,
    heading: Degrees,
    speed: Knots,
    /// With compass and log, or with GNSS alone.
    instruments: bool,
}

/// How fast she turns, in degrees a second.
const TURNS: f64 = 6.0;

impl Scene {
    fn new(seed: u64) -> Self {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66);
        dice.unit();
        let place = Position::new(dice.within(-60.0, 60.0), dice.within(-179.0, 179.0)).unwrap();
        let current =
            Velocity::of(Degrees::new(dice.within(0.0, 360.0)), Knots(dice.within(0.0, 2.0)));
        let leeway =
            Velocity::of(Degrees::new(dice.within(0.0, 360.0)), Knots(dice.within(0.0, 0.5)));
        Self {
            watch: Watch::new(Settings::default()),
            second: 0,
            own: place,
            casualty: place,
            current,
            drift: current + leeway,
            heading: Degrees::new(dice.within(0.0, 360.0)),
            speed: Knots(dice.within(4.0, 7.0)),
            instruments: seed.is_multiple_of(2),
            dice,
        }
    }

    fn stamp(&self) -> Stamp {
        let span = Duration::from_secs(self.second);
        let start = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + span, utc: start.plus(span) }
    }

    fn line(&mut self, line: &str) {
        let input = self.watch.input("all");
        let stamp = self.stamp();
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        while self.watch.poll_output().is_some() {}
    }

    fn ground(&self) -> Velocity {
        Velocity::of(self.heading, self.speed) + self.current
    }

    /// What instruments and beacon say this second: the receiver's position is off by some 3 m, a
    /// beacon's by 10 m, the same in all messages of a burst of which every third is lost.
    fn speak(&mut self) {
        let stamp = self.stamp().utc.to_string();
        let time = stamp[11..19].replace(':', "");
        let place = self.dice.off(self.own, 3.0);
        let place = nmea_position(place.lat(), place.lon());
        let (course, sog) = (self.ground().towards().value(), self.ground().speed().0);
        self.line(&sealed(&format!("GPRMC,{time}.00,A,{place},{sog:.1},{course:.1},140626,,,A")));
        if self.instruments {
            let (heading, speed) = (self.heading.value(), self.speed.0);
            self.line(&sealed(&format!("HEHDT,{heading:.1},T")));
            self.line(&sealed(&format!("VWVHW,{heading:.1},T,,M,{speed:.1},N,,K")));
        }
        let in_minute = self.second % 60;
        if in_minute == 10 {
            let fix = self.dice.off(self.casualty, 10.0);
            let (minute, fix) = (self.second / 60, (fix.lat(), fix.lon()));
            for message in (0..8).filter(|message| (message + minute) % 3 != 0) {
                let channel = if message % 2 == 0 { 'A' } else { 'B' };
                // One payload a burst would be one transmission: the second tells them apart.
                let said = position(MATE, 14, Some(fix), (10 + message * 2) as u8);
                self.line(&vdm(&said, channel));
            }
        }
    }

    /// The helm brings her to what the watch shows; a second passes.
    fn steer(&mut self) {
        let picture = self.watch.picture(self.stamp());
        let shown = picture.beacons.first().and_then(|beacon| beacon.way);
        let steer = shown.and_then(|way| Some((way, way.steer.or(way.steer_at_set_speed)?)));
        if let Some((way, steer)) = steer.filter(|_| self.second >= 100) {
            // Without compass and log the course is one over ground: the helm holds it there.
            let wanted = match way.medium {
                Medium::Water => steer.course,
                Medium::Ground => course_along(steer.course, self.speed, self.current)
                    .map_or(steer.course, |(heading, _)| heading),
            };
            let turn = wanted.relative_to(self.heading).clamp(-TURNS, TURNS);
            self.heading = Degrees::new(self.heading.value() + turn);
        }
        let second = Duration::from_secs(1);
        self.own = self.ground().over(second).from(self.own);
        self.casualty = self.drift.over(second).from(self.casualty);
        self.second += 1;
    }

    fn apart(&self) -> f64 {
        Offset::between(self.own, self.casualty).range().metres()
    }
}

/// Two hundred boats, half of them with compass and log, in currents up to 2 kn, leeway of the
/// casualty up to half a knot. "Within 30 m" is what the issue asks for.
#[test]
fn a_boat_that_steers_what_is_shown_comes_to_the_casualty() {
    let mut minutes = Vec::new();
    for seed in 0..200 {
        let mut scene = Scene::new(seed);
        let mut nearest = f64::INFINITY;
        while scene.second < 45 * 60 {
            scene.speak();
            scene.steer();
            if scene.second > 110 {
                nearest = nearest.min(scene.apart());
            }
            if nearest <= 30.0 {
                break;
            }
        }
        let (instruments, drift) = (scene.instruments, scene.drift.speed());
        assert!(
            nearest <= 30.0,
            "scene {seed}: {nearest:.0} m in 45 min, instruments {instruments}, drift {drift}"
        );
        minutes.push(scene.second as f64 / 60.0);
    }
    minutes.sort_by(f64::total_cmp);
    println!(
        "within 30 m after {:.1} min at the middle, {:.1} at most",
        minutes[100], minutes[199]
    );
}

/// The demo's drill as its scenario makes it, changed by `change`.
fn drill(change: impl FnOnce(String) -> String) -> Vec<(Utc, String, String)> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.toml");
    let scenario = Scenario::parse(&change(fs::read_to_string(path).unwrap())).unwrap();
    scenario.lines().map(|line| (line.at, line.source, line.sentence)).collect()
}

/// Feeds lines to a watch; what is told, and how the ship was under way then.
fn told(lines: &[(Utc, String, String)], mut take: impl FnMut(&Watch, Stamp, &EventBody)) {
    let mate = (Mmsi::new(MATE).unwrap(), Some("Mate".to_owned()));
    let mut watch = Watch::new(Settings { muster: [mate].into(), ..Settings::default() });
    let first = lines[0].0;
    for (utc, source, sentence) in lines {
        let at = Mono::from_micros(u64::try_from(utc.ms_since(first)).unwrap() * 1000);
        let stamp = Stamp { at, utc: *utc };
        let input = watch.input(source);
        watch.handle(Input::Line { stamp, input, bytes: sentence.as_bytes() });
        while let Some(event) = watch.poll_output() {
            take(&watch, stamp, &event.body);
        }
    }
}

fn is_of_the_mate(sentence: &str) -> bool {
    use overside::wire::{Content, Decoder, InputId};
    let mut decoder = Decoder::new();
    match decoder.decode(InputId(0), Mono::START, sentence.as_bytes()) {
        Some(Ok(decoded)) => match decoded.content {
            Content::Ais(report) => report.message.mmsi.value() == MATE,
            _ => sentence.contains("DSC,") || sentence.contains("DSE,"),
        },
        _ => false,
    }
}

/// Whoever holds the course that is shown, at the speed she makes then, meets the Mate when it says:
/// with a knot and a half of current set against the way back, and the Mate in it.
#[test]
fn in_the_drill_the_course_to_steer_leads_to_the_casualty_against_a_current() {
    // The way back is 140°; the current sets to 320°.
    let current = Velocity::of(Degrees::new(320.0), Knots(1.5));
    let lines = drill(|text| {
        let wind = "wind = { from_deg = 250, speed_kn = 16, every_s = 5 }";
        assert!(text.contains(wind) && text.contains("drift = { set_deg = 77, rate_kn = 0.8 }"));
        text.replace("seed = 1", "seed = 1\ncurrent = { set_deg = 320, rate_kn = 1.5 }")
            .replace("drift = { set_deg = 77, rate_kn = 0.8 }\n", "")
    });
    // Where the Mate goes: with the current, from a place that all positions of the beacon tell.
    let mut said: Vec<(f64, Position)> = Vec::new();
    let mut courses = Vec::new();
    told(&lines, |watch, stamp, body| {
        let seconds = stamp.at.micros() as f64 / 1e6;
        let EventBody::BeaconUpdate(update) = body else { return };
        // Later the Mate is aboard, or the ship lies beside.
        if seconds > 900.0 {
            return;
        }
        said.extend(update.beacon.position.map(|place| (seconds, place)));
        let way = &update.way;
        let Some((course, minutes)) = way.course_to_steer_deg.zip(way.time_to_reach_min) else {
            return;
        };
        assert_eq!(way.steer_through, Some(Medium::Water));
        let own = watch.own(stamp.at);
        let feels = own.current.unwrap();
        assert!((feels - current).speed().0 < 0.15, "the current as the boat feels it: {feels:?}");
        let speed = watch.picture(stamp).beacons[0].way.unwrap().speed.unwrap();
        courses.push((seconds, own.position.unwrap(), course, speed, minutes));
    });
    let (_, origin) = said[0];
    let at = |seconds: f64| current.over(Duration::from_secs_f64(seconds));
    let sum = said.iter().map(|&(seconds, place)| Offset::between(origin, place) - at(seconds));
    let sum = sum.fold(Offset::default(), |a, b| a + b);
    let count = said.len() as f64;
    let mean = Offset { east_m: sum.east_m / count, north_m: sum.north_m / count };
    assert!(courses.len() >= 5, "{} courses", courses.len());
    for (seconds, own, course, speed, minutes) in courses {
        let time = Duration::from_secs_f64(minutes * 60.0);
        let boat = (Velocity::of(course, speed) + current).over(time).from(own);
        let mate = (mean + at(seconds) + current.over(time)).from(origin);
        let miss = Offset::between(boat, mate).range().metres();
        // A fix is off by up to 8 m, the drift of a few of them by a tenth of a knot over the time,
        // the time by 3 s of the way.
        let within = 15.0 + (0.1 * time.as_secs_f64() + 3.0 * speed.0) * 0.5144;
        assert!(miss < within, "at {seconds:.0} s: {miss:.0} m off after {minutes} min");
    }
}

/// After the third burst nothing is heard of the Mate any more.
#[test]
fn a_drill_cut_after_the_third_burst_leads_to_a_search_that_crosses_the_true_track() {
    let lines = drill(|text| text);
    let first = lines[0].0;
    let seconds = |utc: Utc| utc.ms_since(first) as f64 / 1000.0;
    // Bursts begin at 180, 240 and 300 s, and last 14 s.
    let cut: Vec<_> = lines
        .iter()
        .filter(|(utc, _, sentence)| seconds(*utc) < 320.0 || !is_of_the_mate(sentence))
        .cloned()
        .collect();
    let (mut datums, mut searches) = (Vec::new(), Vec::new());
    told(&cut, |_, stamp, body| match body {
        EventBody::Datum(datum) => datums.push((stamp, datum.clone())),
        EventBody::Search(search) => searches.push((stamp, search.clone())),
        _ => {}
    });
    assert!(datums.len() >= 8, "{} datums", datums.len());
    assert!(datums.windows(2).all(|pair| {
        let (before, after) = (&pair[0].1, &pair[1].1);
        after.radius50_m > before.radius50_m && after.radius95_m > before.radius95_m
    }));
    // Once a minute.
    assert!(datums.windows(2).all(|pair| pair[1].0.at.since(pair[0].0.at).as_secs() <= 61));
    let [(planned, search)] = &searches[..] else { panic!("{} searches", searches.len()) };
    // The truth, from the whole recording: 077° at 0.8 kn from where the Mate went over.
    let mut over = None;
    told(&lines, |watch, stamp, _| {
        if over.is_none() && stamp.at.micros() >= 180_000_000 {
            over = watch.own(stamp.at).position;
        }
    });
    let over = over.unwrap();
    let drift = Velocity::of(Degrees::new(77.0), Knots(0.8));
    let true_at = |seconds: f64| drift.over(Duration::from_secs_f64(seconds)).from(over);
    let until = seconds(lines.last().unwrap().0) - 180.0;
    // One of the first legs crosses the true track within half a sweep width.
    let near = |leg: &overside::watch::LegReport| {
        let steps = (0..=40).map(|n| f64::from(n) / 40.0);
        steps
            .map(|part| {
                let way = Offset::between(leg.from, leg.to);
                let at = Offset { east_m: way.east_m * part, north_m: way.north_m * part };
                at.from(leg.from)
            })
            .flat_map(|on_leg| {
                (0..200).map(move |n| {
                    let mate = true_at(until * f64::from(n) / 200.0);
                    Offset::between(on_leg, mate).range()
                })
            })
            .fold(NauticalMiles(f64::INFINITY), |a, b| if a < b { a } else { b })
    };
    let crossed = search
        .legs
        .iter()
        .take(5)
        .filter(|leg| leg.leg > 0)
        .any(|leg| near(leg).0 <= search.sweep_width_nm.0 / 2.0);
    assert!(crossed, "planned at {:?}: {search:?}", planned.at);
}
