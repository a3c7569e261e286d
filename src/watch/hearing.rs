//! How far this boat hears, as the watch counts it, looks at it and tells of it.

use super::Watch;
use super::alert::{Cause, Matter, Priority};
use super::alerts::Raise;
use super::event::EventBody;
use super::reach::{Reach, ReachHour, Reduced};
use crate::time::Stamp;
use crate::wire::{AisReport, InputId};

impl Watch {
    /// Counts a report of a ship and what was due before it.
    pub(super) fn on_reach(&mut self, input: InputId, report: &AisReport) {
        let fixed = self.settings.receiver_at;
        self.reach.hear(input, report, fixed, &self.own, self.now);
        self.schedule(self.reach.deadline());
    }

    /// Looks how far a beacon would be heard, and tells of an hour at its end.
    pub(super) fn reach_due(&mut self) {
        let (inputs, past) = (&self.inputs, &self.settings.usual_reach);
        let before = self.reach.reduced();
        let hour = self.reach.look(past, self.now, |input| inputs.name(input));
        match self.reach.reduced() {
            Some(reduced) if before.is_none() => {
                let text = words(&reduced);
                self.raise(Raise::of_ship(
                    Matter::Reach,
                    Cause::ReachReduced,
                    Priority::Caution,
                    text,
                ));
            }
            None if before.is_some() => self.alerts.rectify(&Matter::Reach),
            _ => {}
        }
        if let Some(hour) = hour {
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

/// How much less it is, and what to look at, the likeliest first.
fn words(reduced: &Reduced) -> String {
    let Reduced { now, usual, is_disturbed } = reduced;
    let causes = if *is_disturbed {
        "a new source of interference (LED lamp, charger, inverter), antenna plug and cable, splitter"
    } else {
        "antenna plug and cable, splitter, a new source of interference"
    };
    let far =
        now.map_or("much less far than".to_owned(), |now| format!("to about {now} only, not to"));
    format!(
        "A beacon would be heard {far} {usual} as usual. Check in this order: {causes}. Heel or land near by also shorten it"
    )
}
