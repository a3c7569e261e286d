//! The positions that a beacon told, burst by burst, and which of them were told in the water: those
//! that lie with a ship that goes on are on board, whatever was missed between.

use super::adrift::{Adrift, Expected, KNOT_M_S, Moment, Sighting};
use super::drill::Wind;
use super::expected::expected;
use super::scene::{BURST_S, Scene, Told, carried, metres};
use crate::beacon;
use crate::navigation::{CIRCLE_95, Offset, Velocity};

/// A jump of a casualty's place that nobody makes, in metres a second (10 knots) and metres.
/// Our own.
const FASTEST_M_S: f64 = 10.0 * KNOT_M_S;
const JUMP_M: f64 = 60.0;

/// With the ship: no further from own position than this, in metres: what two receivers are off, and
/// half a ship. Our own.
const WITH_SHIP_M: f64 = 35.0;

/// Beside the casualty, and held by it, she moves no faster against its drift than this, in metres a
/// second. Our own.
const BESIDE_M_S: f64 = 2.0 * KNOT_M_S;

/// How well her own drift tells that of a casualty beside her, along each axis, in metres a second;
/// she lies where her motion is the same so long before and after, or twice as long after. Our own.
const LYING_SD_M_S: f64 = 0.6 * KNOT_M_S;
const LIES_S: f64 = 10.0;

/// Whoever is beside a casualty lies there within so many of these times. Our own.
const SOON_LIES: u8 = 4;

/// So many standard deviations of a drift that is hardly known are granted to a ship beside it: a
/// stream may reach 4 kn. Our own.
const GRANTED: f64 = 1.5;

/// A position followed so soon by one beside a ship that lies may itself have been far off. In seconds,
/// our own.
const SOON_S: f64 = 3.0 * beacon::PERIOD.as_secs_f64();

/// Of so many positions one far off bends what all of them tell; of more it is seen. Our own.
const FEW: usize = 4;

/// A position this far from where drift would have it, in metres, and what that is unsure of besides,
/// was not told adrift. Our own.
const ELSEWHERE_M: f64 = 60.0;

/// The same for the way between two that were told beside the ship. Our own.
const WENT_ON_M: f64 = 25.0;

/// Bursts that have to go with her. Our own.
const RIDES: usize = 2;

/// So many of them from the first one on, and the beacon was on board when it was switched on.
/// Our own.
const ABOARD_FIRST: usize = 3;

/// How far a position is held to be off along each axis while they are sorted, in metres. Our own.
const SD_M: f64 = 8.0;

/// Tells from its positions how the casualty drifted, and when it was on board.
pub(super) fn sort_out(scene: &mut Scene<'_>, wind: Option<&Wind>) {
    scene.fixes = each_once(&scene.fixes);
    scene.bursts = told(scene);
    let (basis, expected) = expected(scene, wind);
    let sorted = sorted(scene, expected);
    scene.adrift = Adrift::through(sorted.in_water, expected);
    (scene.basis, scene.rides_from) = (basis, sorted.rides_from);
}

/// What was told in the water, and when it began to ride with the ship.
#[derive(Debug, Default)]
struct Sorted {
    in_water: Vec<Sighting>,
    rides_from: Option<f64>,
}

/// One place a burst: the mean of what it told.
fn told(scene: &Scene<'_>) -> Vec<Told> {
    let mut bursts: Vec<(f64, Vec<(f64, Offset)>)> = Vec::new();
    for &(t, place) in &scene.fixes {
        match bursts.last_mut() {
            Some((first, all)) if t - *first <= BURST_S => all.push((t, place)),
            _ => bursts.push((t, vec![(t, place)])),
        }
    }
    let mean = |of: &mut dyn Iterator<Item = Offset>| {
        let (mut sum, mut count) = (Offset::default(), 0.0);
        for place in of {
            (sum, count) = (sum + place, count + 1.0);
        }
        (count > 0.0).then(|| Offset { east_m: sum.east_m / count, north_m: sum.north_m / count })
    };
    let burst = |(_, all): (f64, Vec<(f64, Offset)>)| {
        let beside = &mut all.iter().filter_map(|&(t, place)| Some(place - scene.own_at(t)?));
        Some(Told {
            t: all.iter().map(|(t, _)| t).sum::<f64>() / all.len() as f64,
            place: mean(&mut all.iter().map(|(_, place)| *place))?,
            beside_m: mean(beside).map(metres),
        })
    };
    bursts.into_iter().filter_map(burst).collect()
}

/// The fixes, each once, without those that jump further than anybody drifts and do not stay there.
fn each_once(fixes: &[(f64, Offset)]) -> Vec<(f64, Offset)> {
    let mut kept: Vec<(f64, Offset)> = Vec::new();
    let mut doubted: Vec<(f64, Offset)> = Vec::new();
    let agree = |one: &(f64, Offset), other: &(f64, Offset)| {
        metres(other.1 - one.1) <= JUMP_M + FASTEST_M_S * (other.0 - one.0).abs()
    };
    for &fix in fixes {
        if kept.last().is_some_and(|last| *last == fix) {
            continue;
        }
        if kept.last().is_none_or(|last| agree(last, &fix)) {
            kept.push(fix);
            doubted.clear();
        } else if doubted.last().is_some_and(|last| !agree(last, &fix)) {
            doubted = vec![fix];
        } else {
            doubted.push(fix);
            // A whole burst of it: the casualty is there.
            if doubted.len() >= beacon::MESSAGES {
                kept.append(&mut doubted);
            }
        }
    }
    kept
}

impl Told {
    fn is_with_ship(&self) -> bool {
        self.beside_m.is_some_and(|it| it <= WITH_SHIP_M)
    }

    fn sighting(&self, is_held: bool) -> Sighting {
        Sighting { t: self.t, place: self.place, is_held }
    }
}

/// Goes through the bursts in their order.
struct Sorting<'a> {
    scene: &'a Scene<'a>,
    now: Option<Moment>,
    expected: Expected,
    sorted: Sorted,
    /// With the ship, and not as it drifts.
    riding: Vec<Told>,
    /// Whether one of them cannot have drifted there.
    is_proven: bool,
    /// Neither with the ship nor where it drifts; the next one tells whether that was wrong.
    doubted: Option<Told>,
}

/// Tells what was told in the water from what was told on board.
fn sorted(scene: &Scene<'_>, expected: Expected) -> Sorted {
    let bursts = &scene.bursts;
    // Switched on aboard, and under way with her.
    let first = bursts.iter().take_while(|it| it.is_with_ship()).count();
    let moves = |it: &Told| {
        let motion = scene.step_at(it.t).and_then(|step| scene.own_motion(step));
        motion.is_some_and(|motion| {
            (motion - expected.velocity).speed().0 * KNOT_M_S > BESIDE_M_S + expected.sd
        })
    };
    let aboard = bursts.iter().take(first).take_while(|it| moves(it)).count();
    let aboard = if aboard >= ABOARD_FIRST { aboard } else { 0 };
    if aboard > 0 && first == bursts.len() {
        return Sorted { rides_from: bursts.first().map(|it| it.t), ..Sorted::default() };
    }
    let mut sorting = Sorting {
        scene,
        now: None,
        expected,
        sorted: Sorted::default(),
        riding: Vec::new(),
        is_proven: false,
        doubted: None,
    };
    for told in bursts.iter().skip(aboard) {
        sorting.take(*told);
        if sorting.is_proven && sorting.riding.len() >= RIDES {
            break;
        }
    }
    sorting.finish()
}

impl Sorting<'_> {
    fn take(&mut self, told: Told) {
        let Some(mut now) = self.now else {
            self.adrift(told, false);
            // Beside her already: her own drift is the only one there is. Under way she has none.
            let granted = BESIDE_M_S + GRANTED * self.expected.sd;
            let lies = self.lies(told.t).filter(|lies| {
                told.is_with_ship() && off_m_s(*lies, self.expected.velocity) <= granted
            });
            self.now = self
                .now
                .zip(lies)
                .map_or(self.now, |(now, lies)| Some(now.moving(lies, LYING_SD_M_S)));
            return;
        };
        if told.is_with_ship()
            && !fits(&now, &told)
            && let Some((others, lead)) = self.without_far_off(&now, &told)
        {
            (self.sorted.in_water, self.doubted) = (others, None);
            now = lead;
            self.now = Some(now);
        }
        let fits = fits(&now, &told) || told.is_with_ship() && self.stayed(told.t);
        if told.is_with_ship() {
            if fits && !self.is_proven && self.is_beside(&now, &told) {
                self.passed_by();
                return self.adrift(told, true);
            }
            self.is_proven |= !fits || self.goes_on(&now, &told);
            self.riding.push(told);
            return;
        }
        if fits {
            self.passed_by();
            self.doubted = None;
            return self.adrift(told, false);
        }
        let agrees = |it: Told| {
            metres(told.place - it.place) <= JUMP_M + FASTEST_M_S * (told.t - it.t).abs()
        };
        match self.doubted.filter(|it| agrees(*it)) {
            Some(doubted) => {
                // One may be far off; of a beacon on board no two are told away from her.
                self.doubted = None;
                self.passed_by();
                self.adrift(doubted, false);
                self.adrift(told, false);
            }
            None => self.doubted = Some(told),
        }
    }

    /// Whether it went on with her since the last burst, further than it drifts, or over so many
    /// bursts that she would have had to go on beside it.
    fn goes_on(&self, now: &Moment, told: &Told) -> bool {
        let Some(last) = self.riding.last() else { return false };
        let span = told.t - last.t;
        let off = metres(told.place - last.place - carried(now.velocity, span));
        off > WENT_ON_M + CIRCLE_95 * now.velocity_sd() * span || self.riding.len() >= RIDES
    }

    /// What seemed to ride with her was in the water: she only passed by, or came alongside.
    fn passed_by(&mut self) {
        self.is_proven = false;
        for passed in std::mem::take(&mut self.riding) {
            self.adrift(passed, false);
        }
    }

    /// A place in the water.
    fn adrift(&mut self, told: Told, is_held: bool) {
        let sighting = told.sighting(is_held);
        let now = self.now.map(|now| now.carried_to(told.t, is_held).seen(told.place, SD_M));
        self.now = Some(now.unwrap_or_else(|| Moment::first(sighting, self.expected)));
        self.sorted.in_water.push(sighting);
    }

    /// Whether the ship moves as it drifts: as far as that was known, and as this position has it.
    fn is_beside(&self, now: &Moment, told: &Told) -> bool {
        let here = now.carried_to(told.t, true);
        let seen = here.seen(told.place, SD_M);
        self.motion(told.t).is_none_or(|motion| {
            off_m_s(motion, seen.velocity) <= BESIDE_M_S
                && off_m_s(motion, here.velocity) <= BESIDE_M_S + GRANTED * here.velocity_sd()
        })
    }

    /// The positions in the water without the one that is wrong, rather than this one beside a ship that
    /// lies, and where they lead: here, drifting as she does. If she never stopped where all of them
    /// lead, nobody came on board: then a stream may carry her.
    fn without_far_off(&self, now: &Moment, told: &Told) -> Option<(Vec<Sighting>, Moment)> {
        let mut places = self.sorted.in_water.clone();
        places.extend(self.doubted.map(|it| it.sighting(false)));
        let last = places.last().filter(|last| told.t - last.t <= SOON_S && !self.is_proven)?;
        if !(2..=FEW).contains(&places.len()) {
            return None;
        }
        let stopped = self.scene.steps(last.t, told.t).iter().any(|step| {
            let here = now.carried_to(step.t, false);
            let motion = self.scene.own_motion(step);
            metres(step.place - here.place) <= ELSEWHERE_M
                && motion.is_none_or(|motion| off_m_s(motion, here.velocity) <= BESIDE_M_S)
        });
        // She may only just be coming to lie there.
        let later = (0..=SOON_LIES).map(|it| told.t + f64::from(it) * LIES_S);
        let lies: Vec<Velocity> = later.filter_map(|t| self.lies(t)).collect();
        let found = (0..places.len()).filter_map(|wrong| {
            let mut others = places.clone();
            others.remove(wrong);
            let lead = self.led_by(&others)?;
            let granted = if stopped { 0.0 } else { GRANTED * lead.velocity_sd() };
            let as_she = lies.iter().filter(|&&lies| {
                off_m_s(lies, lead.velocity) <= BESIDE_M_S + granted && fits(&lead, told)
            });
            let off = as_she.map(|&lies| {
                let lead = lead.moving(lies, LYING_SD_M_S).carried_to(told.t, false);
                metres(told.place - lead.place)
            });
            Some((off.min_by(f64::total_cmp)?, others, lead))
        });
        let (_, others, lead) = found.min_by(|one, other| one.0.total_cmp(&other.0))?;
        Some((others, lead))
    }

    /// Where positions in the water lead.
    fn led_by(&self, places: &[Sighting]) -> Option<Moment> {
        let (first, later) = places.split_first()?;
        let first = Moment::first(*first, self.expected);
        let seen =
            |now: Moment, it: &Sighting| now.carried_to(it.t, it.is_held).seen(it.place, SD_M);
        Some(later.iter().fold(first, seen))
    }

    /// Whether she lay still beside it from its last position but one or two until this moment: then
    /// she has not gone on with it, however far off the last one was.
    fn stayed(&self, t: f64) -> bool {
        let Some(held) = self.sorted.in_water.iter().rev().take(2).find(|it| it.is_held) else {
            return false;
        };
        let Some(lies) = self.motion(held.t) else { return false };
        let mut motions =
            self.scene.steps(held.t, t).iter().filter_map(|step| self.scene.own_motion(step));
        motions.all(|motion| off_m_s(motion, lies) <= BESIDE_M_S)
    }

    fn motion(&self, t: f64) -> Option<Velocity> {
        self.scene.step_at(t).and_then(|step| self.scene.own_motion(step))
    }

    /// How she moves, if that has been the same for a while and stays so.
    fn lies(&self, t: f64) -> Option<Velocity> {
        let motion = self.motion(t)?;
        let is_same = |by: f64| {
            self.motion(t + by * LIES_S).is_some_and(|it| off_m_s(it, motion) <= BESIDE_M_S / 2.0)
        };
        let spans = [(-1.0, 1.0), (1.0, 2.0)];
        spans.into_iter().any(|(one, other)| is_same(one) && is_same(other)).then_some(motion)
    }

    fn finish(mut self) -> Sorted {
        // Of three that disagree nobody knows which one is wrong.
        if self.sorted.in_water.len() == 2
            && self.riding.is_empty()
            && let Some(doubted) = self.doubted.take()
        {
            self.adrift(doubted, false);
        }
        let far = |now: &Moment, told: &Told| {
            let here = now.carried_to(told.t, false);
            metres(told.place - here.place) > 2.0 * ELSEWHERE_M + CIRCLE_95 * here.place_sd()
        };
        let alone = self.riding.last().zip(self.now.as_ref());
        let is_alone_enough = alone.is_some_and(|(told, now)| far(now, told));
        if self.is_proven && (self.riding.len() >= RIDES || is_alone_enough) {
            self.sorted.rides_from = self.riding.first().map(|it| it.t);
        }
        self.sorted
    }
}

/// Whether it may have drifted there.
fn fits(now: &Moment, told: &Told) -> bool {
    let here = now.carried_to(told.t, told.is_with_ship());
    metres(told.place - here.place) <= ELSEWHERE_M + CIRCLE_95 * here.place_sd()
}

fn off_m_s(one: Velocity, other: Velocity) -> f64 {
    (one - other).speed().0 * KNOT_M_S
}
