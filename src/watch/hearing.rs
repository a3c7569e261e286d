//! How far this boat hears, as the watch counts it, looks at it and tells of it.

use super::Watch;
use super::event::EventBody;
use super::reach::{Reach, ReachHour};
use crate::time::Stamp;
use crate::wire::{AisReport, InputId};

impl Watch {
    /// Counts a report of a ship and what was due before it.
    pub(super) fn on_reach(&mut self, input: InputId, report: &AisReport) {
        self.reach.hear(input, report, &self.own, self.now);
        self.schedule(self.reach.deadline());
    }

    /// Looks how far a beacon would be heard, and tells of an hour at its end.
    pub(super) fn reach_due(&mut self) {
        let inputs = &self.inputs;
        if let Some(hour) = self.reach.look(self.now, |input| inputs.name(input)) {
            self.tell(EventBody::Reach(Box::new(hour)));
        }
    }

    /// The hour under way, as far as it goes; `None` if nothing was heard in it.
    pub fn reach_hour(&self) -> Option<ReachHour> {
        self.reach.under_way(|input| self.inputs.name(input))
    }

    /// How far a beacon would be heard.
    pub fn reach(&self, now: Stamp) -> Reach {
        self.reach.now(now.at.max(self.now.at))
    }
}
