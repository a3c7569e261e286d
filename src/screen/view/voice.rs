//! What to say, to be read aloud from across the cabin; and what to do, beside it.

use ratatui::layout::{Constraint, Layout, Rect};

use super::super::pen::{Pen, wrap};
use super::super::sheet::{self, Sheet};
use super::super::theme::Role;
use super::super::{Screen, words};
use super::below;
use crate::advice::people_in_danger;
use crate::voice::{GAP, Kind, Line, Occasion, Text};
use crate::watch::Picture;

/// With so many columns the checklist stands beside the text.
const BESIDE: u16 = 100;

/// How far to the right a line goes on.
const GOES_ON: u16 = 2;

/// How many columns the checklist has there.
const CHECKLIST: u16 = 38;

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let now = picture;
    let picture = screen.said(picture);
    let rows = head(screen, pen, area, picture, now);
    let area = below(area, rows);
    let text = sheet::text(screen, picture, screen.sheet);
    if screen.sheet == Sheet::Checklist {
        let mut text = text;
        if let Some(survival) = screen.speaker().survival(picture) {
            text.lines.push(Line { kind: Kind::Heading, words: survival.title });
            text.lines.extend(survival.lines);
        }
        body(pen, area, &text, screen.line);
    } else if screen.sheet == Sheet::Say(Occasion::Mayday) && area.width >= BESIDE {
        let widths = [Constraint::Min(40), Constraint::Length(CHECKLIST)];
        let [left, right] = Layout::horizontal(widths).areas(area);
        body(pen, left, &text, screen.line);
        body(pen, right, &sheet::text(screen, picture, Sheet::Checklist), 0);
    } else {
        body(pen, area, &text, screen.line);
    }
}

/// Which text this is, which others there are, how long it has lasted; and that it is not real, if
/// it is not. How many rows it takes.
fn head(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture, now: &Picture) -> u16 {
    let mut column = 1;
    for sheet in Sheet::ALL {
        let title = sheet::title(screen, sheet);
        let (title, role) = if sheet == screen.sheet {
            (format!("[{title}]"), Role::Digits)
        } else {
            (format!(" {title} "), Role::Dim)
        };
        column = pen.put(area, 0, column, &title, role);
    }
    if let Some(since) = screen.speaker().elapsed(now) {
        let text = format!("{} since first alarm ", words::age(since));
        if column + pen.width(&text) < area.width {
            pen.put_right(area, 0, &text, Role::Text);
        } else {
            pen.put_right(area, 0, &format!("{} ", words::age(since)), Role::Text);
        }
    }
    let age = words::short_age(now.now.at.since(picture.now.at));
    let in_danger = |it: &Picture| {
        let (beacons, calls) = people_in_danger(it);
        beacons.len() + calls.len()
    };
    let (text, role) = if in_danger(now) > in_danger(picture) {
        (format!("as of {age} ago; MORE IN DANGER NOW: [r] renew "), Role::Warning)
    } else {
        (format!("as of {age} ago, [r] renew "), Role::Dim)
    };
    let unreal = match (screen.replay.is_some(), picture.rehearsed.or(now.rehearsed)) {
        (true, _) => "REPLAY",
        (false, Some(rehearsed)) => rehearsed.word(),
        (false, None) => {
            // On the rule above: what is read aloud needs every row.
            pen.put_right(
                Rect { y: area.y.saturating_sub(1), ..area },
                0,
                &format!(" {text}"),
                role,
            );
            return 1;
        }
    };
    pen.put(area, 1, 1, &format!(" {unreal}: do not transmit "), Role::ReplayBackground);
    pen.put_right(area, 1, &text, role);
    2
}

/// The lines from one of them on, as wide apart as there is room.
fn body(pen: &mut Pen<'_>, area: Rect, text: &Text, first: usize) {
    let lines = text.lines.get(first.min(text.lines.len().saturating_sub(1))..).unwrap_or_default();
    let shown: Vec<(&Line, Vec<String>)> =
        lines.iter().map(|line| (line, rows(line, area.width))).collect();
    let needed: usize = shown.iter().map(|(_, rows)| rows.len()).sum();
    let height = usize::from(area.height);
    let (more, height) = (needed > height, height.saturating_sub((needed > height).into()));
    let turns = lines.windows(2).filter(|pair| pair[0].kind != pair[1].kind).count();
    let (each, turn) = (needed + lines.len() <= height, needed + turns <= height);
    let (mut row, mut before) = (0, None);
    for (line, rows) in &shown {
        let apart = each || turn && before.is_some_and(|kind| kind != line.kind);
        row += u16::from(apart && before.is_some());
        before = Some(line.kind);
        for (place, words) in rows.iter().enumerate() {
            if usize::from(row) < height {
                // What goes on stands a little to the right.
                let column = indent(line.kind) + if place > 0 { GOES_ON } else { 0 };
                put(pen, area, row, column, words, role(line.kind));
            }
            row += 1;
        }
    }
    if more {
        pen.put_right(area, area.height.saturating_sub(1), " more: down ", Role::Warning);
    }
}

/// A line in rows. What is spoken is broken after a comma where it can be: there a speaker draws
/// breath.
fn rows(line: &Line, width: u16) -> Vec<String> {
    let room = width.saturating_sub(indent(line.kind) + 1);
    let whole = wrap(&line.words, room);
    if whole.len() < 2 {
        return whole;
    }
    let room = room.saturating_sub(GOES_ON);
    if line.kind != Kind::Say {
        return wrap(&line.words, room);
    }
    let mut rows: Vec<String> = Vec::new();
    for phrase in line.words.split_inclusive(", ") {
        match rows.last_mut() {
            Some(row) if wrap(&format!("{row}{phrase}"), room).len() < 2 => row.push_str(phrase),
            _ => rows.push(phrase.to_owned()),
        }
    }
    rows.iter().flat_map(|row| wrap(row, room)).collect()
}

/// A row, with the gaps that the speaker fills standing out.
fn put(pen: &mut Pen<'_>, area: Rect, row: u16, mut column: u16, words: &str, role: Role) {
    for (place, part) in words.split(GAP).enumerate() {
        if place > 0 {
            column = pen.put(area, row, column, GAP, Role::Warning);
        }
        column = pen.put(area, row, column, part, role);
    }
}

const fn indent(kind: Kind) -> u16 {
    match kind {
        Kind::Heading => 1,
        Kind::Say => 4,
        Kind::Do | Kind::Note => 2,
    }
}

const fn role(kind: Kind) -> Role {
    match kind {
        Kind::Heading | Kind::Note => Role::Dim,
        Kind::Say => Role::Digits,
        Kind::Do => Role::Text,
    }
}
