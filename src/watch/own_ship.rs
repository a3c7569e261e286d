//! What the instruments and the ship's own transponder say of the ship.

use crate::navigation::{Fix, Grade, OwnShip, Position, Velocity, Wind, true_wind};
use crate::time::{Mono, Utc};
use crate::units::{Celsius, Degrees, Knots};
use crate::wire::nmea::{Mwv, Nmea, WindReference};
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
    let degrees = |value: Option<f64>| value.map(Degrees::new);
    let (place, grade, sentence) = match nmea {
        Nmea::Rmc(rmc) => {
            if let Some(variation) = rmc.variation_deg {
                own.note_variation(at, variation);
            }
            ((rmc.lat, rmc.lon), grade(rmc.valid, rmc.mode), 1)
        }
        Nmea::Gga(gga) => {
            let grade = match gga.quality {
                Some(6 | 7) => Some(Grade::Estimated),
                _ => gga.is_fix().then_some(Grade::Satellite),
            };
            ((gga.lat, gga.lon), grade, 2)
        }
        Nmea::Gns(gns) => {
            let estimated = gns.modes.contains(['E', 'M']).then_some(Grade::Estimated);
            let grade = if gns.is_fix() { Some(Grade::Satellite) } else { estimated };
            ((gns.lat, gns.lon), grade, 3)
        }
        Nmea::Gll(gll) => ((gll.lat, gll.lon), grade(gll.valid, gll.mode), 4),
        other => {
            motion(own, other, at);
            return false;
        }
    };
    let position = place.0.zip(place.1).and_then(|(lat, lon)| Position::new(lat, lon));
    let (Some(position), Some(grade)) = (position, grade) else { return false };
    let (sog, cog) = match nmea {
        Nmea::Rmc(rmc) => (rmc.sog_kn.map(Knots), degrees(rmc.cog_deg)),
        _ => (None, None),
    };
    own.note_fix(Fix { at, position, sog, cog, grade, source: source(input, sentence) });
    true
}

/// Takes heading, course and speed.
fn motion(own: &mut OwnShip, nmea: &Nmea, at: Mono) {
    match nmea {
        Nmea::Vtg(vtg) if !matches!(vtg.mode, Some('N' | 'S')) => {
            own.note_course_and_speed(at, vtg.cog_deg.map(Degrees::new), vtg.sog_kn.map(Knots));
        }
        Nmea::Hdt(hdt) => note_heading(own, hdt.heading_deg, at),
        Nmea::Ths(ths) if !matches!(ths.mode, Some('V' | 'S')) => {
            note_heading(own, ths.heading_deg, at);
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
            note_heading(own, vhw.heading_deg, at);
            note_magnetic(own, vhw.magnetic_deg, at);
            if let Some(speed) = vhw.speed_kn {
                own.note_water_speed(at, Knots(speed));
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

fn note_heading(own: &mut OwnShip, heading: Option<f64>, at: Mono) {
    if let Some(heading) = heading {
        own.note_heading(at, Degrees::new(heading));
    }
}

fn note_magnetic(own: &mut OwnShip, heading: Option<f64>, at: Mono) {
    if let Some(heading) = heading {
        own.note_magnetic_heading(at, Degrees::new(heading));
    }
}

/// Takes a transmission of the ship's own transponder (VDO). Whether it gave a position.
pub(super) fn transponder(own: &mut OwnShip, body: &ais::Body, input: InputId, at: Mono) -> bool {
    let (lat, lon, sog, cog, heading, second) = match body {
        ais::Body::Position(r) => (r.lat, r.lon, r.sog_kn, r.cog_deg, r.heading_deg, r.utc_second),
        ais::Body::ClassB(r) => (r.lat, r.lon, r.sog_kn, r.cog_deg, r.heading_deg, r.utc_second),
        ais::Body::ClassBExtended(r) => {
            (r.lat, r.lon, r.sog_kn, r.cog_deg, r.heading_deg, r.utc_second)
        }
        _ => return false,
    };
    note_heading(own, heading.map(f64::from), at);
    let Some(position) = lat.zip(lon).and_then(|(lat, lon)| Position::new(lat, lon)) else {
        return false;
    };
    // 61 is manual input, 62 dead reckoning; with 63 the position is an old one.
    let grade = match second {
        63 => return false,
        61 | 62 => Grade::Estimated,
        _ => Grade::Transponder,
    };
    let (sog, cog) = (sog.map(Knots), cog.map(Degrees::new));
    own.note_fix(Fix { at, position, sog, cog, grade, source: source(input, 5) });
    true
}
