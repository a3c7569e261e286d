//! What a survivor beacon does.

use serde::{Deserialize, Serialize};

/// What a beacon does, as far as its messages tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Navigational status 14, or a text that says ACTIVE.
    Active,
    /// A beacon's identity that says neither: any other status, or a text without a known word.
    ActivePresumed,
    /// A text that says TEST.
    Test,
    /// Navigational status 15 alone, which is also what "undefined" looks like.
    TestPresumed,
    /// A text that says OFF or CANCEL, or a DSC cancel.
    Off,
}
