//! What is asked before it is done, and the keys that answer.
//!
//! ```text
//!  a key ──▶ question ── [y] ──▶ done
//!               │  ├── [1] [2] [3] ──▶ the one that was chosen
//!               │  └── any other key: no, and nothing else: it is swallowed
//!               └── a new alarm takes its place: nothing is done
//! ```

use super::form::{Field, Form, Progress, Purpose};
use super::{Action, Page, Screen};
use crate::advice::{Reality, about_people_in_view, headline_name, people_in_danger};
use crate::frontend::{NewBeacon, Request};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{Position, Seas};
use crate::watch::{AlertId, BeaconView, Command, Muted, Picture};

/// The word that ends a watch while somebody is in danger.
const END: &str = "end";

/// How many of those in danger are named; more are counted. Our own.
const NAMED: usize = 3;

/// What the seas may be, in the order of the keys that say so.
const SEAS: [Seas; 3] = [Seas::Low, Seas::Middle, Seas::High];

/// What is done only if a person says so twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Question {
    /// End the watch or the replay.
    End,
    /// The incident of this alert is over.
    Over(AlertId),
    /// This beacon and the point it is taken for are two persons.
    Part(Mmsi),
    /// Let this raise no alert any more.
    Mute(Muted),
    /// Hear again all that is muted.
    Unmute,
    /// How high the seas are.
    Seas,
    /// Enter this beacon in the muster with these lines.
    Enter(NewBeacon, Vec<String>),
    /// Change this file so, which keeps the inputs that were found.
    Keep(String, Vec<String>),
    /// None: what was wanted cannot be, and why.
    Refused(&'static str),
    /// The inputs that were found are not kept, and why.
    NotKept(String),
}

/// Who is in danger, in a sentence each; `None` if nobody is.
fn in_danger(picture: &Picture) -> Option<String> {
    let named = |beacon: &BeaconView| {
        let name = headline_name(beacon);
        let is_overboard =
            matches!(Reality::of(beacon), Reality::Active | Reality::SignalLost | Reality::Marked);
        match beacon.kind {
            BeaconKind::Mob if is_overboard => format!("{name} is overboard."),
            _ => format!("{name} may be in danger."),
        }
    };
    let (beacons, calls) = people_in_danger(picture);
    let mut sentences: Vec<String> = beacons.into_iter().map(named).collect();
    sentences.extend(calls.into_iter().map(|call| format!("{}.", call.text)));
    let more = sentences.len().saturating_sub(NAMED);
    sentences.truncate(NAMED);
    if more > 0 {
        sentences.push(format!("{more} more in danger."));
    }
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

impl Screen {
    /// Asks whether the watch is to be ended: always, and while somebody is in danger for a word
    /// that no slip of a finger writes.
    pub(super) fn ask_to_end(&mut self, picture: &Picture) {
        match in_danger(picture).filter(|_| self.replay.is_none()) {
            Some(who) => {
                let is_end = |text: &str| match text.eq_ignore_ascii_case(END) {
                    true => Ok(()),
                    false => Err(format!("the word is {END}; esc goes on watching")),
                };
                let fields = vec![Field::new("To end the watch type: end", is_end)];
                self.form = Some(Form::new(Purpose::End, who, fields));
            }
            None => self.asking = Some(Question::End),
        }
    }

    /// Takes the key that answers a question. What came in meanwhile was not asked about.
    pub(super) fn answer(
        &mut self,
        asked: Question,
        action: Action,
        picture: &Picture,
    ) -> Option<Request> {
        let next = matches!(asked, Question::Mute(_) | Question::Unmute | Question::Refused(_));
        match (action, asked) {
            (Action::Mute, asked) if next => {
                self.asking = self.ask_to_mute(Some(asked), picture);
                None
            }
            (Action::Confirm, Question::End) => {
                let unseen =
                    self.new_alarm || self.replay.is_none() && in_danger(picture).is_some();
                (!unseen).then_some(Request::Quit)
            }
            (Action::Confirm, Question::Over(id)) => Some(Request::Command(Command::Resolve(id))),
            (action, Question::Enter(new, _)) => {
                self.enter_new(new, action == Action::Confirm, picture)
            }
            (Action::Confirm, Question::Part(mmsi)) => Some(Request::Command(Command::Part(mmsi))),
            (Action::Confirm, Question::Mute(what)) => Some(Request::Command(Command::Mute(what))),
            (Action::Choice(number), Question::Seas) => {
                let seas = SEAS.get(usize::from(number.checked_sub(1)?))?;
                Some(Request::Command(Command::Seas(*seas)))
            }
            (Action::Confirm, Question::Keep(..)) => {
                self.keeps = true;
                Some(Request::Keep)
            }
            (Action::Confirm, Question::Unmute) => Some(Request::Command(Command::Unmute)),
            _ => None,
        }
    }

    /// Asks whether the incident in view is over; says so where there is none to be over.
    pub(super) fn ask_if_over(&self, picture: &Picture) -> Option<Question> {
        if let Some(incident) = self.incident_in_view(picture) {
            return Some(Question::Over(incident.id));
        }
        about_people_in_view(picture, self.selected)
            .map(|_| Question::Refused("Nothing to declare over: a test or a text ends by itself."))
    }

    /// Opens the form for the own position.
    pub(super) fn ask_for_position(&mut self) {
        let read = |text: &str| match Position::parse(text) {
            Ok(_) => Ok(()),
            Err(_) => Err("not understood: write 57 42.07N 010 35.89E".to_owned()),
        };
        let fields = vec![Field::new("Latitude, longitude, as 57 42.07N 010 35.89E", read)];
        self.form = Some(Form::new(Purpose::PlaceShip, "Own position, by hand", fields));
    }

    /// Opens the form for a remark, where there is a logbook that takes it.
    pub(super) fn ask_for_note(&mut self) {
        if !self.parts.as_ref().is_some_and(|parts| parts.keeps_logbook) {
            self.asking = Some(Question::Refused("No logbook is kept: a note would be lost."));
            return;
        }
        let some = |text: &str| match text.is_empty() {
            true => Err("nothing is written yet; esc leaves it".to_owned()),
            false => Ok(()),
        };
        let fields = vec![Field::new("What happened, in a few words", some)];
        self.form = Some(Form::new(Purpose::Note, "Note for the logbook", fields));
    }

    /// Takes a key of the form that is open. What it asks for once it is filled.
    pub(super) fn fill_in(&mut self, action: Action) -> Option<Request> {
        match self.form.as_mut()?.on_key(action) {
            Progress::Open => None,
            Progress::Left => {
                self.form = None;
                None
            }
            Progress::Filled => self.form.take().and_then(|form| self.filled(form)),
        }
    }

    /// What a filled form asks for.
    fn filled(&mut self, form: Form) -> Option<Request> {
        if let Purpose::Enrol(mmsi) = form.purpose {
            return self.look_at_new(mmsi, form);
        }
        let texts = form.texts();
        let first = texts.first()?;
        match form.purpose {
            Purpose::PlaceShip => {
                Some(Request::Command(Command::PlaceShip(Position::parse(first).ok()?)))
            }
            Purpose::Note => Some(Request::Note((*first).to_owned())),
            Purpose::Enrol(_) => None,
            // An alarm that nobody has seen yet is none that they meant.
            Purpose::End => (!self.new_alarm).then_some(Request::Quit),
        }
    }

    /// Leaves the details, then the page. Whether there was anything to leave.
    pub(super) fn go_back(&mut self) -> bool {
        match self.page {
            Page::History if self.details => self.details = false,
            Page::Watch => return false,
            _ => self.page = Page::Watch,
        }
        true
    }
}
