//! What the parts of a live watch have to say to it.

use super::Live;
use crate::app::notices::Notice;
use crate::app::plan::Plan;
use crate::app::readiness::Readiness;
use crate::app::reread::Reread;
use crate::app::resume::{Found, Ours};
use crate::app::{Error, resume};
use crate::config::Enrolment;
use crate::edge::output::OutputReport;
use crate::edge::{Claims, InUse, Instance, Taken};
use crate::frontend::Frontend;
use crate::time::Stamp;
use crate::watch::{Event, Input, Part, PastHour, Settings};

impl<F: Frontend> Live<'_, F> {
    /// Takes what one of the parts has to say.
    pub(super) fn on_notice(&mut self, notice: Notice) -> Result<(), Error> {
        let stamp = self.clock.now();
        match notice {
            Notice::Ports(seen) => self.inputs.look(&seen, &mut self.watch),
            Notice::Kept(answer) => self.services.on_kept(answer),
            Notice::Reread(reread) => self.on_reread(*reread),
            Notice::Output(OutputReport::Asked { by, accept, line }) => {
                self.on_asked(&line, accept, &by, stamp);
            }
            Notice::Enrolled(new, answer) => {
                if let Some(new) = self.services.on_enrolled(new, answer, &self.watch, stamp) {
                    self.on_enrolled(new);
                }
            }
            Notice::Before(Found::LeftOpen(Some(incidents))) => {
                // Not all that is above the number it began after: who could not read the logbook
                // before, either, and whose clock was ahead, has given higher ones.
                let numbers = self.last_before + 1..self.watch.summary().alerts.saturating_add(1);
                let ours = Ours { numbers, session: self.services.session() };
                self.resume(resume::place(*incidents, &ours, stamp));
            }
            Notice::Before(Found::Hours(hours)) => self.usual(|usual| {
                // What was heard since it was asked for is later.
                let own = std::mem::replace(usual, hours);
                usual.extend(own);
            }),
            Notice::Locks(locks) => return self.on_locks(*locks),
            Notice::Folder(claimed) => return self.on_folder(claimed, stamp),
            other => return self.on_service(other, stamp),
        }
        Ok(())
    }

    /// Whether a second watch is refused, late rather than never; but not with somebody in the water.
    fn is_refused(&self) -> bool {
        !self.watch.alerts().iter().any(|it| it.cause.is_about_people())
    }

    /// Whether another reads one of the inputs is known at last.
    fn on_locks(&mut self, (claims, held): (Claims, Result<(), InUse>)) -> Result<(), Error> {
        match self.inputs.keep(claims, held) {
            Err(by) if self.is_refused() => return Err(Error::InUse(by)),
            Err(by) => tracing::warn!("{}", Error::InUse(by)),
            Ok(()) => {}
        }
        Ok(())
    }

    /// Whether another watch keeps the logbook of this folder is known at last.
    fn on_folder(
        &mut self,
        claimed: Option<Result<Instance, Taken>>,
        stamp: Stamp,
    ) -> Result<(), Error> {
        let refused = self.is_refused();
        let fault = match self.services.on_folder(claimed) {
            Err(taken) if refused => return Err(taken),
            claimed => claimed.unwrap_or_else(|taken| Some(taken.to_string())),
        };
        self.hand(Input::Fault { stamp, part: Part::Folder, fault: fault.as_deref() });
        Ok(())
    }

    /// Tells how a part does, and what was written down.
    fn on_service(&mut self, notice: Notice, stamp: Stamp) -> Result<(), Error> {
        if matches!(notice, Notice::Ring) {
            self.front.ring();
        }
        let (faults, logged) = self.services.on_notice(notice, stamp);
        for (part, fault) in faults {
            self.hand(Input::Fault { stamp, part, fault: fault.as_deref() });
        }
        if let Some(body) = logged {
            let told = self.tell(&[Event { at: stamp.utc, body }]);
            self.told(told)?;
        }
        Ok(())
    }

    /// Changes what is known of how the boat usually hears.
    pub(super) fn usual(&mut self, change: impl FnOnce(&mut Vec<PastHour>)) {
        let mut settings = self.watch.settings().clone();
        change(&mut settings.usual_reach);
        let gone = settings.usual_reach.len().saturating_sub(resume::USUAL_HOURS);
        settings.usual_reach.drain(..gone);
        self.watch.set(settings, self.clock.now());
    }

    /// A beacon is in the muster now: whoever goes by the muster knows it at once.
    fn on_enrolled(&mut self, new: Enrolment) {
        self.front.enrolled(new.mmsi, new.jacket.is_some());
        let mut settings = self.watch.settings().clone();
        settings.muster.insert(new.mmsi, new.holder);
        self.inputs.set_important(settings.ours());
        self.watch.set(settings, self.clock.now());
        if self.reload.runs() {
            // It may have been read before that was written.
            self.reload();
        }
    }

    /// Begins to read the plan again.
    pub(super) fn reload(&mut self) {
        if let Err(why) = self.reload.ask(&mut self.inputs) {
            tracing::error!("the configuration before goes on: no thread to read it: {why}");
            self.service.ready("listening");
        }
    }

    /// Goes on by another plan, if one was read and its inputs can be had; what is open and heard
    /// stays.
    fn on_reread(&mut self, Reread { plan, held, lent }: Reread) {
        let plan = held.map(|()| plan).unwrap_or_else(|by| {
            tracing::error!("the configuration before goes on: {}", Error::InUse(by));
            None
        });
        self.inputs.take_back(lent, plan.as_ref());
        if let Some(plan) = plan {
            self.follow(&plan);
        }
        if self.reload.on_read() {
            return self.reload();
        }
        self.service.ready("listening");
        self.readiness = Readiness::begin(self.clock.now().at);
    }

    fn follow(&mut self, plan: &Plan) {
        let now = self.clock.now();
        let usual_reach = self.watch.settings().usual_reach.clone();
        let settings = Settings { expects_inputs: true, usual_reach, ..plan.settings.clone() };
        self.watch.set(settings, now);
        self.inputs.follow(plan, &mut self.watch, self.front);
        self.services.follow(plan, now);
    }
}
