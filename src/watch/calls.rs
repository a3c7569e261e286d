//! What the watch does with DSC calls and with notices of a crew alarm on board.

use super::alert::{Alert, Cause, Matter, Priority};
use super::alerts::Raise;
use super::event::EventBody;
use super::received::Signal;
use super::settings::{EXPANSION_WAIT, SAME_TRANSMISSION};
use super::words::whereabouts;
use super::{Watch, digest};
use crate::mmsi::Mmsi;
use crate::time::Mono;
use crate::wire::InputId;
use crate::wire::nmea::{Dsc, Dse, EmitterStatus, Meaning, Mob, Nature};

/// How many calls may wait for their expansion. Our own.
const EXPECTED_LIMIT: usize = 8;

/// A station that does not tell its identity.
const UNKNOWN: &str = "an unknown station";

/// A call whose expansion may follow.
#[derive(Debug)]
pub(super) struct Expected {
    input: InputId,
    call: Dsc,
    at: Mono,
    /// When that was heard: before it came in, if a station passed it on.
    heard: Mono,
    rehearsed: bool,
}

impl Watch {
    pub(super) fn on_call(&mut self, input: InputId, call: Dsc) {
        let is_repeat = self.is_repeat(digest(&format!("{call:?}")), input);
        let known = self.by_another_radio(input, &call);
        let is_new = known.is_none();
        let (adds, call) = known.unwrap_or((true, call));
        self.expect(input, &call);
        if is_repeat || !adds {
            return;
        }
        if is_new {
            self.receive(|| Signal::Call(call.clone()));
            if let Some(about) = call.about() {
                self.note_origin(about);
            }
        }
        self.join_position(&call);
        self.alert_call(&call);
        self.tell(EventBody::DscCall(call));
    }

    /// The same call, as another radio has read it at the same moment, with all that the two have
    /// read; and whether this one adds to that. A call that is rehearsed is never one that is real, and
    /// what a muted input hears takes nothing from others.
    fn by_another_radio(&self, input: InputId, call: &Dsc) -> Option<(bool, Dsc)> {
        let (heard, rehearsed) = (self.heard_at().at, self.alerts.rehearsed.is_some());
        let at_once = |it: &Expected| {
            heard.since(it.heard).max(it.heard.since(heard)) <= SAME_TRANSMISSION
                && it.input != input
                && it.rehearsed == rehearsed
                && !self.is_muted_input(it.input)
        };
        let joined = |it: &Expected| {
            let joined = it.call.joined(call)?;
            Some((joined != it.call, joined))
        };
        self.expected.iter().rev().filter(|it| at_once(it)).find_map(joined)
    }

    /// An expansion of this call may follow, from each radio that has read it.
    fn expect(&mut self, input: InputId, call: &Dsc) {
        let (at, heard, call) = (self.now.at, self.heard_at().at, call.clone());
        self.expected.retain(|it| it.input != input && at.since(it.at) <= EXPANSION_WAIT);
        if self.expected.len() < EXPECTED_LIMIT {
            let rehearsed = self.alerts.rehearsed.is_some();
            self.expected.push(Expected { input, call, at, heard, rehearsed });
        }
    }

    /// An expansion refines the call before it, and alarms nobody again.
    pub(super) fn on_expansion(&mut self, input: InputId, expansion: &Dse) {
        let now = self.now.at;
        let place = self
            .expected
            .iter()
            .position(|e| e.input == input && now.since(e.at) <= EXPANSION_WAIT);
        let Some(place) = place else { return };
        let mut call = self.expected[place].call.clone();
        if call.refine(expansion) {
            self.expected.remove(place);
            if self.is_repeat(digest(&format!("{call:?}")), input) {
                return;
            }
            self.join_position(&call);
            let open = |raise: &Raise| self.alerts.get(&raise.matter).is_some_and(Alert::is_active);
            if let Some(raise) = self.called_for(&call).filter(open) {
                self.raise(raise);
            }
            self.tell(EventBody::DscCall(call));
        }
    }

    /// The place in a call is the casualty's: a beacon that gave none itself has it from there.
    fn join_position(&mut self, call: &Dsc) {
        let (rehearsed, heard) = (self.alerts.rehearsed, self.counts_from());
        if let (Some(mmsi), Some(position), true) =
            (call.casualty_mmsi, call.position(), call.is_man_overboard())
            && let Some(beacon) = self.beacons.enter(mmsi, &self.settings)
        {
            // Where somebody is really, no rehearsal tells.
            beacon.origin.on_line(rehearsed);
            let newest = beacon.fix_at.is_none_or(|fix| fix <= heard.at);
            if newest && (rehearsed.is_none() || !beacon.origin.is_real()) {
                beacon.place_by_call(position, heard.at);
            }
        }
    }

    fn alert_call(&mut self, call: &Dsc) {
        if call.meaning == Meaning::DistressCancel {
            self.cancel(call.about());
        } else if let Some(raise) = self.called_for(call) {
            self.raise_casualty(raise);
        }
    }

    /// The alert that a call is to raise, if it is.
    fn called_for(&self, call: &Dsc) -> Option<Raise> {
        let casualty = call.about();
        let overboard = call.is_man_overboard();
        let (matter, cause, priority) = match call.meaning {
            Meaning::DistressAcknowledgement | Meaning::DistressRelay => {
                let priority = if overboard { Priority::Alarm } else { Priority::Warning };
                let matter = match casualty {
                    Some(_) => Matter::Relay(casualty),
                    None => Matter::UnnamedRelay(call.caller_mmsi),
                };
                (matter, Cause::DscRelay, priority)
            }
            Meaning::DistressAlert if !overboard => {
                (Matter::Distress(casualty), Cause::DscDistress, Priority::Alarm)
            }
            Meaning::Test => {
                (Matter::TestCall(call.caller_mmsi), Cause::DscTest, Priority::Caution)
            }
            Meaning::DistressCancel | Meaning::Position => return None,
            // Whatever else a 972 identity calls for, somebody is overboard.
            _ if overboard => {
                (Matter::Distress(casualty), Cause::DscDistress, Priority::EmergencyAlarm)
            }
            Meaning::Urgency => {
                (Matter::Urgency(call.caller_mmsi), Cause::DscUrgency, Priority::Warning)
            }
            _ => return None,
        };
        let distress = matches!(cause, Cause::DscDistress | Cause::DscRelay);
        let rehearsed = self.alerts.rehearsed.is_some();
        let counts = |alert: &Alert| alert.is_active() && (alert.rehearsed.is_none() || rehearsed);
        let active = |matter| self.alerts.get(&matter).is_some_and(counts);
        if let Some(mmsi) = casualty.filter(|_| distress && overboard)
            && (active(Matter::Emergency(mmsi))
                || (cause == Cause::DscRelay && active(Matter::Distress(casualty))))
        {
            // The beacon of the same identity, or its own call, has raised it: one incident, no
            // second alarm.
            return None;
        }
        let text = self.call_sentence(call, cause, casualty);
        Some(Raise {
            matter,
            cause,
            priority,
            mmsi: if distress { casualty } else { call.caller_mmsi },
            text,
            place: call.position(),
            acknowledged: false,
        })
    }

    fn cancel(&mut self, casualty: Option<Mmsi>) {
        let Some(mmsi) = casualty else { return };
        let heard = self.counts_from().at;
        if self.late().is_some() && self.is_known_since(mmsi, heard) {
            return;
        }
        let rehearsed = self.alerts.rehearsed.is_some();
        let beacon = self.beacons.find(mmsi).filter(|it| !rehearsed || !it.origin.is_real());
        if let Some(beacon) = beacon {
            beacon.cancel(heard);
        }
        self.rectify_casualty(mmsi);
    }

    fn call_sentence(&self, call: &Dsc, cause: Cause, casualty: Option<Mmsi>) -> String {
        let person = casualty.and_then(|mmsi| self.settings.muster.get(&mmsi)?.as_deref());
        let who = match (casualty, person) {
            (Some(mmsi), Some(person)) => format!("{person} ({mmsi})"),
            (Some(mmsi), None) => mmsi.to_string(),
            (None, _) => UNKNOWN.to_owned(),
        };
        let place = whereabouts(call.position(), self.own_position().0);
        let by = call.caller_mmsi.map_or(UNKNOWN.to_owned(), |mmsi| mmsi.to_string());
        match cause {
            Cause::DscDistress => format!("DSC distress, {}: {who}, {place}", nature(call)),
            Cause::DscRelay if casualty.is_none() => format!(
                "DSC distress, casualty not named; passed on by {by}, {}, {place}",
                nature(call)
            ),
            Cause::DscRelay => {
                format!("DSC distress of {who} passed on by {by}, {}, {place}", nature(call))
            }
            Cause::DscTest => format!("DSC test call from {by}"),
            _ => format!("DSC urgency call from {by}"),
        }
    }

    /// A crew alarm on board tells of a person overboard (IEC 61162-1 MOB).
    pub(super) fn on_notice(&mut self, input: InputId, notice: Mob) {
        if self.is_heard_twice(digest(&format!("{notice:?}")), input) {
            return;
        }
        let position = notice.position();
        let who = match &notice.emitter {
            Some(emitter) => format!("crew alarm {emitter}"),
            None => "crew alarm".to_owned(),
        };
        let place = whereabouts(position, self.own_position().0);
        let (priority, text) = match notice.status {
            Some(EmitterStatus::Activated) => {
                (Priority::EmergencyAlarm, format!("Person overboard: {who}, {place}"))
            }
            Some(EmitterStatus::ManualButton) => (
                Priority::EmergencyAlarm,
                format!("Person overboard, button pressed: {who}, {place}"),
            ),
            Some(EmitterStatus::Test) => (Priority::Caution, format!("Test of {who}")),
            _ => {
                self.tell(EventBody::MobNotice(notice));
                return;
            }
        };
        self.raise_casualty(Raise {
            matter: Matter::Notice(notice.emitter.clone()),
            cause: Cause::MobNotice,
            priority,
            mmsi: notice.mmsi,
            text,
            place: position,
            acknowledged: false,
        });
        self.tell(EventBody::MobNotice(notice));
    }
}

/// The nature of the distress in plain words.
pub fn nature(call: &Dsc) -> &'static str {
    match call.nature {
        Some(nature) => nature.name(),
        None if call.is_man_overboard() => Nature::ManOverboard.name(),
        None => Nature::Undesignated.name(),
    }
}
