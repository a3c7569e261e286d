//! Dots on a terminal, in braille or in ASCII.

use std::ffi::OsString;

/// What a plot is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dots {
    /// Braille: two by four dots in a character.
    Braille,
    /// One star in a character: for a terminal without Unicode.
    Ascii,
}

impl Dots {
    /// What the terminal can show, by the environment: braille with a Unicode locale.
    pub fn of(env: impl Fn(&str) -> Option<OsString>) -> Self {
        let names = ["LC_ALL", "LC_CTYPE", "LANG"];
        let locale = names.into_iter().find_map(|name| env(name).filter(|value| !value.is_empty()));
        let utf8 = locale.is_none_or(|name| {
            let name = name.to_string_lossy().to_ascii_lowercase();
            name.contains("utf-8") || name.contains("utf8")
        });
        let console = env("TERM").is_some_and(|term| term == "linux" || term == "dumb");
        if utf8 && !console { Self::Braille } else { Self::Ascii }
    }
}

/// Dots on a grid of characters.
#[derive(Debug)]
pub struct Canvas {
    width: usize,
    height: usize,
    dots: Dots,
    cells: Vec<u8>,
}

impl Canvas {
    /// An empty one, of so many characters.
    pub fn new(width: usize, height: usize, dots: Dots) -> Self {
        Self { width, height, dots, cells: vec![0; width * height] }
    }

    /// A dot at shares of width and height, from the lower left.
    pub fn dot(&mut self, x: f64, y: f64) {
        let (across, down) = match self.dots {
            Dots::Braille => (2, 4),
            Dots::Ascii => (1, 1),
        };
        let place = |share: f64, count: usize| {
            (share.clamp(0.0, 1.0) * (count - 1) as f64).round() as usize
        };
        let column = place(x, self.width * across);
        let row = place(1.0 - y, self.height * down);
        // The bits of braille: 1 2 3 7 on the left, 4 5 6 8 on the right (Unicode, U+2800).
        let bit = match (column % across, row % down) {
            (0, 3) => 6,
            (0, dot) => dot,
            (_, 3) => 7,
            (_, dot) => dot + 3,
        };
        if let Some(cell) = self.cells.get_mut(row / down * self.width + column / across) {
            *cell |= 1 << bit;
        }
    }

    /// It as lines of characters, from the top.
    pub fn rows(&self) -> Vec<String> {
        let glyph = |&cell: &u8| match self.dots {
            _ if cell == 0 => ' ',
            Dots::Braille => char::from_u32(0x2800 + u32::from(cell)).unwrap_or(' '),
            Dots::Ascii => '*',
        };
        self.cells.chunks(self.width).map(|row| row.iter().map(glyph).collect()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dots_lie_where_they_belong() {
        let mut canvas = Canvas::new(2, 1, Dots::Braille);
        canvas.dot(0.0, 0.0);
        canvas.dot(1.0, 1.0);
        // Dot 7 is the lower left one, dot 4 the upper right one.
        assert_eq!(canvas.rows(), ["⡀⠈"]);
        let mut canvas = Canvas::new(3, 2, Dots::Ascii);
        canvas.dot(0.5, 1.0);
        assert_eq!(canvas.rows(), [" * ", "   "]);
    }

    #[test]
    fn braille_needs_a_unicode_locale() {
        let of = |name: &'static str, value: &'static str| {
            Dots::of(move |asked| (asked == name).then(|| OsString::from(value)))
        };
        assert_eq!(of("LANG", "C"), Dots::Ascii);
        assert_eq!(of("LC_ALL", "en_GB.UTF-8"), Dots::Braille);
        assert_eq!(of("TERM", "dumb"), Dots::Ascii);
    }
}
