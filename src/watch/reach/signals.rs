//! With what signal ships are heard, where the receiver tells: by how much each is above what is just
//! heard. What the receiver calls just heard is its own affair: how far its scale is off is found out
//! with the rest.
//!
//! Where noise rises, signals stay as they are while less is heard. So whether reach has changed is
//! told from what comes alone (`change.rs`), and the scale is sought anew at each review.

use crate::watch::levels::Level;

/// What is just heard: a signal of -107 dBm (from memory), or 10 dB above the noise (our own), and
/// how far a receiver's scale may be off from that, in dB. Our own.
const JUST_HEARD_DBM: f64 = -107.0;
const JUST_HEARD_SNR_DB: f64 = 10.0;
const SCALE_SD_DB: f64 = 8.0;

/// The scales that are tried: in dB beside what is usual, and how many for each decibel. Our own.
const SCALES: std::ops::RangeInclusive<i32> = -4..=4;
const SCALE_STEP_DB: f64 = 4.0;
const BENT: [f64; 3] = [0.7, 1.0, 1.3];

/// How far the mean signal of one ship may be off from what she has to spare, in dB: a scale that is
/// not straight, and fading that has not gone out in the mean. Our own.
const SHIP_SD_DB: f64 = 3.0;

/// How likely a signal is nevertheless that lies far off, beside one that fits: nothing that one ship
/// says counts for more. Our own.
const ODD: f64 = 0.02;

/// Signals of so many messages of a ship, and of so many ships, are enough. Our own.
const ENOUGH_MESSAGES: u32 = 3;
const ENOUGH_SHIPS: usize = 4;

/// Signals are believed if range explains more than this share of how they differ: one that stands
/// still, or follows something else, is none. Our own.
const EXPLAINED: f64 = 0.5;

/// The signals of messages of one ship, summed up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Signals {
    count: u32,
    /// By how much they were above what is usually just heard, in dB.
    above_db: f64,
    /// What was lost on the way, in dB beside one mile.
    loss_db: f64,
}

impl Signals {
    /// Of a ship of which the receiver tells nothing.
    pub(super) const NONE: Self = Self { count: 0, above_db: 0.0, loss_db: 0.0 };

    /// Adds so many messages with this sum of signals, from where so much is lost on the way.
    pub(super) fn add(&mut self, count: u16, above_db: f64, loss_db: f64) {
        self.count += u32::from(count);
        self.above_db += above_db;
        self.loss_db += f64::from(count) * loss_db;
    }

    /// How likely they are on a receiver with this scale. `heard_with` is what messages that are heard
    /// have to spare, by what was lost on the way.
    pub(super) fn likely(&self, scale: Scale, heard_with: impl Fn(f64) -> f64) -> f64 {
        let Some((above, loss)) = self.mean() else { return 1.0 };
        let off = above - scale.off_db - scale.per_db * heard_with(loss);
        (-(off / SHIP_SD_DB).powi(2) / 2.0).exp() + ODD
    }

    /// Their mean, and that of what was lost on the way, if there are enough.
    fn mean(&self) -> Option<(f64, f64)> {
        let count = f64::from(self.count);
        let enough = self.count >= ENOUGH_MESSAGES;
        enough.then(|| (self.above_db / count, self.loss_db / count))
    }
}

/// By how much a signal is above what is usually just heard, in dB.
pub(super) fn above_db(level: Level) -> Option<f64> {
    let signal = level.signal_dbm.map(|it| it - JUST_HEARD_DBM);
    signal.or(level.signal_to_noise_db.map(|it| it - JUST_HEARD_SNR_DB))
}

/// Whether the signals of these ships, each with how much better than class A she is heard, fall with
/// range as radio does.
pub(super) fn are_believed<'a>(ships: impl Iterator<Item = (&'a Signals, f64)>) -> bool {
    let means: Vec<_> =
        ships.filter_map(|(signals, beside)| Some((signals.mean()?, beside))).collect();
    let as_told = means.iter().map(|((above, _), _)| *above);
    let unexplained = means.iter().map(|((above, loss), beside)| above + loss - beside);
    means.len() >= ENOUGH_SHIPS && variance(unexplained) < (1.0 - EXPLAINED) * variance(as_told)
}

fn variance(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    values.map(|it| (it - mean).powi(2)).sum::<f64>() / count
}

/// The scale of a receiver: by how much it is off at what is just heard, in dB, and how many decibels
/// it tells for each.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    off_db: f64,
    per_db: f64,
}

/// The scales that are tried, and how likely each is before anything is heard, as a logarithm.
pub(super) fn scales() -> impl Iterator<Item = (Scale, f64)> {
    BENT.into_iter().flat_map(|per_db| {
        SCALES.map(move |step| {
            let off_db = f64::from(step) * SCALE_STEP_DB;
            (Scale { off_db, per_db }, -(off_db / SCALE_SD_DB).powi(2) / 2.0)
        })
    })
}
