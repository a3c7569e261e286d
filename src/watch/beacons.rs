//! The table of all beacons that were heard.

use super::beacon::Beacon;
use super::casualty::Casualty as _;
use super::settings::{BEACONS_LIMIT, Settings};
use crate::mmsi::Mmsi;

/// Every beacon heard, bounded: those of the muster and the earliest stay.
#[derive(Debug, Default)]
pub(super) struct Beacons {
    table: Vec<Beacon>,
}

impl Beacons {
    pub(super) fn iter(&self) -> impl Iterator<Item = &Beacon> {
        self.table.iter()
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Beacon> {
        self.table.iter_mut()
    }

    pub(super) fn get(&self, mmsi: Mmsi) -> Option<&Beacon> {
        self.table.iter().find(|beacon| beacon.mmsi == mmsi)
    }

    pub(super) fn find(&mut self, mmsi: Mmsi) -> Option<&mut Beacon> {
        self.table.iter_mut().find(|beacon| beacon.mmsi == mmsi)
    }

    /// The beacon with this identity, new if need be; `None` if it is no beacon's or there is no
    /// room. A full table takes one of the muster in place of the latest that is not.
    pub(super) fn enter(&mut self, mmsi: Mmsi, settings: &Settings) -> Option<&mut Beacon> {
        let kind = mmsi.beacon_kind()?;
        if let Some(place) = self.table.iter().position(|beacon| beacon.mmsi == mmsi) {
            return self.table.get_mut(place);
        }
        let muster = settings.muster.get(&mmsi);
        if self.table.len() >= BEACONS_LIMIT {
            let idle = |beacon: &Beacon| !beacon.in_muster && !beacon.is_casualty();
            let stranger = |beacon: &Beacon| !beacon.in_muster && muster.is_some();
            let place =
                self.table.iter().rposition(idle).or_else(|| self.table.iter().rposition(stranger));
            self.table.remove(place?);
        }
        self.table.push(Beacon::new(mmsi, kind, muster));
        self.table.last_mut()
    }
}
