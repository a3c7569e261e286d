//! The one way onto a frame: what it writes is printable, in the characters of the theme, and cut
//! with a sign where it does not fit.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::digits::{self, Dot};
use super::theme::{Role, Theme};
use crate::text;

/// Writes on a frame.
pub(super) struct Pen<'a> {
    buffer: &'a mut Buffer,
    pub theme: Theme,
}

impl<'a> Pen<'a> {
    pub(super) fn new(buffer: &'a mut Buffer, theme: Theme) -> Self {
        Self { buffer, theme }
    }

    /// Gives an area a background.
    pub(super) fn background(&mut self, area: Rect, role: Role) {
        self.buffer.set_style(area, self.theme.style(role));
    }

    /// Writes a line into an area. The column after it.
    pub(super) fn put(&mut self, area: Rect, row: u16, column: u16, text: &str, role: Role) -> u16 {
        if row >= area.height || column >= area.width {
            return column;
        }
        let room = area.width - column;
        let text = self.cut(&self.spell(text), room);
        let style = self.theme.style(role);
        let (x, y) = (area.x + column, area.y + row);
        let (end, _) = self.buffer.set_stringn(x, y, text, usize::from(room), style);
        end - area.x
    }

    /// Writes a line that ends at the right edge of an area.
    pub(super) fn put_right(&mut self, area: Rect, row: u16, text: &str, role: Role) {
        let column = area.width.saturating_sub(self.width(text));
        self.put(area, row, column, text, role);
    }

    /// How many columns a text takes.
    pub(super) fn width(&self, text: &str) -> u16 {
        width(&self.spell(text))
    }

    /// A line across an area.
    pub(super) fn rule(&mut self, area: Rect) {
        let line = self.theme.pick("─", "-").repeat(usize::from(area.width));
        self.put(area, 0, 0, &line, Role::Dim);
    }

    /// Fills one cell, if it lies in the area.
    pub(super) fn dot(&mut self, area: Rect, row: u16, column: u16, mark: char, role: Role) {
        if row >= area.height || column >= area.width {
            return;
        }
        if let Some(cell) = self.buffer.cell_mut((area.x + column, area.y + row)) {
            cell.set_char(mark).set_style(self.theme.style(role));
        }
    }

    /// Writes so large that it can be read across a cabin, at the top left of an area.
    pub(super) fn large(&mut self, area: Rect, text: &str, size: Dot, role: Role) {
        let mark = self.theme.pick('█', '#');
        for (column, row) in digits::places(text, size) {
            self.dot(area, row, column, mark, role);
        }
    }

    /// Whether nothing stands in so many columns.
    pub(super) fn is_free(&self, area: Rect, row: u16, column: u16, columns: u16) -> bool {
        row < area.height
            && column + columns <= area.width
            && (column..column + columns).all(|column| {
                let cell = self.buffer.cell((area.x + column, area.y + row));
                cell.is_some_and(|cell| cell.symbol() == " ")
            })
    }

    /// A frame around an area. What is inside.
    pub(super) fn frame(&mut self, area: Rect) -> Rect {
        let (right, bottom) = (area.width.saturating_sub(1), area.height.saturating_sub(1));
        let (flat, steep) = (self.theme.pick('─', '-'), self.theme.pick('│', '|'));
        for column in 0..area.width {
            self.dot(area, 0, column, flat, Role::Dim);
            self.dot(area, bottom, column, flat, Role::Dim);
        }
        for row in 0..area.height {
            self.dot(area, row, 0, steep, Role::Dim);
            self.dot(area, row, right, steep, Role::Dim);
        }
        let corners = self.theme.pick(['┌', '┐', '└', '┘'], ['+'; 4]);
        let places = [(0, 0), (0, right), (bottom, 0), (bottom, right)];
        for ((row, column), corner) in places.into_iter().zip(corners) {
            self.dot(area, row, column, corner, Role::Dim);
        }
        Rect {
            x: area.x + 1,
            y: area.y + 1,
            width: area.width.saturating_sub(2),
            height: area.height.saturating_sub(2),
        }
    }

    /// The text in the theme's characters, with nothing in it that a terminal would obey.
    fn spell(&self, text: &str) -> String {
        let harmless = text.chars().map(|c| if text::is_hostile(c) { '?' } else { c });
        self.theme.words(&harmless.collect::<String>())
    }

    fn cut(&self, text: &str, room: u16) -> String {
        if width(text) <= room {
            return text.to_owned();
        }
        let sign = self.theme.pick("…", "..");
        let room = room.saturating_sub(width(sign));
        let mut kept = String::new();
        for c in text.chars() {
            kept.push(c);
            if width(&kept) > room {
                kept.pop();
                break;
            }
        }
        kept.truncate(kept.trim_end().len());
        kept + sign
    }
}

fn width(text: &str) -> u16 {
    u16::try_from(text::width(text)).unwrap_or(u16::MAX)
}

/// A text in lines of so many columns, broken between words where it can be.
pub(super) fn wrap(text: &str, columns: u16) -> Vec<String> {
    text::wrapped(text.split_whitespace(), usize::from(columns), 0)
}
