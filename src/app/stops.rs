//! Where a replay stops on its way from event to event.

use std::collections::{BTreeMap, BTreeSet};

use crate::mmsi::Mmsi;
use crate::watch::{AlertId, AlertReport, BeaconUpdate, Event, EventBody, Priority, State};

/// What people care about in a recording, so far.
#[derive(Debug, Default)]
pub(super) struct Stops {
    /// The numbers of the lines after which something of it was told, rising.
    pub(super) lines: Vec<usize>,
    /// The alerts that are open, with their states: one that is told again is nothing new.
    open: BTreeMap<AlertId, (State, Priority)>,
    /// The beacons that have told where they are.
    placed: BTreeSet<Mmsi>,
}

impl Stops {
    /// Whether people care about this event: one that begins, changes or ends something for somebody,
    /// and not one that only goes on.
    pub(super) fn is_one(&mut self, event: &Event) -> bool {
        match &event.body {
            EventBody::BeaconHeard(beacon) => {
                if beacon.position.is_some() {
                    self.placed.insert(beacon.mmsi);
                }
                true
            }
            EventBody::BeaconUpdate(BeaconUpdate { beacon, .. }) => {
                beacon.position.is_some() && self.placed.insert(beacon.mmsi)
            }
            EventBody::Alert(alert) => self.is_change(alert),
            EventBody::BeaconSilent { .. }
            | EventBody::Search(_)
            | EventBody::Passed { .. }
            | EventBody::OverboardMarked { .. }
            | EventBody::DscCall(_)
            | EventBody::MobNotice(_)
            | EventBody::SafetyText { .. }
            | EventBody::AwakePrompt { .. } => true,
            // A fault of an input is an alert as well.
            EventBody::InputState { .. }
            | EventBody::Datum(_)
            | EventBody::Reach(_)
            | EventBody::Logged { .. }
            | EventBody::Summary(_) => false,
        }
    }

    /// Whether an alert is raised, or its condition ends; not that somebody took note of it, nor that
    /// it is repeated.
    fn is_change(&mut self, alert: &AlertReport) -> bool {
        let now = (alert.state, alert.priority);
        let before = match alert.state {
            State::Normal => self.open.remove(&alert.id),
            _ => self.open.insert(alert.id, now),
        };
        let is_on = |state| {
            let on =
                [State::ActiveUnacknowledged, State::ActiveSilenced, State::ActiveAcknowledged];
            on.contains(&state)
        };
        match before {
            None => is_on(alert.state),
            Some((state, priority)) => {
                is_on(state) != is_on(alert.state) || priority < alert.priority
            }
        }
    }
}
