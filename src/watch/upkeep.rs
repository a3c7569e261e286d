//! What the watch knows of itself and of the person who keeps it: clocks, the parts around it, and
//! whether anybody is awake.

use super::alert::{Alert, AlertId, Cause, Matter, Priority};
use super::alerts::Raise;
use super::casualty::Casualty as _;
use super::clocks::ClockView;
use super::event::EventBody;
use super::part::Part;
use super::rehearsed::Rehearsed;
use super::settings::REHEARSAL_HOLDS;
use super::wakefulness::Due;
use super::{Watch, own_ship};
use crate::time::{Mono, Utc};
use crate::wire::InputId;
use crate::wire::nmea::Nmea;

impl Watch {
    /// UTC by the position receiver, if one tells it evenly.
    pub fn gnss_utc(&self) -> Option<Utc> {
        self.clocks.gnss(self.now.at)
    }

    /// Sets the receiver's UTC beside the label of the line it came in.
    pub(super) fn compare_clocks(&mut self, nmea: &Nmea, input: InputId) {
        let Some((source, utc)) = own_ship::utc(nmea, input) else { return };
        self.clocks.hear(source, utc, self.now);
        let text = match self.clocks.view(self.now.at) {
            ClockView::HostAlone => return,
            ClockView::Agree(_) => {
                self.alerts.rectify(&Matter::Clock);
                return;
            }
            view @ ClockView::Differ { .. } => {
                format!("Computer clock {}. Check both; the later is shown", view.words())
            }
            ClockView::Stands(utc) => {
                format!("Position receiver's clock has stopped at {utc}. Its fix may be old")
            }
        };
        self.raise(Raise::of_ship(Matter::Clock, Cause::ClockSuspect, Priority::Caution, text));
    }

    /// A part around the watch works or does not.
    pub(super) fn on_fault(&mut self, part: Part, fault: Option<&str>) {
        let matter = Matter::Part(part);
        let Some(fault) = fault else {
            self.alerts.rectify(&matter);
            return;
        };
        let (cause, priority, what) = match part {
            // What came in just then may not have been heard.
            Part::Watch => {
                (Cause::InputSilent, Priority::Warning, "The watch itself failed and goes on")
            }
            Part::Logbook => (Cause::LogbookFailed, Priority::Warning, "Logbook not written"),
            Part::Recorder => (Cause::LogbookFailed, Priority::Warning, "Recording not written"),
            Part::OldRecordings => {
                (Cause::LogbookFailed, Priority::Warning, "Old recordings not deleted")
            }
            Part::Folder => (Cause::LogbookFailed, Priority::Warning, "Logbook's folder"),
            Part::OldEntries => (Cause::LogbookFailed, Priority::Warning, "Logbook damaged"),
            Part::SetAside => (Cause::LogbookFailed, Priority::Warning, "Logbook started again"),
            Part::Sounder => (Cause::SounderFailed, Priority::Warning, "Audible alarm"),
            Part::EverySounder => (Cause::SounderFailed, Priority::Alarm, "No audible alarm works"),
            Part::Hook => (Cause::SounderFailed, Priority::Warning, "Hook"),
            Part::Helm => (Cause::OutputFailed, Priority::Warning, "Page at the helm"),
            Part::Output(_) => (Cause::OutputFailed, Priority::Warning, "Output"),
        };
        self.raise(Raise::of_ship(matter, cause, priority, format!("{what}: {fault}")));
    }

    /// Somebody is there and awake.
    pub(super) fn on_answer(&mut self) {
        if self.wakefulness.answer(self.now.at) {
            self.alerts.end(&Matter::Watchkeeper);
        }
    }

    /// Asks, warns or alarms if nobody has answered for too long.
    pub(super) fn wakefulness_due(&mut self) {
        while let Some(due) = self.wakefulness.due(self.now.at, self.settings.asking) {
            match due {
                Due::Ask => {
                    let within = self.settings.asking.map_or(0, |it| it.answer_within.as_secs());
                    self.tell(EventBody::AwakePrompt { answer_within_s: within });
                }
                Due::Raise(priority) => {
                    let text = "Watchkeeper did not answer. Press a key if you are awake";
                    self.raise(Raise::of_ship(
                        Matter::Watchkeeper,
                        Cause::WatchkeeperSilent,
                        priority,
                        text.to_owned(),
                    ));
                }
            }
        }
    }

    /// How the line that is being taken is marked.
    pub(super) fn look_for_rehearsal(&mut self, bytes: &[u8]) {
        let rehearsed = Rehearsed::of_line(bytes);
        self.alerts.rehearsed = rehearsed;
        if let Some(rehearsed) = rehearsed {
            let now = self.now.at;
            self.rehearsal_noted &=
                self.rehearsal.is_some_and(|(_, last)| now.since(last) < REHEARSAL_HOLDS);
            self.rehearsal = Some((rehearsed, self.now.at));
        }
    }

    /// Somebody takes note of an alert: a drill surprises nobody any more.
    pub(super) fn note_rehearsal(&mut self, id: AlertId) {
        let about_people = |it: &Alert| {
            it.id == id && it.cause.is_about_people() && it.priority >= Priority::Warning
        };
        self.rehearsal_noted |= self.alerts.open().iter().any(about_people);
    }

    /// What is rehearsed just now; `None` where nothing is, and as soon as somebody is in danger
    /// really.
    pub(super) fn rehearsal(&self, at: Mono) -> Option<Rehearsed> {
        let (rehearsed, last) = self.rehearsal?;
        let unreal = at.since(last) < REHEARSAL_HOLDS
            && self.marks.is_empty()
            && self.beacons.iter().all(|it| it.origin.rehearsed().is_some() || !it.is_casualty())
            && self.alerts.open().iter().all(|it| it.rehearsed.is_some() || !it.is_grave());
        unreal.then_some(rehearsed)
    }
}
