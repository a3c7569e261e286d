//! The ships heard, and for each whether the next report came that was due.
//!
//! A ship is first heard before anything is counted of it: what is counted is what came of that
//! which was due afterwards. So a ship that is heard seldom counts as one, and not as none.

use std::collections::HashMap;
use std::time::Duration;

use super::bins::{Bin, Sector};
use super::report::AisClass;
use crate::mmsi::Mmsi;
use crate::time::Mono;
use crate::wire::InputId;

/// How many ships are followed. Our own.
const LIMIT: usize = 256;

/// How many reports, over how long, make a ship of an identity: a flood of forged ones that speak
/// once counts for nothing. Our own.
const REPORTS: u8 = 3;
const OVER: Duration = Duration::from_secs(60);

/// A ship not heard for so long, or for four of its reports, has gone: it begins anew when it is
/// heard again. Our own.
const GONE: Duration = Duration::from_secs(10 * 60);

/// The same message by another input: as for the transmissions of beacons. Our own.
const SAME: Duration = Duration::from_millis(1500);

/// The time is kept in pieces, of which the last twelve are an hour. Our own.
pub(super) const PIECE: Duration = Duration::from_secs(300);
pub(super) const PIECES: u32 = 12;

/// How many cells a ship has at most: some for each piece of an hour. Our own.
const CELLS: usize = 48;

/// How many inputs are counted each for itself. Our own.
pub(super) const INPUTS: usize = 4;

/// A report that came.
#[derive(Clone, Copy, Debug)]
pub(super) struct Report {
    pub at: Mono,
    pub mmsi: Mmsi,
    pub class: AisClass,
    /// Until its next is due.
    pub interval: Duration,
    pub bin: Bin,
    pub sector: Sector,
    /// Its place among the inputs that are counted each for itself.
    pub input: Option<usize>,
}

/// What was due of a ship at about one range in one direction, in one piece of time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cell {
    pub piece: u32,
    pub bin: Bin,
    pub sector: Sector,
    pub expected: u16,
    pub received: u16,
    pub by_input: [u16; INPUTS],
    /// Of how many that came the receiver told the signal, and the sum of those, in dB above what is
    /// usually just heard.
    pub measured: u16,
    pub above_db: f64,
}

/// A ship.
#[derive(Clone, Debug)]
pub(super) struct Station {
    pub class: AisClass,
    first: Mono,
    /// Its last report; `None` if nobody has listened since.
    last: Option<Mono>,
    interval: Duration,
    pub bin: Bin,
    reports: u8,
    /// The inputs that heard its last report.
    heard_by: u8,
    /// Whether that was counted.
    counted: bool,
    pub cells: Vec<Cell>,
}

/// The ships, bounded.
#[derive(Debug, Default)]
pub(super) struct Stations {
    table: HashMap<Mmsi, Station>,
    /// The input whose receiver tells signals, and when it did so last. The scale of another is another.
    measured_by: Option<(InputId, Mono)>,
}

/// What a report adds to the counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Counted {
    /// Nothing: the ship is not known well enough, or spoke sooner than it had to.
    Nothing,
    /// So many were due since its last, and this one came.
    Due(u16),
    /// Another input has heard what was counted before.
    Again,
}

impl Stations {
    /// Takes a report.
    pub(super) fn hear(&mut self, report: &Report) -> Counted {
        if self.table.len() >= LIMIT && !self.table.contains_key(&report.mmsi) {
            self.make_room(report.at);
            if self.table.len() >= LIMIT {
                return Counted::Nothing;
            }
        }
        let station = self.table.entry(report.mmsi).or_insert_with(|| Station {
            class: report.class,
            first: report.at,
            last: None,
            interval: report.interval,
            bin: report.bin,
            reports: 0,
            heard_by: 0,
            counted: false,
            cells: Vec::new(),
        });
        station.hear(report)
    }

    /// Takes with what signal the last report of a ship came. What another input tells meanwhile counts
    /// for nothing.
    pub(super) fn measure(&mut self, input: InputId, mmsi: Mmsi, above_db: f64, now: Mono) {
        let fresh = self.measured_by.is_some_and(|(_, last)| now.since(last) <= GONE);
        let same = self.measured_by.is_some_and(|(by, _)| by == input);
        if fresh && !same {
            return;
        }
        if !same {
            for cell in self.table.values_mut().flat_map(|it| &mut it.cells) {
                (cell.measured, cell.above_db) = (0, 0.0);
            }
        }
        self.measured_by = Some((input, now));
        let station = self.table.get_mut(&mmsi).filter(|station| station.counted);
        if let Some(cell) = station.and_then(|station| station.cells.last_mut())
            && cell.measured < cell.received
        {
            (cell.measured, cell.above_db) = (cell.measured + 1, cell.above_db + above_db);
        }
    }

    /// Whoever has gone gives way, then of those that were no more than heard of the oldest.
    fn make_room(&mut self, now: Mono) {
        self.table.retain(|_, it| !it.is_gone(now) || !it.cells.is_empty());
        if self.table.len() >= LIMIT {
            let unproven = self.table.iter().filter(|(_, it)| !it.is_proven());
            let oldest = unproven.min_by_key(|(mmsi, it)| (it.last, **mmsi)).map(|it| *it.0);
            if let Some(oldest) = oldest {
                self.table.remove(&oldest);
            }
        }
    }

    /// Nobody has listened for a while, or knew where the ship was: what was due then is not missed.
    pub(super) fn interrupt(&mut self) {
        for station in self.table.values_mut() {
            station.last = None;
        }
    }

    /// Forgets what is older than an hour.
    pub(super) fn forget(&mut self, piece: u32, now: Mono) {
        for station in self.table.values_mut() {
            station.cells.retain(|cell| cell.piece + PIECES > piece);
        }
        self.table.retain(|_, it| !it.is_gone(now) || !it.cells.is_empty());
    }

    /// Those of whom anything was due, in the order of their identities.
    pub(super) fn counted(&self) -> Vec<&Station> {
        let mut counted: Vec<_> =
            self.table.iter().filter(|(_, it)| !it.cells.is_empty()).collect();
        counted.sort_unstable_by_key(|(mmsi, _)| **mmsi);
        counted.into_iter().map(|(_, station)| station).collect()
    }

    /// How many were heard at all.
    pub(super) fn len(&self) -> usize {
        self.table.len()
    }
}

impl Station {
    fn is_proven(&self) -> bool {
        self.reports >= REPORTS
    }

    fn gone_after(&self) -> Duration {
        GONE.max(self.interval * 4)
    }

    fn is_gone(&self, now: Mono) -> bool {
        self.last.is_none_or(|last| now.since(last) > self.gone_after())
    }

    /// How many reports were due since its last and did not come, by now; none of one that had gone
    /// before piece `since` began.
    pub(super) fn missing(&self, since: u32, now: Mono) -> u16 {
        let Some(last) = self.last.filter(|_| self.is_proven()) else { return 0 };
        if self.is_gone(now) && piece(last) < since {
            return 0;
        }
        // Half an interval more for one that is late.
        let due = now.since(last).as_secs_f64() / self.interval.as_secs_f64() - 0.5;
        due.clamp(0.0, self.gone_after().as_secs_f64() / self.interval.as_secs_f64()) as u16
    }

    fn hear(&mut self, report: &Report) -> Counted {
        let bit = report.input.map_or(0, |input| 1 << input);
        let since = self.last.map(|last| report.at.since(last));
        if since.is_some_and(|since| since <= SAME) && self.heard_by & bit == 0 {
            self.heard_by |= bit;
            if self.counted
                && let Some(input) = report.input
                && let Some(cell) = self.cells.last_mut()
            {
                cell.by_input[input] = cell.by_input[input].saturating_add(1);
                return Counted::Again;
            }
            return Counted::Nothing;
        }
        let interval = self.interval.max(report.interval);
        let here = (report.bin, report.class, report.interval);
        let missing = self.missing(0, report.at);
        let there = self.last.replace(report.at);
        let gone = there.is_some_and(|last| report.at.since(last) > self.gone_after());
        (self.heard_by, self.counted) = (bit, false);
        if gone && missing > 0 {
            // It was there all the time, further off than one hears, or hidden.
            self.count(report, self.bin, missing, false);
        }
        (self.bin, self.class, self.interval) = here;
        let Some(last) = there.filter(|_| !gone) else {
            (self.first, self.reports) = (report.at, self.reports.clamp(1, REPORTS - 1));
            return Counted::Nothing;
        };
        if !self.is_proven() {
            let long = self.reports + 1 < REPORTS || report.at.since(self.first) >= OVER;
            self.reports += u8::from(long);
            return Counted::Nothing;
        }
        let due = report.at.since(last).as_secs_f64() / interval.as_secs_f64();
        let due = due.round() as u16;
        if due == 0 {
            return Counted::Nothing;
        }
        self.count(report, report.bin, due, true);
        Counted::Due(due)
    }

    fn count(&mut self, report: &Report, bin: Bin, due: u16, came: bool) {
        let piece = piece(report.at);
        let is_here = |it: &Cell| (it.piece, it.bin, it.sector) == (piece, bin, report.sector);
        match self.cells.iter().position(is_here) {
            // The last is the one that another input adds to.
            Some(place) => self.cells[place..].rotate_left(1),
            None => {
                if self.cells.len() >= CELLS {
                    self.cells.remove(0);
                }
                self.cells.push(Cell {
                    piece,
                    bin,
                    sector: report.sector,
                    expected: 0,
                    received: 0,
                    by_input: [0; INPUTS],
                    measured: 0,
                    above_db: 0.0,
                });
            }
        }
        let Some(cell) = self.cells.last_mut() else { return };
        cell.expected = cell.expected.saturating_add(due);
        if !came {
            return;
        }
        self.counted = true;
        cell.received = cell.received.saturating_add(1);
        if let Some(input) = report.input {
            cell.by_input[input] = cell.by_input[input].saturating_add(1);
        }
    }
}

/// The piece of time that a moment lies in.
pub(super) fn piece(at: Mono) -> u32 {
    u32::try_from(at.micros() / PIECE.as_micros() as u64).unwrap_or(u32::MAX)
}
