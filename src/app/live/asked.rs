//! What a person wants of a live watch, and what displays ask of it.

use super::Live;
use crate::frontend::{Frontend, Request};
use crate::time::Stamp;
use crate::watch::{Command, Input};

impl<F: Frontend> Live<'_, F> {
    /// Takes a line that may ask something of the alerts, as bridge alert management does.
    pub(super) fn on_asked(&mut self, line: &[u8], accepted: bool, by: &str, stamp: Stamp) {
        for command in self.services.said.asked(line, accepted, stamp) {
            let by = format!("bridge alert management, by {by}");
            self.attempt(|it| it.services.log_act(command, Some(&by), &it.watch, stamp));
            self.hand(Input::Command { stamp, command });
        }
    }

    /// Does what a person wants. Whether the watch goes on.
    pub(super) fn apply(&mut self, request: Request) -> bool {
        let stamp = self.clock.now();
        let command = match request {
            Request::Quit => return false,
            Request::Redraw => return true,
            Request::Fault(part, why) => {
                self.hand(Input::Fault { stamp, part, fault: why.as_deref() });
                return true;
            }
            Request::Command(command) => {
                self.attempt(|it| {
                    it.services.log_act(command, it.front.who(), &it.watch, stamp);
                });
                command
            }
            Request::Export(id) => {
                let plan = self.watch.search_legs(id, stamp.at);
                self.services.export(plan, self.front.who(), &self.watch, stamp);
                Command::Present
            }
            Request::Note(text) => {
                self.services.note(text, self.front.who(), &self.watch, stamp);
                Command::Present
            }
            Request::Enrol(new) => {
                self.services.look_at_new(new);
                Command::Present
            }
            Request::Enter(new) => {
                self.services.enter_new(new, self.front.who());
                Command::Present
            }
            Request::JudgeTest(mmsi) => {
                self.services.ask_for_test(mmsi, self.front.who(), &self.watch, stamp);
                Command::Present
            }
            Request::FindKept => {
                self.services.look_at_found(self.inputs.proposed());
                Command::Present
            }
            Request::Keep => {
                self.services.keep_found();
                Command::Present
            }
            Request::SoundCheck => {
                self.services.check_sound();
                Command::Present
            }
            _ => Command::Present,
        };
        self.hand(Input::Command { stamp, command });
        true
    }
}
