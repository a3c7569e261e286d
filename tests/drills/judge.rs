//! Sets each number of a debrief beside the truth, by the tolerance that it states itself.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use overside::debrief::{Measured, Measures, RecoveredBy, Steering};
use overside::time::Utc;
use overside::units::NauticalMiles;

use super::radio::seconds;
use super::sail::{KNOT, Vector};
use super::truth::Truth;

/// How a number came out.
#[derive(Clone, Copy, Debug)]
pub struct Outcome {
    pub seed: u64,
    pub found: f64,
    pub truth: f64,
    pub tolerance: f64,
}

impl Outcome {
    pub fn error(&self) -> f64 {
        (self.found - self.truth).abs()
    }

    pub fn is_within(&self) -> bool {
        self.error() <= self.tolerance + 1e-6
    }

    /// Off by more than three times what it claims: nobody was warned.
    pub fn is_gross(&self) -> bool {
        self.error() > 3.0 * self.tolerance.max(1e-6)
    }
}

/// All outcomes of one number.
#[derive(Debug, Default)]
pub struct Tally {
    pub outcomes: Vec<Outcome>,
    /// True, and said to be not known.
    pub unknown: Vec<u64>,
    /// Said, and not true at all.
    pub invented: Vec<u64>,
}

/// The tallies of each number, in their order.
#[derive(Debug, Default)]
pub struct Judge {
    pub numbers: BTreeMap<&'static str, Tally>,
}

impl Judge {
    /// Judges a drill.
    pub fn judge(&mut self, seed: u64, truth: &Truth, measures: &Measures) {
        let Measures { alarm, turn, approach, recovery, reception, .. } = measures;
        let mut time = |name, found: &Measured<Utc>, truth: Option<f64>, usual: f64| {
            self.number(seed, name, &with(found, |at| seconds(*at)), truth, usual);
        };
        time("activated_at", &alarm.activated_at, Some(truth.first), 0.01);
        time("alarm_at", &alarm.alarm_at, Some(truth.first), 0.01);
        time("first_position_at", &alarm.first_position_at, truth.first_fix, 0.01);
        time("turn_begun_at", &turn.turn_begun_at, truth.turns, 5.0);
        time("at_casualty_at", &recovery.at_casualty_at, truth.there, 15.0);
        let out = match recovery.recovered_by {
            Some(RecoveredBy::Off) if truth.off.is_some() => truth.off,
            _ => truth.aboard,
        };
        // The word OFF is what it is, and tells of the casualty within its tolerance.
        if recovery.recovered_by == Some(RecoveredBy::Off) {
            time("recovered_at (OFF)", &recovery.recovered_at, out, 0.01);
        }
        time("recovered_at", &recovery.recovered_at, truth.aboard, 0.0);
        time("greatest_range_at", &approach.greatest_range_at, truth.greatest.map(|it| it.0), 15.0);
        if let Some(((from, until), _)) = truth.closest {
            let found = approach.closest_approach_at.value().map(|at| seconds(*at));
            let nearest = found.map_or(from, |at| at.clamp(from, until));
            time("closest_approach_at", &approach.closest_approach_at, Some(nearest), 15.0);
        }
        let mut metres = |name, found: &Measured<f64>, truth: Option<f64>, usual: f64| {
            self.number(seed, name, found, truth, usual);
        };
        let lost = truth.turns.map(|turns| (turns - truth.first).max(0.0));
        metres("alarm_to_turn_s", &turn.alarm_to_turn_s, lost, 5.0);
        let sailed = truth.sailed_to_turn;
        metres("alarm_to_turn_m", &turn.alarm_to_turn_m, sailed, 20.0);
        let least = truth.closest.map(|(_, metres)| metres);
        metres("closest_approach_m", &approach.closest_approach_m, least, 20.0);
        let total = truth.aboard.map(|aboard| aboard - truth.first);
        metres("total_s", &recovery.total_s, total, 0.0);
        let beside = truth.aboard.zip(truth.there).map(|(aboard, there)| aboard - there);
        metres("at_casualty_to_recovered_s", &recovery.at_casualty_to_recovered_s, beside, 0.0);
        let counted = |found: &Measured<u32>| with(found, |count| f64::from(*count));
        metres(
            "messages_expected",
            &counted(&reception.messages_expected),
            Some(truth.sent as f64),
            0.0,
        );
        let (heard, sent) = truth.in_water.unzip();
        metres(
            "heard_in_water",
            &counted(&reception.heard_in_water),
            heard.map(|it| it as f64),
            0.0,
        );
        let expected = counted(&reception.expected_in_water);
        metres("expected_in_water", &expected, sent.map(|it| it as f64), 0.0);
        let mut way = |name, of: fn(&Steering) -> (f64, f64), truth: Option<f64>| {
            let off = turn.steering.value().map_or(0.0, |way| of(way).1);
            metres(name, &turn.steering.map(|way| of(way).0), truth, off);
        };
        way("steering sailed_m", |way| (way.sailed_m, way.sailed_m_tolerance), truth.way_back);
        let took = truth.there.zip(truth.turns).map(|(there, turns)| there - turns);
        way("steering taken_s", |way| (way.taken_s, way.taken_s_tolerance), took);
        let (needed_m, needed_s) = truth.needed.unzip();
        way("steering needed_m", |way| (way.needed_m, way.needed_m_tolerance), needed_m);
        way("steering needed_s", |way| (way.needed_s, way.needed_s_tolerance), needed_s);
        let mut range = |name, found: &Measured<NauticalMiles>, truth: Option<f64>| {
            self.number(
                seed,
                name,
                &with(found, |range| range.0),
                truth.map(|m| m / 1852.0),
                20.0 / 1852.0,
            );
        };
        range("greatest_range_nm", &approach.greatest_range_nm, truth.greatest.map(|it| it.1));
        range("range_at_turn_nm", &turn.range_at_turn_nm, truth.range_at_turn);
        range("first_heard_range_nm", &reception.first_heard_range_nm, Some(truth.first_range));
        range("last_heard_range_nm", &reception.last_heard_range_nm, Some(truth.last_range));
        range(
            "greatest_heard_range_nm",
            &reception.greatest_heard_range_nm,
            Some(truth.greatest_heard),
        );
        if let Some(error) = measures.position_error.value() {
            let since = |at: &Measured<Utc>| at.value().map(|at| seconds(*at));
            let aboard = since(&measures.recovery.recovered_at);
            let there = since(&measures.recovery.at_casualty_at);
            let beside = || truth.position_error(there?, aboard.unwrap_or(f64::INFINITY));
            let true_m = aboard.and_then(|t| truth.position_error(t, t + 300.0)).or_else(beside);
            let found = with(&measures.position_error, |_| error.mean_m);
            self.number(seed, "position_error mean_m", &found, true_m, 0.0);
        }
        self.drift(seed, truth, measures);
        self.passes(seed, truth, measures);
    }

    fn number(
        &mut self,
        seed: u64,
        name: &'static str,
        found: &Measured<f64>,
        truth: Option<f64>,
        usual: f64,
    ) {
        let tally = self.numbers.entry(name).or_default();
        match (found.value().copied(), truth) {
            (Some(value), Some(truth)) => {
                let tolerance = found.tolerance().unwrap_or(usual);
                tally.outcomes.push(Outcome { seed, found: value, truth, tolerance });
            }
            (None, Some(_)) => tally.unknown.push(seed),
            (Some(_), None) => tally.invented.push(seed),
            (None, None) => {}
        }
    }

    /// The drift: within the circle that holds 95 %.
    fn drift(&mut self, seed: u64, truth: &Truth, measures: &Measures) {
        let tally = self.numbers.entry("drift (kn)").or_default();
        let Some(drift) = measures.drift.value() else {
            tally.unknown.push(seed);
            return;
        };
        let found = Vector::of(drift.set_deg.value(), drift.rate_kn.0 * KNOT);
        let off = found.minus(truth.drift).length() / KNOT;
        let tolerance = 2.45 * drift.sd_kn.0;
        tally.outcomes.push(Outcome { seed, found: off, truth: 0.0, tolerance });
    }

    /// Their number, and how near each was.
    fn passes(&mut self, seed: u64, truth: &Truth, measures: &Measures) {
        let Some(passes) = measures.approach.passes_missed.value() else {
            self.numbers.entry("passes").or_default().unknown.push(seed);
            return;
        };
        let (found, true_count) = (passes.len() as f64, truth.passes.len() as f64);
        let tally = self.numbers.entry("passes").or_default();
        let tolerance = measures.approach.passes_missed.tolerance().unwrap_or(0.0);
        tally.outcomes.push(Outcome { seed, found, truth: true_count, tolerance });
        if found != true_count {
            return;
        }
        for (pass, (_, range)) in passes.iter().zip(&truth.passes) {
            let tally = self.numbers.entry("pass range_m").or_default();
            let outcome = Outcome {
                seed,
                found: pass.range_m,
                truth: *range,
                tolerance: pass.range_m_tolerance,
            };
            tally.outcomes.push(outcome);
        }
    }

    /// A table: how often each number was within its tolerance, and of what use that is.
    pub fn table(&self) -> String {
        let mut table = format!(
            "{:<28} {:>5} {:>7} {:>6} {:>7} {:>8} {:>9} {:>9} {:>9}\n",
            "number",
            "known",
            "unknown",
            "invent",
            "within",
            "gross",
            "error 50",
            "error 95",
            "tol. 50"
        );
        for (name, tally) in &self.numbers {
            let of = tally.outcomes.len();
            let sorted = |of: fn(&Outcome) -> f64| {
                let mut all: Vec<f64> = tally.outcomes.iter().map(of).collect();
                all.sort_by(f64::total_cmp);
                move |share: f64| {
                    all.get((all.len() as f64 * share) as usize).copied().unwrap_or(0.0)
                }
            };
            let (errors, tolerances) = (sorted(Outcome::error), sorted(|it| it.tolerance));
            writeln!(
                table,
                "{name:<28} {of:>5} {:>7} {:>6} {:>5.1} % {:>8} {:>9.3} {:>9.3} {:>9.3}",
                tally.unknown.len(),
                tally.invented.len(),
                100.0 * tally.within(),
                tally.outcomes.iter().filter(|it| it.is_gross()).count(),
                errors(0.5),
                errors(0.95),
                tolerances(0.5),
            )
            .unwrap();
        }
        table
    }
}

impl Tally {
    /// The share that is within its tolerance.
    pub fn within(&self) -> f64 {
        let within = self.outcomes.iter().filter(|it| it.is_within()).count();
        within as f64 / self.outcomes.len().max(1) as f64
    }
}

/// The same number in another unit, with the tolerance it has.
fn with<T>(found: &Measured<T>, of: impl Fn(&T) -> f64) -> Measured<f64> {
    let number = found.map(of);
    found.tolerance().map_or(number.clone(), |off| number.within(off))
}
