//! Where each casualty was last, so that an alert's entry says it too.

use std::collections::BTreeMap;

use super::details::Details;
use super::draft::Draft;
use crate::mmsi::Mmsi;
use crate::navigation::Position;

/// Beacons that are remembered; beyond, the one that was heard longest ago is forgotten.
const LIMIT: usize = 256;

/// What the last report of a beacon said.
#[derive(Clone, Debug)]
struct Last {
    arrival_us: u64,
    person: Option<String>,
    position: Option<Position>,
    fix_age_s: Option<u64>,
}

/// The last report of each beacon.
#[derive(Debug, Default)]
pub(super) struct Seen(BTreeMap<Mmsi, Last>);

impl Seen {
    /// Remembers a beacon's report; completes an alert about a beacon by its last one. Range and
    /// bearing are from where the ship is now.
    pub(super) fn complete(&mut self, draft: &mut Draft) {
        let (Some(mmsi), Some(arrival_us)) = (draft.mmsi, draft.arrival_us) else { return };
        match draft.details {
            Details::Beacon { mode: Some(_), .. } => self.remember(
                mmsi,
                Last {
                    arrival_us,
                    person: draft.person.clone(),
                    position: draft.position,
                    fix_age_s: draft.fix_age_s,
                },
            ),
            Details::Alert(_) if draft.position.is_none() => {
                let Some(last) = self.0.get(&mmsi) else { return };
                let passed_s = arrival_us.saturating_sub(last.arrival_us) / 1_000_000;
                draft.person = draft.person.take().or_else(|| last.person.clone());
                draft.take_position(last.position);
                draft.fix_age_s = last.fix_age_s.map(|age| age.saturating_add(passed_s));
            }
            _ => {}
        }
    }

    fn remember(&mut self, mmsi: Mmsi, last: Last) {
        if self.0.len() >= LIMIT && !self.0.contains_key(&mmsi) {
            let oldest = self.0.iter().min_by_key(|(_, last)| last.arrival_us);
            if let Some(oldest) = oldest.map(|(&mmsi, _)| mmsi) {
                self.0.remove(&oldest);
            }
        }
        self.0.insert(mmsi, last);
    }
}
