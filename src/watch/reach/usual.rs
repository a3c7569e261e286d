//! Whether this boat hears less far than it used to: in the last weeks, and earlier in this watch.
//!
//! Levels are compared, and not ranges: what is assumed of ships and beacons is the same in both.

use super::estimate::Found;
use super::report::PastHour;
use crate::units::NauticalMiles;

/// A level that has fallen so far is told, and one that has come back to within this is not any more.
/// 5 dB are a quarter less of range. Our own.
const FALLEN_DB: f64 = 5.0;
const BACK_DB: f64 = 3.0;

/// By so many standard deviations, in so many reviews one after the other. Our own.
const FALLEN_SD: f64 = 2.2;
const REVIEWS: u8 = 3;

/// So many hours of about as much traffic are enough, else so many of any. Our own.
const LIKE_HOURS: usize = 6;
const ANY_HOURS: usize = 12;

/// Traffic within this factor is about as much. Our own.
const LIKE: f64 = 2.5;

/// Hours differ by no less than this, in dB: wind, sea, which ships there are. Our own.
const HOURS_DIFFER_DB: f64 = 2.0;

/// What an hour is compared with.
#[derive(Clone, Copy, Debug)]
struct Baseline {
    level_db: f64,
    spread_db: f64,
    /// How unsure its own level is in the middle, in dB.
    unsure_db: f64,
    lost_nearby: f64,
    range: NauticalMiles,
}

/// It hears less far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in super::super) struct Reduced {
    /// How far a beacon would be heard now, in the middle of what is likely; `None` if that can't be
    /// told.
    pub now: Option<NauticalMiles>,
    /// How far it usually is.
    pub usual: NauticalMiles,
    /// Others speak over more messages than usually.
    pub is_disturbed: bool,
}

/// What was judged last.
#[derive(Debug, Default)]
pub(super) struct Usual {
    fallen: u8,
    /// That it is less than usual, and the level that it has to come back to.
    reduced: Option<(Reduced, f64)>,
}

impl Usual {
    /// Compares what was found of now, of so many stations, with what was earlier in this hour and in
    /// the last weeks, `past`.
    pub(super) fn judge(&mut self, found: &Found, stations: u16, past: &[PastHour]) {
        let is = &found.is;
        let weeks = of_weeks(past, stations).filter(|usual| {
            // How far hours differ holds how unsure each of them is: more than that counts alone.
            let more = (is.level_sd_db.powi(2) - usual.unsure_db.powi(2)).max(0.0).sqrt();
            has_fallen(usual.level_db - is.level_db, usual.spread_db.hypot(more))
        });
        let before = found.before.filter(|(_, it)| has_fallen(it.lost_db, it.sd_db));
        let before = before.map(|(was, _)| Baseline {
            level_db: was.level_db,
            spread_db: was.level_sd_db,
            unsure_db: was.level_sd_db,
            lost_nearby: was.lost,
            range: was.middle,
        });
        let usual = weeks.or(before);
        self.fallen = if usual.is_some() { self.fallen.saturating_add(1) } else { 0 };
        match (&self.reduced, usual) {
            (None, Some(usual)) if self.fallen >= REVIEWS => {
                let reduced = Reduced {
                    now: Some(is.middle).filter(|_| is.is_of_use()),
                    usual: usual.range,
                    is_disturbed: is.lost > usual.lost_nearby + 0.1,
                };
                self.reduced = Some((reduced, usual.level_db));
            }
            (Some((_, usual)), None) if usual - is.level_db < BACK_DB => self.reduced = None,
            _ => {}
        }
    }

    /// That it hears less far than it used to, if it does.
    pub(super) fn reduced(&self) -> Option<Reduced> {
        self.reduced.map(|(reduced, _)| reduced)
    }
}

/// Whether so many decibels less, give or take, are more than chance.
fn has_fallen(by_db: f64, sd_db: f64) -> bool {
    by_db > FALLEN_DB && by_db > FALLEN_SD * sd_db
}

/// The hours of about as much traffic if there are enough, else all.
fn of_weeks(past: &[PastHour], stations: u16) -> Option<Baseline> {
    let is_like = |it: &&PastHour| {
        let factor = f64::from(it.stations.max(1)) / f64::from(stations.max(1));
        (1.0 / LIKE..=LIKE).contains(&factor)
    };
    if past.iter().filter(is_like).count() >= LIKE_HOURS {
        return baseline(past.iter().filter(is_like));
    }
    baseline(past.iter()).filter(|_| past.len() >= ANY_HOURS)
}

/// The middle of some hours, and how far they lie from it.
fn baseline<'a>(hours: impl Iterator<Item = &'a PastHour>) -> Option<Baseline> {
    let hours: Vec<&PastHour> = hours.filter(|it| it.level_db.is_finite()).collect();
    let middle = |of: &dyn Fn(&PastHour) -> f64| {
        let mut values: Vec<f64> = hours.iter().map(|it| of(it)).collect();
        values.sort_unstable_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    let level_db = middle(&|it| it.level_db)?;
    // Half of them lie within two thirds of a standard deviation.
    let within = middle(&|it| (it.level_db - level_db).abs())?;
    Some(Baseline {
        level_db,
        spread_db: (within / 0.6745).max(HOURS_DIFFER_DB),
        unsure_db: middle(&|it| it.level_sd_db)?,
        lost_nearby: middle(&|it| it.lost_nearby)?,
        range: NauticalMiles(middle(&|it| it.range80_nm.0)?),
    })
}

#[cfg(test)]
mod tests {
    use super::super::change::Change;
    use super::super::likelihood::Posterior;
    use super::*;

    fn is(level_db: f64) -> Posterior {
        let range = NauticalMiles(2.0);
        let (low, middle, high) = (range, range, range);
        Posterior { level_db, level_sd_db: 1.5, lost: 0.01, fading_db: 4.0, low, middle, high }
    }

    fn hour(level_db: f64, stations: u16) -> PastHour {
        let (level_sd_db, lost_nearby, range80_nm) = (1.5, 0.01, NauticalMiles(2.0));
        PastHour { stations, level_db, level_sd_db, lost_nearby, range80_nm }
    }

    #[test]
    fn a_level_that_falls_is_told_after_three_reviews_and_is_over_when_it_is_back() {
        let past: Vec<PastHour> = (0..8).map(|n| hour(60.0 + f64::from(n % 3), 20)).collect();
        let mut usual = Usual::default();
        let mut judge = |level| {
            usual.judge(&Found { is: is(level), before: None }, 15, &past);
            usual.reduced().is_some()
        };
        assert!(!judge(60.0) && !judge(52.0) && !judge(52.0));
        assert!(judge(52.0));
        assert!(judge(57.0), "it is not back yet");
        assert!(!judge(59.0));
    }

    #[test]
    fn what_is_less_sure_than_usual_has_to_fall_further() {
        let past = [hour(60.0, 20); 8];
        let told = |level_sd_db| {
            let mut usual = Usual::default();
            let is = Posterior { level_sd_db, ..is(53.0) };
            for _ in 0..3 {
                usual.judge(&Found { is, before: None }, 20, &past);
            }
            usual.reduced().is_some()
        };
        assert!(told(1.5) && !told(4.0));
    }

    #[test]
    fn a_watch_without_a_past_is_compared_with_itself() {
        let mut usual = Usual::default();
        let mut judge = |level: f64, lost_db| {
            let before = Some((is(62.0), Change { lost_db, sd_db: 2.0 }));
            usual.judge(&Found { is: is(level), before }, 20, &[]);
            usual.reduced().is_some()
        };
        assert!(!judge(62.0, 0.5) && !judge(52.0, 10.0) && !judge(52.0, 10.0));
        assert!(judge(52.0, 10.0));
        assert!(judge(52.0, 0.5), "an hour later it is as before, and no better");
        assert!(!judge(61.0, -9.0));
    }

    #[test]
    fn a_few_hours_of_other_traffic_are_no_measure() {
        let past: Vec<PastHour> = (0..8).map(|_| hour(70.0, 200)).collect();
        assert!(of_weeks(&past, 5).is_none());
        assert!(of_weeks(&past, 100).is_some());
        let nothing = [hour(f64::NAN, 5); 20];
        assert!(of_weeks(&nothing, 5).is_none());
    }
}
