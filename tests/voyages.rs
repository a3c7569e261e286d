//! A thousand boat-years: seasons at sea in fast time, played against the real watch and through the
//! real logbook, with a judge that is written independently of both.
//!
//! ```text
//!  seed ─▶ script ─▶ boat: clock, inputs, disk, power ─▶ watch, logbook ─▶ what is told
//!            │                                                               │
//!            └──────── what was truly on the air and arrived ──▶ judge ◀─────┘
//! ```
//! Two years are sailed in `cargo test`. More, over all cores, with progress and figures:
//!
//! ```text
//! OVERSIDE_BOAT_YEARS=1000 cargo test --test voyages -- --nocapture boat_years
//! OVERSIDE_BOAT_SEED=17 …       # begins with this seed
//! ```
//! A seed that fails is reduced to the happenings that are needed, and printed as a scenario as far
//! as that can carry it (a restart and a fault of the disk stand in it as remarks).
//!
//! The judge is proven by sabotage: each of some forty faults put on purpose into what it watches
//! must be found.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "voyages/air.rs"]
mod air;
#[path = "voyages/boat.rs"]
mod boat;
#[path = "voyages/books.rs"]
mod books;
#[path = "voyages/judge.rs"]
mod judge;
#[path = "voyages/reduce.rs"]
mod reduce;
#[path = "voyages/saboteur.rs"]
mod saboteur;
#[path = "voyages/script.rs"]
mod script;
mod support;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

use boat::Boat;
use judge::Figures;
use saboteur::Sabotage;
use script::Season;

/// Years in `cargo test`.
const YEARS: u64 = 2;

/// Seasons a year, each with a seed and a logbook of its own.
const SEASONS: u64 = 5;

/// Months at sea within which a sabotage must be found.
const MONTHS: u64 = 12;

fn number(name: &str, default: u64) -> u64 {
    std::env::var(name).map_or(default, |text| text.parse().unwrap())
}

/// Does this with every number from 0, over all cores.
fn over_all_cores(count: u64, each: impl Fn(u64) + Sync) {
    let next = AtomicU64::new(0);
    let cores = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some(number) =
                    Some(next.fetch_add(1, Ordering::Relaxed)).filter(|it| *it < count)
                {
                    each(number);
                }
            });
        }
    });
}

#[test]
fn boat_years() {
    let years = number("OVERSIDE_BOAT_YEARS", YEARS);
    let first = number("OVERSIDE_BOAT_SEED", 1);
    let seasons = years * SEASONS;
    let total = Mutex::new((Figures::default(), 0, Vec::new()));
    over_all_cores(seasons, |place| {
        let season = Season::fifth(first + place);
        let voyage = Boat::new(None, false).sail(&season.script());
        let mut total = total.lock().unwrap();
        total.0.add(&voyage.figures);
        total.1 += 1;
        if total.1 % (20 * SEASONS) == 0 {
            eprintln!("{} of {years} years: {}", total.1 / SEASONS, total.0);
        }
        if let Some(breach) = voyage.breach {
            eprintln!("seed {} fails: {breach:?}", season.seed);
            total.2.push(season.seed);
        }
    });
    let (figures, _, failed) = total.into_inner().unwrap();
    eprintln!("{years} boat-years: {figures}");
    for seed in failed.iter().take(3) {
        eprintln!("{}", reduce::failing(Season::fifth(*seed)));
    }
    assert!(failed.is_empty(), "seeds that fail: {failed:?}");
    assert!(figures.alarmed > figures.casualties / 2, "{figures}");
}

#[test]
fn every_sabotage_is_found() {
    let scripts: Vec<_> = (1..=MONTHS).map(|seed| Season::month(seed).script()).collect();
    let unseen = Mutex::new(Vec::new());
    over_all_cores(Sabotage::ALL.len() as u64, |place| {
        let sabotage = Sabotage::ALL[place as usize];
        let mut months = 0;
        let found = scripts.iter().find_map(|script| {
            months += 1;
            Boat::new(Some(sabotage), false).sail(script).breach
        });
        match found {
            Some(breach) => eprintln!("{sabotage:?}: month {months}, {}", breach.rule),
            None => unseen.lock().unwrap().push(sabotage),
        }
    });
    let unseen = unseen.into_inner().unwrap();
    assert!(unseen.is_empty(), "the judge does not see {unseen:?}");
}

#[test]
fn the_same_seed_sails_the_same_voyage() {
    let sail = || {
        let voyage = Boat::new(None, true).sail(&Season::month(3).script());
        voyage.trace.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(sail(), sail());
}
