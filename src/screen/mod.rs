//! State → frame: what the watchkeeper sees.
//!
//! ```text
//! ┌ headline: one sentence that is true right now ──────────── state, time ┐
//! │ answer: range and bearing, as large as the terminal allows             │
//! │ evidence: what was heard, minute by minute       ┌ plot ─────────────┐ │
//! │ own ship, inputs, the others                     │                   │ │
//! │                                                  └───────────────────┘ │
//! │ memory: the last alerts, newest first                                  │
//! └ keys: only those that make sense now ──────────────────────────────────┘
//! ```
//! *Invariant:* does no IO outside [`Terminal`]; a frame depends on the picture and the state of the
//! screen alone.

mod action;
mod digits;
mod enrol;
mod form;
mod history;
mod keys;
mod muting;
mod pace;
mod pen;
mod question;
mod recent;
mod sheet;
mod sixteen;
mod square_code;
mod terminal;
mod theme;
mod view;
mod words;

pub use action::Action;
pub use history::{History, HistoryEntry};
pub use keys::{KEYS, Key, When};
pub use pace::{FRAME, Pace};
pub use square_code::square_code;
pub use terminal::{Keys, Terminal};
pub use theme::{Depth, Glyphs, Palette, ROLES, Role, Theme};

use std::borrow::Cow;

use ratatui::Frame;

use crate::advice::{self, Calls, Speaker, Vessel, is_unacknowledged};
use crate::frontend::{HelmSign, KeptInputs, Parts, ReplayState, Request, TestVerdict};
use crate::time::Mono;
use crate::watch::{
    Alert, BeaconView, CasualtyId, Command, Event, EventBody, Picture, Priority, State,
};
use enrol::Asked;
use form::Form;
use question::Question;
use recent::Recent;

/// Which page is open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Page {
    #[default]
    Watch,
    History,
    Help,
    Voice,
    Who,
    Outputs,
}

/// The state of the screen: what is open, what is selected, how it looks.
#[derive(Clone, Debug, Default)]
pub struct Screen {
    /// How it looks.
    pub theme: Theme,
    /// What has happened.
    pub history: History,
    /// Set in a replay.
    pub replay: Option<ReplayState>,
    /// Set in a live watch.
    pub parts: Option<Parts>,
    /// Set where a page at the helm is served.
    pub helm: Option<HelmSign>,
    /// What is said of the own ship, and how.
    pub vessel: Vessel,
    /// Whether what flashes is lit just now.
    pub lit: bool,
    /// Looks at a watch of another program: to leave the screen does not end the watch.
    pub attached: bool,
    page: Page,
    head_up: bool,
    selected: Option<CasualtyId>,
    /// When the last test began that was looked at.
    test_begun: Option<Mono>,
    /// An alarm came in since the last frame, which is to show it.
    new_alarm: bool,
    line: usize,
    alarms_only: bool,
    details: bool,
    asking: Option<Question>,
    form: Option<Form>,
    /// What the configuration file is asked about.
    asked: Option<Asked>,
    /// The file is asked about the inputs that were found.
    keeps: bool,
    /// What was typed when an alarm came in.
    typed: Option<Form>,
    recent: Recent,
    calls: Calls,
    sheet: sheet::Sheet,
    /// What the texts read aloud are made from: they stand still.
    said: Option<Box<Picture>>,
}

impl Screen {
    /// A screen that looks so.
    pub fn new(theme: Theme) -> Self {
        Self { theme, lit: true, ..Self::default() }
    }

    /// Takes an event. A new alarm comes into view with the next frame, whatever was looked at; but who is reading aloud
    /// is interrupted by another emergency alone.
    pub fn tell(&mut self, event: &Event) {
        self.calls.tell(event);
        self.recent.tell(event);
        let known = self.history.tell(event);
        let EventBody::Alert(alert) = &event.body else { return };
        let reading = self.page == Page::Voice;
        let least = if reading { Priority::EmergencyAlarm } else { Priority::Alarm };
        if !known && alert.priority >= least && alert.state == State::ActiveUnacknowledged {
            self.new_alarm = true;
        }
    }

    /// Brings a new alarm into view, just before a frame is drawn. Until then a key acts on what
    /// was drawn when it was pressed.
    pub fn turn_to_new_alarm(&mut self) {
        if std::mem::take(&mut self.new_alarm) {
            (self.page, self.selected, self.asking) = (Page::Watch, None, None);
            // The next key is meant for the alarm.
            self.put_form_away();
        }
    }

    /// Looks at the picture that is about to be drawn for what no event tells of. A test that begins
    /// comes into view if the one that was chosen is over.
    pub fn look(&mut self, picture: &Picture) {
        self.recent.look(picture);
        let begun = advice::test_begun(picture);
        if begun > self.test_begun && advice::is_over(picture, self.selected) {
            self.selected = None;
        }
        self.test_begun = begun;
    }

    /// The casualty that a person chose to look at.
    pub fn selected(&self) -> Option<CasualtyId> {
        self.selected
    }

    /// Takes an event of a watch before this one: it is history.
    pub fn recall(&mut self, event: &Event) {
        self.calls.tell(event);
        self.history.recall(event);
    }

    /// Does what a person wants, or says what has to be done elsewhere.
    pub fn act(&mut self, action: Action, picture: &Picture) -> Option<Request> {
        if action == Action::Resized {
            return None;
        }
        if picture.asked.is_some() {
            // The key answers the watch alarm, and nothing else.
            return Some(Request::Present);
        }
        if self.form.is_some() {
            return self.fill_in(action);
        }
        if let Some(asked) = self.asking.take() {
            return self.answer(asked, action, picture);
        }
        if self.wait_for_file(action) {
            return None;
        }
        match action {
            Action::PlaceShip if self.replay.is_none() => self.ask_for_position(),
            Action::Enrol => self.ask_to_enrol(picture),
            Action::Note if self.replay.is_none() => self.ask_for_note(),
            Action::Seas
                if self.replay.is_none()
                    && self.beacon_in_view(picture).is_some_and(|it| it.casualty) =>
            {
                self.asking = Some(Question::Seas);
            }
            Action::KeepInputs if self.finds_inputs() => {
                self.keeps = true;
                return Some(Request::FindKept);
            }
            Action::Export => return self.export(picture),
            Action::WriteTest => {
                return self.test_in_view(picture)?.mmsi().map(Request::JudgeTest);
            }
            Action::Who => self.turn_to(Page::Who),
            Action::Acknowledge => {
                let alert = self.alert_in_view(picture).filter(|alert| is_unacknowledged(alert))?;
                return Some(Request::Command(Command::Acknowledge(alert.id)));
            }
            Action::Silence => {
                let silence = |alert: &Alert| Request::Command(Command::Silence(alert.id));
                return self.alert_in_view(picture).map(silence);
            }
            Action::Resolve => {
                self.asking = self.ask_if_over(picture);
            }
            Action::Part if self.replay.is_none() => {
                let mmsi = self.joined_in_view(picture).and_then(BeaconView::mmsi);
                self.asking = mmsi.map(Question::Part);
            }
            Action::Mute if self.replay.is_none() => {
                self.asking = self.ask_to_mute(None, picture);
            }
            Action::NextCasualty if self.page == Page::Voice => {
                (self.sheet, self.line) = (self.sheet.next(), 0);
            }
            Action::NextCasualty => self.selected = advice::next_casualty(picture, self.selected),
            Action::Voice => self.turn_to_voice(picture),
            Action::Renew if self.page == Page::Voice => {
                self.said = Some(Box::new(picture.clone()));
            }
            Action::Outputs if self.parts.is_some() => self.turn_to(Page::Outputs),
            Action::History => self.turn_to(Page::History),
            Action::Help => self.turn_to(Page::Help),
            Action::Colours => self.theme.palette = self.theme.palette.next(),
            Action::Orientation => self.head_up = !self.head_up,
            Action::Up => self.line = self.line.saturating_sub(1),
            Action::Down => self.line = (self.line + 1).min(self.last_line(picture)),
            Action::Filter => (self.alarms_only, self.line) = (!self.alarms_only, 0),
            Action::Details => self.details = !self.details,
            Action::Quit if self.go_back() => {}
            Action::Quit | Action::End if self.attached => return Some(Request::Quit),
            Action::Quit | Action::End => self.ask_to_end(picture),
            Action::Leave => {
                self.go_back();
            }
            Action::MarkOverboard
            | Action::SoundCheck
            | Action::Pause
            | Action::Faster
            | Action::Slower
            | Action::NextEvent
            | Action::PreviousEvent => return self.request(action),
            // Parts of a form or answers, where nothing is asked; and what means nothing.
            Action::Typed(_)
            | Action::Erase
            | Action::Enter
            | Action::Confirm
            | Action::Other
            | Action::PlaceShip
            | Action::Renew
            | Action::Outputs
            | Action::Note
            | Action::Seas
            | Action::Choice(_)
            | Action::KeepInputs
            | Action::Mute
            | Action::Part
            | Action::Resized => {}
        }
        None
    }

    /// Whether this watch has found its inputs by itself, and they are not kept yet.
    pub(crate) fn finds_inputs(&self) -> bool {
        let found = self.parts.as_ref().and_then(|parts| parts.found.as_ref());
        found.is_some_and(|(_, kept)| !matches!(kept, KeptInputs::Waits | KeptInputs::Written(_)))
    }

    /// Writes the route of the search in view, where one is written.
    fn export(&self, picture: &Picture) -> Option<Request> {
        let searched = self.beacon_in_view(picture).filter(|it| it.search.is_some());
        Some(Request::Export(searched.filter(|_| self.replay.is_none())?.id))
    }

    /// What is done elsewhere, whatever is in view: in a live watch or in a replay alone.
    fn request(&self, action: Action) -> Option<Request> {
        let (is_replay, request) = match action {
            Action::MarkOverboard => (false, Request::Command(Command::MarkOverboard)),
            Action::SoundCheck => (false, Request::SoundCheck),
            Action::Pause => (true, Request::Pause),
            Action::Faster => (true, Request::Faster),
            Action::Slower => (true, Request::Slower),
            Action::NextEvent => (true, Request::NextEvent),
            Action::PreviousEvent => (true, Request::PreviousEvent),
            _ => return None,
        };
        (self.replay.is_some() == is_replay).then_some(request)
    }

    /// Whether something is being typed: then a character is a character.
    pub fn is_typing(&self) -> bool {
        self.form.is_some()
    }

    fn last_line(&self, picture: &Picture) -> usize {
        let lines = match self.page {
            Page::Watch => 0,
            Page::History => self.history.newest(self.alarms_only).count(),
            Page::Help => KEYS.len(),
            Page::Who => self.beacon_in_view(picture).map_or(0, |beacon| beacon.helpers.len()),
            Page::Outputs => view::output_rows(self).len(),
            Page::Voice => sheet::text(self, self.said(picture), self.sheet).lines.len(),
        };
        lines.saturating_sub(1)
    }

    /// Draws everything. The same picture and state give the same frame.
    pub fn draw(&self, frame: &mut Frame<'_>, picture: &Picture) {
        view::draw(self, frame, &self.legible(picture));
    }

    /// The picture with those called by their identity whose names this terminal has no letters for:
    /// two of them could not be told apart.
    fn legible<'a>(&self, picture: &'a Picture) -> Cow<'a, Picture> {
        let is_lost = |it: &BeaconView| {
            it.person
                .as_ref()
                .is_some_and(|name| !name.contains(|c: char| c.is_ascii_alphanumeric()))
        };
        let mut picture = Cow::Borrowed(picture);
        if !self.theme.unicode() && picture.beacons.iter().any(is_lost) {
            let beacons = picture.to_mut().beacons.iter_mut();
            beacons.filter(|it| is_lost(it)).for_each(|it| it.person = None);
        }
        picture
    }

    fn turn_to(&mut self, page: Page) {
        self.page = if self.page == page { Page::Watch } else { page };
        (self.line, self.details) = (0, false);
    }

    /// What is read aloud is chosen once, and stays whatever else is heard meanwhile.
    fn turn_to_voice(&mut self, picture: &Picture) {
        if self.page != Page::Voice {
            self.said = Some(Box::new(picture.clone()));
            self.sheet = sheet::Sheet::Say(self.speaker().proposed(picture));
            let shown = self.beacon_in_view(picture).filter(|beacon| beacon.casualty);
            self.selected = shown.map(|beacon| beacon.id).or(self.selected);
        }
        self.turn_to(Page::Voice);
    }

    /// The casualty or beacon that is shown large.
    pub(crate) fn beacon_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a BeaconView> {
        advice::beacon_in_view(picture, self.selected)
    }

    /// The same, if it is a beacon that is taken for a point set by hand.
    pub(crate) fn joined_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a BeaconView> {
        self.beacon_in_view(picture).filter(|it| it.mmsi().is_some() && it.marked.is_some())
    }

    /// The self-test that is shown large.
    fn test_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a BeaconView> {
        match advice::subject(picture, self.selected) {
            advice::Subject::Test(beacon) if self.page == Page::Watch => Some(beacon),
            _ => None,
        }
    }

    /// How the self-test of a beacon that was heard last was judged, if somebody asked for that.
    fn verdict_on(&self, beacon: &BeaconView) -> Option<&TestVerdict> {
        let live = self.parts.as_ref().map(|parts| &parts.verdicts);
        let verdicts = live.or(self.replay.as_ref().map(|replay| &replay.verdicts))?;
        let verdict = verdicts.iter().find(|it| Some(it.mmsi) == beacon.mmsi())?;
        let begun = advice::last_burst(beacon).map(|it| it.at).min();
        // Of another test than the last one it says nothing.
        let is_of_this = verdict.judged.is_none_or(|at| begun.is_none_or(|begun| begun <= at));
        is_of_this.then_some(verdict)
    }

    /// The alert that keys act on.
    pub(crate) fn alert_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a Alert> {
        advice::alert_in_view(picture, self.selected)
    }

    /// The alert that a person can say is over.
    pub(crate) fn incident_in_view<'a>(&self, picture: &'a Picture) -> Option<&'a Alert> {
        advice::incident_in_view(picture, self.selected)
    }

    /// The watch as it was when the page of what to say was opened or renewed.
    pub(crate) fn said<'a>(&'a self, picture: &'a Picture) -> &'a Picture {
        self.said.as_deref().unwrap_or(picture)
    }

    /// What the texts to be read aloud are made from beside the picture.
    fn speaker(&self) -> Speaker<'_> {
        Speaker { vessel: &self.vessel, calls: &self.calls, selected: self.selected }
    }
}
