//! What a command tells the person at the terminal beside its output.

use std::io::{self, IsTerminal as _, Write as _};

use crate::text::wrapped;

/// How wide a terminal is taken for that does not say it.
const COLUMNS: u16 = 80;

/// Tells the person at the terminal. What is not indented is parted between words.
pub(super) fn say(text: &str) {
    let _ = writeln!(anstream::stderr(), "{}", parted(text.trim_end_matches('\n')));
}

/// A text for standard error: on a terminal in lines that fit it. An indented line is quoted, and left
/// as it is.
pub(super) fn parted(text: &str) -> String {
    if !io::stderr().is_terminal() {
        return text.to_owned();
    }
    let size = crossterm::terminal::size().ok().map(|(columns, _)| columns);
    let columns = size.filter(|&columns| columns >= 20).unwrap_or(COLUMNS);
    in_lines(text, usize::from(columns) - 1)
}

fn in_lines(text: &str, columns: usize) -> String {
    let lines = text.split('\n').map(|line| match line.starts_with(' ') {
        true => line.to_owned(),
        false => wrapped(line.split(' '), columns, 0).join("\n"),
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::in_lines;

    #[test]
    fn words_stay_whole_and_what_is_quoted_stays_as_it_is() {
        let text = "one two three\n\n  one two three\nfour";
        assert_eq!(in_lines(text, 8), "one two\nthree\n\n  one two three\nfour");
    }
}
