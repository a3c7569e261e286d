//! A text that is filled in: what is spoken, and what is not.

/// A text to be read aloud, or a list to be worked through.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Text {
    /// What it is.
    pub title: String,
    /// Its lines, one phrase each.
    pub lines: Vec<Line>,
}

/// A line of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What is done with it.
    pub kind: Kind,
    /// Its words.
    pub words: String,
}

/// What is done with a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Nothing: it parts the others.
    Heading,
    /// It is spoken.
    Say,
    /// It is done.
    Do,
    /// It is read silently.
    Note,
}

impl Text {
    /// The words to speak, one phrase each.
    pub fn spoken(&self) -> impl Iterator<Item = &str> {
        let spoken = self.lines.iter().filter(|line| line.kind == Kind::Say);
        spoken.map(|line| line.words.as_str())
    }
}
