//! The end of every input: what is due happens at its time, what changed is told, and it is known
//! what is due next.

use super::Watch;
use super::alert::{Alert, Matter, Priority};
use super::alerts::Raise;
use super::event::{AlertReport, Event, EventBody, Known};
use super::rehearsed::Rehearsed;
use super::settings::STEPS_LIMIT;
use crate::time::{Mono, rounded_up};

impl Watch {
    /// Lets everything due by `at` happen, each at its time.
    pub(super) fn run_until(&mut self, at: Mono) {
        let (from, mut steps) = (self.now, 0);
        while let Some(due) = self.deadline.filter(|&due| due <= at) {
            steps += 1;
            debug_assert!(steps <= STEPS_LIMIT, "work without bound up to {at:?}");
            // From one moment for all: a part of a millisecond is lost with each step.
            self.now = from.at(due.max(self.now.at));
            let now = self.now.at;
            self.alerts.repeat(now);
            for change in self.inputs.due(now, &self.settings) {
                self.tell_input(Some(change));
            }
            self.own_lost |= self.own_position_due().is_some_and(|due| due <= now);
            self.review_own_position();
            self.beacons_due();
            self.review_declared();
            self.wakefulness_due();
            self.reach_due();
            self.alerts.tick(now);
            self.stale = true;
            self.settle();
            // A deadline that nothing moved would be met for ever.
            let stuck = self.deadline.is_some_and(|next| next <= now);
            debug_assert!(!stuck || now == Mono::END, "{:?}", self.deadline);
            if stuck {
                self.deadline = None;
            }
        }
        if self.repetition.is_some_and(|due| due <= at) {
            self.alerts.repeat(at);
            self.repetition = self.alerts.next_repetition();
        }
    }

    pub(super) fn schedule(&mut self, at: Option<Mono>) {
        self.deadline = self.deadline.into_iter().chain(at).min();
    }

    /// Ends an input, and each moment at which something was due: nothing that changed is left
    /// untold, and it is known what is due next.
    pub(super) fn settle(&mut self) {
        self.tell_alerts();
        if self.stale {
            self.review_own_position();
            self.review_set_hears();
            if self.settings.asking.is_some() && self.has_emergency() {
                self.wakefulness.rest(self.now.at);
                self.alerts.end(&Matter::Watchkeeper);
            }
            self.tell_alerts();
            self.deadline = self.find_deadline();
            self.repetition = self.alerts.next_repetition();
            self.stale = false;
        }
    }

    /// Whether an emergency is open, whoever has acknowledged it.
    fn has_emergency(&self) -> bool {
        let is_emergency = |it: &Alert| it.priority == Priority::EmergencyAlarm && it.is_active();
        self.alerts.open().iter().any(is_emergency)
    }

    fn find_deadline(&self) -> Option<Mono> {
        let silent = self.beacons.iter().filter_map(|beacon| beacon.silent_at()).min();
        let inputs = self.inputs.next_deadline(self.now.at, &self.settings);
        let asking = self.settings.asking.filter(|_| !self.has_emergency());
        let awake = self.wakefulness.next_deadline(asking);
        let datum = self.datum_deadline();
        let own = self.own_position_due();
        let declared = self.declared_deadline();
        let set = self.set_hears_due();
        let reach = self.reach.deadline();
        let times =
            [self.alerts.next_change(), silent, inputs, own, awake, datum, declared, set, reach];
        times.into_iter().flatten().min()
    }

    pub(super) fn raise(&mut self, mut raise: Raise) {
        if self.is_muted(&raise) {
            return;
        }
        if let Some(words) = self.late_words().filter(|_| raise.cause.is_about_people()) {
            raise.text = format!("{}, {words}", raise.text);
        }
        let rehearsed = self.rehearsed_in(&raise);
        let times = (self.now.at, self.counts_from().at);
        self.alerts.raise(raise, rehearsed, &self.settings, times);
    }

    /// Raises an alert that may be about somebody in danger.
    pub(super) fn raise_casualty(&mut self, raise: Raise) {
        self.raise(raise);
        self.review_own_position();
    }

    /// Tells of every alert that changed, in the order of the changes.
    pub(super) fn tell_alerts(&mut self) {
        for alert in self.alerts.take_changed() {
            let known = self.known_of(&alert);
            self.put_out(EventBody::Alert(AlertReport { known, ..alert.into() }));
        }
    }

    /// What is known of the matter of an alert now. A beacon knows best where it is.
    pub fn known_of(&self, alert: &Alert) -> Known {
        let (input, sentence) = self.alerts.changed_by().unzip();
        let input = match alert.matter {
            Matter::Input(input) | Matter::Set(input, _) | Matter::Channel(input, _) => Some(input),
            _ => input,
        };
        let beacon = alert.mmsi.and_then(|mmsi| self.beacons.get(mmsi));
        let beacon = beacon.filter(|beacon| beacon.position.is_some());
        let heard = alert.place.map(|_| alert.heard);
        let fix_at = beacon.map_or(heard, |beacon| beacon.fix_at);
        let (own, own_age_s) = self.own_position();
        Known {
            sentence,
            input: input.and_then(|input| self.inputs.name(input)).map(str::to_owned),
            person: alert.mmsi.and_then(|mmsi| self.settings.muster.get(&mmsi).cloned()?),
            position: beacon.map_or(alert.place, |beacon| beacon.position),
            fix_age_s: fix_at.map(|at| rounded_up(self.now.at.since(at), 1)),
            own,
            own_age_s,
            joined_by: self.joined_by(alert).filter(|_| !alert.is_active()),
        }
    }

    /// Tells of what happened, after the alerts that changed with it.
    pub(super) fn tell(&mut self, body: EventBody) {
        self.tell_alerts();
        self.put_out(body);
    }

    /// What is told has changed something, and with it perhaps what is due.
    pub(super) fn put_out(&mut self, body: EventBody) {
        self.stale = true;
        self.outputs.push_back(Event { at: self.now.utc, body });
    }

    /// How what is raised was rehearsed: as the beacon it is about, else as the line.
    pub(super) fn rehearsed_in(&self, raise: &Raise) -> Option<Rehearsed> {
        if !raise.cause.is_about_people() {
            return None;
        }
        match raise.mmsi.and_then(|mmsi| self.beacons.get(mmsi)) {
            Some(beacon) => beacon.origin.rehearsed(),
            None => self.alerts.rehearsed,
        }
    }
}
