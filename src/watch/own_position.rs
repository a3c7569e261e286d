//! The own position while it is there, and when it is lost.

use super::alert::{Alert, Matter};
use super::alerts::Raise;
use super::casualty::Casualty as _;
use super::settings::{
    HAND_POSITION_LOST, OWN_POSITION_LOST, OWN_POSITION_NONE, TRACK_LIMIT, TRACK_STEP,
};
use super::{Cause, Priority, Watch, own_ship};
use crate::navigation::Position;
use crate::time::{Mono, rounded_up};

impl Watch {
    /// When the own position will have been lost, if it is not yet.
    pub(super) fn own_position_due(&self) -> Option<Mono> {
        let fix = self.own.fix().filter(|_| !self.own_lost)?;
        let by_hand = fix.source == own_ship::BY_HAND;
        Some(fix.at + if by_hand { HAND_POSITION_LOST } else { OWN_POSITION_LOST })
    }

    pub(super) fn own_position_came(&mut self) {
        if self.own_lost {
            self.own_lost = false;
            self.alerts.rectify(&Matter::OwnPosition);
        }
        let now = self.now.at;
        if self.own_tracked.is_none_or(|last| now.since(last) >= TRACK_STEP)
            && let Some(fix) = self.own.fix()
        {
            if self.own_track.len() >= TRACK_LIMIT {
                self.own_track.pop_front();
            }
            self.own_track.push_back(fix.position);
            self.own_tracked = Some(now);
        }
        self.review_ranges();
        self.review_declared();
        self.schedule(self.own_position_due());
    }

    /// That nobody knows where the ship is: a caution, and a warning with a casualty.
    pub(super) fn review_own_position(&mut self) {
        if self.own_lost {
            let alarmed = |alert: &Alert| {
                let overboard = alert.priority == Priority::EmergencyAlarm;
                alert.is_active() && (overboard || alert.cause == Cause::DscDistress)
            };
            let casualty = !self.marks.is_empty()
                || self.beacons.iter().any(|beacon| beacon.is_casualty())
                || self.alerts.open().iter().any(alarmed);
            let priority = if casualty { Priority::Warning } else { Priority::Caution };
            let seconds = OWN_POSITION_LOST.as_secs();
            let text = format!("Own position lost for over {seconds} s: ranges are old");
            self.raise(Raise::of_ship(Matter::OwnPosition, Cause::OwnPositionLost, priority, text));
        }
    }

    /// The own position that ranges are made from, and its age in whole seconds.
    pub(super) fn own_position(&self) -> (Option<Position>, Option<u64>) {
        let found = self.own.position_within(self.now.at, OWN_POSITION_NONE);
        found.map(|(position, age)| (position, rounded_up(age, 1))).unzip()
    }
}
