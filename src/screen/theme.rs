//! How things look: a palette of colours times a set of glyphs.
//!
//! Meaning is never carried by colour alone: words first, shapes second, colour last. Red is for
//! alarms, yellow for warnings (IMO MSC.191(79) 5.7.1).

use ratatui::style::{Color, Modifier, Style};

/// Which colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Palette {
    /// Dark on light, for sunlight.
    Day,
    /// Light on dark.
    #[default]
    Dusk,
    /// Dim red on black: no other light in the cabin.
    Night,
    /// No colours: bold and reversed video alone.
    Mono,
}

/// Which characters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Glyphs {
    /// Blocks, arrows, the crossed circle of the standard.
    #[default]
    Unicode,
    /// Nothing but ASCII, for any terminal.
    Ascii,
}

/// What a colour stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// What is read.
    Text,
    /// What is read second: labels, ages that are fine.
    Dim,
    /// The two numbers.
    Digits,
    /// The two numbers when they are no longer true: last known.
    Stale,
    /// An emergency or alarm, as text.
    Alarm,
    /// An emergency or alarm, as the background of a line.
    AlarmBackground,
    /// A warning, as text.
    Warning,
    /// A warning, as the background of a line.
    WarningBackground,
    /// A test, as text.
    Test,
    /// A test, as the background of a line.
    TestBackground,
    /// That all is well.
    Good,
    /// That this is a replay.
    ReplayBackground,
}

/// Every role, for checks over all of them.
pub const ROLES: [Role; 12] = [
    Role::Text,
    Role::Dim,
    Role::Digits,
    Role::Stale,
    Role::Alarm,
    Role::AlarmBackground,
    Role::Warning,
    Role::WarningBackground,
    Role::Test,
    Role::TestBackground,
    Role::Good,
    Role::ReplayBackground,
];

/// A palette and a set of glyphs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Theme {
    /// The colours.
    pub palette: Palette,
    /// The characters.
    pub glyphs: Glyphs,
}

impl Palette {
    /// The next one, for the key that changes it.
    pub const fn next(self) -> Self {
        match self {
            Self::Day => Self::Dusk,
            Self::Dusk => Self::Night,
            Self::Night | Self::Mono => Self::Day,
        }
    }

    /// Its name, as it is remembered.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Dusk => "dusk",
            Self::Night => "night",
            Self::Mono => "mono",
        }
    }

    /// The palette of this name.
    pub fn named(name: &str) -> Option<Self> {
        [Self::Day, Self::Dusk, Self::Night, Self::Mono].into_iter().find(|it| it.name() == name)
    }

    /// Text and background of a role as red, green and blue; `None` without colours.
    pub const fn colours(self, role: Role) -> Option<([u8; 3], [u8; 3])> {
        const fn on(text: u32, background: u32) -> Option<([u8; 3], [u8; 3])> {
            const fn split(rgb: u32) -> [u8; 3] {
                [(rgb >> 16) as u8, (rgb >> 8) as u8, rgb as u8]
            }
            Some((split(text), split(background)))
        }
        const DAY: u32 = 0xF4_F4_EE;
        const DUSK: u32 = 0x16_1A_1E;
        const NIGHT: u32 = 0x00_00_00;
        match (self, role) {
            (Self::Mono, _) => None,
            (Self::Day, Role::Text) => on(0x14_14_14, DAY),
            (Self::Day, Role::Dim) => on(0x55_5A_5E, DAY),
            (Self::Day, Role::Digits) => on(0x00_00_00, DAY),
            (Self::Day, Role::Stale) => on(0x4A_4A_4A, DAY),
            (Self::Day, Role::Alarm) => on(0xA8_00_10, DAY),
            (Self::Day, Role::AlarmBackground) => on(0xFF_FF_FF, 0xB0_00_12),
            (Self::Day, Role::Warning) => on(0x6E_50_00, DAY),
            (Self::Day, Role::WarningBackground) => on(0x14_14_00, 0xF2_C2_00),
            (Self::Day, Role::Test) => on(0x00_4C_8C, DAY),
            (Self::Day, Role::TestBackground) => on(0xFF_FF_FF, 0x00_4C_8C),
            (Self::Day, Role::Good) => on(0x1B_5E_30, DAY),
            (Self::Day, Role::ReplayBackground) => on(0xFF_FF_FF, 0x4A_2E_6E),
            (Self::Dusk, Role::Text) => on(0xD6_D9_DC, DUSK),
            (Self::Dusk, Role::Dim) => on(0x92_9A_A2, DUSK),
            (Self::Dusk, Role::Digits) => on(0xF2_F4_F6, DUSK),
            (Self::Dusk, Role::Stale) => on(0xA8_AE_B4, DUSK),
            (Self::Dusk, Role::Alarm) => on(0xFF_7A_6E, DUSK),
            (Self::Dusk, Role::AlarmBackground) => on(0xFF_FF_FF, 0xB4_14_20),
            (Self::Dusk, Role::Warning) => on(0xF0_C4_3C, DUSK),
            (Self::Dusk, Role::WarningBackground) => on(0x16_14_00, 0xE0_B4_20),
            (Self::Dusk, Role::Test) => on(0x6C_B8_F0, DUSK),
            (Self::Dusk, Role::TestBackground) => on(0x06_14_20, 0x6C_B8_F0),
            (Self::Dusk, Role::Good) => on(0x7C_C8_8C, DUSK),
            (Self::Dusk, Role::ReplayBackground) => on(0xFF_FF_FF, 0x5A_3A_80),
            (Self::Night, Role::Text) => on(0xA8_28_1C, NIGHT),
            (Self::Night, Role::Dim) => on(0xA0_22_18, NIGHT),
            (Self::Night, Role::Digits) => on(0xC0_30_22, NIGHT),
            (Self::Night, Role::Stale) => on(0xA0_22_18, NIGHT),
            (Self::Night, Role::Alarm) => on(0xC0_30_22, NIGHT),
            (Self::Night, Role::AlarmBackground) => on(NIGHT, 0xC0_30_22),
            (Self::Night, Role::Warning) => on(0xB4_2C_1E, NIGHT),
            (Self::Night, Role::WarningBackground) => on(NIGHT, 0xA8_28_1C),
            (Self::Night, Role::Test) => on(0xA8_28_1C, NIGHT),
            (Self::Night, Role::TestBackground) => on(NIGHT, 0xA0_22_18),
            (Self::Night, Role::Good) => on(0xA8_28_1C, NIGHT),
            (Self::Night, Role::ReplayBackground) => on(NIGHT, 0xA0_22_18),
        }
    }
}

impl Theme {
    /// The style of a role.
    pub fn style(self, role: Role) -> Style {
        let base = match self.palette.colours(role) {
            Some(([r, g, b], [gr, gg, gb])) => {
                Style::new().fg(Color::Rgb(r, g, b)).bg(Color::Rgb(gr, gg, gb))
            }
            None => Style::new(),
        };
        let mono = self.palette == Palette::Mono;
        match role {
            Role::AlarmBackground | Role::WarningBackground if mono => {
                base.add_modifier(Modifier::REVERSED | Modifier::BOLD)
            }
            Role::ReplayBackground | Role::TestBackground if mono => {
                base.add_modifier(Modifier::UNDERLINED)
            }
            Role::Digits | Role::Alarm | Role::AlarmBackground => base.add_modifier(Modifier::BOLD),
            _ => base,
        }
    }

    /// Whether there are characters beyond ASCII.
    pub fn unicode(self) -> bool {
        self.glyphs == Glyphs::Unicode
    }

    /// One of two characters.
    pub fn pick<T>(self, unicode: T, ascii: T) -> T {
        if self.unicode() { unicode } else { ascii }
    }

    /// The sign of degrees with the letter for true.
    pub fn degrees_true(self) -> &'static str {
        self.pick("°T", " T")
    }

    /// A survivor beacon: a crossed circle (SN.1/Circ.243).
    pub fn casualty(self) -> char {
        self.pick('⊗', 'X')
    }

    /// Where the ship was when a beacon without position was first heard.
    pub fn place_to_return_to(self) -> char {
        self.pick('◇', '@')
    }

    /// An arrow for a direction on the screen, up being zero.
    pub fn arrow(self, degrees: f64) -> char {
        let eighth = ((degrees.rem_euclid(360.0) + 22.5) / 45.0) as usize % 8;
        let unicode = ['↑', '↗', '→', '↘', '↓', '↙', '←', '↖'];
        let ascii = ['^', '/', '>', '\\', 'v', '/', '<', '\\'];
        if self.unicode() { unicode[eighth] } else { ascii[eighth] }
    }

    /// A text with all that is not ASCII put in other words, if need be.
    pub fn words(self, text: &str) -> String {
        if self.unicode() {
            return text.to_owned();
        }
        let mut plain = String::with_capacity(text.len());
        for c in text.replace("° ", " deg ").chars() {
            match c {
                '°' => plain.push(' '),
                '±' => plain.push_str("+-"),
                '×' => plain.push('x'),
                c if c.is_ascii() => plain.push(c),
                _ => plain.push('?'),
            }
        }
        plain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast of WCAG 2.
    fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
        let light = |rgb: [u8; 3]| {
            let part = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.03928 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * part(rgb[0]) + 0.7152 * part(rgb[1]) + 0.0722 * part(rgb[2])
        };
        let (a, b) = (light(a), light(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn every_text_stands_out_from_its_ground() {
        for palette in [Palette::Day, Palette::Dusk] {
            for role in ROLES {
                let (text, background) = palette.colours(role).unwrap();
                let least = if matches!(role, Role::Digits | Role::Stale) { 7.0 } else { 4.5 };
                let ratio = contrast(text, background);
                assert!(ratio >= least, "{palette:?} {role:?}: {ratio:.2}");
            }
        }
    }

    /// The night palette's own rule: nothing but dim red, at least 2.5 to 1 against black and the
    /// digits at least 3 to 1. More light would spoil the eyes for the deck (A.830(19) 5.3).
    #[test]
    fn the_night_is_dim_and_red() {
        for role in ROLES {
            let (text, background) = Palette::Night.colours(role).unwrap();
            let least = if role == Role::Digits { 3.0 } else { 2.5 };
            assert!(contrast(text, background) >= least, "{role:?} {}", contrast(text, background));
            for [r, g, b] in [text, background] {
                assert!(r <= 0xC0 && g <= r / 3 && b <= r / 3, "{role:?}");
            }
        }
    }
}
