//! Ships around, at the reporting intervals of ITU-R M.1371-5 tables 1 and 2; and own ship as her
//! own AIS unit tells it.

use super::own::Motion;
use super::receivers::{Receivers, Signal};
use super::scenario::Traffic;
use super::slots::{Reservation, Slot, channel, sentences};
use super::{Stage, TimedLine, received};
use crate::mmsi::Mmsi;
use crate::navigation::{destination, range_and_bearing};
use crate::units::{Degrees, Knots, NauticalMiles};
use crate::wire::Text;
use crate::wire::ais::{Body, ClassBReport, Dimensions, Message, PositionReport, StaticA, StaticB};

/// The identity of the first ship: no country has the digits 200 (ITU-R M.585-10).
const FIRST_MMSI: u32 = 200_000_101;

/// Names and sizes are told this often (M.1371-5 table 1).
const STATICS_S: f64 = 360.0;

/// A class A unit tells her position with message 1, a class B unit (CS) with message 18.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Class {
    A,
    B,
}

/// A ship with an AIS unit.
struct Ship {
    mmsi: Mmsi,
    class: Class,
    name: Option<Text<20>>,
    call_sign: Option<Text<7>>,
    /// M.1371-5 table 53: 36 sailing, 37 pleasure craft, 30 fishing, 60 passenger, 70 cargo,
    /// 80 tanker.
    ship_type: u8,
    length_m: u16,
}

/// All that is received of the ships, and of own ship's unit.
pub(super) fn lines(stage: &Stage<'_>) -> Vec<TimedLine> {
    let mut lines = own_unit(stage);
    if let Some(traffic) = &stage.scenario.traffic {
        let names = traffic.class_a.iter().map(|name| (Class::A, name));
        let names = names.chain(traffic.class_b.iter().map(|name| (Class::B, name)));
        let first = traffic.first_mmsi.map_or(FIRST_MMSI, Mmsi::value);
        for (mmsi, (class, name)) in (first..).zip(names) {
            let Some(mmsi) = Mmsi::new(mmsi) else { break };
            lines.extend(ship(stage, traffic, mmsi, class, name.0));
        }
    }
    lines
}

/// The class B unit on board: its messages come back as VDO.
fn own_unit(stage: &Stage<'_>) -> Vec<TimedLine> {
    let own = &stage.scenario.own;
    let Some(every) = own.vdo_every_s else { return Vec::new() };
    let ship = Ship {
        mmsi: own.mmsi,
        class: Class::B,
        name: own.name.map(|name| name.0),
        call_sign: own.call_sign.map(|sign| sign.0),
        ship_type: 36,
        length_m: 12,
    };
    let mut dice = stage.dice(own.mmsi.value().into());
    let times = times(stage, every.0, &mut dice);
    let unit = [&*stage.scenario.sources.ais.0];
    let mut lines = Vec::new();
    for (index, (slot, seconds)) in times.into_iter().enumerate() {
        let Some(motion) = stage.own.at(seconds) else { continue };
        lines.extend(said(&unit, "VDO", slot, index, &ship.report(motion, slot)));
    }
    for (slot, _) in self::times(stage, STATICS_S, &mut dice) {
        for (index, part) in ship.statics().iter().enumerate() {
            lines.extend(said(&unit, "VDO", slot.plus(index as i64), index, part));
        }
    }
    lines
}

/// A ship somewhere around, on a straight course.
fn ship(
    stage: &Stage<'_>,
    traffic: &Traffic,
    mmsi: Mmsi,
    class: Class,
    name: Text<20>,
) -> Vec<TimedLine> {
    let mut dice = stage.dice(mmsi.value().into());
    let Some(own) = stage.own.at(0.0) else { return Vec::new() };
    let chance = |low: f64, high: f64, dice: &mut fastrand::Rng| low + dice.f64() * (high - low);
    let bearing = Degrees::new(chance(0.0, 360.0, &mut dice));
    // Not so close that she would run own ship down.
    let range = NauticalMiles(chance(traffic.within_nm.0 / 4.0, traffic.within_nm.0, &mut dice));
    let course = Degrees::new(chance(0.0, 360.0, &mut dice));
    let (types, lengths, speeds): (&[u8], _, _) = match class {
        Class::A => (&[30, 60, 70, 80], 20..200, (6.0, 16.0)),
        Class::B => (&[36, 37], 8..20, (3.0, 7.0)),
    };
    let ship_type = dice.choice(types).copied().unwrap_or_default();
    let ship = Ship {
        mmsi,
        class,
        name: Some(name),
        call_sign: None,
        ship_type,
        length_m: dice.u16(lengths),
    };
    let place = destination(own.place, bearing, range);
    let speed = Knots(chance(speeds.0, speeds.1, &mut dice));
    let start = Motion { place, course, speed };

    let mut receivers = Receivers::of(stage, mmsi.value().into());
    let mut heard = |seconds: f64, index: usize, dice: &mut fastrand::Rng| {
        let own = stage.own.at(seconds)?;
        let motion = start.after(seconds);
        let (range, _) = range_and_bearing(own.place, motion.place);
        let (reception, channel) = (&traffic.reception, channel(index));
        let signal = Signal { range, reception, sea: 1.0, fade: None, channel };
        Some((motion, receivers.that_hear(&signal, dice)))
    };
    let mut lines = Vec::new();
    let times = times(stage, class.interval_s(speed), &mut dice);
    for (index, (slot, seconds)) in times.into_iter().enumerate() {
        let Some((motion, by)) = heard(seconds, index, &mut dice) else { continue };
        lines.extend(said(&by, "VDM", slot, index, &ship.report(motion, slot)));
    }
    for (slot, seconds) in self::times(stage, STATICS_S, &mut dice) {
        for (index, part) in ship.statics().iter().enumerate() {
            // Part B follows within a minute; here at once, on the same channel.
            let Some((_, by)) = heard(seconds, 0, &mut dice) else { continue };
            lines.extend(said(&by, "VDM", slot.plus(index as i64), 0, part));
        }
    }
    lines
}

impl Class {
    /// Seconds between position reports, on a straight course under way.
    fn interval_s(self, speed: Knots) -> f64 {
        match self {
            Self::A if speed.0 > 23.0 => 2.0,
            Self::A if speed.0 > 14.0 => 6.0,
            Self::A => 10.0,
            Self::B if speed.0 > 2.0 => 30.0,
            Self::B => 180.0,
        }
    }
}

impl Ship {
    fn message(&self, kind: u8, body: Body) -> Message {
        Message { kind, repeat: 0, mmsi: self.mmsi, body }
    }

    fn report(&self, motion: Motion, slot: Slot) -> Message {
        let sog_kn = Some((motion.speed.0 * 10.0).round() / 10.0);
        let moves = motion.speed.0 > 0.0;
        let course = (motion.course.value() * 10.0).round() / 10.0 % 360.0;
        let cog_deg = moves.then_some(course);
        let (lat, lon) = (Some(motion.place.lat()), Some(motion.place.lon()));
        let utc_second = slot.second();
        match self.class {
            Class::A => {
                // The time-out counts down with the frames; how many stations she hears is no matter.
                let minute = slot.begin().unix_ms().div_euclid(60_000);
                let timeout = 7 - minute.rem_euclid(8) as u8;
                let state = Reservation { sync_state: 0, timeout, offset: 2250, stations: 12 };
                let report = PositionReport {
                    nav_status: 0,
                    sog_kn,
                    position_accuracy: true,
                    lon,
                    lat,
                    cog_deg,
                    heading_deg: Some(course.round() as u16 % 360),
                    utc_second,
                    comm_state: state.comm_state(slot),
                    ..PositionReport::unavailable()
                };
                self.message(1, Body::Position(report))
            }
            Class::B => {
                let report = ClassBReport {
                    sog_kn,
                    position_accuracy: true,
                    lon,
                    lat,
                    cog_deg,
                    heading_deg: None,
                    utc_second,
                    carrier_sense: true,
                    raim: false,
                };
                self.message(18, Body::ClassB(report))
            }
        }
    }

    /// Message 24: both parts of a class B unit; of a class A unit the name alone, in place of
    /// message 5.
    fn statics(&self) -> Vec<Message> {
        let name = self.message(24, Body::StaticA(StaticA::new(self.name)));
        if self.class == Class::A {
            return vec![name];
        }
        let beam = (self.length_m / 6).max(1);
        let part = StaticB {
            part: 'B',
            ship_type: Some(self.ship_type),
            vendor: None,
            call_sign: self.call_sign,
            dimensions: Dimensions {
                to_bow_m: Some(self.length_m / 2),
                to_stern_m: Some(self.length_m - self.length_m / 2),
                to_port_m: Some(beam),
                to_starboard_m: Some(beam),
            },
            parent_mmsi: None,
        };
        vec![name, self.message(24, Body::StaticB(part))]
    }
}

/// Slots about `every` seconds apart from a chance beginning, and their seconds since the start.
/// Each lies within a tenth of the interval of its nominal place: M.1371-5 annex 2 selects slots
/// from an interval of a fifth.
fn times(stage: &Stage<'_>, every: f64, dice: &mut fastrand::Rng) -> Vec<(Slot, f64)> {
    let mut nominal = dice.f64() * every;
    let mut times = Vec::new();
    while nominal < stage.scenario.duration_s.0 {
        let slot = Slot::at(stage.utc(nominal + (dice.f64() - 0.5) * every / 5.0));
        times.push((slot, stage.seconds(slot.begin())));
        nominal += every;
    }
    times
}

/// The `index`th message of a station, in a slot, at each input that has it.
fn said(
    by: &[&str],
    formatter: &str,
    slot: Slot,
    index: usize,
    message: &Message,
) -> Vec<TimedLine> {
    if by.is_empty() {
        return Vec::new();
    }
    received(by, slot, &sentences(message, formatter, slot, channel(index)))
}
