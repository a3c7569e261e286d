//! The history: every alert, with details of one.

use ratatui::layout::Rect;

use super::super::history::HistoryEntry;
use super::super::pen::{Pen, wrap};
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{memory, right_of};

/// Rows of the details.
const DETAILS: u16 = 9;

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect) {
    let entries: Vec<_> = screen.history.newest(screen.alarms_only).collect();
    let which = if screen.alarms_only { "alarms only" } else { "all" };
    let alerts = if entries.len() == 1 { "alert" } else { "alerts" };
    let title = format!("History: {} {alerts}, {which}, newest first", entries.len());
    pen.put(area, 0, 1, &title, Role::Digits);
    let entry = entries.get(screen.line).filter(|_| screen.details);
    let details = if entry.is_some() { DETAILS.min(area.height / 2) } else { 0 };
    let rows = usize::from(area.height.saturating_sub(1 + details));
    let first = (screen.line + 1).saturating_sub(rows);
    for (place, entry) in entries.iter().enumerate().skip(first).take(rows) {
        let row = (place - first + 1) as u16;
        memory::line(pen, right_of(area, 1), row, entry, &entry.text);
        if place == screen.line {
            pen.put(area, row, 0, pen.theme.pick("▶", ">"), Role::Digits);
        }
    }
    if let Some(entry) = entry {
        let y = area.y + area.height - details;
        of_one(pen, Rect { y, height: details, ..area }, entry);
    }
}

fn of_one(pen: &mut Pen<'_>, area: Rect, entry: &HistoryEntry) {
    pen.rule(Rect { height: 1, ..area });
    let time = |at: Option<crate::time::Utc>| at.map_or("not yet".to_owned(), |at| at.to_string());
    let priority = entry.priority.name();
    let state = words::state(entry.state, entry.priority);
    let mut lines = wrap(&entry.text, area.width.saturating_sub(4));
    lines.truncate(2);
    lines.extend([
        format!("no. {}  {priority}  {state}", entry.id.0),
        format!("raised: {}", entry.raised),
        format!("acknowledged: {}", time(entry.acknowledged)),
        match entry.ended_with_watch {
            true => "ended with that watch".to_owned(),
            false => format!("ended: {}", time(entry.ended)),
        },
        format!("raised by: {}", entry.sentence.as_deref().unwrap_or("time-out")),
    ]);
    for (row, line) in (1..).zip(lines) {
        pen.put(area, row, 2, &line, Role::Text);
    }
}
