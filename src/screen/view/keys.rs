//! The key line: only the keys that make sense now.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Action, KEYS, Key, Page, Screen, When};
use crate::advice::{is_unacknowledged, last_burst, somebody_is_in_danger, tests, unacknowledged};
use crate::watch::{Picture, State};

/// The keys that come first where not all fit: what cannot wait, then whom it is about, then what
/// can be done now and not later, then what may be done. After these the keys come in the order of
/// their table: to say that it is over can wait.
const NEEDED_FIRST: &[Action] = &[
    Action::Acknowledge,
    Action::Voice,
    Action::NextCasualty,
    Action::Part,
    Action::Enrol,
    Action::WriteTest,
    Action::MarkOverboard,
    Action::Pause,
    Action::NextEvent,
    Action::PreviousEvent,
    Action::Silence,
];

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    // What leads on is never cut: the help, and the way back.
    let leads_on =
        |key: &Key| if screen.page == Page::Watch { Action::Help } else { Action::Leave } == key.action;
    let kept: Vec<&Key> = KEYS.iter().filter(|key| leads_on(key)).collect();
    let mut shown: Vec<&Key> =
        KEYS.iter().filter(|key| makes_sense(screen, picture, key) && !leads_on(key)).collect();
    let need = |key: &Key| NEEDED_FIRST.iter().position(|it| *it == key.action);
    shown.sort_by_key(|key| need(key).unwrap_or(NEEDED_FIRST.len()));
    let words = |key: &Key, short| format!("[{}] {}", key.name, label(screen, picture, key, short));
    let width = |pen: &Pen<'_>, keys: &[&Key], short| {
        keys.iter().map(|key| pen.width(&words(key, short)) + 2).sum::<u16>()
    };
    let needed: Vec<&Key> = shown.iter().filter(|key| need(key).is_some()).copied().collect();
    // Short words rather than a key that is needed and does not fit.
    let is_short = width(pen, &needed, false) + width(pen, &kept, false) >= area.width;
    let room = area.width.saturating_sub(width(pen, &kept, is_short));
    let mut column = 1;
    for key in shown {
        let words = words(key, is_short);
        if column + pen.width(&words) <= room {
            column = pen.put(area, 0, column, &words, Role::Dim) + 2;
        }
    }
    for key in kept {
        column = pen.put(area, 0, column, &words(key, is_short), Role::Dim) + 2;
    }
}

fn label(screen: &Screen, picture: &Picture, key: &Key, short: bool) -> &'static str {
    match key.action {
        Action::Acknowledge if short => "ackn.",
        Action::Silence if short => "silence",
        Action::Voice if short => "say",
        Action::Pause if screen.replay.as_ref().is_some_and(|replay| replay.paused) => "go on",
        Action::Quit if screen.attached => "leave",
        Action::Filter if screen.alarms_only => "all alerts",
        Action::NextCasualty if screen.page == Page::Voice || short => "next",
        Action::NextCasualty if screen.test_in_view(picture).is_some() => "next test",
        Action::NextCasualty => "next person",
        Action::Part if short => "part",
        Action::Enrol if short => "enter",
        // Nothing of a replay is written down.
        Action::WriteTest if screen.replay.is_some() => "judge",
        Action::WriteTest if short => "write",
        Action::MarkOverboard if short => "MOB",
        Action::Who if short => "who",
        Action::Down if screen.page == Page::Voice => "more",
        _ => key.label,
    }
}

/// Whether there are more than one to look at: casualties, or tests where nobody is in danger.
fn several(picture: &Picture) -> bool {
    match picture.beacons.iter().filter(|beacon| beacon.casualty).count() {
        0 => tests(picture).count() > 1,
        casualties => casualties > 1,
    }
}

fn makes_sense(screen: &Screen, picture: &Picture, key: &Key) -> bool {
    let now = match key.when {
        When::Always => true,
        When::Unacknowledged => unacknowledged(picture).is_some(),
        When::Open => screen.incident_in_view(picture).is_some(),
        When::Several => several(picture),
        When::Testing => {
            let test = screen.test_in_view(picture).filter(|it| screen.verdict_on(it).is_none());
            test.is_some_and(|it| last_burst(it).next().is_some())
        }
        When::Watching => screen.replay.is_none(),
        When::Searching => screen
            .beacon_in_view(picture)
            .is_some_and(|beacon| beacon.search.is_some() && screen.replay.is_none()),
        When::Found => screen.finds_inputs() && picture.alerts.is_empty(),
        When::Outputs => screen.parts.as_ref().is_some_and(|it| !it.outputs.each.is_empty()),
        When::Live => screen.replay.is_none() && picture.alerts.is_empty(),
        When::Unlisted => screen.enrols_in_view(picture),
        When::Joined => screen.replay.is_none() && screen.joined_in_view(picture).is_some(),
        When::Replay => screen.replay.is_some(),
        When::History => screen.page == Page::History,
        When::Saying => screen.page == Page::Voice,
        When::Page => screen.page != Page::Watch,
        When::Lines => matches!(screen.page, Page::History | Page::Voice),
        When::Danger => somebody_is_in_danger(picture),
    };
    let here = match key.action {
        Action::Silence => screen
            .alert_in_view(picture)
            .is_some_and(|alert| alert.state == State::ActiveUnacknowledged),
        Action::Acknowledge => screen.alert_in_view(picture).is_some_and(is_unacknowledged),
        Action::Orientation => {
            screen.page == Page::Watch
                && picture.own.position.is_some()
                && picture.own.heading.or(picture.own.cog).is_some()
        }
        Action::NextCasualty if screen.page == Page::Voice => return true,
        // It stands beside the age of what is read.
        Action::Renew => false,
        Action::Voice | Action::Up => screen.page != Page::Voice,
        Action::NextCasualty | Action::Resolve | Action::Colours => screen.page == Page::Watch,
        Action::Who => {
            matches!(screen.page, Page::Watch | Page::Who)
                && screen.beacon_in_view(picture).is_some_and(|beacon| !beacon.helpers.is_empty())
        }
        Action::Outputs => matches!(screen.page, Page::Watch | Page::Outputs),
        Action::PlaceShip => screen.page == Page::Watch && picture.own.position.is_none(),
        Action::MarkOverboard
        | Action::Part
        | Action::Enrol
        | Action::Export
        | Action::Seas
        | Action::Note => screen.page == Page::Watch,
        Action::SoundCheck | Action::KeepInputs => screen.page == Page::Watch,
        Action::Mute => screen.page == Page::Watch && screen.can_mute(picture),
        Action::History => !matches!(screen.page, Page::History | Page::Voice),
        Action::Quit => screen.page == Page::Watch,
        _ => true,
    };
    now && here
}
