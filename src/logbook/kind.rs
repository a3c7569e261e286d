//! The kinds of entries, by the names that they have in JSON.

use serde::{Deserialize, Serialize};

/// What an entry is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// An alert's state or priority changed.
    Alert,
    /// A beacon was heard, goes on or fell silent, or a crew alarm told of a person overboard.
    Beacon,
    /// A DSC call came in.
    Dsc,
    /// A safety text came in.
    SafetyText,
    /// An input is live, silent, lost or noisy.
    Input,
    /// Somebody did or noted something.
    Operator,
    /// A watch began, ended or was handed over, or the logbook tells of itself.
    Watch,
    /// Where the ship was.
    Position,
    /// A self-test was judged.
    Test,
    /// A check of the register.
    Check,
    /// How far a beacon would have been heard in the last hour.
    Reach,
}

impl Kind {
    /// Every kind.
    pub const ALL: &[Self] = &[
        Self::Alert,
        Self::Beacon,
        Self::Dsc,
        Self::SafetyText,
        Self::Input,
        Self::Operator,
        Self::Watch,
        Self::Position,
        Self::Test,
        Self::Check,
        Self::Reach,
    ];

    /// The word that JSON has for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Alert => "alert",
            Self::Beacon => "beacon",
            Self::Dsc => "dsc",
            Self::SafetyText => "safety_text",
            Self::Input => "input",
            Self::Operator => "operator",
            Self::Watch => "watch",
            Self::Position => "position",
            Self::Test => "test",
            Self::Check => "check",
            Self::Reach => "reach",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_name() {
        for kind in Kind::ALL {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.word());
        }
    }
}
