//! What the receivers on board make of a drill: the sentences of a recording, each with its time.

use overside::mmsi::Mmsi;
use overside::navigation::{Offset, Position};
use overside::time::Utc;
use overside::wire::ais::{Body, Message, PositionReport};

use super::sail::{KNOT, Sailed, Vector};
use super::story::{Fixes, Story};
use super::support::{nmea_position, sealed, tag, text, vdm};

pub const MMSI: u32 = 972_000_017;
pub const OTHER: u32 = 972_000_018;
const START: &str = "2026-06-14T14:00:00Z";

/// From one burst to the next.
const PERIOD: f64 = 60.0;

/// A message that was heard: when, and whether it told a position.
#[derive(Clone, Copy, Debug)]
pub struct Heard {
    pub t: f64,
    pub has_fix: bool,
    pub is_off: bool,
    /// How far the position it told was from where the beacon then was, in metres.
    pub off_m: Option<f64>,
}

/// A recording, and what of each beacon is in it.
#[derive(Debug)]
pub struct Recorded {
    pub text: String,
    pub air: Vec<Air>,
}

/// What was sent and heard of a beacon.
#[derive(Debug, Default)]
pub struct Air {
    pub heard: Vec<Heard>,
    /// When each message was sent, burst by burst, heard or not.
    pub sent: Vec<Vec<f64>>,
    /// Bursts heard with a position before the casualty was on board.
    pub fixed_bursts: usize,
}

/// The moment of a second of the recording.
pub fn utc(t: f64) -> Utc {
    let start = Utc::parse_rfc3339(START).unwrap();
    Utc::from_unix_ms(start.unix_ms() + (t * 1000.0).round() as i64).unwrap()
}

/// The second of a moment.
pub fn seconds(at: Utc) -> f64 {
    at.ms_since(Utc::parse_rfc3339(START).unwrap()) as f64 / 1000.0
}

/// An error of positions that wanders: it forgets itself within a minute or two.
struct Wander {
    dice: fastrand::Rng,
    deviation: f64,
    now: Vector,
    at: f64,
}

const FORGETS_S: f64 = 80.0;

impl Wander {
    fn new(mut dice: fastrand::Rng, deviation: f64) -> Self {
        let now = normal(&mut dice).times(deviation);
        Self { dice, deviation, now, at: 0.0 }
    }

    fn at(&mut self, t: f64) -> Vector {
        let keeps = (-(t - self.at).max(0.0) / FORGETS_S).exp();
        let fresh = normal(&mut self.dice).times(self.deviation * (1.0 - keeps * keeps).sqrt());
        (self.now, self.at) = (self.now.times(keeps).plus(fresh), t);
        self.now.plus(normal(&mut self.dice).times(0.4))
    }
}

fn normal(dice: &mut fastrand::Rng) -> Vector {
    let radius = (-2.0 * (1.0 - dice.f64()).ln()).sqrt();
    Vector::of(dice.f64() * 360.0, radius)
}

/// Records a drill.
pub fn record(story: &Story, sailed: &Sailed) -> Recorded {
    let dice =
        |of: u64| fastrand::Rng::with_seed(story.seed.wrapping_mul(0xD134_2543_DE82_EF95) ^ of);
    let lat = [57.8, -33.0, 1.0, 66.0][(story.seed / 3 % 4) as usize];
    let lon = [10.4, -5.0, 179.999, -70.0][(story.seed / 5 % 4) as usize];
    let origin = Position::new(lat, lon).unwrap();
    let place = |at: Vector| Offset { east_m: at.0, north_m: at.1 }.from(origin);
    let mut lines: Vec<(f64, String)> = Vec::new();
    instruments(story, sailed, &place, dice(1), &mut lines);
    let mut air = Vec::new();
    let sailed = [Some(sailed.clone()), sailed.of_other()];
    for (number, (mmsi, sailed)) in [MMSI, OTHER].into_iter().zip(sailed).enumerate() {
        let Some(sailed) = sailed else { continue };
        let dice = dice(2 + number as u64);
        air.push(match story.calls_every {
            Some(every) => calls(story, &sailed, every, &place, dice, &mut lines),
            None => beacon(story, &sailed, mmsi, &place, dice, &mut lines),
        });
    }
    let is_recorded = |t: f64| !story.gaps.iter().any(|&(from, until)| (from..until).contains(&t));
    lines.retain(|(t, _)| is_recorded(*t));
    lines.sort_by(|one, other| one.0.total_cmp(&other.0));
    let text = lines.iter().map(|(t, line)| {
        let ms = utc(t + story.clock).unix_ms();
        format!("{}{line}\r\n", tag(&format!("s:radio,c:{ms}")))
    });
    for air in &mut air {
        air.heard.retain(|it| is_recorded(it.t));
        air.sent.iter_mut().for_each(|burst| burst.retain(|t| is_recorded(*t)));
    }
    Recorded { text: text.collect(), air }
}

/// DSC calls of a beacon, each with a fresh position.
fn calls(
    story: &Story,
    sailed: &Sailed,
    every: f64,
    place: &dyn Fn(Vector) -> Position,
    mut dice: fastrand::Rng,
    lines: &mut Vec<(f64, String)>,
) -> Air {
    let mut wander = Wander::new(dice.fork(), story.noise.1);
    let mut air = Air::default();
    let begins = sailed.falls as f64 + story.first_burst;
    let times = (0..).map(|number| begins + every * f64::from(number));
    for t in times.take_while(|t| t + 1.0 < sailed.seconds.len() as f64) {
        let error = wander.at(t);
        if dice.f64() < story.loss {
            continue;
        }
        let at = place(sailed.beacon(t).plus(error));
        let minutes = |degrees: f64| (degrees.abs() * 600_000.0).round() as u64;
        let (lat, lon) = (minutes(at.lat()), minutes(at.lon()));
        let quadrant = 2 * u8::from(at.lat() < 0.0) + u8::from(at.lon() < 0.0);
        let whole = |of: u64| (of / 600_000, of / 10_000 % 60);
        let ((north, south), (east, west)) = (whole(lat), whole(lon));
        let hhmm = utc(t).clock().replace(':', "");
        let call = format!(
            "$CVDSC,12,{MMSI}0,12,10,26,{quadrant}{north:02}{south:02}{east:03}{west:02},{},,,S,E",
            &hhmm[..4]
        );
        let expansion = format!("$CVDSE,1,1,A,{MMSI}0,00,{:04}{:04}", lat % 10_000, lon % 10_000);
        lines.extend([(t + 0.03, sealed(&call)), (t + 0.04, sealed(&expansion))]);
        air.heard.push(Heard {
            t: t + 0.03,
            has_fix: true,
            is_off: false,
            off_m: Some(error.length()),
        });
        air.sent.push(vec![t + 0.03]);
        air.fixed_bursts += usize::from(sailed.aboard.is_none_or(|aboard| t < aboard as f64));
    }
    air
}

fn instruments(
    story: &Story,
    sailed: &Sailed,
    place: &dyn Fn(Vector) -> Position,
    mut dice: fastrand::Rng,
    lines: &mut Vec<(f64, String)>,
) {
    let latency = 0.1 + dice.f64() * 0.4;
    let mut wander = Wander::new(dice.fork(), story.noise.0);
    for (second, now) in sailed.seconds.iter().enumerate() {
        let t = second as f64;
        let there = place(now.boat.plus(wander.at(t)));
        let motion = now.motion.plus(normal(&mut dice).times(0.05));
        let clock = utc(t);
        let (time, date) = (clock.clock().replace([':', 'Z'], ""), clock.date().format("%d%m%y"));
        let rmc = format!(
            "$GPRMC,{time}.00,A,{},{:.1},{:.1},{date},,,A",
            nmea_position(there.lat(), there.lon()),
            motion.length() / KNOT,
            motion.bearing()
        );
        lines.push((t + latency, sealed(&rmc)));
        let yaw = 2.0 * (t / 7.0).sin() + normal(&mut dice).0 * 0.7;
        let heading = (now.heading + yaw).rem_euclid(360.0);
        if story.has_heading {
            lines.push((t + 0.05, sealed(&format!("$HEHDT,{heading:.1},T"))));
        }
        if story.has_log && second % 2 == 0 {
            let speed = (now.speed + normal(&mut dice).0 * 0.1).max(0.0);
            let vhw = format!("$VWVHW,,T,,M,{speed:.1},N,{:.1},K", speed * 1.852);
            lines.push((t + 0.06, sealed(&vhw)));
        }
        if story.has_wind && second % 2 == 1 {
            let air = Vector::of(story.wind.0 + 180.0, story.wind.1 * KNOT).minus(now.motion);
            let angle = (air.bearing() + 180.0 - now.heading).rem_euclid(360.0);
            let mwv = format!("$WIMWV,{angle:.1},R,{:.1},N,A", air.length() / KNOT);
            lines.push((t + 0.07, sealed(&mwv)));
        }
    }
}

/// Whether a burst is one of those that say OFF, and whether anything of it gets through.
fn beacon(
    story: &Story,
    sailed: &Sailed,
    mmsi: u32,
    place: &dyn Fn(Vector) -> Position,
    mut dice: fastrand::Rng,
    lines: &mut Vec<(f64, String)>,
) -> Air {
    let fall = sailed.falls as f64;
    let end = sailed.seconds.len() as f64;
    let off = story.off.zip(sailed.aboard).map(|(after, aboard)| (aboard + after) as f64);
    let mut wander = Wander::new(dice.fork(), story.noise.1);
    let (mut heard, mut sent, mut fixed) = (Vec::new(), Vec::new(), 0);
    let mut begins = fall + story.first_burst;
    for number in 0..story.bursts {
        let is_off = off.is_some_and(|off| begins >= off);
        let wild = if dice.f64() < story.wild.0 {
            Vector::of(dice.f64() * 360.0, story.wild.1)
        } else {
            Vector::default()
        };
        let mut has_fix = false;
        let age = match story.fixes {
            Fixes::Fresh(age) | Fixes::OneABurst(age) => age,
        };
        let mut determined = (begins - age).floor();
        let mut fix = sailed.beacon(determined).plus(wander.at(determined));
        sent.push(Vec::new());
        for index in 0..8_usize {
            let t = begins + index as f64 * 2.0;
            if index > 0 && matches!(story.fixes, Fixes::Fresh(_)) {
                determined = (t - age).floor();
                fix = sailed.beacon(determined).plus(wander.at(determined));
            }
            let knows = determined >= fall + story.first_fix;
            let message = match (is_off, number % 4, index) {
                (true, _, 0 | 7) => text(mmsi, "MOB OFF"),
                (false, 0, 4 | 5) => text(mmsi, "MOB ACTIVE"),
                _ => {
                    let at = place(fix.plus(wild));
                    let status = if is_off { 15 } else { 14 };
                    report(mmsi, status, knows.then_some(at), determined)
                }
            };
            if t < end {
                sent[number].push(t + 0.03);
            }
            let range = sailed.range(t) / 1852.0;
            let through = (1.0 - story.loss) * (1.0 - range / 6.0).clamp(0.0, 1.0);
            let around = story
                .faded_around_leaving
                .zip(sailed.leaves)
                .map(|((before, after), leaves)| (leaves as f64 - before, leaves as f64 + after));
            let is_faded = story
                .faded
                .iter()
                .copied()
                .chain(around)
                .any(|(from, until)| (from..until).contains(&t));
            if dice.f64() >= through || is_faded || t >= end {
                continue;
            }
            let is_text = matches!(message.body, Body::SafetyText(_));
            heard.push(Heard {
                t: t + 0.03,
                has_fix: !is_text && knows,
                is_off: is_off && is_text,
                off_m: (!is_text && knows)
                    .then(|| fix.plus(wild).minus(sailed.beacon(determined)).length()),
            });
            has_fix |= !is_text && knows;
            lines.push((t + 0.03, vdm(&message, if index % 2 == 0 { 'A' } else { 'B' })));
        }
        let in_water = sailed.aboard.is_none_or(|aboard| begins < aboard as f64);
        fixed += usize::from(has_fix && in_water);
        if is_off || begins > end {
            break;
        }
        let jitter = if number % 8 == 7 { dice.f64() * 12.0 - 6.0 } else { 0.0 };
        begins += PERIOD + jitter;
    }
    Air { heard, sent, fixed_bursts: fixed }
}

fn report(mmsi: u32, nav_status: u8, place: Option<Position>, determined: f64) -> Message {
    let report = PositionReport {
        nav_status,
        lat: place.map(Position::lat),
        lon: place.map(Position::lon),
        utc_second: if place.is_some() { determined.rem_euclid(60.0) as u8 } else { 60 },
        ..PositionReport::unavailable()
    };
    Message { kind: 1, repeat: 0, mmsi: Mmsi::new(mmsi).unwrap(), body: Body::Position(report) }
}
