//! One file per region.

mod answer;
mod details;
mod evidence;
mod headline;
mod help;
mod keys;
mod memory;
mod outputs;
mod past;
mod plot;
mod question;
mod quiet;
mod test;
mod timebar;
mod tiny;
mod voice;
mod who;

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};

pub(super) use outputs::rows as output_rows;

use super::pen::Pen;
use super::theme::Role;
use super::{Page, Screen, muting};
use crate::advice::{Subject, all_declared_safe, subject};
use crate::watch::Picture;

pub(super) fn draw(screen: &Screen, frame: &mut Frame<'_>, picture: &Picture) {
    let area = frame.area();
    let pen = &mut Pen::new(frame.buffer_mut(), screen.theme);
    pen.background(area, Role::Text);
    if area.width < 60 || area.height < 16 {
        tiny::draw(screen, pen, area, picture);
        return;
    }
    let [top, rule, body, low_rule, memory, bottom] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Min(10),
        Constraint::Length(1),
        Constraint::Length(memory_rows(area.height)),
        Constraint::Length(1),
    ])
    .areas(area);
    headline::draw(screen, pen, top, picture);
    match &screen.replay {
        Some(replay) => timebar::draw(pen, rule, replay, picture.now.utc),
        None => pen.rule(rule),
    }
    keys::draw(screen, pen, bottom, picture);
    match screen.page {
        Page::Watch => page(screen, pen, body, picture),
        Page::History => past::draw(screen, pen, Rect { height: bottom.y - body.y, ..body }),
        Page::Outputs => {
            outputs::draw(screen, pen, Rect { height: bottom.y - body.y, ..body });
        }
        Page::Help => help::draw(screen, pen, Rect { height: bottom.y - body.y, ..body }),
        Page::Who => who::draw(screen, pen, Rect { height: bottom.y - body.y, ..body }, picture),
        Page::Voice => {
            voice::draw(screen, pen, Rect { height: bottom.y - body.y, ..body }, picture);
        }
    }
    if screen.page == Page::Watch {
        pen.rule(low_rule);
        let muted = muting::summary(picture).map(|muted| format!(" {muted} "));
        let taken = muted.as_ref().map_or(0, |muted| pen.width(muted));
        // They stay on the screen, whoever has the headline: on the quiet page in full.
        let is_quiet = matches!(subject(picture, screen.selected), Subject::Quiet);
        let declared = all_declared_safe(picture).filter(|_| !is_quiet);
        let test = screen.test_in_view(picture).map(|it| it.id);
        let recent: Vec<String> = declared.chain(screen.recent.words(picture, test)).collect();
        let recent = recent.join("; ");
        if !recent.is_empty() {
            let room = Rect { width: low_rule.width.saturating_sub(taken + 1), ..low_rule };
            pen.put(room, 0, 1, &format!(" {recent} "), Role::Text);
        }
        if let Some(muted) = muted {
            pen.put_right(low_rule, 0, &muted, Role::Warning);
        }
        memory::draw(screen, pen, memory, picture);
    }
    question::draw(screen, pen, Rect { y: body.y, height: bottom.y - body.y, ..area }, picture);
}

fn memory_rows(height: u16) -> u16 {
    match height {
        0..24 => 2,
        24..34 => 3,
        _ => 6,
    }
}

fn page(screen: &Screen, pen: &mut Pen<'_>, body: Rect, picture: &Picture) {
    match subject(picture, screen.selected) {
        Subject::Casualty(beacon) => answer::draw(screen, pen, body, picture, beacon),
        Subject::Test(beacon) => test::draw(screen, pen, body, picture, beacon),
        Subject::Quiet => quiet::draw(screen, pen, body, picture),
    }
}

/// What is left of an area below so many rows.
fn below(area: Rect, rows: u16) -> Rect {
    let rows = rows.min(area.height);
    Rect { y: area.y + rows, height: area.height - rows, ..area }
}

/// What is left of an area right of so many columns.
fn right_of(area: Rect, columns: u16) -> Rect {
    let columns = columns.min(area.width);
    Rect { x: area.x + columns, width: area.width - columns, ..area }
}
