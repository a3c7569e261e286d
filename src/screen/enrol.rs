//! A beacon that is on no list, heard as TEST, is entered in the muster:
//!
//! ```text
//!  [e] ──▶ form ── looked at ──▶ lines ── [y] ──▶ written ──▶ in the muster
//!            ▲         │           │ any other key  │
//!            └─────────┴───────────┴────────────────┘ refused: nothing of what was typed is lost
//! ```

use super::Screen;
use super::action::Action;
use super::form::{Field, Form, Purpose};
use super::question::Question;

use crate::advice::{Subject, is_stranger, subject};
use crate::frontend::{Enrolled, KeptInputs, NewBeacon, Parts, Request};
use crate::mmsi::Mmsi;
use crate::watch::{BeaconView, Mode, Picture};

/// Where there is no file to enter it in.
const NO_FILE: &str = "This watch was begun without a configuration file: there is none to enter it \
                       in. What to do: overside init makes one, in another terminal; then begin the \
                       watch again.";

/// What was typed of a beacon, while the configuration file is looked at or written.
#[derive(Clone, Debug)]
pub(super) struct Asked {
    new: NewBeacon,
    form: Form,
}

impl Screen {
    /// The beacon of the TEST screen, if it is on no list: heard as TEST without a doubt, and nobody is
    /// in danger behind it.
    pub(crate) fn unlisted_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a BeaconView> {
        let Subject::Test(beacon) = subject(picture, self.selected) else { return None };
        let sure = beacon.mode == Some(Mode::Test) && !beacon.casualty;
        Some(beacon).filter(|it| sure && is_stranger(picture, it))
    }

    /// The same, where it may be entered.
    pub(crate) fn enrols_in_view(&self, picture: &Picture) -> bool {
        self.replay.is_none()
            && self
                .unlisted_in_view(picture)
                .is_some_and(|it| it.rehearsed.or(picture.rehearsed).is_none())
    }

    /// Opens the form for it, with what was typed of it before an alarm closed it.
    pub(super) fn ask_to_enrol(&mut self, picture: &Picture) {
        let Some(beacon) = self.unlisted_in_view(picture) else { return };
        let rehearsed = beacon.rehearsed.or(picture.rehearsed).is_some();
        let file = self.parts.as_ref().and_then(|parts| parts.muster_file.as_ref());
        let refused = match (self.replay.is_some(), rehearsed, file) {
            (true, _, _) => Some("A replay enters nothing in the muster."),
            (_, true, _) => Some("This is a rehearsal: it enters nothing in the muster."),
            (_, _, None) => Some(NO_FILE),
            _ => None,
        };
        if let Some(why) = refused {
            self.asking = Some(Question::Refused(why));
            return;
        }
        let Some(mmsi) = beacon.mmsi() else { return };
        let before = self.typed.take().filter(|form| form.purpose == Purpose::Enrol(mmsi));
        self.form = Some(before.unwrap_or_else(|| form(mmsi)));
    }

    /// What a filled form asks for: to look whether the file takes it.
    pub(super) fn look_at_new(&mut self, mmsi: Mmsi, form: Form) -> Option<Request> {
        let [holder, jacket, battery] = form.texts()[..] else { return None };
        let [holder, jacket, battery] = [holder, jacket, battery].map(str::to_owned);
        let new = NewBeacon { mmsi, holder, jacket, battery };
        self.asked = Some(Asked { new: new.clone(), form });
        Some(Request::Enrol(new))
    }

    /// The answer to whether the lines that were shown are to be written.
    pub(super) fn enter_new(
        &mut self,
        new: NewBeacon,
        yes: bool,
        picture: &Picture,
    ) -> Option<Request> {
        let is_it = |it: &&BeaconView| it.mmsi() == Some(new.mmsi);
        // Whoever is in danger by now is not somebody's new beacon.
        let danger = picture.beacons.iter().find(is_it).is_some_and(|it| it.casualty);
        if yes && !danger {
            return Some(Request::Enter(new));
        }
        self.form = self.asked.take().map(|asked| asked.form.again(0, None));
        None
    }

    /// While the file is looked at or written, only going back is a key, and what cannot wait for a
    /// disk. Whether this one is done with.
    pub(super) fn wait_for_file(&mut self, action: Action) -> bool {
        match action {
            _ if self.asked.is_none() => false,
            Action::MarkOverboard | Action::Acknowledge | Action::Silence => false,
            Action::Leave => {
                self.form = self.asked.take().map(|asked| asked.form.again(0, None));
                true
            }
            _ => true,
        }
    }

    /// Takes how the parts around the watch are doing, just before a frame is drawn.
    pub fn set_parts(&mut self, parts: Option<&Parts>) {
        if self.parts.as_ref() == parts {
            // As it was when it was asked for last.
            return self.on_kept();
        }
        let before = std::mem::replace(&mut self.parts, parts.cloned()).and_then(|it| it.enrolled);
        self.on_kept();
        let Some((new, seen)) = parts.and_then(|parts| parts.enrolled.as_ref()) else { return };
        if let Enrolled::Entered(text) = seen
            && before.is_none_or(|(_, before)| before != *seen)
        {
            self.recent.entered(new.mmsi, text);
        }
        let Some(asked) = self.asked.take_if(|asked| asked.new == *new) else { return };
        match seen {
            Enrolled::Waits => self.asked = Some(asked),
            Enrolled::Proposed(lines) => {
                self.asking = Some(Question::Enter(new.clone(), lines.clone()));
                self.asked = Some(asked);
            }
            Enrolled::Refused(field, why) => {
                self.form = Some(asked.form.again(*field, Some(why.clone())));
            }
            Enrolled::Entered(_) => {}
        }
    }

    /// Takes what the file said to the inputs that were found, if it was asked here and nothing else is
    /// asked by now.
    fn on_kept(&mut self) {
        let found = self.parts.as_ref().and_then(|parts| parts.found.as_ref());
        let Some((_, kept)) = found.filter(|_| self.keeps) else { return };
        let question = match kept {
            KeptInputs::No | KeptInputs::Waits => return,
            KeptInputs::Proposed(file, lines) => Some(Question::Keep(file.clone(), lines.clone())),
            KeptInputs::Refused(why) => Some(Question::NotKept(why.clone())),
            KeptInputs::Written(_) => None,
        };
        self.keeps = false;
        if self.asking.is_none() && self.form.is_none() {
            self.asking = question;
        }
    }

    /// A new alarm closes the form: what was typed of a beacon is there when it is asked for again.
    pub(super) fn put_form_away(&mut self) {
        self.keeps = false;
        let asked = self.asked.take().map(|asked| asked.form);
        let form = self.form.take().or(asked);
        let enrols = |form: &Form| matches!(form.purpose, Purpose::Enrol(_));
        self.typed = form.filter(enrols).map(|form| form.again(0, None)).or(self.typed.take());
    }
}

fn form(mmsi: Mmsi) -> Form {
    let any = |_: &str| Ok(());
    let fields = vec![
        Field::new("Whose is it? A name or a role (empty: a spare)", any),
        Field::new("In which lifejacket, as jacket 2? (empty: in none)", any),
        Field::new("Battery date on its label, as 05/2029 (empty: not known)", any),
    ];
    Form::new(Purpose::Enrol(mmsi), format!("Enter beacon {mmsi} in the muster"), fields)
}
