//! What the AIS set says of itself, by ALR or by ALF and ALC: a part of it does not work, or it hears
//! an active beacon.
//!
//! Such a condition ends when the set says so. A set that falls silent has mended nothing.

use std::time::Duration;

use super::Watch;
use super::alert::{Cause, Matter, Priority};
use super::alerts::Raise;
use super::mode::Mode;
use super::set_conditions::{ACTIVE_BEACON, CONDITIONS, Condition};
use crate::time::Mono;
use crate::wire::InputId;
use crate::wire::nmea::Nmea;

/// Sentences of an AIS set begin so; other devices have other lists of alarms.
pub(super) const TALKER: &str = "AI";

/// How long after the set this watch may hear that beacon too: a burst a minute. Our own.
const HEARD_WITHIN: Duration = Duration::from_secs(60);

/// A beacon that a set says it hears.
#[derive(Clone, Copy, Debug)]
pub(super) struct SetHears {
    input: InputId,
    since: Mono,
}

impl Watch {
    /// Takes what a set says of itself: talkers are told apart, for other devices have other lists.
    pub(super) fn on_set(&mut self, input: InputId, talker: &str, nmea: &Nmea) {
        if talker != TALKER {
            return;
        }
        let Some(alerts) = self.inputs.set_alerts_mut(input) else { return };
        let conditions = match nmea {
            Nmea::Alr(alr) => alr.alarm.zip(alr.exceeded).into_iter().collect(),
            Nmea::Alf(alf) => alerts.on_alf(alf).into_iter().collect(),
            Nmea::Alc(alc) => alerts.on_alc(alc),
            _ => return,
        };
        for condition in conditions {
            self.on_condition(input, condition);
        }
    }

    fn on_condition(&mut self, input: InputId, (alarm, holds): Condition) {
        let matter = Matter::Set(input, alarm);
        if !holds {
            self.set_hears.retain(|it| alarm != ACTIVE_BEACON || it.input != input);
            self.alerts.rectify(&matter);
        } else if alarm == ACTIVE_BEACON {
            if self.set_hears.iter().all(|it| it.input != input) {
                self.set_hears.push(SetHears { input, since: self.now.at });
            }
        } else if let Some((.., what, cost)) = CONDITIONS.iter().find(|it| it.0 == alarm) {
            let name = self.set_name(input);
            let text = format!("Input {name}: the AIS set reports: {what}. {cost}");
            self.raise(Raise::of_ship(matter, Cause::SetAlarm, Priority::Warning, text));
        }
        self.stale = true;
    }

    fn set_name(&self, input: InputId) -> &str {
        self.inputs.name(input).unwrap_or_default()
    }

    /// Forgets what the set behind an input has reported.
    pub(super) fn forget_set(&mut self, input: InputId) {
        self.set_hears.retain(|it| it.input != input);
        for alarm in CONDITIONS.map(|it| it.0).into_iter().chain([ACTIVE_BEACON]) {
            self.alerts.end(&Matter::Set(input, alarm));
        }
    }

    /// When a beacon that a set hears should have been heard here at the latest.
    pub(super) fn set_hears_due(&self) -> Option<Mono> {
        let due = self.set_hears.iter().map(|it| it.since + HEARD_WITHIN);
        due.filter(|&due| due > self.now.at).min()
    }

    /// Warns of an active beacon that a set hears and no input of this watch.
    pub(super) fn review_set_hears(&mut self) {
        for SetHears { input, since } in self.set_hears.clone() {
            let matter = Matter::Set(input, ACTIVE_BEACON);
            if self.hears_active(since) {
                self.alerts.rectify(&matter);
            } else if since + HEARD_WITHIN <= self.now.at {
                let text = format!(
                    "Input {}: the AIS set reports an active beacon that is not heard here. See its own display",
                    self.set_name(input)
                );
                self.raise(Raise::of_ship(matter, Cause::SetAlarm, Priority::Warning, text));
            }
        }
    }

    /// Whether this watch has heard an active beacon too, about then or since.
    fn hears_active(&self, about: Mono) -> bool {
        self.beacons.iter().any(|beacon| {
            let lately = beacon.last.is_some_and(|last| last.at + HEARD_WITHIN >= about);
            let active = |mode: &Mode| matches!(mode, Mode::Active | Mode::ActivePresumed);
            lately && beacon.activity.modes.iter().any(active)
        })
    }
}
