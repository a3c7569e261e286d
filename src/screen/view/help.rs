//! The help: every key, and what the program is not.

use ratatui::layout::Rect;

use super::super::pen::{Pen, wrap};
use super::super::square_code::square_code;
use super::super::theme::{Glyphs, Palette, Role};
use super::super::{Action, KEYS, Screen, When};
use super::below;
use crate::frontend::HelmSign;

const WARNING: &str = "overside receives only. It calls nobody: an AIS beacon alerts no coastguard \
                       by itself. Call for help by radio as you have learnt it.";

/// What the key that ends the watch does on a screen that is looked at from elsewhere.
const LEAVE: &str = "leave this screen; the watch goes on, and is ended where it was begun";

/// So many columns the keys need beside the square.
const KEYS_NEED: u16 = 40;

/// Where the page at the helm is, and its code. How many rows that takes.
fn helm(sign: &HelmSign, pen: &mut Pen<'_>, area: Rect) -> u16 {
    let HelmSign { address, code, phones, fault } = sign;
    let (text, role) = match fault {
        None => {
            let connected = if *phones == 1 { "phone" } else { "phones" };
            let text = format!("page at the helm: {address}, code {code}; {phones} {connected}");
            (text + " connected", Role::Good)
        }
        Some(why) => (format!("page at the helm NOT SERVED: {why}"), Role::Warning),
    };
    let lines = wrap(&text, area.width.saturating_sub(4));
    for (row, line) in (0..).zip(&lines) {
        pen.put(area, row, 2, line, role);
    }
    lines.len() as u16
}

/// The same as a square for a phone's camera, at the right where there is room. How many columns that
/// takes.
fn square(sign: &HelmSign, pen: &mut Pen<'_>, area: Rect) -> u16 {
    let rows = square_code(&sign.link(), pen.theme.palette != Palette::Day);
    let columns = rows.first().map_or(0, |row| row.chars().count() as u16);
    let fits = columns + KEYS_NEED <= area.width && rows.len() <= usize::from(area.height);
    if !fits || pen.theme.glyphs == Glyphs::Ascii {
        return 0;
    }
    for (row, line) in (0..).zip(&rows) {
        for (column, mark) in (area.width - columns..).zip(line.chars()) {
            pen.dot(area, row, column, mark, Role::Text);
        }
    }
    columns
}

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect) {
    let lines = wrap(WARNING, area.width.saturating_sub(4));
    for (row, line) in (0..).zip(&lines) {
        pen.put(area, row, 2, line, Role::Warning);
    }
    let mut area = below(area, lines.len() as u16);
    if let Some(sign) = &screen.helm {
        area = below(area, helm(sign, pen, area));
        area.width -= square(sign, pen, area);
    }
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
