//! What the instruments and the ship's own transponder say of the ship.

use crate::navigation::{Fix, Grade, OwnShip, Position, Velocity, Wind, true_wind};
use crate::time::{Mono, Utc};
use crate::units::{Celsius, Degrees, Knots};
use crate::wire::nmea::{Mwd, Mwv, Nmea, WindReference};
use crate::wire::{InputId, ais};

/// The source of positions that are given by hand: no input's.
pub(super) const BY_HAND: u32 = u32::MAX;

/// Takes a position that somebody entered.
pub(super) fn by_hand(own: &mut OwnShip, position: Position, at: Mono) {
    let grade = Grade::Estimated;
    own.note_fix(Fix { at, position, sog: None, cog: None, grade, source: BY_HAND });
}

/// The true wind of a wind sentence: of one that is felt on board, over what the ship's motion is
/// known over, the ground before the water.
fn wind(own: &OwnShip, mwv: &Mwv, at: Mono) -> Option<Wind> {
    let (angle, speed) = mwv.angle_deg.zip(mwv.speed_kn).filter(|_| mwv.valid)?;
    let (ahead, _) = own.ahead(at)?;
    let motion = match mwv.reference? {
        WindReference::Relative => own.over_ground(at).or_else(|| own.through_water(at))?,
        // Over the water already, though its angle counts from the bow.
        WindReference::True => Velocity::STILL,
    };
    Some(true_wind(ahead, angle, Knots(speed), motion))
}

/// The true wind that the instruments have worked out themselves.
fn wind_over_ground(own: &OwnShip, mwd: &Mwd, at: Mono) -> Option<Wind> {
    let from =
        mwd.from_deg.or_else(|| Some(mwd.from_magnetic_deg? + own.variation(at)?.degrees_east));
    Some(Wind { from: Degrees::new(from?), speed: Knots(mwd.speed_kn?) })
}

/// Tells the sources of fixes apart: an input, and a sentence in it.
fn source(input: InputId, sentence: u32) -> u32 {
    u32::from(input.0) << 8 | sentence
}

/// The grade of a fix by its mode letter, if the talker vouches for it: none for a simulator's.
fn grade(valid: bool, mode: Option<char>) -> Option<Grade> {
    match mode {
        _ if !valid => None,
        Some('S' | 'N') => None,
        Some('E' | 'M') => Some(Grade::Estimated),
        _ => Some(Grade::Satellite),
    }
}

/// The UTC an instrument's sentence tells, and its source; none of a receiver that does not vouch
/// for it.
pub(super) fn utc(nmea: &Nmea, input: InputId) -> Option<(u32, Utc)> {
    match nmea {
        Nmea::Rmc(rmc) if grade(rmc.valid, rmc.mode).is_some() => {
            Some((source(input, 1), rmc.utc?))
        }
        Nmea::Zda(zda) => Some((source(input, 6), zda.utc?)),
        _ => None,
    }
}

/// Takes an instrument's sentence. Whether it gave a position.
pub(super) fn instrument(own: &mut OwnShip, nmea: &Nmea, input: InputId, at: Mono) -> bool {
    let (grade, sentence) = match nmea {
        Nmea::Rmc(rmc) => {
            if let Some(variation) = rmc.variation_deg {
                own.note_variation(at, variation);
            }
            (grade(rmc.valid, rmc.mode), 1)
        }
        Nmea::Gga(gga) => {
            let grade = match gga.quality {
                Some(6 | 7) => Some(Grade::Estimated),
                _ => gga.is_fix().then_some(Grade::Satellite),
            };
            (grade, 2)
        }
        Nmea::Gns(gns) => {
            let estimated = gns.modes.contains(['E', 'M']).then_some(Grade::Estimated);
            let grade = if gns.is_fix() { Some(Grade::Satellite) } else { estimated };
            (grade, 3)
        }
        Nmea::Gll(gll) => (grade(gll.valid, gll.mode), 4),
        other => {
            motion(own, other, at);
            return false;
        }
    };
    let (Some(position), Some(grade)) = (nmea.position(), grade) else { return false };
    let (sog, cog) = match nmea {
        Nmea::Rmc(rmc) => (rmc.sog_kn.map(Knots), degrees(rmc.cog_deg)),
        _ => (None, None),
    };
    own.note_fix(Fix { at, position, sog, cog, grade, source: source(input, sentence) });
    true
}

fn degrees(value: Option<f64>) -> Option<Degrees> {
    value.map(Degrees::new)
}

/// Takes heading, course and speed.
fn motion(own: &mut OwnShip, nmea: &Nmea, at: Mono) {
    match nmea {
        Nmea::Vtg(vtg) if !matches!(vtg.mode, Some('N' | 'S')) => {
            own.note_course_and_speed(at, degrees(vtg.cog_deg), vtg.sog_kn.map(Knots));
        }
        Nmea::Hdt(hdt) => note_heading(own, degrees(hdt.heading_deg), at),
        Nmea::Ths(ths) if !matches!(ths.mode, Some('V' | 'S')) => {
            note_heading(own, degrees(ths.heading_deg), at);
        }
        Nmea::Hdg(hdg) => {
            if let Some(variation) = hdg.variation_deg {
                own.note_variation(at, variation);
            }
            note_magnetic(own, hdg.magnetic_deg(), at);
        }
        Nmea::Hdm(hdm) => note_magnetic(own, hdm.magnetic_deg, at),
        Nmea::Mtw(mtw) => {
            if let Some(temperature) = mtw.temperature_c {
                own.note_water_temperature(at, Celsius(temperature));
            }
        }
        Nmea::Vhw(vhw) => {
            note_heading(own, degrees(vhw.heading_deg), at);
            note_magnetic(own, vhw.magnetic_deg, at);
            if let Some(speed) = vhw.speed_kn {
                own.note_water_speed(at, Knots(speed));
            }
        }
        Nmea::Mwd(mwd) => {
            if let Some(wind) = wind_over_ground(own, mwd, at) {
                own.note_wind(at, wind);
            }
        }
        Nmea::Mwv(mwv) => {
            if let Some(wind) = wind(own, mwv, at) {
                own.note_wind(at, wind);
            }
        }
        _ => {}
    }
}

fn note_heading(own: &mut OwnShip, heading: Option<Degrees>, at: Mono) {
    if let Some(heading) = heading {
        own.note_heading(at, heading);
    }
}

fn note_magnetic(own: &mut OwnShip, heading: Option<f64>, at: Mono) {
    if let Some(heading) = heading {
        own.note_magnetic_heading(at, Degrees::new(heading));
    }
}

/// Takes a transmission of the ship's own transponder (VDO). Whether it gave a position.
pub(super) fn transponder(own: &mut OwnShip, body: &ais::Body, input: InputId, at: Mono) -> bool {
    use ais::Body::{ClassB, ClassBExtended, Position};
    let motion = match body {
        Position(_) | ClassB(_) | ClassBExtended(_) => body.motion().unwrap_or_default(),
        _ => return false,
    };
    note_heading(own, motion.heading, at);
    let Some(position) = motion.position else { return false };
    // 61 is manual input, 62 dead reckoning; with 63 the position is an old one.
    let grade = match motion.utc_second {
        Some(63) => return false,
        Some(61 | 62) => Grade::Estimated,
        _ => Grade::Transponder,
    };
    let (sog, cog) = (motion.sog, motion.cog);
    own.note_fix(Fix { at, position, sog, cog, grade, source: source(input, 5) });
    true
}
