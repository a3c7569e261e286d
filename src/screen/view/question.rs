//! What is asked or typed: a place of its own above the key line, which stays readable.

use ratatui::layout::Rect;

use super::super::digits::Dot;
use super::super::form::Form;
use super::super::pen::{Pen, wrap};
use super::super::question::Question;
use super::super::theme::Role;
use super::super::{Screen, muting, words};
use super::right_of;
use crate::advice::{still_heard, unacknowledged};
use crate::watch::{AlertId, BeaconView, CasualtyId, Picture};

/// What the watch alarm asks, so large that it wakes.
const AWAKE: &str = "AWAKE?";

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    if let Some((asked, within)) = picture.asked {
        let left = within.saturating_sub(asked).as_secs();
        let text = match left {
            0 => "Watch alarm: are you awake? Press any key.".to_owned(),
            _ => format!("Watch alarm: are you awake? Press any key within {left} s."),
        };
        watch_alarm(pen, area, &text);
    } else if let Some(form) = &screen.form {
        form_panel(pen, area, form);
    } else if let Some(question) = &screen.asking {
        let mut lines = vec![text(question, screen, picture), keys(question).to_owned()];
        if let Question::Enter(_, added) | Question::Keep(_, added) = question {
            lines.splice(1..1, added.iter().cloned());
        }
        panel(pen, area, &lines, Role::WarningBackground);
    } else if screen.asked.is_some() {
        let lines = ["Looking at the configuration file".to_owned(), "[esc] back".to_owned()];
        panel(pen, area, &lines, Role::ReplayBackground);
    }
}

/// What a question asks.
fn text(question: &Question, screen: &Screen, picture: &Picture) -> String {
    match question {
        Question::End if screen.replay.is_some() => "End the replay?".to_owned(),
        Question::End if unacknowledged(picture).is_some() => {
            "An alert is not acknowledged. End the watch? Nothing is heard after that.".to_owned()
        }
        Question::End => "End the watch? Nothing is heard after that.".to_owned(),
        Question::Over(alert) => {
            let beacon = about(picture, *alert);
            let name = beacon.map_or("everybody".to_owned(), whom);
            let goes_on = beacon.and_then(still_heard).map(|it| format!(" {it}"));
            let point =
                beacon.and_then(joined).map(|at| format!(" The point of {at} ends with it."));
            let others = beacon.and_then(|it| others_in_danger(picture, it));
            let rest = [goes_on, point, others].map(Option::unwrap_or_default).concat();
            format!("Is {name} aboard and safe?{rest}")
        }
        Question::Part(mmsi) => {
            let beacon = picture.beacons.iter().find(|it| it.mmsi() == Some(*mmsi));
            let name = beacon.map_or("the beacon".to_owned(), words::name);
            let at = beacon.and_then(joined).unwrap_or_default();
            format!(
                "Are {name} and the one marked by hand at {at} two people? Then both are searched for."
            )
        }
        Question::Mute(what) => format!("Mute {}?", muting::name(*what, picture)),
        Question::Unmute => "Hear all that is muted?".to_owned(),
        Question::Seas => {
            "How high are the seas? 1: under 1 m, 2: 1 to 1.5 m, 3: over 1.5 m".to_owned()
        }
        Question::Enter(..) => {
            let file = screen.parts.as_ref().and_then(|parts| parts.muster_file.as_deref());
            format!("To be added to {}:", file.unwrap_or_default())
        }
        Question::Keep(file, _) => format!("To be changed in {file}:"),
        Question::Refused(why) => (*why).to_owned(),
        Question::NotKept(why) => why.clone(),
    }
}

/// Whom it is about who is said to be safe: never everybody while it is one of several.
fn whom(beacon: &BeaconView) -> String {
    match (&beacon.person, beacon.id) {
        (Some(person), _) => person.clone(),
        (None, CasualtyId::Mark(_)) => {
            let at = beacon.since.utc.clock();
            format!("the one marked by hand at {}", at.trim_end_matches('Z'))
        }
        (None, CasualtyId::Beacon(_)) => format!("the person with {}", words::name(beacon)),
    }
}

/// Who is in danger all the same, if anybody is.
fn others_in_danger(picture: &Picture, beacon: &BeaconView) -> Option<String> {
    let others = picture.beacons.iter().filter(|it| it.casualty && it.id != beacon.id);
    match others.collect::<Vec<_>>()[..] {
        [] => None,
        [other] => Some(format!(" {} stays in danger.", words::name(other))),
        ref others => Some(format!(" {} others stay in danger.", others.len())),
    }
}

/// The keys that answer a question.
const fn keys(question: &Question) -> &'static str {
    match question {
        Question::Mute(_) => "[y] yes, [z] another, any other key: no",
        Question::Seas => "[1] [2] [3], any other key: leave it as it is",
        Question::Refused(_) | Question::NotKept(_) => "any key: go on",
        Question::Enter(..) => "[y] write it, any other key: back to what was typed",
        Question::Keep(..) => "[y] write it, any other key: no",
        Question::End | Question::Over(_) | Question::Part(_) | Question::Unmute => {
            "[y] yes, any other key: no"
        }
    }
}

/// The beacon an alert is about, or the point, if that is known.
fn about(picture: &Picture, alert: AlertId) -> Option<&BeaconView> {
    let alert = picture.alerts.iter().find(|it| it.id == alert)?;
    picture.beacons.iter().find(|it| Some(it.id) == alert.casualty())
}

/// When (UTC) the point set by hand was set that a beacon is taken for.
pub(super) fn joined(beacon: &BeaconView) -> Option<String> {
    beacon.mmsi()?;
    beacon.marked.map(|(at, _)| at.utc.clock().trim_end_matches('Z').to_owned())
}

/// The watch alarm, with its word as large as there is room for.
fn watch_alarm(pen: &mut Pen<'_>, area: Rect, text: &str) {
    let fits = |dot: &Dot| dot.columns(AWAKE) + 4 <= area.width && dot.rows() + 5 <= area.height;
    let Some(dot) = Dot::SIZES.into_iter().find(fits) else {
        panel(pen, area, &[text.to_owned()], Role::WarningBackground);
        return;
    };
    let height = dot.rows() + 4;
    let place = bottom(pen, area, height, Role::WarningBackground);
    pen.put(place, 1, 2, text, Role::WarningBackground);
    let large = Rect { y: place.y + 3, height: dot.rows(), ..right_of(place, 2) };
    pen.large(large, AWAKE, dot, Role::WarningBackground);
}

/// A form: its title, what is typed, and what is wrong with it or how to go on.
fn form_panel(pen: &mut Pen<'_>, area: Rect, form: &Form) {
    let mut lines = vec![form.title.clone()];
    let last = form.shown().len().saturating_sub(1);
    for (place, field) in form.shown().iter().enumerate() {
        if place < last {
            lines.push(format!("{}: {}", field.prompt, field.text.trim()));
        } else {
            lines.push(field.prompt.to_owned());
            lines.push(format!("> {}_", end_of(&field.text, area.width)));
        }
    }
    let (note, role) = match form.wrong() {
        Some(why) => (why.to_owned(), Role::WarningBackground),
        None => ("[enter] take it, [esc] leave it".to_owned(), Role::ReplayBackground),
    };
    lines.push(note);
    panel(pen, area, &lines, role);
}

/// The end of what is typed, as much as fits into a line.
fn end_of(text: &str, width: u16) -> String {
    let room = usize::from(width).saturating_sub(8);
    let hidden = text.chars().count().saturating_sub(room);
    text.chars().skip(hidden).collect()
}

/// Lines at the bottom of an area, with a margin where there is room for one. Where there are too
/// many, those in the middle give way: the first says what it is about, the last how to answer.
fn panel(pen: &mut Pen<'_>, area: Rect, lines: &[String], role: Role) {
    let roomy = area.height >= 14;
    let margin = u16::from(roomy);
    let mut rows: Vec<String> =
        lines.iter().flat_map(|line| wrap(line, area.width.saturating_sub(2 + margin))).collect();
    let room = usize::from(area.height.saturating_sub(1 + 2 * margin)).max(1);
    let surplus = rows.len().saturating_sub(room);
    let first = rows.len().saturating_sub(2 + surplus);
    rows.drain(first..first + surplus);
    let place = bottom(pen, area, rows.len() as u16 + 2 * margin, role);
    for (row, text) in (margin..).zip(&rows) {
        pen.put(place, row, 1 + margin, text, role);
    }
}

/// The last rows of an area, cleared.
fn bottom(pen: &mut Pen<'_>, area: Rect, rows: u16, role: Role) -> Rect {
    let height = rows.min(area.height);
    let place = Rect { y: area.y + area.height - height, height, ..area };
    for row in 0..height {
        pen.put(place, row, 0, &" ".repeat(usize::from(place.width)), role);
    }
    place
}
