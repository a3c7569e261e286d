//! How many of those who fell silent are covered by the search that is proposed.
//!
//! `cargo bench --bench search`. Nothing is timed: the figure is the share of the casualties that
//! came within half a sweep width of the boat in the two passes, by what was known of their drift.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench that cannot go on says so")]

use overside::navigation::{Pattern, Seas, Wishes};
use overside::units::Knots;

#[path = "../support/silent.rs"]
mod silent;

use silent::{Known, USUAL, Waters, scenes, share};

const SCENES: u64 = 500;

fn main() {
    let badly = Waters { error: Knots(0.3), unknown: Knots(1.0), seas: None };
    let seas = |seas| Waters { seas: Some(seas), ..USUAL };
    let only = |pattern| Wishes { pattern: Some(pattern), ..Wishes::default() };
    let rows = [
        ("as proposed", USUAL, Wishes::default()),
        ("sector searches alone", USUAL, only(Pattern::Sector)),
        ("squares alone", USUAL, only(Pattern::Square)),
        ("as proposed, currents badly known", badly, Wishes::default()),
        ("as proposed, seas of 1 to 1.5 m", seas(Seas::Middle), Wishes::default()),
        ("as proposed, seas over 1.5 m", seas(Seas::High), Wishes::default()),
    ];
    println!(
        "{SCENES} scenes each                        all  drift  wind+current  nothing  sector  minutes"
    );
    for (name, waters, wishes) in rows {
        let outcomes = scenes(SCENES, waters, &wishes);
        let by = |known| 100.0 * share(&outcomes, |outcome| outcome.known == known);
        let sectors = outcomes
            .iter()
            .filter(|outcome| outcome.search.shape().pattern == Pattern::Sector)
            .count();
        let mut minutes: Vec<u64> =
            outcomes.iter().map(|outcome| outcome.lasted.as_secs() / 60).collect();
        minutes.sort_unstable();
        println!(
            "{name:<36} {:>5.1}  {:>5.1}  {:>12.1}  {:>7.1}  {sectors:>6}  {:>7}",
            100.0 * share(&outcomes, |_| true),
            by(Known::Drift),
            by(Known::WindAndCurrent),
            by(Known::Nothing),
            minutes[minutes.len() / 2],
        );
    }
}
