//! The last alerts: what is open before what has ended, people before things, what waits to be
//! acknowledged before what was, the more urgent first, then the newest.

use std::cmp::Reverse;

use ratatui::layout::Rect;

use super::super::history::HistoryEntry;
use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use crate::watch::{Picture, Priority, State};

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let mut row = 0;
    let mut entries: Vec<&HistoryEntry> = screen.history.newest(false).collect();
    entries.sort_by_key(|it| {
        let is_known = matches!(it.state, State::ActiveAcknowledged | State::Normal);
        (it.state == State::Normal, !it.cause.is_about_people(), is_known, Reverse(it.priority))
    });
    for entry in entries.into_iter().take(usize::from(area.height)) {
        // What is open is told as it is known now: the figures above must not contradict it.
        let what = (entry.id, entry.cause, entry.mmsi);
        let open = picture.alerts.iter().find(|it| (it.id, it.cause, it.mmsi) == what);
        line(pen, area, row, entry, open.map_or(&entry.text, |it| &it.text));
        row += 1;
    }
    if row == 0 {
        pen.put(area, 0, 1, "No alerts since the watch began.", Role::Dim);
    }
}

/// One alert in one line, with what is to be said of it.
pub(super) fn line(pen: &mut Pen<'_>, area: Rect, row: u16, entry: &HistoryEntry, text: &str) {
    let role = match entry.priority {
        _ if entry.state == State::Normal => Role::Dim,
        Priority::EmergencyAlarm | Priority::Alarm => Role::Alarm,
        Priority::Warning => Role::Warning,
        Priority::Caution => Role::Text,
    };
    let state = format!(" {} ", words::state(entry.state, entry.priority));
    let clock = entry.raised.clock();
    let column = pen.put(area, row, 1, clock.trim_end_matches('Z'), Role::Dim) + 1;
    let priority = format!("{:<9}", entry.priority.name());
    let column = pen.put(area, row, column, &priority, role) + 1;
    let room = area.width.saturating_sub(pen.width(&state));
    pen.put(Rect { width: room, ..area }, row, column, text, role);
    pen.put_right(area, row, &state, role);
}
