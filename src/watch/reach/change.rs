//! Whether reach has just changed: each ship is compared with herself, so that what she differs from
//! others by does not count.

use super::likelihood::{
    Chance, Evidence, LEVELS, PRIOR_DB, PRIOR_SD_DB, Posterior, STEP_DB, WIDE, level, likely,
    losses, offsets, over_offsets,
};

/// What is tried, in decibels of loss: from an antenna that was mended to one that is gone. Our own.
const FIRST_DB: f64 = -16.0;
const TRIED: usize = 15;

/// What is thought of a change before: none, with this standard deviation in dB. Our own.
const PRIOR_CHANGE_DB: f64 = 12.0;

/// A ship's own level changes by so much from one part of an hour to the next, in dB: land, course and
/// weather. So her reports need not count each for less. Our own.
const SHIP_CHANGES_DB: f64 = 5.0;

/// By how many decibels less is heard than earlier in the hour; negative is more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Change {
    pub lost_db: f64,
    pub sd_db: f64,
}

/// Compares what was due of each ship before with what was due of her lately. `is` says how messages
/// fade.
pub(super) fn change(ships: &[(Evidence, Evidence)], is: &Posterior) -> Change {
    let chance = Chance::new(is.fading_db.max(1.0), is.lost);
    let (losses, offsets) = (losses(), offsets());
    let mut sum = [[0.0; LEVELS]; TRIED];
    for (lost, row) in sum.iter_mut().enumerate() {
        for (number, it) in row.iter_mut().enumerate() {
            let change = (change_db(lost) / PRIOR_CHANGE_DB).powi(2);
            *it = -(((level(number) - PRIOR_DB) / PRIOR_SD_DB).powi(2) + change) / 2.0;
        }
    }
    for (before, lately) in ships {
        let (before, _) = likely(before, f64::INFINITY, &chance, &losses);
        let lately = smoothed(&likely(lately, f64::INFINITY, &chance, &losses).0);
        for (lost, row) in sum.iter_mut().enumerate() {
            let means = over_offsets(&both(&before, &lately, shift(lost)), &offsets);
            for (it, mean) in row.iter_mut().zip(means) {
                *it += mean.max(1e-300).ln();
            }
        }
    }
    let most = sum.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = sum.map(|row| row.iter().map(|it| (it - most).exp()).sum::<f64>());
    let total: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(f64) -> f64| {
        let all = weights.iter().enumerate();
        all.map(|(lost, weight)| weight * of(change_db(lost))).sum::<f64>() / total
    };
    let lost_db = mean(&|it| it);
    // A third of a step of the grid is never known.
    let variance = mean(&|it| (it - lost_db).powi(2)) + (2.0 * STEP_DB).powi(2) / 12.0;
    Change { lost_db, sd_db: variance.sqrt() }
}

/// The change of this number among those that are tried, in steps of 4 dB.
fn change_db(number: usize) -> f64 {
    FIRST_DB + 2.0 * STEP_DB * number as f64
}

/// The same in steps of the levels.
fn shift(number: usize) -> isize {
    (change_db(number) / STEP_DB) as isize
}

/// How likely a ship is with each level before, and so many steps less lately.
fn both(before: &[f64; WIDE], lately: &[f64; WIDE], shift: isize) -> [f64; WIDE] {
    std::array::from_fn(|place| {
        let less = place.saturating_add_signed(-shift).min(WIDE - 1);
        before[place] * lately[less]
    })
}

/// What is likely of a ship whose level may have changed by itself.
fn smoothed(likely: &[f64; WIDE]) -> [f64; WIDE] {
    // Two standard deviations to either side. Our own.
    const STEPS: isize = 5;
    let weight = |step: isize| (-(step as f64 * STEP_DB / SHIP_CHANGES_DB).powi(2) / 2.0).exp();
    let total: f64 = (-STEPS..=STEPS).map(weight).sum();
    std::array::from_fn(|place| {
        let near = (-STEPS..=STEPS).map(|step| {
            let there = place.saturating_add_signed(step).min(WIDE - 1);
            weight(step) * likely[there]
        });
        near.sum::<f64>() / total
    })
}
