//! Why a line was not taken.

use std::fmt;

use serde::Serialize;

/// The reason a line is counted and kept, but decides nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reject {
    /// Nothing in the line begins like a sentence.
    NotASentence,
    /// The checksum is there and is wrong.
    BadChecksum,
    /// The line ends before its checksum.
    MissingChecksum,
    /// The line, or the message it completes, is longer than any real one.
    TooLong,
    /// A payload character that six-bit armour does not have.
    BadArmour,
    /// The message ends before the fields its type cannot do without.
    TooShort,
    /// A field whose content cannot be right.
    BadField,
    /// A later part of a message whose earlier parts were not heard.
    PartMismatch,
    /// A later part of a message that came too long after the earlier ones.
    PartExpired,
}

impl Reject {
    /// Whether the line itself is damaged; a lone part may be quite sound.
    pub const fn is_damage(self) -> bool {
        !matches!(self, Self::PartMismatch | Self::PartExpired)
    }
}

impl fmt::Display for Reject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotASentence => "not a sentence",
            Self::BadChecksum => "wrong checksum",
            Self::MissingChecksum => "no checksum",
            Self::TooLong => "too long",
            Self::BadArmour => "a character that is not six-bit armour",
            Self::TooShort => "too short for its message type",
            Self::BadField => "a field that cannot be right",
            Self::PartMismatch => "a part without the parts before it",
            Self::PartExpired => "a part that came too late",
        })
    }
}
