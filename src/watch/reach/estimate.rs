//! How far a beacon would be heard, by what was due of the ships in a time, and came.

use std::ops::Range;

use super::bins::{Bin, SECTORS};
use super::change::{Change, change};
use super::likelihood::{Evidence, Posterior, losses, of_part, posterior};
use super::report::{NotKnown, Reach};
use super::stations::{Cell, INPUTS, PIECE, PIECES, Station, Stations, piece};
use crate::time::Mono;
use crate::units::NauticalMiles;

/// So many ships, and so many of their reports that were due, are enough. Our own.
const ENOUGH_STATIONS: usize = 2;
const ENOUGH_REPORTS: u32 = 30;

/// Where more than this share is lost however near, it is not the radio that loses it. Our own.
const THINNED: f64 = 0.35;

/// The last five to ten minutes alone are taken when they say otherwise than the hour: by so many
/// decibels, and so many standard deviations. Our own.
const TURNED_DB: f64 = 4.0;
const TURNED_SD: f64 = 2.5;

/// Pieces of time that are the last five to ten minutes. Our own.
const LATELY: u32 = 2;

/// Those before are compared with it only from here on: while it has just fallen, they are neither.
/// Our own.
const BEFORE: u32 = 4;

/// How much one direction or one input may differ from all, in dB. Our own.
const PARTS_SD_DB: f64 = 8.0;

/// So many ships are enough to go by: more of them make it hardly surer, and what is reckoned here
/// holds the watch up. Our own.
const MOST_STATIONS: usize = 64;

/// Of many ships so many, from all ranges alike.
fn some_of(mut ships: Vec<&Station>) -> Vec<&Station> {
    ships.sort_by_key(|it| it.bin.number());
    let count = ships.len();
    let most = count.min(MOST_STATIONS);
    (0..most).map(|number| ships[number * count / most]).collect()
}

/// What was due of each ship in some pieces of time, counted backwards from the present one, and came.
fn evidence(stations: &[&Station], pieces: Range<u32>, now: Mono) -> Vec<Evidence> {
    let last = piece(now);
    let since = (last + 1).saturating_sub(pieces.end);
    let losses = losses();
    let all = stations.iter().map(|station| {
        let missing = if pieces.start == 0 { station.missing(since, now) } else { 0 };
        let missing = (missing > 0).then_some((station.bin, missing));
        let mut evidence = Evidence { missing, ..Evidence::of(station.class) };
        let is_in = |it: &&Cell| pieces.contains(&last.saturating_sub(it.piece));
        for cell in station.cells.iter().filter(is_in) {
            add(&mut evidence.cells, cell.bin, cell.expected, cell.received);
            evidence.signals.add(cell.measured, cell.above_db, losses[cell.bin.number()]);
        }
        evidence
    });
    all.collect()
}

fn add(cells: &mut Vec<(Bin, u32, u32)>, bin: Bin, expected: u16, received: u16) {
    let (expected, received) = (u32::from(expected), u32::from(received));
    match cells.iter_mut().find(|it| it.0 == bin) {
        Some(it) => (it.1, it.2) = (it.1 + expected, it.2 + received),
        None => cells.push((bin, expected, received)),
    }
}

/// What was found of now.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub is: Posterior,
    /// What it was earlier in the hour, and how it has changed, if that can be told.
    pub before: Option<(Posterior, Change)>,
}

/// How far a beacon would be heard now, and what that is made from if it can be told at all.
/// `minutes` is for how long anybody has listened.
pub(super) fn reach(stations: &Stations, minutes: u16, now: Mono) -> (Reach, Option<Found>) {
    let counted = some_of(stations.counted());
    let hour = evidence(&counted, 0..PIECES, now);
    let all = tally(&hour, minutes);
    if counted.len() < ENOUGH_STATIONS || all.expected < ENOUGH_REPORTS {
        let why = match stations.len() {
            0 => NotKnown::NoStation,
            1 => NotKnown::OneStation,
            _ => NotKnown::TooFewReports,
        };
        return (Reach { why_not: Some(why), ..all }, None);
    }
    let is = posterior(&hour, None);
    let before = evidence(&counted, BEFORE..PIECES, now);
    let lately = evidence(&counted, 0..LATELY, now);
    if tally(&before, 0).expected < ENOUGH_REPORTS {
        return (said(is, &hour, minutes), Some(Found { is, before: None }));
    }
    let pairs: Vec<_> = before.iter().cloned().zip(lately.iter().cloned()).collect();
    let change = change(&pairs, &is);
    let was = posterior(&before, None);
    let turned = change.lost_db.abs();
    if turned < TURNED_DB || turned < TURNED_SD * change.sd_db {
        let before = Some((was, change));
        return (said(is, &hour, minutes), Some(Found { is, before }));
    }
    // What it was before, less what has been lost since.
    let sd = was.level_sd_db.hypot(change.sd_db);
    let is = posterior(&[], Some((was.level_db - change.lost_db, sd)));
    let is = Posterior { lost: was.lost, ..is };
    let minutes = minutes.min(lately_minutes(now));
    (said(is, &lately, minutes), Some(Found { is, before: Some((was, change)) }))
}

/// How long that is.
fn lately_minutes(now: Mono) -> u16 {
    let pieces = PIECE.as_secs() * u64::from(LATELY - 1);
    ((pieces + now.since(Mono::START).as_secs() % PIECE.as_secs()) / 60) as u16
}

fn tally(ships: &[Evidence], minutes: u16) -> Reach {
    let cells = || ships.iter().flat_map(|ship| &ship.cells);
    let of_use = ships.iter().filter(|it| !it.cells.is_empty() || it.missing.is_some());
    Reach {
        stations: u16::try_from(of_use.count()).unwrap_or(u16::MAX),
        expected: cells().map(|it| it.1).sum(),
        received: cells().map(|it| it.2).sum(),
        minutes: minutes.min(60),
        ..Reach::not_known(NotKnown::TooFewReports)
    }
}

fn said(posterior: Posterior, ships: &[Evidence], minutes: u16) -> Reach {
    let Posterior { level_db, level_sd_db, lost, low, middle, high, .. } = posterior;
    let rounded = |value: f64| (value * 100.0).round() / 100.0;
    let known = Reach {
        lost_nearby: Some(rounded(lost)),
        level_db: Some(rounded(level_db)),
        level_sd_db: Some(rounded(level_sd_db)),
        ..tally(ships, minutes)
    };
    if lost > THINNED {
        return Reach {
            why_not: Some(NotKnown::Thinned),
            level_db: None,
            level_sd_db: None,
            ..known
        };
    }
    if !posterior.is_of_use() {
        let missing: u32 = ships.iter().filter_map(|it| it.missing).map(|it| u32::from(it.1)).sum();
        let (came, due) = (f64::from(known.received), f64::from(known.expected + missing));
        let (low_nm, why) = if came >= (0.97 - lost) * due {
            (Some(low), NotKnown::AllNear)
        } else if came < due / 2.0 {
            (None, NotKnown::HeardNoMore)
        } else {
            (None, NotKnown::TooFewReports)
        };
        return Reach { low_nm, why_not: Some(why), level_db: None, level_sd_db: None, ..known };
    }
    Reach {
        range80_nm: Some(middle),
        low_nm: Some(low),
        high_nm: Some(high),
        why_not: None,
        ..known
    }
}

/// How far it would be heard in each direction, and by each input, in the last hour. What is known of
/// all, `all`, is what is thought of each before. They go by what came alone.
pub(super) fn parts(
    stations: &Stations,
    all: &Posterior,
    now: Mono,
) -> ([Option<NauticalMiles>; 2 * SECTORS], [Option<NauticalMiles>; INPUTS]) {
    let counted = stations.counted();
    let since = (piece(now) + 1).saturating_sub(PIECES);
    let range = |is_in: &dyn Fn(&Cell) -> bool, received: &dyn Fn(&Cell) -> u16| {
        let is_in = |cell: &&Cell| cell.piece >= since && is_in(cell);
        let of_it = counted.iter().copied().filter(|it| it.cells.iter().any(|cell| is_in(&cell)));
        let ships = some_of(of_it.collect()).into_iter().map(|station| {
            let mut evidence = Evidence::of(station.class);
            for cell in station.cells.iter().filter(is_in) {
                add(&mut evidence.cells, cell.bin, cell.expected, received(cell));
            }
            evidence
        });
        let ships: Vec<Evidence> = ships.collect();
        if tally(&ships, 0).expected < ENOUGH_REPORTS {
            return None;
        }
        let found = of_part(&ships, all, PARTS_SD_DB);
        // What is hardly better known than before is nothing known.
        (found.level_sd_db < PARTS_SD_DB * 0.75).then_some(found.middle)
    };
    let sectors = std::array::from_fn(|number| {
        range(&|cell| cell.sector.number() == number, &|cell| cell.received)
    });
    let inputs = std::array::from_fn(|input| range(&|_| true, &|cell| cell.by_input[input]));
    (sectors, inputs)
}
