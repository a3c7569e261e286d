//! The help: every key, and what the program is not.

use ratatui::layout::Rect;

use super::super::pen::{Pen, wrap};
use super::super::theme::Role;
use super::super::{Action, KEYS, Screen, When};
use super::below;

const WARNING: &str = "overside receives only. It calls nobody: an AIS beacon alerts no coastguard \
                       by itself. Call for help by radio as you have learnt it.";

/// What the key that ends the watch does on a screen that is looked at from elsewhere.
const LEAVE: &str = "leave this screen; the watch goes on, and is ended where it was begun";

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect) {
    let lines = wrap(WARNING, area.width.saturating_sub(4));
    for (row, line) in (0..).zip(&lines) {
        pen.put(area, row, 2, line, Role::Warning);
    }
    let area = below(area, lines.len() as u16);
    let keys = KEYS.iter().filter(|key| key.when != When::Replay || screen.replay.is_some());
    let room = area.width.saturating_sub(10);
    let lines: Vec<(&str, String)> = keys
        .flat_map(|key| {
            let names = std::iter::once(key.name).chain(std::iter::repeat(""));
            let help = match key.action {
                Action::Quit if screen.attached => LEAVE,
                _ => key.help,
            };
            names.zip(wrap(help, room)).collect::<Vec<_>>()
        })
        .collect();
    let rows = usize::from(area.height);
    let first = screen.line.min(lines.len().saturating_sub(rows));
    for (row, (name, words)) in (0..).zip(lines.iter().skip(first).take(rows)) {
        pen.put(area, row, 2, &format!("{name:>5}"), Role::Digits);
        pen.put(area, row, 9, words, Role::Text);
    }
    if lines.len() > first + rows {
        pen.put_right(area, area.height.saturating_sub(1), " more: down ", Role::Warning);
    }
}
