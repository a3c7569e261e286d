//! A survivor beacon: its way in the water, and its bursts after ITU-R M.1371-5 annex 9, section 5.
//!
//! ```text
//! cycle    burst 1   burst 2   …   burst 8 │ burst 1 of the next cycle, at a new place
//! time-out    7         6      …      0    │    7
//! starts      T0     T0+1 min  …  T0+7 min │ T0 + 8 min ± 6 s
//! burst    8 messages 75 slots (2.000 s) apart, alternating AIS 1 and AIS 2
//! ```
//! Slots stay on the UTC grid also before the first fix, when a real beacon has no time.

use super::own::{Motion, together};
use super::receivers::{Receivers, Signal};
use super::scenario::{self, Beacon, BeaconMode, Edition, LastWord, TextVariant};
use super::slots::{Reservation, SLOTS_PER_FRAME, Slot, channel, jittered, sentences};
use super::{Stage, TimedLine, received, sealed};
use crate::beacon::{BURSTS, MESSAGES};
use crate::mmsi::BeaconKind;
use crate::navigation::{Position, destination, range_and_bearing};
use crate::units::{Degrees, Knots, NauticalMiles};
use crate::wire::ais::{Body, Message, PositionReport, SafetyText};

/// From one message of a burst to the next, in slots (M.1371-5 annex 9, section 5).
const INCREMENT: i64 = 75;

/// From the last burst of a cycle to the next cycle: 1 min ± 6 s (EN 303 098 V2.2.1, B.2, as
/// reported).
const NEXT_CYCLE: std::ops::RangeInclusive<u16> = 2025..=2475;

/// The first transmission comes this many seconds after activation (EN 303 098 V2.2.1, B.3, as
/// reported: one without time may; with a fix it comes within a minute).
const FIRST_BURST_S: std::ops::Range<f64> = 10.0..30.0;

/// Which of the eight messages are texts: one on each channel. Their place is from memory.
const TEXTS_WHEN_ACTIVE: [usize; 2] = [4, 5];

/// The first and the last message of a self-test; from memory.
const TEXTS_WHEN_TESTED: [usize; 2] = [0, MESSAGES - 1];

/// Maker's suffix and prefix if a scenario gives none: nobody's.
const SUFFIX: &str = "A00";

/// Navigational status of an active beacon, and of one under test (M.1371-5 table 48).
const ACTIVE: u8 = 14;
const UNDEFINED: u8 = 15;

/// One burst.
struct Burst {
    first: Slot,
    timeout: u8,
    /// Told at time-out 0.
    offset: u16,
    nav_status: u8,
    /// The text's word, and which messages carry it.
    text: Option<(&'static str, [usize; 2])>,
}

/// All that is received of a beacon.
pub(super) fn lines(stage: &Stage<'_>, beacon: &Beacon) -> Vec<TimedLine> {
    let mut dice = stage.dice(beacon.mmsi.value().into());
    let delay = FIRST_BURST_S.start + dice.f64() * (FIRST_BURST_S.end - FIRST_BURST_S.start);
    let first = Slot::at(stage.utc(beacon.activate_s.0 + delay));
    let bursts = match beacon.mode {
        BeaconMode::Test => vec![Burst::single(first, "TEST")],
        BeaconMode::Active => active_bursts(stage, beacon, first, &mut dice),
    };
    let mut receivers = Receivers::of(stage, beacon.mmsi.value().into());
    let mut lines = Vec::new();
    let mut last_place = None;
    for (number, burst) in bursts.iter().enumerate() {
        for index in 0..MESSAGES {
            let slot = burst.first.plus(index as i64 * INCREMENT);
            let seconds = stage.seconds(slot.begin());
            let report = report(stage, beacon, burst, slot, &mut last_place, &mut dice);
            let body = match &burst.text {
                Some((word, places)) if places.contains(&index) => text(beacon, word),
                _ => Some(Body::Position(report)),
            };
            let by = receivers.that_hear(&signal(stage, beacon, seconds, index), &mut dice);
            let Some(body) = body.filter(|_| !by.is_empty()) else { continue };
            let message = Message { kind: kind(&body), repeat: 0, mmsi: beacon.mmsi, body };
            let mut said = sentences(&message, "VDM", slot, channel(index));
            if beacon.wrong_fill && (number, index) == (0, 0) {
                said = said.iter().map(|sentence| with_wrong_fill(sentence)).collect();
            }
            lines.extend(received(&by, slot, &said));
        }
    }
    lines
}

const fn kind(body: &Body) -> u8 {
    if matches!(body, Body::SafetyText(_)) { 14 } else { 1 }
}

impl Burst {
    /// The only burst of a self-test, or the last one of a beacon switched off: time-out 0 and
    /// sub-message 0 (M.1371-5 annex 9, section 5; M.1371-6 for the latter). That an OFF burst is
    /// made like a test's is our own reading.
    fn single(first: Slot, word: &'static str) -> Self {
        Self {
            first,
            timeout: 0,
            offset: 0,
            nav_status: UNDEFINED,
            text: Some((word, TEXTS_WHEN_TESTED)),
        }
    }
}

/// The bursts from the first one to the end, or until the beacon is switched off: then the burst
/// that would have come says so, and nothing comes after it.
fn active_bursts(
    stage: &Stage<'_>,
    beacon: &Beacon,
    mut first: Slot,
    dice: &mut fastrand::Rng,
) -> Vec<Burst> {
    let off_s = beacon.off_s.as_ref().map_or(f64::INFINITY, |off| *off.get_ref());
    let texts_in = match beacon.text_variant {
        TextVariant::FirstAndFifth => [1, 5],
        TextVariant::Later => [2, 6],
    };
    let mut bursts = Vec::new();
    loop {
        let offset = dice.u16(NEXT_CYCLE);
        for number in 1..=BURSTS {
            let seconds = stage.seconds(first.begin());
            if seconds >= off_s {
                bursts.extend(last_word(beacon).map(|word| Burst::single(first, word)));
                return bursts;
            }
            if seconds >= stage.scenario.duration_s.0 {
                return bursts;
            }
            let timeout = BURSTS - number;
            let text = texts_in.contains(&number).then_some(("ACTIVE", TEXTS_WHEN_ACTIVE));
            bursts.push(Burst { first, timeout, offset, nav_status: ACTIVE, text });
            first = first.plus(if timeout == 0 { offset.into() } else { SLOTS_PER_FRAME });
        }
    }
}

fn last_word(beacon: &Beacon) -> Option<&'static str> {
    match beacon.off_says {
        LastWord::Off => Some("OFF"),
        LastWord::Cancel => Some("CANCEL"),
        LastWord::Nothing => None,
    }
}

/// `MOB ACTIVE`, or after M.1371-6 `MOB ACTIVE A01`.
fn text(beacon: &Beacon, word: &str) -> Option<Body> {
    let device = match beacon.mmsi.beacon_kind()? {
        BeaconKind::Sart => "SART",
        BeaconKind::Mob => "MOB",
        BeaconKind::Epirb => "EPIRB",
    };
    let suffix = match &beacon.suffix {
        Some(suffix) => format!(" {}", &*suffix.get_ref().0),
        None if beacon.edition == Some(Edition::Sixth) => format!(" {SUFFIX}"),
        None => String::new(),
    };
    let text = format!("{device} {word}{suffix}").parse().ok()?;
    Some(Body::SafetyText(SafetyText::new(text, beacon.mmsi)))
}

/// The position report of a slot. Without a fix it holds the defaults and sync state 3; one that
/// lost its fix repeats its last place with second 63 (M.1371-5 table 48, EN 303 098 B.3 as
/// reported; speed and course not available then: from memory).
fn report(
    stage: &Stage<'_>,
    beacon: &Beacon,
    burst: &Burst,
    slot: Slot,
    last_place: &mut Option<Position>,
    dice: &mut fastrand::Rng,
) -> PositionReport {
    let seconds = stage.seconds(slot.begin());
    let lost = beacon.fix_lost.iter().map(toml::Spanned::get_ref);
    let is_lost = lost.clone().any(|lost| (lost.from_s..lost.until_s).contains(&seconds));
    let motion = motion(stage, beacon, seconds)
        .map(|motion| Motion { place: jittered(motion.place, beacon.jitter_m.0, dice), ..motion });
    let fix = motion.filter(|_| has_fix(beacon, seconds) && !is_lost);
    if let Some(fix) = fix {
        *last_place = Some(fix.place);
    }
    let utc_second = match (fix, *last_place) {
        (Some(_), _) => slot.second(),
        (None, Some(_)) => 63,
        (None, None) => 60,
    };
    let sync_state = if fix.is_some() { 0 } else { 3 };
    let Burst { timeout, offset, nav_status, .. } = *burst;
    PositionReport {
        nav_status,
        sog_kn: fix.map(|fix| (fix.speed.0 * 10.0).round() / 10.0),
        cog_deg: fix.map(|fix| (fix.course.value() * 10.0).round() / 10.0 % 360.0),
        position_accuracy: fix.is_some(),
        lat: last_place.map(Position::lat),
        lon: last_place.map(Position::lon),
        utc_second,
        // A beacon has no receiver: no stations.
        comm_state: Reservation { sync_state, timeout, offset, stations: 0 }.comm_state(slot),
        ..PositionReport::unavailable()
    }
}

/// Whether the beacon's own receiver has found where it is by then.
pub(super) fn has_fix(beacon: &Beacon, seconds: f64) -> bool {
    seconds >= beacon.activate_s.0 + beacon.fix_delay_s.0
}

/// Where the beacon truly is: carried from where it was activated, or on board again.
pub(super) fn motion(stage: &Stage<'_>, beacon: &Beacon, seconds: f64) -> Option<Motion> {
    if is_aboard(beacon, seconds) {
        return stage.own.at(seconds);
    }
    let given = scenario::place(beacon.lat, beacon.lon);
    let begin = given.or_else(|| Some(stage.own.at(beacon.activate_s.0)?.place))?;
    let place = beacon.offset.as_ref().map_or(begin, |offset| {
        let (bearing, range) = (offset.bearing_deg.0, offset.range_nm.0);
        destination(begin, Degrees::new(bearing), NauticalMiles(range))
    });
    let (course, speed) = carried(stage, beacon);
    let start = Motion { place, course, speed };
    Some(start.after((seconds - beacon.activate_s.0).max(0.0)))
}

/// Where the beacon goes over ground, and how fast: with the water, and driven through it by the
/// wind. One that is tested is in somebody's hand.
fn carried(stage: &Stage<'_>, beacon: &Beacon) -> (Degrees, Knots) {
    let current = stage.scenario.current.filter(|_| beacon.mode == BeaconMode::Active);
    let water = beacon.drift.or(current);
    let (set, rate) = water.map_or((0.0, 0.0), |water| (water.set_deg.0, water.rate_kn.0));
    let water = (Degrees::new(set), Knots(rate));
    let leeway = beacon.leeway.as_ref().zip(stage.scenario.own.wind.as_ref());
    leeway.map_or(water, |(leeway, wind)| {
        let downwind = Degrees::new(wind.from_deg.0 + 180.0);
        let speed = Knots(wind.speed_kn.0 * leeway.get_ref().percent.0 / 100.0);
        together(water, (downwind, speed))
    })
}

/// What the beacon sends now, as it reaches the receivers on board.
fn signal<'a>(stage: &Stage<'a>, beacon: &'a Beacon, seconds: f64, index: usize) -> Signal<'a> {
    let own = stage.own.at(seconds).map(|own| own.place);
    let place = motion(stage, beacon, seconds).map(|beacon| beacon.place);
    let range = own.zip(place).map_or(NauticalMiles(0.0), |(own, it)| range_and_bearing(own, it).0);
    let fades = beacon.fades.iter().map(toml::Spanned::get_ref);
    let left = fades
        .filter(|fade| (fade.from_s..fade.until_s).contains(&seconds))
        .fold(1.0, |left, fade| left * fade.heard.0);
    let in_the_water = beacon.mode == BeaconMode::Active && !is_aboard(beacon, seconds);
    let sea = if in_the_water { stage.scenario.sea.0 } else { 1.0 };
    let reception = &beacon.reception;
    Signal { range, reception, sea, fade: Some(left), channel: channel(index) }
}

fn is_aboard(beacon: &Beacon, seconds: f64) -> bool {
    beacon.aboard_from_s.is_some_and(|from| seconds >= from.0)
}

/// The sentence with a number of fill bits that is not that of its payload, and its checksum. None
/// where there are some is the fault that receivers have.
fn with_wrong_fill(sentence: &str) -> String {
    let body = sentence.split('*').next().unwrap_or_default();
    let (rest, fill) = body.rsplit_once(',').unwrap_or((body, ""));
    sealed(&format!("{rest},{}", if fill == "0" { 2 } else { 0 }))
}
