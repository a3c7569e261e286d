//! How things look: a palette of colours times a set of glyphs.
//!
//! Meaning is never carried by colour alone: words first, shapes second, colour last. Red is for
//! alarms, yellow for warnings (IMO MSC.191(79) 5.7.1).

use ratatui::style::{Color, Modifier, Style};
use serde::{Deserialize, Serialize};

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

/// How many colours the terminal can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Depth {
    /// Any, 24 bits each.
    #[default]
    True,
    /// The 256 of a table: 240 that are the same everywhere, and the 16 below.
    Table,
    /// The 16 that every colour terminal has, each as its owner likes it.
    Sixteen,
}

impl Depth {
    /// Every one, for checks over all of them.
    pub const ALL: [Self; 3] = [Self::True, Self::Table, Self::Sixteen];

    /// What a terminal says that it can: by `COLORTERM`, else by its name in `TERM`. One that says
    /// nothing of 256 gets no more than 16.
    pub fn told(colorterm: &str, term: &str) -> Self {
        let is_true = ["truecolor", "24bit"].contains(&colorterm) || term.ends_with("-direct");
        match term.contains("256color") {
            _ if is_true => Self::True,
            true => Self::Table,
            false => Self::Sixteen,
        }
    }
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
    /// How many colours there are.
    pub depth: Depth,
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
            (Self::Night, Role::Text) => on(0xD6_40_34, NIGHT),
            (Self::Night, Role::Dim) => on(0xD0_45_3A, NIGHT),
            (Self::Night, Role::Digits) => on(0xE0_46_38, NIGHT),
            (Self::Night, Role::Stale) => on(0xD0_45_3A, NIGHT),
            (Self::Night, Role::Alarm) => on(0xE0_46_38, NIGHT),
            (Self::Night, Role::AlarmBackground) => on(NIGHT, 0xE0_46_38),
            (Self::Night, Role::Warning) => on(0xDA_42_36, NIGHT),
            (Self::Night, Role::WarningBackground) => on(NIGHT, 0xD6_40_34),
            (Self::Night, Role::Test) => on(0xD6_40_34, NIGHT),
            (Self::Night, Role::TestBackground) => on(NIGHT, 0xD0_45_3A),
            (Self::Night, Role::Good) => on(0xD6_40_34, NIGHT),
            (Self::Night, Role::ReplayBackground) => on(NIGHT, 0xD0_45_3A),
        }
    }
}

/// The 240 colours that are the same in every table of 256, by their number: a cube of six steps a
/// colour, then greys (xterm's `256colres.pl`, from memory).
const fn of_table(number: u8) -> [u8; 3] {
    const fn step(part: u8) -> u8 {
        if part == 0 { 0 } else { 55 + 40 * part }
    }
    match number {
        232.. => [8 + 10 * (number - 232); 3],
        16.. => {
            let cube = number - 16;
            [step(cube / 36), step(cube / 6 % 6), step(cube % 6)]
        }
        _ => [0; 3],
    }
}

/// The number of the nearest of them.
fn nearest([r, g, b]: [u8; 3]) -> u8 {
    let far = |number: &u8| {
        let [x, y, z] = of_table(*number);
        [(r, x), (g, y), (b, z)].iter().map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum::<u32>()
    };
    (16..=255).min_by_key(far).unwrap_or(16)
}

/// The red of the night, in the table and among the sixteen: of the reds without another colour in
/// them the only one at 4.5 to 1.
const RED: (u8, u8) = (196, 9);

/// Text and background of a role out of the sixteen, as they are numbered everywhere. A background is
/// one of the first eight where it can be: some terminals have no others.
const fn of_sixteen(palette: Palette, role: Role) -> (u8, u8) {
    const BLACK: u8 = 0;
    const GREY: u8 = 7;
    const WHITE: u8 = 15;
    match (palette, role) {
        (Palette::Night, role) => match role {
            Role::AlarmBackground
            | Role::WarningBackground
            | Role::TestBackground
            | Role::ReplayBackground => (BLACK, RED.1),
            _ => (RED.1, BLACK),
        },
        (_, Role::AlarmBackground) => (WHITE, 1),
        (_, Role::WarningBackground) => (BLACK, 3),
        (_, Role::ReplayBackground) => (WHITE, 5),
        (Palette::Day, Role::TestBackground) => (WHITE, 4),
        (Palette::Day, Role::Alarm) => (1, GREY),
        (Palette::Day, Role::Test) => (4, GREY),
        (Palette::Day, _) => (BLACK, GREY),
        (_, Role::TestBackground) => (BLACK, 6),
        (_, Role::Digits) => (WHITE, BLACK),
        (_, Role::Alarm) => (9, BLACK),
        (_, Role::Warning) => (11, BLACK),
        (_, Role::Test) => (14, BLACK),
        (_, Role::Good) => (10, BLACK),
        (_, Role::Text | Role::Dim | Role::Stale) => (GREY, BLACK),
    }
}

impl Theme {
    /// Text and background of a role, as the terminal can show them; `None` without colours.
    fn colours(self, role: Role) -> Option<(Color, Color)> {
        let (text, background) = self.palette.colours(role)?;
        let of_table = |rgb: [u8; 3]| {
            // The nearest to a dim red is a pink, or too dark.
            let red = self.palette == Palette::Night && rgb != [0; 3];
            Color::Indexed(if red { RED.0 } else { nearest(rgb) })
        };
        Some(match self.depth {
            Depth::True => {
                let plain = |[r, g, b]: [u8; 3]| Color::Rgb(r, g, b);
                (plain(text), plain(background))
            }
            Depth::Table => (of_table(text), of_table(background)),
            Depth::Sixteen => {
                let (text, background) = of_sixteen(self.palette, role);
                (Color::Indexed(text), Color::Indexed(background))
            }
        })
    }

    /// The style of a role.
    pub fn style(self, role: Role) -> Style {
        let base = match self.colours(role) {
            Some((text, background)) => Style::new().fg(text).bg(background),
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

    /// An arrow for a direction on the screen, up being zero. In ASCII a slanting one could be read
    /// both ways: there a cross stands, and `compass_point` says the direction.
    pub fn arrow(self, degrees: f64) -> char {
        let unicode = ['↑', '↗', '→', '↘', '↓', '↙', '←', '↖'];
        let ascii = ['^', '+', '>', '+', 'v', '+', '<', '+'];
        let eighth = eighth(degrees);
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

/// A direction in letters of the compass: `NW`.
pub(super) fn compass_point(degrees: f64) -> &'static str {
    ["N", "NE", "E", "SE", "S", "SW", "W", "NW"][eighth(degrees)]
}

fn eighth(degrees: f64) -> usize {
    ((degrees.rem_euclid(360.0) + 22.5) / 45.0) as usize % 8
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

    /// The sixteen as xterm has them (from memory); each terminal has its own.
    const XTERM: [u32; 16] = [
        0x000000, 0xCD0000, 0x00CD00, 0xCDCD00, 0x0000EE, 0xCD00CD, 0x00CDCD, 0xE5E5E5, 0x7F7F7F,
        0xFF0000, 0x00FF00, 0xFFFF00, 0x5C5CFF, 0xFF00FF, 0x00FFFF, 0xFFFFFF,
    ];

    fn seen(colour: Color) -> [u8; 3] {
        match colour {
            Color::Rgb(r, g, b) => [r, g, b],
            Color::Indexed(number @ 16..) => of_table(number),
            Color::Indexed(number) => {
                let [_, r, g, b] = XTERM[usize::from(number)].to_be_bytes();
                [r, g, b]
            }
            other => panic!("{other:?}"),
        }
    }

    /// Every role of every palette in each depth of colours, as it is seen.
    fn each(mut check: impl FnMut(Theme, Role, [u8; 3], [u8; 3])) {
        for palette in [Palette::Day, Palette::Dusk, Palette::Night] {
            for depth in Depth::ALL {
                let theme = Theme { palette, depth, ..Theme::default() };
                for role in ROLES {
                    let (text, background) = theme.colours(role).unwrap();
                    check(theme, role, seen(text), seen(background));
                }
            }
        }
    }

    /// WCAG 2, 1.4.3: small text 4.5 to 1. The numbers that are no longer true are read by day and
    /// dusk like those that are.
    #[test]
    fn every_text_stands_out_from_its_ground() {
        each(|theme, role, text, background| {
            let numbers = matches!(role, Role::Digits | Role::Stale);
            let least = if numbers && theme.palette != Palette::Night { 7.0 } else { 4.5 };
            let ratio = contrast(text, background);
            assert!(ratio >= least, "{theme:?} {role:?}: {ratio:.2}");
        });
    }

    /// The night palette's own rule: nothing but red, and no brighter than small text at 4.5 to 1
    /// needs. More light would spoil the eyes for the deck (A.830(19) 5.3).
    #[test]
    fn the_night_is_dim_and_red() {
        each(|theme, role, text, background| {
            let brightest = if theme.depth == Depth::True { 0xE0 } else { 0xFF };
            for [r, g, b] in [text, background] {
                let red =
                    theme.palette != Palette::Night || r <= brightest && g <= r / 3 && b <= r / 3;
                assert!(red, "{theme:?} {role:?}");
            }
            let ratio = contrast(text, background);
            assert!(
                theme.palette != Palette::Night || ratio < 5.5,
                "{theme:?} {role:?} {ratio:.2}"
            );
        });
    }

    #[test]
    fn a_terminal_gets_the_colours_that_it_says_it_has() {
        for (colorterm, term, depth) in [
            ("truecolor", "xterm-256color", Depth::True),
            ("24bit", "screen", Depth::True),
            ("", "xterm-direct", Depth::True),
            ("", "xterm-256color", Depth::Table),
            ("1", "screen-256color", Depth::Table),
            ("", "tmux-256color", Depth::Table),
            ("", "xterm", Depth::Sixteen),
            ("", "screen", Depth::Sixteen),
            ("", "tmux", Depth::Sixteen),
            ("", "linux", Depth::Sixteen),
            ("", "", Depth::Sixteen),
        ] {
            assert_eq!(Depth::told(colorterm, term), depth, "{colorterm} {term}");
        }
    }

    /// A slanting stroke can be read both ways.
    #[test]
    fn no_two_directions_look_alike_in_ascii() {
        let theme = Theme { glyphs: Glyphs::Ascii, ..Theme::default() };
        let said: Vec<_> = (0..8)
            .map(|eighth| f64::from(eighth) * 45.0)
            .map(|degrees| (theme.arrow(degrees), compass_point(degrees)))
            .collect();
        for (place, one) in said.iter().enumerate() {
            assert!(!"/\\|".contains(one.0), "{one:?}");
            assert!(said[..place].iter().all(|other| other != one), "{one:?}");
        }
    }
}
