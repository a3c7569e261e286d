//! Numbers, and a few words, that can be read across a cabin: five dots high. A dot of two columns
//! and one row is as wide as high.

/// Dots from top to bottom.
pub(super) const ROWS: u16 = 5;

/// How large a dot is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dot {
    /// In columns.
    pub wide: u16,
    /// In rows.
    pub tall: u16,
}

impl Dot {
    /// The sizes there are, the largest first.
    pub(super) const SIZES: [Self; 5] = [
        Self { wide: 4, tall: 2 },
        Self { wide: 3, tall: 2 },
        Self { wide: 2, tall: 2 },
        Self { wide: 2, tall: 1 },
        Self { wide: 1, tall: 1 },
    ];

    /// The smallest.
    pub(super) const SMALL: Self = Self { wide: 1, tall: 1 };

    /// Rows of a number.
    pub(super) const fn rows(self) -> u16 {
        ROWS * self.tall
    }

    /// Columns of a number.
    pub(super) fn columns(self, text: &str) -> u16 {
        let columns = text.chars().map(|c| dots(c)[0].len() as u16 * self.wide + 1).sum::<u16>();
        columns.saturating_sub(1)
    }
}

/// The dots of a character, five rows of one to five. Blank where it has none.
fn dots(c: char) -> [&'static str; 5] {
    match c {
        '0' => ["###", "# #", "# #", "# #", "###"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["###", "  #", "###", "#  ", "###"],
        '3' => ["###", "  #", " ##", "  #", "###"],
        '4' => ["# #", "# #", "###", "  #", "  #"],
        '5' => ["###", "#  ", "###", "  #", "###"],
        '6' => ["###", "#  ", "###", "# #", "###"],
        '7' => ["###", "  #", " # ", " # ", " # "],
        '8' => ["###", "# #", "###", "# #", "###"],
        '9' => ["###", "# #", "###", "  #", "###"],
        '.' => [" ", " ", " ", " ", "#"],
        '[' => ["##", "# ", "# ", "# ", "##"],
        ']' => ["##", " #", " #", " #", "##"],
        '-' => ["   ", "   ", "###", "   ", "   "],
        ' ' => [" ", " ", " ", " ", " "],
        'A' => ["###", "# #", "###", "# #", "# #"],
        'B' => ["## ", "# #", "## ", "# #", "## "],
        'C' => ["###", "#  ", "#  ", "#  ", "###"],
        'D' => ["## ", "# #", "# #", "# #", "## "],
        'E' => ["###", "#  ", "###", "#  ", "###"],
        'F' => ["###", "#  ", "###", "#  ", "#  "],
        'G' => ["####", "#   ", "# ##", "#  #", "####"],
        'H' => ["# #", "# #", "###", "# #", "# #"],
        'I' => ["#", "#", "#", "#", "#"],
        'J' => ["  #", "  #", "  #", "# #", "###"],
        'K' => ["#  #", "# # ", "##  ", "# # ", "#  #"],
        'L' => ["#  ", "#  ", "#  ", "#  ", "###"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#  #", "## #", "# ##", "#  #", "#  #"],
        'O' => dots('0'),
        'P' => ["###", "# #", "###", "#  ", "#  "],
        'Q' => ["####", "#  #", "#  #", "# ##", "####"],
        'R' => ["## ", "# #", "## ", "# #", "# #"],
        'S' => dots('5'),
        'T' => ["###", " # ", " # ", " # ", " # "],
        'U' => ["# #", "# #", "# #", "# #", "###"],
        'V' => ["# #", "# #", "# #", "# #", " # "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'X' => ["# #", "# #", " # ", "# #", "# #"],
        'Y' => ["# #", "# #", " # ", " # ", " # "],
        'Z' => ["###", "  #", " # ", "#  ", "###"],
        '?' => ["###", "  #", " ##", "   ", " # "],
        _ => ["   ", "   ", "   ", "   ", "   "],
    }
}

/// Whether each character of a text has dots: a name with a letter missing would be another name.
pub(super) fn can_write(text: &str) -> bool {
    text.chars().all(|c| c == ' ' || dots(c).iter().any(|row| row.contains('#')))
}

/// The dots of a text from its top left, as columns and rows.
pub(super) fn places(text: &str, dot: Dot) -> Vec<(u16, u16)> {
    let (mut places, mut left) = (Vec::new(), 0);
    for pattern in text.chars().map(dots) {
        for (row, line) in (0..).zip(pattern) {
            for (column, _) in (0..).zip(line.chars()).filter(|&(_, c)| c == '#') {
                for (x, y) in (0..dot.wide).flat_map(|x| (0..dot.tall).map(move |y| (x, y))) {
                    places.push((left + column * dot.wide + x, row * dot.tall + y));
                }
            }
        }
        left += pattern[0].len() as u16 * dot.wide + 1;
    }
    places
}
