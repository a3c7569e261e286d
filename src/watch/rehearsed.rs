//! What is only rehearsed: lines that say so, and what was heard in such lines alone.
//!
//! A mark changes no alarm: a drill exercises the way to it. But it goes by line: what is heard
//! really is real from its first line on, and nothing rehearsed ends, moves or hides it.

use serde::Serialize;

use crate::wire::{Line, Tag};

/// How a line is marked: by the text of its TAG block (key `t`, NMEA 0183 4.10). The words are our
/// own; see `overside rehearse`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rehearsed {
    /// `t:REHEARSAL`: whoever sees it may know at once.
    Rehearsal,
    /// `t:DRILL`: it is meant to surprise whoever keeps the watch.
    Drill,
}

impl Rehearsed {
    /// The word in the TAG block, and before a text that is written down.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rehearsal => "REHEARSAL",
            Self::Drill => "DRILL",
        }
    }

    /// How a line is marked; `None` for a real one. The sender's TAG block counts as well as that
    /// which a recorder has put behind it.
    pub fn of_line(bytes: &[u8]) -> Option<Self> {
        // Few lines have a text.
        memchr::memchr_iter(b':', bytes).find(|&at| bytes[..at].ends_with(b"t"))?;
        let start = Line::parse(bytes).ok()?.start();
        let blocks = bytes.get(..start)?.split(|&byte| byte == b'\\');
        blocks.filter_map(Tag::parse).find_map(|tag| match tag.text? {
            b"REHEARSAL" => Some(Self::Rehearsal),
            b"DRILL" => Some(Self::Drill),
            _ => None,
        })
    }

    /// A text as it is written down: `REHEARSAL: …`.
    pub fn marked(rehearsed: Option<Self>, text: &str) -> String {
        rehearsed.map_or_else(|| text.to_owned(), |it| format!("{}: {text}", it.word()))
    }

    /// A text that was written down, and how it was marked.
    pub fn unmarked(text: &str) -> (Option<Self>, &str) {
        let found = [Self::Rehearsal, Self::Drill]
            .into_iter()
            .find_map(|it| Some((Some(it), text.strip_prefix(it.word())?.strip_prefix(": ")?)));
        found.unwrap_or((None, text))
    }
}

/// Whether what was heard of somebody was rehearsed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Origin {
    rehearsed: Option<Rehearsed>,
    /// A line that was not marked told of it.
    real: bool,
}

impl Origin {
    /// A line tells of it.
    pub(super) fn on_line(&mut self, rehearsed: Option<Rehearsed>) {
        self.real |= rehearsed.is_none();
        self.rehearsed = self.rehearsed.or(rehearsed);
    }

    /// How, where all of it was.
    pub(super) fn rehearsed(self) -> Option<Rehearsed> {
        self.rehearsed.filter(|_| !self.real)
    }

    /// Whether anything of it was real.
    pub(super) const fn is_real(self) -> bool {
        self.real
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::checksum;

    const SENTENCE: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";

    fn block(body: &str) -> String {
        format!("\\{body}*{:02X}\\", checksum(body.as_bytes()))
    }

    #[test]
    fn a_mark_is_found_in_either_block() {
        for (lead, found) in [
            (String::new(), None),
            (block("t:DRILL"), Some(Rehearsed::Drill)),
            (block("s:ais,t:REHEARSAL"), Some(Rehearsed::Rehearsal)),
            (block("s:ais,t:REHEARSALS"), None),
            (block("t:DRILL") + &block("s:ais,c:1700000000000"), Some(Rehearsed::Drill)),
            // A wrong checksum: what it says cannot be trusted.
            ("\\t:DRILL*00\\".to_owned(), None),
        ] {
            let line = format!("{lead}{SENTENCE}");
            assert_eq!(Rehearsed::of_line(line.as_bytes()), found, "{line}");
        }
    }

    #[test]
    fn a_text_is_marked_once() {
        let marked = Rehearsed::marked(Some(Rehearsed::Drill), "Mate: beacon ACTIVE");
        assert_eq!(marked, "DRILL: Mate: beacon ACTIVE");
        assert_eq!(Rehearsed::unmarked(&marked), (Some(Rehearsed::Drill), "Mate: beacon ACTIVE"));
        assert_eq!(Rehearsed::unmarked("DRILLED"), (None, "DRILLED"));
    }
}
