//! How the boat hears by direction, and the words that lines and page have in common.

use super::together::Hearing;
use crate::advice::about;
use crate::units::NauticalMiles;
use crate::watch::{AisClass, SectorFrom};

/// What is drawn by direction: how far a beacon is heard where that is known in any direction, else
/// the share of what was due.
pub(super) struct Round {
    /// From where it is counted.
    pub from: SectorFrom,
    /// What the outermost circle means.
    pub most: f64,
    /// Whether it is miles, and not a share in per cent.
    pub miles: bool,
    /// By sector: what it is there, and the numbers beside it; `None` where nothing was due.
    pub sectors: [Option<Pointing>; 12],
}

/// One direction.
#[derive(Clone, Copy)]
pub(super) struct Pointing {
    /// How far out it is drawn; `None` if that is not known there.
    pub value: Option<f64>,
    pub expected: u64,
    pub received: u64,
}

impl Round {
    /// `None` where nothing is known by direction.
    pub(super) fn of(hearing: &Hearing) -> Option<Self> {
        let known = hearing.sectors();
        let from = known.first()?.from;
        let miles = known.iter().any(|it| it.median_nm.is_some());
        let mut sectors = [None; 12];
        for it in known {
            let value = match miles {
                true => it.median_nm.map(|nm| nm.0),
                false => (it.expected > 0).then(|| percent(it.received, it.expected)),
            };
            if let Some(place) = sectors.get_mut(usize::from(it.sector_deg / 30)) {
                let (expected, received) = (it.expected, it.received);
                *place = Some(Pointing { value, expected, received });
            }
        }
        let values = sectors.iter().flatten().filter_map(|it| it.value);
        let most = if miles { values.fold(0.1, f64::max) } else { 100.0 };
        Some(Self { from, most, miles, sectors })
    }

    /// `000–030`, and what that is counted from.
    pub(super) fn name(&self, sector: usize) -> String {
        let (from, to) = (sector * 30, sector * 30 + 30);
        match self.from {
            SectorFrom::North => format!("{from:03}–{to:03}°T"),
            SectorFrom::Bow if sector < 6 => format!("{from}–{to}° stbd"),
            SectorFrom::Bow => format!("{}–{}° port", 360 - to, 360 - from),
        }
    }

    /// What stands at the line where a sector begins.
    pub(super) fn mark(&self, sector: u16) -> String {
        match (self.from, sector) {
            (SectorFrom::North, _) => format!("{:03}°", sector * 30),
            (SectorFrom::Bow, 0) => "ahead".to_owned(),
            (SectorFrom::Bow, 6) => "astern".to_owned(),
            (SectorFrom::Bow, ..6) => format!("{}°", sector * 30),
            (SectorFrom::Bow, _) => format!("{}°", 360 - sector * 30),
        }
    }

    /// What the numbers say of a sector.
    pub(super) fn words(&self, sector: usize) -> String {
        let Some(it) = self.sectors.get(sector).copied().flatten() else {
            return "no ship".to_owned();
        };
        let share = format!("{:>3.0} % of {}", percent(it.received, it.expected), it.expected);
        if !self.miles {
            return share;
        }
        let range = it.value.map_or("-".to_owned(), |nm| about(NauticalMiles(nm)));
        format!("{range:>7} {share}")
    }

    /// What it is counted from.
    pub(super) const fn ahead(&self) -> &'static str {
        match self.from {
            SectorFrom::Bow => "from the bow",
            SectorFrom::North => "from north",
        }
    }
}

/// A share of what was due, which is more than nothing.
pub(super) fn percent(received: u64, expected: u64) -> f64 {
    received as f64 / expected.max(1) as f64 * 100.0
}

/// What a class is called.
pub(super) const fn class(class: AisClass) -> &'static str {
    match class {
        AisClass::A => "class A",
        AisClass::BSo => "class B SO",
        AisClass::BCs => "class B",
    }
}
