//! What the reports that came and those that did not say of receiver and antenna.
//!
//! One number is sought, the level: by how many decibels a ship of class A one mile off is above what
//! is heard half the time. From it follows for each ship how much she has to spare at her range, and
//! from that how likely a report of hers is to come. Every level of a grid is tried.

use super::bins::{BINS, Bin};
use super::radio::{ASSUMED_DB, SHIPS_DIFFER_DB, beacon_range, beside_ship_db};
use super::report::AisClass;
use super::signals::{Scale, Signals, are_believed, scales};
use crate::navigation::sea_loss_db;
use crate::units::NauticalMiles;

/// The levels that are tried, in steps of two decibels: from a receiver without antenna to one that
/// does not exist. Our own.
pub(super) const STEP_DB: f64 = 2.0;
pub(super) const LEVELS: usize = 61;
const LOWEST_DB: f64 = -20.0;

/// What is thought of the level before anything is heard: a receiver that needs -107 dBm
/// (from memory) at an antenna 10 m high has 63 dB. Hardly one is much better; many are worse. The spread is our own.
pub(super) const PRIOR_DB: f64 = 62.0;
pub(super) const PRIOR_SD_DB: f64 = 12.0;
const PRIOR_SD_ABOVE_DB: f64 = 6.0;

/// How fast hearing changes with what there is to spare: the standard deviation of what waves and
/// weather do to single messages, in dB. Which of them is found out. Our own.
const FADING_DB: [f64; 2] = [2.5, 6.0];

/// Which share of messages is lost however near: others speak over them. Which of them is found out.
/// Our own.
const LOST: [f64; 6] = [0.01, 0.05, 0.12, 0.25, 0.5, 0.75];

/// A way of fading that is so much less likely by what came than the likeliest, as a logarithm, is not
/// tried with signals. Our own.
const HARDLY: f64 = 5.0;

/// How likely a ship is to have switched off, or to have gone behind land for good, when she is not
/// heard any more. Our own.
const WENT: f64 = 0.02;

/// A ship may differ from her class by so many steps of the levels: down to one behind land. Our own.
pub(super) const OFFSETS: usize = 23;
const WORST_STEPS: i32 = -16;

/// So many reports of a ship at most count each for itself: what hides one hides the next. Our own.
const INDEPENDENT: f64 = 60.0;

/// How many ships in a hundred lie far below their class: behind land, a bad antenna. Our own.
const BEHIND_LAND: f64 = 0.15;

/// One in twenty lies below the lower limit that is told, one in twenty above the upper. Our own.
const LIMITS: [f64; 3] = [0.05, 0.5, 0.95];

/// Limits that lie further apart than by this factor say nothing. Our own.
pub(super) const WIDEST: f64 = 5.0;

/// Of eight messages in ten: so many standard deviations of fading to spare, by definition.
const EIGHT_IN_TEN: f64 = 0.8416;

/// What was due of a ship.
#[derive(Clone, Debug)]
pub(super) struct Evidence {
    pub class: AisClass,
    /// By range: which step, how many were due, how many came.
    pub cells: Vec<(Bin, u32, u32)>,
    /// What is due since she was heard last and has not come, and at which range.
    pub missing: Option<(Bin, u16)>,
    /// With what signal those came of which the receiver tells.
    pub signals: Signals,
}

impl Evidence {
    /// Nothing yet.
    pub(super) const fn of(class: AisClass) -> Self {
        Self { class, cells: Vec::new(), missing: None, signals: Signals::NONE }
    }

    /// How much better than class A she is heard from the same place, in dB.
    pub(super) fn beside_db(&self) -> f64 {
        beside_ship_db(self.class)
    }
}

/// What is thought of the level now.
#[derive(Clone, Copy, Debug)]
pub(super) struct Posterior {
    /// Its middle and standard deviation, in dB.
    pub level_db: f64,
    pub level_sd_db: f64,
    /// The share of messages that are lost however near.
    pub lost: f64,
    /// What waves and weather do to single messages, in dB.
    pub fading_db: f64,
    /// How far a beacon would be heard: not less, in the middle, not more.
    pub low: NauticalMiles,
    pub middle: NauticalMiles,
    pub high: NauticalMiles,
}

impl Posterior {
    /// Whether its limits are near enough to each other to say something.
    pub(super) fn is_of_use(&self) -> bool {
        self.high.0 <= WIDEST * self.low.0
    }
}

/// How likely a message comes and does not come, as logarithms, by what there is to spare.
pub(super) struct Chance {
    comes: Vec<f64>,
    lost: Vec<f64>,
    fading_db: f64,
}

/// What there is to spare lies between these, in steps of a decibel; beyond, it is as at the end. Our
/// own.
const SPARE: i32 = 40;

/// The levels that are tried for one ship, by definition: hers may differ.
pub(super) const WIDE: usize = LEVELS + OFFSETS - 1;

impl Chance {
    /// With so much fading, and so great a share lost however near.
    pub(super) fn new(fading_db: f64, lost: f64) -> Self {
        let comes = |spare: i32| {
            // Never quite sure of a loss: something odd always happens.
            ((1.0 - lost) * normal(f64::from(spare) / fading_db)).clamp(1e-4, 1.0 - 1e-4)
        };
        let all = -SPARE..=SPARE;
        Self {
            comes: all.clone().map(|it| comes(it).ln()).collect(),
            lost: all.map(|it| (1.0 - comes(it)).ln()).collect(),
            fading_db,
        }
    }

    /// What messages with so much to spare have in the mean, in dB, of those that are heard.
    pub(super) fn heard_with(&self, spare_db: f64) -> f64 {
        // Further out the mean hardly changes, and both of its parts vanish.
        let z = (spare_db / self.fading_db).max(-4.0);
        let density = 0.398_942_280_401 * (-z * z / 2.0).exp();
        self.fading_db * (z + density / normal(z))
    }
}

/// The distribution of Gauss, by its usual approximation to 1e-7.
pub(super) fn normal(z: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * z.abs());
    let series = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let tail = 0.398_942_280_401 * (-z * z / 2.0).exp() * series;
    if z < 0.0 { tail } else { 1.0 - tail }
}

/// How much a ship's level may differ from her class's, and how likely that is.
pub(super) fn offsets() -> [f64; OFFSETS] {
    let mut weights = [0.0; OFFSETS];
    for (steps, weight) in (WORST_STEPS..).zip(&mut weights) {
        let offset = f64::from(steps) * STEP_DB;
        let usual = (-(offset / SHIPS_DIFFER_DB).powi(2) / 2.0).exp() / SHIPS_DIFFER_DB;
        let behind = (-((offset + 10.0) / 14.0).powi(2) / 2.0).exp() / 14.0;
        *weight = (1.0 - BEHIND_LAND) * usual + BEHIND_LAND * behind;
    }
    let sum: f64 = weights.iter().sum();
    weights.map(|weight| weight / sum)
}

/// What is thought of the level after what was due of these ships. `known` is what was thought of it
/// before, its middle and standard deviation.
pub(super) fn posterior(ships: &[Evidence], known: Option<(f64, f64)>) -> Posterior {
    let prior = prior(known);
    let ways = FADING_DB.into_iter().flat_map(|fading| LOST.map(|lost| (fading, lost)));
    let ways: Vec<Way> = ways.map(|(fading, lost)| Way::new(fading, lost, ships, &prior)).collect();
    if !are_believed(ships.iter().map(|it| (&it.signals, it.beside_db()))) {
        return summed_up(ways.iter().flat_map(|way| way.tried(way.logs)));
    }
    let most = ways.iter().map(Way::most).fold(f64::NEG_INFINITY, f64::max);
    let of_use = ways.iter().filter(|way| way.most() > most - HARDLY);
    let with_signals = of_use.flat_map(|way| {
        scales().flat_map(|(scale, before)| {
            way.tried(way.with_signals(ships, scale, &prior).map(|log| log + before))
        })
    });
    summed_up(with_signals)
}

/// What is thought of the level by a part of what was due, one direction or one input, that may differ
/// from all by so much. Fading and the share lost are those of all.
pub(super) fn of_part(ships: &[Evidence], all: &Posterior, differs_db: f64) -> Posterior {
    let prior = prior(Some((all.level_db, differs_db)));
    let way = Way::new(all.fading_db.max(1.0), all.lost, ships, &prior);
    summed_up(way.tried(way.logs))
}

/// How likely each level is before anything is heard, as a logarithm.
fn prior(known: Option<(f64, f64)>) -> [f64; LEVELS] {
    std::array::from_fn(|number| {
        let level = level(number);
        let above = if level > PRIOR_DB { PRIOR_SD_ABOVE_DB } else { PRIOR_SD_DB };
        let (middle, sd) = known.unwrap_or((PRIOR_DB, above));
        -((level - middle) / sd).powi(2) / 2.0
    })
}

/// One way in which messages may fade and be lost.
struct Way {
    fading_db: f64,
    lost: f64,
    chance: Chance,
    /// What each ship says of her own level by what came.
    ships: Vec<([f64; WIDE], f64)>,
    /// How likely each level is by all of them, as a logarithm.
    logs: [f64; LEVELS],
}

impl Way {
    fn new(fading_db: f64, lost: f64, ships: &[Evidence], prior: &[f64; LEVELS]) -> Self {
        let (chance, losses) = (Chance::new(fading_db, lost), losses());
        let ships = ships.iter().map(|ship| likely(ship, INDEPENDENT, &chance, &losses));
        let ships: Vec<_> = ships.collect();
        let logs = of_all(prior, ships.iter().copied());
        Self { fading_db, lost, chance, ships, logs }
    }

    /// How likely each level is by what came and by the signals, on a receiver with this scale.
    fn with_signals(
        &self,
        ships: &[Evidence],
        scale: Scale,
        prior: &[f64; LEVELS],
    ) -> [f64; LEVELS] {
        let both = ships.iter().zip(&self.ships).map(|(ship, (by_counts, most))| {
            let both = |number| {
                let own_db = own_db(ship, number);
                let heard_with = |loss_db| self.chance.heard_with(own_db - loss_db);
                by_counts[number] * ship.signals.likely(scale, heard_with)
            };
            (std::array::from_fn(both), *most)
        });
        of_all(prior, both)
    }

    fn most(&self) -> f64 {
        self.logs.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    fn tried(&self, logs: [f64; LEVELS]) -> impl Iterator<Item = Tried> {
        let Self { fading_db, lost, .. } = *self;
        let all = (0..).zip(logs);
        all.map(move |(number, log)| Tried { log, level_db: level(number), fading_db, lost })
    }
}

/// How likely each level is by what ships say of their own, as a logarithm: for each ship the mean over
/// what she may differ from her class by.
fn of_all(prior: &[f64; LEVELS], ships: impl Iterator<Item = ([f64; WIDE], f64)>) -> [f64; LEVELS] {
    let (offsets, mut logs) = (offsets(), *prior);
    for (likely, most) in ships {
        for (it, mean) in logs.iter_mut().zip(over_offsets(&likely, &offsets)) {
            *it += most + mean.max(1e-300).ln();
        }
    }
    logs
}

/// What is lost on the way at each step of range.
pub(super) fn losses() -> Vec<f64> {
    (0..BINS).map(|number| sea_loss_db(Bin::middle(number))).collect()
}

/// The level of this number among those that are tried.
pub(super) fn level(number: usize) -> f64 {
    LOWEST_DB + STEP_DB * number as f64
}

/// The level of this number among those that a ship's own may be, in dB.
fn own_db(ship: &Evidence, number: usize) -> f64 {
    LOWEST_DB + STEP_DB * (f64::from(WORST_STEPS) + number as f64) + ship.beside_db()
}

/// What one ship says, by at most so many reports that count each for itself, of each level that hers
/// may be: how likely it is beside the likeliest, and the logarithm of that.
pub(super) fn likely(
    ship: &Evidence,
    independent: f64,
    chance: &Chance,
    losses: &[f64],
) -> ([f64; WIDE], f64) {
    let due: u32 = ship.cells.iter().map(|it| it.1).sum();
    let weight = 1.0 / (1.0 + f64::from(due) / independent);
    let mut wide = [0.0; WIDE];
    let mut most = f64::NEG_INFINITY;
    for (number, it) in wide.iter_mut().enumerate() {
        let own = own_db(ship, number);
        let at = |bin: Bin| {
            let spare = (own - losses[bin.number()]).round() as i32;
            (spare.clamp(-SPARE, SPARE) + SPARE) as usize
        };
        for &(bin, expected, received) in &ship.cells {
            let spare = at(bin);
            let lost = expected.saturating_sub(received);
            *it += weight
                * (f64::from(received) * chance.comes[spare]
                    + f64::from(lost) * chance.lost[spare]);
        }
        if let Some((bin, missing)) = ship.missing {
            let silent = (f64::from(missing) * chance.lost[at(bin)]).exp();
            *it += (WENT + (1.0 - WENT) * silent).ln();
        }
        most = most.max(*it);
    }
    (wide.map(|it| (it - most).exp()), most)
}

/// The mean at each level over what a ship may differ from her class by. It is made level by level
/// beside each other, which a processor does several at a time.
pub(super) fn over_offsets(wide: &[f64; WIDE], offsets: &[f64; OFFSETS]) -> [f64; LEVELS] {
    let mut means = [0.0; LEVELS];
    for (weight, here) in offsets.iter().zip(wide.windows(LEVELS)) {
        for (mean, likely) in means.iter_mut().zip(here) {
            *mean += weight * likely;
        }
    }
    means
}

/// One of what is tried, and how likely it is, as a logarithm.
struct Tried {
    log: f64,
    level_db: f64,
    fading_db: f64,
    lost: f64,
}

/// Middle, spread and limits of what was tried.
fn summed_up(all_tried: impl Iterator<Item = Tried>) -> Posterior {
    let all_tried: Vec<Tried> = all_tried.collect();
    let most = all_tried.iter().map(|it| it.log).fold(f64::NEG_INFINITY, f64::max);
    let weight = |log: f64| (log - most).exp();
    let total: f64 = all_tried.iter().map(|it| weight(it.log)).sum();
    let mean = |of: &dyn Fn(&Tried) -> f64| {
        all_tried.iter().map(|it| weight(it.log) * of(it)).sum::<f64>() / total
    };
    let level_db = mean(&|it| it.level_db);
    // Half a step of the grid is never known.
    let variance = mean(&|it| (it.level_db - level_db).powi(2)) + STEP_DB.powi(2) / 12.0;
    // Levels at which eight in ten come, each with what is assumed of ships and beacons.
    let tenths: Vec<_> = all_tried
        .iter()
        .map(|it| (weight(it.log) / total, it.level_db - EIGHT_IN_TEN * it.fading_db))
        .filter(|it| it.0 > 1e-6)
        .collect();
    let [low, middle, high] = LIMITS.map(|limit| {
        let (mut from, mut to) = (LOWEST_DB - 60.0, level(LEVELS) + 60.0);
        for _ in 0..40 {
            let here = (from + to) / 2.0;
            let below: f64 =
                tenths.iter().map(|it| it.0 * normal((here - it.1) / ASSUMED_DB)).sum();
            if below < limit {
                from = here;
            } else {
                to = here;
            }
        }
        beacon_range(from, 0.0)
    });
    let (fading_db, lost, level_sd_db) =
        (mean(&|it| it.fading_db), mean(&|it| it.lost), variance.sqrt());
    Posterior { level_db, level_sd_db, lost, fading_db, low, middle, high }
}
